//! What the operator, the clock or the shell can ask for.

use super::earlier::Earlier;
use super::event::{AdviceAnswer, PulseSource, Response, SessionOutcome};
use crate::limits::LightTable;
use crate::plan::{DisplayedSetting, Setting, ZoneId};

/// A wish to change the session.
#[derive(Debug, Clone, PartialEq)]
pub enum Command {
    /// Answer a checklist item with yes.
    CheckYes {
        /// Item.
        item: String,
    },
    /// Answer a checklist item with no and why.
    CheckNo {
        /// Item.
        item: String,
        /// Why.
        why: String,
    },
    /// Answer a checklist item with "not applicable".
    CheckNotApplicable {
        /// Item.
        item: String,
    },
    /// Answer a checklist item with a value.
    CheckValue {
        /// Item.
        item: String,
        /// The value.
        value: String,
    },
    /// Override a blocking item.
    CheckOverride {
        /// Item.
        item: String,
        /// Who takes it on.
        by: String,
        /// In which role.
        role: String,
        /// Why.
        reason: String,
    },
    /// Compare what the device shows with the zone's setting.
    ReadBack {
        /// Zone.
        zone: ZoneId,
        /// As typed.
        displayed: DisplayedSetting,
    },
    /// Change a zone's setting within the limits.
    ChangeSetting {
        /// Zone.
        zone: ZoneId,
        /// The setting wanted.
        to: Setting,
        /// Why.
        reason: String,
    },
    /// Begin the next pass of a zone.
    StartPass {
        /// Zone.
        zone: ZoneId,
    },
    /// Count pulses.
    Fire {
        /// How many.
        n: u64,
        /// How they were counted.
        source: PulseSource,
    },
    /// Begin a train at the setting's rate.
    StartTrain,
    /// Count what the running train has fired since the last tick.
    TrainTick,
    /// End the train.
    StopTrain,
    /// Take a reading of the device's counter.
    ReadCounter {
        /// The reading.
        reading: u64,
        /// The operator's answer when a reading was asked back.
        confirm: Option<CounterConfirm>,
    },
    /// Correct the pass's count to what the device counted since the last two readings.
    TakeDeviceFigure,
    /// Set the last pulse entry to another number.
    CorrectLast {
        /// The right number.
        to: u64,
    },
    /// A held key had counted its first repeat: take one pulse back.
    TakeBackHeldKey,
    /// Take back the last entry of this pass.
    Undo,
    /// Note what the skin shows.
    See {
        /// What.
        kind: Response,
        /// Grade.
        grade: Option<u8>,
        /// The operator's words.
        note: String,
    },
    /// Remark on the latest response.
    NoteResponse {
        /// Text.
        text: String,
    },
    /// The whitening has faded.
    WhiteningFaded {
        /// Zone.
        zone: ZoneId,
    },
    /// Answer an advice.
    AnswerAdvice {
        /// Sequence number of the advice.
        advice: u64,
        /// Answer.
        answer: AdviceAnswer,
    },
    /// Add a note.
    Note {
        /// Text.
        text: String,
    },
    /// Pause counting.
    Pause,
    /// Go on counting.
    Unpause,
    /// End the pass.
    EndPass {
        /// Why counted and device figures differ.
        explanation: Option<String>,
    },
    /// Have done with a zone, or skip it.
    EndZone {
        /// Zone.
        zone: ZoneId,
        /// Why, for a zone that was not treated as planned.
        reason: Option<String>,
    },
    /// Close the session.
    Close {
        /// How it ended.
        outcome: SessionOutcome,
        /// The operator's words.
        note: String,
    },
    /// The program is being stopped.
    Interrupt {
        /// By what.
        cause: String,
    },
    /// A cut-off session is taken up again.
    Resume {
        /// What recovery found.
        recovery: String,
        /// The program.
        program: String,
    },
    /// Recording goes on in another file.
    Continue {
        /// Why.
        reason: String,
        /// First sequence number the old file may lack.
        unsaved_from: u64,
    },
    /// Light in this skin was worked out beside the session.
    NoteLight {
        /// The figures.
        table: LightTable,
    },
    /// Earlier sessions of the client code were found beside the session.
    NoteEarlier {
        /// What the last of them tells.
        earlier: Box<Earlier>,
    },
    /// The wall clock jumped.
    ClockStep {
        /// By how much.
        by_ms: i64,
    },
}

/// The operator's answer to a counter reading that was asked back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CounterConfirm {
    /// The large jump is right.
    Jump,
    /// The counter passed its last digit.
    RolledOver,
    /// The device was restarted or its counter cleared: start from this reading.
    Restarted,
}

/// A question that must be answered before the command can be taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ask {
    /// A counter reading that is lower than the one before.
    CounterLower {
        /// Reading before.
        before: u64,
        /// Pulses if it passed its last digit, where that is believable.
        if_rolled_over: Option<u64>,
    },
    /// A counter reading that is much higher than the rate allows.
    CounterJump {
        /// The difference.
        difference: u64,
        /// What the rate allows at most.
        expected_max: u64,
    },
    /// Counted and device figures differ: why?
    ExplainDifference {
        /// Counted.
        counted: u64,
        /// By the device.
        device: u64,
    },
}

/// Why a command was not taken.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal {
    /// Stable name.
    pub id: &'static str,
    /// What is in the way.
    pub message: String,
    /// What to do next.
    pub next: String,
    /// A question whose answer lets the command through.
    pub ask: Option<Ask>,
}

impl Refusal {
    pub(super) fn new(id: &'static str, message: impl Into<String>, next: impl Into<String>) -> Self {
        Self { id, message: message.into(), next: next.into(), ask: None }
    }
    pub(super) fn asking(mut self, ask: Ask) -> Self {
        self.ask = Some(ask);
        self
    }
}

impl std::fmt::Display for Refusal {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}; {}", self.message, self.next)
    }
}
