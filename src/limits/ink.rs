//! Which wavelength suits which ink.
//!
//! The table follows published clearance and absorption studies: Kilmer SL et al., Arch Dermatol 1993;129:971-978
//! (black at 1064 nm); Taylor CR et al. 1990 and Leuenberger ML et al. 1999 (694 and 755 nm); Bernstein EF et al.,
//! Lasers Surg Med 2018;50:704-710 and 2020 (785 and 730 nm); Choi MS et al., PLoS One 2018;13(9):e0203370 (532 nm on
//! red, orange and yellow). The eye cannot tell a mixed ink, so a match is never a promise.

use crate::device::DeviceProfile;
use crate::plan::InkColour;
use crate::units::Wavelength;

/// How well a wavelength suits an ink.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum InkMatch {
    /// Little or no effect is to be expected.
    Poor,
    /// A weak effect.
    Weak,
    /// It works.
    Works,
    /// First choice.
    First,
}

const COLUMNS: [f64; 8] = [532.0, 590.0, 660.0, 694.0, 730.0, 755.0, 785.0, 1064.0];

/// How well a wavelength suits an ink; none where no study is known to us.
#[must_use]
pub fn ink_match(wavelength: Wavelength, ink: InkColour) -> Option<InkMatch> {
    use InkColour as C;
    use InkMatch::{First as F, Poor as P, Weak as W, Works as O};
    let row: [InkMatch; 8] = match ink {
        C::Black => [O, W, O, O, O, O, O, F],
        C::DarkBlue => [W, O, O, O, O, O, O, O],
        C::LightBlue => [P, O, O, O, F, F, F, P],
        C::Green => [W, P, O, F, F, F, F, P],
        C::Purple => [W, W, O, O, F, O, F, W],
        C::Red => [F, W, P, P, P, P, P, P],
        C::Orange => [F, P, P, P, P, P, P, P],
        C::Yellow => [O, P, P, P, P, P, P, P],
        C::Brown | C::Flesh | C::White | C::Pink | C::Rust => return None,
    };
    COLUMNS
        .iter()
        .zip(row)
        .filter(|(nm, _)| (**nm - wavelength.nm()).abs() <= 12.0)
        .min_by(|a, b| (a.0 - wavelength.nm()).abs().total_cmp(&(b.0 - wavelength.nm()).abs()))
        .map(|(_, m)| m)
}

/// The device's wavelength that suits an ink best, with how well.
#[must_use]
pub fn best_wavelength(device: &DeviceProfile, ink: InkColour) -> Option<(Wavelength, InkMatch)> {
    device.lines.iter().filter_map(|l| ink_match(l.wavelength, ink).map(|m| (l.wavelength, m))).max_by_key(|(_, m)| *m)
}
