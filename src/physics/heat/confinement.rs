//! What a pulse does to a granule: is its heat confined, is its stress?

use super::relaxation::{DIFFUSIVITY_M2_S, Definition, Shape};
use super::sphere::{centre_at_end_of_pulse, mean_at_end_of_pulse};
use super::stress::{SPEED_OF_SOUND_M_S, pressure_factor, transit_s};
use crate::physics::Estimate;
use crate::units::{GranuleDiameter, PulseDuration};

/// A pulse against a granule. Ranges are those of diffusivity and speed of sound alone; the definition of relaxation
/// time matters more.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Confinement {
    /// Thermal relaxation time in s.
    pub relaxation_s: Estimate,
    /// Time in s that sound takes across the granule.
    pub transit_s: Estimate,
    /// The pulse is no longer than the relaxation time: little heat leaves during it.
    pub thermally_confined: bool,
    /// The pulse is shorter than the transit time: stress builds up before it can leave.
    pub stress_confined: bool,
    /// Highest temperature of the centre against that without loss, for a square pulse.
    pub centre_factor: f64,
    /// Highest mean temperature of the granule against that without loss, for a square pulse.
    pub mean_factor: f64,
    /// Highest pressure against that of a flash of the same energy, for a square pulse.
    pub pressure_factor: f64,
}

impl Confinement {
    /// The verdict in words.
    #[must_use]
    pub const fn words(&self) -> &'static str {
        match (self.thermally_confined, self.stress_confined) {
            (true, true) => "heat and stress",
            (true, false) => "heat only",
            // Below about 2 nm, where sound is slower than heat.
            (false, true) => "stress only",
            (false, false) => "neither",
        }
    }
}

/// A square pulse against a granule with the heat and sound of skin, [`DIFFUSIVITY_M2_S`] and [`SPEED_OF_SOUND_M_S`].
///
/// Relaxation times are a rule of thumb, not a threshold of damage: Murphy MJ, Torstensson PA, Lasers Med Sci
/// 2014;29:973-978.
#[must_use]
pub fn confinement(granule: GranuleDiameter, pulse: PulseDuration, definition: Definition) -> Confinement {
    let (diameter_m, pulse_s) = (granule.nm() * 1e-9, pulse.seconds());
    // Every definition knows the sphere.
    let divisor = definition.divisor(Shape::Sphere).unwrap_or(f64::NAN);
    let relaxation_s = DIFFUSIVITY_M2_S.map(|kappa| diameter_m * diameter_m / (divisor * kappa));
    let transit_s = SPEED_OF_SOUND_M_S.map(|c| transit_s(diameter_m, c));
    let fourier = 4.0 * DIFFUSIVITY_M2_S.nominal * pulse_s / (diameter_m * diameter_m);
    Confinement {
        relaxation_s,
        transit_s,
        thermally_confined: pulse_s <= relaxation_s.nominal,
        stress_confined: pulse_s < transit_s.nominal,
        centre_factor: centre_at_end_of_pulse(fourier),
        mean_factor: mean_at_end_of_pulse(fourier),
        pressure_factor: pressure_factor(diameter_m, pulse_s, SPEED_OF_SOUND_M_S.nominal),
    }
}

/// The granules that a pulse just confines something to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeastConfined {
    /// Diameter in nm from which on the pulse is no longer than the relaxation time: `sqrt(divisor x diffusivity x t)`.
    pub heat_nm: Estimate,
    /// Diameter in nm above which the pulse is shorter than the transit of sound: `speed x t`.
    pub stress_nm: Estimate,
}

/// [`confinement`] the other way round: from which granule on heat, and above which stress, stays during a pulse.
#[must_use]
pub fn least_confined(pulse: PulseDuration, definition: Definition) -> LeastConfined {
    let pulse_s = pulse.seconds();
    let divisor = definition.divisor(Shape::Sphere).unwrap_or(f64::NAN);
    LeastConfined {
        heat_nm: DIFFUSIVITY_M2_S.map(|kappa| (divisor * kappa * pulse_s).sqrt() * 1e9),
        stress_nm: SPEED_OF_SOUND_M_S.map(|c| c * pulse_s * 1e9),
    }
}

/// Granules to look at side by side, in nm: fine primary granules, usual ones, and clumps as cells hold them.
///
/// Sizes: black pigment is almost only nanoparticles (Hogsberg T et al., Br J Dermatol 2011;165:1210, published); clumps
/// of 1 to 4 um are from memory.
pub const USUAL_GRANULES_NM: [f64; 5] = [40.0, 100.0, 300.0, 1000.0, 4000.0];
/// Pulses to look at side by side, in s: two of picosecond and two of nanosecond devices. Common practice.
pub const USUAL_PULSES_S: [f64; 4] = [300e-12, 750e-12, 6e-9, 50e-9];

