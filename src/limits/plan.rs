//! A whole plan against the device and the protocol.

use super::setting_problems;
use crate::coverage::{LatticeKind, Pattern, even_pulses, lattice::gapless_overlap_percent};
use crate::device::DeviceProfile;
use crate::plan::{Plan, Zone, zone_field};
use crate::protocol::Protocol;
use crate::units::trimmed;

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
const PULSES_ABSURD: f64 = 100_000.0;

/// Share of the pulses with their middle outside the zone from which a warning is given.
const OUTSIDE_TOO_MANY: f64 = 0.1;

/// Share of the zone that an even pass leaves bare above which a warning is given.
const BARE_TOO_MUCH: f64 = 0.02;

/// Where an even pass would miss the zone or fall outside it: the field under the zone, and why.
fn coverage_warnings(zone: &Zone) -> Vec<(&'static str, String)> {
    let spot = zone.setting.spot;
    let pattern = Pattern::of(zone.shape.outline(), spot, zone.overlap);
    let mut out = Vec::new();
    let narrow_mm = pattern.outline().narrow_side_mm();
    if zone.shape.area_mm2() < spot.area_mm2() {
        out.push(("setting.spot", format!("the zone is smaller than one {spot} spot")));
    } else if narrow_mm < spot.mm() {
        let spilt = trimmed(100.0 * (1.0 - pattern.share_in_zone()), 0);
        out.push((
            "setting.spot",
            format!(
                "the zone is {} mm wide, less than the {spot} spot: {spilt} % of the light would fall beside it",
                trimmed(narrow_mm, 1)
            ),
        ));
    }
    let outside = pattern.outside() as f64 / pattern.pulses() as f64;
    if outside >= OUTSIDE_TOO_MANY {
        out.push((
            "setting.spot",
            format!(
                "{} of {} pulses of an even pass would have their middle outside the zone; a smaller spot follows its \
                 edge better",
                pattern.outside(),
                pattern.pulses()
            ),
        ));
    }
    let bare = pattern.areas().bare_mm2 / pattern.areas().area_mm2;
    if pattern.lattice().is_some() && bare > BARE_TOO_MUCH {
        out.push((
            "setting.overlap",
            format!(
                "an even pass with {} overlap would leave {} % of the zone bare; from {} % overlap on it leaves none",
                zone.overlap,
                trimmed(100.0 * bare, 1),
                trimmed(gapless_overlap_percent(LatticeKind::Hexagonal), 1)
            ),
        ));
    }
    out
}

/// What forbids a plan: settings outside the device or the limits, zones that no hand could treat. Cheap enough for a
/// program that is being started.
#[must_use]
pub fn plan_errors(plan: &Plan, device: &DeviceProfile, protocol: &Protocol) -> Vec<PlanProblem> {
    let mut out = Vec::new();
    for (i, zone) in plan.zones.iter().enumerate() {
        let error =
            |field: &str, message| PlanProblem { severity: Severity::Error, field: zone_field(i, field), message };
        for p in setting_problems(&zone.setting, plan.client.skin, device, protocol) {
            out.push(error(&format!("setting.{}", p.field), p.message));
        }
        if let Some(pulses) = too_many_pulses(zone) {
            let message = format!(
                "{} would take {pulses:.0} pulses of {} a pass; check the figures",
                zone.shape, zone.setting.spot
            );
            out.push(error("shape", message));
        }
    }
    out
}

fn too_many_pulses(zone: &Zone) -> Option<f64> {
    let pulses = even_pulses(zone.shape.area_mm2(), zone.setting.spot, zone.overlap);
    (pulses > PULSES_ABSURD).then_some(pulses)
}

/// Everything the device or the protocol does not allow in a plan, and what someone should look at. It lays the even pass
/// of every zone, which takes milliseconds each.
#[must_use]
pub fn plan_problems(plan: &Plan, device: &DeviceProfile, protocol: &Protocol) -> Vec<PlanProblem> {
    let mut out = plan_errors(plan, device, protocol);
    for (i, zone) in plan.zones.iter().enumerate().filter(|(_, z)| too_many_pulses(z).is_none()) {
        let warn = |(field, message)| PlanProblem { severity: Severity::Warning, field: zone_field(i, field), message };
        out.extend(coverage_warnings(zone).into_iter().map(warn));
    }
    out
}
