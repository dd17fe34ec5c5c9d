//! The model operator and the simulated skin: how fast, and what the sound manner is worth.
//!
//! `cargo bench --bench practice` prints the figures with their limits and fails when one is missed.
#![allow(missing_docs, reason = "a program; its modules say what they do")]
#![allow(clippy::disallowed_methods, reason = "it measures real time")]

#[allow(dead_code, reason = "the other benches need more of it")]
mod figures;
#[allow(dead_code, reason = "the other benches need more of it")]
mod machine;
mod parts;

use chrono::DateTime;
use fadewright::device::DeviceProfile;
use fadewright::plan;
use fadewright::practice::{LightBook, Manner, Operator, play};
use fadewright::protocol::Protocol;
use fadewright::recorder::MemorySink;
use fadewright::scenario::{HiddenCase, PracticeRun, SHIPPED, Shipped};
use fadewright::session::Opened;
use fadewright::source::SourceText;
use figures::{Table, ms};
use parts::Outcome;
use std::process::ExitCode;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

const SEEDS: u64 = 200;

fn main() -> ExitCode {
    parts::run("practice", &[("long", long), ("seeds", seeds)])
}

fn opened(plan: plan::Plan, name: &str, case: HiddenCase, seed: u64) -> Outcome<Opened> {
    let from = DateTime::parse_from_rfc3339("2026-11-25T10:00:00+00:00")?;
    Ok(Opened {
        session: "20261125-100000-BBBBBB".to_owned(),
        program: "fadewright bench".to_owned(),
        date: from.date_naive(),
        plan,
        device: DeviceProfile::embedded()?,
        protocol: Protocol::embedded()?,
        practice: Some(Box::new(PracticeRun::new(name.to_owned(), case, seed))),
    })
}

/// What came of a run: harm, clearance in unhurt skin, pulses.
fn run(opened: Opened, manner: Manner, book: &LightBook) -> Outcome<(f64, f64, usize)> {
    let from = DateTime::parse_from_rfc3339("2026-11-25T10:00:00+00:00")?;
    let mut operator = Operator::new(manner);
    let played = play(opened, MemorySink::default(), &mut operator, book, (from, None), &mut |_| true)?;
    let skin = played.sink.skin().ok_or("no skin")?;
    let (mut harm, mut cleared) = (0.0, 0.0);
    for z in skin.outcome() {
        harm += z.harm();
        cleared += z.cleared_unhurt;
    }
    Ok((harm, cleared, skin.fallen().len()))
}

/// A demonstration of some thousands of pulses, with the light of its skin followed anew.
fn long(table: &mut Table) -> Outcome<()> {
    // A spot that whitens: skin that answers nothing is left after twenty pulses.
    let text = include_str!("large-sleeve.toml").replace("spot = \"2 mm\"", "spot = \"3 mm\"");
    let plan = plan::load(&SourceText::new("large sleeve", text))?.value;
    let started = Instant::now();
    let (_, _, pulses) =
        run(opened(plan, "large-sleeve", HiddenCase::plain(), 1)?, Manner::Sound, &LightBook::default())?;
    let took = started.elapsed();
    let for_2000 = took.mul_f64(2000.0 / pulses.max(1) as f64);
    table.note(&format!("a session of {pulses} pulses, played"), ms(took));
    table.judge("of that for 2,000 pulses", ms(for_2000), "2 s", for_2000 <= Duration::from_secs(2));
    Ok(())
}

/// Every scenario, 200 seeds, both manners, on two threads.
fn seeds(table: &mut Table) -> Outcome<()> {
    let book = LightBook::default();
    let sums: Mutex<Vec<[f64; 4]>> = Mutex::new(vec![[0.0; 4]; SHIPPED.len()]);
    let jobs: Vec<(usize, u64)> = (0..SHIPPED.len()).flat_map(|s| (0..SEEDS).map(move |seed| (s, seed))).collect();
    let next = AtomicUsize::new(0);
    let started = Instant::now();
    let work = || -> Result<(), String> {
        while let Some((s, seed)) = jobs.get(next.fetch_add(1, Ordering::Relaxed)) {
            let scenario: &Shipped = SHIPPED.get(*s).ok_or("no scenario")?;
            let (plan, case) = scenario.read().map_err(|e| e.to_string())?;
            let one = |manner| -> Result<(f64, f64, usize), String> {
                let opened =
                    opened(plan.value.clone(), scenario.name, case.value.clone(), *seed).map_err(|e| e.to_string())?;
                run(opened, manner, &book).map_err(|e| format!("{} seed {seed}: {e}", scenario.name))
            };
            let (sound, heedless) = (one(Manner::Sound)?, one(Manner::Heedless)?);
            let mut sums = sums.lock().map_err(|e| e.to_string())?;
            if let Some(sum) = sums.get_mut(*s) {
                for (total, more) in sum.iter_mut().zip([sound.0, sound.1, heedless.0, heedless.1]) {
                    *total += more / SEEDS as f64;
                }
            }
        }
        Ok(())
    };
    std::thread::scope(|scope| -> Result<(), String> {
        let other = scope.spawn(work);
        work()?;
        other.join().map_err(|_| "a thread failed".to_owned())?
    })?;
    let took = started.elapsed();
    let sums = sums.into_inner().map_err(|e| e.to_string())?;
    for (s, [harm, cleared, heedless_harm, heedless_cleared]) in SHIPPED.iter().zip(&sums) {
        table.note(
            &format!("{}: harm, cleared unhurt; sound | heedless", s.name),
            format!("{harm:.2}, {cleared:.3} | {heedless_harm:.2}, {heedless_cleared:.3}"),
        );
    }
    let what = format!("{SEEDS} seeds of {} scenarios, both manners", SHIPPED.len());
    table.judge(&what, ms(took), "5 min", took <= Duration::from_secs(300));
    let differing = [
        ("two-zone-band", true),
        ("ornament", true),
        ("bold-start", true),
        ("repeat-session", true),
        ("cover-up", true),
        ("withheld", false),
        ("cosmetic-brows", false),
    ];
    for (name, clears_more) in differing {
        let at = SHIPPED.iter().position(|s| s.name == name).ok_or("no such scenario")?;
        let [harm, cleared, heedless_harm, heedless_cleared] = sums.get(at).copied().ok_or("no sums")?;
        table.judge(
            &format!("{name}: harm"),
            format!("{harm:.2}"),
            format!("{heedless_harm:.2}"),
            harm < heedless_harm,
        );
        if clears_more {
            let what = format!("{name}: cleared in unhurt skin");
            let kept = cleared > heedless_cleared;
            table.judge(&what, format!("{cleared:.3}"), format!("{heedless_cleared:.3}"), kept);
        }
    }
    Ok(())
}
