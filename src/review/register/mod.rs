//! The treatment register: what a regulator asks of every use of the laser.
//!
//! It holds who was treated, when, by whom, the nature of the treatment, the exact exposure, and every accident or
//! adverse effect: the fields that an inspection standard of Northern Ireland's regulator asks for (from memory), with
//! the settings that a UK licence guide names. Which responses count as adverse is common practice. A session that is
//! not closed, damaged or missing stands in it as such; PRACTICE never does.

mod csv;
mod html;
mod text;

pub use csv::{cell, csv};
pub use html::html;
pub use text::text;

use super::SettingLine;
use crate::plan::Zone;
use crate::session::{Answer, Event, FollowUp, Level, Response, Stamp, State, ZoneState};
use crate::text::shown;
use crate::words::{Word, words};
use chrono::NaiveDate;
use serde::Serialize;

/// The check whose answer names the operator.
const OPERATOR: &str = "operator";

words! {
    /// How a session stands.
    Standing, "standing" {
        /// Closed, and its record is sound.
        Closed = "closed",
        /// Its record is sound, but it was not closed.
        NotClosed = "not-closed",
        /// Its record is damaged; what stands before the damage is given.
        Damaged = "damaged",
        /// The day book lists it, but its file is missing.
        Missing = "missing",
    }
}

/// A register over some days.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Register {
    /// First day.
    pub from: NaiveDate,
    /// Last day.
    pub to: NaiveDate,
    /// Sessions in order of time.
    pub sessions: Vec<Entry>,
    /// What the day book has against the whole, beside single sessions.
    pub findings: Vec<String>,
}

impl Register {
    /// How many sessions stand so.
    #[must_use]
    pub fn count(&self, standing: Standing) -> usize {
        self.sessions.iter().filter(|e| e.standing == standing).count()
    }

    /// True when nothing of what was recorded is damaged or missing.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.findings.is_empty()
            && self.sessions.iter().all(|e| !matches!(e.standing, Standing::Damaged | Standing::Missing))
    }

    /// How many there are of each, in one line.
    #[must_use]
    pub fn summary(&self) -> String {
        let mut parts = vec![format!("{} sessions", self.sessions.len())];
        for standing in [Standing::NotClosed, Standing::Damaged, Standing::Missing] {
            let n = self.count(standing);
            if n > 0 {
                parts.push(format!("{n} {}", standing.spoken().to_uppercase()));
            }
        }
        parts
            .push(format!("{} with something adverse", self.sessions.iter().filter(|e| !e.adverse.is_empty()).count()));
        parts.join(", ")
    }
}

/// One session in the register.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Entry {
    /// Session id.
    pub session: String,
    /// The day it counts for.
    pub date: NaiveDate,
    /// How it stands.
    pub standing: Standing,
    /// The state of its record in words.
    pub record: String,
    /// Who was treated.
    pub client_code: Option<String>,
    /// Wall time of the opening, RFC 3339.
    pub opened_at: Option<String>,
    /// Wall time of the closing, RFC 3339.
    pub closed_at: Option<String>,
    /// Code of the operator, as it was answered; none where it was not.
    pub operator: Option<String>,
    /// Device.
    pub device: Option<String>,
    /// Zones in the order of the plan.
    pub zones: Vec<ZoneEntry>,
    /// Pulses of the session.
    pub pulses: u64,
    /// Accidents and adverse effects, each in words.
    pub adverse: Vec<String>,
    /// How it ended.
    pub outcome: Option<String>,
}

/// A zone in the register.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ZoneEntry {
    /// Zone.
    pub zone: String,
    /// Where it is.
    pub place: String,
    /// Colours of its inks.
    pub inks: Vec<String>,
    /// Every pass with every setting; none where no pulse was fired.
    pub exposures: Vec<Exposure>,
    /// How it ended.
    pub outcome: Option<String>,
}

/// What one pass brought with one setting.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Exposure {
    /// Pass, from 1.
    pub pass: u8,
    /// Setting and pulses.
    #[serde(flatten)]
    pub setting: SettingLine,
}

impl Entry {
    /// A session of which nothing but its name is known.
    #[must_use]
    pub fn unreadable(session: &str, date: NaiveDate, standing: Standing, record: &str) -> Self {
        Self {
            session: shown(session),
            date,
            standing,
            record: shown(record),
            client_code: None,
            opened_at: None,
            closed_at: None,
            operator: None,
            device: None,
            zones: Vec::new(),
            pulses: 0,
            adverse: Vec::new(),
            outcome: None,
        }
    }

