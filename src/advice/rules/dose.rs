//! Dose and overlap.

use super::super::propose::{Proposal, lower};
use super::super::{Context, Does, Family, Finding, Raise, Rule, Sight};
use super::{always, never, with_the_pass};
use crate::protocol::RuleName;
use crate::session::{Level, Response, Scope};
use crate::units::trimmed;

pub(super) static OVERLAP_BEYOND_PLAN: Rule = Rule {
    id: RuleName::OverlapBeyondPlan,
    family: Family::Dose,
    level: Level::Lower,
    why: "More light than planned falls on each place",
    source: "common practice: pulses side by side, one pulse a place and pass; geometry of the fitted lattice",
    raise: Raise::Found(beyond_plan),
    cleared: never,
};

fn beyond_plan(c: &Context<'_>) -> Vec<Finding> {
    let Some((zone, plan, z, pass)) = c.running() else { return Vec::new() };
    let tolerance = c.thresholds().overlap_tolerance_percent.value.percent();
    let planned = plan.overlap.percent();
    let Some(implied) = z.implied_overlap_percent(plan, pass) else { return Vec::new() };
    // One advice a pass, and another for each further tolerance: more of the same is new evidence.
    let steps = if tolerance > 0.0 { ((implied - planned) / tolerance - 1e-9).floor() } else { implied - planned };
    if implied <= planned + tolerance + 1e-9 || steps < 1.0 {
        return Vec::new();
    }
    let evidence = format!("pass {} of {} step {}", pass.number, plan.id, trimmed(steps, 0));
    if c.state.knows_evidence("overlap-beyond-plan", &evidence) {
        return Vec::new();
    }
    let Proposal { to, alternative, words } = lower(c, zone, c.thresholds().lower_step_percent.value);
    let seen = format!(
        "{} pulses, planned {}: overlap {} %, planned {} %",
        pass.counted,
        z.planned_per_pass(plan),
        trimmed(implied, 0),
        trimmed(planned, 0)
    );
    let action =
        format!("Move further between pulses and end the pass. If more pulses are needed: {}", uncapped(&words));
    let level = to.is_none().then_some(Level::Stop);
    vec![Finding { level, to, alternative, ..Finding::of_zone(zone, evidence, seen, action).in_pass(pass.number) }]
}

/// With a small first letter, to stand within a sentence.
fn uncapped(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}

pub(super) static PULSES_FAR_BEYOND_PLAN: Rule = Rule {
    id: RuleName::PulsesFarBeyondPlan,
    family: Family::Dose,
    level: Level::Wait,
    why: "An even pass has long covered the zone: every further pulse falls where one has fallen",
    source: "geometry of the fitted lattice; how far is too far is the protocol's",
    raise: Raise::Found(|c| {
        let Some((zone, plan, z, pass)) = c.running() else { return Vec::new() };
        let planned = z.planned_per_pass(plan);
        let fired = z.counted_as(plan, pass, z.target.spot);
        let most = planned as f64 * (1.0 + c.numbers().pulses_far_beyond_percent.value.value() / 100.0);
        if (fired as f64) < most {
            return Vec::new();
        }
        let seen = format!("{fired} pulses in a pass that is planned with {planned}");
        let action = "End the pass. If the count is wrong, correct it".to_owned();
        let evidence = format!("pass {} of {}", pass.number, plan.id);
        vec![Finding::of_zone(zone, evidence, seen, action).in_pass(pass.number)]
    }),
    cleared: |c, entry| {
        with_the_pass(c, entry).or_else(|| {
            let (_, plan, z) = c.zone_of(entry)?;
            let fired = z.counted_as(plan, z.passes.last()?, z.target.spot);
            (fired <= z.planned_per_pass(plan)).then(|| "the count was corrected".to_owned())
        })
    },
};

