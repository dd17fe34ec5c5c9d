//! Light in layered skin: how much comes back, how much goes through, where it is absorbed and how strong it is at a
//! depth.
//!
//! [`adding`] gives the answer for a beam much wider than the light spreads, to six digits within milliseconds.
//! [`montecarlo`] follows photons, for beams of any size, with a statistical error beside each figure.
//! [`fresnel`] is what happens at a boundary between two refractive indices.

pub mod adding;
pub mod fresnel;
mod measured;
pub mod montecarlo;

pub use measured::Measured;

use crate::words::BeamProfile;

/// The light that comes in, at normal incidence. Diameters in cm, 0.01 to 3.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Beam {
    /// Much wider than the light spreads.
    Wide,
    /// The same fluence all over a disc.
    Flat {
        /// Its diameter.
        diameter_cm: f64,
    },
    /// A Gaussian profile; fluence is given per unit of its peak.
    Gaussian {
        /// The 1/e2 diameter.
        diameter_cm: f64,
    },
}

impl Beam {
    /// A beam of a device's profile; of a Gaussian one the diameter is that at 1/e2.
    #[must_use]
    pub const fn of(profile: BeamProfile, diameter_cm: f64) -> Self {
        match profile {
            BeamProfile::Flat => Self::Flat { diameter_cm },
            BeamProfile::Gaussian => Self::Gaussian { diameter_cm },
        }
    }
}

/// Why light could not be computed.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TransportError {
    /// Not a number of photons that can be run.
    #[error("{0} photons are none, or more than the 1e12 that can be asked for")]
    Photons(u64),
    /// Not a precision that can be reached.
    #[error("a precision of {0} is not a relative standard error from 0.00001 to 0.5")]
    Precision(f64),
    /// A beam that the bins do not hold.
    #[error("a spot of {0} cm is not from 0.01 to 3 cm across")]
    Spot(f64),
    /// No fluence is known there.
    #[error("no fluence at {depth_cm} cm: it lies outside the layers or in a clear one on top, or was not asked for")]
    Depth {
        /// The depth in cm.
        depth_cm: f64,
    },
    /// Stopped before anything was done.
    #[error("stopped before any photon had come to its end")]
    NothingDone,
}
