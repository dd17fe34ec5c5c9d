//! Skin as a stack of layers.

use super::anatomy::{self, INK_DEPTH, InkDepth, PAPILLARY_CM};
use super::{Ink, OpticsError, chromophores, ink, scatter};
use crate::physics::{Estimate, Layer, Stack, StackError};
use crate::units::Wavelength;
use crate::words::{BodySite, FitzpatrickType};

/// One refractive index for all layers: usual single values are 1.37 to 1.40 (from memory), and layers of skin differ
/// among themselves by less than they are known.
pub const REFRACTIVE_INDEX: f64 = 1.4;

/// Volume share of melanosomes in the epidermis, by skin type.
///
/// Nominal: the middle of the trade's working map (common practice, after the classes light 1.3 to 6.3 %, moderate 11
/// to 16 %, dark 18 to 43 % of Jacques 1998, from memory). Low reaches down to what was measured at 694 nm: 3 to 12
/// /cm in Caucasian and Asian skin (1.3 to 5.3 %), about 25 /cm in African skin (11 %) (Svaasand group, UC eScholarship
/// 54d8m0g9, published). The map lies above those measurements for the darker types.
#[must_use]
pub const fn epidermis_melanosome_share(skin: FitzpatrickType) -> Estimate {
    use FitzpatrickType as T;
    match skin {
        T::I => Estimate { low: 0.013, nominal: 0.025, high: 0.040 },
        T::II => Estimate { low: 0.020, nominal: 0.035, high: 0.053 },
        T::III => Estimate { low: 0.025, nominal: 0.065, high: 0.080 },
        T::IV => Estimate { low: 0.050, nominal: 0.125, high: 0.150 },
        T::V => Estimate { low: 0.100, nominal: 0.215, high: 0.250 },
        T::VI => Estimate { low: 0.110, nominal: 0.365, high: 0.430 },
    }
}

/// Heat capacity of skin by volume, in J/(cm3 K): nominal 1109 kg/m3 with 3391 J/(kg K), low with porcine 3224
/// J/(kg K) (published: an open voxel code's tissue list; Ye H, De S, Burns 2017;43:909-932); high 1200 kg/m3 with 3600
/// J/(kg K), the upper end in use (from memory).
#[must_use]
pub const fn heat_capacity_j_cm3_k() -> Estimate {
    Estimate { low: 3.575, nominal: 3.760_619, high: 4.32 }
}

/// Volume share of blood in the papillary dermis: 0.2 to 4 % in layered models (from memory).
const PAPILLARY_BLOOD: Estimate = Estimate { low: 0.002, nominal: 0.01, high: 0.04 };
/// Volume share of blood in reticular dermis and subcutis: 0.2 % on average (Jacques 1998, published); the ends are
/// common practice.
const RETICULAR_BLOOD: Estimate = Estimate { low: 0.001, nominal: 0.002, high: 0.01 };
/// Volume share of water: 0.65 (tissue list of an open voxel code, published). At the low end none is added, since the
/// baseline of bloodless skin may hold it already; the high end is from memory.
const WATER: Estimate = Estimate { low: 0.0, nominal: 0.65, high: 0.75 };

/// Which ends of the ranges are taken together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Case {
    /// Least light at the ink: a dark, thick epidermis, much blood, strong absorption and scattering on the way.
    Low,
    /// Every value as it is most likely.
    Nominal,
    /// Most light at the ink: the other end of every value.
    High,
    /// Most heat in the epidermis: dark and thin, over a pale dermis that sends much light back.
    HotEpidermis,
}

impl Case {
    /// Every case.
    pub const ALL: [Self; 4] = [Self::Low, Self::Nominal, Self::High, Self::HotEpidermis];

    /// The end of the epidermis' pigment and of scattering: both take light from the ink and heat the epidermis.
    const fn pigment_or_scattering(self, e: Estimate) -> f64 {
        match self {
            Self::Low | Self::HotEpidermis => e.high,
            Self::Nominal => e.nominal,
            Self::High => e.low,
        }
    }
    /// The end of thickness and of absorption below the epidermis: they take light from both.
    const fn other(self, e: Estimate) -> f64 {
        match self {
            Self::Low => e.high,
            Self::Nominal => e.nominal,
            Self::High | Self::HotEpidermis => e.low,
        }
    }
}

