//! A data directory as a clinic has it after some years: many closed sessions and their day book.
//!
//! The journals are made by the program's own recorder, event by event, in memory, and then put where they belong: a
//! sync for each of their lines would take minutes and is not what is measured.

use chrono::{DateTime, Duration, FixedOffset};
use fadewright::clock::{Clock, FakeClock};
use fadewright::device::DeviceProfile;
use fadewright::journal::{DataDir, JournalFile, SessionId, Writer, daybook};
use fadewright::plan::{self, DisplayedSetting, Plan};
use fadewright::protocol::{CheckKind, CheckPhase, Protocol};
use fadewright::recorder::{JournalSink, Recorder};
use fadewright::session::{Command, Event, Opened, PulseSource, Response, SessionOutcome};
use fadewright::source::read_file;
use std::collections::BTreeSet;
use std::error::Error;
use std::fs::{self, DirBuilder, OpenOptions};
use std::io::{self, Write};
use std::os::unix::fs::{DirBuilderExt, OpenOptionsExt};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

/// Hours from one session to the next.
const APART_HOURS: i64 = 21;
/// The plan of every session.
const PLAN: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-plans/first-script.toml");

/// A data directory that can be brought back to what it was.
pub struct Stock {
    root: PathBuf,
    journals: BTreeSet<PathBuf>,
    daybook: Vec<u8>,
    /// Events in all journals.
    pub events: u64,
}

impl Stock {
    /// Makes so many closed sessions.
    pub fn make(root: &Path, sessions: i64) -> Result<Self, Box<dyn Error>> {
        let dir = DataDir::open(root)?;
        let plan = plan::load(&read_file(Path::new(PLAN))?)?.value;
        let (device, protocol) = (DeviceProfile::embedded()?, Protocol::embedded()?);
        let first = DateTime::parse_from_rfc3339("2024-01-08T09:00:00+00:00")?;
        let mut events = 0;
        for n in 0..sessions {
            let clock = FakeClock::at(first + Duration::hours(APART_HOURS * n));
            events += add_session(&dir, &clock, &plan, &device, &protocol)?;
        }
        let journals = dir.list()?.into_iter().map(|e| e.path).collect();
        let daybook = fs::read(dir.daybook_path())?;
        Ok(Self { root: dir.root().to_owned(), journals, daybook, events })
    }

    /// The data directory.
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// Takes away what was recorded since, and puts the day book back, or takes it away too.
    pub fn restore(&self, with_daybook: bool) -> Result<(), Box<dyn Error>> {
        let dir = DataDir::open(&self.root)?;
        for entry in dir.list()? {
            if !self.journals.contains(&entry.path) {
                remove(&entry.path)?;
                remove(&entry.path.with_extension("notes.jsonl"))?;
            }
        }
        if with_daybook {
            fs::write(dir.daybook_path(), &self.daybook)?;
        } else {
            remove(&dir.daybook_path())?;
        }
        Ok(())
    }

    /// The journals that were recorded since.
    pub fn recorded(&self) -> Result<Vec<PathBuf>, Box<dyn Error>> {
        let all = DataDir::open(&self.root)?.list()?;
        Ok(all.into_iter().map(|e| e.path).filter(|path| !self.journals.contains(path)).collect())
    }
}

fn remove(path: &Path) -> io::Result<()> {
    match fs::remove_file(path) {
        Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(()),
        other => other,
    }
}

