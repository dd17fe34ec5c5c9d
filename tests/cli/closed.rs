//! A closed session on disk, in the past by any clock that is right.

use crate::fixture::Bench;
use chrono::{DateTime, FixedOffset};
use fadewright::clock::Clock;
use fadewright::journal::{DataDir, SessionId, Writer};
use fadewright::protocol::CheckPhase;
use fadewright::scenario::PracticeRun;
use fadewright::session::{Command, Event, Response, SessionOutcome, Stamp};
use std::path::{Path, PathBuf};
use std::time::Duration;

pub const ID: &str = "20240301-100000-TTTTTT";
pub const DATE: &str = "2024-03-01";

/// Two zones: 100 pulses in one pass of the first, whitening and pinpoint bleeding, its advice declined; the second
/// skipped; closed.
pub fn treated() -> Bench {
    let mut bench = Bench::new();
    bench.start(0);
    bench.see(Response::Whitening, Some(2));
    bench.fire(100);
    bench.see(Response::PinpointBleeding, Some(1));
    decline_all(&mut bench);
    bench.run(Command::EndPass { explanation: None });
    close(&mut bench);
    bench
}

pub fn decline_all(bench: &mut Bench) {
    let open: Vec<u64> = bench.state().open_advice().iter().map(|a| a.id).collect();
    for advice in open {
        bench.run(Command::AnswerAdvice {
            advice,
            answer: fadewright::session::AdviceAnswer::Declined {
                reason: fadewright::session::FreeText::new("one vessel").unwrap(),
            },
        });
    }
}

pub fn close(bench: &mut Bench) {
    bench.answer_all(CheckPhase::SignOut);
    for zone in [0, 1] {
        let zone = bench.zone_id(zone);
        bench.run(Command::EndZone { zone, reason: Some("enough for today".to_owned()) });
    }
    decline_all(bench);
    bench.run(Command::Close { outcome: SessionOutcome::Completed, note: String::new() });
}

/// The events as if they had happened on [`DATE`].
pub fn in_the_past(bench: &Bench, id: &str) -> Vec<(Stamp, Event)> {
    let day: DateTime<FixedOffset> = DateTime::parse_from_rfc3339("2024-03-01T10:00:00+00:00").unwrap();
    let back = crate::fixture::origin() - day;
    let mut events = bench.events().to_vec();
    for (stamp, event) in &mut events {
        stamp.at -= back;
        if let Event::SessionOpened(opened) = event {
            opened.date = DATE.parse().unwrap();
            opened.session = id.to_owned();
        }
    }
    events
}

/// Writes the events as a session of the data directory.
pub fn write(home: &Path, id: &str, events: &[(Stamp, Event)]) -> PathBuf {
    let dir = DataDir::open(home.join("data")).unwrap();
    let id: SessionId = id.parse().unwrap();
    let mut writer = Writer::create(&dir, &id, |_| {}).unwrap();
    for (stamp, event) in events {
        writer.append(stamp.at, stamp.mono_ms, event).unwrap();
    }
    assert!(writer.wait_saved(Duration::from_secs(20)));
    writer.close().unwrap();
    dir.journal_path(&id)
}

/// A closed session, written.
pub fn closed(home: &Path) -> PathBuf {
    write(home, ID, &in_the_past(&treated(), ID))
}

/// The same session, cut short before it was closed.
pub fn open(home: &Path) -> PathBuf {
    let mut events = in_the_past(&treated(), ID);
    events.retain(|(_, e)| !matches!(e, Event::SessionClosed { .. }));
    write(home, ID, &events)
}

/// The same session as PRACTICE.
pub fn practice(home: &Path) -> PathBuf {
    let shipped = fadewright::scenario::SHIPPED.first().unwrap();
    let (_, case) = shipped.read().unwrap();
    let run = PracticeRun::new(shipped.name.to_owned(), case.value, 1);
    let mut events = in_the_past(&treated(), ID);
    if let (_, Event::SessionOpened(opened)) = &mut events[0] {
        opened.practice = Some(Box::new(run));
    }
    write(home, ID, &events)
}

/// Flips one bit of a file at `at`.
pub fn flip(path: &Path, at: usize) {
    let mut bytes = std::fs::read(path).unwrap();
    bytes[at] ^= 1;
    std::fs::write(path, bytes).unwrap();
}

/// Today, for what may not lie in the future.
pub fn today() -> chrono::NaiveDate {
    fadewright::clock::SystemClock::new().now().wall.date_naive()
}
