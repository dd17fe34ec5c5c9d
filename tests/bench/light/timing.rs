//! Timing side by side: what else the machine does hits all alike.

use crate::machine::processor_times;
use std::time::Instant;

/// The time that work takes in seconds, with what came of it.
pub fn timed<T>(work: impl FnOnce() -> T) -> (f64, T) {
    let start = Instant::now();
    let done = work();
    (start.elapsed().as_secs_f64(), done)
}

/// The time in seconds that work on this thread held a processor, with what came of it: what others run meanwhile does
/// not count. By the clock where the system does not tell.
pub fn timed_on_processor<T>(work: impl FnOnce() -> T) -> (f64, T) {
    let ran = || processor_times(std::process::id()).map(|(ran, _)| ran.as_secs_f64());
    let before = ran();
    let (by_clock, done) = timed(work);
    match (before, ran()) {
        (Ok(before), Ok(after)) if after > before => (after - before, done),
        _ => (by_clock, done),
    }
}

/// Figures of repetitions.
#[derive(Default)]
pub struct Series(Vec<f64>);

impl Series {
    /// None yet.
    pub const fn empty() -> Self {
        Self(Vec::new())
    }
    /// Each one after the first over the one before it.
    pub fn steps(&self) -> impl Iterator<Item = f64> {
        self.0.iter().zip(self.0.iter().skip(1)).map(|(before, after)| after / before)
    }
    /// One more.
    pub fn push(&mut self, value: f64) {
        self.0.push(value);
    }
    /// The middle one; the upper of two.
    pub fn median(&self) -> f64 {
        let mut sorted = self.0.clone();
        sorted.sort_unstable_by(f64::total_cmp);
        sorted.get(sorted.len() / 2).copied().unwrap_or(f64::NAN)
    }
    /// The smallest one.
    pub fn least(&self) -> f64 {
        self.0.iter().copied().fold(f64::INFINITY, f64::min)
    }
    /// The largest one.
    pub fn most(&self) -> f64 {
        self.0.iter().copied().fold(f64::NEG_INFINITY, f64::max)
    }
}
