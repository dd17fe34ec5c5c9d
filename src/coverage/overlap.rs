//! Planned pulses, mean pulses per point and the overlap that a count implies.

use crate::units::{Overlap, SpotDiameter};

/// Area of a hexagonal cell over the square of its pitch: `sqrt(3) / 2`.
const HEX_CELL: f64 = 0.866_025_403_784_438_6;

/// Pulses of an even hexagonal pass over an area, as a real number.
#[must_use]
pub fn planned_pulses_exact(area_mm2: f64, spot: SpotDiameter, overlap: Overlap) -> f64 {
    let pitch_mm = spot.mm() * (1.0 - overlap.percent() / 100.0);
    area_mm2 / (HEX_CELL * pitch_mm * pitch_mm)
}

/// Pulses of an even hexagonal pass over an area, rounded up; at least one.
#[must_use]
pub fn planned_pulses(area_mm2: f64, spot: SpotDiameter, overlap: Overlap) -> u64 {
    (planned_pulses_exact(area_mm2, spot, overlap).ceil()).max(1.0) as u64
}

/// How a number of pulses covers an area when they are spread evenly.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Coverage {
    /// Pulses that fall on a point of the zone, on average.
    pub mean_pulses_per_point: f64,
    /// Linear overlap in per cent that an even hexagonal pass with this count would have; below zero while the spots
    /// do not touch, none before the first pulse.
    pub implied_overlap_percent: Option<f64>,
}

impl Coverage {
    /// Coverage of `area_mm2` by `pulses` pulses of a spot.
    #[must_use]
    pub fn of(pulses: u64, area_mm2: f64, spot: SpotDiameter) -> Self {
        let n = pulses as f64;
        let implied =
            (pulses > 0 && area_mm2 > 0.0).then(|| 100.0 * (1.0 - (area_mm2 / (HEX_CELL * n)).sqrt() / spot.mm()));
        Self {
            mean_pulses_per_point: if area_mm2 > 0.0 { n * spot.area_mm2() / area_mm2 } else { 0.0 },
            implied_overlap_percent: implied,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn spot(mm: f64) -> SpotDiameter {
        SpotDiameter::new(mm).unwrap()
    }
    fn overlap(percent: f64) -> Overlap {
        Overlap::new(percent).unwrap()
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn the_implied_overlap_of_the_planned_count_is_the_planned_overlap(
            area in 50.0f64..1e5, d in 1.0f64..12.0, o in 0.0f64..60.0,
        ) {
            let n = planned_pulses(area, spot(d), overlap(o));
            prop_assume!(n > 50);
            let implied = Coverage::of(n, area, spot(d)).implied_overlap_percent.unwrap();
            // Rounding n up by less than one pulse moves the pitch by less than 1 / (2 n).
            prop_assert!(implied >= o - 1e-9 && implied <= o + 100.0 / (2.0 * (n as f64 - 1.0)));
        }

        #[test]
        fn more_pulses_never_mean_less_overlap(area in 1.0f64..1e5, d in 0.5f64..12.0, n in 1u64..5000) {
            let a = Coverage::of(n, area, spot(d));
            let b = Coverage::of(n + 1, area, spot(d));
            prop_assert!(b.implied_overlap_percent > a.implied_overlap_percent);
            prop_assert!(b.mean_pulses_per_point > a.mean_pulses_per_point);
        }
    }
}
