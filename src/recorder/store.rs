//! Sinks that say how far events are really saved.

use super::{MemorySink, Sink};
use crate::coverage::Point;
use crate::journal::{DataDir, Writer, daybook};
use crate::session::Event;
use chrono::{DateTime, FixedOffset};
use std::path::{Path, PathBuf};

/// A sink that knows what a power cut would leave.
pub trait Store: Sink {
    /// All events up to this number are saved.
    fn saved_upto(&self) -> u64;
    /// The first event that is not saved and why, once saving has failed.
    fn failure(&self) -> Option<(u64, String)>;
    /// Goes on in another directory with everything recorded so far. Answers with the new file, and with what someone
    /// should know about it.
    ///
    /// # Errors
    /// In words, when that directory takes no file either.
    fn continue_in(&mut self, dir: &Path) -> Result<(PathBuf, Option<String>), String>;
    /// Where the events go.
    fn path(&self) -> PathBuf;
    /// Where the pulses of a zone's pass truly fell; only simulated skin knows.
    fn landed(&self, _zone: usize, _pass: u8) -> Option<Vec<Point>> {
        None
    }
}

impl Store for MemorySink {
    fn saved_upto(&self) -> u64 {
        self.events.len() as u64
    }
    fn failure(&self) -> Option<(u64, String)> {
        None
    }
    fn continue_in(&mut self, _: &Path) -> Result<(PathBuf, Option<String>), String> {
        Err("events in memory have no file to leave".to_owned())
    }
    fn path(&self) -> PathBuf {
        PathBuf::from("memory")
    }
}

/// The journal as a sink.
pub struct JournalSink {
    writer: Writer<Event>,
    dir: DataDir,
    last_at: Option<DateTime<FixedOffset>>,
}

impl JournalSink {
    /// A sink that writes a session of this data directory.
    #[must_use]
    pub const fn new(writer: Writer<Event>, dir: DataDir) -> Self {
        Self { writer, dir, last_at: None }
    }

    /// The writer, to be closed.
    #[must_use]
    pub fn into_writer(self) -> Writer<Event> {
        self.writer
    }
}

impl Sink for JournalSink {
    fn append(&mut self, at: DateTime<FixedOffset>, mono_ms: u64, event: &Event) -> Result<u64, String> {
        self.last_at = Some(at);
        self.writer.append(at, mono_ms, event).map_err(|e| e.to_string())
    }
}

impl Store for JournalSink {
    fn saved_upto(&self) -> u64 {
        self.writer.saved_upto()
    }
    fn failure(&self) -> Option<(u64, String)> {
        self.writer.failure()
    }
    fn continue_in(&mut self, dir: &Path) -> Result<(PathBuf, Option<String>), String> {
        let path = self.writer.continue_in(dir).map_err(|e| e.to_string())?;
        // The day book may be on the disk that failed; the session goes on all the same.
        let told = self.last_at.map(|at| daybook::continued(&self.dir, self.writer.id(), &path, at));
        let untold = told.and_then(Result::err).map(|e| format!("the day book does not know of it: {e}"));
        Ok((path, untold))
    }
    fn path(&self) -> PathBuf {
        self.writer.path().to_owned()
    }
}
