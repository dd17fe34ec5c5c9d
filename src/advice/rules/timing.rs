//! Waiting times.

use super::super::{Context, Family, Finding, Rule};
use crate::plan::PassSpacing;
use crate::session::{AdviceEntry, Level, Scope, ZoneState};

pub(super) static PASS_TOO_SOON: Rule = Rule {
    id: "pass-too-soon",
    family: Family::Timing,
    level: Level::Wait,
    source: "Kossida T et al., J Am Acad Dermatol 2012;66:271-277 (20 min); Reddy KK et al., Lasers Surg Med 2013 (bubbles gone at about 20 min)",
    raise,
    cleared,
};

/// Milliseconds of the spacing that are still to wait after a pass that ended at `ended_ms`.
fn still_to_wait(spacing: &PassSpacing, ended_ms: u64, ms: u64) -> u64 {
    match spacing {
        PassSpacing::UntilFaded => 0,
        PassSpacing::Wait { wait } => ((wait.seconds() * 1000.0) as u64).saturating_sub(ms.saturating_sub(ended_ms)),
    }
}

/// Session time at which the pass before the running one ended.
fn before_ended_ms(zone: &ZoneState) -> Option<u64> {
    let n = zone.passes.len();
    zone.passes.get(n.checked_sub(2)?)?.ended_ms
}

fn raise(c: &Context<'_>) -> Vec<Finding> {
    let Some((zone, plan, z, pass)) = c.running() else { return Vec::new() };
    let Some(ended_ms) = before_ended_ms(z) else { return Vec::new() };
    // Judged at the start of the pass, so that waiting in the middle of it raises nothing.
    let short_ms = still_to_wait(&plan.pass_spacing, ended_ms, pass.started_ms);
    let white = pass.began_white;
    if short_ms == 0 && !white {
        return Vec::new();
    }
    let seen = match (short_ms, white) {
        (0, _) => format!("Pass {} began before the whitening was marked as faded", pass.number),
        (ms, false) => format!("Pass {} began {} too soon", pass.number, minutes(ms)),
        (ms, true) => format!("Pass {} began {} too soon and before the whitening has faded", pass.number, minutes(ms)),
    };
    let action = match still_to_wait(&plan.pass_spacing, ended_ms, c.ms) {
        0 => "Wait until the whitening has faded, and mark it".to_owned(),
        ms => format!("Wait {} more and until the whitening has faded", minutes(ms)),
    };
    vec![Finding {
        evidence: format!("start of pass {} of {}", pass.number, plan.id),
        level: None,
        scope: Scope::Zone,
        zone,
        pass: Some(pass.number),
        seen,
        action,
        why: "Gas bubbles scatter the light: pulses on white skin heat the skin and miss the ink",
        to: None,
    }]
}

fn minutes(ms: u64) -> String {
    let s = ms.div_ceil(1000);
    if s >= 60 { format!("{} min {:02} s", s / 60, s % 60) } else { format!("{s} s") }
}

fn cleared(c: &Context<'_>, entry: &AdviceEntry) -> Option<String> {
    let index = entry.advice.zone.as_ref().and_then(|id| c.state.zone_index(id))?;
    let (plan, z) = c.state.zone(index)?;
    if c.state.active != Some(index) {
        return Some("the pass has ended".to_owned());
    }
    let waited = still_to_wait(&plan.pass_spacing, before_ended_ms(z)?, c.ms) == 0;
    // Whitening of this very pass is its effect, not what it should have waited for.
    let current = z.passes.last()?.number;
    let white = z.whitening.is_some_and(|w| w.faded_ms.is_none() && w.pass < current);
    (waited && !white).then(|| "the wait is over and the whitening has faded".to_owned())
}