    /// A session by its events and its follow-ups; none for PRACTICE. `sound` tells whether the whole record is; its
    /// state is `record` in words. Where the events do not begin with an opening, only the name is known.
    #[must_use]
    pub fn of(
        session: &str,
        date: NaiveDate,
        events: &[(Stamp, Event)],
        follow_ups: &[&FollowUp],
        sound: bool,
        record: &str,
    ) -> Option<Self> {
        let Some(state) = State::replay(events.iter().map(|(s, e)| (*s, e))) else {
            return Some(Self::unreadable(session, date, Standing::Damaged, record));
        };
        if state.opened.practice.is_some() {
            return None;
        }
        let standing = match (&state.closed, sound) {
            (_, false) => Standing::Damaged,
            (None, true) => Standing::NotClosed,
            (Some(_), true) => Standing::Closed,
        };
        let operator = match state.checks.get(OPERATOR).and_then(|c| c.answer.as_ref()) {
            Some(Answer::Value { value }) => Some(value.to_string()),
            _ => None,
        };
        let zones = state.opened.plan.zones.iter().zip(&state.zones);
        Some(Self {
            session: shown(session),
            date: state.opened.date,
            standing,
            record: shown(record),
            client_code: Some(state.opened.plan.client.code.to_string()),
            opened_at: Some(state.opened_at.to_rfc3339()),
            closed_at: state.closed.as_ref().map(|c| c.at.to_rfc3339()),
            operator,
            device: Some(shown(&state.opened.device.name)),
            zones: zones.map(|(plan, zone)| zone_entry(plan, zone)).collect(),
            pulses: state.total_pulses(),
            adverse: adverse(&state, follow_ups),
            outcome: state.closed.as_ref().map(|c| {
                let note = c.note.as_ref().map(|n| format!(": {n}")).unwrap_or_default();
                format!("{}{note}", c.outcome)
            }),
        })
    }
}

fn zone_entry(plan: &Zone, zone: &ZoneState) -> ZoneEntry {
    let exposures = zone.passes.iter().flat_map(|pass| {
        pass.settings.iter().map(|(setting, pulses)| Exposure {
            pass: pass.number,
            setting: SettingLine { setting: *setting, energy_j: setting.energy_joules(), pulses: Some(*pulses) },
        })
    });
    ZoneEntry {
        zone: plan.id.to_string(),
        place: shown(&plan.place),
        inks: plan.inks.iter().map(ToString::to_string).collect(),
        exposures: exposures.collect(),
        outcome: zone.outcome.map(|o| {
            let why = zone.outcome_reason.as_ref().map(|r| format!(": {r}")).unwrap_or_default();
            format!("{o}{why}")
        }),
    }
}

/// True for what is more than the expected answer of treated skin.
#[must_use]
pub const fn is_adverse(response: Response) -> bool {
    !matches!(
        response,
        Response::Whitening
            | Response::Redness
            | Response::Swelling
            | Response::NoResponse
            | Response::Pain
            | Response::WetSurface
    )
}

fn adverse(state: &State, follow_ups: &[&FollowUp]) -> Vec<String> {
    let mut found = Vec::new();
    for (plan, zone) in state.opened.plan.zones.iter().zip(&state.zones) {
        for r in zone.responses.iter().filter(|r| is_adverse(r.kind)) {
            let grade = r.grade.map(|g| format!(" {g}")).unwrap_or_default();
            let note = r.note.as_ref().map(|n| format!(": {n}")).unwrap_or_default();
            found.push(format!("{}{grade}, {} pass {}, pulse {}{note}", r.kind.spoken(), plan.id, r.pass, r.pulses));
        }
    }
    for a in state.advice.iter().filter(|a| a.level == Level::Stop) {
        let zone = a.advice.zone.as_ref().map(|z| format!(", {z}")).unwrap_or_default();
        found.push(format!("STOP advised{zone}: {}", shown(&a.advice.seen)));
    }
    found.extend(
        state
            .deviations
            .iter()
            .filter(|d| d.overridden)
            .map(|d| format!("check {}: {}", shown(&d.item), shown(&d.text))),
    );
    for f in follow_ups.iter().filter(|f| f.is_adverse()) {
        let note = f.note.as_ref().map(|n| format!(": {n}")).unwrap_or_default();
        found.push(format!("follow-up {}, seen by {}: {}{note}", f.date, f.seen_by, f.findings().join(", ")));
    }
    found
}
