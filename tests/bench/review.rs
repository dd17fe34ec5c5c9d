//! The figures that the supervisor's list must reach over 10,000 journals of 300 events, on the release binary.
//!
//! `cargo bench --bench review` prints them with their limits and fails when one is missed. Words after `--` choose
//! parts: `screen`, `statistics`, `increment`. The journals are made first, about a minute's work.
#![allow(missing_docs, reason = "a program; its modules say what they do")]
#![allow(clippy::disallowed_methods, reason = "it measures real time")]

#[allow(dead_code, reason = "the chair's figures need more of it")]
mod figures;
mod fleet;
#[allow(dead_code, reason = "the chair's figures need more of it")]
mod machine;
#[allow(dead_code, reason = "the chair's figures need more of it")]
mod stock;
#[allow(dead_code, reason = "the chair's figures need more of it")]
mod terminal;

use figures::{Table, Times, ms};
use rustix::fs::{Advice, fadvise};
use std::error::Error;
use std::ffi::OsStr;
use std::fs::File;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitCode, Stdio};
use std::time::{Duration, Instant};
use terminal::Terminal;

type Outcome<T> = Result<T, Box<dyn Error>>;

const BINARY: &str = env!("CARGO_BIN_EXE_fadewright");
const SESSIONS: usize = 10_000;
const EVENTS: usize = 300;
/// Sessions that are added for the increment.
const ADDED: usize = 10;
const WARM: Duration = Duration::from_millis(300);
const COLD: Duration = Duration::from_secs(2);
const STATISTICS: Duration = Duration::from_secs(2);
const MEMORY_KIB: u64 = 200 * 1024;
const TURNS: usize = 5;

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    if !words.iter().any(|w| w == "--bench") {
        eprintln!("these figures are taken with: cargo bench --bench review");
        return ExitCode::SUCCESS;
    }
    let parts: Vec<&str> = words.iter().map(String::as_str).filter(|w| !w.starts_with("--")).collect();
    let mut table = Table::default();
    if let Err(e) = measure(&mut table, &|part| parts.is_empty() || parts.contains(&part)) {
        table.failed("harness", &e.to_string());
    }
    println!("\n{}", table.text());
    if table.has_misses() { ExitCode::FAILURE } else { ExitCode::SUCCESS }
}

struct Place {
    home: PathBuf,
    data: PathBuf,
}

fn measure(table: &mut Table, wanted: &dyn Fn(&str) -> bool) -> Outcome<()> {
    // Beside the build and not in the system's temporary directory, which may be memory.
    let room = tempfile::Builder::new().prefix("review-").tempdir_in(env!("CARGO_TARGET_TMPDIR"))?;
    let kind = machine::file_system(room.path())?;
    table.judge("data directory's file system", kind.clone(), "a disk", machine::is_disk(&kind));
    table.note("load before", machine::load());
    let place = Place { home: room.path().join("home"), data: room.path().join("data") };
    std::fs::create_dir(&place.home)?;
    let made = Instant::now();
    let events = fleet::make(&place.data, 0, SESSIONS, EVENTS)?;
    let (files, bytes) = sizes(&place.data)?;
    let what = format!("{} of {} events, {files} files, {} MB", SESSIONS, events / SESSIONS as u64, bytes / 1_000_000);
    table.note("journals", format!("{what}, made in {}", ms(made.elapsed())));
    // Otherwise the system writes them out while others are measured, and pages that are not written cannot be let go.
    drop(Command::new("sync").status());

    if wanted("screen") {
        screen(table, &place)?;
    }
    if wanted("statistics") {
        statistics(table, &place)?;
    }
    if wanted("increment") {
        increment(table, &place)?;
    }
    table.note("load after", machine::load());
    Ok(())
}

fn sizes(dir: &Path) -> Outcome<(u64, u64)> {
    let (mut files, mut bytes) = (0, 0);
    for entry in std::fs::read_dir(dir)? {
        let path = entry?.path();
        if path.is_dir() {
            let (f, b) = sizes(&path)?;
            files += f;
            bytes += b;
        } else {
            files += 1;
            bytes += path.metadata()?.len();
        }
    }
    Ok((files, bytes))
}

/// Lets go of the pages of all files below a directory.
fn forget_pages(dir: &Path) -> Outcome<()> {
    for entry in std::fs::read_dir(dir)? {
        let path = entry?.path();
        if path.is_dir() {
            forget_pages(&path)?;
        } else {
            fadvise(File::open(&path)?, 0, None, Advice::DontNeed)?;
        }
    }
    Ok(())
}

