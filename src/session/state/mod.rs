//! The state that the events fold into.

mod apply;
mod evidence;
mod gates;
mod patterns;
mod trace;
mod zone;

use super::anaesthetic::Given;
use super::event::{Advice, Answer, CounterReadingKind, Level, Opened, PulseSource, SessionOutcome, Stamp, Verdict};
use super::{AdviceAnswer, Event, FreeText, PracticeState};
use crate::clock::Now;
use crate::plan::ZoneId;
use crate::words::Word;
use chrono::{DateTime, FixedOffset, NaiveDate};
use std::collections::BTreeMap;

pub use evidence::{Change, Happenings, Mark, ZoneMarks, ZoneTrace};
pub use gates::{Gate, ItemStatus};
pub use trace::{SPANS_MAX, Span, Trace, TraceMark};
pub use zone::{PassState, Pulses, ResponseEntry, Whitening, ZoneState};

/// A session as it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct State {
    /// What it began with.
    pub opened: Opened,
    /// Stamp of the first event.
    pub opened_at: DateTime<FixedOffset>,
    /// Stamp of the last event.
    pub last: Stamp,
    /// Answers to the checklist.
    pub checks: BTreeMap<String, CheckState>,
    /// Zones in plan order.
    pub zones: Vec<ZoneState>,
    /// The zone whose pass is running.
    pub active: Option<usize>,
    /// The running train.
    pub train: Option<Train>,
    /// True while counting is paused.
    pub paused: bool,
    /// Readings of the device's counter.
    pub counter: CounterState,
    /// Advice in the order it was raised.
    pub advice: Vec<AdviceEntry>,
    /// Notes in order.
    pub notes: Vec<Note>,
    /// Checks that were overridden or answered with no, kept even when answered anew.
    pub deviations: Vec<Deviation>,
    /// The end, when it is closed.
    pub closed: Option<Closing>,
    /// Wavelength of the last read-back that agreed.
    pub wavelength: Option<crate::units::Wavelength>,
    /// Anaesthetics given, in order.
    pub anaesthetics: Vec<Given>,
    /// What rules rest on besides the zones.
    pub happenings: Happenings,
    /// What simulated skin showed and left, in practice.
    pub practice: PracticeState,
    /// When what happened, for a picture.
    pub trace: Trace,
    advice_index: evidence::AdviceIndex,
    /// What can be taken back, latest last.
    pub(super) undo: Vec<Undoable>,
    /// Session time of the last event and the monotonic reading it was taken at.
    clock: SessionClock,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct SessionClock {
    /// Session time at `mono_ms`.
    session_ms: u64,
    /// Monotonic reading of the process that records now.
    mono_ms: u64,
}

/// A checklist item's answers.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CheckState {
    /// What the program worked out.
    pub computed: Option<(Verdict, String)>,
    /// What a person answered last.
    pub answer: Option<Answer>,
    /// Who overrode it: by, role, reason.
    pub overridden: Option<(FreeText, FreeText, FreeText)>,
}

/// A bad answer or an override, for the record.
#[derive(Debug, Clone, PartialEq)]
pub struct Deviation {
    /// Stamp.
    pub at: DateTime<FixedOffset>,
    /// Item.
    pub item: String,
    /// What happened, in words.
    pub text: String,
    /// True for an override.
    pub overridden: bool,
}

/// A running train.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Train {
    /// Rate in hertz.
    pub rate_hz: f64,
    /// Session time at its start.
    pub started_ms: u64,
    /// Pulses counted from it so far.
    pub counted: u64,
    /// Session time of its last burst.
    pub last_ms: u64,
}

/// Readings of the device's counter.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct CounterState {
    /// Last reading.
    pub last: Option<u64>,
    /// Session time of the last reading.
    pub last_ms: u64,
    /// Pulses counted in other ways since that reading.
    pub counted_since: u64,
    /// The last reading's difference and the pulses counted otherwise in the same span, while they can still be settled.
    pub unsettled: Option<(u64, u64)>,
    /// How the last reading was taken.
    pub kind: Option<CounterReadingKind>,
}