pub(super) static PULSES_ON_ONE_PLACE: Rule = Rule {
    id: RuleName::PulsesOnOnePlace,
    family: Family::Dose,
    level: Level::Wait,
    why: "Heat adds up while the bubbles of the first pulse keep the light from the ink",
    source: "J Biomed Opt 2012;17(4): a pulse on a place just hit gains nothing, heat and epidermal damage add",
    raise: Raise::Seen(Sight {
        kind: Response::Stacked,
        when: always,
        words: "Several pulses on one place",
        does: Does::Say(Scope::Zone),
        action: "Move on and leave that place until its whitening has faded; cool it and look for a wet surface",
    }),
    cleared: never,
};

pub(super) static COUNTERS_APART: Rule = Rule {
    id: RuleName::CountersApart,
    family: Family::Dose,
    level: Level::Check,
    why: "One of the two counts is wrong, and the dose is reckoned from them",
    source: "common practice; the tolerance is the protocol's",
    raise: Raise::Found(|c| {
        let Some((device, counted)) = c.state.counter.unsettled else { return Vec::new() };
        let Some((zone, _, _, pass)) = c.running() else { return Vec::new() };
        let tolerance = c.thresholds().counter_tolerance_percent.value.value() / 100.0;
        if device.abs_diff(counted) as f64 <= tolerance * device as f64 {
            return Vec::new();
        }
        let reading = c.state.counter.last.unwrap_or_default();
        let seen = format!("Device {device}, counted {counted} since the reading before");
        let action =
            "Find out which is right: take the device's figure, or keep the count and say why at the end".to_owned();
        let evidence = format!("reading {reading} at {}", c.state.counter.last_ms);
        vec![Finding::of_zone(zone, evidence, seen, action).in_pass(pass.number)]
    }),
    cleared: |c, entry| {
        with_the_pass(c, entry)
            .or_else(|| c.state.counter.unsettled.is_none().then(|| "the two counts were settled".to_owned()))
    },
};

pub(super) static PASS_BEYOND_PLAN: Rule = Rule {
    id: RuleName::PassBeyondPlan,
    family: Family::Dose,
    level: Level::Check,
    why: "Each further pass adds heat to the same skin; the plan was made without it",
    source: "Kossida T et al. 2012: four passes, more epidermal injury; the plan's own number is the measure",
    raise: Raise::Found(|c| {
        let Some((zone, plan, _, pass)) = c.running() else { return Vec::new() };
        if pass.number <= plan.passes {
            return Vec::new();
        }
        let seen = format!("Pass {} where {} are planned", pass.number, plan.passes);
        let action = "Say why in a note, or end the pass".to_owned();
        let evidence = format!("pass {} of {}", pass.number, plan.id);
        vec![Finding::of_zone(zone, evidence, seen, action).in_pass(pass.number)]
    }),
    cleared: with_the_pass,
};

pub(super) static PASS_SPARSE: Rule = Rule {
    id: RuleName::PassSparse,
    family: Family::Dose,
    level: Level::Note,
    why: "Part of the zone had no pulse in this pass",
    source: "geometry of the fitted lattice; the share is the protocol's",
    raise: Raise::Found(|c| {
        let ended = |(zone, plan, z): (usize, &crate::plan::Zone, &crate::session::ZoneState)| {
            let pass = z.passes.last().filter(|p| p.ended_ms.is_some() && p.counted > 0)?;
            let spot = pass.settings.last().map_or(z.target.spot, |(s, _)| s.spot);
            let (fired, planned) = (z.counted_as(plan, pass, spot), z.pattern_of(plan, spot).pulses());
            let least = c.numbers().pass_sparse_percent.value.value() / 100.0;
            if fired as f64 >= least * planned as f64 {
                return None;
            }
            let seen = format!("Pass {} ended after {fired} of {planned} planned pulses", pass.number);
            let evidence = format!("pass {} of {}", pass.number, plan.id);
            let action = "Nothing to do: for the record and the next session".to_owned();
            Some(Finding::of_zone(zone, evidence, seen, action).in_pass(pass.number))
        };
        c.zones().filter_map(ended).collect()
    }),
    cleared: never,
};
