//! A value that is not exactly known.

use serde::Serialize;

/// A value with the range it may lie in: low, nominal, high, in the unit that the place of use names.
///
/// The range is what the sources span, not a statistical interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Estimate {
    /// The lowest plausible value.
    pub low: f64,
    /// The value to compute with.
    pub nominal: f64,
    /// The highest plausible value.
    pub high: f64,
}

impl Estimate {
    /// An estimate from three values, put in order where they are not.
    #[must_use]
    pub fn new(a: f64, nominal: f64, b: f64) -> Self {
        Self { low: a.min(b).min(nominal), nominal, high: a.max(b).max(nominal) }
    }
    /// A value taken as exact.
    #[must_use]
    pub const fn exact(value: f64) -> Self {
        Self { low: value, nominal: value, high: value }
    }
    /// The same function of each of the three values; a falling function turns the ends round.
    #[must_use]
    pub fn map(self, f: impl Fn(f64) -> f64) -> Self {
        Self::new(f(self.low), f(self.nominal), f(self.high))
    }
}
