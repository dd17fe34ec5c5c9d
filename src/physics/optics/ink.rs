//! How ink absorbs: an estimate, and a wide one.
//!
//! No measured absorption of ink in skin is known to us. Black is computed from the mass of ink and the absorption of
//! carbon, the other colours from black by how well their wavelengths are known to work. Treat the result as an order
//! of magnitude.

use super::OpticsError;
use crate::physics::{Estimate, carbon};
use crate::units::Wavelength;
use crate::words::{Density, InkColour};

/// Ink in a layer of skin.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ink {
    /// Its colours, at least one; each is taken to hold an equal share of the mass.
    pub colours: Vec<InkColour>,
    /// How much of it there is.
    pub density: Density,
}

/// Mass of ink below an area of skin, in mg/cm2.
///
/// Source (published): Engel E et al., Contact Dermatitis 2008;58:228-233, fresh red pigment: 0.60 to 9.42, mean 2.53
/// mg/cm2; about a third is gone within weeks (animals). Which class of density means which mass is common practice
/// at best: moderate is the mean less a third, minimal and significant are the ends less a third. Old and treated
/// tattoos hold less.
#[must_use]
pub const fn mass_mg_cm2(density: Density) -> Estimate {
    match density {
        Density::Minimal => Estimate { low: 0.1, nominal: 0.4, high: 1.7 },
        Density::Moderate => Estimate { low: 0.4, nominal: 1.7, high: 6.3 },
        Density::Significant => Estimate { low: 1.7, nominal: 6.3, high: 9.42 },
    }
}

/// Absorption of carbon by mass, in cm2/g: nominal packed in solid clumps of 4 um, at the low end of 10 um, at the high
/// end dispersed as granules of 100 nm. A clump shades its own inside, so the ends differ twenty-fold.
///
/// In skin, ink lies inside cells, in clumps of 1 to 10 um (from memory). Clumps beyond the table of carbon take the
/// efficiency of its largest sphere: from there on it changes little with size.
fn carbon_cm2_g(wavelength: Wavelength) -> Result<Estimate, OpticsError> {
    let q = |nm| carbon::absorption_efficiency(nm, wavelength).map(|q| q.nominal);
    let by_mass = |q: f64, diameter_cm: f64| 1.5 * q / (carbon::DENSITY_G_CM3 * diameter_cm);
    let (solid, fine) = (q(1000.0)?, q(100.0)?);
    Ok(Estimate::new(by_mass(solid, 10e-4), by_mass(solid, 4e-4), by_mass(fine, 100e-7)))
}

/// How well light of a wavelength is absorbed, in the classes of the trade.
#[derive(Debug, Clone, Copy)]
enum Uptake {
    Poor,
    Weak,
    Good,
    Best,
}

impl Uptake {
    /// Absorption against carbon of the same mass. Common practice: classes put into numbers half a decade apart.
    const fn against_carbon(self) -> Estimate {
        match self {
            Self::Poor => Estimate { low: 0.003, nominal: 0.03, high: 0.1 },
            Self::Weak => Estimate { low: 0.03, nominal: 0.1, high: 0.3 },
            Self::Good => Estimate { low: 0.1, nominal: 0.3, high: 1.0 },
            Self::Best => Estimate { low: 0.3, nominal: 0.6, high: 1.5 },
        }
    }
}

const LINES_NM: [f64; 8] = [532.0, 590.0, 660.0, 694.0, 730.0, 755.0, 785.0, 1064.0];

/// A colour's classes at [`LINES_NM`]; none where no study is known to us.
///
/// Source: clearance and absorption studies, as classes: Taylor CR et al. 1990 and Leuenberger ML et al. 1999 (694 and
/// 755 nm); Bernstein EF et al., Lasers Surg Med 2018;50:704-710 and 2020 (785 and 730 nm); Choi MS et al., PLoS One
/// 2018;13:e0203370 (532 nm on red, orange and yellow). Clearing is not absorption: common practice.
const fn uptake(colour: InkColour) -> Option<[Uptake; 8]> {
    use InkColour as C;
    use Uptake::{Best as B, Good as G, Poor as P, Weak as W};
    match colour {
        C::DarkBlue => Some([W, G, G, G, G, G, G, G]),
        C::LightBlue => Some([P, G, G, G, B, B, B, P]),
        C::Green => Some([W, P, G, B, B, B, B, P]),
        C::Purple => Some([W, W, G, G, B, G, B, W]),
        C::Red => Some([B, W, P, P, P, P, P, P]),
        C::Orange => Some([B, P, P, P, P, P, P, P]),
        C::Yellow => Some([G, P, P, P, P, P, P, P]),
        C::Black | C::Brown | C::Flesh | C::White | C::Pink | C::Rust => None,
    }
}

