//! Energy, fluence, spot and power of a beam.
//!
//! The spot of a Gaussian beam is its 1/e2 diameter. Its average fluence is the energy over the spot's area, as devices
//! show it, and its peak is twice that; 13.5 % of the energy falls outside the spot. Source: textbook optics; ISO 11146
//! defines the same diameter (D4sigma) for a Gaussian (from memory).

use crate::units::{PulseDuration, RepetitionRate, SpotDiameter};
use crate::words::BeamProfile;

/// Full width at half maximum of a Gaussian beam over its 1/e2 diameter: `sqrt(ln 2 / 2)`.
pub const GAUSSIAN_FWHM_OVER_SPOT: f64 = 0.588_705_011_257_737_3;

/// Fluence at a distance from the centre over that in the centre; `r_over_w` is in radii of the spot, 0 or more.
#[must_use]
pub fn relative_fluence(profile: BeamProfile, r_over_w: f64) -> f64 {
    match profile {
        BeamProfile::Flat if r_over_w <= 1.0 => 1.0,
        BeamProfile::Flat => 0.0,
        BeamProfile::Gaussian => (-2.0 * r_over_w * r_over_w).exp(),
    }
}

/// Share of the energy within a distance from the centre; `r_over_w` is in radii of the spot, 0 or more.
#[must_use]
pub fn encircled_energy(profile: BeamProfile, r_over_w: f64) -> f64 {
    match profile {
        BeamProfile::Flat => (r_over_w * r_over_w).min(1.0),
        BeamProfile::Gaussian => -(-2.0 * r_over_w * r_over_w).exp_m1(),
    }
}

/// Fluence in the centre over the average of the spot.
#[must_use]
pub const fn peak_over_average(profile: BeamProfile) -> f64 {
    match profile {
        BeamProfile::Flat => 1.0,
        BeamProfile::Gaussian => 2.0,
    }
}

/// Shape of a pulse in time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PulseShape {
    /// Constant over the pulse duration.
    Square,
    /// Gaussian, the duration being its full width at half maximum.
    Gaussian,
}

impl PulseShape {
    /// Peak power over energy per duration: 1, or `2 sqrt(ln 2 / pi)` for a Gaussian.
    #[must_use]
    pub const fn peak_factor(self) -> f64 {
        match self {
            Self::Square => 1.0,
            Self::Gaussian => 0.939_437_278_699_651_3,
        }
    }
}

/// One pulse of a beam on the skin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beam {
    energy_j: f64,
    spot: SpotDiameter,
    profile: BeamProfile,
}

impl Beam {
    /// A beam by the energy of one pulse in J; not a number and below 0 count as 0.
    #[must_use]
    pub const fn from_energy(energy_j: f64, spot: SpotDiameter, profile: BeamProfile) -> Self {
        Self { energy_j: energy_j.max(0.0), spot, profile }
    }
    /// A beam by its fluence in J/cm2, averaged over the spot.
    #[must_use]
    pub fn from_fluence(j_cm2: f64, spot: SpotDiameter, profile: BeamProfile) -> Self {
        Self::from_energy(j_cm2 * spot.area_cm2(), spot, profile)
    }
    /// Energy of a pulse in J.
    #[must_use]
    pub const fn energy_j(&self) -> f64 {
        self.energy_j
    }
    /// Energy over the spot's area, in J/cm2.
    #[must_use]
    pub fn fluence_j_cm2(&self) -> f64 {
        self.energy_j / self.spot.area_cm2()
    }
    /// Fluence in the centre, in J/cm2.
    #[must_use]
    pub fn peak_fluence_j_cm2(&self) -> f64 {
        self.fluence_j_cm2() * peak_over_average(self.profile)
    }
    /// Energy inside the spot over the energy of the pulse.
    #[must_use]
    pub fn energy_inside_spot(&self) -> f64 {
        encircled_energy(self.profile, 1.0)
    }
    /// Full width at half maximum across the spot, in mm.
    #[must_use]
    pub fn fwhm_mm(&self) -> f64 {
        match self.profile {
            BeamProfile::Flat => self.spot.mm(),
            BeamProfile::Gaussian => self.spot.mm() * GAUSSIAN_FWHM_OVER_SPOT,
        }
    }
    /// Highest power during a pulse, in W.
    #[must_use]
    pub fn peak_power_w(&self, duration: PulseDuration, shape: PulseShape) -> f64 {
        shape.peak_factor() * self.energy_j / duration.seconds()
    }
    /// Highest irradiance, in the centre and at the peak of the pulse, in W/cm2.
    #[must_use]
    pub fn peak_irradiance_w_cm2(&self, duration: PulseDuration, shape: PulseShape) -> f64 {
        shape.peak_factor() * self.peak_fluence_j_cm2() / duration.seconds()
    }
    /// Power over many pulses, in W.
    #[must_use]
    pub const fn average_power_w(&self, rate: RepetitionRate) -> f64 {
        self.energy_j * rate.hz()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn energy_and_fluence_are_two_ways_to_say_the_same() {
        let spot = SpotDiameter::new(4.0).unwrap();
        for profile in [BeamProfile::Flat, BeamProfile::Gaussian] {
            let beam = Beam::from_energy(0.3, spot, profile);
            let again = Beam::from_fluence(beam.fluence_j_cm2(), spot, profile);
            assert!((again.energy_j() - 0.3).abs() < 1e-12);
        }
        assert!(Beam::from_energy(f64::NAN, spot, BeamProfile::Flat).energy_j() < 1e-300);
    }

    #[test]
    fn constants_are_what_their_formulas_give() {
        let ln2 = std::f64::consts::LN_2;
        assert!((GAUSSIAN_FWHM_OVER_SPOT - (ln2 / 2.0).sqrt()).abs() < 1e-15);
        assert!((PulseShape::Gaussian.peak_factor() - 2.0 * (ln2 / std::f64::consts::PI).sqrt()).abs() < 1e-15);
    }

    /// The peak of a Gaussian pulse in time encloses its energy: integral over time of the power is the energy.
    #[test]
    fn power_over_time_adds_up_to_the_energy() {
        let duration = PulseDuration::new(1e-9).unwrap();
        let beam = Beam::from_energy(0.1, SpotDiameter::new(3.0).unwrap(), BeamProfile::Flat);
        let peak = beam.peak_power_w(duration, PulseShape::Gaussian);
        let step = 1e-12;
        let sum: f64 = (-5000..=5000)
            .map(|i| {
                let t = f64::from(i) * step / duration.seconds();
                peak * (-4.0 * std::f64::consts::LN_2 * t * t).exp() * step
            })
            .sum();
        assert!((sum - 0.1).abs() < 1e-9, "{sum}");
    }
}
