//! The tightest fluence limit of a setting, and what is wrong with a setting.

use crate::device::DeviceProfile;
use crate::plan::{FitzpatrickType, PulseClass, Setting};
use crate::protocol::Protocol;
use crate::units::trimmed;

/// The highest fluence the program lets through whatever a protocol says, in J/cm2.
///
/// 1 to 12 J/cm2 is the general range published for short-pulse removal (*Optodynamic monitoring of laser tattoo
/// removal*, J Biomed Opt 2012;17(4); the same upper value in Kilmer SL et al., Arch Dermatol 1993;129:971-978).
pub const HARD_FLUENCE_MAX_J_CM2: f64 = 12.0;

/// A limit with the reason that made it the tightest.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// The limit in J/cm2.
    pub fluence_j_cm2: f64,
    /// Which layer set it, in words.
    pub reason: String,
}

impl Limit {
    fn tighten(&mut self, fluence_j_cm2: f64, reason: impl FnOnce() -> String) {
        if fluence_j_cm2 < self.fluence_j_cm2 {
            *self = Self { fluence_j_cm2, reason: reason() };
        }
    }
}

/// What is wrong with a setting.
#[derive(Debug, Clone, PartialEq)]
pub struct SettingProblem {
    /// Stable name of the problem, such as `fluence.above-ceiling`.
    pub id: &'static str,
    /// The field of the setting it belongs to.
    pub field: &'static str,
    /// What is wrong and what is allowed.
    pub message: String,
}

/// The tightest fluence limit for a setting's wavelength, pulse duration and spot on this skin.
///
/// # Errors
/// A [`SettingProblem`] when the protocol holds no ceiling for it or the device has no such line or spot: a missing
/// limit refuses.
pub fn fluence_limit(
    setting: &Setting,
    skin: FitzpatrickType,
    device: &DeviceProfile,
    protocol: &Protocol,
) -> Result<Limit, SettingProblem> {
    let class = PulseClass::of(setting.pulse_duration);
    let mut limit = Limit {
        fluence_j_cm2: HARD_FLUENCE_MAX_J_CM2,
        reason: "the program's own limit for short-pulse removal".to_owned(),
    };
    let mut found = false;
    for c in &protocol.ceilings {
        let meant = (c.wavelength.nm() - setting.wavelength.nm()).abs() <= 0.5
            && c.pulse_class == class
            && c.skin.contains(&skin)
            && c.spot_from.is_none_or(|s| setting.spot.mm() + 1e-6 >= s.mm());
        if meant {
            found = true;
            limit.tighten(c.fluence_max.j_cm2(), || {
                format!("the protocol's ceiling for {}, {class}, skin type {skin}", c.wavelength)
            });
        }
    }
    if !found {
        return Err(SettingProblem {
            id: "ceiling.missing",
            field: "fluence",
            message: format!(
                "the protocol has no ceiling for {} {class} on skin type {skin}, so nothing may be set; add one",
                setting.wavelength
            ),
        });
    }
    let Some(line) = device.line(setting.wavelength) else {
        return Err(no_line(setting, device));
    };
    let Some(ladder) = line.ladder(setting.spot) else {
        return Err(no_spot(setting, device));
    };
    limit.tighten(ladder.max.j_cm2(), || format!("the device's highest fluence at {}", setting.spot));
    limit.tighten(line.energy_max.joules() / setting.spot.area_cm2(), || {
        format!("the device's energy limit of {} over {}", line.energy_max, setting.spot)
    });
    Ok(limit)
}

fn no_line(setting: &Setting, device: &DeviceProfile) -> SettingProblem {
    SettingProblem {
        id: "wavelength.not-on-device",
        field: "wavelength",
        message: format!(
            "the device has no {} line; it has {}",
            setting.wavelength,
            device.lines.iter().map(|l| l.wavelength.to_string()).collect::<Vec<_>>().join(", ")
        ),
    }
}

fn no_spot(setting: &Setting, device: &DeviceProfile) -> SettingProblem {
    let spots = device.line(setting.wavelength).map(|l| l.spots.as_slice()).unwrap_or_default();
    SettingProblem {
        id: "spot.not-on-device",
        field: "spot",
        message: format!(
            "the device has no {} spot at {}; it has {}",
            setting.spot,
            setting.wavelength,
            spots.iter().map(|s| s.spot.to_string()).collect::<Vec<_>>().join(", ")
        ),
    }
}

/// Everything that is wrong with a setting on this skin, device and protocol; empty when it may be set.
#[must_use]
pub fn setting_problems(
    setting: &Setting,
    skin: FitzpatrickType,
    device: &DeviceProfile,
    protocol: &Protocol,
) -> Vec<SettingProblem> {
    let mut problems = Vec::new();
    let Some(line) = device.line(setting.wavelength) else {
        return vec![no_line(setting, device)];
    };
    let same_duration = |a: f64, b: f64| (a - b).abs() <= 0.01 * b;
    if !line.pulse_durations.iter().any(|p| same_duration(setting.pulse_duration.seconds(), p.seconds())) {
        problems.push(SettingProblem {
            id: "pulse-duration.not-on-device",
            field: "pulse_duration",
            message: format!(
                "the device has no pulse duration of {} at {}; it has {}",
                setting.pulse_duration,
                setting.wavelength,
                line.pulse_durations.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")
            ),
        });
    }
    if !line.rates.iter().any(|r| (r.hz() - setting.rate.hz()).abs() < 1e-6) {
        problems.push(SettingProblem {
            id: "rate.not-on-device",
            field: "rate",
            message: format!(
                "the device has no rate of {} at {}; it has {}",
                setting.rate,
                setting.wavelength,
                line.rates.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")
            ),
        });
    }
    match fluence_limit(setting, skin, device, protocol) {
        Err(problem) => problems.push(problem),
        Ok(limit) => {
            if setting.fluence.j_cm2() > limit.fluence_j_cm2 * (1.0 + 1e-9) {
                problems.push(SettingProblem {
                    id: "fluence.above-ceiling",
                    field: "fluence",
                    message: format!(
                        "{} is above {} J/cm2, {}",
                        setting.fluence,
                        trimmed(limit.fluence_j_cm2, 3),
                        limit.reason
                    ),
                });
            }
        }
    }
    if let Some(ladder) = line.ladder(setting.spot)
        && !ladder.holds(setting.fluence)
        && setting.fluence <= ladder.max
    {
        let near = [ladder.floor(setting.fluence.j_cm2()), ladder.above(setting.fluence)];
        problems.push(SettingProblem {
            id: "fluence.off-ladder",
            field: "fluence",
            message: format!(
                "the device cannot be set to {} at {}; nearest: {}",
                setting.fluence,
                setting.spot,
                near.iter().flatten().map(ToString::to_string).collect::<Vec<_>>().join(" or ")
            ),
        });
    }
    problems
}
