//! Writing a session's journal.

use super::file::{NotesFile, RealFile, create_new, hold, open_held, parent, reserve, survive_size_limit, sync_dir};
use super::line::Chain;
use super::notes::{self, Notes, take_out};
use super::read::{decode, read_notes, session_of};
use super::recover::{Mended, mend};
use super::worker::{self, Acks, Files, Queued, Shared};
use super::{Ack, DataDir, Digest, JournalError, JournalFile, Record, Recovery, SessionId};
use chrono::{DateTime, FixedOffset};
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::fs::File;
use std::io::Write;
use std::marker::PhantomData;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Sender, channel};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::Duration;

/// Appends events to a session's journal.
///
/// [`append`](Self::append) never waits for the disk; a thread of its own writes, syncs and then reports. Every line
/// is also kept in memory, so that nothing is lost with the file and the session can go on in another directory.
pub struct Writer<E> {
    id: SessionId,
    path: PathBuf,
    chain: Chain,
    lines: Vec<Arc<[u8]>>,
    notes: Vec<u8>,
    acks: Acks,
    worker: Worker,
    events: PhantomData<fn(&E)>,
}

/// A session taken up again.
pub struct Resumed<E> {
    /// Goes on where the journal ends.
    pub writer: Writer<E>,
    /// All that was recorded.
    pub records: Vec<Record<E>>,
    /// How the file was found.
    pub recovery: Recovery,
}

impl<E: Serialize> Writer<E> {
    /// Makes the journal of a new session and holds it. Reports come from the writer's own thread, so that `acks` must
    /// neither wait long nor call the writer.
    ///
    /// # Errors
    /// When it exists already, or the directory takes no file.
    pub fn create(dir: &DataDir, id: &SessionId, acks: impl Fn(Ack) + Send + 'static) -> Result<Self, JournalError> {
        dir.make_month(id)?;
        let path = dir.journal_path(id);
        let file = new_file(&path)?;
        let notes = NotesFile::new(notes::beside(&path), 0);
        let files = Files {
            journal: Box::new(RealFile::new(file, path.clone())),
            journal_len: 0,
            notes: Box::new(notes),
            notes_len: 0,
        };
        Self::start(id.clone(), path, files, boxed(acks))
    }

    /// Writes a new session into any two files, the journal and its notes: for tests that need slow or failing ones.
    ///
    /// # Errors
    /// When no thread can be started.
    pub fn with_file(
        id: &SessionId,
        journal: Box<dyn JournalFile>,
        notes: Box<dyn JournalFile>,
        acks: impl Fn(Ack) + Send + 'static,
    ) -> Result<Self, JournalError> {
        let files = Files { journal, journal_len: 0, notes, notes_len: 0 };
        Self::start(id.clone(), PathBuf::from(id.file_name()), files, boxed(acks))
    }

    fn start(id: SessionId, path: PathBuf, files: Files, acks: Acks) -> Result<Self, JournalError> {
        let worker = Worker::spawn(files, 0, &acks, &path)?;
        let chain = Chain::start(id.as_str());
        Ok(Self { id, path, chain, lines: Vec::new(), notes: Vec::new(), acks, worker, events: PhantomData })
    }

    /// Takes up a session again: holds its journal, mends a cut-off end, and reads everything back.
    ///
    /// # Errors
    /// When another process holds it, when it is damaged, or when one of its events is not understood, since then the
    /// state to go on from is not known. Nothing is changed then but a cut-off end.
    pub fn resume(path: &Path, acks: impl Fn(Ack) + Send + 'static) -> Result<Resumed<E>, JournalError>
    where
        E: DeserializeOwned,
    {
        let id = session_of(path)?;
        survive_size_limit();
        let file = open_held(path)?;
        let mut journal =
            RealFile::new(file.try_clone().map_err(|e| JournalError::io("open the file", path, e))?, path.to_owned());
        let Mended { chain, lines, recovery } = mend(&file, path, Chain::start(id.as_str()))?;
        let journal_len = lines.iter().map(|line| size(line)).sum();
        journal.check(journal_len).map_err(|e| JournalError::io("hold the file", path, e))?;
        let notes = mend_notes(path)?;
        let records = decode_all(&lines, &notes, path)?;
        reserve(&file, path)?;
        let notes_file = NotesFile::new(notes::beside(path), size(&notes));
        let files =
            Files { journal: Box::new(journal), journal_len, notes: Box::new(notes_file), notes_len: size(&notes) };
        let acks = boxed(acks);
        let worker = Worker::spawn(files, chain.seq, &acks, path)?;
        let writer = Self { id, path: path.to_owned(), chain, lines, notes, acks, worker, events: PhantomData };
        Ok(Resumed { writer, records, recovery })
    }

    /// Chains the event to the ones before and queues it for writing. Returns its number.
    ///
    /// It is kept in memory also when writing has failed; [`failure`](Self::failure) tells since when.
    ///
    /// # Errors
    /// When the event cannot be one line: too long, too deep, or using the reserved fields of the notes in another
    /// way. Nothing is recorded then, and the next event takes the number.
    pub fn append(&mut self, at: DateTime<FixedOffset>, mono_ms: u64, event: &E) -> Result<u64, JournalError> {
        let refuse = |reason: String| JournalError::Event { reason };
        let json = serde_json::to_string(event).map_err(|e| refuse(e.to_string()))?;
        let split = take_out(&json, self.chain.seq.saturating_add(1), salt).map_err(refuse)?;
        let line: Arc<[u8]> = self.chain.extend(at, mono_ms, &split.event).map_err(refuse)?.into();
        self.lines.push(Arc::clone(&line));
        self.notes.extend_from_slice(&split.notes);
        let seq = self.chain.seq;
        if !self.worker.send(Queued { seq, line, notes: split.notes }) {
            worker::report(&self.acks, self.worker.shared.fail("the writing thread has stopped"));
        }
        Ok(seq)
    }
}

impl<E> Writer<E> {
    /// The session.
    #[must_use]
    pub const fn id(&self) -> &SessionId {
        &self.id
    }

