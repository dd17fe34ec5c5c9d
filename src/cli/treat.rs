//! `fadewright treat PLAN`, and `fadewright` alone: the start screen.

use super::Common;
use super::announcer::{EVERY, Voice, configured};
use super::face::Face;
use super::files::{
    SetupArgs, config_dir, data_root, load_device, load_plan, load_protocol, open_data_dir, open_practice_dir,
};
use super::output::CliError;
use super::plan::limit_errors;
use super::practise::{Chosen, PractiseArgs};
use super::sessions::{cut_off, find, read_session};
use super::theme::{choose, for_session};
use crate::clock::{Clock, PracticeClock, SystemClock};
use crate::journal::{Ack, DataDir, JournalError, SessionId, Writer, daybook, verify_file};
use crate::practice::debrief::debrief;
use crate::practice::{LightBook, Manner, Operator, SkinSink};
use crate::recorder::{JournalSink, RecordError, Recorder, Store};
use crate::scenario::SHIPPED;
use crate::session::{Event, Opened, Stamp, State};
use crate::source::Problems;
use crate::tui::announce::Announcer;
use crate::tui::chair::Chair;
use crate::tui::run::{Ending, INBOX, Msg};
use crate::tui::start::{Start, StartChoice, StartEntry};
use crate::tui::theme::Glyphs;
use crate::words::Word;
use chrono::{DateTime, FixedOffset};
use clap::Args;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread::JoinHandle;
use std::time::Duration;

/// Arguments of `treat`.
#[derive(Debug, Args)]
pub struct TreatArgs {
    /// The plan.
    plan: PathBuf,
    #[command(flatten)]
    setup: SetupArgs,
    /// Begin a new session even though another was cut off.
    #[arg(long)]
    new: bool,
}

/// A sink that ends in a journal.
trait Kept: Store {
    /// Its journal's writer.
    fn into_writer(self) -> Writer<Event>;
}

impl Kept for JournalSink {
    fn into_writer(self) -> Writer<Event> {
        self.into_writer()
    }
}

impl Kept for SkinSink<JournalSink> {
    fn into_writer(self) -> Writer<Event> {
        self.into_inner().into_writer()
    }
}

/// Arguments of `resume`.
#[derive(Debug, Args)]
pub struct ResumeArgs {
    /// Session id, its beginning, or a journal file, such as one that was continued in another directory.
    session: String,
}

/// How long the end of the program waits for the last events to reach the disk.
const LAST_WAIT: Duration = Duration::from_secs(5);
/// Cut-off sessions shown on the start screen.
const SHOWN: usize = 12;

fn program() -> String {
    format!("fadewright {}", env!("CARGO_PKG_VERSION"))
}

/// Everything a session on screen needs.
struct Stage<'a> {
    common: &'a Common,
    dir: DataDir,
    face: Face,
    /// The clock of the session; in practice it may run faster than the machine's.
    clock: Arc<dyn Clock>,
    machine: SystemClock,
    inbox: Receiver<Msg>,
    sender: SyncSender<Msg>,
}

impl<'a> Stage<'a> {
    fn open(common: &'a Common, dir: DataDir) -> Result<Self, CliError> {
        let machine = SystemClock::new();
        let clock: Arc<dyn Clock> = Arc::new(machine);
        let (sender, inbox) = sync_channel(INBOX);
        let face = Face::open(common, &clock, &sender)?;
        Ok(Self { common, dir, face, clock, machine, inbox, sender })
    }