/// An advice with its answers.
#[derive(Debug, Clone, PartialEq)]
pub struct AdviceEntry {
    /// Sequence number of the event that raised it.
    pub id: u64,
    /// When.
    pub at: DateTime<FixedOffset>,
    /// Session time.
    pub raised_ms: u64,
    /// As raised.
    pub advice: Advice,
    /// Its level now.
    pub level: Level,
    /// Pulses fired since it was raised, while it was open.
    pub pulses_since: u64,
    /// How it stands.
    pub status: AdviceStatus,
    /// Sequence number of the event that answered or cleared it.
    pub settled_seq: Option<u64>,
}

/// How an advice stands.
#[derive(Debug, Clone, PartialEq)]
pub enum AdviceStatus {
    /// Waits for an answer.
    Open,
    /// Answered, with when.
    Answered(AdviceAnswer, DateTime<FixedOffset>),
    /// No longer holds.
    Cleared(String),
    /// Only for the record; needs no answer.
    Recorded,
}

impl AdviceEntry {
    /// True while it waits for an answer.
    #[must_use]
    pub fn is_open(&self) -> bool {
        self.status == AdviceStatus::Open
    }
}

/// A note.
#[derive(Debug, Clone, PartialEq)]
pub struct Note {
    /// When.
    pub at: DateTime<FixedOffset>,
    /// Text.
    pub text: FreeText,
}

/// The end of a session.
#[derive(Debug, Clone, PartialEq)]
pub struct Closing {
    /// When.
    pub at: DateTime<FixedOffset>,
    /// How.
    pub outcome: SessionOutcome,
    /// Earliest date of the next session.
    pub next_earliest: Option<NaiveDate>,
    /// The operator's words.
    pub note: Option<FreeText>,
}

/// An entry of the running pass that can be taken back, with what it changed as it was before.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Undoable {
    pub(super) seq: u64,
    pub(super) zone: usize,
    pub(super) what: UndoWhat,
    pub(super) before: Box<Before>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum UndoWhat {
    Pulses { n: u64, source: PulseSource },
    Counter,
    Response,
    Faded,
}

#[derive(Debug, Clone, PartialEq)]
pub(super) struct Before {
    pub(super) pass: Option<PassState>,
    pub(super) counter: CounterState,
    pub(super) whitening: Option<Whitening>,
}

/// The last pulse entry of the running pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LastEntry {
    /// Sequence number.
    pub seq: u64,
    /// Pulses.
    pub n: u64,
}

impl State {
    /// The state after a session's first event.
    #[must_use]
    pub fn new(stamp: Stamp, opened: Opened) -> Self {
        let zones = opened.plan.zones.iter().map(ZoneState::new).collect();
        Self {
            opened,
            opened_at: stamp.at,
            last: stamp,
            checks: BTreeMap::new(),
            zones,
            active: None,
            train: None,
            paused: false,
            counter: CounterState::default(),
            advice: Vec::new(),
            notes: Vec::new(),
            deviations: Vec::new(),
            closed: None,
            wavelength: None,
            anaesthetics: Vec::new(),
            happenings: Happenings::default(),
            practice: PracticeState::default(),
            trace: Trace::default(),
            advice_index: evidence::AdviceIndex::default(),
            undo: Vec::new(),
            clock: SessionClock { session_ms: 0, mono_ms: stamp.mono_ms },
        }
    }

