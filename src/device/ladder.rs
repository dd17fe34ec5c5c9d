//! Steps on the device's fluence ladder.
//!
//! A value is always floored to a step, never rounded to the nearest: a limited value must not be rounded back above
//! its limit.

use super::{DeviceProfile, EmissionLine, SpotLadder};
use crate::plan::Setting;
use crate::units::{Fluence, SpotDiameter, Wavelength};

/// Tolerance when a number on the ladder is compared with one that was typed: a millionth of a step.
const SLACK: f64 = 1e-6;

impl SpotLadder {
    /// Number of steps from the foot to the highest reachable fluence.
    fn top_index(&self) -> f64 {
        ((self.max.j_cm2() - self.min.j_cm2()) / self.step.j_cm2() + SLACK).floor()
    }

    fn at(&self, index: f64) -> Option<Fluence> {
        // Rounded to a tenth of a thousandth, so that 0.1 + 0.2 shows and compares as 0.3.
        let value = self.min.j_cm2() + index * self.step.j_cm2();
        Fluence::new((value * 1e4).round() / 1e4).ok()
    }

    /// The highest fluence of the ladder that is not above `limit`; none when `limit` lies below the foot.
    #[must_use]
    pub fn floor(&self, limit: f64) -> Option<Fluence> {
        if !limit.is_finite() {
            return None;
        }
        let index = ((limit - self.min.j_cm2()) / self.step.j_cm2() + SLACK).floor();
        if index < 0.0 { None } else { self.at(index.min(self.top_index())) }
    }

    /// The highest fluence of the ladder that lies strictly below `fluence`.
    #[must_use]
    pub fn below(&self, fluence: Fluence) -> Option<Fluence> {
        let index = ((fluence.j_cm2() - self.min.j_cm2()) / self.step.j_cm2() - SLACK).ceil() - 1.0;
        if index < 0.0 { None } else { self.at(index.min(self.top_index())) }
    }

    /// The lowest fluence of the ladder that lies strictly above `fluence`.
    #[must_use]
    pub fn above(&self, fluence: Fluence) -> Option<Fluence> {
        let index = ((fluence.j_cm2() - self.min.j_cm2()) / self.step.j_cm2() + SLACK).floor() + 1.0;
        if index > self.top_index() { None } else { self.at(index.max(0.0)) }
    }

    /// True when the device can be set to exactly this fluence.
    #[must_use]
    pub fn holds(&self, fluence: Fluence) -> bool {
        self.floor(fluence.j_cm2()).is_some_and(|f| (f.j_cm2() - fluence.j_cm2()).abs() <= self.step.j_cm2() * 1e-3)
    }
}

impl EmissionLine {
    /// The ladder of a spot.
    #[must_use]
    pub fn ladder(&self, spot: SpotDiameter) -> Option<&SpotLadder> {
        self.spots.iter().find(|l| (l.spot.mm() - spot.mm()).abs() < 1e-6)
    }

    /// The next larger spots, smallest first.
    pub fn larger_spots(&self, spot: SpotDiameter) -> impl Iterator<Item = &SpotLadder> {
        self.spots.iter().filter(move |l| l.spot.mm() > spot.mm() + 1e-6)
    }
}

impl DeviceProfile {
    /// The emission line of a wavelength (to half a nanometre).
    #[must_use]
    pub fn line(&self, wavelength: Wavelength) -> Option<&EmissionLine> {
        self.lines.iter().find(|l| (l.wavelength.nm() - wavelength.nm()).abs() <= 0.5)
    }

    /// The ladder a setting stands on.
    #[must_use]
    pub fn ladder(&self, setting: &Setting) -> Option<&SpotLadder> {
        self.line(setting.wavelength)?.ladder(setting.spot)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn ladder(min: f64, max: f64, step: f64) -> SpotLadder {
        SpotLadder {
            spot: SpotDiameter::new(3.0).unwrap(),
            min: Fluence::new(min).unwrap(),
            max: Fluence::new(max).unwrap(),
            step: Fluence::new(step).unwrap(),
        }
    }
    fn f(v: f64) -> Fluence {
        Fluence::new(v).unwrap()
    }

    #[test]
    fn a_limit_is_floored_never_rounded_above() {
        let l = ladder(1.0, 4.0, 0.25);
        assert_eq!(l.floor(2.49), Some(f(2.25)));
        assert_eq!(l.floor(2.5), Some(f(2.5)));
        assert_eq!(l.floor(99.0), Some(f(4.0)));
        assert_eq!(l.floor(0.99), None);
        assert_eq!(l.floor(f64::NAN), None);
        assert_eq!(l.floor(f64::INFINITY), None);
    }

    #[test]
    fn steps_up_and_down_stay_on_the_ladder() {
        let l = ladder(0.5, 2.05, 0.1);
        assert_eq!(l.below(f(0.8)), Some(f(0.7)));
        assert_eq!(l.below(f(0.75)), Some(f(0.7)));
        assert_eq!(l.below(f(0.5)), None);
        assert_eq!(l.above(f(2.0)), None, "2.1 is above the ladder's end");
        assert_eq!(l.above(f(0.1)), Some(f(0.5)));
        assert!(l.holds(f(0.6)) && !l.holds(f(0.65)) && !l.holds(f(2.05)));
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn every_answer_is_on_the_ladder_and_on_the_right_side(
            min in 0.1f64..3.0, span in 0.1f64..8.0, step in 0.05f64..1.0, at in 0.01f64..12.0,
        ) {
            let round = |v: f64| (v * 100.0).round() / 100.0;
            let l = ladder(round(min).max(0.01), round(min).max(0.01) + round(span), round(step).max(0.01));
            let x = f((at * 1e4).round() / 1e4);
            if let Some(low) = l.floor(x.j_cm2()) {
                prop_assert!(low.j_cm2() <= x.j_cm2() + 1e-4 && l.holds(low));
            }
            if let Some(low) = l.below(x) { prop_assert!(low < x && l.holds(low)); }
            if let Some(high) = l.above(x) { prop_assert!(high > x && l.holds(high)); }
        }
    }
}
