//! How skin scatters: reduced scattering of each layer, and the anisotropy that turns it into a scattering coefficient.

use super::chromophores::spanning;
use super::{OpticsError, check};
use crate::physics::Estimate;
use crate::units::Wavelength;

const WHAT: &str = "the scattering of skin";

/// `a [ray (nm/500)^-4 + (1 - ray) (nm/500)^-mie]`, the form of Jacques SL, Phys Med Biol 2013;58:R37.
fn rayleigh_and_mie(nm: f64, a: f64, rayleigh: f64, mie: f64) -> f64 {
    let x = nm / 500.0;
    a * (rayleigh * x.powi(-4) + (1.0 - rayleigh) * x.powf(-mie))
}

/// Reduced scattering of the epidermis in 1/cm: `a = 66.7, rayleigh 0.29, mie 0.689`; the range is 25 %, what measured
/// epidermis spreads (one standard deviation).
///
/// Source: Jacques 2013 (published, through an open radiative-transfer code); Shimojo Y et al., J Biomed Opt
/// 2020;25:045002 (published).
///
/// # Errors
/// [`OpticsError::OutsideTable`] outside 400 to 1100 nm.
pub fn epidermis(wavelength: Wavelength) -> Result<Estimate, OpticsError> {
    let mean = rayleigh_and_mie(check(wavelength, WHAT)?, 66.7, 0.29, 0.689);
    Ok(Estimate::new(0.75 * mean, mean, 1.25 * mean))
}

/// Reduced scattering of the dermis in 1/cm: `46.0 (nm/500)^-1.421`, the mean of skin.
///
/// The range spans the other formulas in use and one standard deviation (22 %) of measured dermis, for which
/// `43.6 (nm/500)^-1.563` was fitted here to the rows from 405 to 1064 nm (they lie within 8 % of it), and
/// `29.5 (nm/500)^-1.70`, drawn here through the medians of 3809 people in vivo (32.2 at 475, 12.0 at 850 nm; J Biomed
/// Opt 2023;28:115001, published), which are the lowest of all.
///
/// Source: Jacques 2013 (published, through an open toolbox), its second fit `48.0, 0.409, 0.702` (from memory); tissue list of an open voxel code, `42.4, 0.62, 1.0`
/// (published); Jacques 1998, `2e5 nm^-1.5 + 2e12 nm^-4` (from memory); Bashkatov AN et al. 2005 and 2011,
/// `73.7 nm^-0.22 + 1.1e12 nm^-4` (published, through open codes); Shimojo et al. 2020 (published).
///
/// # Errors
/// [`OpticsError::OutsideTable`] outside 400 to 1100 nm.
pub fn dermis(wavelength: Wavelength) -> Result<Estimate, OpticsError> {
    let nm = check(wavelength, WHAT)?;
    let mean = 46.0 * (nm / 500.0).powf(-1.421);
    let measured = 43.6 * (nm / 500.0).powf(-1.563);
    let voxel_code = rayleigh_and_mie(nm, 42.4, 0.62, 1.0);
    let jacques_1998 = 2e5 * nm.powf(-1.5) + 2e12 * nm.powi(-4);
    let bashkatov = 73.7 * nm.powf(-0.22) + 1.1e12 * nm.powi(-4);
    let second_fit = rayleigh_and_mie(nm, 48.0, 0.409, 0.702);
    let in_vivo = 29.5 * (nm / 500.0).powf(-1.70);
    let others = [0.78 * measured, 1.22 * measured, voxel_code, jacques_1998, bashkatov, second_fit, in_vivo];
    Ok(spanning(mean, &others))
}

/// Reduced scattering of the subcutis in 1/cm: `19.8 (nm/500)^-0.77`, fitted here to the measured rows from 405 to
/// 1064 nm (they lie within 10 % of it); the range is 37 %, their largest standard deviation.
///
/// Source: Shimojo et al. 2020 (published).
///
/// # Errors
/// [`OpticsError::OutsideTable`] outside 400 to 1100 nm.
pub fn subcutis(wavelength: Wavelength) -> Result<Estimate, OpticsError> {
    let mean = 19.8 * (check(wavelength, WHAT)? / 500.0).powf(-0.77);
    Ok(Estimate::new(0.63 * mean, mean, 1.37 * mean))
}

/// Anisotropy of every layer: `0.62 + 0.29e-3 nm`, held at its value of 900 nm beyond.
///
/// The formula was fitted from 302 to 633 nm; carried to 1064 nm it would give 0.93, beyond what other sources know
/// (0.8 to 0.9, which is the range here). At the depth of ink, light depends on the reduced scattering and hardly on
/// this.
///
/// Source: van Gemert MJC et al., IEEE Trans Biomed Eng 1989;36:1146-1154 (published).
///
/// # Errors
/// [`OpticsError::OutsideTable`] outside 400 to 1100 nm.
pub fn anisotropy(wavelength: Wavelength) -> Result<Estimate, OpticsError> {
    let nm = check(wavelength, WHAT)?;
    Ok(spanning(0.62 + 0.29e-3 * nm.min(900.0), &[0.8, 0.9]))
}
