//! The epidermis as a heated slab, and pulses in a row.

use libm::erf;

/// Temperature at a depth, against that just after the flash, of a slab evenly heated from an insulated surface down to
/// its thickness, over the same material. Depth and thickness in m, time in s, diffusivity in m2/s; all 0 or more.
///
/// Source: Carslaw and Jaeger 1959, section 2.2, with the image below the surface.
#[must_use]
pub fn slab_cooling(depth_m: f64, thickness_m: f64, time_s: f64, diffusivity_m2_s: f64) -> f64 {
    let spread = 2.0 * (diffusivity_m2_s * time_s).sqrt();
    if spread <= 0.0 {
        return match depth_m - thickness_m {
            d if d < 0.0 => 1.0,
            d if d > 0.0 => 0.0,
            _ => 0.5,
        };
    }
    0.5 * (erf((thickness_m - depth_m) / spread) + erf((thickness_m + depth_m) / spread))
}

/// What `pulses` equal pulses, `period_s` apart, leave at a time after the last of them, against one pulse just after
/// its flash: the sum of what `single` says of each.
#[must_use]
pub fn train(single: impl Fn(f64) -> f64, pulses: u32, period_s: f64, after_last_s: f64) -> f64 {
    (0..pulses).map(|earlier| single(after_last_s + f64::from(earlier) * period_s)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_train_adds_up_and_one_pulse_is_a_pulse() {
        let single = |t| slab_cooling(0.0, 60e-6, t, 1.3e-7);
        assert!((train(single, 1, 0.1, 0.0) - 1.0).abs() < 1e-12);
        assert!((train(single, 2, 0.1, 0.0) - (1.0 + 0.290_184_73)).abs() < 1e-7);
        assert!(train(single, 0, 0.1, 0.0).abs() < 1e-12);
        assert!(train(single, 50, 0.1, 0.0) > train(single, 50, 1.0, 0.0));
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        /// Behind an insulated surface no heat is lost: the integral over depth stays the thickness.
        #[test]
        fn heat_is_kept(t in 1e-4f64..1.0) {
            let d = 60e-6;
            let reach = d + 12.0 * (1.3e-7 * t).sqrt();
            let n = 20_000;
            let step = reach / f64::from(n);
            let sum: f64 = (0..n).map(|i| slab_cooling((f64::from(i) + 0.5) * step, d, t, 1.3e-7) * step).sum();
            prop_assert!((sum / d - 1.0).abs() < 1e-4, "{}", sum / d);
        }
    }
}
