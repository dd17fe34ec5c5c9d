//! What is asked and answered.

use crate::physics::beam::peak_over_average;
use crate::physics::transport::{Beam, Measured};
use crate::units::{Fluence, SpotDiameter};
use crate::words::BeamProfile;
use serde::Serialize;

/// A value with the range that uncertain skin gives it, and the statistical error of its nominal value.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Dose {
    /// The lowest of the cases.
    pub low: f64,
    /// With every value of the skin as it is most likely.
    pub nominal: f64,
    /// The highest of the cases.
    pub high: f64,
    /// Standard error of the nominal value.
    pub standard_error: f64,
}

impl Dose {
    /// From the nominal value and those of all cases.
    pub(super) fn of(nominal: Measured, cases: impl IntoIterator<Item = f64>) -> Self {
        let (low, high) =
            cases.into_iter().fold((nominal.value, nominal.value), |(low, high), v| (low.min(v), high.max(v)));
        Self { low, nominal: nominal.value, high, standard_error: nominal.standard_error.unwrap_or(f64::INFINITY) }
    }
    /// The dose times a factor that is exactly known.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        Self {
            low: self.low * factor,
            nominal: self.nominal * factor,
            high: self.high * factor,
            standard_error: self.standard_error * factor.abs(),
        }
    }
}

/// Light at a depth.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct DepthPoint {
    /// Depth below the surface in cm.
    pub depth_cm: f64,
    /// Local fluence on the beam's axis for each J/cm2 that is set.
    pub per_set: Dose,
}

/// One pulse as it is set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shot {
    /// Spot on the skin.
    pub spot: SpotDiameter,
    /// Its profile.
    pub profile: BeamProfile,
    /// Fluence, averaged over the spot, as devices show it.
    pub fluence: Fluence,
}

impl Shot {
    /// The beam that comes in.
    #[must_use]
    pub fn beam(&self) -> Beam {
        Beam::of(self.profile, self.spot.mm() / 10.0)
    }
    /// Incident fluence on the axis, in J/cm2: the fluence set, twice that for a Gaussian profile.
    #[must_use]
    pub fn on_axis_j_cm2(&self) -> f64 {
        self.fluence.j_cm2() * peak_over_average(self.profile)
    }
}

/// What one pulse brings, on its axis.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct ShotDose {
    /// Local fluence at the top of most of the ink, in J/cm2.
    pub ink_top_j_cm2: Dose,
    /// Local fluence at the middle of the ink, in J/cm2.
    pub ink_j_cm2: Dose,
    /// Local fluence at the bottom of most of the ink, in J/cm2.
    pub ink_bottom_j_cm2: Dose,
    /// Local fluence at the basal layer of the epidermis, in J/cm2.
    pub basal_j_cm2: Dose,
    /// Rise of the mean temperature of the epidermis, in K, if no heat leaves during the pulse. Grains of pigment get
    /// far hotter than this mean.
    pub epidermis_rise_k: Dose,
}

/// Another spot at the same set fluence, and the fluence at it that brings the same light to the middle of the ink.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct OtherSpot {
    /// The other spot.
    #[serde(rename = "spot_mm")]
    pub spot: SpotDiameter,
    /// Local fluence at the middle of the ink at the same set fluence, in J/cm2.
    pub ink_j_cm2: Dose,
    /// Local fluence at the basal layer at the same set fluence, in J/cm2.
    pub basal_j_cm2: Dose,
    /// Mean rise of the epidermis at the same set fluence, in K.
    pub epidermis_rise_k: Dose,
    /// Set fluence at the other spot for the same light at the middle of the ink, in J/cm2. A figure to compare by: no
    /// limit of a device or a protocol has been looked at.
    pub same_ink_fluence_j_cm2: Dose,
    /// Light at the basal layer at that fluence against now, in per cent more (or, below zero, less).
    pub same_ink_basal_change_percent: Dose,
}