/// What one layer does to light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tissue {
    /// Absorption coefficient in 1/cm.
    pub mua_per_cm: Estimate,
    /// Reduced scattering coefficient in 1/cm: the scattering coefficient times one less the anisotropy.
    pub musp_per_cm: Estimate,
}

/// The layers of skin at one wavelength, with their ranges.
///
/// Four layers: the epidermis with its stratum corneum (too thin and too clear to be told apart), papillary dermis,
/// reticular dermis, and a subcutis without end. With ink, the dermis between [`InkDepth::bulk_top_cm`] and
/// [`InkDepth::bulk_bottom_cm`] also absorbs what the ink does; ink's own scattering is left out. All layers have one
/// refractive index, [`REFRACTIVE_INDEX`], below air. The cases differ in absorption, scattering and the thickness of
/// epidermis and papillary dermis; the anisotropy and the thickness of the dermis are nominal in each, since light at
/// the ink hardly depends on them.
///
/// Without ink it tells the light that arrives at a depth; with ink, how the ink shades itself.
#[derive(Debug, Clone, PartialEq)]
pub struct SkinModel {
    layers: Layers,
    stacks: Stacks,
}

/// The layers of a [`SkinModel`] with their ranges.
#[derive(Debug, Clone, PartialEq)]
pub struct Layers {
    /// The wavelength that they are for.
    pub wavelength: Wavelength,
    /// Epidermis and stratum corneum.
    pub epidermis: Tissue,
    /// Papillary dermis.
    pub papillary: Tissue,
    /// Reticular dermis without ink.
    pub reticular: Tissue,
    /// Subcutis.
    pub subcutis: Tissue,
    /// Absorption inside a melanosome, in 1/cm: what a melanosome itself is heated by.
    pub melanosome_mua_per_cm: Estimate,
    /// Anisotropy of scattering, of every layer and case.
    pub anisotropy: f64,
    /// Thickness of the epidermis in cm.
    pub epidermis_cm: Estimate,
    /// Thickness of the dermis in cm.
    pub dermis_cm: Estimate,
    /// Absorption in 1/cm that ink adds between its bulk depths; none without ink.
    pub ink_mua_per_cm: Option<Estimate>,
}

#[derive(Debug, Clone, PartialEq)]
struct Stacks {
    low: Stack,
    nominal: Stack,
    high: Stack,
    hot: Stack,
}

impl SkinModel {
    /// The skin of a person at a site, with ink or without.
    ///
    /// # Errors
    /// [`OpticsError`] outside 400 to 1100 nm, with ink outside 532 to 1064 nm, and for ink without a colour.
    pub fn new(
        wavelength: Wavelength,
        skin: FitzpatrickType,
        site: BodySite,
        ink: Option<&Ink>,
    ) -> Result<Self, OpticsError> {
        let layers = Layers::new(wavelength, skin, site, ink)?;
        let stack = |case| layers.stack(case);
        let stacks = Stacks {
            low: stack(Case::Low)?,
            nominal: stack(Case::Nominal)?,
            high: stack(Case::High)?,
            hot: stack(Case::HotEpidermis)?,
        };
        Ok(Self { layers, stacks })
    }

    /// The layers with the values of a case.
    #[must_use]
    pub const fn stack(&self, case: Case) -> &Stack {
        match case {
            Case::Low => &self.stacks.low,
            Case::Nominal => &self.stacks.nominal,
            Case::High => &self.stacks.high,
            Case::HotEpidermis => &self.stacks.hot,
        }
    }
    /// Depth of the basal layer, the bottom of the epidermis, in the stack of a case, in cm.
    #[must_use]
    pub const fn basal_depth_cm(&self, case: Case) -> f64 {
        case.other(self.layers.epidermis_cm)
    }
    /// The layers with their ranges.
    #[must_use]
    pub const fn layers(&self) -> &Layers {
        &self.layers
    }
    /// Where ink lies.
    #[must_use]
    pub const fn ink_depth(&self) -> InkDepth {
        INK_DEPTH
    }
}

