//! The day book: one chained file that lists every session, so that a missing or shortened file shows.
//!
//! It has the journals' line format under the name `daybook`. Its events are
//! `{"kind":"opened","session":"<id>","file":"2026/11/<id>.jsonl"}`,
//! `{"kind":"continued","session":"<id>","path":"/elsewhere/<id>.jsonl"}` and
//! `{"kind":"closed","session":"<id>","head":"<64 hex>","count":60}`. Two programs may share it: each entry is made
//! under a short lock. A day book that is damaged or cannot be written is told, but stops no session.

use super::file::{RealFile, hold, open_shared, open_to_read, parent, sync_dir};
use super::line::Chain;
use super::recover::mend;
use super::scan::scan;
use super::{DataDir, Digest, JournalError, JournalFile, SessionId, Verdict};
use chrono::{DateTime, FixedOffset};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::fs::File;
use std::io::{self, BufReader};
use std::path::{Path, PathBuf};
use std::time::Duration;

const NAME: &str = "daybook";
const LOCK_TRIES: u32 = 200;
const LOCK_PAUSE: Duration = Duration::from_millis(10);

/// One entry.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
enum Entry {
    Opened { session: SessionId, file: String },
    Continued { session: SessionId, path: PathBuf },
    Closed { session: SessionId, head: Digest, count: u64 },
}

/// Lists a session as opened, or opened again.
///
/// # Errors
/// When the day book cannot be written, is damaged, or is held by another process for two seconds.
pub fn opened(dir: &DataDir, id: &SessionId, at: DateTime<FixedOffset>) -> Result<(), JournalError> {
    let file = format!("{}/{}/{}", id.year(), id.month(), id.file_name());
    enter(dir, at, &Entry::Opened { session: id.clone(), file })
}

/// Lists that a session goes on in another file, so that nobody resumes the one it left.
///
/// # Errors
/// When the day book cannot be written, is damaged, or is held by another process for two seconds.
pub fn continued(dir: &DataDir, id: &SessionId, path: &Path, at: DateTime<FixedOffset>) -> Result<(), JournalError> {
    let path = std::path::absolute(path).map_err(|e| JournalError::io("name the file", path, e))?;
    enter(dir, at, &Entry::Continued { session: id.clone(), path })
}

/// Lists a session as closed, with the hash of its last record and how many there are.
///
/// # Errors
/// When the day book cannot be written, is damaged, or is held by another process for two seconds.
pub fn closed(
    dir: &DataDir,
    id: &SessionId,
    head: Digest,
    count: u64,
    at: DateTime<FixedOffset>,
) -> Result<(), JournalError> {
    enter(dir, at, &Entry::Closed { session: id.clone(), head, count })
}

fn enter(dir: &DataDir, at: DateTime<FixedOffset>, entry: &Entry) -> Result<(), JournalError> {
    let path = dir.daybook_path();
    let file = open_shared(&path)?;
    hold_soon(&file, &path)?;
    let failed = |e| JournalError::io("write the day book", &path, e);
    let mended = mend(&file, &path, Chain::start(NAME))?;
    if mended.chain.seq == 0 {
        sync_dir(parent(&path)).map_err(failed)?;
    }
    let mut chain = mended.chain;
    let refuse = |reason: String| JournalError::Event { reason };
    let json = serde_json::to_string(entry).map_err(|e| refuse(e.to_string()))?;
    let line = chain.extend(at, 0, &json).map_err(refuse)?;
    let len: usize = mended.lines.iter().map(|line| line.len()).sum::<usize>() + line.len();
    let mut file = RealFile::new(file, path.clone());
    file.append(&line)
        .and_then(|()| file.sync_data())
        .and_then(|()| file.check(u64::try_from(len).unwrap_or(u64::MAX)))
        .map_err(failed)
}

/// Takes the lock, waiting a little for another program's entry to be done.
pub(super) fn hold_soon(file: &File, path: &Path) -> Result<(), JournalError> {
    for _ in 1..LOCK_TRIES {
        match hold(file, path) {
            Err(JournalError::HeldElsewhere { .. }) => std::thread::sleep(LOCK_PAUSE),
            other => return other,
        }
    }
    hold(file, path)
}

/// All entries before the first damage, with their times, and the day book's state.
type Entries = (Vec<(DateTime<FixedOffset>, Entry)>, Verdict);

fn entries(dir: &DataDir) -> Result<Entries, JournalError> {
    let path = dir.daybook_path();
    let file = match open_to_read(&path) {
        Err(JournalError::Io { source, .. }) if source.kind() == io::ErrorKind::NotFound => {
            return Ok((Vec::new(), Verdict::Empty));
        }
        other => other?,
    };
    let mut entries = Vec::new();
    let found = scan(BufReader::new(file), Chain::start(NAME), |line| {
        // An entry of a later version's kind is passed over.
        if let Ok(entry) = serde_json::from_str(line.envelope.event.get()) {
            entries.push((line.envelope.at, entry));
        }
    })
    .map_err(|e| JournalError::io("read the day book", &path, e))?;
    Ok((entries, found.verdict))
}

/// A session that was not closed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OpenSession {
    /// The session.
    pub id: SessionId,
    /// Its journal: the one it was last continued in, which may be outside the data directory.
    pub path: PathBuf,
    /// When it was opened; none if the day book does not list it, so that its journal alone can tell its state.
    pub opened_at: Option<DateTime<FixedOffset>>,
}

/// The sessions that may be taken up again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OpenSessions {
    /// The newest first.
    pub sessions: Vec<OpenSession>,
    /// The state of the day book they were found by.
    pub daybook: Verdict,
}

