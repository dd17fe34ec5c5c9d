//! The figures that the chair must reach, measured on the release binary in a pseudo-terminal.
//!
//! `cargo bench --bench chair` prints them with their limits and fails when one is missed. Words after `--` choose
//! parts: `start`, `memory`, `pulses`, `slow-disk`.
#![allow(missing_docs, reason = "a program; its modules say what they do")]
#![allow(clippy::disallowed_methods, reason = "it measures real time")]

mod drive;
mod figures;
mod machine;
mod pulses;
mod stock;
mod terminal;

use figures::{Table, Times, ms};
use pulses::Run;
use std::error::Error;
use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::{Duration, Instant};
use stock::Stock;
use tempfile::TempDir;
use terminal::{PATIENCE, Terminal};

type Outcome<T> = Result<T, Box<dyn Error>>;

/// The first frame stands this soon after the start.
const FIRST_FRAME: Duration = Duration::from_millis(50);
/// A key is on screen this soon: one frame at 60 a second.
const KEY_TO_FRAME: Duration = Duration::from_millis(16);
/// Resident memory after the start.
const RESIDENT_KIB: u64 = 40 * 1024;
/// Closed sessions in the data directory.
const SESSIONS: i64 = 1000;
/// Starts that are timed.
const STARTS: usize = 30;
/// Twenty a second for thirty seconds.
const KEYS: usize = 600;
/// Keys typed in a terminal without key reports.
const KEYS_WITHOUT_REPORTS: usize = 200;
/// Pulses of a long session.
const LONG_SESSION: u64 = 3000;
/// The delay of a slow disk's sync.
const SLOW: Duration = Duration::from_millis(500);

