//! What the rules cost on a long session, on the release build.
//!
//! `cargo bench --bench advice` prints the figures with their limits and fails when one is missed.
#![allow(missing_docs, reason = "a program; its modules say what they do")]
#![allow(clippy::disallowed_methods, reason = "it measures real time")]

#[allow(dead_code, reason = "the other benches need more of it")]
mod figures;
#[allow(
    dead_code,
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "the tests' own, which need more"
)]
#[path = "../fixture/mod.rs"]
mod fixture;
#[allow(dead_code, reason = "the other benches need more of it")]
mod machine;
mod parts;

use fadewright::advice::evaluate;
use fadewright::clock::Clock;
use fadewright::session::{AdviceAnswer, Command, Event, FreeText, PulseSource, Response};
use figures::{Table, Times};
use fixture::Bench;
use parts::Outcome;
use std::hint::black_box;
use std::process::ExitCode;
use std::time::{Duration, Instant};

const EVENTS: usize = 5_000;
/// Evaluations in the first and in the last part that are compared.
const PART: usize = 500;

fn main() -> ExitCode {
    parts::run("advice", &[("long", long)])
}

/// One thing after another, as a busy session has them: pulses, responses, pain, answers, passes.
fn act(b: &mut Bench, step: usize) {
    b.clock.advance(Duration::from_millis(700));
    let see = |kind, grade| Command::See { kind, grade, note: String::new() };
    let open = b.state().open_advice().first().map(|a| a.id);
    if let (Some(advice), Some(reason)) = (open, FreeText::new("seen")) {
        drop(b.recorder.command(Command::AnswerAdvice { advice, answer: AdviceAnswer::Declined { reason } }));
        return;
    }
    let zone = b.zone_id(0);
    let command = match step % 40 {
        7 => see(Response::Whitening, Some(2)),
        13 => see(Response::Pain, Some((step % 7) as u8)),
        19 => see(Response::Redness, None),
        23 => see(Response::PinpointBleeding, None),
        29 => see(Response::Stacked, None),
        37 if b.state().active.is_some() => Command::EndPass { explanation: Some("known".to_owned()) },
        38 => Command::WhiteningFaded { zone },
        _ if b.state().active.is_none() => Command::StartPass { zone },
        _ => Command::Fire { n: 1, source: PulseSource::Key },
    };
    drop(b.recorder.command(command));
}

fn long(table: &mut Table) -> Outcome<()> {
    let mut b = Bench::new().lit();
    b.start(0);
    let mut took = Vec::new();
    for step in 0.. {
        if b.events().len() >= EVENTS {
            break;
        }
        act(&mut b, step);
        // The best of three: what the rules cost, not what else the machine did.
        let now = b.clock.now();
        let once = || {
            let start = Instant::now();
            black_box(evaluate(black_box(b.state()), now));
            start.elapsed()
        };
        took.push((0..3).map(|_| once()).min().unwrap_or_default());
    }
    let count = |what: fn(&Event) -> bool| b.events().iter().filter(|(_, e)| what(e)).count();
    let raised = count(|e| matches!(e, Event::AdviceRaised(_)));
    let responses = count(|e| matches!(e, Event::ResponseSeen { .. }));
    table.note("events, of them responses, advice", format!("{}, {responses}, {raised}", b.events().len()));
    let part = |times: &[Duration]| Times::new(times.to_vec());
    let first = part(took.get(..PART).unwrap_or_default());
    let last = part(took.get(took.len().saturating_sub(PART)..).unwrap_or_default());
    let us = |times: &Times, percent| times.percentile(percent).as_secs_f64() * 1e6;
    let all = part(&took);
    table.judge(
        "all rules on one event of a session of 5,000",
        format!("p50 {:.1} us, p99 {:.1} us, max {:.1} us", us(&all, 50), us(&all, 99), us(&all, 100)),
        "p99 200 us",
        us(&all, 99) < 200.0,
    );
    let ratio = us(&last, 50) / us(&first, 50);
    table.judge(
        "  the last 500 events over the first 500, median",
        format!("{ratio:.2} ({:.1} over {:.1} us)", us(&last, 50), us(&first, 50)),
        "1.5",
        ratio < 1.5,
    );
    Ok(())
}
