//! One session in a line of a list, and what statistics need of it.

use crate::plan::Setting;
use crate::session::{Level, Response, SessionOutcome};
use crate::words::{FitzpatrickType, words};
use chrono::{DateTime, FixedOffset, NaiveDate};
use serde::{Deserialize, Serialize};

/// Responses that a supervisor looks at one by one. Whitening, redness, swelling and purpura are what is expected of a
/// treatment; pain, a wrong distance and stacked pulses are not answers of the skin (our own division; common practice).
pub const ADVERSE: [Response; 10] = [
    Response::Systemic,
    Response::Separation,
    Response::Blister,
    Response::Darkening,
    Response::Wheals,
    Response::BlueGrey,
    Response::Splatter,
    Response::Sparks,
    Response::PinpointBleeding,
    Response::WetSurface,
];

/// The checklist item whose value is the operator's code, as in the protocol that comes with the program.
pub const OPERATOR_ITEM: &str = "operator";

words! {
    /// How a journal stands.
    RecordState, "record" {
        /// Whole and unchanged.
        Sound = "sound",
        /// The last line shows a cut-off write; all before it is sound.
        CutOff = "cut-off",
        /// Damaged or altered: figures are those of the records before the damage.
        Damaged = "damaged",
    }
}

/// A session in a line. Every key of the JSON form names its unit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Row {
    /// Session id.
    pub session: String,
    /// The scenario, where this is PRACTICE and nobody was treated.
    pub practice: Option<String>,
    /// Date of the session where the clinic is; none where nothing could be read.
    pub date: Option<NaiveDate>,
    /// Wall time of the opening.
    pub opened_at: Option<DateTime<FixedOffset>>,
    /// Client code.
    pub client_code: Option<String>,
    /// Code of the operator, as answered to the checklist.
    pub operator_code: Option<String>,
    /// Fitzpatrick skin type.
    pub skin_type: Option<FitzpatrickType>,
    /// Wavelengths planned or fired, ascending.
    pub wavelengths_nm: Vec<f64>,
    /// Zones of the plan.
    pub zones: usize,
    /// Pulses counted.
    pub pulses: u64,
    /// Pulses planned, over all zones and passes, as if zones had no edge: a lattice fitted to a zone takes some more or
    /// less, and the session itself tells it.
    pub planned_even_pulses: u64,
    /// The most urgent advice there was; none where there was none.
    pub highest_level: Option<Level>,
    /// Advice that was declined.
    pub declined: u32,
    /// Checks that were overridden.
    pub overridden: u32,
    /// Checks that were answered no.
    pub answered_no: u32,
    /// Adverse responses ([`ADVERSE`]).
    pub adverse: u32,
    /// How it ended; none while it is not closed.
    pub outcome: Option<SessionOutcome>,
    /// True when a signature lies beside the journal.
    pub signed: bool,
    /// Sound records of the journal.
    pub events: u64,
    /// How the journal stands.
    pub record: RecordState,
    /// The same in words, where it is not sound.
    pub record_text: Option<String>,
}

impl Row {
    /// A session of whose journal nothing can be read.
    #[must_use]
    pub fn unreadable(session: &str, why: String) -> Self {
        Self {
            session: session.to_owned(),
            practice: None,
            date: date_of_id(session),
            opened_at: None,
            client_code: None,
            operator_code: None,
            skin_type: None,
            wavelengths_nm: Vec::new(),
            zones: 0,
            pulses: 0,
            planned_even_pulses: 0,
            highest_level: None,
            declined: 0,
            overridden: 0,
            answered_no: 0,
            adverse: 0,
            outcome: None,
            signed: false,
            events: 0,
            record: RecordState::Damaged,
            record_text: Some(why),
        }
    }

    /// How far a session departs from what is wanted; the lowest comes first in a list:
    ///
    /// 0. its journal is damaged,
    /// 1. advice was declined or a check overridden,
    /// 2. an adverse response was seen,
    /// 3. the most urgent advice was STOP,
    /// 4. it is not closed,
    /// 5. none of these.
    #[must_use]
    pub fn deviation_rank(&self) -> u8 {
        match self {
            r if r.record == RecordState::Damaged => 0,
            r if r.declined > 0 || r.overridden > 0 => 1,
            r if r.adverse > 0 => 2,
            r if r.highest_level == Some(Level::Stop) => 3,
            r if r.outcome.is_none() => 4,
            _ => 5,
        }
    }
}

/// The date that a session's id begins with.
fn date_of_id(id: &str) -> Option<NaiveDate> {
    NaiveDate::parse_from_str(id.get(..8)?, "%Y%m%d").ok()
}

/// A zone at one setting in one session: what statistics count.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Exposure {
    /// Zone.
    pub zone: String,
    /// The setting.
    #[serde(flatten)]
    pub setting: Setting,
    /// Pulses fired with it.
    pub pulses: u64,
    /// Responses that were seen to it, in order, with those seen twice twice.
    pub responses: Vec<Response>,
}

words! {
    /// What became of an advice.
    AdviceFate, "answer" {
        /// Followed.
        Accepted = "accepted",
        /// The other setting that it offers was chosen.
        Alternative = "alternative",
        /// Not followed.
        Declined = "declined",
        /// The zone or the session was stopped.
        Stopped = "stopped",
        /// It no longer held.
        Cleared = "cleared",
        /// Never answered.
        Open = "open",
        /// For the record only.
        Recorded = "recorded",
    }
}

/// An advice and what became of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct AdviceFigure {
    /// Rule.
    pub rule: String,
    /// Its level at the end.
    pub level: Level,
    /// What became of it.
    pub answer: AdviceFate,
    /// Session time from when it was raised to its answer, in seconds; none where it was not answered.
    pub answer_s: Option<f64>,
}

/// All that is kept of a session besides its journal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Kept {
    /// Its line.
    pub row: Row,
    /// Its zones by setting.
    pub exposures: Vec<Exposure>,
    /// Responses that were seen before any pulse had been fired in their zone.
    pub unexposed: Vec<Response>,
    /// Its advice.
    pub advice: Vec<AdviceFigure>,
}

impl Kept {
    /// What is kept of a session of whose journal nothing can be read.
    #[must_use]
    pub fn unreadable(session: &str, why: String) -> Self {
        let row = Row::unreadable(session, why);
        Self { row, exposures: Vec::new(), unexposed: Vec::new(), advice: Vec::new() }
    }

    /// Every response that was seen.
    pub fn responses(&self) -> impl Iterator<Item = Response> {
        self.exposures.iter().flat_map(|e| &e.responses).chain(&self.unexposed).copied()
    }
}
