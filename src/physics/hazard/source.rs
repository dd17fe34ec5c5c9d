//! The beam that is judged, checked once.

use super::Train;
use crate::units::{AngularSubtense, ExposureTime, Wavelength, trimmed};
use std::f64::consts::{PI, SQRT_2};

/// Why a beam cannot be judged.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum HazardError {
    /// Not a number, or outside what is sensible.
    #[error("{quantity} {given} is outside {range}")]
    OutOfRange {
        /// The quantity.
        quantity: &'static str,
        /// The value with its unit.
        given: String,
        /// The allowed range in words.
        range: &'static str,
    },
    /// A pulse begins before the one before it ends.
    #[error(
        "pulses of {pulse} at {rate_hz} Hz run into each other; give the exposure as one pulse for a continuous beam"
    )]
    Overlap {
        /// Duration of a pulse.
        pulse: ExposureTime,
        /// Repetition rate in Hz.
        rate_hz: f64,
    },
    /// The exposure ends before its first pulse does.
    #[error("the exposure, {exposure}, is shorter than one pulse, {pulse}")]
    TooShort {
        /// Duration of a pulse.
        pulse: ExposureTime,
        /// Exposure time.
        exposure: ExposureTime,
    },
}

impl HazardError {
    pub(super) fn out_of_range(quantity: &'static str, value: f64, unit: &str, range: &'static str) -> Self {
        let number = if value.abs() < 1e9 { trimmed(value, 9) } else { format!("{value:e}") };
        Self::OutOfRange { quantity, given: format!("{number} {unit}"), range }
    }
}

/// Width and spread of a beam. Diameter and divergence are those at 1/e of the peak, as exposure limits take them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beam {
    diameter_m: f64,
    divergence_rad: f64,
}

impl Beam {
    /// A beam by its 1/e diameter in mm, 0.01 to 1000, and its full 1/e divergence in mrad, 0 to 3141. For an even
    /// ("flat") beam the diameter is that of the beam.
    ///
    /// # Errors
    /// [`HazardError::OutOfRange`].
    pub fn new(diameter_mm: f64, divergence_mrad: f64) -> Result<Self, HazardError> {
        if !(0.01..=1000.0).contains(&diameter_mm) {
            return Err(HazardError::out_of_range("beam diameter", diameter_mm, "mm", "0.01 to 1000 mm"));
        }
        if !(0.0..=3141.0).contains(&divergence_mrad) {
            return Err(HazardError::out_of_range("divergence", divergence_mrad, "mrad", "0 to 3141 mrad"));
        }
        Ok(Self { diameter_m: diameter_mm * 1e-3, divergence_rad: divergence_mrad * 1e-3 })
    }

    /// A Gaussian beam whose diameter and divergence are given at 1/e2, as data sheets do: both divided by `sqrt 2`.
    ///
    /// # Errors
    /// As [`Self::new`].
    pub fn gaussian(diameter_mm: f64, divergence_mrad: f64) -> Result<Self, HazardError> {
        let as_given = Self::new(diameter_mm, divergence_mrad)?;
        Ok(Self { diameter_m: as_given.diameter_m / SQRT_2, divergence_rad: as_given.divergence_rad / SQRT_2 })
    }

    /// 1/e diameter in m.
    #[must_use]
    pub const fn diameter_m(&self) -> f64 {
        self.diameter_m
    }
    /// Full 1/e divergence in rad.
    #[must_use]
    pub const fn divergence_rad(&self) -> f64 {
        self.divergence_rad
    }
    /// Area in m2, `pi d^2 / 4`; for a Gaussian beam energy over it is the exposure at the peak.
    #[must_use]
    pub fn area_m2(&self) -> f64 {
        PI * self.diameter_m * self.diameter_m / 4.0
    }
}

/// A laser beam as it can reach someone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Source {
    /// Wavelength.
    pub wavelength: Wavelength,
    energy_j: f64,
    /// Pulses and exposure time.
    pub train: Train,
    /// Width and spread.
    pub beam: Beam,
    /// Angle under which the source is seen when looked into; a point for a laser beam.
    pub alpha: AngularSubtense,
}

impl Source {
    /// A point source: the view into a laser beam. The energy is that of one pulse, or of the whole exposure to a
    /// continuous beam, in J; 1e-15 to 1e6, more than any one pulse has.
    ///
    /// # Errors
    /// [`HazardError::OutOfRange`] for the energy.
    pub fn new(wavelength: Wavelength, energy_j: f64, train: Train, beam: Beam) -> Result<Self, HazardError> {
        if !(1e-15..=1e6).contains(&energy_j) {
            return Err(HazardError::out_of_range("energy", energy_j, "J", "1e-15 to 1e6 J"));
        }
        Ok(Self { wavelength, energy_j, train, beam, alpha: AngularSubtense::POINT })
    }

    /// The same source seen under an angle: an extended source.
    #[must_use]
    pub const fn seen_under(self, alpha: AngularSubtense) -> Self {
        Self { alpha, ..self }
    }

    /// Energy of one pulse, or of the whole exposure to a continuous beam, in J.
    #[must_use]
    pub const fn energy_j(&self) -> f64 {
        self.energy_j
    }

    /// Average power over the exposure in W; none for a single pulse, which has no average.
    #[must_use]
    pub fn average_power_w(&self) -> Option<f64> {
        if self.train.repeats() {
            Some(self.energy_j * self.train.rate_hz())
        } else if super::Mode::of(self.train.pulse()) == super::Mode::D {
            Some(self.energy_j / self.train.pulse().seconds())
        } else {
            None
        }
    }
}
