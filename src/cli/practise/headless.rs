//! Playing without a terminal.

use super::{Chosen, PractiseArgs, choose};
use crate::cli::Common;
use crate::cli::debrief::text;
use crate::cli::files::open_practice_dir;
use crate::cli::log::{Log, render};
use crate::cli::output::{CliError, print, print_json};
use crate::cli::sessions::read_session;
use crate::clock::{Clock, SystemClock};
use crate::journal::{DataDir, SessionId, Writer, daybook};
use crate::practice::debrief::{Debrief, debrief};
use crate::practice::{LightBook, Manner, Operator, play};
use crate::recorder::JournalSink;
use crate::review::{summarise, timeline};
use crate::session::Event;
use serde::Serialize;
use std::process::ExitCode;
use std::time::Duration;

/// How long the last events may take to reach the disk.
const LAST_WAIT: Duration = Duration::from_secs(30);

#[derive(Serialize)]
struct Output {
    log: Log,
    debrief: Debrief,
}

pub(super) fn run(common: &Common, args: &PractiseArgs) -> Result<ExitCode, CliError> {
    let Some(scenario) = &args.scenario else {
        return Err(CliError::Bad("--headless needs a scenario or a plan; --list names the scenarios".to_owned()));
    };
    let clock = SystemClock::new();
    let dir = open_practice_dir(common)?;
    let book = LightBook::default();
    let mut outputs = Vec::new();
    loop {
        let now = clock.now().wall;
        let chosen = match choose(common, args, scenario, now) {
            Ok(chosen) => chosen,
            // The course came to its end after at least one session of this run.
            Err(CliError::No(_)) if args.course && !outputs.is_empty() => break,
            Err(e) => return Err(e),
        };
        outputs.push(one(&dir, chosen, &book, now)?);
        if !args.course {
            break;
        }
    }
    if args.json {
        if let (false, [one]) = (args.course, outputs.as_slice()) { print_json(one)? } else { print_json(&outputs)? }
    } else {
        for o in &outputs {
            print(&format!("{}\n{}\n", render(&o.log), text(&o.debrief)))?;
        }
    }
    Ok(ExitCode::SUCCESS)
}

/// Plays and keeps one session.
fn one(
    dir: &DataDir,
    chosen: Chosen,
    book: &LightBook,
    now: chrono::DateTime<chrono::FixedOffset>,
) -> Result<Output, CliError> {
    let id = SessionId::new(now)?;
    let writer = Writer::<Event>::create(dir, &id, |_| {})?;
    daybook::opened(dir, &id, now)?;
    let begins = (chosen.from, chosen.earlier.clone());
    let opened = chosen.opened(&id);
    let mut operator = Operator::new(Manner::Sound);
    let sink = JournalSink::new(writer, dir.clone());
    let played =
        play(opened, sink, &mut operator, book, begins, &mut |_| true).map_err(|e| CliError::Bad(e.to_string()))?;
    let writer = played.sink.into_inner().into_writer();
    let (head, count, path) = (writer.head(), writer.last_seq(), writer.path().to_owned());
    if !writer.wait_saved(LAST_WAIT) {
        return Err(CliError::No(format!("not all of the run was saved in {}", path.display())));
    }
    drop(writer);
    daybook::closed(dir, &id, head, count, now)?;
    let (back, events) = read_session(&path)?;
    let damaged = || CliError::No(format!("{}: {}", path.display(), back.verdict));
    let summary = summarise(&events).ok_or_else(damaged)?;
    let debrief = debrief(&events, book).ok_or_else(damaged)?;
    let log = Log {
        summary,
        record_sound: back.verdict.is_sound(),
        follow_ups: Vec::new(),
        follow_ups_record: None,
        sign_offs: Vec::new(),
        timeline: timeline(&events),
        record: back.verdict,
    };
    Ok(Output { log, debrief })
}
