//! An evenly heated sphere in a medium with its own properties: closed forms.
//!
//! Temperatures are relative to that of the sphere just after a flash, or after a pulse without any loss. Time is the
//! Fourier number `diffusivity t / a^2` with the radius `a`; places are in radii from the centre.
//!
//! Source: Carslaw HS, Jaeger JC, Conduction of Heat in Solids, 2nd ed. 1959, section 10.3; mean and pulse are its
//! integrals, derived here.

use libm::{erf, erfc};
use std::f64::consts::PI;

/// Beyond it the closed form at a point cancels itself away, and the first terms of its series are exact enough.
const LATE_POINT: f64 = 1e4;
/// Beyond it the series of the mean is better than its closed form.
const LATE_MEAN: f64 = 2.0;

/// Temperature at a place after a flash; `fourier` and `r_over_a` 0 or more.
#[must_use]
pub fn after_flash(r_over_a: f64, fourier: f64) -> f64 {
    let (x, f) = (r_over_a, fourier);
    if f <= 0.0 {
        return match x {
            x if x < 1.0 => 1.0,
            x if x > 1.0 => 0.0,
            _ => 0.5,
        };
    }
    if f > LATE_POINT {
        let point_source = (-x * x / (4.0 * f)).exp() / (6.0 * PI.sqrt() * f.powf(1.5));
        return point_source * (1.0 - 3.0 / (20.0 * f) + x * x / (40.0 * f * f));
    }
    let s = 0.5 / f.sqrt();
    if x < 1e-5 {
        return (erf(s) - 2.0 * s / PI.sqrt() * (-s * s).exp()).clamp(0.0, 1.0);
    }
    // Near the centre the two bells differ by less than their digits hold: there their difference is taken as a product.
    let apart = 2.0 * x * s * s;
    let bells = if apart < 1.0 {
        2.0 * (-(1.0 + x * x) * s * s).exp() * apart.sinh()
    } else {
        let bell = |z: f64| (-z * z * s * s).exp();
        bell(1.0 - x) - bell(1.0 + x)
    };
    let value = 0.5 * (erf((1.0 + x) * s) + erf((1.0 - x) * s)) - bells / (2.0 * x * s * PI.sqrt());
    value.clamp(0.0, 1.0)
}

/// Mean temperature over the sphere after a flash.
#[must_use]
pub fn mean_after_flash(fourier: f64) -> f64 {
    let f = fourier;
    if f <= 0.0 {
        return 1.0;
    }
    if f > LATE_MEAN {
        return late_terms(f).map(|(_, term)| term).sum::<f64>() / (6.0 * PI.sqrt() * f.powf(1.5));
    }
    erf(1.0 / f.sqrt()) - (f / PI).sqrt() * (3.0 - 2.0 * f + (2.0 * f - 1.0) * (-1.0 / f).exp())
}

/// Terms of the mean's series in 1/f with their order: moments of the distance between two points of a sphere.
fn late_terms(f: f64) -> impl Iterator<Item = (f64, f64)> {
    let mut factor = 1.0;
    (0..24).map(move |k| {
        let k = f64::from(k);
        if k > 0.0 {
            factor *= -1.0 / (k * f);
        }
        (k, factor * (24.0 / (2.0 * k + 3.0) - 36.0 / (2.0 * k + 4.0) + 12.0 / (2.0 * k + 6.0)))
    })
}

/// Time integral of the centre after a flash, in Fourier numbers.
fn centre_integral(f: f64) -> f64 {
    if f <= 0.0 {
        return 0.0;
    }
    let s = 0.5 / f.sqrt();
    f * erf(s) - (f / PI).sqrt() * (-s * s).exp() + 0.5 * erfc(s)
}

/// Time integral of the mean after a flash, in Fourier numbers.
fn mean_integral(f: f64) -> f64 {
    if f <= 0.0 {
        return 0.0;
    }
    if f > LATE_MEAN {
        let tail: f64 = late_terms(f).map(|(k, term)| term / (k + 0.5)).sum();
        return 0.4 - tail / (6.0 * (PI * f).sqrt());
    }
    let e = (-1.0 / f).exp() / PI.sqrt();
    let a0 = 2.0 * (f.sqrt() * e - erfc(1.0 / f.sqrt()));
    let a1 = (f.powf(1.5) * e - a0) / 1.5;
    let a2 = (f.powf(2.5) * e - a1) / 2.5;
    f * erf(1.0 / f.sqrt()) + a0 - (2.0 * f.powf(1.5) - 0.8 * f.powf(2.5)) / PI.sqrt() - 2.0 * a2 + a1
}

/// What a square pulse leaves at its end, against the same energy without loss: 1 for a short pulse, falling as
/// `limit / fourier` for a long one, where heat flows out as fast as it comes.
fn at_end_of_pulse(integral: fn(f64) -> f64, fourier: f64) -> f64 {
    // So short that the loss is below what a number can hold.
    if fourier < 1e-12 { 1.0 } else { (integral(fourier) / fourier).clamp(0.0, 1.0) }
}

/// Temperature of the centre at the end of a square pulse, which is its highest, against that without loss.
#[must_use]
pub fn centre_at_end_of_pulse(fourier_of_pulse: f64) -> f64 {
    at_end_of_pulse(centre_integral, fourier_of_pulse)
}

/// Mean temperature at the end of a square pulse, which is its highest, against that without loss.
#[must_use]
pub fn mean_at_end_of_pulse(fourier_of_pulse: f64) -> f64 {
    at_end_of_pulse(mean_integral, fourier_of_pulse)
}

