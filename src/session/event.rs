//! Facts in the past tense: what a journal holds.
//!
//! The enum only ever grows. A type that this version does not know is read as [`Event::Unknown`] and kept in the
//! journal as it stands.

use super::earlier::Earlier;
use super::follow_up::FollowUp;
use super::free_text::FreeText;
use super::practice::SkinSign;
use crate::anaesthetic::Dose;
use crate::device::DeviceProfile;
use crate::limits::LightTable;
use crate::plan::{DisplayedSetting, Plan, Setting, ZoneId};
use crate::protocol::Protocol;
use crate::scenario::{PracticeRun, ZoneLeft};
pub use crate::words::Level;
use crate::words::words;
use chrono::{DateTime, FixedOffset, NaiveDate};
use serde::{Deserialize, Serialize};

/// Where an event stands in the journal and in time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stamp {
    /// Sequence number, from 1.
    pub seq: u64,
    /// Wall time.
    pub at: DateTime<FixedOffset>,
    /// Monotonic milliseconds since the recording process started.
    pub mono_ms: u64,
}

/// A fact of a session.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "type", rename_all = "kebab-case")]
pub enum Event {
    /// The session began; everything it needs is embedded, so that the journal stands alone.
    SessionOpened(Box<Opened>),
    /// A cut-off session was taken up again.
    SessionResumed {
        /// What was found in the journal ("clean", "a torn tail of 12 bytes was set aside").
        recovery: String,
        /// The program that resumed it.
        program: String,
    },
    /// Recording went on in another file, because this one could no longer be written.
    JournalContinued {
        /// Why.
        reason: String,
        /// First sequence number that the old file may lack.
        unsaved_from: u64,
    },
    /// The wall clock jumped against the monotonic one.
    ClockStepped {
        /// By how much, forward positive.
        by_ms: i64,
    },
    /// The program worked out a checklist item.
    CheckComputed {
        /// Item.
        item: String,
        /// Outcome.
        verdict: Verdict,
        /// What was found.
        text: String,
    },
    /// A person answered a checklist item.
    CheckAnswered {
        /// Item.
        item: String,
        /// Answer.
        answer: Answer,
    },
    /// A bad answer was overridden by someone who may.
    CheckOverridden {
        /// Item.
        item: String,
        /// Who.
        by: FreeText,
        /// In which role.
        role: FreeText,
        /// Why.
        reason: FreeText,
    },
    /// What the device displayed agreed with the setting.
    SettingConfirmed {
        /// Zone.
        zone: ZoneId,
        /// As typed from the display.
        displayed: DisplayedSetting,
    },
    /// What the device displayed did not agree.
    SettingMismatched {
        /// Zone.
        zone: ZoneId,
        /// As typed from the display.
        displayed: DisplayedSetting,
        /// Each difference with both values.
        differences: Vec<Difference>,
    },
    /// The setting to be used in a zone was changed; it must be read back before the next pulse.
    SettingChanged {
        /// Zone.
        zone: ZoneId,
        /// Before.
        from: Setting,
        /// After.
        to: Setting,
        /// The advice that was accepted, if any.
        advice: Option<u64>,
        /// The operator's reason, if it was their own change.
        reason: Option<FreeText>,
    },
    /// A pass began.
    PassStarted {
        /// Zone.
        zone: ZoneId,
        /// Pass, from 1.
        pass: u8,
    },
    /// Pulses were fired.
    PulsesFired {
        /// Zone.
        zone: ZoneId,
        /// Pass.
        pass: u8,
        /// How many, at least one.
        n: u64,
        /// How they were counted.
        source: PulseSource,
    },
    /// The count of an earlier entry was put right.
    PulsesCorrected {
        /// Sequence number of the entry.
        of: u64,
        /// As first counted.
        from: u64,
        /// As corrected.
        to: u64,
        /// Why.
        cause: CorrectionCause,
    },
    /// An entry was taken back; it stays in the journal.
    EntryVoided {
        /// Sequence number of the entry.
        of: u64,
    },
    /// A train of pulses at a fixed rate began.
    TrainStarted {
        /// Zone.
        zone: ZoneId,
        /// Pass.
        pass: u8,
        /// Rate in hertz.
        rate_hz: f64,
    },
    /// The train ended.
    TrainStopped {
        /// Why.
        cause: TrainEnd,
    },
    /// The device's own counter was read.
    CounterRead {
        /// The reading.
        reading: u64,
        /// Pulses since the reading before; none for the first reading and after a restart.
        difference: Option<u64>,
        /// How the reading was taken.
        kind: CounterReadingKind,
    },
    /// The skin answered.
    ResponseSeen {
        /// Zone.
        zone: ZoneId,
        /// Pass.
        pass: u8,
        /// What.
        kind: Response,
        /// Grade 1 to 3, or 0 to 10 for pain.
        grade: Option<u8>,
        /// The operator's words.
        note: Option<FreeText>,
    },
    /// The operator remarked on a response seen earlier.
    ResponseNoted {
        /// Sequence number of the response.
        of: u64,
        /// The operator's words.
        note: FreeText,
    },
    /// The whitening of a zone has faded.
    WhiteningFaded {
        /// Zone.
        zone: ZoneId,
    },
    /// An advice was raised.
    AdviceRaised(Box<Advice>),
    /// An advice that stayed unanswered became more urgent.
    AdviceEscalated {
        /// Sequence number of the advice.
        advice: u64,
        /// Its level now.
        to: Level,
        /// Why.
        why: String,
    },
    /// An advice was answered.
    AdviceAnswered {
        /// Sequence number of the advice.
        advice: u64,
        /// Answer.
        answer: AdviceAnswer,
    },
    /// An advice no longer holds.
    AdviceCleared {
        /// Sequence number of the advice.
        advice: u64,
        /// Why.
        why: String,
    },
    /// A note.
    NoteAdded {
        /// The operator's words.
        text: FreeText,
    },
    /// Counting was paused.
    Paused,
    /// Counting went on.
    Resumed,
    /// A pass ended.
    PassEnded {
        /// Zone.
        zone: ZoneId,
        /// Pass.
        pass: u8,
        /// Pulses counted.
        counted: u64,
        /// Pulses by the device's counter, where it was read at both ends.
        device: Option<u64>,
        /// Why the two differ.
        explanation: Option<FreeText>,
    },
    /// A zone is done with.
    ZoneEnded {
        /// Zone.
        zone: ZoneId,
        /// How it ended.
        outcome: ZoneOutcome,
        /// The operator's reason.
        reason: Option<FreeText>,
    },
    /// The program had to stop; the session can be resumed.
    Interrupted {
        /// Signal or reason.
        cause: String,
    },
    /// The session was closed.
    SessionClosed {
        /// How it ended.
        outcome: SessionOutcome,
        /// Earliest date of the next session.
        next_earliest: Option<NaiveDate>,
        /// The operator's words.
        note: Option<FreeText>,
    },
    /// The program judged the eyewear that someone wears.
    EyewearJudged {
        /// Checklist item.
        item: String,
        /// The marking as typed, or the pair of the protocol that was named.
        worn: FreeText,
        /// Outcome: it protects, or it stops the treatment.
        verdict: Verdict,
        /// What was found.
        finding: String,
    },
    /// What light does in this skin was worked out: settings can be compared by what they bring to ink and epidermis.
    LightReckoned {
        /// The figures.
        table: LightTable,
    },
    /// Earlier sessions of the same client code were found.
    EarlierFound {
        /// What the last of them tells.
        earlier: Box<Earlier>,
    },
    /// An anaesthetic was given.
    AnaestheticGiven {
        /// Checklist item.
        item: String,
        /// What and how much.
        dose: Dose,
        /// All doses together against their limits.
        verdict: Verdict,
        /// What was found.
        finding: String,
    },
    /// Simulated skin showed something; only in practice.
    SkinShowed {
        /// What.
        sign: SkinSign,
    },
    /// What a session of practice left in the simulated skin.
    SkinLeft {
        /// Zone by zone.
        zones: Vec<ZoneLeft>,
    },
    /// The client was seen again after the session was closed. It stands in the follow-ups beside the closed journal,
    /// never in the journal itself.
    FollowUpAdded(Box<FollowUp>),
    /// A type that this version does not know.
    #[serde(other)]
    Unknown,
}

