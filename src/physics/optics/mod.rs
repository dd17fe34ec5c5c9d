//! Skin and ink as light meets them: absorption, scattering and thickness of each layer, from 400 to 1100 nm.
//!
//! Every value is an [`Estimate`](super::Estimate) with its source beside it, marked: published, from memory, or common
//! practice. [`SkinModel`] puts them together into stacks of layers.
//!
//! Absorption is that of melanosomes, blood, water and the rest by their share of the volume; blood (Bosschaart 2014)
//! and water (Hale and Querry 1973) come from tables that are linear between rows, the others from formulas. Ink is
//! known from 532 to 1064 nm only.

pub mod anatomy;
pub mod chromophores;
pub mod ink;
pub mod scatter;
mod skin;
mod tables;

pub use anatomy::InkDepth;
pub use ink::Ink;
pub use skin::{Case, Layers, REFRACTIVE_INDEX, SkinModel, Tissue, epidermis_melanosome_share, heat_capacity_j_cm3_k};

use crate::physics::StackError;
use crate::physics::carbon::OutsideCarbonTable;
use crate::units::Wavelength;

/// The shortest wavelength of the model in nm.
pub const FROM_NM: f64 = 400.0;
/// The longest wavelength of the model in nm.
pub const TO_NM: f64 = 1100.0;

/// Why there is no model of the skin.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum OpticsError {
    /// A wavelength for which something is not tabulated.
    #[error("{what} is tabulated from {from_nm} to {to_nm} nm; {nm} nm is outside")]
    OutsideTable {
        /// What has no value there.
        what: &'static str,
        /// The wavelength in nm.
        nm: f64,
        /// The first tabulated wavelength in nm.
        from_nm: f64,
        /// The last tabulated wavelength in nm.
        to_nm: f64,
    },
    /// Ink without a colour.
    #[error("the ink has no colour: name at least one")]
    NoColour,
    /// Layers that make no stack.
    #[error(transparent)]
    Stack(#[from] StackError),
}

impl From<OutsideCarbonTable> for OpticsError {
    /// Sizes are the model's own and inside the table; so it is the wavelength.
    fn from(outside: OutsideCarbonTable) -> Self {
        Self::OutsideTable { what: "the absorption of ink", nm: outside.wavelength_nm, from_nm: 532.0, to_nm: 1064.0 }
    }
}

/// The wavelength in nm, when the model reaches that far.
fn check(wavelength: Wavelength, what: &'static str) -> Result<f64, OpticsError> {
    let nm = wavelength.nm();
    if (FROM_NM..=TO_NM).contains(&nm) {
        Ok(nm)
    } else {
        Err(OpticsError::OutsideTable { what, nm, from_nm: FROM_NM, to_nm: TO_NM })
    }
}