    /// Tells the loop that the journal has news; a full inbox has news enough already.
    fn acks(&self) -> impl Fn(Ack) + Send + 'static {
        let sender = self.sender.clone();
        move |_| drop(sender.try_send(Msg::Journal))
    }

    fn begin(mut self, (plan, device, protocol): Setup) -> Result<ExitCode, CliError> {
        let now = self.clock.now();
        let id = SessionId::new(now.wall)?;
        let writer = Writer::<Event>::create(&self.dir, &id, self.acks())?;
        let opened = Opened {
            session: id.to_string(),
            program: program(),
            date: now.wall.date_naive(),
            plan,
            device,
            protocol,
            practice: None,
        };
        let recorder = Recorder::open(opened, JournalSink::new(writer, self.dir.clone()), Arc::clone(&self.clock))
            .map_err(|e| record_error(&e))?;
        let chair = self.chair(recorder)?;
        let listing = self.list_in_day_book(id, now.wall);
        self.work_beside(chair.state().opened.clone());
        self.run(chair, Some(listing), None)
    }

    /// Nobody waits for it: it ends with the program.
    fn work_beside(&self, opened: Opened) {
        let (dir, sender) = (self.dir.clone(), self.sender.clone());
        std::thread::spawn(move || {
            super::beside::work(&dir, &opened, |found| sender.send(found).is_ok());
        });
    }

    /// Beside the first frame, which must not wait for a second file; a session that is not listed is found all the same.
    fn list_in_day_book(&self, id: SessionId, at: DateTime<FixedOffset>) -> JoinHandle<()> {
        let (dir, sender) = (self.dir.clone(), self.sender.clone());
        std::thread::spawn(move || {
            if let Err(e) = daybook::opened(&dir, &id, at) {
                drop(sender.try_send(Msg::Said(format!("the day book could not be written: {e}"))));
            }
        })
    }

    fn resume(mut self, path: &Path) -> Result<ExitCode, CliError> {
        let resumed = Writer::<Event>::resume(path, self.acks())?;
        let events: Vec<(Stamp, Event)> = resumed
            .records
            .into_iter()
            .map(|r| (Stamp { seq: r.seq, at: r.at, mono_ms: r.mono_ms }, r.event))
            .collect();
        let state = State::replay(events.iter().map(|(s, e)| (*s, e))).ok_or_else(|| {
            CliError::No(format!("{}: the session was cut off before its first event; begin a new one", path.display()))
        })?;
        if state.closed.is_some() {
            return Err(CliError::No("this session is closed; see it with: fadewright log".to_owned()));
        }
        let found = resumed.recovery.to_string();
        if state.opened.practice.is_some() {
            self.dir = open_practice_dir(self.common)?;
        }
        let sink = JournalSink::new(resumed.writer, self.dir.clone());
        if let Some(practice) = state.opened.practice.clone() {
            // Life went on for the simulated client as for a real one, at life's pace.
            let from = self.machine.now().wall.max(state.last.at);
            self.clock = Arc::new(PracticeClock::new(self.machine, from, practice.speed));
            let sink = SkinSink::resumed(sink, LightBook::default(), &events);
            return self.go_on(state, sink, &found);
        }
        self.go_on(state, sink, &found)
    }

    fn go_on<S: Kept>(&mut self, state: State, sink: S, found: &str) -> Result<ExitCode, CliError> {
        let recorder = Recorder::resume(state, sink, Arc::clone(&self.clock), found.to_owned(), program())
            .map_err(|e| record_error(&e))?;
        let mut chair = self.chair(recorder)?;
        chair.say(format!("resumed; journal: {found}"));
        self.work_beside(chair.state().opened.clone());
        self.run(chair, None, None)
    }

    /// Begins practice: the same chair, and skin that answers.
    fn practise(mut self, mut chosen: Chosen) -> Result<ExitCode, CliError> {
        let now = self.machine.now();
        self.clock = Arc::new(PracticeClock::new(self.machine, chosen.from, chosen.run.speed));
        let id = SessionId::new(now.wall)?;
        let writer = Writer::<Event>::create(&self.dir, &id, self.acks())?;
        let (demonstration, seed) = (chosen.run.demonstration, chosen.run.seed);
        let notices = std::mem::take(&mut chosen.notices);
        let opened = chosen.opened(&id);
        let sink = SkinSink::new(JournalSink::new(writer, self.dir.clone()), LightBook::default());
        let recorder = Recorder::open(opened, sink, Arc::clone(&self.clock)).map_err(|e| record_error(&e))?;
        let mut chair = self.chair(recorder)?;
        // One message has room at a time; what is odd is told before the seed, which the debrief repeats.
        if notices.is_empty() {
            chair.say(format!("PRACTICE, seed {seed}: --seed {seed} brings the same skin again"));
        } else {
            chair.warn(format!("{}; seed {seed}", notices.join("; ")));
        }
        let listing = self.list_in_day_book(id, now.wall);
        self.work_beside(chair.state().opened.clone());
        if demonstration {
            chair = chair.demonstrating();
        }
        let operator = demonstration.then(|| Operator::new(Manner::Sound));
        self.run(chair, Some(listing), operator)
    }

    /// What the run was worth, on screen until somebody leaves it.
    fn show_debrief(&mut self, path: &Path) -> Result<(), CliError> {
        let (_, events) = read_session(path)?;
        let Some(debrief) = debrief(&events, &LightBook::default()) else { return Ok(()) };
        Ok(self.face.read(move |columns| debrief.lines(columns), choose(self.common).0, &self.inbox)?)
    }

    fn chair<S: Kept>(&self, recorder: Recorder<S>) -> Result<Chair<S>, CliError> {
        let glyphs = if self.common.ascii { Glyphs::Ascii } else { Glyphs::Unicode };
        let (keys, problem) = super::keys::for_session(self.common)?;
        let chosen = for_session(self.common, &recorder.state().opened);
        let standard = choose(self.common).0;
        let mut chair = Chair::new(recorder, standard, glyphs)
            .with_bounce(self.common.bounce_ms)
            .with_keys(keys)
            .with_themes(chosen.themes, chosen.at);
        let problems: Vec<String> = [problem, chosen.problem].into_iter().flatten().collect();
        if !problems.is_empty() {
            chair.warn(problems.join("; "));
        }
        Ok(chair)
    }

    /// The program that announces, where the config names one, and how often it says the count.
    fn voice<S: Kept>(&self, chair: &mut Chair<S>) -> Option<(Voice, u64)> {
        let sender = self.sender.clone();
        let ended = move |why| drop(sender.try_send(Msg::Said(format!("announcements ended: {why}"))));
        let started = match configured()? {
            Ok(what) => Voice::start(&what, ended).map(|voice| (voice, what.every)),
            Err(problem) => Err(problem),
        };
        match started {
            Ok(voice) => Some(voice),
            Err(problem) => {
                chair.warn(format!("no announcements: {problem}"));
                None
            }
        }
    }

    /// Pulses from outside, while the session is on screen.
    fn read_pulses(&self) {
        if let Some(path) = &self.common.pulse_input {
            let sender = self.sender.clone();
            super::pulse_input::spawn(path.clone(), move |news| sender.send(Msg::Line(news)).is_ok());
        }
    }

    fn run<S: Kept>(
        &mut self,
        mut chair: Chair<S>,
        listing: Option<JoinHandle<()>>,
        operator: Option<Operator>,
    ) -> Result<ExitCode, CliError> {
        self.read_pulses();
        let voice = self.voice(&mut chair);
        let every = voice.as_ref().map_or(EVERY, |(_, every)| *every);
        let mut announcer = Announcer::new(every);
        let mut announce = |heard| {
            if let Some((voice, _)) = &voice {
                announcer.lines(heard).into_iter().for_each(|line| voice.say(line));
            }
        };
        let ending = self.face.run(&mut chair, &self.inbox, &self.clock, every, &mut announce, operator);
        if ending.is_err() {
            chair.interrupt("the screen could not be drawn");
        }
        let closed = chair.state().closed.as_ref().map(|c| (c.at, c.outcome));
        let practice = chair.is_practice();
        let writer = chair.into_store().into_writer();
        let (id, count, head, path) = (writer.id().clone(), writer.last_seq(), writer.head(), writer.path().to_owned());
        let all_saved = writer.wait_saved(LAST_WAIT);
        let in_place = path == self.dir.journal_path(&id);
        let mut last_words = Vec::new();
        if practice && all_saved && closed.is_some() && matches!(ending, Ok(Ending::Left)) {
            self.show_debrief(&path)?;
        }
        self.face.close();
        if all_saved {
            drop(writer);
            match closed {
                Some((at, outcome)) => {
                    // The opening is listed before the closing, or the session would look open.
                    if let Some(listing) = listing {
                        drop(listing.join());
                    }
                    if in_place && let Err(e) = daybook::closed(&self.dir, &id, head, count, at) {
                        last_words.push(format!("the day book could not be written: {e}"));
                    }
                    last_words.push(if practice {
                        format!("PRACTICE session {id} closed ({outcome}) and saved: fadewright debrief {id}")
                    } else {
                        format!("session {id} closed ({outcome}) and saved: fadewright log {id}")
                    });
                }
                None if in_place && practice => {
                    last_words.push(format!("PRACTICE session {id} is open and saved: fadewright resume {id}"));
                }
                None if in_place => {
                    last_words.push(format!("session {id} is open and saved: start fadewright to resume it"));
                }
                None => {
                    last_words.push(format!("session {id} is open and saved: resume it with fadewright resume FILE"))
                }
            }
            if !in_place {
                last_words.push(format!("it was recorded in {}", path.display()));
            }
        } else {
            let since = writer.saved_upto() + 1;
            last_words
                .push(format!("session {id}: NOT ALL SAVED, events from {since} on are missing in {}", path.display()));
            // Its thread may be stuck in the disk: waiting for it could take for ever.
            std::mem::forget(writer);
        }
        // Standard error may be gone with the terminal; then there is nobody to tell.
        drop(writeln!(std::io::stderr(), "{}", last_words.join("\n")));
        match ending? {
            Ending::Left if all_saved => Ok(ExitCode::SUCCESS),
            Ending::Left => Ok(ExitCode::from(1)),
            Ending::Stopped(code) => Ok(ExitCode::from(code)),
        }
    }

    /// Shows what can be begun, and waits for a choice.
    fn ask(&mut self, entries: Vec<StartEntry>, mut hints: Vec<String>) -> Result<(StartChoice, Ending), CliError> {
        let (theme, problem) = choose(self.common);
        hints.splice(0..0, problem);
        let mut start = Start::new(entries, hints, theme);
        Ok(self.face.start(&mut start, &self.inbox)?)
    }

    fn start(mut self, entries: Vec<StartEntry>, hints: Vec<String>, setup: &SetupArgs) -> Result<ExitCode, CliError> {
        let (choice, ending) = self.ask(entries, hints)?;
        match choice {
            StartChoice::Resume(path) => self.resume(&path),
            StartChoice::Treat(plan) => {
                let loaded = load(&plan, setup)?;
                self.begin(loaded)
            }
            StartChoice::Practise(scenario) => {
                // Its own day book and directory: practice is kept apart.
                self.dir = open_practice_dir(self.common)?;
                let now = self.machine.now().wall;
                let chosen = super::practise::choose(self.common, &PractiseArgs::plain(setup), &scenario, now)?;
                self.practise(chosen)
            }
            StartChoice::Review => {
                self.face.close();
                Err(review_instead(self.common))
            }
            StartChoice::Quit => Ok(left(ending)),
        }
    }
}

