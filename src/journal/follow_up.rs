//! What is recorded after a session was closed: a chain of its own beside the journal, which is never touched again.
//!
//! `<id>.followup.jsonl` has the journals' line format under the name `<id>/follow-up/<head>`, head being the hash of
//! the closed journal's last record, so that it can belong to no other journal and to no other state of this one. Its
//! free texts are in `<id>.followup.notes.jsonl`. Two programs may share it: each entry is made under a short lock,
//! and what is decided on earlier entries is decided under that lock.

use super::daybook::hold_soon;
use super::file::{NotesFile, RealFile, open_shared, open_to_read, parent, survive_size_limit, sync_dir};
use super::line::Chain;
use super::notes::{self, Notes, take_out};
use super::read::{decode, read_notes, session_of};
use super::recover::{Mended, mend};
use super::scan::scan;
use super::writer::{decode_all, mend_notes, salt, size};
use super::{Digest, JournalError, JournalFile, NotUnderstood, NotesTally, Record, Recovery, SessionId, Verdict};
use chrono::{DateTime, FixedOffset};
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::io::{self, BufReader};
use std::path::{Path, PathBuf};

/// The follow-ups' file beside a journal, whether or not it exists.
#[must_use]
pub fn follow_up_path(journal: &Path) -> PathBuf {
    journal.with_extension("followup.jsonl")
}

fn start(id: &SessionId, head: Digest) -> Chain {
    Chain::start(&format!("{id}/follow-up/{head}"))
}

/// The follow-ups of one closed journal, held for one more.
pub struct FollowUps<E> {
    path: PathBuf,
    file: RealFile,
    chain: Chain,
    bytes: u64,
    notes_bytes: u64,
    records: Vec<Record<E>>,
    recovery: Recovery,
}

impl<E: Serialize + DeserializeOwned> FollowUps<E> {
    /// Takes the follow-ups of a journal that ends in `head`: makes their file if there is none yet, holds it, mends a
    /// cut-off end, and reads all entries.
    ///
    /// # Errors
    /// When another process holds it for two seconds, when it is damaged or belongs to another journal, when one of its
    /// entries is not understood, or when the directory takes no file.
    pub fn hold(journal: &Path, head: Digest) -> Result<Self, JournalError> {
        let id = session_of(journal)?;
        let path = follow_up_path(journal);
        survive_size_limit();
        let file = open_shared(&path)?;
        hold_soon(&file, &path)?;
        let Mended { chain, lines, recovery } = mend(&file, &path, start(&id, head))?;
        if chain.seq == 0 {
            sync_dir(parent(&path)).map_err(|e| JournalError::io("sync the directory", parent(&path), e))?;
        }
        let bytes = lines.iter().map(|line| size(line)).sum();
        let notes = mend_notes(&path)?;
        let records = decode_all(&lines, &notes, &path)?;
        let file = RealFile::new(file, path.clone());
        Ok(Self { path, file, chain, bytes, notes_bytes: size(&notes), records, recovery })
    }

    /// The entries so far.
    #[must_use]
    pub fn records(&self) -> &[Record<E>] {
        &self.records
    }

    /// How the file was found.
    #[must_use]
    pub const fn recovery(&self) -> &Recovery {
        &self.recovery
    }

    /// Adds one entry and lets the file go. It answers with the entry's number and hash once the entry would survive a
    /// power cut.
    ///
    /// # Errors
    /// When the entry cannot be one line, or cannot be written and synced; it is not recorded then.
    pub fn append(mut self, at: DateTime<FixedOffset>, event: &E) -> Result<(u64, Digest), JournalError> {
        let refuse = |reason: String| JournalError::Event { reason };
        let json = serde_json::to_string(event).map_err(|e| refuse(e.to_string()))?;
        let split = take_out(&json, self.chain.seq.saturating_add(1), salt).map_err(refuse)?;
        let line = self.chain.extend(at, 0, &split.event).map_err(refuse)?;
        // Texts first: a line never stands there without them.
        if !split.notes.is_empty() {
            let notes_path = notes::beside(&self.path);
            let mut file = NotesFile::new(notes_path.clone(), self.notes_bytes);
            file.append(&split.notes)
                .and_then(|()| file.sync_data())
                .and_then(|()| file.check(self.notes_bytes.saturating_add(size(&split.notes))))
                .map_err(|e| JournalError::io("write the follow-up's texts", &notes_path, e))?;
        }
        self.file
            .append(&line)
            .and_then(|()| self.file.sync_data())
            .and_then(|()| self.file.check(self.bytes.saturating_add(size(&line))))
            .map_err(|e| JournalError::io("write the follow-up", &self.path, e))?;
        Ok((self.chain.seq, self.chain.head))
    }
}

/// What was read from the follow-ups of a journal.
#[derive(Debug, Clone, PartialEq)]
pub struct FollowUpsRead<E> {
    /// All entries before the first damage.
    pub records: Vec<Record<E>>,
    /// Entries that are sound but not understood.
    pub not_understood: Vec<NotUnderstood>,
    /// The figures and the state of the chain.
    pub report: FollowUpReport,
}

/// The figures of one follow-up chain.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FollowUpReport {
    /// The file.
    pub path: PathBuf,
    /// Sound entries before the first damage.
    pub records: u64,
    /// For each sound entry its hash and how many bytes of the file end with it.
    #[serde(skip)]
    pub ends: Vec<(Digest, u64)>,
    /// The hash of the last sound entry.
    pub head: Option<Digest>,
    /// The state of the chain.
    pub verdict: Verdict,
    /// What became of the free texts.
    pub notes: NotesTally,
}

impl FollowUpReport {
    /// True when nothing recorded is missing or changed; a file that holds nothing yet is in order.
    #[must_use]
    pub const fn is_ok(&self) -> bool {
        matches!(self.verdict, Verdict::Clean { .. } | Verdict::Empty) && self.notes.altered == 0
    }
}

/// Reads the follow-ups of a journal that ends in `head`, up to the first damage, without holding or changing them;
/// none where there is no such file.
///
/// # Errors
/// When the file cannot be read at all or is no plain file. Damage is no error but a verdict; of a file that belongs to
/// another journal it is [`Verdict::FrontReplaced`].
pub fn read_follow_ups<E: DeserializeOwned>(
    journal: &Path,
    head: Digest,
) -> Result<Option<FollowUpsRead<E>>, JournalError> {
    let id = session_of(journal)?;
    let path = follow_up_path(journal);
    let file = match open_to_read(&path) {
        Err(JournalError::Io { source, .. }) if source.kind() == io::ErrorKind::NotFound => return Ok(None),
        other => other?,
    };
    let mut notes = Notes::parse(&read_notes(&path)?);
    let (mut records, mut not_understood, mut ends, mut bytes) = (Vec::new(), Vec::new(), Vec::new(), 0_u64);
    let found = scan(BufReader::new(file), start(&id, head), |line| {
        bytes = bytes.saturating_add(size(line.bytes)).saturating_add(1);
        ends.push((line.envelope.hash, bytes));
        match decode(&line.envelope, &mut notes) {
            Ok(record) => records.push(record),
            Err(other) => not_understood.push(other),
        }
    })
    .map_err(|e| JournalError::io("read the follow-ups", &path, e))?;
    let report = FollowUpReport {
        records: found.chain.seq,
        head: ends.last().map(|(hash, _)| *hash),
        ends,
        verdict: found.verdict,
        notes: notes.tally,
        path,
    };
    Ok(Some(FollowUpsRead { records, not_understood, report }))
}
