//! The figures of a session. Every key of the JSON form names its unit.

use crate::plan::Setting;
use crate::session::{AdviceAnswer, AdviceStatus, Answer, Event, ItemStatus, Level, Stamp, State};
use crate::text::shown;
use serde::Serialize;

/// A session in figures.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Summary {
    /// Session id.
    pub session: String,
    /// The scenario, where this is PRACTICE on simulated skin and nobody was treated.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub practice: Option<String>,
    /// Program that recorded it.
    pub program: String,
    /// Client code.
    pub client_code: String,
    /// Fitzpatrick skin type.
    pub skin_type: String,
    /// Title of the plan.
    pub plan_title: String,
    /// Device.
    pub device: String,
    /// Protocol.
    pub protocol: String,
    /// Wall time of the opening, RFC 3339.
    pub opened_at: String,
    /// Wall time of the closing, RFC 3339.
    pub closed_at: Option<String>,
    /// How it ended; none while it is open.
    pub outcome: Option<String>,
    /// The closing note.
    pub closing_note: Option<String>,
    /// Earliest date of the next session.
    pub next_earliest: Option<String>,
    /// Events in the journal.
    pub events: u64,
    /// Pulses of the session.
    pub pulses: u64,
    /// Zones in plan order.
    pub zones: Vec<ZoneLine>,
    /// Advice in the order it was raised.
    pub advice: Vec<AdviceLine>,
    /// Checks in the order of the protocol.
    pub checks: Vec<CheckLine>,
    /// Overrides and answers of no, in the order they were given.
    pub deviations: Vec<String>,
    /// Notes in order.
    pub notes: Vec<String>,
}

/// A zone in figures.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ZoneLine {
    /// Zone id.
    pub zone: String,
    /// Where it is.
    pub place: String,
    /// Area in mm2.
    pub area_mm2: f64,
    /// Planned setting.
    pub planned: SettingLine,
    /// Planned passes.
    pub planned_passes: u8,
    /// Planned pulses of one pass with the planned spot.
    pub planned_pulses_per_pass: u64,
    /// Planned overlap in per cent.
    pub planned_overlap_percent: f64,
    /// Passes done.
    pub passes: Vec<PassLine>,
    /// Pulses of all passes.
    pub pulses: u64,
    /// Pulses that fell on a point, on average, over all passes.
    pub mean_pulses_per_point: f64,
    /// Responses in order.
    pub responses: Vec<ResponseLine>,
    /// How it ended; none while it is open.
    pub outcome: Option<String>,
    /// Why, where a reason was given.
    pub outcome_reason: Option<String>,
}

/// A pass in figures.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PassLine {
    /// Pass, from 1.
    pub pass: u8,
    /// Pulses counted.
    pub counted: u64,
    /// Pulses by the device's counter.
    pub device_counter: Option<u64>,
    /// Why the two differ.
    pub explanation: Option<String>,
    /// Linear overlap that the count implies, in per cent.
    pub overlap_percent: Option<f64>,
    /// Duration in seconds; none while it runs.
    pub duration_s: Option<f64>,
    /// Settings used, with their pulses.
    pub settings: Vec<SettingLine>,
    /// Pulses counted by key.
    pub pulses_by_key: u64,
    /// Pulses counted by train.
    pub pulses_by_train: u64,
    /// Pulses typed in.
    pub pulses_typed: u64,
    /// Pulses counted by the device's counter.
    pub pulses_by_counter: u64,
    /// Counted by a line of pulses from outside.
    pub pulses_by_line: u64,
}

/// A setting in figures.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SettingLine {
    /// The setting.
    #[serde(flatten)]
    pub setting: Setting,
    /// Energy of one pulse in joules.
    pub energy_j: f64,
    /// Pulses fired with it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pulses: Option<u64>,
}

/// A response as it was seen.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ResponseLine {
    /// Sequence number.
    pub seq: u64,
    /// Wall time, RFC 3339.
    pub at: String,
    /// Pass.
    pub pass: u8,
    /// Pulse of the pass it was seen at.
    pub pulse: u64,
    /// What.
    pub response: String,
    /// Grade.
    pub grade: Option<u8>,
    /// The operator's words.
    pub note: Option<String>,
}

