//! The points at which something had to be decided.

use super::super::model::{BLEEDS_AT, LIGHT_THROUGH_BUBBLES};
use super::super::skin::Fallen;
use crate::scenario::PracticeRun;
use crate::session::{AdviceAnswer, AdviceEntry, AdviceStatus, Answer, Event, Level, Response, Shown, Stamp, State};
use crate::text::shown as clean;
use crate::units::trimmed;
use crate::words::Word;
use serde::Serialize;

/// What kind of point it was.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum DecisionKind {
    /// An advice was raised.
    Advice,
    /// The skin showed something.
    Sign,
    /// An item of the checklist was answered.
    Check,
    /// A pass was begun on white skin.
    Pass,
}

/// A point at which something had to be decided.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Decision {
    /// What kind.
    pub kind: DecisionKind,
    /// Session time, s.
    pub at_s: f64,
    /// Pulses of the session that had been fired.
    pub pulses: u64,
    /// Zone.
    pub zone: Option<String>,
    /// The rule, the sign or the item.
    pub what: String,
    /// Level of an advice.
    pub level: Option<String>,
    /// What was seen.
    pub seen: String,
    /// What was advised.
    pub advised: String,
    /// What was done.
    pub did: String,
    /// Time until it was done, s; none when it never was.
    pub answered_after_s: Option<f64>,
    /// Pulses fired until then.
    pub pulses_after: u64,
    /// What the physics says.
    pub physics: String,
    /// True when it was sound.
    pub sound: bool,
}

/// A sign that is noted within this time was watched for, s (invented for practice).
const WATCHED_S: f64 = 30.0;
/// An advice that is answered within this time was answered at once, s (invented for practice).
const AT_ONCE_S: f64 = 30.0;

/// Session time and pulses fired at each event.
struct Track(Vec<(u64, u64, u64)>);

impl Track {
    fn of(events: &[(Stamp, Event)]) -> Self {
        let first = events.first().map(|(s, _)| s.at);
        let mut fired = 0;
        let each = events.iter().map(|(stamp, event)| {
            if let Event::PulsesFired { n, .. } = event {
                fired += n;
            }
            let ms = first.map_or(0, |f| u64::try_from((stamp.at - f).num_milliseconds()).unwrap_or(0));
            (stamp.seq, ms, fired)
        });
        Self(each.collect())
    }
    fn at(&self, seq: u64) -> (u64, u64) {
        let found = self.0.binary_search_by_key(&seq, |(s, ..)| *s).ok().and_then(|i| self.0.get(i));
        found.map_or((0, 0), |(_, ms, fired)| (*ms, *fired))
    }
    fn last(&self) -> (u64, u64) {
        self.0.last().map_or((0, 0), |(_, ms, fired)| (*ms, *fired))
    }
}

pub(super) fn of(events: &[(Stamp, Event)], state: &State, fallen: &[Fallen], run: &PracticeRun) -> Vec<Decision> {
    let track = Track::of(events);
    let mut all: Vec<Decision> = state
        .advice
        .iter()
        .filter(|a| a.advice.level > Level::Note)
        .map(|a| advice(a, state, fallen, &track))
        .collect();
    all.extend(state.practice.shown.iter().filter(|s| judged(s)).map(|s| sign(s, events, state, fallen, &track)));
    all.extend(checks(events, run, &track));
    all.extend(white_passes(state));
    all.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
    all
}

/// Pain and what needs no eye are not judged as watching; nor is whitening that fades.
fn judged(s: &Shown) -> bool {
    s.sign.grade > 0 && s.sign.kind != Response::Pain
}

fn seconds(from_ms: u64, to_ms: u64) -> f64 {
    to_ms.saturating_sub(from_ms) as f64 / 1000.0
}

fn advice(a: &AdviceEntry, state: &State, fallen: &[Fallen], track: &Track) -> Decision {
    let (raised_ms, fired) = track.at(a.id);
    let settled = a.settled_seq.map(|seq| track.at(seq));
    let (did, followed) = match &a.status {
        AdviceStatus::Answered(AdviceAnswer::Accepted, _) => ("followed".to_owned(), true),
        AdviceStatus::Answered(AdviceAnswer::Alternative, _) => ("the larger spot was taken".to_owned(), true),
        AdviceStatus::Answered(AdviceAnswer::Stopped, _) => ("stopped".to_owned(), true),
        AdviceStatus::Answered(AdviceAnswer::Declined { reason }, _) => (format!("declined: {reason}"), false),
        AdviceStatus::Cleared(why) => (format!("no longer held: {}", clean(why)), true),
        AdviceStatus::Open => ("never answered".to_owned(), false),
        AdviceStatus::Recorded => ("noted".to_owned(), true),
    };
    let after_s = settled.map(|(ms, _)| seconds(raised_ms, ms));
    let pulses_after = settled.unwrap_or_else(|| track.last()).1.saturating_sub(fired);
    let at_once = after_s.is_some_and(|s| s <= AT_ONCE_S) || a.advice.level <= Level::Wait;
    let limit = u64::from(state.opened.protocol.thresholds.escalate_after_pulses.value);
    let zone = a.advice.zone.as_ref().and_then(|id| state.zone_index(id));
    Decision {
        kind: DecisionKind::Advice,
        at_s: raised_ms as f64 / 1000.0,
        pulses: fired,
        zone: a.advice.zone.as_ref().map(ToString::to_string),
        what: a.advice.rule.clone(),
        level: Some(a.advice.level.to_string()),
        seen: clean(&a.advice.seen),
        advised: clean(&a.advice.action),
        did,
        answered_after_s: after_s,
        pulses_after,
        physics: physics(zone, raised_ms, fallen),
        sound: followed && at_once && pulses_after <= limit,
    }
}

