//! The one way to change a session: decide, append, apply, and let the rules look.
//!
//! The recorder knows no terminal. Screens, practice and tests drive it with [`Command`]s; it hands each event to a
//! [`Sink`] before it is applied. The sink says by sequence number how far events are really saved.

mod store;

pub use store::{JournalSink, Store};

use crate::advice;
use crate::clock::{Clock, Now};
use crate::session::{Command, Event, Opened, Refusal, Stamp, State, decide, open};
use chrono::{DateTime, FixedOffset};
use std::sync::Arc;

/// Where events go to be kept.
pub trait Sink {
    /// Takes an event and answers with its sequence number; never waits for a disk.
    ///
    /// # Errors
    /// In words, when the event cannot even be written down as a line.
    fn append(&mut self, at: DateTime<FixedOffset>, mono_ms: u64, event: &Event) -> Result<u64, String>;

    /// What simulated skin has to say by now: events that nobody commanded. Outside practice there are none.
    fn answers(&mut self, _state: &State, _now: Now) -> Vec<Event> {
        Vec::new()
    }
}

/// A sink that keeps events in memory.
#[derive(Debug, Default)]
pub struct MemorySink {
    /// The events with their stamps, in order.
    pub events: Vec<(Stamp, Event)>,
}

impl Sink for MemorySink {
    fn append(&mut self, at: DateTime<FixedOffset>, mono_ms: u64, event: &Event) -> Result<u64, String> {
        let seq = self.events.len() as u64 + 1;
        self.events.push((Stamp { seq, at, mono_ms }, event.clone()));
        Ok(seq)
    }
}

/// Wall and monotonic clocks may drift apart this far between two events before it counts as a step.
const CLOCK_STEP_MS: i64 = 2_000;
/// Rounds of rules one command may set off; a rule table that does not settle must not hang the screen.
const ADVICE_ROUNDS: usize = 8;

/// A session being recorded.
pub struct Recorder<S> {
    state: State,
    sink: S,
    clock: Arc<dyn Clock>,
    last: Now,
}

/// Why a command had no effect.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RecordError {
    /// The session refused it.
    #[error("{0}")]
    Refused(Refusal),
    /// The event could not be written down.
    #[error("not recorded: {0}")]
    Sink(String),
}

impl From<Refusal> for RecordError {
    fn from(refusal: Refusal) -> Self {
        Self::Refused(refusal)
    }
}

impl<S: Sink> Recorder<S> {
    /// Opens a session and records its first events.
    ///
    /// # Errors
    /// [`RecordError::Refused`] when the plan lies outside the limits.
    pub fn open(opened: Opened, mut sink: S, clock: Arc<dyn Clock>) -> Result<Self, RecordError> {
        let now = clock.now();
        let events = open(&opened)?;
        let seq = sink
            .append(now.wall, now.mono_ms, &Event::SessionOpened(Box::new(opened.clone())))
            .map_err(RecordError::Sink)?;
        let state = State::new(Stamp { seq, at: now.wall, mono_ms: now.mono_ms }, opened);
        let mut recorder = Self { state, sink, clock, last: now };
        for event in &events {
            recorder.record(now, event)?;
        }
        recorder.run_rules(now)?;
        Ok(recorder)
    }

    /// Takes up a session that was cut off.
    ///
    /// # Errors
    /// [`RecordError::Sink`] when the resumption cannot be written down.
    pub fn resume(
        state: State,
        sink: S,
        clock: Arc<dyn Clock>,
        recovery: String,
        program: String,
    ) -> Result<Self, RecordError> {
        let last = clock.now();
        let mut recorder = Self { state, sink, clock, last };
        recorder.command(Command::Resume { recovery, program })?;
        Ok(recorder)
    }

    /// The session as it stands.
    pub const fn state(&self) -> &State {
        &self.state
    }

    /// The sink.
    pub const fn sink(&self) -> &S {
        &self.sink
    }

    /// The sink, to act on it.
    pub const fn sink_mut(&mut self) -> &mut S {
        &mut self.sink
    }

    /// Ends recording and gives the sink back.
    pub fn into_sink(self) -> S {
        self.sink
    }

    /// Reads the clock.
    pub fn now(&self) -> Now {
        self.clock.now()
    }

    /// The machine's own time, which keys are timed by.
    pub fn machine_ms(&self) -> u64 {
        self.clock.machine_ms()
    }

    /// Decides on a command and records what follows from it.
    ///
    /// # Errors
    /// [`RecordError::Refused`] with what to do next.
    pub fn command(&mut self, command: Command) -> Result<(), RecordError> {
        let now = self.clock.now();
        self.notice_clock_step(now, &command)?;
        let events = decide(&self.state, command, now)?;
        for event in &events {
            self.record(now, event)?;
        }
        self.hear_skin(now)?;
        self.run_rules(now)
    }

    /// Lets time pass: counts a running train and lets the rules look. True when something was recorded.
    ///
    /// # Errors
    /// [`RecordError::Sink`] when an event cannot be written down.
    pub fn tick(&mut self) -> Result<bool, RecordError> {
        let before = self.state.last.seq;
        let now = self.clock.now();
        if self.state.train.is_some() {
            self.command(Command::TrainTick)?;
        } else {
            self.hear_skin(now)?;
            self.run_rules(now)?;
        }
        Ok(self.state.last.seq != before)
    }

    fn record(&mut self, now: Now, event: &Event) -> Result<(), RecordError> {
        let seq = self.sink.append(now.wall, now.mono_ms, event).map_err(RecordError::Sink)?;
        self.state.apply(Stamp { seq, at: now.wall, mono_ms: now.mono_ms }, event);
        Ok(())
    }

    fn hear_skin(&mut self, now: Now) -> Result<(), RecordError> {
        for event in self.sink.answers(&self.state, now) {
            self.record(now, &event)?;
        }
        Ok(())
    }

    fn run_rules(&mut self, now: Now) -> Result<(), RecordError> {
        for _ in 0..ADVICE_ROUNDS {
            let events = advice::evaluate(&self.state, now);
            if events.is_empty() {
                break;
            }
            for event in &events {
                self.record(now, event)?;
            }
        }
        Ok(())
    }

    /// Order is by sequence number, so a stepped clock disorders nothing; it is recorded all the same.
    fn notice_clock_step(&mut self, now: Now, command: &Command) -> Result<(), RecordError> {
        let wall = (now.wall - self.last.wall).num_milliseconds();
        let mono = i64::try_from(now.mono_ms.saturating_sub(self.last.mono_ms)).unwrap_or(i64::MAX);
        self.last = now;
        let by_ms = wall.saturating_sub(mono);
        if by_ms.abs() > CLOCK_STEP_MS && !matches!(command, Command::Resume { .. }) {
            for event in decide(&self.state, Command::ClockStep { by_ms }, now)? {
                self.record(now, &event)?;
            }
        }
        Ok(())
    }
}
