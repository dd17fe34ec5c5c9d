//! Ten thousand sessions of three hundred events, made fast.
//!
//! A few sessions are recorded by the program's own recorder in memory. The others are theirs with another client,
//! another date and another zone, chained anew line by line: what lies on disk is as if each had been recorded.

use crate::stock::{InMemory, answer, put};
use chrono::{DateTime, Duration, FixedOffset, SecondsFormat};
use fadewright::clock::FakeClock;
use fadewright::device::DeviceProfile;
use fadewright::journal::{DataDir, Digest, SessionId, Writer};
use fadewright::plan::{self, DisplayedSetting};
use fadewright::protocol::{CheckPhase, Protocol};
use fadewright::recorder::{JournalSink, Recorder};
use fadewright::session::{AdviceAnswer, Command, Event, FreeText, Opened, PulseSource, Response, SessionOutcome};
use fadewright::source::read_file;
use fadewright::units::Overlap;
use fadewright::words::FitzpatrickType;
use std::error::Error;
use std::fs::DirBuilder;
use std::os::unix::fs::DirBuilderExt;
use std::path::Path;
use std::sync::Arc;

type Outcome<T> = Result<T, Box<dyn Error>>;

/// Sessions of one client, on average.
const PER_CLIENT: usize = 4;
/// Minutes from one session to the next.
const APART_MIN: i64 = 95;

/// A recorded session, ready to be made into others.
struct Pattern {
    opened: Opened,
    /// Milliseconds since the opening, monotonic milliseconds and the event, in the file's own form.
    rest: Vec<(i64, u64, String)>,
    notes: Vec<u8>,
}

/// Makes sessions from number `from` to below `to`; answers with their events.
pub fn make(root: &Path, from: usize, to: usize, events: usize) -> Outcome<u64> {
    let dir = DataDir::open(root)?;
    let patterns = patterns(&dir, events)?;
    let first = DateTime::parse_from_rfc3339("2024-01-08T09:00:00+00:00")?;
    let made = std::thread::scope(|scope| -> Result<u64, String> {
        let halves = [(from..to).step_by(2), (from + 1..to.max(from + 1)).step_by(2)];
        let (dir, patterns) = (&dir, &patterns);
        let work = |half: std::iter::StepBy<std::ops::Range<usize>>| {
            move || -> Result<u64, String> {
                let mut made = 0;
                for n in half {
                    let pattern = patterns.get(n * 7 % patterns.len()).ok_or("a pattern")?;
                    let at = first + Duration::minutes(APART_MIN * i64::try_from(n).unwrap_or(0));
                    made += one(dir, pattern, n, at).map_err(|e| e.to_string())?;
                }
                Ok(made)
            }
        };
        let running: Vec<_> = halves.into_iter().map(|half| scope.spawn(work(half))).collect();
        running.into_iter().map(|r| r.join().map_err(|_| "a thread failed".to_owned())?).sum()
    })?;
    Ok(made)
}

fn one(dir: &DataDir, pattern: &Pattern, n: usize, at: DateTime<FixedOffset>) -> Outcome<u64> {
    let id = name(n, at)?;
    let client = n / PER_CLIENT;
    let mut opened = pattern.opened.clone();
    opened.session = id.to_string();
    opened.date = at.date_naive();
    opened.plan.client.code = format!("CL-{client:05}").parse()?;
    for zone in &mut opened.plan.zones {
        // Every client's zone takes a pass of its own.
        zone.overlap = Overlap::new(8.0 + client as f64 / 2000.0)?;
    }
    let mut head = Digest::genesis(id.as_str());
    let mut text = String::with_capacity(200_000);
    let opening = serde_json::to_string(&Event::SessionOpened(Box::new(opened)))?;
    let all = std::iter::once((0, 0, opening.as_str()));
    let rest = pattern.rest.iter().map(|(ms, mono, event)| (*ms, *mono, event.as_str()));
    for (seq, (ms, mono_ms, event)) in (1_u64..).zip(all.chain(rest)) {
        let at = (at + Duration::milliseconds(ms)).to_rfc3339_opts(SecondsFormat::Millis, false);
        let start = text.len();
        text.push_str(&format!(
            "{{\"seq\":{seq},\"at\":\"{at}\",\"mono_ms\":{mono_ms},\"event\":{event},\"prev\":\"{head}\""
        ));
        head = Digest::of(&[text.as_bytes().get(start..).unwrap_or_default()]);
        text.push_str(&format!(",\"hash\":\"{head}\"}}\n"));
    }
    let path = dir.journal_path(&id);
    DirBuilder::new().mode(0o700).recursive(true).create(path.parent().ok_or("a directory")?)?;
    put(&path, text.as_bytes())?;
    if !pattern.notes.is_empty() {
        put(&path.with_extension("notes.jsonl"), &pattern.notes)?;
    }
    Ok(1 + pattern.rest.len() as u64)
}

/// A session's name without chance, so that the same number gives the same file.
fn name(n: usize, at: DateTime<FixedOffset>) -> Outcome<SessionId> {
    Ok(format!("{}-{n:06}", at.format("%Y%m%d-%H%M%S")).parse()?)
}

/// Twelve sessions: two plans, six skin types; some with bleeding, a blister, a declined advice, an override, taken-back
/// entries, or left open.
fn patterns(dir: &DataDir, events: usize) -> Outcome<Vec<Pattern>> {
    let mut out = Vec::new();
    for (n, skin) in [
        FitzpatrickType::I,
        FitzpatrickType::II,
        FitzpatrickType::III,
        FitzpatrickType::II,
        FitzpatrickType::III,
        FitzpatrickType::I,
    ]
    .into_iter()
    .enumerate()
    {
        for plan in ["first-script.toml", "two-zone-band.toml"] {
            out.push(record(dir, plan, skin, n, events)?);
        }
    }
    Ok(out)
}