/// Becomes `fadewright review`: the threads that wait for keys end with this program, so that none takes the other's.
fn review_instead(common: &Common) -> CliError {
    use std::os::unix::process::CommandExt;
    let program = match std::env::current_exe() {
        Ok(program) => program,
        Err(e) => return CliError::Bad(format!("the program does not find itself: {e}; use fadewright review")),
    };
    let mut review = std::process::Command::new(program);
    review.arg("review");
    let named = [("--data-dir", common.data_dir.as_ref().map(|d| d.clone().into_os_string()))];
    let texts = [("--theme", common.theme.clone()), ("--keys", common.keys.clone())];
    let texts = texts.into_iter().map(|(flag, text)| (flag, text.map(std::ffi::OsString::from)));
    for (flag, value) in named.into_iter().chain(texts).filter_map(|(flag, value)| Some((flag, value?))) {
        review.arg(flag).arg(value);
    }
    if common.ascii {
        review.arg("--ascii");
    }
    CliError::Bad(format!("the review could not be started: {}", review.exec()))
}

fn left(ending: Ending) -> ExitCode {
    match ending {
        Ending::Left => ExitCode::SUCCESS,
        Ending::Stopped(code) => ExitCode::from(code),
    }
}

fn record_error(e: &RecordError) -> CliError {
    CliError::Bad(e.to_string())
}