impl Layers {
    fn new(
        wavelength: Wavelength,
        skin: FitzpatrickType,
        site: BodySite,
        ink: Option<&Ink>,
    ) -> Result<Self, OpticsError> {
        let baseline = chromophores::baseline(wavelength)?;
        let (blood, water) = (chromophores::blood(wavelength)?, chromophores::water(wavelength)?);
        let melanosome = chromophores::melanosome(wavelength)?;
        let dermis = |vessels| {
            let dry = mixed(vessels, blood, baseline);
            let wet = |share: f64, water: f64, dry: f64| share * water + dry;
            Estimate::new(
                wet(WATER.low, water.low, dry.low),
                wet(WATER.nominal, water.nominal, dry.nominal),
                wet(WATER.high, water.high, dry.high),
            )
        };
        let dermis_musp = scatter::dermis(wavelength)?;
        let ink_cm = INK_DEPTH.bulk_bottom_cm - INK_DEPTH.bulk_top_cm;
        Ok(Self {
            wavelength,
            epidermis: Tissue {
                mua_per_cm: mixed(epidermis_melanosome_share(skin), melanosome, baseline),
                musp_per_cm: scatter::epidermis(wavelength)?,
            },
            papillary: Tissue { mua_per_cm: dermis(PAPILLARY_BLOOD), musp_per_cm: dermis_musp },
            reticular: Tissue { mua_per_cm: dermis(RETICULAR_BLOOD), musp_per_cm: dermis_musp },
            subcutis: Tissue { mua_per_cm: dermis(RETICULAR_BLOOD), musp_per_cm: scatter::subcutis(wavelength)? },
            melanosome_mua_per_cm: melanosome,
            anisotropy: scatter::anisotropy(wavelength)?.nominal,
            epidermis_cm: anatomy::epidermis_cm(site),
            dermis_cm: anatomy::dermis_cm(site),
            ink_mua_per_cm: ink.map(|i| ink::mua_per_cm(i, wavelength, ink_cm)).transpose()?,
        })
    }

    fn stack(&self, case: Case) -> Result<Stack, StackError> {
        let layer = |tissue: Tissue, ink: f64, thickness_cm: f64| Layer {
            n: REFRACTIVE_INDEX,
            mua_per_cm: case.other(tissue.mua_per_cm) + ink,
            mus_per_cm: case.pigment_or_scattering(tissue.musp_per_cm) / (1.0 - self.anisotropy),
            g: self.anisotropy,
            thickness_cm,
        };
        let epidermis = Layer {
            mua_per_cm: case.pigment_or_scattering(self.epidermis.mua_per_cm),
            ..layer(self.epidermis, 0.0, case.other(self.epidermis_cm))
        };
        let mut layers = vec![epidermis];
        let papillary_top = epidermis.thickness_cm;
        let reticular_top = papillary_top + case.other(PAPILLARY_CM);
        let subcutis_top = papillary_top + self.dermis_cm.nominal;
        for (tissue, top, bottom) in
            [(self.papillary, papillary_top, reticular_top), (self.reticular, reticular_top, subcutis_top)]
        {
            // Cut where the ink begins and ends; without ink at neither.
            let ink = self.ink_mua_per_cm.map(|e| case.other(e));
            let (from, to) = match ink {
                Some(_) => (INK_DEPTH.bulk_top_cm.clamp(top, bottom), INK_DEPTH.bulk_bottom_cm.clamp(top, bottom)),
                None => (bottom, bottom),
            };
            let parts = [(0.0, from - top), (ink.unwrap_or(0.0), to - from), (0.0, bottom - to)];
            layers.extend(parts.iter().filter(|(_, cm)| *cm > 0.0).map(|(mua, cm)| layer(tissue, *mua, *cm)));
        }
        layers.push(layer(self.subcutis, 0.0, f64::INFINITY));
        Stack::new(1.0, REFRACTIVE_INDEX, layers)
    }
}

