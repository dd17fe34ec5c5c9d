//! Optical density: how far a filter must weaken what would reach the eye.

/// Area of the 7 mm aperture that stands for the wide pupil, in m2.
pub const APERTURE_EYE_M2: f64 = std::f64::consts::PI * 3.5e-3 * 3.5e-3;

/// Optical density that brings an exposure down to a limit: `log10(exposure / limit)`, 0 where nothing is exceeded.
/// Both in the same unit, J/m2 or W/m2.
#[must_use]
pub fn optical_density(exposure: f64, limit: f64) -> f64 {
    (exposure / limit).log10().max(0.0)
}

/// A need for optical density as it is compared and shown: up to the next tenth.
#[must_use]
pub fn rounded_up(od: f64) -> f64 {
    // A hair below the tenth is the tenth: 6.9 must not become 7.0 for its last bit.
    (od * 10.0 - 1e-9).ceil().max(0.0) / 10.0
}

/// A marked optical density as it is compared and shown: down to the tenth below.
#[must_use]
pub fn rounded_down(od: f64) -> f64 {
    (od * 10.0 + 1e-9).floor() / 10.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn needs_go_up_and_marks_go_down() {
        for (od, up, down) in [(6.81, 6.9, 6.8), (6.9, 6.9, 6.9), (7.0, 7.0, 7.0), (0.01, 0.1, 0.0), (0.0, 0.0, 0.0)] {
            assert!((rounded_up(od) - up).abs() < 1e-12 && (rounded_down(od) - down).abs() < 1e-12, "{od}");
        }
        assert!(optical_density(1.0, 2.0) <= 0.0 && (optical_density(1e-3, 1e-9) - 6.0).abs() < 1e-12);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        /// T = 10^-OD: the densities of stacked filters add up.
        #[test]
        fn densities_of_stacked_filters_add(exposure in 1e-3f64..1e6, limit in 1e-6f64..1e-4, first in 0.1f64..2.0) {
            let left = exposure * 10f64.powf(-first);
            let both = first + optical_density(left, limit);
            prop_assert!((both - optical_density(exposure, limit)).abs() < 1e-9);
        }
    }
}