    /// The file that is being written.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The number of the last event, saved or not; 0 before the first.
    #[must_use]
    pub const fn last_seq(&self) -> u64 {
        self.chain.seq
    }

    /// The hash of the last event, saved or not.
    #[must_use]
    pub const fn head(&self) -> Digest {
        self.chain.head
    }

    /// All events up to this number would survive a power cut.
    #[must_use]
    pub fn saved_upto(&self) -> u64 {
        self.worker.shared.saved()
    }

    /// The first event that is not on disk and the system's answer, once writing has failed.
    #[must_use]
    pub fn failure(&self) -> Option<(u64, String)> {
        self.worker.shared.failure()
    }

    /// Waits until all that was appended is saved; false when writing failed or the time is up.
    #[must_use]
    pub fn wait_saved(&self, at_most: Duration) -> bool {
        self.worker.shared.wait_saved(self.chain.seq, at_most)
    }

    /// Goes on in another directory: writes all lines so far, saved or not, to a new file there, byte for byte, syncs
    /// it, and appends to it from now on. The old file is left as it is. Returns the new file.
    ///
    /// This waits for the disk it writes to.
    ///
    /// # Errors
    /// When the file cannot be made or written there. Everything then is as it was before.
    pub fn continue_in(&mut self, dir: &Path) -> Result<PathBuf, JournalError> {
        let path = dir.join(self.id.file_name());
        let notes_path = notes::beside(&path);
        let mut made = Made::default();
        if !self.notes.is_empty() {
            made.write(&notes_path, &[&self.notes], create_new)?;
        }
        let lines: Vec<&[u8]> = self.lines.iter().map(AsRef::as_ref).collect();
        let file = made.write(&path, &lines, new_file)?;
        sync_dir(dir).map_err(|e| JournalError::io("sync the directory", dir, e))?;
        let journal_len = lines.iter().map(|line| size(line)).sum();
        let notes_len = size(&self.notes);
        let mut journal = RealFile::new(file, path.clone());
        journal.check(journal_len).map_err(|e| JournalError::io("write the file", &path, e))?;
        let notes = NotesFile::new(notes_path, notes_len);
        let files = Files { journal: Box::new(journal), journal_len, notes: Box::new(notes), notes_len };
        let worker = Worker::spawn(files, self.chain.seq, &self.acks, &path)?;
        made.keep();
        std::mem::replace(&mut self.worker, worker).retire();
        self.path.clone_from(&path);
        worker::report(&self.acks, Some(Ack::Saved { upto_seq: self.chain.seq }));
        Ok(path)
    }

    /// Waits for the last report and lets the file go.
    ///
    /// # Errors
    /// When not all that was appended is on disk.
    pub fn close(mut self) -> Result<(), JournalError> {
        self.worker.finish();
        match self.failure() {
            Some((since_seq, reason)) => Err(JournalError::Unsaved { since_seq, reason }),
            None if self.saved_upto() < self.chain.seq => Err(JournalError::Unsaved {
                since_seq: self.saved_upto().saturating_add(1),
                reason: "the writing thread has stopped".to_owned(),
            }),
            None => Ok(()),
        }
    }
}

/// The thread that writes, and this side's ends of what leads to it.
struct Worker {
    queue: Option<Sender<Queued>>,
    thread: Option<JoinHandle<()>>,
    shared: Arc<Shared>,
}

impl Worker {
    fn spawn(files: Files, saved: u64, acks: &Acks, path: &Path) -> Result<Self, JournalError> {
        let (queue, receiver) = channel();
        let shared = Shared::saved_to(saved);
        let (theirs, acks) = (Arc::clone(&shared), Arc::clone(acks));
        let thread = std::thread::Builder::new()
            .name("journal".to_owned())
            .spawn(move || worker::run(files, &receiver, &theirs, &acks))
            .map_err(|e| JournalError::io("start the writing thread", path, e))?;
        Ok(Self { queue: Some(queue), thread: Some(thread), shared })
    }

