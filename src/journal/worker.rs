//! The one thread that writes: it takes what is waiting, writes it, syncs it, checks the file, and only then says so.

use super::JournalFile;
use std::io;
use std::sync::mpsc::Receiver;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// As much is written and synced in one go, unless one record alone is longer.
const GROUP_BYTES: usize = 1 << 20;

/// What the writer thread reports.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ack {
    /// All records up to this one would survive a power cut.
    Saved {
        /// The last saved record.
        upto_seq: u64,
    },
    /// Writing failed. It is not tried again in this file, because a sync that succeeds after one that failed may
    /// have dropped what the first was about.
    Failed {
        /// The first record that is not known to be on disk.
        since_seq: u64,
        /// The system's answer.
        error: String,
    },
}

/// Where reports go.
pub(super) type Acks = Arc<Mutex<Box<dyn Fn(Ack) + Send>>>;

/// One record on its way to the disk.
pub(super) struct Queued {
    pub seq: u64,
    pub line: Arc<[u8]>,
    /// Lines for the sidecar; they go first, so that no line on disk refers to a text that is not.
    pub notes: Vec<u8>,
}

/// The files and what they hold already.
pub(super) struct Files {
    pub journal: Box<dyn JournalFile>,
    pub journal_len: u64,
    pub notes: Box<dyn JournalFile>,
    pub notes_len: u64,
}

#[derive(Debug, Default)]
struct State {
    saved: u64,
    failure: Option<(u64, String)>,
    retired: bool,
}

/// What the writer and its thread both see.
#[derive(Debug, Default)]
pub(super) struct Shared {
    state: Mutex<State>,
    changed: Condvar,
}

impl Shared {
    pub fn saved_to(seq: u64) -> Arc<Self> {
        let shared = Self::default();
        shared.lock().saved = seq;
        Arc::new(shared)
    }

    fn lock(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub fn saved(&self) -> u64 {
        self.lock().saved
    }

    pub fn failure(&self) -> Option<(u64, String)> {
        self.lock().failure.clone()
    }

    /// Tells the thread to write no more and to report nothing more.
    pub fn retire(&self) {
        self.lock().retired = true;
    }

    fn is_retired(&self) -> bool {
        self.lock().retired
    }

    /// Notes a failure; the first is to be reported.
    pub fn fail(&self, error: &str) -> Option<Ack> {
        let mut state = self.lock();
        if state.retired || state.failure.is_some() {
            return None;
        }
        let since_seq = state.saved.saturating_add(1);
        state.failure = Some((since_seq, error.to_owned()));
        drop(state);
        self.changed.notify_all();
        Some(Ack::Failed { since_seq, error: error.to_owned() })
    }

    fn save(&self, upto_seq: u64) -> Option<Ack> {
        let mut state = self.lock();
        if state.retired {
            return None;
        }
        state.saved = upto_seq;
        drop(state);
        self.changed.notify_all();
        Some(Ack::Saved { upto_seq })
    }

    /// Waits until `seq` is saved; false when writing failed or the time is up.
    pub fn wait_saved(&self, seq: u64, at_most: Duration) -> bool {
        let waiting = |state: &mut State| state.saved < seq && state.failure.is_none();
        let (state, _) =
            self.changed.wait_timeout_while(self.lock(), at_most, waiting).unwrap_or_else(PoisonError::into_inner);
        state.saved >= seq
    }
}

/// Hands a report on. Nothing is held meanwhile but the reports' own order.
pub(super) fn report(acks: &Acks, ack: Option<Ack>) {
    if let Some(ack) = ack {
        acks.lock().unwrap_or_else(PoisonError::into_inner)(ack);
    }
}

/// Tells of a thread that ends by a panic, so that nobody waits for it.
struct Alarm<'a> {
    shared: &'a Shared,
    acks: &'a Acks,
}

impl Drop for Alarm<'_> {
    fn drop(&mut self) {
        if std::thread::panicking() {
            let ack = self.shared.fail("the writing thread has stopped");
            // When it was the receiver of reports that panicked, it has heard enough.
            if !self.acks.is_poisoned() {
                report(self.acks, ack);
            }
        }
    }
}

/// The thread's whole life: it ends when the writer lets go of its end of the queue.
pub(super) fn run(mut files: Files, queue: &Receiver<Queued>, shared: &Shared, acks: &Acks) {
    let _alarm = Alarm { shared, acks };
    while let Ok(first) = queue.recv() {
        let mut last = first.seq;
        let mut lines = first.line.to_vec();
        let mut notes = first.notes;
        while lines.len() + notes.len() < GROUP_BYTES
            && let Ok(next) = queue.try_recv()
        {
            last = next.seq;
            lines.extend_from_slice(&next.line);
            notes.extend_from_slice(&next.notes);
        }
        if shared.is_retired() {
            return;
        }
        if shared.failure().is_some() {
            continue;
        }
        let ack = match files.write(&lines, &notes) {
            Ok(()) => shared.save(last),
            Err(e) => shared.fail(&e.to_string()),
        };
        report(acks, ack);
    }
    if !shared.is_retired() && shared.failure().is_none() {
        files.journal.finish(files.journal_len);
    }
}

impl Files {
    fn write(&mut self, lines: &[u8], notes: &[u8]) -> io::Result<()> {
        if !notes.is_empty() {
            put(self.notes.as_mut(), &mut self.notes_len, notes)?;
        }
        put(self.journal.as_mut(), &mut self.journal_len, lines)
    }
}

fn put(file: &mut dyn JournalFile, len: &mut u64, bytes: &[u8]) -> io::Result<()> {
    file.append(bytes)?;
    file.sync_data()?;
    *len += u64::try_from(bytes.len()).unwrap_or(u64::MAX);
    file.check(*len)
}
