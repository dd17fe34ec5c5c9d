//! Waiting times.

use super::super::{Context, ENTRY, Family, Finding, Raise, Rule};
use super::{never, with_the_pass};
use crate::anaesthetic::CreamStage;
use crate::plan::PassSpacing;
use crate::protocol::RuleName;
use crate::session::{AdviceEntry, Level, ZoneState};
use crate::units::trimmed;

pub(super) static PASS_TOO_SOON: Rule = Rule {
    id: RuleName::PassTooSoon,
    family: Family::Timing,
    level: Level::Wait,
    why: "Gas bubbles scatter the light: pulses on white skin heat the skin and miss the ink",
    source: "Kossida T et al., J Am Acad Dermatol 2012;66:271-277 (20 min); Reddy KK et al., Lasers Surg Med 2013 (bubbles gone at about 20 min)",
    raise: Raise::Found(raise),
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
    let evidence = format!("start of pass {} of {}", pass.number, plan.id);
    vec![Finding::of_zone(zone, evidence, seen, action).in_pass(pass.number)]
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

pub(super) static WHITENING_MASKS_TARGET: Rule = Rule {
    id: RuleName::WhiteningMasksTarget,
    family: Family::Timing,
    level: Level::Wait,
    why: "Gas bubbles scatter the light: pulses on white skin heat the skin and miss the ink",
    source: "Reddy KK et al., Lasers Surg Med 2013 (bubbles gone at about 20 min, 9 to 10 min under perfluorodecalin)",
    raise: Raise::Found(|c| {
        let Some((zone, plan, z, pass)) = c.running() else { return Vec::new() };
        let planned = z.planned_per_pass(plan);
        let fired = z.counted_as(plan, pass, z.target.spot);
        let beyond = fired.saturating_sub(planned);
        if !z.is_white() || beyond < u64::from(c.numbers().white_pulses.value) {
            return Vec::new();
        }
        let seen = format!("{beyond} pulses beyond a whole pass while the skin is white");
        let action = "End the pass and wait until the whitening has faded; mark it".to_owned();
        let evidence = format!("white pass {} of {}", pass.number, plan.id);
        vec![Finding::of_zone(zone, evidence, seen, action).in_pass(pass.number)]
    }),
    cleared: |c, entry| {
        let faded = || c.zone_of(entry).filter(|(_, _, z)| !z.is_white()).map(|_| "the whitening has faded".to_owned());
        with_the_pass(c, entry).or_else(faded)
    },
};

pub(super) static INTERVAL_SHORT: Rule = Rule {
    id: RuleName::IntervalShort,
    family: Family::Timing,
    level: Level::Check,
    why: "Skin that has not settled scars more, and short intervals clear less",
    source: "Bencini PL et al., Arch Dermatol 2012;148:1364-1369: at least 6 weeks; 8 or fewer went with lower success",
    raise: Raise::Found(|c| {
        let o = &c.state.opened;
        let (Some(last), Some(_)) = (o.plan.history.last_session, c.running()) else { return Vec::new() };
        let days = (o.date - last).num_days();
        let least_days = c.thresholds().interval_light_s.value.seconds() / 86_400.0;
        if days as f64 >= least_days {
            return Vec::new();
        }
        let weeks = |days: f64| trimmed(days / 7.0, 1);
        let seen = format!("{} weeks since the last session, {} are advised", weeks(days as f64), weeks(least_days));
        let action = "Look for swelling, crusts and colour that have not settled; where there are, postpone".to_owned();
        vec![Finding::of_session(format!("interval since {last}"), seen, action)]
    }),
    cleared: never,
};

pub(super) static SESSION_LONG: Rule = Rule {
    id: RuleName::SessionLong,
    family: Family::Timing,
    level: Level::Check,
    why: "Hands and attention tire, anaesthetics wear off, and heat adds up",
    source: "common practice; the length is the protocol's",
    raise: Raise::Found(|c| {
        let Some(first_ms) = c.state.happenings.first_pulse_ms.filter(|_| c.running().is_some()) else {
            return Vec::new();
        };
        let most = c.numbers().session_max_s.value;
        // Each further length is new evidence.
        let lengths = (c.ms.saturating_sub(first_ms) as f64 / 1000.0 / most.seconds()).floor();
        if lengths < 1.0 {
            return Vec::new();
        }
        let seen = format!("{} since the first pulse", minutes(c.ms.saturating_sub(first_ms)));
        let action =
            "Ask client and operator how they are; end here and treat the rest another day if in doubt".to_owned();
        vec![Finding::of_session(format!("length {}", trimmed(lengths, 0)), seen, action)]
    }),
    cleared: never,
};

pub(super) static RESUMED_AFTER_BREAK: Rule = Rule {
    id: RuleName::ResumedAfterBreak,
    family: Family::Timing,
    level: Level::Check,
    why: "Nobody knows what changed meanwhile: door, eyewear, settings, the client",
    source: "WHO/IER/PSP/2008.05 (time out before the first incision), adapted from common practice",
    raise: Raise::Found(|c| {
        let Some((seq, gap_ms)) = c.state.happenings.resumed else { return Vec::new() };
        let long = gap_ms as f64 / 1000.0 >= c.numbers().break_max_s.value.seconds();
        if !long || c.state.happenings.first_pulse_ms.is_none() {
            return Vec::new();
        }
        let seen = format!("Recording went on after {}", minutes(gap_ms));
        let action = "Look at eyewear, door and plume extraction again, and read the settings back".to_owned();
        vec![Finding::of_session(format!("{ENTRY}{seq}"), seen, action)]
    }),
    cleared: never,
};

pub(super) static ANAESTHETIC_NOT_WORKING: Rule = Rule {
    id: RuleName::AnaestheticNotWorking,
    family: Family::Timing,
    level: Level::Check,
    why: "Pain that could have been spared makes people move",
    source: "US label of lidocaine 2.5 % and prilocaine 2.5 % cream: at least 1 h, 2 h for painful work (as quoted)",
    raise: Raise::Found(|c| {
        let Some((zone, plan, _, pass)) = c.running() else { return Vec::new() };
        let Some((CreamStage::NotYet, minutes)) = c.state.anaesthesia(c.ms).and_then(|a| a.cream) else {
            return Vec::new();
        };
        let seen = format!("Cream was on for {} min only", trimmed(minutes.floor(), 0));
        let action =
            "Ask whether to wait; it needs at least an hour. Add no dose that was not reckoned with".to_owned();
        vec![Finding::of_zone(zone, format!("cream in {}", plan.id), seen, action).in_pass(pass.number)]
    }),
    cleared: with_the_pass,
};

pub(super) static ANAESTHETIC_TOO_LONG: Rule = Rule {
    id: RuleName::AnaestheticTooLong,
    family: Family::Timing,
    level: Level::Wait,
    why: "Past its longest time more of the drug reaches the blood",
    source: "US label of lidocaine 2.5 % and prilocaine 2.5 % cream: longest times by age and weight (as quoted)",
    raise: Raise::Found(|c| {
        let before = c.state.happenings.first_pulse_ms.is_none();
        let Some(a) = c.state.anaesthesia(c.ms).filter(|_| before) else { return Vec::new() };
        let Some((CreamStage::RemoveNow, minutes)) = a.cream else { return Vec::new() };
        let most = trimmed(a.limits.cream.max_minutes(), 0);
        let seen = format!("Cream has been on for {} min, at most {most}", trimmed(minutes.floor(), 0));
        let action = "Remove it now, watch the client, and confirm with the prescriber and the label".to_owned();
        vec![Finding::of_session(format!("cream {}", c.state.anaesthetics.len()), seen, action)]
    }),
    cleared: never,
};