/// A part in a rest, by the part's share of the volume; the low ends together, and the high ends.
fn mixed(share: Estimate, part: Estimate, rest: Estimate) -> Estimate {
    let of = |f: f64, part: f64, rest: f64| f * part + (1.0 - f) * rest;
    Estimate::new(
        of(share.low, part.low, rest.low),
        of(share.nominal, part.nominal, rest.nominal),
        of(share.high, part.high, rest.high),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::words::{Density, InkColour, Word};

    fn model(nm: f64, skin: FitzpatrickType, ink: Option<&Ink>) -> SkinModel {
        SkinModel::new(Wavelength::new(nm).unwrap(), skin, BodySite::UpperTrunk, ink).unwrap()
    }

    #[test]
    fn every_skin_site_wavelength_and_case_makes_a_stack_that_is_in_order() {
        for &skin in FitzpatrickType::ALL {
            for &site in BodySite::ALL {
                for nm in (400..=1100).step_by(25) {
                    let m = SkinModel::new(Wavelength::new(f64::from(nm)).unwrap(), skin, site, None).unwrap();
                    for case in Case::ALL {
                        let layers = m.stack(case).layers();
                        assert_eq!(layers.len(), 4);
                        assert!((layers[0].thickness_cm - m.basal_depth_cm(case)).abs() < 1e-15);
                        assert!(layers[3].thickness_cm.is_infinite() && layers.iter().all(|l| l.mua_per_cm > 0.0));
                    }
                    let mua = |case, i: usize| m.stack(case).layers()[i].mua_per_cm;
                    for i in 0..4 {
                        assert!(
                            mua(Case::High, i) <= mua(Case::Nominal, i) && mua(Case::Nominal, i) <= mua(Case::Low, i)
                        );
                    }
                    assert!((mua(Case::HotEpidermis, 0) - mua(Case::Low, 0)).abs() < 1e-12);
                    assert!((mua(Case::HotEpidermis, 1) - mua(Case::High, 1)).abs() < 1e-12);
                }
            }
        }
    }

    #[test]
    fn darker_skin_absorbs_more_at_every_end() {
        for nm in [400.0, 532.0, 694.0, 755.0, 1064.0] {
            let mut before = Estimate::exact(0.0);
            for &skin in FitzpatrickType::ALL {
                let now = model(nm, skin, None).layers().epidermis.mua_per_cm;
                assert!(now.low > before.low && now.nominal > before.nominal && now.high > before.high, "{skin} {nm}");
                before = now;
            }
        }
    }

    #[test]
    fn ink_lies_in_the_dermis_where_it_should_and_adds_only_absorption() {
        let ink = Ink { colours: vec![InkColour::Black], density: Density::Moderate };
        let (bare, inked) = (model(1064.0, FitzpatrickType::II, None), model(1064.0, FitzpatrickType::II, Some(&ink)));
        for case in Case::ALL {
            let layers = inked.stack(case).layers();
            assert_eq!(layers.len(), 6);
            let top: f64 = layers[..3].iter().map(|l| l.thickness_cm).sum();
            let depth = inked.ink_depth();
            assert!((top - depth.bulk_top_cm).abs() < 1e-12, "{case:?}");
            assert!((top + layers[3].thickness_cm - depth.bulk_bottom_cm).abs() < 1e-12);
            let ink = case.other(inked.layers().ink_mua_per_cm.unwrap());
            assert!((layers[3].mua_per_cm - layers[2].mua_per_cm - ink).abs() < 1e-9);
            assert!((layers[3].mus_per_cm - layers[2].mus_per_cm).abs() < 1e-12);
            let thick = |l: &[Layer]| l[..l.len() - 1].iter().map(|l| l.thickness_cm).sum::<f64>();
            assert!((thick(layers) - thick(bare.stack(case).layers())).abs() < 1e-12);
        }
    }

    #[test]
    fn no_model_where_something_has_no_table() {
        let ink = Ink { colours: vec![InkColour::Red], density: Density::Minimal };
        let new = |nm, ink| SkinModel::new(Wavelength::new(nm).unwrap(), FitzpatrickType::I, BodySite::HeadNeck, ink);
        assert!(new(500.0, None).is_ok());
        assert!(new(500.0, Some(&ink)).unwrap_err().to_string().contains("ink is tabulated from 532 to 1064 nm"));
        assert!(new(1101.0, None).unwrap_err().to_string().contains("400 to 1100 nm"));
        let none = Ink { colours: vec![], density: Density::Minimal };
        assert_eq!(new(755.0, Some(&none)).unwrap_err(), OpticsError::NoColour);
    }
}
