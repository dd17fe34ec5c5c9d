//! The next lower setting that the device can really be set to, and the larger spot that may be chosen instead.

use super::{LightTable, dose_change, fluence_limit};
use crate::device::DeviceProfile;
use crate::plan::{BodySite, FitzpatrickType, PulseClass, Setting};
use crate::protocol::Protocol;
use crate::units::Percent;

/// What a LOWER proposal comes to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Lowered {
    /// A lower fluence at the same spot.
    Fluence(Setting),
    /// The ladder's foot is reached: a lower fluence at the next larger spot.
    LargerSpot(Setting),
    /// Neither exists: only stopping is left.
    Foot,
}

impl Lowered {
    /// The proposed setting, where there is one.
    #[must_use]
    pub const fn setting(self) -> Option<Setting> {
        match self {
            Self::Fluence(s) | Self::LargerSpot(s) => Some(s),
            Self::Foot => None,
        }
    }
}

/// What a lower setting is looked for with.
#[derive(Debug, Clone, Copy)]
pub struct Lowering<'a> {
    /// The setting in force.
    pub now: Setting,
    /// Body site, for the light.
    pub site: BodySite,
    /// Skin type.
    pub skin: FitzpatrickType,
    /// Device.
    pub device: &'a DeviceProfile,
    /// Protocol.
    pub protocol: &'a Protocol,
    /// Light in this skin; without it no other spot is proposed, because nobody could tell whether it is less.
    pub light: Option<&'a LightTable>,
}

/// Room for rounding in comparisons of figures that were written with few digits.
const ROUNDING: f64 = 1e-9;

impl Lowering<'_> {
    /// The setting `step` per cent lower, floored to the device's ladder, strictly lower than now, and within every
    /// limit.
    ///
    /// At the foot of the spot's ladder the next larger spot is tried, with a fluence at least one step lower than now,
    /// and only where the light in the epidermis is known to be less: a larger spot alone brings more to any depth.
    #[must_use]
    pub fn lowered(&self, step: Percent) -> Lowered {
        let now = self.now;
        let wanted = now.fluence.j_cm2() * (1.0 - step.value() / 100.0);
        let capped = |s: &Setting| self.limit(s).map_or(f64::NEG_INFINITY, |limit| limit.min(wanted));
        let Some(line) = self.device.line(now.wavelength) else { return Lowered::Foot };
        if let Some(ladder) = line.ladder(now.spot) {
            // Ten per cent can be less than a step: then the step decides.
            let next = ladder.floor(capped(&now)).filter(|f| *f < now.fluence).or_else(|| ladder.below(now.fluence));
            if let Some(fluence) = next {
                let candidate = Setting { fluence, ..now };
                if self.within(&candidate) {
                    return Lowered::Fluence(candidate);
                }
            }
        }
        for ladder in line.larger_spots(now.spot) {
            let at_spot = Setting { spot: ladder.spot, ..now };
            if let Some(fluence) = ladder.floor(capped(&at_spot)).filter(|f| *f < now.fluence) {
                let candidate = Setting { fluence, ..at_spot };
                if self.within(&candidate) && self.spares_epidermis(&candidate) {
                    return Lowered::LargerSpot(candidate);
                }
            }
        }
        Lowered::Foot
    }

    /// True when a setting brings less to the ink than the protocol's floor for its pulse class: the local light where
    /// it is known, else the fluence set.
    #[must_use]
    pub fn under_ink_floor(&self, setting: &Setting) -> bool {
        let floors = &self.protocol.thresholds.rules;
        let floor = match PulseClass::of(setting.pulse_duration) {
            PulseClass::Picosecond => &floors.ink_floor_picosecond_j_cm2,
            PulseClass::Nanosecond => &floors.ink_floor_nanosecond_j_cm2,
        };
        let at_ink = self.light.and_then(|l| l.dose(self.site, setting));
        at_ink.map_or(setting.fluence.j_cm2(), |d| d.ink_j_cm2) < floor.value.j_cm2() * (1.0 - ROUNDING)
    }

    /// The smallest larger spot that brings as much to the ink as now, or as nearly as the ladder allows from below, and
    /// less to the epidermis, within every limit. It must bring more to the ink than `lower` does, or it would be no
    /// choice.
    #[must_use]
    pub fn same_ink_at_larger_spot(&self, lower: &Setting) -> Option<Setting> {
        let (now, light) = (self.now, self.light?);
        let ink = light.dose(self.site, &now)?.ink_j_cm2;
        let at_least = light.dose(self.site, lower)?.ink_j_cm2;
        let line = self.device.line(now.wavelength)?;
        line.larger_spots(now.spot).find_map(|ladder| {
            let at_spot = Setting { spot: ladder.spot, ..now };
            let per_fluence = light.dose(self.site, &at_spot)?.ink_j_cm2 / now.fluence.j_cm2();
            let wanted = (ink / per_fluence).min(self.limit(&at_spot)?);
            let candidate = Setting { fluence: ladder.floor(wanted)?, ..at_spot };
            let brings = light.dose(self.site, &candidate)?.ink_j_cm2;
            (brings > at_least && self.within(&candidate) && self.spares_epidermis(&candidate)).then_some(candidate)
        })
    }

    fn limit(&self, setting: &Setting) -> Option<f64> {
        fluence_limit(setting, self.skin, self.device, self.protocol).ok().map(|l| l.fluence_j_cm2)
    }

    fn within(&self, setting: &Setting) -> bool {
        self.limit(setting).is_some_and(|limit| setting.fluence.j_cm2() <= limit * (1.0 + ROUNDING))
    }

    fn spares_epidermis(&self, to: &Setting) -> bool {
        dose_change(self.light, self.site, &self.now, to).is_some_and(|c| c.epidermis_percent < 0.0)
    }
}