impl DataDir {
    /// The sessions that have a journal and were not closed, going by the day book and the file names; no journal is
    /// opened.
    ///
    /// # Errors
    /// When the day book or a directory cannot be read.
    pub fn open_sessions(&self) -> Result<OpenSessions, JournalError> {
        let (entries, daybook) = entries(self)?;
        // The last entry of a session counts: none for closed.
        let mut listed = BTreeMap::new();
        let mut moved = BTreeMap::new();
        for (at, entry) in entries {
            match entry {
                Entry::Opened { session, .. } => drop(listed.insert(session, Some(at))),
                Entry::Closed { session, .. } => drop(listed.insert(session, None)),
                Entry::Continued { session, path } => drop(moved.insert(session, path)),
            }
        }
        let open = self.list()?.into_iter().filter_map(|found| {
            let opened_at = match listed.get(&found.id) {
                Some(None) => return None,
                Some(&opened_at) => opened_at,
                None => None,
            };
            // Also when that file is not there now: the one it left lacks its later events.
            let path = moved.remove(&found.id).unwrap_or(found.path);
            Some(OpenSession { id: found.id, path, opened_at })
        });
        Ok(OpenSessions { sessions: open.collect(), daybook })
    }
}

/// Something that the day book and the session files do not agree on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "finding", rename_all = "snake_case")]
pub enum Finding {
    /// The day book itself is not sound; entries from there on were not looked at.
    DayBook {
        /// Its state.
        verdict: Verdict,
    },
    /// A listed session has no file.
    Missing {
        /// The session.
        session: SessionId,
    },
    /// A session's file holds fewer records than when it was closed.
    Shorter {
        /// The session.
        session: SessionId,
        /// How many it had when it was closed.
        closed_with: u64,
        /// How many sound ones it has.
        found: u64,
    },
    /// The record a session was closed with is not the one it has there now.
    HeadDiffers {
        /// The session.
        session: SessionId,
        /// The number of that record.
        count: u64,
    },
    /// A session's file is damaged or cannot be read.
    Damaged {
        /// The session.
        session: SessionId,
        /// What is wrong.
        reason: String,
    },
    /// A session's file that the day book does not list.
    Unlisted {
        /// The session.
        session: SessionId,
    },
}

impl fmt::Display for Finding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::DayBook { verdict } => write!(f, "the day book is {verdict}"),
            Self::Missing { session } => write!(f, "{session}: listed in the day book, but its file is missing"),
            Self::Shorter { session, closed_with, found } => {
                write!(f, "{session}: closed with {closed_with} records, but {found} are there")
            }
            Self::HeadDiffers { session, count } => {
                write!(f, "{session}: record {count} is not the one the session was closed with")
            }
            Self::Damaged { session, reason } => write!(f, "{session}: {reason}"),
            Self::Unlisted { session } => write!(f, "{session}: not listed in the day book"),
        }
    }
}

/// Compares the day book with all session files. Every file is read.
///
/// # Errors
/// When the day book or a directory cannot be read.
pub fn audit(dir: &DataDir) -> Result<Vec<Finding>, JournalError> {
    let (entries, verdict) = entries(dir)?;
    // For each session the closings: count and head. Records may follow a closing, but none may change.
    let mut listed: BTreeMap<SessionId, Vec<(u64, Digest)>> = BTreeMap::new();
    for (_, entry) in entries {
        match entry {
            Entry::Opened { session, .. } | Entry::Continued { session, .. } => listed.entry(session).or_default(),
            Entry::Closed { session, head, count } => {
                let closings = listed.entry(session).or_default();
                closings.push((count, head));
                closings
            }
        };
    }
    let mut findings = Vec::new();
    let there: BTreeSet<_> = dir.list()?.into_iter().map(|entry| entry.id).collect();
    for (session, closings) in &listed {
        if there.contains(session) {
            compare(dir, session, closings, &mut findings);
        } else {
            findings.push(Finding::Missing { session: session.clone() });
        }
    }
    if matches!(verdict, Verdict::Clean { .. } | Verdict::Empty) {
        let unlisted = there.into_iter().filter(|session| !listed.contains_key(session));
        findings.extend(unlisted.map(|session| Finding::Unlisted { session }));
    } else {
        findings.insert(0, Finding::DayBook { verdict });
    }
    Ok(findings)
}

fn compare(dir: &DataDir, session: &SessionId, closings: &[(u64, Digest)], findings: &mut Vec<Finding>) {
    let path = dir.journal_path(session);
    let mut heads = BTreeMap::new();
    let scanned = open_to_read(&path).map_err(|e| e.to_string()).and_then(|file| {
        let note = |line: &super::scan::Sound<'_>| {
            if closings.iter().any(|(count, _)| *count == line.envelope.seq) {
                heads.insert(line.envelope.seq, line.envelope.hash);
            }
        };
        scan(BufReader::new(file), Chain::start(session.as_str()), note).map_err(|e| e.to_string())
    });
    let found = match scanned {
        Ok(found) => found,
        Err(reason) => {
            findings.push(Finding::Damaged { session: session.clone(), reason });
            return;
        }
    };
    let open = closings.is_empty();
    if !(found.verdict.is_sound() || open && found.verdict.allows_appending()) {
        findings.push(Finding::Damaged { session: session.clone(), reason: found.verdict.to_string() });
    }
    let session = || session.clone();
    findings.extend(closings.iter().filter_map(|&(count, head)| match heads.get(&count) {
        Some(&there) if there == head => None,
        Some(_) => Some(Finding::HeadDiffers { session: session(), count }),
        None => Some(Finding::Shorter { session: session(), closed_with: count, found: found.chain.seq }),
    }));
}