const BINARY: &str = env!("CARGO_BIN_EXE_fadewright");
const PLAN: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/bench/large-sleeve.toml");

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    if !words.iter().any(|w| w == "--bench") {
        eprintln!("these figures are taken with: cargo bench --bench chair");
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

fn measure(table: &mut Table, wanted: &dyn Fn(&str) -> bool) -> Outcome<()> {
    // Beside the build and not in the system's temporary directory, which may be memory.
    let room = tempfile::Builder::new().prefix("chair-").tempdir_in(env!("CARGO_TARGET_TMPDIR"))?;
    let kind = machine::file_system(room.path())?;
    table.judge("data directory's file system", kind.clone(), "a disk", machine::is_disk(&kind));
    table.note("write and sync of 400 bytes there", machine::sync_times(room.path())?.words());
    table.note("load before", machine::load());
    let home = room.path().join("home");
    std::fs::create_dir(&home)?;

    if wanted("start") || wanted("memory") {
        let made = Instant::now();
        let stock = Stock::make(&room.path().join("stock"), SESSIONS)?;
        let each = stock.events / SESSIONS.unsigned_abs();
        table.note("closed sessions", format!("{SESSIONS} of {each} events, made in {}", ms(made.elapsed())));
        if wanted("start") {
            starts(table, &stock, &home)?;
        }
        if wanted("memory") {
            memory(table, &stock, &home)?;
        }
    }
    if wanted("pulses") {
        fast_pulses(table, &room, &home)?;
    }
    if wanted("slow-disk") {
        slow_disk(table, &room, &home)?;
    }
    table.note("load after", machine::load());
    Ok(())
}

fn treat() -> [&'static OsStr; 3] {
    [BINARY.as_ref(), "treat".as_ref(), PLAN.as_ref()]
}

// ---- From start to first frame ----

fn starts(table: &mut Table, stock: &Stock, home: &Path) -> Outcome<()> {
    let alone: [&OsStr; 1] = [BINARY.as_ref()];
    for (with_daybook, book) in [(true, "with day book"), (false, "no day book")] {
        for (name, command, text) in
            [("start screen", &alone[..], "nothing to resume"), ("treat PLAN", &treat()[..], "CHECKS")]
        {
            let mut times = Vec::new();
            for _ in 0..STARTS {
                stock.restore(with_daybook)?;
                let mut terminal = Terminal::start(command, home, stock.root())?;
                let frame = terminal.until("the first frame", |f| f.text.contains(text))?;
                times.push(frame.at.duration_since(terminal.started()));
            }
            table.judge_times(&format!("first frame, {name}, {book}"), &Times::new(times), 100, FIRST_FRAME);
        }
    }
    stock.restore(true)?;
    Ok(())
}

// ---- Memory ----

fn memory(table: &mut Table, stock: &Stock, home: &Path) -> Outcome<()> {
    stock.restore(true)?;
    let alone: [&OsStr; 1] = [BINARY.as_ref()];
    let mut terminal = Terminal::start(&alone, home, stock.root())?;
    terminal.until("the start screen", |f| f.text.contains("nothing to resume"))?;
    judge_memory(table, "memory, start screen", &terminal)?;
    drop(terminal);

    let mut terminal = Terminal::start(&treat(), home, stock.root())?;
    terminal.until("the first frame", |f| f.text.contains("CHECKS"))?;
    judge_memory(table, "memory, treat PLAN", &terminal)?;
    drive::to_first_pass(&mut terminal)?;
    // A release tells the program that this terminal reports keys, so that fast presses are not taken for a held key.
    terminal.send("\x1b[32;1:3u")?;
    for _ in 0..LONG_SESSION {
        terminal.send("\x1b[32u")?;
        std::thread::sleep(Duration::from_millis(4));
    }
    let last =
        |f: &terminal::Frame| drive::Count::read(&f.text).is_some_and(|c| c.is_saved() && c.counted == LONG_SESSION);
    terminal.until("the last pulse", last)?;
    let (now, most) = machine::memory_kib(terminal.pid()?)?;
    table.note(&format!("memory, after {LONG_SESSION} pulses"), memory_words(now, most));
    drive::leave(&mut terminal)?;
    judge_journal(table, "journal of the long session", &stock.recorded()?, LONG_SESSION)?;
    stock.restore(true)
}

fn judge_memory(table: &mut Table, what: &str, terminal: &Terminal) -> Outcome<()> {
    let (now, most) = machine::memory_kib(terminal.pid()?)?;
    let limit = format!("{} MiB", RESIDENT_KIB / 1024);
    table.judge(what, memory_words(now, most), limit, most < RESIDENT_KIB);
    Ok(())
}

#[allow(clippy::cast_precision_loss, reason = "megabytes")]
fn memory_words(now: u64, most: u64) -> String {
    format!("resident {:.1} MiB, at most {:.1} MiB", now as f64 / 1024.0, most as f64 / 1024.0)
}

// ---- Pulses ----

fn fast_pulses(table: &mut Table, room: &TempDir, home: &Path) -> Outcome<()> {
    let data = room.path().join("pulses");
    let mut terminal = Terminal::start(&treat(), home, &data)?;
    drive::to_first_pass(&mut terminal)?;
    let unreported = pulses::run_without_reports(&mut terminal, KEYS_WITHOUT_REPORTS)?;
    table.note("counted without key reports, 20 Hz", format!("{unreported} of {KEYS_WITHOUT_REPORTS} keys"));
    let before = machine::processor_times(terminal.pid()?)?;
    match pulses::run(&mut terminal, KEYS, PATIENCE) {
        Ok(run) => {
            table.judge_times("key to frame", &run.drawn, 99, KEY_TO_FRAME);
            table.judge_times("key to frame that shows it saved", &run.saved, 99, KEY_TO_FRAME);
            let after = machine::processor_times(terminal.pid()?)?;
            // Tells a slow program from a machine that is busy with others.
            let each = |of: Duration| ms(of / u32::try_from(KEYS).unwrap_or(u32::MAX));
            let (ran, waited) = (each(after.0.saturating_sub(before.0)), each(after.1.saturating_sub(before.1)));
            table.note("processor for each key", format!("{ran} used, {waited} waited for while others held it"));
            frame_sizes(table, &run);
            drive::leave(&mut terminal)?;
            judge_journal(table, "journal of the fast pulses", &journals(&data)?, unreported + run.counted.1)?;
        }
        Err(e) => table.failed("key to frame", &e),
    }
    Ok(())
}

fn frame_sizes(table: &mut Table, run: &Run) {
    let words = |sizes: &[usize]| {
        let mut sizes = sizes.to_vec();
        sizes.sort_unstable();
        let median = sizes.get(sizes.len() / 2).copied().unwrap_or_default();
        format!("median {median} bytes  max {} bytes  ({})", sizes.last().copied().unwrap_or_default(), sizes.len())
    };
    table.note("bytes of a frame while pulses come", words(&run.frame_bytes));
    table.note("bytes of all frames from pulse to pulse", words(&run.pulse_bytes));
}

fn slow_disk(table: &mut Table, room: &TempDir, home: &Path) -> Outcome<()> {
    let data = room.path().join("slow");
    let inject = format!("inject=fdatasync:delay_enter={}", SLOW.as_micros());
    let Some(strace) = find("strace") else {
        table.failed("slow disk", "strace is not installed, which delays the syncs");
        return Ok(());
    };
    let mut command: Vec<&OsStr> = vec![strace.as_os_str()];
    // With the filter in the kernel, only the syncs pay for being traced.
    command.extend(["-f", "--seccomp-bpf", "-qq", "-o", "/dev/null"].map(OsStr::new));
    command.extend(["-e", "trace=fdatasync", "-e", &inject].map(OsStr::new));
    command.extend(treat());
    let mut terminal = Terminal::start(&command, home, &data)?;
    drive::to_first_pass(&mut terminal)?;
    match pulses::run(&mut terminal, KEYS, PATIENCE) {
        Ok(run) => {
            table.judge_times("slow disk: key to frame", &run.drawn, 99, KEY_TO_FRAME);
            let early = run.saved_when_drawn;
            table.judge("slow disk: drawn as saved at once", format!("{early} keys"), "0 keys", early == 0);
            let least = run.saved.least();
            let limit = format!("not before {}", ms(SLOW));
            table.judge("slow disk: earliest key shown as saved", ms(least), limit, least >= SLOW);
            table.note("slow disk: key to frame that shows it saved", run.saved.words());
            drive::leave(&mut terminal)?;
            judge_journal(table, "slow disk: journal", &journals(&data)?, run.counted.1)?;
        }
        Err(e) => table.failed("slow disk: key to frame", &e),
    }
    Ok(())
}

fn find(program: &str) -> Option<PathBuf> {
    let path = std::env::var_os("PATH")?;
    std::env::split_paths(&path).map(|dir| dir.join(program)).find(|file| file.is_file())
}

// ---- What is on disk in the end ----

fn journals(data: &Path) -> Outcome<Vec<PathBuf>> {
    Ok(fadewright::journal::DataDir::open(data)?.list()?.into_iter().map(|e| e.path).collect())
}

fn judge_journal(table: &mut Table, what: &str, journals: &[PathBuf], keys: u64) -> Outcome<()> {
    use fadewright::session::Event;
    let [journal] = journals else {
        table.failed(what, &format!("{} journals instead of one", journals.len()));
        return Ok(());
    };
    let read = fadewright::journal::read::<Event>(journal)?;
    let fired = read.records.iter().map(|r| match &r.event {
        Event::PulsesFired { n, .. } => *n,
        _ => 0,
    });
    let pulses: u64 = fired.sum();
    let kept = pulses == keys && read.verdict.is_sound();
    table.judge(what, format!("{pulses} pulses, {}", read.verdict), format!("{keys} pulses, sound"), kept);
    Ok(())
}
