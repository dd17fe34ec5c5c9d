//! What a format is made from, and what must be said of it.

use super::happened::Happened;
use crate::journal::{Digest, ReadBack, Verdict};
use crate::review::{Summary, TimelineEntry, summarise, timeline};
use crate::session::{Event, Stamp, State};
use crate::text::shown;
use chrono::{DateTime, FixedOffset};

/// How the journal stands that a record was read from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Standing {
    /// What a look through the file found.
    pub verdict: Verdict,
    /// Free texts that are no longer there.
    pub erased: u64,
    /// Free texts that are not what was recorded.
    pub altered: u64,
    /// Events of a later version, which this one leaves out.
    pub not_understood: u64,
}

impl Standing {
    /// Of a journal that was read.
    #[must_use]
    pub fn of(back: &ReadBack<Event>, events: &[(Stamp, Event)]) -> Self {
        let unknown = events.iter().filter(|(_, e)| *e == Event::Unknown).count() + back.not_understood.len();
        Self {
            verdict: back.verdict.clone(),
            erased: back.notes.erased,
            altered: back.notes.altered,
            not_understood: unknown as u64,
        }
    }

    /// The hash of the last line; only a journal whose chain holds to its end has one to compare by.
    #[must_use]
    pub const fn head(&self) -> Option<Digest> {
        match &self.verdict {
            Verdict::Clean { head } | Verdict::Unterminated { head } => Some(*head),
            _ => None,
        }
    }

    /// Why the record is not whole, in words; none when all that was recorded is there, unchanged and understood. A text
    /// that was erased on purpose is no damage.
    #[must_use]
    pub fn damage(&self) -> Option<String> {
        let mut why = Vec::new();
        if !self.verdict.is_sound() {
            why.push(format!("journal {}", shown(&self.verdict.to_string())));
        }
        if self.altered > 0 {
            why.push(format!("{} free texts are not what was recorded and are left out", self.altered));
        }
        if self.not_understood > 0 {
            why.push(format!("{} events are of a later version and are left out", self.not_understood));
        }
        (!why.is_empty()).then(|| why.join("; "))
    }
}

/// Something that must be said of a record wherever it is shown.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Mark {
    /// Simulated skin: nobody was treated. Holds the scenario.
    Practice(String),
    /// Not all that was recorded is there, with why.
    Damaged(String),
    /// The session was not closed.
    NotClosed,
}

impl Mark {
    /// The mark itself.
    #[must_use]
    pub const fn word(&self) -> &'static str {
        match self {
            Self::Practice(_) => "PRACTICE",
            Self::Damaged(_) => "DAMAGED",
            Self::NotClosed => "NOT CLOSED",
        }
    }

    /// What it means.
    #[must_use]
    pub fn why(&self) -> String {
        match self {
            Self::Practice(scenario) => {
                format!("PRACTICE on simulated skin, scenario {scenario}: nobody was treated")
            }
            Self::Damaged(why) => format!("DAMAGED: only what can be read is here; {why}"),
            Self::NotClosed => "NOT CLOSED: the session may go on, and figures may change".to_owned(),
        }
    }
}

/// A recorded session with its figures.
#[derive(Debug)]
pub struct SessionRecord {
    /// As the events fold.
    pub state: State,
    /// Its figures.
    pub summary: Summary,
    /// What happened, in order.
    pub timeline: Vec<TimelineEntry>,
    /// What happened when, for pictures and for what needs a time.
    pub happened: Happened,
    /// How its journal stands.
    pub standing: Standing,
    /// The program that makes the report, with its version.
    pub made_by: String,
    /// When the report is made.
    pub made_at: DateTime<FixedOffset>,
}

impl SessionRecord {
    /// The record of a journal that was read; none when its events do not begin with the opening of a session.
    #[must_use]
    pub fn of(
        events: &[(Stamp, Event)],
        standing: Standing,
        made_by: &str,
        made_at: DateTime<FixedOffset>,
    ) -> Option<Self> {
        let (state, happened) = Happened::of(events)?;
        let summary = summarise(events)?;
        let timeline = timeline(events);
        Some(Self { state, summary, timeline, happened, standing, made_by: made_by.to_owned(), made_at })
    }

    /// True for PRACTICE on simulated skin.
    #[must_use]
    pub const fn is_practice(&self) -> bool {
        self.state.opened.practice.is_some()
    }

    /// What must be said of it.
    #[must_use]
    pub fn marks(&self) -> Vec<Mark> {
        let practice = self.summary.practice.clone().map(Mark::Practice);
        let damaged = self.standing.damage().map(Mark::Damaged);
        let open = self.state.closed.is_none().then_some(Mark::NotClosed);
        [practice, damaged, open].into_iter().flatten().collect()
    }

    /// The words of the marks in one line; empty when there is nothing to say.
    #[must_use]
    pub fn mark_words(&self) -> String {
        self.marks().iter().map(Mark::word).collect::<Vec<_>>().join(", ")
    }

    /// The code of the operator, where the checklist has an item `operator` and it was answered.
    #[must_use]
    pub fn operator(&self) -> Option<String> {
        match self.state.checks.get("operator")?.answer.as_ref()? {
            crate::session::Answer::Value { value } => value.text().map(shown),
            _ => None,
        }
    }

    /// The state of the record in one line.
    #[must_use]
    pub fn standing_words(&self) -> String {
        let erased = match self.standing.erased {
            0 => String::new(),
            n => format!("; {n} free texts were erased"),
        };
        match self.standing.damage() {
            Some(why) => format!("DAMAGED: {why}{erased}"),
            None => format!("sound: every record follows the one before{erased}"),
        }
    }
}
