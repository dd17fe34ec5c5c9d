//! The next lower setting that the device can really be set to.

use super::fluence_limit;
use crate::device::DeviceProfile;
use crate::plan::{FitzpatrickType, Setting};
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

/// The setting `step` per cent lower, floored to the device's ladder, strictly lower than now, and within every limit.
///
/// At the foot of the spot's ladder the next larger spot is tried, with a fluence at least one step lower than now,
/// because a larger spot alone brings more light to the same depth.
#[must_use]
pub fn lowered(
    setting: &Setting,
    step: Percent,
    skin: FitzpatrickType,
    device: &DeviceProfile,
    protocol: &Protocol,
) -> Lowered {
    let wanted = setting.fluence.j_cm2() * (1.0 - step.value() / 100.0);
    let within = |candidate: Setting| {
        fluence_limit(&candidate, skin, device, protocol)
            .is_ok_and(|l| candidate.fluence.j_cm2() <= l.fluence_j_cm2 * (1.0 + 1e-9))
    };
    let capped = |spot_setting: &Setting| {
        fluence_limit(spot_setting, skin, device, protocol).map_or(f64::NEG_INFINITY, |l| l.fluence_j_cm2.min(wanted))
    };
    let Some(line) = device.line(setting.wavelength) else { return Lowered::Foot };
    if let Some(ladder) = line.ladder(setting.spot) {
        // Ten per cent can be less than a step: then the step decides.
        let next =
            ladder.floor(capped(setting)).filter(|f| *f < setting.fluence).or_else(|| ladder.below(setting.fluence));
        if let Some(fluence) = next {
            let candidate = Setting { fluence, ..*setting };
            if within(candidate) {
                return Lowered::Fluence(candidate);
            }
        }
    }
    for ladder in line.larger_spots(setting.spot) {
        let at_spot = Setting { spot: ladder.spot, ..*setting };
        if let Some(fluence) = ladder.floor(capped(&at_spot)).filter(|f| *f < setting.fluence) {
            let candidate = Setting { fluence, ..at_spot };
            if within(candidate) {
                return Lowered::LargerSpot(candidate);
            }
        }
    }
    Lowered::Foot
}