/// Absorption of a colour against carbon of the same mass; geometric between the lines of the table.
fn against_carbon(colour: InkColour, wavelength: Wavelength) -> Result<Estimate, OpticsError> {
    if colour == InkColour::Black {
        return Ok(Estimate::exact(1.0));
    }
    // Brown, flesh, white, pink and rust: mixtures and oxides of which nothing is known but that it is not carbon.
    let Some(classes) = uptake(colour) else { return Ok(Estimate { low: 0.003, nominal: 0.1, high: 1.0 }) };
    let nm = wavelength.nm();
    let rows: Vec<(f64, Estimate)> = LINES_NM.iter().copied().zip(classes.map(Uptake::against_carbon)).collect();
    rows.windows(2)
        .find_map(|pair| match pair {
            [(a, low), (b, high)] if (*a..=*b).contains(&nm) => {
                let t = (nm - a) / (b - a);
                let between = |x: f64, y: f64| (x.ln() * (1.0 - t) + y.ln() * t).exp();
                Some(Estimate {
                    low: between(low.low, high.low),
                    nominal: between(low.nominal, high.nominal),
                    high: between(low.high, high.high),
                })
            }
            _ => None,
        })
        .ok_or(OpticsError::OutsideTable { what: "the absorption of ink", nm, from_nm: 532.0, to_nm: 1064.0 })
}

/// Absorption that ink adds to a layer of the given thickness, in 1/cm.
///
/// # Errors
/// [`OpticsError::OutsideTable`] outside 532 to 1064 nm; [`OpticsError::NoColour`] without a colour.
pub fn mua_per_cm(ink: &Ink, wavelength: Wavelength, thickness_cm: f64) -> Result<Estimate, OpticsError> {
    let carbon = carbon_cm2_g(wavelength)?;
    let mass_g_cm3 = mass_mg_cm2(ink.density).map(|mg| mg * 1e-3 / thickness_cm);
    if ink.colours.is_empty() {
        return Err(OpticsError::NoColour);
    }
    let share = 1.0 / f64::from(u32::try_from(ink.colours.len()).unwrap_or(u32::MAX));
    let mut sum = Estimate::exact(0.0);
    for colour in &ink.colours {
        let relative = against_carbon(*colour, wavelength)?;
        sum.low += share * relative.low * carbon.low * mass_g_cm3.low;
        sum.nominal += share * relative.nominal * carbon.nominal * mass_g_cm3.nominal;
        sum.high += share * relative.high * carbon.high * mass_g_cm3.high;
    }
    Ok(sum)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::words::Word;

    fn mua(colours: &[InkColour], density: Density, nm: f64) -> Result<Estimate, OpticsError> {
        mua_per_cm(&Ink { colours: colours.to_vec(), density }, Wavelength::new(nm).unwrap(), 0.1)
    }

    #[test]
    fn more_ink_absorbs_more_and_every_colour_has_a_range() {
        for &colour in InkColour::ALL {
            for nm in [532.0, 600.0, 694.0, 755.0, 900.0, 1064.0] {
                let at = |d| mua(&[colour], d, nm).unwrap();
                let (little, some, much) = (at(Density::Minimal), at(Density::Moderate), at(Density::Significant));
                assert!(little.nominal < some.nominal && some.nominal < much.nominal, "{colour} {nm}");
                assert!(some.low < some.nominal && some.nominal < some.high, "{colour} {nm}: {some:?}");
            }
        }
    }

    /// The stack with ink of the reference cases (50 /cm in 0.2 mm) stands for a usual black tattoo; spread over 1 mm
    /// the same light is taken by 10 /cm. The estimate has to hold both.
    #[test]
    fn the_ink_of_the_reference_stack_lies_inside_the_range_of_black() {
        let range = mua(&[InkColour::Black], Density::Moderate, 1064.0).unwrap();
        assert!(range.low < 10.0 && range.high > 50.0, "{range:?}");
        assert!((20.0..100.0).contains(&range.nominal), "{range:?}");
    }

    #[test]
    fn red_takes_green_light_and_green_takes_red_light() {
        let at = |c, nm| mua(&[c], Density::Moderate, nm).unwrap().nominal;
        assert!(at(InkColour::Red, 532.0) > 10.0 * at(InkColour::Red, 755.0));
        assert!(at(InkColour::Green, 755.0) > 5.0 * at(InkColour::Green, 1064.0));
        let mixed = mua(&[InkColour::Black, InkColour::Red], Density::Moderate, 1064.0).unwrap().nominal;
        assert!(mixed < at(InkColour::Black, 1064.0) && mixed > at(InkColour::Red, 1064.0));
    }

    #[test]
    fn outside_the_table_and_without_a_colour_there_is_no_value() {
        for &colour in InkColour::ALL {
            for nm in [400.0, 531.0, 1065.0, 1400.0] {
                assert!(mua(&[colour], Density::Minimal, nm).unwrap_err().to_string().contains("532 to 1064 nm"));
            }
        }
        assert_eq!(mua(&[], Density::Minimal, 755.0), Err(OpticsError::NoColour));
    }
}