/// An advice with its answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AdviceLine {
    /// Sequence number.
    pub advice: u64,
    /// Wall time it was raised, RFC 3339.
    pub at: String,
    /// Rule.
    pub rule: String,
    /// Level when raised.
    pub level: String,
    /// Level at the end.
    pub final_level: String,
    /// Zone.
    pub zone: Option<String>,
    /// Pass.
    pub pass: Option<u8>,
    /// What was seen.
    pub seen: String,
    /// What was advised.
    pub action: String,
    /// Fluence in force in J/cm2.
    pub from_fluence_j_cm2: Option<f64>,
    /// Proposed fluence in J/cm2.
    pub to_fluence_j_cm2: Option<f64>,
    /// Proposed spot in mm.
    pub to_spot_mm: Option<f64>,
    /// `accepted`, `declined`, `stopped`, `cleared`, `open` or `recorded`.
    pub answer: String,
    /// Reason of a decline, or why it was cleared.
    pub reason: Option<String>,
    /// Wall time of the answer, RFC 3339.
    pub answered_at: Option<String>,
    /// Pulses fired while it was open.
    pub pulses_while_open: u64,
    /// Source of the rule.
    pub source: String,
}

/// A check with its answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CheckLine {
    /// Item.
    pub item: String,
    /// Phase.
    pub phase: String,
    /// The statement.
    pub question: String,
    /// `open`, `done`, `noted`, `blocked`, `hard-stop` or `overridden`.
    pub status: &'static str,
    /// Answer or finding in words.
    pub answer: String,
}

/// The figures of a session; none when the events do not begin with its opening.
#[must_use]
pub fn summarise(events: &[(Stamp, Event)]) -> Option<Summary> {
    let state = State::replay(events.iter().map(|(s, e)| (*s, e)))?;
    let o = &state.opened;
    let zones = o.plan.zones.iter().zip(&state.zones).map(|(plan, z)| zone_line(plan, z)).collect();
    let advice = state.advice.iter().map(advice_line).collect();
    Some(Summary {
        session: shown(&o.session),
        practice: o.practice.as_ref().map(|run| shown(&run.scenario)),
        program: shown(&o.program),
        client_code: o.plan.client.code.to_string(),
        skin_type: o.plan.client.skin.to_string(),
        plan_title: shown(&o.plan.title),
        device: shown(&o.device.name),
        protocol: shown(&o.protocol.name),
        opened_at: state.opened_at.to_rfc3339(),
        closed_at: state.closed.as_ref().map(|c| c.at.to_rfc3339()),
        outcome: state.closed.as_ref().map(|c| c.outcome.to_string()),
        closing_note: state.closed.as_ref().and_then(|c| c.note.as_ref()).map(ToString::to_string),
        next_earliest: state.closed.as_ref().and_then(|c| c.next_earliest).map(|d| d.to_string()),
        events: state.last.seq,
        pulses: state.total_pulses(),
        zones,
        advice,
        checks: check_lines(&state),
        deviations: state.deviations.iter().map(|d| format!("{}: {}", shown(&d.item), shown(&d.text))).collect(),
        notes: state.notes.iter().map(|n| n.text.to_string()).collect(),
    })
}

fn setting_line(setting: Setting, pulses: Option<u64>) -> SettingLine {
    SettingLine { setting, energy_j: setting.energy_joules(), pulses }
}