    /// Folds a whole journal; none when it does not begin with [`Event::SessionOpened`].
    pub fn replay<'a>(events: impl IntoIterator<Item = (Stamp, &'a Event)>) -> Option<Self> {
        let mut events = events.into_iter();
        let (stamp, first) = events.next()?;
        let Event::SessionOpened(opened) = first else { return None };
        let mut state = Self::new(stamp, (**opened).clone());
        for (stamp, event) in events {
            state.apply(stamp, event);
        }
        Some(state)
    }

    /// Milliseconds of session time at a reading of the clock: monotonic while one process records, bridged by the wall
    /// clock where a session was cut off and resumed.
    #[must_use]
    pub fn session_ms(&self, now: Now) -> u64 {
        self.clock.session_ms + now.mono_ms.saturating_sub(self.clock.mono_ms)
    }

    /// Session time of the last event.
    #[must_use]
    pub const fn last_ms(&self) -> u64 {
        self.clock.session_ms
    }

    /// Index of a zone.
    #[must_use]
    pub fn zone_index(&self, id: &ZoneId) -> Option<usize> {
        self.opened.plan.zones.iter().position(|z| z.id == *id)
    }

    /// A zone's plan and state.
    #[must_use]
    pub fn zone(&self, index: usize) -> Option<(&crate::plan::Zone, &ZoneState)> {
        Some((self.opened.plan.zones.get(index)?, self.zones.get(index)?))
    }

    /// The running pass: zone index, its plan, its state and the pass.
    #[must_use]
    pub fn running(&self) -> Option<(usize, &crate::plan::Zone, &ZoneState, &PassState)> {
        let index = self.active?;
        let (plan, zone) = self.zone(index)?;
        Some((index, plan, zone, zone.passes.last()?))
    }

    /// Pulses of the whole session.
    #[must_use]
    pub fn total_pulses(&self) -> u64 {
        self.zones.iter().map(ZoneState::total).sum()
    }

    /// The last pulse entry that can be corrected.
    #[must_use]
    pub fn last_entry(&self) -> Option<LastEntry> {
        self.undo.iter().rev().find_map(|u| match u.what {
            UndoWhat::Pulses { n, .. } => Some(Some(LastEntry { seq: u.seq, n })),
            // What was counted before a counter reading is settled by it.
            UndoWhat::Counter => Some(None),
            UndoWhat::Response | UndoWhat::Faded => None,
        })?
    }

    /// Sequence number of the counter reading that the running pass can still be settled by: nothing was counted since.
    #[must_use]
    pub fn last_reading(&self) -> Option<u64> {
        self.undo.iter().rev().find_map(|u| match u.what {
            UndoWhat::Counter => Some(Some(u.seq)),
            UndoWhat::Pulses { .. } => Some(None),
            UndoWhat::Response | UndoWhat::Faded => None,
        })?
    }

    /// The latest response of the session.
    #[must_use]
    pub fn latest_response(&self) -> Option<&ResponseEntry> {
        self.zones.iter().filter_map(|z| z.responses.last()).max_by_key(|r| r.seq)
    }

    /// Sequence number and description of what [`super::Command::Undo`] would take back.
    #[must_use]
    pub fn next_undo(&self) -> Option<(u64, String)> {
        let entry = self.undo.last()?;
        let words = match entry.what {
            UndoWhat::Pulses { n: 1, .. } => "1 pulse".to_owned(),
            UndoWhat::Pulses { n, .. } => format!("{n} pulses"),
            UndoWhat::Counter => "the counter reading".to_owned(),
            UndoWhat::Faded => "\"whitening faded\"".to_owned(),
            UndoWhat::Response => {
                let zone = self.zones.get(entry.zone)?;
                zone.responses.iter().find(|r| r.seq == entry.seq)?.kind.spoken()
            }
        };
        Some((entry.seq, words))
    }

    /// Earliest date of the next session: the advised interval for the skin type after this one.
    #[must_use]
    pub fn next_earliest(&self) -> Option<NaiveDate> {
        let wait = self.opened.protocol.thresholds.interval_advised(self.opened.plan.client.skin);
        let days = (wait.value.seconds() / 86_400.0).ceil() as i64;
        self.opened.date.checked_add_signed(chrono::Duration::days(days))
    }

    /// Open advice, most urgent first, then the latest first.
    #[must_use]
    pub fn open_advice(&self) -> Vec<&AdviceEntry> {
        let mut open: Vec<_> = self.open_in_order().collect();
        open.sort_by_key(|a| (std::cmp::Reverse(a.level), std::cmp::Reverse(a.id)));
        open
    }

    /// Open advice, oldest first.
    pub fn open_in_order(&self) -> impl Iterator<Item = &AdviceEntry> {
        self.advice_index.open.iter().filter_map(|i| self.advice.get(*i))
    }

    /// What a rule has said about a zone so far.
    #[must_use]
    pub fn advice_trace(&self, rule: &str, zone: usize) -> ZoneTrace {
        self.advice_index.trace(rule, zone)
    }

    /// True when a rule was raised for this evidence before.
    #[must_use]
    pub fn knows_evidence(&self, rule: &str, evidence: &str) -> bool {
        self.advice_index.knows(rule, evidence)
    }
}
