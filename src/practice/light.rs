//! Light in simulated skin: followed once for each skin, site and wavelength, and asked for any spot and depth of ink.

use crate::physics::optics::{Case, SkinModel, heat_capacity_j_cm3_k};
use crate::physics::transport::Beam;
use crate::physics::transport::montecarlo::{Goal, Pencil, Request, run};
use crate::units::Wavelength;
use crate::words::{BeamProfile, BodySite, FitzpatrickType};
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

/// Depths at which light is counted, cm; the epidermis' own come to them.
const DEPTHS_CM: [f64; 7] = [0.025, 0.05, 0.075, 0.10, 0.15, 0.20, 0.30];
/// Photons: about 2 % at the ink, far less than what skin is uncertain by.
const PHOTONS: u64 = 40_000;
const SEED: u64 = 7;

/// What each J/cm2 that falls on a spot, averaged over it, brings on its axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PerJoule {
    /// Local fluence at the ink, J/cm2.
    pub ink: f64,
    /// Local fluence at the basal layer, J/cm2.
    pub basal: f64,
    /// Mean rise of the epidermis, K.
    pub rise_k: f64,
}

/// Light of one skin at one site and wavelength.
#[derive(Debug)]
pub struct Tissue {
    pencil: Pencil,
    epidermis_cm: [f64; 3],
    epidermis_mua_per_cm: f64,
}

impl Tissue {
    fn follow(skin: FitzpatrickType, site: BodySite, wavelength: Wavelength) -> Option<Self> {
        let model = SkinModel::new(wavelength, skin, site, None).ok()?;
        let basal = model.basal_depth_cm(Case::Nominal);
        let epidermis_cm = [0.0, basal / 2.0, basal];
        let depths_cm: Vec<f64> = epidermis_cm.into_iter().chain(DEPTHS_CM).collect();
        let stack = model.stack(Case::Nominal);
        let request = Request {
            stack,
            goal: Goal::Photons(PHOTONS),
            seed: SEED,
            threads: 1,
            depths_cm: &depths_cm,
            targets: &[],
        };
        let pencil = run(&request, &()).ok()?.pencil?;
        let epidermis_mua_per_cm = stack.layers().first().map_or(0.0, |l| l.mua_per_cm);
        Some(Self { pencil, epidermis_cm, epidermis_mua_per_cm })
    }

    /// What a spot brings to ink whose middle lies at a depth, 0.025 to 0.3 cm: the mean over most of the ink, which
    /// reaches from half of that depth to half as much again, as in the skin model.
    #[must_use]
    pub fn per_joule(&self, profile: BeamProfile, spot_mm: f64, ink_depth_cm: f64) -> PerJoule {
        let beam = Beam::of(profile, spot_mm / 10.0);
        let on_axis = crate::physics::beam::peak_over_average(profile);
        let at = |depth| self.pencil.fluence(beam, depth).map_or(0.0, |m| m.value * on_axis);
        let [top, middle, basal] = self.epidermis_cm.map(at);
        // Simpson's rule: the fluence bends little within a tenth of a millimetre.
        let mean = (top + 4.0 * middle + basal) / 6.0;
        let rise_k = mean * self.epidermis_mua_per_cm / heat_capacity_j_cm3_k().nominal;
        let ink = [0.5, 1.0, 1.5].map(|part| between(&DEPTHS_CM, part * ink_depth_cm, at)).iter().sum::<f64>() / 3.0;
        PerJoule { ink, basal, rise_k }
    }
}

/// A value at a depth between those that were counted: light falls off nearly exponentially.
fn between(depths: &[f64], depth: f64, at: impl Fn(f64) -> f64) -> f64 {
    let pair = depths.windows(2).find(|p| p.last().is_some_and(|end| depth <= *end));
    match pair {
        Some([a, b]) if depth >= *a => {
            let t = (depth - a) / (b - a);
            let (x, y) = (at(*a).max(1e-9), at(*b).max(1e-9));
            (x.ln() * (1.0 - t) + y.ln() * t).exp()
        }
        Some([a, _]) => at(*a),
        _ => depths.last().map_or(0.0, |d| at(*d)),
    }
}

type Known = HashMap<(FitzpatrickType, BodySite, u64), Option<Arc<Tissue>>>;

/// Light that was followed already; runs share one, so that each skin is followed once.
#[derive(Debug, Clone, Default)]
pub struct LightBook(Arc<Mutex<Known>>);

impl LightBook {
    /// The light of a skin; none at wavelengths that the skin model does not know.
    #[must_use]
    pub fn tissue(&self, skin: FitzpatrickType, site: BodySite, wavelength: Wavelength) -> Option<Arc<Tissue>> {
        // Half a nanometre is one line; a thread that failed left whole entries behind.
        let key = (skin, site, (wavelength.nm() * 2.0).round() as u64);
        let mut known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        known.entry(key).or_insert_with(|| Tissue::follow(skin, site, wavelength).map(Arc::new)).clone()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against the program's own finer light (`plan show` of a shipped plan): 1064 nm, 4 mm, type III, distal extremity,
    /// 3 J/cm2 bring 8.58, 6.08 and 4.02 J/cm2 to 0.5, 1 and 1.5 mm, 9.60 to the basal layer, and warm the epidermis by
    /// 9.63 K.
    #[test]
    fn it_agrees_with_the_finer_light_of_the_physics() {
        let book = LightBook::default();
        let w = Wavelength::new(1064.0).unwrap();
        let tissue = book.tissue(FitzpatrickType::III, BodySite::DistalExtremity, w).unwrap();
        let p = tissue.per_joule(BeamProfile::Flat, 4.0, 0.1);
        assert!((p.ink * 3.0 / ((8.58 + 6.08 + 4.02) / 3.0) - 1.0).abs() < 0.06, "{p:?}");
        assert!((p.basal * 3.0 / 9.60 - 1.0).abs() < 0.06, "{p:?}");
        assert!((p.rise_k * 3.0 / 9.63 - 1.0).abs() < 0.06, "{p:?}");
        let deeper = tissue.per_joule(BeamProfile::Flat, 4.0, 0.14);
        assert!(deeper.ink < p.ink && (deeper.basal - p.basal).abs() < 1e-12);
        assert!(tissue.per_joule(BeamProfile::Flat, 6.0, 0.1).ink > p.ink);
    }
}
