//! The score, and what to try next.
//!
//! The rubric (invented for practice), out of 100: safety 40, less one for each point of harm; advice 25, the share of
//! CHECK, WAIT, LOWER and STOP that was followed at once (LOWER and STOP within 30 s, and before as many pulses as make
//! the protocol's advice more urgent); watching 20, the share of signs noted within 30 s, and of answers that were heard;
//! coverage 15, less one for each per cent of the zone that is bare beyond the even pass or was hit three times or more
//! in one pass. A part in which there was nothing to judge is left out, and the others are stretched to 100.

use super::decisions::{Decision, DecisionKind};
use super::{ZoneResult, scenario_after};
use crate::scenario::PracticeRun;
use crate::session::State;
use crate::units::trimmed;
use serde::Serialize;

/// A part of the score.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Part {
    /// Which.
    pub name: &'static str,
    /// Points.
    pub points: f64,
    /// Of so many.
    pub of: f64,
    /// Why.
    pub why: String,
}

/// The score.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Score {
    /// 0 to 100.
    pub total: u32,
    /// Its parts.
    pub parts: Vec<Part>,
}

const SAFETY: f64 = 40.0;
const ADVICE: f64 = 25.0;
const WATCHING: f64 = 20.0;
const COVERAGE: f64 = 15.0;

fn share(name: &'static str, of: f64, what: &str, judged: &[&Decision]) -> Option<Part> {
    let sound = judged.iter().filter(|d| d.sound).count();
    (!judged.is_empty()).then(|| Part {
        name,
        points: of * sound as f64 / judged.len() as f64,
        of,
        why: format!("{sound} of {} {what}", judged.len()),
    })
}

pub(super) fn of(state: &State, decisions: &[Decision], zones: &[ZoneResult], harm: f64) -> Score {
    let mut parts = vec![Part {
        name: "safety",
        points: (SAFETY - harm).max(0.0),
        of: SAFETY,
        why: format!("{} points of harm", trimmed(harm, 1)),
    }];
    let kind =
        |kinds: &[DecisionKind]| -> Vec<&Decision> { decisions.iter().filter(|d| kinds.contains(&d.kind)).collect() };
    let advice = kind(&[DecisionKind::Advice, DecisionKind::Pass]);
    parts.extend(share("advice", ADVICE, "followed at once", &advice));
    let watched = kind(&[DecisionKind::Sign, DecisionKind::Check]);
    parts.extend(share("watching", WATCHING, "signs and answers taken up in time", &watched));
    // Only passes that were fired to their end can be held against an even one.
    let whole = |z: &ZoneResult| {
        let planned = z
            .zone
            .parse()
            .ok()
            .and_then(|id| state.zone_index(&id))
            .and_then(|i| state.zone(i))
            .map_or(1, |(p, s)| s.planned_per_pass(p));
        z.passes.iter().filter(move |p| p.pulses as f64 >= 0.9 * planned as f64).cloned().collect::<Vec<_>>()
    };
    let passes: Vec<_> = zones.iter().flat_map(whole).collect();
    if !passes.is_empty() {
        let n = passes.len() as f64;
        let bare = passes.iter().map(|p| (p.bare_percent - p.planned_bare_percent).max(0.0)).sum::<f64>() / n;
        let thrice = passes.iter().map(|p| p.thrice_or_more_percent).sum::<f64>() / n;
        parts.push(Part {
            name: "coverage",
            points: (COVERAGE - bare - thrice).max(0.0),
            of: COVERAGE,
            why: format!(
                "{} % bare beyond an even pass, {} % hit three times or more",
                trimmed(bare, 1),
                trimmed(thrice, 1)
            ),
        });
    }
    let (points, of) = parts.iter().fold((0.0, 0.0), |(p, o), part| (p + part.points, o + part.of));
    Score { total: (100.0 * points / of).round() as u32, parts }
}

/// Three things to try next, the weakest part first.
pub(super) fn next(run: &PracticeRun, score: &Score, decisions: &[Decision]) -> Vec<String> {
    let mut tips: Vec<(f64, String)> = Vec::new();
    for part in score.parts.iter().filter(|p| p.points < 0.95 * p.of) {
        let tip = match part.name {
            "safety" => {
                "lower at the first sign that the skin gives, and stop where it separates, darkens or bleeds on"
            }
            "advice" => "answer each advice before the next pulses: a LOWER that waits ten pulses becomes a STOP",
            "watching" => {
                "look up after every row and note what shows in one key; whitening counts as well as bleeding"
            }
            _ => "follow the rows on the map, one pulse a place, without going back over a row",
        };
        tips.push((part.points / part.of, tip.to_owned()));
    }
    tips.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut next: Vec<String> = tips.into_iter().map(|(_, tip)| tip).collect();
    if decisions.iter().any(|d| d.kind == DecisionKind::Pass) {
        next.insert(
            0,
            "wait until the whitening has faded before another pass: time can be let pass in practice".to_owned(),
        );
    }
    next.push(format!(
        "play {} once more with another seed: fadewright practise {} --seed {}",
        run.scenario,
        run.scenario,
        run.seed.wrapping_add(1)
    ));
    next.push(format!("then try: fadewright practise {}", scenario_after(&run.scenario)));
    next.push(format!("watch the model operator: fadewright practise {} --demonstrate", run.scenario));
    next.truncate(3);
    next
}