/// What a session begins with.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Opened {
    /// Session id.
    pub session: String,
    /// Program and version.
    pub program: String,
    /// Date of the session where the clinic is.
    pub date: NaiveDate,
    /// The plan.
    pub plan: Plan,
    /// The device profile.
    pub device: DeviceProfile,
    /// The clinic protocol.
    pub protocol: Protocol,
    /// Present only in PRACTICE: nobody is treated, simulated skin answers.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub practice: Option<Box<PracticeRun>>,
}

/// Outcome of a computed check.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Nothing found.
    Pass,
    /// Seen and confirmed by a person before going on.
    Warn,
    /// Not without an override.
    Block,
    /// Not at all.
    HardStop,
}

/// A person's answer to a checklist item.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "answer", rename_all = "kebab-case")]
pub enum Answer {
    /// The statement holds; for a computed warning: seen, going on.
    Yes,
    /// It does not.
    No {
        /// Why, or what was found.
        why: FreeText,
    },
    /// It does not apply here.
    NotApplicable,
    /// The value asked for.
    Value {
        /// As typed.
        value: FreeText,
    },
}

/// One difference between the display and the setting, or between two figures of the display.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Difference {
    /// What differs.
    pub what: String,
    /// The value wanted.
    pub wanted: String,
    /// The value shown.
    pub shown: String,
}