    /// False when there is nobody to take it.
    fn send(&self, item: Queued) -> bool {
        self.queue.as_ref().is_some_and(|queue| queue.send(item).is_ok())
    }

    /// Lets the thread end once its queue is empty, and waits for that.
    fn finish(&mut self) {
        self.queue = None;
        if let Some(thread) = self.thread.take() {
            // A thread that panicked has saved no more than it reported; what it has not is told by the counts.
            let _ = thread.join();
        }
    }

    /// Lets the thread end by itself: it may be waiting for a disk that never answers.
    fn retire(mut self) {
        self.shared.retire();
        self.thread = None;
    }
}

impl Drop for Worker {
    /// What was appended is written also when the program ends in an unforeseen way.
    fn drop(&mut self) {
        self.finish();
    }
}

/// Files made on the way, removed again unless all went well.
#[derive(Default)]
struct Made(Vec<PathBuf>);

impl Made {
    fn write(
        &mut self,
        path: &Path,
        parts: &[&[u8]],
        create: impl FnOnce(&Path) -> Result<File, JournalError>,
    ) -> Result<File, JournalError> {
        let mut file = create(path)?;
        self.0.push(path.to_owned());
        let written = file.write_all(&parts.concat()).and_then(|()| file.sync_all());
        written.map_err(|e| JournalError::io("write the file", path, e))?;
        Ok(file)
    }

    fn keep(mut self) {
        self.0.clear();
    }
}

impl Drop for Made {
    fn drop(&mut self) {
        for path in &self.0 {
            let _ = std::fs::remove_file(path);
        }
    }
}

/// A new file that is held, has space set aside, and whose name is durable.
fn new_file(path: &Path) -> Result<File, JournalError> {
    survive_size_limit();
    let file = create_new(path)?;
    let made = hold(&file, path).and_then(|()| reserve(&file, path)).and_then(|()| {
        let synced = file.sync_all().and_then(|()| sync_dir(parent(path)));
        synced.map_err(|e| JournalError::io("sync the file", path, e))
    });
    if let Err(e) = made {
        // It is ours and empty; left behind it would look like a session.
        let _ = std::fs::remove_file(path);
        return Err(e);
    }
    Ok(file)
}

/// The notes' bytes; a line that was cut off is ended first, so that the next one stands by itself.
pub(super) fn mend_notes(journal: &Path) -> Result<Vec<u8>, JournalError> {
    let mut notes = read_notes(journal)?;
    if notes.last().is_some_and(|&b| b != b'\n') {
        let path = notes::beside(journal);
        let mut file = open_held(&path)?;
        let ended = file.write_all(b"\n").and_then(|()| file.sync_all());
        ended.map_err(|e| JournalError::io("end the last note", &path, e))?;
        notes.push(b'\n');
    }
    Ok(notes)
}

pub(super) fn decode_all<E: DeserializeOwned>(
    lines: &[Arc<[u8]>],
    notes: &[u8],
    path: &Path,
) -> Result<Vec<Record<E>>, JournalError> {
    let mut notes = Notes::parse(notes);
    let refuse = |line: usize, reason: String| JournalError::NotUnderstood {
        path: path.to_owned(),
        line: u64::try_from(line).unwrap_or(u64::MAX),
        reason,
    };
    (1..)
        .zip(lines)
        .map(|(number, line)| {
            let envelope = serde_json::from_slice(line).map_err(|e| refuse(number, e.to_string()))?;
            decode(&envelope, &mut notes).map_err(|other| refuse(number, other.reason))
        })
        .collect()
}

pub(super) fn salt() -> Result<[u8; 16], String> {
    let mut salt = [0; 16];
    getrandom::fill(&mut salt).map_err(|e| format!("the machine gives no random bytes: {e}"))?;
    Ok(salt)
}

fn boxed(acks: impl Fn(Ack) + Send + 'static) -> Acks {
    Arc::new(Mutex::new(Box::new(acks)))
}

pub(super) fn size(bytes: &[u8]) -> u64 {
    u64::try_from(bytes.len()).unwrap_or(u64::MAX)
}