type Setup = (crate::plan::Plan, crate::device::DeviceProfile, crate::protocol::Protocol);

/// Reads all that a session begins with; a plan outside the limits is refused with its places.
fn load(plan: &Path, setup: &SetupArgs) -> Result<Setup, CliError> {
    let device = load_device(setup)?;
    let protocol = load_protocol(setup)?;
    let loaded = load_plan(plan)?;
    match Problems::of(limit_errors(&loaded, &device, &protocol)) {
        Some(problems) => Err(problems.into()),
        None => Ok((loaded.value, device, protocol)),
    }
}

/// What kind of sessions a directory holds.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Treatment,
    Practice,
}

/// The shipped scenarios, from the first day to what experts meet.
fn practice_entries() -> Result<Vec<StartEntry>, CliError> {
    let each = SHIPPED.iter().map(|s| {
        let (_, case) = s.read()?;
        let text = format!("PRACTISE {}: {} ({})", s.name, case.value.title, case.value.grade.spoken());
        Ok(StartEntry { text, choice: StartChoice::Practise(s.name.to_owned()) })
    });
    each.collect()
}

fn resume_entries(dir: &DataDir, kind: Kind) -> Result<Vec<StartEntry>, JournalError> {
    let what = if kind == Kind::Practice { "resume PRACTICE" } else { "resume session" };
    let sessions = cut_off(dir)?;
    Ok(sessions
        .into_iter()
        .take(SHOWN)
        .map(|s| {
            let when = s.opened_at.map(|at| format!(", opened {}", at.format("%Y-%m-%d %H:%M"))).unwrap_or_default();
            let elsewhere = s.path != dir.journal_path(&s.id);
            let place = if elsewhere { format!(", continued in {}", s.path.display()) } else { String::new() };
            StartEntry { text: format!("{what} {}{when}{place}", s.id), choice: StartChoice::Resume(s.path) }
        })
        .collect())
}