words! {
    /// How pulses were counted.
    PulseSource, "pulse source" {
        /// One key press a pulse.
        Key = "key",
        /// A train by rate and time.
        Train = "train",
        /// A number typed in.
        Typed = "typed",
        /// The device's counter.
        Counter = "counter",
        /// A line of pulses from outside: a foot switch or a light sensor.
        Line = "line",
    }
}

words! {
    /// Why a count was corrected.
    CorrectionCause, "correction" {
        /// The operator typed another number.
        Operator = "operator",
        /// A held key had counted its first repeat.
        KeyHeld = "key-held",
        /// The device's counter was taken as right.
        DeviceCounter = "device-counter",
    }
}

words! {
    /// Why a train ended.
    TrainEnd, "train end" {
        /// The operator stopped it.
        Operator = "operator",
        /// The pass or zone ended.
        PassEnded = "pass-ended",
        /// The machine slept or the program stood still; time after that is not counted.
        ClockGap = "clock-gap",
        /// The program was stopped.
        Interrupted = "interrupted",
    }
}

words! {
    /// How a counter reading was taken.
    CounterReadingKind, "counter reading" {
        /// The first reading.
        Baseline = "baseline",
        /// A plain difference to the reading before.
        Difference = "difference",
        /// A large jump that the operator confirmed.
        JumpConfirmed = "jump-confirmed",
        /// A lower reading because the counter passed its last digit.
        RolledOver = "rolled-over",
        /// A lower reading because the device was restarted or its counter cleared.
        Restarted = "restarted",
    }
}

words! {
    /// What the skin shows.
    Response, "response" {
        /// Immediate whitening.
        Whitening = "whitening",
        /// Pinpoint bleeding.
        PinpointBleeding = "pinpoint-bleeding",
        /// Purpura.
        Purpura = "purpura",
        /// Redness.
        Redness = "redness",
        /// Swelling.
        Swelling = "swelling",
        /// A blister.
        Blister = "blister",
        /// Tissue thrown out.
        Splatter = "splatter",
        /// The epidermis separates: a wet, sliding surface.
        Separation = "epidermal-separation",
        /// The ink turns dark.
        Darkening = "darkening",
        /// Wheals.
        Wheals = "wheals",
        /// Signs beyond the skin: breathlessness, dizziness, swelling of face or tongue.
        Systemic = "systemic-signs",
        /// No response at all.
        NoResponse = "no-response",
        /// Pain, 0 to 10.
        Pain = "pain",
        /// The treated surface is wet.
        WetSurface = "wet-surface",
        /// Sparks, or pits that bleed.
        Sparks = "sparks-or-pits",
        /// Blue-grey spots.
        BlueGrey = "blue-grey",
        /// The handpiece left its spacer, or the spacer the skin.
        OffSpacer = "off-spacer",
        /// Several pulses fell on one place.
        Stacked = "pulses-on-one-place",
    }
}

words! {
    /// What an advice is about.
    Scope, "advice scope" {
        /// One zone.
        Zone = "zone",
        /// The whole session.
        Session = "session",
    }
}

/// An advice as it was raised.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Advice {
    /// The rule that raised it.
    pub rule: String,
    /// Its level when raised.
    pub level: Level,
    /// How far it reaches.
    pub scope: Scope,
    /// Zone it is about.
    pub zone: Option<ZoneId>,
    /// Pass it is about.
    pub pass: Option<u8>,
    /// The evidence, so that it is never raised twice for the same.
    pub evidence: String,
    /// What was seen.
    pub seen: String,
    /// What to do.
    pub action: String,
    /// Why.
    pub why: String,
    /// Setting in force.
    pub from: Option<Setting>,
    /// Proposed setting: reachable on the device and within every limit.
    pub to: Option<Setting>,
    /// Another setting that may be chosen instead: a larger spot with as much light at the ink and less in the epidermis.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub alternative: Option<Setting>,
    /// Source of the rule.
    pub source: String,
}

/// How an advice was answered.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "answer", rename_all = "kebab-case")]
pub enum AdviceAnswer {
    /// Followed.
    Accepted,
    /// The other setting that it offers was chosen.
    Alternative,
    /// Not followed.
    Declined {
        /// Why.
        reason: FreeText,
    },
    /// The zone or the session was stopped.
    Stopped,
}

words! {
    /// How a zone ended.
    ZoneOutcome, "zone outcome" {
        /// All that was wanted is done.
        Done = "done",
        /// Stopped on advice.
        Stopped = "stopped",
        /// Not treated.
        Skipped = "skipped",
    }
}

words! {
    /// How a session ended.
    SessionOutcome, "session outcome" {
        /// Treated as far as wanted.
        Completed = "completed",
        /// Treatment was stopped on advice.
        Stopped = "stopped",
        /// No pulse was fired: the checks refused it.
        Refused = "refused-by-checks",
        /// No pulse was fired for another reason.
        NotTreated = "not-treated",
    }
}