fn record(dir: &DataDir, plan: &str, skin: FitzpatrickType, n: usize, events: usize) -> Outcome<Pattern> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-plans").join(plan);
    let mut plan = plan::load(&read_file(&path)?)?.value;
    plan.client.skin = skin;
    let origin = DateTime::parse_from_rfc3339("2024-01-08T09:00:00+00:00")?;
    let clock = FakeClock::at(origin);
    let id = SessionId::new(origin)?;
    let (journal, notes) = (InMemory::default(), InMemory::default());
    let writer = Writer::<Event>::with_file(&id, Box::new(journal.clone()), Box::new(notes.clone()), |_| {})?;
    let opened = Opened {
        session: id.to_string(),
        program: "fadewright bench".to_owned(),
        date: origin.date_naive(),
        plan,
        device: DeviceProfile::embedded()?,
        protocol: Protocol::embedded()?,
        practice: None,
    };
    let mut recorder = Recorder::open(opened.clone(), JournalSink::new(writer, dir.clone()), Arc::new(clock.clone()))?;
    treat(&mut recorder, &clock, n, events)?;
    let writer = recorder.into_sink().into_writer();
    writer.close()?;
    let bytes = journal.bytes();
    let text = String::from_utf8(bytes)?;
    let rest = text.lines().skip(1).map(|line| take_apart(line, origin)).collect::<Outcome<Vec<_>>>()?;
    Ok(Pattern { opened, rest, notes: notes.bytes() })
}

fn take_apart(line: &str, origin: DateTime<FixedOffset>) -> Outcome<(i64, u64, String)> {
    let part = |from: &str, to: &str| line.split_once(from).and_then(|(_, rest)| rest.split_once(to)).map(|(p, _)| p);
    let at = part("\"at\":\"", "\"").ok_or("a time")?;
    let mono = part("\"mono_ms\":", ",").ok_or("a reading")?;
    let (_, event) = line.split_once(",\"event\":").ok_or("an event")?;
    let (event, _) = event.rsplit_once(",\"prev\":\"").ok_or("its end")?;
    Ok(((DateTime::parse_from_rfc3339(at)? - origin).num_milliseconds(), mono.parse()?, event.to_owned()))
}

fn settle(recorder: &mut Recorder<JournalSink>, n: usize) -> Outcome<()> {
    while let Some((advice, level)) = recorder.state().open_advice().first().map(|a| (a.id, a.level)) {
        let reason = FreeText::new("seen before, test area was quiet").ok_or("a reason")?;
        let answer = if n.is_multiple_of(3) || level >= fadewright::session::Level::Lower {
            AdviceAnswer::Declined { reason }
        } else {
            AdviceAnswer::Accepted
        };
        recorder.command(Command::AnswerAdvice { advice, answer })?;
    }
    Ok(())
}

/// A session of about so many events.
fn treat(recorder: &mut Recorder<JournalSink>, clock: &FakeClock, n: usize, events: usize) -> Outcome<()> {
    let step = |s: u64| clock.advance(std::time::Duration::from_millis(s));
    answer(recorder, CheckPhase::SignIn)?;
    let (zone, setting) = {
        let (plan, state) = recorder.state().zone(0).ok_or("the plan has a zone")?;
        (plan.id.clone(), state.target)
    };
    let displayed = DisplayedSetting { setting, energy_j: Some(setting.energy_joules()) };
    recorder.command(Command::ReadBack { zone: zone.clone(), displayed })?;
    answer(recorder, CheckPhase::TimeOut)?;
    recorder.command(Command::StartPass { zone: zone.clone() })?;
    let mut fired = 0_u64;
    while (recorder.state().last.seq as usize) < events.saturating_sub(14) {
        recorder.command(Command::Fire { n: 1, source: PulseSource::Key })?;
        fired += 1;
        step(400);
        let seen = match fired {
            3 => Some((Response::Whitening, Some(2))),
            40 if n % 2 == 1 => Some((Response::Redness, Some(1))),
            60 => Some((Response::Pain, Some(4))),
            90 if n == 2 => Some((Response::PinpointBleeding, None)),
            120 if n == 4 => Some((Response::Swelling, Some(1))),
            _ => None,
        };
        if let Some((kind, grade)) = seen {
            recorder.command(Command::See { kind, grade, note: String::new() })?;
            step(3_000);
            settle(recorder, n)?;
        }
        if fired == 70 && n == 3 {
            recorder.command(Command::Undo)?;
        }
        if fired == 80 && n == 5 {
            recorder.command(Command::CorrectLast { to: 2 })?;
        }
        settle(recorder, n)?;
    }
    recorder.command(Command::EndPass { explanation: None })?;
    if n == 5 {
        return Ok(());
    }
    let state = recorder.state();
    let open = state.opened.plan.zones.iter().zip(&state.zones).filter(|(_, z)| z.outcome.is_none());
    for zone in open.map(|(plan, _)| plan.id.clone()).collect::<Vec<_>>() {
        recorder.command(Command::EndZone { zone, reason: Some("enough for today".to_owned()) })?;
    }
    answer(recorder, CheckPhase::SignOut)?;
    settle(recorder, n)?;
    recorder.command(Command::Close { outcome: SessionOutcome::Completed, note: String::new() })?;
    Ok(())
}