fn forget_index(place: &Place) -> Outcome<()> {
    let cache = place.home.join(".cache");
    if cache.exists() {
        std::fs::remove_dir_all(cache)?;
    }
    Ok(())
}

struct Shown {
    /// Until rows stand on screen.
    rows: Duration,
    /// Until all sessions are in the list.
    all: Duration,
    /// The most memory held, KiB.
    memory_kib: u64,
}

fn show(place: &Place, more: &[&str]) -> Outcome<Shown> {
    let mut command: Vec<&OsStr> = vec![OsStr::new(BINARY), OsStr::new("review")];
    command.extend(more.iter().map(OsStr::new));
    let mut terminal = Terminal::start(&command, &place.home, &place.data)?;
    // A client code stands in each row of the list.
    let first = terminal.until("rows", |f| f.text.contains("CL-0"))?;
    let rows = first.at - terminal.started();
    let whole = |text: &str| text.contains(&format!("of {SESSIONS}")) && !text.contains("still reading");
    let at = if whole(&first.text) { first.at } else { terminal.until("all sessions", |f| whole(&f.text))?.at };
    let all = at - terminal.started();
    let (_, memory_kib) = machine::memory_kib(terminal.pid()?)?;
    terminal.send("q")?;
    terminal.wait_end()?;
    Ok(Shown { rows, all, memory_kib })
}

fn screen(table: &mut Table, place: &Place) -> Outcome<()> {
    forget_index(place)?;
    forget_pages(&place.data)?;
    let first = show(place, &[])?;
    table.judge("list on screen, no index, pages dropped", ms(first.rows), ms(COLD), first.rows <= COLD);
    table.note("  all 3 million events read from disk after", ms(first.all));
    table.judge("  memory", format!("{} MiB", first.memory_kib / 1024), "200 MiB", first.memory_kib <= MEMORY_KIB);
    forget_index(place)?;
    let second = show(place, &[])?;
    table.note(
        "list on screen, no index, pages in memory",
        format!("{}, all after {}", ms(second.rows), ms(second.all)),
    );
    forget_pages(&place.data)?;
    forget_pages(&place.home)?;
    let cold = show(place, &[])?;
    table.judge("whole list on screen, index there, pages dropped", ms(cold.all), ms(COLD), cold.all <= COLD);
    let mut warm = Vec::new();
    let mut memory = 0;
    for _ in 0..TURNS {
        let shown = show(place, &[])?;
        warm.push(shown.all);
        memory = memory.max(shown.memory_kib);
    }
    table.judge_times("whole list on screen, warm", &Times::new(warm), 50, WARM);
    table.judge("  memory", format!("{} MiB", memory / 1024), "200 MiB", memory <= MEMORY_KIB);
    Ok(())
}

/// Runs a subcommand to its end; its output and how long it took.
fn run(place: &Place, args: &[&str]) -> Outcome<(Duration, Vec<u8>)> {
    let start = Instant::now();
    let out = Command::new(BINARY)
        .args(args)
        .env_clear()
        .env("HOME", &place.home)
        .env("FADEWRIGHT_DATA", &place.data)
        .stdin(Stdio::null())
        .output()?;
    let time = start.elapsed();
    if !out.status.success() {
        return Err(String::from_utf8_lossy(&out.stderr).into_owned().into());
    }
    Ok((time, out.stdout))
}

fn statistics(table: &mut Table, place: &Place) -> Outcome<()> {
    forget_index(place)?;
    let (first, out) = run(place, &["review", "--statistics", "--json"])?;
    table.note("statistics over all, no index", ms(first));
    let mut times = Vec::new();
    for _ in 0..TURNS {
        let (time, again) = run(place, &["review", "--statistics", "--json"])?;
        if again != out {
            return Err("the index gives other figures than the journals".into());
        }
        times.push(time);
    }
    table.judge_times("statistics over all", &Times::new(times), 50, STATISTICS);
    Ok(())
}

fn increment(table: &mut Table, place: &Place) -> Outcome<()> {
    run(place, &["review", "--json"])?;
    let (before, _) = run(place, &["review", "--json"])?;
    fleet::make(&place.data, SESSIONS, SESSIONS + ADDED, EVENTS)?;
    let (with, _) = run(place, &["review", "--json"])?;
    let (after, _) = run(place, &["review", "--json"])?;
    let words = format!("{}; the same without new ones {} before, {} after", ms(with), ms(before), ms(after));
    // Ten new ones must not cost as a thousandth of all would: what they take more is theirs.
    let limit = before.max(after) + Duration::from_millis(200);
    table.judge(&format!("list with {ADDED} new sessions"), words, ms(limit), with <= limit);
    Ok(())
}
