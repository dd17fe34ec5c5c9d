//! What the device can be set to: its lines, pulse durations, spots with their fluence ladders, limits and rates.

mod ladder;
mod load;

pub use crate::words::BeamProfile;
pub use load::{EMBEDDED_TEXT, KIND, load};

use crate::units::{Divergence, Fluence, PulseDuration, PulseEnergy, RepetitionRate, SpotDiameter, Wavelength};
use serde::{Deserialize, Serialize};

/// A device profile, typed off the device's manual by the clinic.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DeviceProfile {
    /// The clinic's own name for the device; never a brand.
    pub name: String,
    /// Where the figures come from ("device manual, rev. 3, section 5").
    pub source: String,
    /// Its emission lines.
    pub lines: Vec<EmissionLine>,
    /// Its pulse counter, where it has one.
    pub counter: Option<Counter>,
    /// True when the display shows the pulse energy beside the fluence.
    pub shows_energy: bool,
}

/// One wavelength with everything that can be set at it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EmissionLine {
    /// Wavelength.
    #[serde(rename = "wavelength_nm")]
    pub wavelength: Wavelength,
    /// Pulse durations that can be chosen.
    #[serde(rename = "pulse_durations_s")]
    pub pulse_durations: Vec<PulseDuration>,
    /// Spots, each with its own fluence ladder, smallest first.
    pub spots: Vec<SpotLadder>,
    /// Largest pulse energy.
    #[serde(rename = "energy_max_j")]
    pub energy_max: PulseEnergy,
    /// Repetition rates that can be chosen, lowest first.
    #[serde(rename = "rates_hz")]
    pub rates: Vec<RepetitionRate>,
    /// Beam profile on the skin.
    pub beam_profile: BeamProfile,
    /// Full-angle divergence at the handpiece.
    #[serde(rename = "divergence_mrad")]
    pub divergence: Divergence,
}

/// The fluences a spot can be set to: `min`, `min + step`, ... up to `max`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct SpotLadder {
    /// Spot diameter.
    #[serde(rename = "spot_mm")]
    pub spot: SpotDiameter,
    /// Lowest fluence.
    #[serde(rename = "fluence_min_j_cm2")]
    pub min: Fluence,
    /// Highest fluence.
    #[serde(rename = "fluence_max_j_cm2")]
    pub max: Fluence,
    /// Step between fluences.
    #[serde(rename = "fluence_step_j_cm2")]
    pub step: Fluence,
}

/// The device's own pulse counter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Counter {
    /// Digits it shows; after all nines it starts again at zero. 2 to 12.
    pub digits: u8,
}

impl Counter {
    /// The reading at which it starts again: `10^digits`.
    #[must_use]
    pub fn modulus(self) -> u64 {
        10u64.saturating_pow(u32::from(self.digits))
    }
}
