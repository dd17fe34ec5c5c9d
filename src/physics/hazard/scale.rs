//! Scale numbers of laser eyewear by EN 207, 315 to 1400 nm: `LBn` weakens by at least `10^n` and withstands the load
//! of that number.
//!
//! Formulas and times as DGUV Information 203-042 (2018) gives them.

use super::factors::t_i_s;
use super::{Edition, Source};
use crate::units::ExposureTime;
use crate::words::words;

words! {
    /// Mode letter of EN 207: the kind of laser that a filter was tested with.
    Mode, "mode" {
        /// Continuous: longer than 0.25 s.
        D = "D",
        /// Pulses over 1 us up to 0.25 s.
        I = "I",
        /// "Giant" pulses of a Q-switched laser: 1 ns to 1 us.
        R = "R",
        /// Mode-locked: shorter than 1 ns.
        M = "M",
    }
}

impl Mode {
    /// The mode of a pulse duration.
    #[must_use]
    pub fn of(pulse: ExposureTime) -> Self {
        // The joints belong to the longer side of `M` and the shorter sides of `R` and `I`; a rounding error of a text
        // such as `1000 ps` must not move it.
        const SLACK: f64 = 1e-12;
        match pulse.seconds() {
            t if t < 1e-9 * (1.0 - SLACK) => Self::M,
            t if t <= 1e-6 * (1.0 + SLACK) => Self::R,
            t if t <= 0.25 * (1.0 + SLACK) => Self::I,
            _ => Self::D,
        }
    }
}

/// Seconds over which pulses are counted since EN 207:2017; before, practice was 10 s.
pub const SCALE_BASE_S: f64 = 5.0;

/// How a scale number is worked out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScaleRule {
    /// Seconds over which pulses are counted.
    pub base_s: f64,
    /// Average irradiance is multiplied by [`spot_factor`]: a wide beam heats a filter more.
    pub spot_factor: bool,
}

impl Default for ScaleRule {
    fn default() -> Self {
        Self { base_s: SCALE_BASE_S, spot_factor: false }
    }
}

/// A needed scale number.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScaleNumber {
    /// Before rounding.
    pub exact: f64,
    /// Rounded up, at least 1. The scale ends at 10: no eyewear carries more.
    pub number: u32,
}

impl ScaleNumber {
    fn of(exact: f64) -> Self {
        // The load of a number is within it; a rounding error must not ask for the next.
        Self { exact, number: (exact - 1e-9).ceil().clamp(1.0, 99.0) as u32 }
    }
}

/// What EN 207 asks of a filter that is hit by the whole beam.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScaleNeed {
    /// Number for mode D by the average power; none for a single pulse.
    pub average: Option<ScaleNumber>,
    /// Mode and number of the pulses; none for a continuous beam.
    pub pulsed: Option<(Mode, ScaleNumber)>,
    /// Pulses that were counted, `N` in `H' = H N^(1/4)`.
    pub pulses: f64,
}

impl std::fmt::Display for ScaleNeed {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let marks = self.average.map(|n| (Mode::D, n)).into_iter().chain(self.pulsed);
        for (i, (mode, n)) in marks.enumerate() {
            write!(f, "{}{mode} LB{}", if i > 0 { " + " } else { "" }, n.number)?;
        }
        Ok(())
    }
}

/// `F = d^1.7` for a beam of more than 1 mm, counted up to 15 mm (reproduces the table of DGUV Information 203-042; the
/// standard's own exponents for glass and plastic were not at hand).
#[must_use]
pub fn spot_factor(diameter_m: f64) -> f64 {
    (diameter_m * 1e3).clamp(1.0, 15.0).powf(1.7)
}

/// The scale numbers that a beam asks for when it hits the filter as it is.
#[must_use]
pub fn scale_need(source: &Source, rule: ScaleRule) -> ScaleNeed {
    let area = source.beam.area_m2();
    let factor = if rule.spot_factor { spot_factor(source.beam.diameter_m()) } else { 1.0 };
    let average = source.average_power_w().map(|p| ScaleNumber::of((p / area * factor).log10() - 1.0));
    let mode = Mode::of(source.train.pulse());
    // Pulses within T_i are summed; the scale was made for the limits of 2007, and so is this time.
    let summed = (source.train.rate_hz() * t_i_s(Edition::Of2007, source.wavelength)).max(1.0);
    let pulses = (source.train.rate_hz() * rule.base_s / summed).max(1.0);
    // EN 207 asks for N^(1/4) above 1 Hz; slower trains get it as well, which is on the safe side.
    let load = source.energy_j() * summed / area * pulses.powf(0.25);
    let pulsed = match mode {
        Mode::D => None,
        Mode::I | Mode::R => Some((mode, ScaleNumber::of((load / 5.0).log10() + 3.0))),
        Mode::M => Some((mode, ScaleNumber::of((load / 1.5).log10() + 4.0))),
    };
    ScaleNeed { average, pulsed, pulses }
}

#[cfg(test)]
mod tests {
    use super::super::{Beam, Train};
    use super::*;
    use crate::units::Wavelength;

    #[test]
    fn mode_letters_on_both_sides_of_their_joints() {
        let of = |text: &str| Mode::of(text.parse().unwrap());
        assert_eq!([of("999 ps"), of("1000 ps"), of("1 ns"), of("1 us")], [Mode::M, Mode::R, Mode::R, Mode::R]);
        assert_eq!([of("1.001 us"), of("250 ms"), of("0.251 s"), of("10 s")], [Mode::I, Mode::I, Mode::D, Mode::D]);
    }

    #[test]
    fn a_load_at_its_joint_needs_no_higher_number() {
        // 1 m2 of area: the exposure is the energy. LB8 of mode R ends at 5e5 J/m2, LB9 of mode M at 1.5e5 J/m2.
        let need = |energy: f64, pulse: &str| {
            let d = (4.0 / std::f64::consts::PI).sqrt() * 1e3 / 2.0;
            let train = Train::single(pulse.parse().unwrap());
            let source =
                Source::new(Wavelength::new(755.0).unwrap(), energy / 4.0, train, Beam::new(d, 0.0).unwrap()).unwrap();
            scale_need(&source, ScaleRule::default()).pulsed.unwrap().1.number
        };
        assert_eq!([need(5e5, "10 ns"), need(5.01e5, "10 ns"), need(5e4, "10 ms")], [8, 9, 7]);
        assert_eq!([need(1.5e5, "750 ps"), need(1.51e5, "750 ps")], [9, 10]);
        assert_eq!(need(1e-6, "10 ns"), 1, "LB1 is the least");
    }
}