fn zone_line(plan: &crate::plan::Zone, z: &crate::session::ZoneState) -> ZoneLine {
    let area_mm2 = plan.shape.area_mm2();
    let passes = z.passes.iter().map(|p| {
        let duration_s = p.ended_ms.map(|e| e.saturating_sub(p.started_ms) as f64 / 1000.0);
        PassLine {
            pass: p.number,
            counted: p.counted,
            device_counter: p.device.filter(|_| p.ended_ms.is_some()),
            explanation: p.explanation.as_ref().map(ToString::to_string),
            overlap_percent: z.implied_overlap_percent(plan, p),
            duration_s,
            settings: p.settings.iter().map(|(s, n)| setting_line(*s, Some(*n))).collect(),
            pulses_by_key: p.by_source.key,
            pulses_by_train: p.by_source.train,
            pulses_typed: p.by_source.typed,
            pulses_by_counter: p.by_source.counter,
            pulses_by_line: p.by_source.line,
        }
    });
    ZoneLine {
        zone: plan.id.to_string(),
        place: shown(&plan.place),
        area_mm2,
        planned: setting_line(plan.setting, None),
        planned_passes: plan.passes,
        planned_pulses_per_pass: z.pattern_of(plan, plan.setting.spot).pulses(),
        planned_overlap_percent: plan.overlap.percent(),
        passes: passes.collect(),
        pulses: z.total(),
        mean_pulses_per_point: z.mean_pulses_per_point(plan),
        responses: z
            .responses
            .iter()
            .map(|r| ResponseLine {
                seq: r.seq,
                at: r.at.to_rfc3339(),
                pass: r.pass,
                pulse: r.pulses,
                response: r.kind.to_string(),
                grade: r.grade,
                note: r.note.as_ref().map(ToString::to_string),
            })
            .collect(),
        outcome: z.outcome.map(|o| o.to_string()),
        outcome_reason: z.outcome_reason.as_ref().map(ToString::to_string),
    }
}

fn advice_line(entry: &crate::session::AdviceEntry) -> AdviceLine {
    let a = &entry.advice;
    let (answer, reason, answered_at) = match &entry.status {
        AdviceStatus::Open => ("open", None, None),
        AdviceStatus::Recorded => ("recorded", None, None),
        AdviceStatus::Cleared(why) => ("cleared", Some(shown(why)), None),
        AdviceStatus::Answered(AdviceAnswer::Accepted, at) => ("accepted", None, Some(at.to_rfc3339())),
        AdviceStatus::Answered(AdviceAnswer::Alternative, at) => ("alternative chosen", None, Some(at.to_rfc3339())),
        AdviceStatus::Answered(AdviceAnswer::Stopped, at) => ("stopped", None, Some(at.to_rfc3339())),
        AdviceStatus::Answered(AdviceAnswer::Declined { reason }, at) => {
            ("declined", Some(reason.to_string()), Some(at.to_rfc3339()))
        }
    };
    let level = |l: Level| l.to_string();
    AdviceLine {
        advice: entry.id,
        at: entry.at.to_rfc3339(),
        rule: shown(&a.rule),
        level: level(a.level),
        final_level: level(entry.level),
        zone: a.zone.as_ref().map(ToString::to_string),
        pass: a.pass,
        seen: shown(&a.seen),
        action: shown(&a.action),
        from_fluence_j_cm2: a.from.map(|s| s.fluence.j_cm2()),
        to_fluence_j_cm2: a.to.map(|s| s.fluence.j_cm2()),
        to_spot_mm: a.to.map(|s| s.spot.mm()),
        answer: answer.to_owned(),
        reason,
        answered_at,
        pulses_while_open: entry.pulses_since,
        source: shown(&a.source),
    }
}

fn check_lines(state: &State) -> Vec<CheckLine> {
    let line = |item: &crate::protocol::CheckItem| {
        let check = state.checks.get(&item.id);
        let computed = check.and_then(|c| c.computed.as_ref()).map(|(_, text)| shown(text));
        let answered = check.and_then(|c| c.answer.as_ref()).map(|a| match a {
            Answer::Yes => "yes".to_owned(),
            Answer::NotApplicable => "not applicable".to_owned(),
            Answer::No { why } => format!("no: {why}"),
            Answer::Value { value } => value.to_string(),
        });
        let overridden = check
            .and_then(|c| c.overridden.as_ref())
            .map(|(by, role, why)| format!("overridden by {by} ({role}): {why}"));
        let parts: Vec<_> = [computed, answered, overridden].into_iter().flatten().collect();
        CheckLine {
            item: shown(&item.id),
            phase: item.phase.to_string(),
            question: shown(&item.question),
            status: match state.item_status(item) {
                ItemStatus::Open => "open",
                ItemStatus::Done => "done",
                ItemStatus::Noted => "noted",
                ItemStatus::Blocked => "blocked",
                ItemStatus::HardStop => "hard-stop",
                ItemStatus::Overridden => "overridden",
            },
            answer: parts.join("; "),
        }
    };
    state.opened.protocol.checklist.iter().map(line).collect()
}
