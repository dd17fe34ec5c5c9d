//! Light from the surface down for the spots of a device, to be drawn: kept beside a session, never in its journal.

use crate::device::DeviceProfile;
use crate::physics::depth_dose::{DepthPoint, Dose, SkinLight};
use crate::physics::optics::{Case, InkDepth};
use crate::physics::transport::TransportError;
use crate::plan::{BodySite, Setting};
use crate::units::{SpotDiameter, Wavelength};

/// Light in depth for the spots of a device, by site and wavelength.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct DepthLight {
    /// Its rows.
    pub rows: Vec<DepthRow>,
}

/// Light in depth for one spot.
#[derive(Debug, Clone, PartialEq)]
pub struct DepthRow {
    /// Body site.
    pub site: BodySite,
    /// Wavelength.
    pub wavelength: Wavelength,
    /// Spot.
    pub spot: SpotDiameter,
    /// Depth of the basal layer in cm, nominal skin.
    pub basal_cm: f64,
    /// Where ink lies.
    pub ink: InkDepth,
    /// From the surface down, at least two, none as deep as another.
    pub points: Vec<DepthPoint>,
}

impl DepthRow {
    /// Local fluence at a depth in cm for each J/cm2 set, straight between two points; none below the deepest.
    #[must_use]
    pub fn per_set_at(&self, depth_cm: f64) -> Option<Dose> {
        self.points.windows(2).find_map(|pair| match pair {
            [a, b] if (a.depth_cm..=b.depth_cm).contains(&depth_cm) => {
                let t = (depth_cm - a.depth_cm) / (b.depth_cm - a.depth_cm);
                let between = |x: f64, y: f64| x + t * (y - x);
                Some(Dose {
                    low: between(a.per_set.low, b.per_set.low),
                    nominal: between(a.per_set.nominal, b.per_set.nominal),
                    high: between(a.per_set.high, b.per_set.high),
                    standard_error: a.per_set.standard_error.max(b.per_set.standard_error),
                })
            }
            _ => None,
        })
    }
}

impl DepthLight {
    /// The rows of one skin, for each spot of the device's line.
    ///
    /// # Errors
    /// [`TransportError`] where the light does not hold what is asked of it.
    pub fn of(site: BodySite, light: &SkinLight, device: &DeviceProfile) -> Result<Self, TransportError> {
        let wavelength = light.model().layers().wavelength;
        let Some(line) = device.line(wavelength) else { return Ok(Self::default()) };
        let row = |spot: SpotDiameter| {
            Ok(DepthRow {
                site,
                wavelength,
                spot,
                basal_cm: light.model().basal_depth_cm(Case::Nominal),
                ink: light.model().ink_depth(),
                points: light.profile(spot, line.beam_profile)?,
            })
        };
        Ok(Self { rows: line.spots.iter().map(|ladder| row(ladder.spot)).collect::<Result<_, _>>()? })
    }

    /// The light of a setting at a site; none where it was not followed.
    #[must_use]
    pub fn row(&self, site: BodySite, setting: &Setting) -> Option<&DepthRow> {
        self.rows.iter().find(|r| {
            r.site == site
                && (r.wavelength.nm() - setting.wavelength.nm()).abs() <= 0.5
                && (r.spot.mm() - setting.spot.mm()).abs() <= 1e-6
        })
    }
}
