//! What a setting brings to ink and epidermis, as a session keeps it: a few factors for each spot, taken once from the
//! light that was followed through the skin.

use crate::device::DeviceProfile;
use crate::physics::depth_dose::{Shot, SkinLight};
use crate::physics::transport::TransportError;
use crate::plan::{BodySite, Setting};
use crate::units::{Fluence, Quantity, SpotDiameter, Wavelength};
use serde::{Deserialize, Serialize};

/// Light at ink and epidermis for the spots of a device, by site and wavelength.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct LightTable {
    /// Its rows.
    pub rows: Vec<LightRow>,
}

/// Light of one spot, for each J/cm2 that is set.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LightRow {
    /// Body site.
    pub site: BodySite,
    /// Wavelength.
    #[serde(rename = "wavelength_nm")]
    pub wavelength: Wavelength,
    /// Spot.
    #[serde(rename = "spot_mm")]
    pub spot: SpotDiameter,
    /// Local fluence at the middle of the ink over the fluence set, on the beam's axis, nominal skin.
    pub ink: f64,
    /// Local fluence at the basal layer over the fluence set, on the beam's axis, nominal skin.
    pub epidermis: f64,
}

/// What a setting brings, J/cm2.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LightDose {
    /// Local fluence at the middle of the ink.
    pub ink_j_cm2: f64,
    /// Local fluence at the basal layer of the epidermis.
    pub epidermis_j_cm2: f64,
}

/// What goes from one setting to another, in per cent of the first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DoseChange {
    /// At the ink.
    pub ink_percent: f64,
    /// In the epidermis.
    pub epidermis_percent: f64,
}

impl LightTable {
    /// The rows of one skin, for each spot of the device's line.
    ///
    /// # Errors
    /// [`TransportError`] where the light does not hold what is asked of it.
    pub fn of(site: BodySite, light: &SkinLight, device: &DeviceProfile) -> Result<Self, TransportError> {
        let (wavelength, mut rows) = (light.model().layers().wavelength, Vec::new());
        let Some(line) = device.line(wavelength) else { return Ok(Self::default()) };
        let Ok(fluence) = Fluence::checked(1.0) else { return Ok(Self::default()) };
        for ladder in &line.spots {
            let dose = light.shot(&Shot { spot: ladder.spot, profile: line.beam_profile, fluence })?;
            rows.push(LightRow {
                site,
                wavelength,
                spot: ladder.spot,
                ink: dose.ink_j_cm2.nominal,
                epidermis: dose.basal_j_cm2.nominal,
            });
        }
        Ok(Self { rows })
    }

    /// What a setting brings at a site; none where its light was not worked out.
    #[must_use]
    pub fn dose(&self, site: BodySite, setting: &Setting) -> Option<LightDose> {
        let same = |r: &&LightRow| {
            r.site == site
                && (r.wavelength.nm() - setting.wavelength.nm()).abs() <= 0.5
                && (r.spot.mm() - setting.spot.mm()).abs() <= 1e-6
        };
        let row = self.rows.iter().find(same)?;
        let fluence = setting.fluence.j_cm2();
        Some(LightDose { ink_j_cm2: row.ink * fluence, epidermis_j_cm2: row.epidermis * fluence })
    }
}

/// How ink and epidermis fare when one setting replaces another; none where that cannot be told. At the same spot and
/// wavelength light is proportional to fluence, whatever the skin.
#[must_use]
pub fn dose_change(light: Option<&LightTable>, site: BodySite, from: &Setting, to: &Setting) -> Option<DoseChange> {
    let same_beam =
        (from.wavelength.nm() - to.wavelength.nm()).abs() <= 0.5 && (from.spot.mm() - to.spot.mm()).abs() <= 1e-6;
    if same_beam {
        let percent = 100.0 * (to.fluence.j_cm2() / from.fluence.j_cm2() - 1.0);
        return Some(DoseChange { ink_percent: percent, epidermis_percent: percent });
    }
    let (a, b) = (light?.dose(site, from)?, light?.dose(site, to)?);
    Some(DoseChange {
        ink_percent: 100.0 * (b.ink_j_cm2 / a.ink_j_cm2 - 1.0),
        epidermis_percent: 100.0 * (b.epidermis_j_cm2 / a.epidermis_j_cm2 - 1.0),
    })
}
