//! What is printed on laser eyewear, and whether it is enough for a beam.
//!
//! Two styles are read: optical density (`OD 7+ @ 190-534 nm, OD 5+ @ 800-1100 nm, VLT 30 %`) and EN 207
//! (`900 - 1070 D LB7 + IR LB8 + M LB8Y X S CE`). EN ISO 19818-1 marks optical density and a resistance category; the
//! table of categories was not at hand, so a category is noted and not judged.
//!
//! Ranges are closed: what lies outside, by however little, is not protected. What cannot be read is an error, never
//! protection.

mod judge;
mod lexer;
mod read;
#[cfg(test)]
mod tests;

pub use judge::{Judgement, LineNeed};

use super::Mode;
use std::fmt;

/// A marking that was read.
#[derive(Debug, Clone, PartialEq)]
pub struct Marking {
    /// Its ranges, in the order printed; at least one.
    pub bands: Vec<Band>,
    /// Luminous transmittance in per cent, where it is printed.
    pub vlt_percent: Option<f64>,
    /// Resistance category of EN ISO 19818-1, as printed.
    pub resistance_category: Option<String>,
    /// Words that say nothing about protection: the maker's mark, mechanical strength, standards, CE.
    pub ignored: Vec<String>,
}

/// One range of wavelengths with what is marked for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// First wavelength in nm; it belongs to the range.
    pub from_nm: f64,
    /// Last wavelength in nm; it belongs to the range.
    pub to_nm: f64,
    /// Marked optical density.
    pub optical_density: Option<f64>,
    /// Marked EN 207 scale numbers, each mode at most once.
    pub scale: Vec<ScaleMark>,
    /// EN 208 number of alignment eyewear, which lets some light through and never counts as protection.
    pub alignment: Option<u32>,
}

/// An EN 207 scale number of a mode.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ScaleMark {
    /// Mode it was tested with.
    pub mode: Mode,
    /// Scale number, 1 to 10.
    pub number: u32,
    /// Marked `Y`: not tested at 25 Hz and below.
    pub not_at_low_rate: bool,
}

impl Band {
    /// True when the wavelength lies in the range, ends included.
    #[must_use]
    pub fn holds(&self, nm: f64) -> bool {
        self.from_nm <= nm && nm <= self.to_nm
    }

    fn range(&self) -> String {
        if self.to_nm > self.from_nm {
            format!("{}-{}", short(self.from_nm), short(self.to_nm))
        } else {
            short(self.from_nm)
        }
    }
}

fn short(nm: f64) -> String {
    crate::units::trimmed(nm, 3)
}

impl fmt::Display for Band {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.range())?;
        if let Some(od) = self.optical_density {
            write!(f, " OD {}", crate::units::trimmed(od, 2))?;
        }
        for (i, mark) in self.scale.iter().enumerate() {
            let y = if mark.not_at_low_rate { "Y" } else { "" };
            write!(f, "{}{} LB{}{y}", if i > 0 { " + " } else { " " }, mark.mode, mark.number)?;
        }
        if let Some(rb) = self.alignment {
            write!(f, " RB{rb}")?;
        }
        Ok(())
    }
}

/// The marking in one spelling, which reads back as the same marking; words that were ignored are left out.
impl fmt::Display for Marking {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, band) in self.bands.iter().enumerate() {
            write!(f, "{}{band}", if i > 0 { ", " } else { "" })?;
        }
        if let Some(category) = &self.resistance_category {
            write!(f, ", RC {category}")?;
        }
        if let Some(vlt) = self.vlt_percent {
            write!(f, ", VLT {} %", crate::units::trimmed(vlt, 2))?;
        }
        Ok(())
    }
}

/// Why a text is no marking. Each says where in the text, what is wrong and what is expected.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{what}; {expected}")]
pub struct MarkingError {
    /// What is wrong.
    pub what: String,
    /// What to write instead.
    pub expected: &'static str,
}

/// What is expected where nothing more exact can be said.
pub const EXAMPLES: &str = "write it as printed, like 'OD 7+ @ 190-534 nm' or '740-1070 D LB6 + IRM LB8'";

impl std::str::FromStr for Marking {
    type Err = MarkingError;

    /// Reads a marking as it is printed.
    ///
    /// # Errors
    /// [`MarkingError`] with the first thing that cannot be read.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        read::read(text)
    }
}
