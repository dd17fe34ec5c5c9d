//! A value with its statistical error.

use serde::Serialize;

/// A mean with its standard error, both in the unit that the place of use names.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Measured {
    /// The mean.
    pub value: f64,
    /// Its standard error; none where fewer than two batches were run.
    pub standard_error: Option<f64>,
}

impl Measured {
    /// A value without statistical error.
    #[must_use]
    pub const fn exact(value: f64) -> Self {
        Self { value, standard_error: Some(0.0) }
    }

    /// The mean of batches, each with its count of photons and its own mean, and the standard error from their spread.
    ///
    /// With 64 batches the error itself is known to 9 % (1 / sqrt(2 * 63)).
    #[must_use]
    pub fn of_batches(batches: &[(u64, f64)]) -> Self {
        let total: f64 = batches.iter().map(|(n, _)| *n as f64).sum();
        if total <= 0.0 {
            return Self { value: 0.0, standard_error: None };
        }
        let value = batches.iter().map(|(n, x)| *n as f64 * x).sum::<f64>() / total;
        let spread: f64 = batches.iter().map(|(n, x)| *n as f64 * (x - value).powi(2)).sum();
        let others = batches.len().saturating_sub(1);
        let standard_error = (others > 0).then(|| (spread / others as f64 / total).sqrt());
        Self { value, standard_error }
    }

    /// The ratio of two values of the same batches, such as the fluence under two spots. What the two have in common
    /// cancels, so its error is smaller than that of either. None where the denominator is zero.
    #[must_use]
    pub fn ratio(numerator: &[(u64, f64)], denominator: &[(u64, f64)]) -> Option<Self> {
        let (top, bottom) = (Self::of_batches(numerator).value, Self::of_batches(denominator).value);
        if bottom.abs() <= 0.0 {
            return None;
        }
        let ratio = top / bottom;
        // First order: the ratio's error is that of numerator - ratio x denominator, over the denominator.
        let rest: Vec<(u64, f64)> =
            numerator.iter().zip(denominator).map(|((n, a), (_, b))| (*n, (a - ratio * b) / bottom)).collect();
        Some(Self { value: ratio, standard_error: Self::of_batches(&rest).standard_error })
    }

    /// The standard error as a share of the value; infinite where it is not known or the value is zero.
    #[must_use]
    pub fn relative_error(&self) -> f64 {
        match self.standard_error {
            Some(e) if self.value.abs() > 0.0 => e / self.value.abs(),
            _ => f64::INFINITY,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_batches_give_the_textbook_standard_error() {
        let m = Measured::of_batches(&[(10, 1.0), (10, 2.0), (10, 3.0), (10, 6.0)]);
        // Sample variance 14/3 of four values: standard error sqrt(14/12).
        assert!((m.value - 3.0).abs() < 1e-12 && (m.standard_error.unwrap() - (14.0f64 / 12.0).sqrt()).abs() < 1e-12);
        assert_eq!(Measured::of_batches(&[(10, 1.0)]).standard_error, None);
        assert_eq!(Measured::of_batches(&[]).standard_error, None);
    }

    #[test]
    fn batches_of_other_size_count_by_their_photons() {
        assert!((Measured::of_batches(&[(30, 1.0), (10, 5.0)]).value - 2.0).abs() < 1e-12);
    }

    #[test]
    fn noise_in_common_cancels_in_a_ratio() {
        let a = [(1, 2.0), (1, 4.0), (1, 6.0)];
        let b = [(1, 1.0), (1, 2.0), (1, 3.0)];
        let r = Measured::ratio(&a, &b).unwrap();
        assert!((r.value - 2.0).abs() < 1e-12 && r.standard_error.unwrap() < 1e-12);
        assert!(Measured::ratio(&a, &[(1, 0.0), (1, 0.0), (1, 0.0)]).is_none());
    }
}