pub(super) fn treat(common: &Common, args: &TreatArgs) -> Result<ExitCode, CliError> {
    // All that can be refused is refused before the terminal is taken.
    let loaded = load(&args.plan, &args.setup)?;
    let dir = open_data_dir(common)?;
    let mut entries = if args.new { Vec::new() } else { resume_entries(&dir, Kind::Treatment)? };
    if entries.is_empty() {
        return Stage::open(common, dir)?.begin(loaded);
    }
    entries.push(StartEntry {
        text: format!("begin a new session by {}", args.plan.display()),
        choice: StartChoice::Treat(args.plan.clone()),
    });
    let hints =
        vec!["A session was cut off. Resume it where its last saved event left it, or begin the new one.".to_owned()];
    Stage::open(common, dir)?.start(entries, hints, &args.setup)
}

/// Practises on screen; without a scenario one is chosen first.
pub(super) fn practise(common: &Common, args: &PractiseArgs) -> Result<ExitCode, CliError> {
    let now = SystemClock::new().now().wall;
    let dir = open_practice_dir(common)?;
    let begin = |scenario: &str| super::practise::choose(common, args, scenario, now);
    if let Some(scenario) = &args.scenario {
        // All that can be refused is refused before the terminal is taken.
        let chosen = begin(scenario)?;
        return Stage::open(common, dir)?.practise(chosen);
    }
    let mut entries = resume_entries(&dir, Kind::Practice)?;
    entries.extend(practice_entries()?);
    let hints = vec![
        "PRACTICE: simulated skin, nobody is treated. A teaching model, its figures partly invented.".to_owned(),
        "fadewright practise --list tells what each teaches; --demonstrate lets the model operator play.".to_owned(),
    ];
    let mut stage = Stage::open(common, dir)?;
    let (choice, ending) = stage.ask(entries, hints)?;
    match choice {
        StartChoice::Practise(scenario) => {
            let chosen = begin(&scenario)?;
            stage.practise(chosen)
        }
        StartChoice::Resume(path) => stage.resume(&path),
        StartChoice::Treat(_) | StartChoice::Review | StartChoice::Quit => Ok(left(ending)),
    }
}