fn add_session(
    dir: &DataDir,
    clock: &FakeClock,
    plan: &Plan,
    device: &DeviceProfile,
    protocol: &Protocol,
) -> Result<u64, Box<dyn Error>> {
    let opened_at = clock.now().wall;
    let id = SessionId::new(opened_at)?;
    let (journal, notes) = (InMemory::default(), InMemory::default());
    let writer = Writer::<Event>::with_file(&id, Box::new(journal.clone()), Box::new(notes.clone()), |_| {})?;
    let opened = Opened {
        session: id.to_string(),
        program: "fadewright bench".to_owned(),
        date: opened_at.date_naive(),
        plan: plan.clone(),
        device: device.clone(),
        protocol: protocol.clone(),
        practice: None,
    };
    let mut recorder = Recorder::open(opened, JournalSink::new(writer, dir.clone()), Arc::new(clock.clone()))?;
    treat(&mut recorder, clock)?;
    let closed_at: DateTime<FixedOffset> = clock.now().wall;
    let writer = recorder.into_sink().into_writer();
    let (head, count) = (writer.head(), writer.last_seq());
    writer.close()?;

    let path = dir.journal_path(&id);
    let month = path.parent().ok_or("a journal lies in a directory")?;
    DirBuilder::new().mode(0o700).recursive(true).create(month)?;
    put(&path, &journal.bytes())?;
    let notes = notes.bytes();
    if !notes.is_empty() {
        put(&path.with_extension("notes.jsonl"), &notes)?;
    }
    daybook::opened(dir, &id, opened_at)?;
    daybook::closed(dir, &id, head, count, closed_at)?;
    Ok(count)
}

pub fn put(path: &Path, bytes: &[u8]) -> io::Result<()> {
    OpenOptions::new().write(true).create_new(true).mode(0o600).open(path)?.write_all(bytes)
}

/// A whole session of one pass, from the first check to the close.
fn treat(recorder: &mut Recorder<JournalSink>, clock: &FakeClock) -> Result<(), Box<dyn Error>> {
    answer(recorder, CheckPhase::SignIn)?;
    let (zone, setting) = {
        let (plan, state) = recorder.state().zone(0).ok_or("the plan has a zone")?;
        (plan.id.clone(), state.target)
    };
    let displayed = DisplayedSetting { setting, energy_j: Some(setting.energy_joules()) };
    recorder.command(Command::ReadBack { zone: zone.clone(), displayed })?;
    answer(recorder, CheckPhase::TimeOut)?;
    recorder.command(Command::StartPass { zone })?;
    recorder.command(Command::Fire { n: 10, source: PulseSource::Typed })?;
    recorder.command(Command::See { kind: Response::Whitening, grade: Some(2), note: String::new() })?;
    for _ in 0..4 {
        clock.advance(std::time::Duration::from_secs(10));
        recorder.command(Command::Fire { n: 10, source: PulseSource::Typed })?;
    }
    recorder.command(Command::EndPass { explanation: None })?;
    answer(recorder, CheckPhase::SignOut)?;
    recorder.command(Command::Close { outcome: SessionOutcome::Completed, note: String::new() })?;
    Ok(())
}

/// Answers all of a phase's checks well.
pub fn answer(recorder: &mut Recorder<JournalSink>, phase: CheckPhase) -> Result<(), Box<dyn Error>> {
    let items: Vec<_> = recorder
        .state()
        .items(phase)
        .filter(|(_, status)| !status.lets_pass())
        .map(|(item, _)| (item.id.clone(), item.kind))
        .collect();
    for (item, kind) in items {
        recorder.command(match kind {
            CheckKind::Value => Command::CheckValue { item, value: "OP-1".to_owned() },
            CheckKind::Marking => Command::CheckValue { item, value: "1".to_owned() },
            CheckKind::Anaesthetic => Command::CheckNotApplicable { item },
            CheckKind::YesNo | CheckKind::Computed => Command::CheckYes { item },
        })?;
    }
    Ok(())
}

/// A file in memory.
#[derive(Clone, Default)]
pub struct InMemory(Arc<Mutex<Vec<u8>>>);

impl InMemory {
    /// What was written.
    pub fn bytes(&self) -> Vec<u8> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }
}

impl JournalFile for InMemory {
    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).extend_from_slice(bytes);
        Ok(())
    }
    fn sync_data(&mut self) -> io::Result<()> {
        Ok(())
    }
    fn check(&mut self, _: u64) -> io::Result<()> {
        Ok(())
    }
}
