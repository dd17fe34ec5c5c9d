//! Sinks that say how far events are really saved.

use super::{MemorySink, Sink};
use crate::journal::Writer;
use crate::session::Event;
use chrono::{DateTime, FixedOffset};
use std::path::{Path, PathBuf};

/// A sink that knows what a power cut would leave.
pub trait Store: Sink {
    /// All events up to this number are saved.
    fn saved_upto(&self) -> u64;
    /// The first event that is not saved and why, once saving has failed.
    fn failure(&self) -> Option<(u64, String)>;
    /// Goes on in another directory with everything recorded so far.
    ///
    /// # Errors
    /// In words, when that directory takes no file either.
    fn continue_in(&mut self, dir: &Path) -> Result<PathBuf, String>;
    /// Where the events go.
    fn path(&self) -> PathBuf;
}

impl Store for MemorySink {
    fn saved_upto(&self) -> u64 {
        self.events.len() as u64
    }
    fn failure(&self) -> Option<(u64, String)> {
        None
    }
    fn continue_in(&mut self, _: &Path) -> Result<PathBuf, String> {
        Err("events in memory have no file to leave".to_owned())
    }
    fn path(&self) -> PathBuf {
        PathBuf::from("memory")
    }
}

/// The journal as a sink.
pub struct JournalSink(pub Writer<Event>);

impl Sink for JournalSink {
    fn append(&mut self, at: DateTime<FixedOffset>, mono_ms: u64, event: &Event) -> Result<u64, String> {
        self.0.append(at, mono_ms, event).map_err(|e| e.to_string())
    }
}

impl Store for JournalSink {
    fn saved_upto(&self) -> u64 {
        self.0.saved_upto()
    }
    fn failure(&self) -> Option<(u64, String)> {
        self.0.failure()
    }
    fn continue_in(&mut self, dir: &Path) -> Result<PathBuf, String> {
        self.0.continue_in(dir).map_err(|e| e.to_string())
    }
    fn path(&self) -> PathBuf {
        self.0.path().to_owned()
    }
}
