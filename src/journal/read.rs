//! Reading a journal without holding or changing it.

use super::file::open_to_read;
use super::line::{Chain, Envelope};
use super::notes::{self, Notes, NotesTally};
use super::scan::scan;
use super::{Digest, JournalError, SessionId, Verdict};
use chrono::{DateTime, FixedOffset};
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::fs::File;
use std::io::{self, BufReader, Read};
use std::path::{Path, PathBuf};

/// One record of a journal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Record<E> {
    /// Its number, from 1; this alone gives the order.
    pub seq: u64,
    /// When, by the wall clock, to the millisecond.
    pub at: DateTime<FixedOffset>,
    /// When, in milliseconds since the process that wrote it started.
    pub mono_ms: u64,
    /// What happened.
    pub event: E,
}

/// A sound record whose event this version does not understand.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NotUnderstood {
    /// Its number, from 1.
    pub seq: u64,
    /// When, by the wall clock.
    pub at: DateTime<FixedOffset>,
    /// The event as it stands in the file, with its free texts put back.
    pub event: String,
    /// What the reader said.
    pub reason: String,
}

/// What was read from a journal.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadBack<E> {
    /// The session.
    pub id: SessionId,
    /// All records before the first damage.
    pub records: Vec<Record<E>>,
    /// Records before the first damage that are sound but not understood; they are not among `records`.
    pub not_understood: Vec<NotUnderstood>,
    /// The state of the chain, whatever its events say.
    pub verdict: Verdict,
    /// What became of the free texts.
    pub notes: NotesTally,
}

/// Reads a session's journal, up to the first damage. It is neither held nor changed, so that this also works while
/// a session is running; the last line may then be only half there.
///
/// # Errors
/// When the file cannot be read at all, is no plain file, or is not named as a session's journal. Damage is no error
/// but a verdict.
pub fn read<E: DeserializeOwned>(path: &Path) -> Result<ReadBack<E>, JournalError> {
    let id = session_of(path)?;
    let file = open_to_read(path)?;
    let mut notes = Notes::parse(&read_notes(path)?);
    let (mut records, mut not_understood) = (Vec::new(), Vec::new());
    let found =
        scan(BufReader::new(file), Chain::start(id.as_str()), |line| match decode(&line.envelope, &mut notes) {
            Ok(record) => records.push(record),
            Err(other) => not_understood.push(other),
        })
        .map_err(|e| JournalError::io("read the file", path, e))?;
    Ok(ReadBack { id, records, not_understood, verdict: found.verdict, notes: notes.tally })
}

/// Puts the free texts back and reads the event.
pub(super) fn decode<E: DeserializeOwned>(line: &Envelope<'_>, notes: &mut Notes) -> Result<Record<E>, NotUnderstood> {
    let Envelope { seq, at, mono_ms, event, .. } = *line;
    let event = notes.join(event.get());
    match serde_json::from_str(&event) {
        Ok(event) => Ok(Record { seq, at, mono_ms, event }),
        Err(e) => Err(NotUnderstood { seq, at, event, reason: e.to_string() }),
    }
}

/// The session that a file name belongs to.
pub(super) fn session_of(path: &Path) -> Result<SessionId, JournalError> {
    SessionId::of_file(path).ok_or_else(|| JournalError::NotAJournal { path: path.to_owned() })
}

/// The bytes of the notes file beside a journal; none if there is no such file.
pub(super) fn read_notes(journal: &Path) -> Result<Vec<u8>, JournalError> {
    let path = notes::beside(journal);
    let mut bytes = Vec::new();
    match open_to_read(&path) {
        Ok(mut file) => {
            file.read_to_end(&mut bytes).map_err(|e| JournalError::io("read the notes", &path, e))?;
        }
        Err(JournalError::Io { source, .. }) if source.kind() == io::ErrorKind::NotFound => {}
        Err(e) => return Err(e),
    }
    Ok(bytes)
}

/// The figures of one journal, for a verdict that stands alone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct VerifyReport {
    /// The file.
    pub path: PathBuf,
    /// The session.
    pub id: SessionId,
    /// The file's length in bytes.
    pub bytes: u64,
    /// Sound records before the first damage.
    pub records: u64,
    /// Time of the first record.
    pub first_at: Option<DateTime<FixedOffset>>,
    /// Time of the last sound record.
    pub last_at: Option<DateTime<FixedOffset>>,
    /// The hash of the last sound record.
    pub head: Option<Digest>,
    /// The state of the chain.
    pub verdict: Verdict,
    /// What became of the free texts.
    pub notes: NotesTally,
}

impl VerifyReport {
    /// True when nothing recorded is missing or changed. A text that was erased is allowed, an altered one is not.
    #[must_use]
    pub const fn is_ok(&self) -> bool {
        self.verdict.is_sound() && self.notes.altered == 0
    }
}

/// Checks a session's journal and its free texts, whatever its events mean.
///
/// # Errors
/// When the file cannot be read at all, is no plain file, or is not named as a session's journal.
pub fn verify_file(path: &Path) -> Result<VerifyReport, JournalError> {
    let id = session_of(path)?;
    let file = open_to_read(path)?;
    let bytes = length(&file, path)?;
    let mut notes = Notes::parse(&read_notes(path)?);
    let (mut first_at, mut last_at) = (None, None);
    let found = scan(BufReader::new(file), Chain::start(id.as_str()), |line| {
        first_at = first_at.or(Some(line.envelope.at));
        last_at = Some(line.envelope.at);
        notes.join(line.envelope.event.get());
    })
    .map_err(|e| JournalError::io("read the file", path, e))?;
    let records = found.chain.seq;
    let head = (records > 0).then_some(found.chain.head);
    let path = path.to_owned();
    Ok(VerifyReport { path, id, bytes, records, first_at, last_at, head, verdict: found.verdict, notes: notes.tally })
}

fn length(file: &File, path: &Path) -> Result<u64, JournalError> {
    Ok(file.metadata().map_err(|e| JournalError::io("look at the file", path, e))?.len())
}