/// Every usual granule against every usual pulse, granule by granule.
#[must_use]
pub fn side_by_side(definition: Definition) -> Vec<(GranuleDiameter, PulseDuration, Confinement)> {
    let pulses = USUAL_PULSES_S.iter().filter_map(|s| PulseDuration::new(*s).ok());
    USUAL_GRANULES_NM
        .iter()
        .filter_map(|nm| GranuleDiameter::new(*nm).ok())
        .flat_map(|granule| pulses.clone().map(move |pulse| (granule, pulse, confinement(granule, pulse, definition))))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::words::Word;
    use proptest::prelude::*;

    fn of(nm: f64, seconds: f64) -> Confinement {
        let pulse = PulseDuration::new(seconds).unwrap();
        confinement(GranuleDiameter::new(nm).unwrap(), pulse, Definition::AndersonParrish)
    }

    #[test]
    fn picoseconds_and_nanoseconds_differ_by_the_size_of_the_granule() {
        for (nm, seconds, words) in [
            (100.0, 750e-12, "heat only"),
            (100.0, 35e-12, "heat and stress"),
            (100.0, 6e-9, "neither"),
            (1000.0, 300e-12, "heat and stress"),
            (1000.0, 6e-9, "heat only"),
            (4000.0, 50e-9, "heat only"),
            (40.0, 750e-12, "neither"),
            (1.0, 5e-13, "stress only"),
        ] {
            assert_eq!(of(nm, seconds).words(), words, "{nm} nm, {seconds} s");
        }
    }

    #[test]
    fn every_definition_knows_the_sphere_and_the_range_holds_the_value() {
        for &definition in Definition::ALL {
            let c = confinement(GranuleDiameter::new(250.0).unwrap(), PulseDuration::new(1e-9).unwrap(), definition);
            assert!(c.relaxation_s.low < c.relaxation_s.nominal && c.relaxation_s.nominal < c.relaxation_s.high);
            assert!(c.transit_s.low < c.transit_s.nominal && c.transit_s.nominal < c.transit_s.high);
        }
    }

    #[test]
    fn the_least_confined_granule_is_where_the_verdict_turns() {
        for pulse_s in [300e-12, 750e-12, 6e-9, 50e-9] {
            let least = least_confined(PulseDuration::new(pulse_s).unwrap(), Definition::AndersonParrish);
            let (heat, stress) = (least.heat_nm.nominal, least.stress_nm.nominal);
            assert!(of(heat * 1.001, pulse_s).thermally_confined && !of(heat * 0.999, pulse_s).thermally_confined);
            if stress <= 1e5 {
                assert!(of(stress * 1.001, pulse_s).stress_confined && !of(stress * 0.999, pulse_s).stress_confined);
            }
            assert!(least.heat_nm.low < heat && heat < least.heat_nm.high);
        }
        // 6 ns: sqrt(27 x 1.3e-7 m2/s x 6e-9 s) = 145.1 nm, 1500 m/s x 6e-9 s = 9 um.
        let least = least_confined(PulseDuration::new(6e-9).unwrap(), Definition::AndersonParrish);
        assert!((least.heat_nm.nominal - 145.1).abs() < 0.1 && (least.stress_nm.nominal - 9000.0).abs() < 1e-6);
    }

    #[test]
    fn side_by_side_holds_every_pair() {
        let table = side_by_side(Definition::AndersonParrish);
        assert_eq!(table.len(), USUAL_GRANULES_NM.len() * USUAL_PULSES_S.len());
        for words in ["heat and stress", "heat only", "neither"] {
            assert!(table.iter().any(|(.., c)| c.words() == words), "{words}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn any_granule_and_pulse_has_finite_factors_and_longer_pulses_confine_less(
            ln_nm in 0.0f64..11.5, ln_s in -29.9f64..0.0, longer in 1.0f64..100.0
        ) {
            let (nm, s) = (ln_nm.exp().clamp(1.0, 1e5), ln_s.exp().clamp(1e-13, 1.0));
            let (a, b) = (of(nm, s), of(nm, (s * longer).min(1.0)));
            for c in [a, b] {
                for f in [c.centre_factor, c.mean_factor, c.pressure_factor] {
                    prop_assert!((0.0..=1.0).contains(&f), "{c:?}");
                }
            }
            prop_assert!(b.mean_factor <= a.mean_factor * (1.0 + 1e-9) && b.pressure_factor <= a.pressure_factor);
            prop_assert!(a.thermally_confined || !b.thermally_confined);
            prop_assert!(a.stress_confined || !b.stress_confined);
        }
    }
}
