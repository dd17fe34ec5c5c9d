//! The rule table.

mod client;
mod dose;
mod response;
mod room;
mod settings;
mod timing;

use super::propose::{Proposal, lower};
use super::{Context, Does, ENTRY, Finding, Raise, Rule, Seen, Sight};
use crate::session::{AdviceEntry, Level, Scope};
use crate::words::Word;

/// Every rule, in the order they are looked at: of the rules for one response the first that fits speaks.
pub static RULES: &[&Rule] = &[
    &response::SYSTEMIC_SIGNS,
    &response::WHEALS,
    &response::EPIDERMAL_SEPARATION,
    &response::BLISTER,
    &response::DARKENING,
    &response::SPARKS_OR_PITS,
    &response::BLUE_GREY,
    &response::BLEEDING_PERSISTS,
    &response::BLEEDING_AFTER_LOWERING,
    &response::BLEEDING_OFF_SPACER,
    &response::PINPOINT_BLEEDING,
    &response::TISSUE_SPLATTER,
    &response::WET_SURFACE,
    &response::WIDE_PURPURA_532,
    &response::WIDE_PURPURA,
    &response::WHITENING_FIERCE,
    &response::MARKED_SWELLING,
    &response::PAIN_SEVERE,
    &response::PAIN_RISING,
    &response::NO_WHITENING,
    &response::NO_WHITENING_AFTER_WAIT,
    &response::NO_RESPONSE_LATER_PASS,
    &dose::OVERLAP_BEYOND_PLAN,
    &dose::PULSES_FAR_BEYOND_PLAN,
    &dose::PULSES_ON_ONE_PLACE,
    &dose::COUNTERS_APART,
    &dose::PASS_BEYOND_PLAN,
    &dose::PASS_SPARSE,
    &timing::PASS_TOO_SOON,
    &timing::WHITENING_MASKS_TARGET,
    &timing::INTERVAL_SHORT,
    &timing::SESSION_LONG,
    &timing::RESUMED_AFTER_BREAK,
    &timing::ANAESTHETIC_NOT_WORKING,
    &timing::ANAESTHETIC_TOO_LONG,
    &settings::SETTING_NOT_READ_BACK,
    &settings::READ_BACK_FAILING,
    &settings::NOT_COMPARABLE,
    &settings::RAISED_AFTER_LOWERING,
    &settings::NEAR_CEILING,
    &settings::WAVELENGTH_POOR,
    &settings::DARK_SKIN_WAVELENGTH,
    &client::ABOVE_LAST_SESSION,
    &client::MAY_DARKEN,
    &client::KELOID_WITHOUT_TEST,
    &client::ANTICOAGULANT_BLEEDING,
    &client::LIGHT_SENSITIVE_EPILEPSY,
    &room::CONDITION_WITHDRAWN,
    &client::ANAESTHETIC_LIMIT,
    &room::OFF_SPACER,
    &room::COUNTER_RESTARTED,
    &room::TRAIN_CUT,
];

/// Stays until it is answered.
fn never(_: &Context<'_>, _: &AdviceEntry) -> Option<String> {
    None
}

/// Clears when its pass is over.
fn with_the_pass(c: &Context<'_>, entry: &AdviceEntry) -> Option<String> {
    let (index, _, z) = c.zone_of(entry)?;
    let running = c.state.active == Some(index) && z.passes.last().map(|p| p.number) == entry.advice.pass;
    (!running).then(|| "the pass has ended".to_owned())
}

fn always(_: &Context<'_>, _: &Seen<'_>) -> bool {
    true
}

/// What the responses call for: for each that no rule was raised for, the first rule that fits.
pub(super) fn on_sight(c: &Context<'_>, found: &mut Vec<(&'static Rule, Finding)>) {
    for (index, plan, zone) in c.zones().filter(|(_, _, z)| z.outcome.is_none()) {
        let mut spoken = Vec::new();
        for rule in RULES {
            let Raise::Seen(sight) = &rule.raise else { continue };
            let Some(mark) = zone.marks.latest(sight.kind).copied() else { continue };
            if spoken.contains(&sight.kind) || is_stale(c, sight, index, mark.seq, rule.level) {
                continue;
            }
            let seen = Seen { index, plan, zone, mark };
            if (sight.when)(c, &seen) {
                spoken.push(sight.kind);
                found.push((rule, finding(c, sight, &seen)));
            }
        }
    }
}

/// True when a rule for the same response has spoken about this entry, has an open advice that says at least as much, or
/// was answered after it.
fn is_stale(c: &Context<'_>, sight: &Sight, zone: usize, seq: u64, level: Level) -> bool {
    let same = RULES.iter().filter(|r| matches!(&r.raise, Raise::Seen(s) if s.kind == sight.kind));
    for rule in same {
        let trace = c.state.advice_trace(rule.id.word(), zone);
        if seq <= trace.since || trace.open > 0 && rule.level >= level {
            return true;
        }
    }
    false
}

fn finding(c: &Context<'_>, sight: &Sight, seen: &Seen<'_>) -> Finding {
    let (mark, t) = (seen.mark, c.thresholds());
    let (scope, proposal) = match sight.does {
        Does::Say(scope) => (scope, None),
        Does::Lower => (Scope::Zone, Some(lower(c, seen.index, t.lower_step_percent.value))),
        Does::LowerAgain => (Scope::Zone, Some(lower(c, seen.index, c.numbers().lower_step_again_percent.value))),
    };
    let grade = mark.grade.map(|g| format!(" {g}")).unwrap_or_default();
    // Where nothing lower exists a LOWER is a STOP.
    let level = proposal.as_ref().filter(|p| p.to.is_none()).map(|_| Level::Stop);
    let Proposal { to, alternative, words } = proposal.unwrap_or_default();
    let action = if words.is_empty() { sight.action.to_owned() } else { format!("{words}. {}", sight.action) };
    Finding {
        evidence: format!("{ENTRY}{}", mark.seq),
        level,
        scope,
        zone: Some(seen.index),
        pass: Some(mark.pass),
        seen: format!("{}{grade} at pulse {} of pass {}", sight.words, mark.pulses, mark.pass),
        action,
        to,
        alternative,
    }
}