/// Mean temperature at any time from the begin of a square pulse, against that of the whole pulse without loss.
#[must_use]
pub fn mean_during_and_after(fourier: f64, fourier_of_pulse: f64) -> f64 {
    if fourier_of_pulse < 1e-12 {
        return mean_after_flash(fourier);
    }
    ((mean_integral(fourier) - mean_integral(fourier - fourier_of_pulse)) / fourier_of_pulse).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn closed_form_and_series_meet() {
        for (f, tolerance) in [(LATE_MEAN, 1e-10), (LATE_POINT, 1e-7)] {
            let (below, above) = (f * (1.0 - 1e-13), f * (1.0 + 1e-13));
            for (a, b) in [
                (mean_after_flash(below), mean_after_flash(above)),
                (mean_integral(below), mean_integral(above)),
                (after_flash(0.5, below), after_flash(0.5, above)),
                (after_flash(0.0, below), after_flash(0.0, above)),
            ] {
                assert!((a / b - 1.0).abs() < tolerance, "{f}: {a} {b}");
            }
        }
        assert!((after_flash(1e-5, 0.2) - after_flash(0.999e-5, 0.2)).abs() < 1e-9);
    }

    /// Steady state of an evenly heated sphere in its own medium: `a^2 A/2K` in the centre, `0.4 a^2 A/K` in the mean.
    #[test]
    fn a_flash_loses_nothing_and_a_long_pulse_reaches_the_steady_state() {
        for f in [1e-13, 1e-9, 1e-6] {
            assert!((centre_at_end_of_pulse(f) - 1.0).abs() < 1e-9);
            assert!((mean_at_end_of_pulse(f) - 1.0).abs() < 3.0 * f64::sqrt(f) + 1e-12);
        }
        assert!((centre_at_end_of_pulse(1e12) * 1e12 - 0.5).abs() < 1e-6);
        assert!((mean_at_end_of_pulse(1e12) * 1e12 - 0.4).abs() < 1e-6);
    }

    #[test]
    fn the_integrals_are_those_of_the_cooling_curves() {
        for f in [0.01f64, 0.3, 1.0, 1.9, 2.1, 7.0] {
            // Midpoints in the root of time, where the curves are smooth.
            let n = 20_000;
            let step = f.sqrt() / f64::from(n);
            let sum = |curve: &dyn Fn(f64) -> f64| -> f64 {
                (0..n).map(|i| (f64::from(i) + 0.5) * step).map(|s| 2.0 * s * curve(s * s) * step).sum()
            };
            assert!((sum(&|f| after_flash(0.0, f)) - centre_integral(f)).abs() < 1e-8, "{f}");
            assert!((sum(&mean_after_flash) - mean_integral(f)).abs() < 1e-8, "{f}");
        }
    }

    /// A random case found this one: so near the centre the difference of two bells lost all its digits.
    #[test]
    fn near_the_centre_it_is_as_warm_as_in_it() {
        for f in [0.01f64, 1.0, 50.0, 1934.0, 9000.0] {
            for x in [1e-6f64, 1.1e-5, 1.7e-5, 1e-4, 1e-3] {
                // The heat equation: the bend in the centre is a sixth of the rate of cooling there.
                let s = 0.5 / f.sqrt();
                let expected = after_flash(0.0, f) - 4.0 / 3.0 * x * x * s.powi(5) * (-s * s).exp() / PI.sqrt();
                let there = after_flash(x, f);
                assert!((there / expected - 1.0).abs() < 1e-9, "{x} {f}: {there} {expected}");
            }
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn cooling_is_monotone_in_time_and_inside(ln_f in -12.0f64..14.0, x in 0.0f64..1.0, more in 1.001f64..10.0) {
            let f = ln_f.exp();
            prop_assert!(after_flash(x, f * more) <= after_flash(x, f) * (1.0 + 1e-7));
            prop_assert!(mean_after_flash(f * more) <= mean_after_flash(f) * (1.0 + 1e-9));
            prop_assert!(after_flash(x, f) <= after_flash(0.0, f) * (1.0 + 1e-7) + 1e-12);
            prop_assert!(mean_at_end_of_pulse(f * more) <= mean_at_end_of_pulse(f) * (1.0 + 1e-9));
            prop_assert!(mean_at_end_of_pulse(f) >= mean_after_flash(f) - 1e-12);
            prop_assert!(mean_at_end_of_pulse(f) <= centre_at_end_of_pulse(f) + 1e-12);
        }

        /// The mean is the mean: over the volume of the sphere.
        #[test]
        fn the_mean_is_that_of_the_places(ln_f in -4.0f64..6.0) {
            let f = ln_f.exp();
            let n = 4000;
            let step = 1.0 / f64::from(n);
            let sum: f64 = (0..n)
                .map(|i| (f64::from(i) + 0.5) * step)
                .map(|x| 3.0 * x * x * after_flash(x, f) * step)
                .sum();
            prop_assert!((sum / mean_after_flash(f) - 1.0).abs() < 1e-5, "{} {}", sum, mean_after_flash(f));
        }

        #[test]
        fn a_pulse_peaks_at_its_end(ln_f in -6.0f64..4.0, part in 0.01f64..0.99, after in 1.01f64..20.0) {
            let f = ln_f.exp();
            let peak = mean_at_end_of_pulse(f);
            prop_assert!((mean_during_and_after(f, f) - peak).abs() < 1e-12);
            prop_assert!(mean_during_and_after(f * part, f) < peak);
            prop_assert!(mean_during_and_after(f * after, f) < peak);
        }
    }
}
