//! A whole plan against the device and the protocol.

use super::setting_problems;
use crate::coverage::planned_pulses;
use crate::device::DeviceProfile;
use crate::plan::{Plan, zone_field};
use crate::protocol::Protocol;

/// How bad a plan problem is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Severity {
    /// The plan cannot be treated as it stands.
    Error,
    /// It can, but someone should look.
    Warning,
}

/// Something in a plan that the device or the protocol does not allow.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanProblem {
    /// How bad it is.
    pub severity: Severity,
    /// Path of the field, such as `zone[1].setting.fluence`.
    pub field: String,
    /// What is wrong and what is allowed.
    pub message: String,
}

/// More pulses than this in one pass point to a slipped decimal.
const PULSES_ABSURD: u64 = 100_000;

/// Everything the device or the protocol does not allow in a plan.
#[must_use]
pub fn plan_problems(plan: &Plan, device: &DeviceProfile, protocol: &Protocol) -> Vec<PlanProblem> {
    let mut out = Vec::new();
    for (i, zone) in plan.zones.iter().enumerate() {
        for p in setting_problems(&zone.setting, plan.client.skin, device, protocol) {
            out.push(PlanProblem {
                severity: Severity::Error,
                field: zone_field(i, &format!("setting.{}", p.field)),
                message: p.message,
            });
        }
        let pulses = planned_pulses(zone.shape.area_mm2(), zone.setting.spot, zone.overlap);
        if pulses > PULSES_ABSURD {
            out.push(PlanProblem {
                severity: Severity::Error,
                field: zone_field(i, "shape"),
                message: format!(
                    "{} would take {pulses} pulses of {} a pass; check the figures",
                    zone.shape, zone.setting.spot
                ),
            });
        } else if zone.shape.area_mm2() < zone.setting.spot.area_mm2() {
            out.push(PlanProblem {
                severity: Severity::Warning,
                field: zone_field(i, "setting.spot"),
                message: format!("the zone is smaller than one {} spot", zone.setting.spot),
            });
        }
    }
    out
}
