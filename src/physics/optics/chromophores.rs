//! What absorbs in skin: melanosomes, blood, water and the rest.
//!
//! Each function gives an absorption coefficient in 1/cm of the pure substance, from 400 to 1100 nm.

use super::tables::{BLOOD, WATER, interpolated};
use super::{OpticsError, check};
use crate::physics::Estimate;
use crate::units::Wavelength;

/// Inside of a melanosome: nominal `6.6e11 nm^-3.33`; the range spans the other two formulas in use,
/// `519 (nm/500)^-3` and `1.70e12 nm^-3.48`.
///
/// Source: Jacques SL, "Skin optics", Oregon Medical Laser Center 1998 (published), and its page on melanin, July 1998
/// (published), which expects single melanosomes to differ ten-fold; Jacques SL, Phys Med Biol 2013;58:R37 (from
/// memory). The range here is that of the mean, not of one melanosome.
///
/// # Errors
/// [`OpticsError::OutsideTable`] outside 400 to 1100 nm.
pub fn melanosome(wavelength: Wavelength) -> Result<Estimate, OpticsError> {
    let nm = check(wavelength, "the absorption of melanosomes")?;
    let jacques_2013 = 519.0 * (nm / 500.0).powi(-3);
    let skin_1998 = 1.70e12 * nm.powf(-3.48);
    Ok(spanning(6.6e11 * nm.powf(-3.33), &[jacques_2013, skin_1998]))
}

/// Oxygen saturation of the blood in skin: 0.67 and 0.75 as published in a voxel model's tissue list (Jacques, quoted
/// in an open Monte Carlo package), up to 0.95 for arterial blood (from memory).
pub const SATURATION: Estimate = Estimate { low: 0.67, nominal: 0.75, high: 0.95 };

/// Whole blood (haematocrit 45 %) at [`SATURATION`]. The range is what saturation does and, on top, 20 %: as far as
/// the haemoglobin table of Prahl (after Gratzer and Kollias, 150 g/L) lies from this one where the curve is steep.
///
/// Source (published): Bosschaart N et al., Lasers Med Sci 2014;29:453-479. Prahl's table ends at 1000 nm.
///
/// # Errors
/// [`OpticsError::OutsideTable`] outside 400 to 1100 nm.
pub fn blood(wavelength: Wavelength) -> Result<Estimate, OpticsError> {
    let at = |saturation| blood_at(wavelength, saturation);
    let (a, b) = (at(SATURATION.low)?, at(SATURATION.high)?);
    Ok(spanning(at(SATURATION.nominal)?, &[0.8 * a, 1.2 * a, 0.8 * b, 1.2 * b]))
}

/// Whole blood at an oxygen saturation from 0 to 1, without a range.
///
/// # Errors
/// As [`blood`].
pub fn blood_at(wavelength: Wavelength, saturation: f64) -> Result<f64, OpticsError> {
    let [oxy, deoxy] = interpolated(&BLOOD, check(wavelength, "the absorption of blood")?, "the absorption of blood")?;
    Ok(saturation * oxy + (1.0 - saturation) * deoxy)
}

/// Water. The range is 25 % either way: Hale and Querry's table against Segelstein's at the lines of lasers.
///
/// Source (published): Hale GM, Querry MR, Appl Opt 1973;12:555-563; Segelstein DJ, thesis, Kansas City 1981.
///
/// # Errors
/// [`OpticsError::OutsideTable`] outside 400 to 1100 nm.
pub fn water(wavelength: Wavelength) -> Result<Estimate, OpticsError> {
    let [mua] = interpolated(&WATER, check(wavelength, "the absorption of water")?, "the absorption of water")?;
    Ok(Estimate::new(0.75 * mua, mua, 1.25 * mua))
}

/// Skin without blood and without melanin: nominal `0.244 + 85.3 exp(-(nm - 154)/66.2)`.
///
/// The least certain part of the model. Low is 0.12 of it: so much remains at 850 nm when the lowest median of 3809
/// people in vivo (0.035 /cm with its blood, J Biomed Opt 2023;28:115001) is to lie inside the range. High is what the
/// upper end of skin measured ex vivo asks for (Shimojo Y et al., J Biomed Opt 2020;25:045002, 0.5 +- 0.1 /cm at 755
/// to 1064 nm): 2.2 of it; that also covers the baseline of newborn skin, `7.84e8 nm^-3.255`.
///
/// Source: Jacques SL, "Skin optics", Oregon Medical Laser Center 1998, for 350 to 1100 nm (published).
///
/// # Errors
/// [`OpticsError::OutsideTable`] outside 400 to 1100 nm.
pub fn baseline(wavelength: Wavelength) -> Result<Estimate, OpticsError> {
    let nm = check(wavelength, "the absorption of bloodless skin")?;
    let mua = 0.244 + 85.3 * (-(nm - 154.0) / 66.2).exp();
    Ok(Estimate::new(0.12 * mua, mua, 2.2 * mua))
}

/// An estimate that spans a nominal value and others.
pub(super) fn spanning(nominal: f64, others: &[f64]) -> Estimate {
    others.iter().fold(Estimate::exact(nominal), |e, &x| Estimate { low: e.low.min(x), nominal, high: e.high.max(x) })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(nm: f64) -> Wavelength {
        Wavelength::new(nm).unwrap()
    }

    #[test]
    fn every_wavelength_from_400_to_1100_nm_has_a_value_and_none_beyond() {
        for nm in 400..=1100 {
            let w = at(f64::from(nm));
            for e in [melanosome(w), blood(w), water(w), baseline(w)] {
                let e = e.unwrap();
                assert!(e.low > 0.0 && e.low <= e.nominal && e.nominal <= e.high && e.high.is_finite(), "{nm}: {e:?}");
            }
        }
        let error = blood(at(1100.5)).unwrap_err().to_string();
        assert!(error.contains("400 to 1100 nm") && error.contains("1100.5 nm"), "{error}");
        assert!(melanosome(at(1200.0)).is_err() && water(at(1400.0)).is_err() && baseline(at(1101.0)).is_err());
    }

    #[test]
    fn saturation_mixes_the_two_columns() {
        let w = at(650.0);
        let (oxy, deoxy) = (blood_at(w, 1.0).unwrap(), blood_at(w, 0.0).unwrap());
        assert!((blood_at(w, 0.75).unwrap() - (0.75 * oxy + 0.25 * deoxy)).abs() < 1e-12);
        assert!(oxy < deoxy);
    }
}