pub(super) fn resume(common: &Common, args: &ResumeArgs) -> Result<ExitCode, CliError> {
    let path = find(common, &args.session)?;
    // Read before the terminal is taken, so that damage and a closed session are told on a quiet screen.
    let verdict = verify_file(&path)?.verdict;
    if !verdict.allows_appending() {
        return Err(JournalError::Damaged { path, verdict }.into());
    }
    Stage::open(common, open_data_dir(common)?)?.resume(&path)
}

pub(super) fn start(common: &Common) -> Result<ExitCode, CliError> {
    let dir = open_data_dir(common)?;
    let mut entries = resume_entries(&dir, Kind::Treatment)?;
    let plans = data_root(common)?.join("plans");
    let mut found: Vec<PathBuf> = std::fs::read_dir(&plans)
        .map(|list| list.filter_map(Result::ok).map(|e| e.path()).collect())
        .unwrap_or_default();
    found.retain(|p| p.extension().is_some_and(|e| e == "toml"));
    found.sort();
    entries.extend(found.into_iter().map(|p| StartEntry {
        text: format!("treat by {}", p.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default()),
        choice: StartChoice::Treat(p),
    }));
    if let Ok(practice) = open_practice_dir(common) {
        entries.extend(resume_entries(&practice, Kind::Practice)?);
    }
    if !common.plain && !dir.list()?.is_empty() {
        let text = "REVIEW all sessions: what departs from what was wanted comes first".to_owned();
        entries.push(StartEntry { text, choice: StartChoice::Review });
    }
    entries.extend(practice_entries()?);
    let mut hints = missing_setup();
    hints.extend([
        "A new session: fadewright treat PLAN. A new plan: fadewright plan new FILE.".to_owned(),
        format!("Plans in {} are listed here. Sessions are kept in {}.", plans.display(), dir.root().display()),
        "? on any screen of a session explains it. fadewright --help lists what else there is.".to_owned(),
    ]);
    let setup = SetupArgs { device: None, protocol: None };
    Stage::open(common, dir)?.start(entries, hints, &setup)
}

/// What the clinic has not written yet, and where it goes.
fn missing_setup() -> Vec<String> {
    let Some(dir) = config_dir() else { return Vec::new() };
    let files = ["device.toml", "protocol.toml"];
    let missing: Vec<&str> = files.into_iter().filter(|f| !dir.join(f).exists()).collect();
    if missing.is_empty() {
        return Vec::new();
    }
    vec![format!(
        "NOT YET YOURS: {} in {}. Until then examples with invented or published figures are used: replace them before \
         you treat anyone.",
        missing.join(" and "),
        dir.display()
    )]
}
