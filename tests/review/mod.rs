//! The supervisor's side: what is kept of a session, the list over all, and the screens.

mod figures;
mod list;
mod screens;

use crate::fixture::{Bench, opened, plan};
use fadewright::journal::{DataDir, SessionId, Writer};
use fadewright::session::{AdviceAnswer, Command, Event, FreeText, Opened, Response, SessionOutcome};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// What happened in a session.
#[derive(Clone, Copy, PartialEq)]
pub enum Course {
    /// All as wanted.
    Quiet,
    /// A bleeding, and the advice declined.
    Declined,
    /// A blister.
    Blister,
    /// Left open.
    Open,
}

pub fn session(client: &str, id: &str, course: Course) -> Bench {
    let mut p = plan();
    p.client.code = client.parse().unwrap();
    let mut bench = Bench::opened(Opened { session: id.to_owned(), ..opened(p) });
    bench.start(0);
    bench.see(Response::Whitening, Some(1));
    bench.fire(30);
    let settle = |bench: &mut Bench, decline: bool| {
        while let Some(advice) = bench.state().open_advice().first().map(|a| a.id) {
            bench.wait(3);
            let reason = FreeText::new("seen\u{1b}[2J before").unwrap();
            let answer = if decline { AdviceAnswer::Declined { reason } } else { AdviceAnswer::Stopped };
            bench.run(Command::AnswerAdvice { advice, answer });
        }
    };
    match course {
        Course::Declined => {
            bench.see(Response::PinpointBleeding, None);
            settle(&mut bench, true);
        }
        Course::Blister => {
            bench.see(Response::Blister, None);
            settle(&mut bench, false);
        }
        Course::Quiet | Course::Open => bench.see(Response::Redness, Some(1)),
    }
    if course == Course::Open {
        return bench;
    }
    if bench.state().active.is_some() {
        bench.run(Command::EndPass { explanation: None });
    }
    settle(&mut bench, true);
    for zone in 0..bench.state().zones.len() {
        if bench.state().zones[zone].outcome.is_none() {
            bench.run(Command::EndZone { zone: bench.zone_id(zone), reason: Some("enough".to_owned()) });
        }
    }
    bench.answer_all(fadewright::protocol::CheckPhase::SignOut);
    let outcome = if course == Course::Blister { SessionOutcome::Stopped } else { SessionOutcome::Completed };
    bench.run(Command::Close { outcome, note: String::new() });
    bench
}

/// Puts a session on disk.
pub fn put(data: &Path, id: &str, bench: &Bench) -> PathBuf {
    let dir = DataDir::open(data).unwrap();
    let id: SessionId = id.parse().unwrap();
    let mut writer = Writer::<Event>::create(&dir, &id, |_| {}).unwrap();
    for (stamp, event) in bench.events() {
        writer.append(stamp.at, stamp.mono_ms, event).unwrap();
    }
    assert!(writer.wait_saved(Duration::from_secs(20)));
    writer.close().unwrap();
    dir.journal_path(&id)
}

pub const QUIET: &str = "20261124-100000-AAAAAA";
pub const DECLINED: &str = "20261123-100000-BBBBBB";
pub const BLISTER: &str = "20261122-100000-CCCCCC";
pub const OPEN: &str = "20261121-100000-DDDDDD";
pub const DAMAGED: &str = "20261120-100000-EEEEEE";

/// Five sessions, of which the last is damaged in its middle.
pub fn stocked(data: &Path) {
    put(data, QUIET, &session("CL-1", QUIET, Course::Quiet));
    put(data, DECLINED, &session("CL-1", DECLINED, Course::Declined));
    put(data, BLISTER, &session("CL-2", BLISTER, Course::Blister));
    put(data, OPEN, &session("CL-3", OPEN, Course::Open));
    let path = put(data, DAMAGED, &session("CL-4", DAMAGED, Course::Quiet));
    let mut bytes = std::fs::read(&path).unwrap();
    let lines: Vec<usize> = bytes.iter().enumerate().filter(|(_, b)| **b == b'\n').map(|(i, _)| i).collect();
    let middle = lines[lines.len() / 2] + 40;
    bytes[middle] ^= 1;
    std::fs::write(&path, bytes).unwrap();
}