fn sign(s: &Shown, events: &[(Stamp, Event)], state: &State, fallen: &[Fallen], track: &Track) -> Decision {
    let noted = events.iter().find(|(stamp, event)| {
        stamp.seq > s.seq
            && matches!(event, Event::ResponseSeen { zone, kind, .. } if *zone == s.sign.zone && *kind == s.sign.kind)
    });
    let (ms, fired) = track.at(s.seq);
    let then = noted.map(|(stamp, _)| track.at(stamp.seq));
    let after_s = then.map(|(at, _)| seconds(ms, at));
    let grade = if matches!(s.sign.kind, Response::NoResponse | Response::OffSpacer) {
        String::new()
    } else {
        format!(" {}", s.sign.grade)
    };
    Decision {
        kind: DecisionKind::Sign,
        at_s: ms as f64 / 1000.0,
        pulses: fired,
        zone: Some(s.sign.zone.to_string()),
        what: s.sign.kind.word().to_owned(),
        level: None,
        seen: format!("{}{grade}", s.sign.kind.spoken()),
        advised: "to be noted when it shows".to_owned(),
        did: match after_s {
            Some(after) => format!("noted after {} s", trimmed(after, 0)),
            None => "not noted".to_owned(),
        },
        answered_after_s: after_s,
        pulses_after: then.unwrap_or_else(|| track.last()).1.saturating_sub(fired),
        physics: physics(state.zone_index(&s.sign.zone), ms, fallen),
        sound: after_s.is_some_and(|s| s <= WATCHED_S),
    }
}

/// Answers against what the client said.
fn checks(events: &[(Stamp, Event)], run: &PracticeRun, track: &Track) -> Vec<Decision> {
    let mut found: Vec<Decision> = Vec::new();
    for answer in run.case.answers.iter().filter(|a| !a.holds) {
        let given = events.iter().rev().find_map(|(stamp, event)| match event {
            Event::CheckAnswered { item, answer: given } if *item == answer.item => Some((stamp, given)),
            _ => None,
        });
        let Some((stamp, given)) = given else { continue };
        let (ms, fired) = track.at(stamp.seq);
        let heard = matches!(given, Answer::No { .. });
        let did = if heard { "answered no".to_owned() } else { "answered as if all were well".to_owned() };
        found.push(Decision {
            kind: DecisionKind::Check,
            at_s: ms as f64 / 1000.0,
            pulses: fired,
            zone: None,
            what: answer.item.clone(),
            level: None,
            seen: format!("the client said: \"{}\"", clean(&answer.says)),
            advised: "answer no, and put the plan right before a pulse".to_owned(),
            did,
            answered_after_s: None,
            pulses_after: 0,
            physics: "gold in the skin turns blue-grey at the pulse, for good; no setting avoids it".to_owned(),
            sound: heard,
        });
    }
    found
}

/// Passes that began on white skin.
fn white_passes(state: &State) -> Vec<Decision> {
    let mut found = Vec::new();
    for (plan, z) in state.opened.plan.zones.iter().zip(&state.zones) {
        for pass in z.passes.iter().filter(|p| p.began_white) {
            let through = trimmed(100.0 * LIGHT_THROUGH_BUBBLES, 0);
            found.push(Decision {
                kind: DecisionKind::Pass,
                at_s: pass.started_ms as f64 / 1000.0,
                pulses: 0,
                zone: Some(plan.id.to_string()),
                what: "pass-on-white".to_owned(),
                level: None,
                seen: format!("pass {} of {} was begun while the skin was white", pass.number, plan.id),
                advised: "to wait until the whitening has faded".to_owned(),
                did: "begun at once".to_owned(),
                answered_after_s: None,
                pulses_after: pass.counted,
                physics: format!(
                    "bubbles let about {through} % of the light through; the epidermis takes more of it up"
                ),
                sound: false,
            });
        }
    }
    found
}

/// What the last pulse before a time did, in words.
fn physics(zone: Option<usize>, ms: u64, fallen: &[Fallen]) -> String {
    let last = fallen.iter().rev().find(|f| f.ms <= ms && zone.is_none_or(|z| z == f.zone));
    let Some(f) = last else { return "no pulse had fallen".to_owned() };
    let from = BLEEDS_AT / f.drive.fragility;
    let off = if f.off_spacer { "; the spot on the skin was smaller than set" } else { "" };
    let white = if f.white > 0.3 { "; much of the spot was white already" } else { "" };
    format!(
        "the ink got {} times the light that whitens it, and this skin bleeds from about {}; its epidermis rose by {} \
         K{off}{white}",
        trimmed(f.drive.ink, 2),
        trimmed(from, 1),
        trimmed(f.drive.epidermis_k, 0)
    )
}
