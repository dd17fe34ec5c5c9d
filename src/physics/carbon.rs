//! How a sphere of carbon absorbs light: the pigment of black ink.
//!
//! Mie theory for amorphous carbon, refractive index `1.95 - 0.79i` (Bond TC, Bergstrom RW, Aerosol Sci Technol
//! 2006;40:27-67, from memory), in tissue of index 1.37, computed with an independent library. Real ink carbon differs
//! in its structure: absorption of a granule is known to a third at best.

use crate::physics::Estimate;
use crate::units::Wavelength;

/// Density of carbon black in g/cm3 (from memory).
pub const DENSITY_G_CM3: f64 = 1.8;
/// Specific heat capacity of carbon black in J/(g K) (from memory).
pub const HEAT_CAPACITY_J_G_K: f64 = 0.71;

const SIZES_NM: [f64; 6] = [20.0, 40.0, 100.0, 200.0, 300.0, 1000.0];
const LINES_NM: [f64; 4] = [532.0, 694.0, 755.0, 1064.0];
/// Absorption efficiency: a row for each size, a column for each wavelength.
const Q_ABS: [[f64; 4]; 6] = [
    [0.19773, 0.15079, 0.13844, 0.097_905],
    [0.40784, 0.30782, 0.28185, 0.19773],
    [1.0452, 0.81665, 0.74871, 0.5184],
    [1.434, 1.3333, 1.2904, 1.0452],
    [1.4679, 1.4654, 1.4486, 1.3227],
    [1.1949, 1.262, 1.2845, 1.3761],
];

/// A size or wavelength for which carbon is not tabulated.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error(
    "the absorption of carbon is tabulated for granules of 20 to 1000 nm and light of 532 to 1064 nm; a granule of \
     {diameter_nm} nm at {wavelength_nm} nm is outside"
)]
pub struct OutsideCarbonTable {
    /// Diameter of the granule in nm.
    pub diameter_nm: f64,
    /// Wavelength in nm.
    pub wavelength_nm: f64,
}

/// The place of `x` among rising `marks`: index below and the share of the way, in logarithms; none outside.
fn place(marks: &[f64], x: f64) -> Option<(usize, f64)> {
    let above = marks.partition_point(|m| *m < x);
    let (low, above) = if above == 0 { (0, 1) } else { (above - 1, above) };
    let (a, b) = (*marks.get(low)?, *marks.get(above)?);
    (a..=b).contains(&x).then(|| (low, (x / a).ln() / (b / a).ln()))
}

/// Absorption efficiency (absorption cross-section over `pi d^2/4`) of a carbon sphere; interpolated in logarithms. The
/// range is a third either way.
///
/// # Errors
/// [`OutsideCarbonTable`] outside 20 to 1000 nm of diameter or 532 to 1064 nm of wavelength.
pub fn absorption_efficiency(diameter_nm: f64, wavelength: Wavelength) -> Result<Estimate, OutsideCarbonTable> {
    let outside = OutsideCarbonTable { diameter_nm, wavelength_nm: wavelength.nm() };
    let (size, along) = place(&SIZES_NM, diameter_nm).ok_or(outside)?;
    let (line, across) = place(&LINES_NM, wavelength.nm()).ok_or(outside)?;
    let ln = |s: usize, l: usize| Q_ABS.get(s).and_then(|row| row.get(l)).map(|q| q.ln()).ok_or(outside);
    let at_size = |s| Ok(ln(s, line)? * (1.0 - across) + ln(s, line + 1)? * across);
    let q = (at_size(size)? * (1.0 - along) + at_size(size + 1)? * along).exp();
    Ok(Estimate::new(q / 1.33, q, q * 1.33))
}

/// Absorption inside the granule in 1/cm as if it were spread evenly: `3 Q / (2 d)`.
///
/// # Errors
/// As [`absorption_efficiency`].
pub fn internal_mua_per_cm(diameter_nm: f64, wavelength: Wavelength) -> Result<Estimate, OutsideCarbonTable> {
    Ok(absorption_efficiency(diameter_nm, wavelength)?.map(|q| 1.5 * q / (diameter_nm * 1e-7)))
}

/// Rise of a granule's temperature in K for each J/cm2 of light around it, when no heat leaves it during the pulse.
///
/// Linear: no phase change. Carbon breaks up or vaporises long before the figures that this gives at usual fluences;
/// they say how little light suffices, not how hot it gets.
///
/// # Errors
/// As [`absorption_efficiency`].
pub fn heating_k_per_j_cm2(diameter_nm: f64, wavelength: Wavelength) -> Result<Estimate, OutsideCarbonTable> {
    Ok(internal_mua_per_cm(diameter_nm, wavelength)?.map(|mua| mua / (DENSITY_G_CM3 * HEAT_CAPACITY_J_G_K)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn inside_the_table_values_lie_between_their_rows_and_outside_there_are_none() {
        let at = |d, nm| absorption_efficiency(d, Wavelength::new(nm).unwrap());
        let q = at(60.0, 600.0).unwrap();
        assert!(q.nominal > 0.30782 && q.nominal < 1.0452 && q.low < q.nominal && q.high > q.nominal);
        for (d, nm) in
            [(19.9, 755.0), (1001.0, 755.0), (100.0, 531.0), (100.0, 1064.5), (f64::NAN, 755.0), (-1.0, 755.0)]
        {
            assert!(at(d, nm).unwrap_err().to_string().contains("20 to 1000 nm"), "{d} {nm}");
        }
    }
}
