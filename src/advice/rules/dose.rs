//! Dose and overlap.

use super::super::{Context, Family, Finding, Rule};
use super::{lower_proposal, never};
use crate::session::{Level, Scope};
use crate::units::trimmed;

pub(super) static OVERLAP_BEYOND_PLAN: Rule = Rule {
    id: "overlap-beyond-plan",
    family: Family::Dose,
    level: Level::Lower,
    source: "common practice: pulses side by side, one pulse a place and pass; geometry of the hexagonal lattice",
    raise: beyond_plan,
    cleared: never,
};

fn beyond_plan(c: &Context<'_>) -> Vec<Finding> {
    let Some((zone, plan, z, pass)) = c.running() else { return Vec::new() };
    let tolerance = c.state.opened.protocol.thresholds.overlap_tolerance_percent.value.percent();
    let planned = plan.overlap.percent();
    let Some(implied) = z.implied_overlap_percent(plan, pass) else { return Vec::new() };
    // One advice a pass, and another for each further tolerance: more of the same is new evidence.
    let steps = if tolerance > 0.0 { ((implied - planned) / tolerance - 1e-9).floor() } else { implied - planned };
    if implied <= planned + tolerance + 1e-9 || steps < 1.0 {
        return Vec::new();
    }
    let (to, words) = lower_proposal(c, zone);
    vec![Finding {
        evidence: format!("pass {} of {} step {}", pass.number, plan.id, trimmed(steps, 0)),
        level: to.is_none().then_some(Level::Stop),
        scope: Scope::Zone,
        zone,
        pass: Some(pass.number),
        seen: format!(
            "{} pulses, planned {}: overlap {} %, planned {} %",
            pass.counted,
            z.planned_per_pass(plan),
            trimmed(implied, 0),
            trimmed(planned, 0)
        ),
        action: format!("Move further between pulses and end the pass. {words} if more pulses are needed"),
        why: "More light than planned falls on each place",
        to,
    }]
}
