//! Who may know whom, and who may reach the outside world.

use super::source::{climbs, code_only, declared, module_of, names_after, rust_files, text, tokens, top};
use std::collections::BTreeSet;
use std::path::Path;

/// The rooms from the ground up: each may know only those before it.
const ROOMS: [&str; 25] = [
    "units",
    "words",
    "text",
    "clock",
    "physics",
    "coverage",
    "source",
    "sight",
    "plan",
    "device",
    "protocol",
    "scenario",
    "course",
    "anaesthetic",
    "limits",
    "session",
    "advice",
    "journal",
    "signoff",
    "recorder",
    "practice",
    "review",
    "report",
    "tui",
    "cli",
];

/// Rooms that may know less than their place allows, and why.
const NARROWER: [(&str, &[&str], &str); 8] = [
    ("clock", &[], "time is at the bottom"),
    ("physics", &["units", "words"], "it knows nothing of plans, sessions, files and the clock"),
    ("coverage", &["units", "words"], "geometry knows nothing of plans and sessions"),
    ("sight", &["words", "text", "source"], "what an eye sees of a screen knows nothing of lasers and sessions"),
    ("course", &["words", "plan", "protocol"], "a sum of points knows nothing of devices and sessions"),
    ("anaesthetic", &["units", "words", "plan", "protocol"], "limits of drugs know nothing of lasers and sessions"),
    ("signoff", &["words", "text", "session", "journal"], "a signature knows nothing of plans, devices and screens"),
    ("journal", &["text"], "it keeps the events of any program, so that it can be proved on its own"),
];

/// What is wrong with the imports of one file, `below_src` being its path under `src`.
fn wrong_imports(below_src: &str, source: &str) -> Vec<String> {
    let module = module_of(Path::new(below_src));
    let tokens = tokens(&code_only(source));
    let mut known: BTreeSet<String> = names_after(&tokens, "crate");
    known.extend(names_after(&tokens, "fadewright"));
    let mut wrong = Vec::new();
    let Some(room) = module.first() else {
        // `main.rs` and `lib.rs`.
        known.remove("cli");
        return known.into_iter().map(|name| format!("{below_src} uses {name}: only cli is its business")).collect();
    };
    let Some(rank) = ROOMS.iter().position(|r| r == room) else {
        return vec![format!("{below_src}: the room {room} has no place in ROOMS yet")];
    };
    known.remove(room);
    for name in known {
        let narrow = NARROWER.iter().find(|(r, ..)| r == room);
        match (ROOMS.iter().position(|r| *r == name), narrow) {
            (None, _) => wrong.push(format!("{below_src} uses {name}, which is no room")),
            (Some(_), Some((_, allowed, why))) if !allowed.contains(&name.as_str()) => {
                wrong.push(format!("{below_src} uses {name}, but of {room}: {why}"));
            }
            (Some(other), _) if other > rank => wrong.push(format!("{below_src} uses {name}, which builds on {room}")),
            _ => {}
        }
    }
    if climbs(&tokens) >= module.len() {
        wrong.push(format!("{below_src} leaves its room by super: write crate, so that this test can see it"));
    }
    wrong
}

/// Words of code that only some places may use: the words, the places, why.
const OUTSIDE: [(&[&str], &[&str], &str); 4] = [
    (&["ratatui", "crossterm", "tui_big_text"], &["tui/"], "only screens know the terminal"),
    (&["SystemTime", "Instant", "Local", "Utc"], &["clock.rs"], "time is an argument, so that tests can set it"),
    (&["fs", "File", "OpenOptions"], &["journal/", "source/", "cli/"], "only these touch a disk"),
    (
        &["println", "print", "eprintln", "eprint", "stdout", "stderr"],
        &["cli/", "tui/"],
        "the core does not talk; a screen and its guard write to the terminal",
    ),
];

/// Macros that print: `cli/output.rs` alone writes what a subcommand says.
const PRINTING: [&str; 4] = ["println", "print", "eprintln", "eprint"];

fn wrong_words(below_src: &str, source: &str) -> Vec<String> {
    let tokens = tokens(&code_only(source));
    let mut wrong = Vec::new();
    for (words, places, why) in OUTSIDE {
        if places.iter().any(|place| below_src.starts_with(place)) {
            continue;
        }
        let used = words.iter().filter(|word| tokens.iter().any(|t| t == *word));
        wrong.extend(used.map(|word| format!("{below_src} uses {word}: {why}")));
    }
    if below_src != "cli/output.rs" {
        let macros = tokens.windows(2).filter(|w| w[1] == "!" && PRINTING.contains(&w[0].as_str()));
        wrong.extend(macros.map(|w| format!("{below_src} uses {}!: print through cli::output", w[0])));
    }
    wrong
}

fn over_all_sources(check: impl Fn(&str, &str) -> Vec<String>) {
    let src = top().join("src");
    let wrong: Vec<_> = rust_files("src")
        .iter()
        .flat_map(|path| check(&path.strip_prefix(&src).unwrap().to_string_lossy(), &text(path)))
        .collect();
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

#[test]
fn no_room_knows_one_that_builds_on_it() {
    over_all_sources(wrong_imports);
}

#[test]
fn terminal_clock_disk_and_print_stay_in_their_rooms() {
    over_all_sources(wrong_words);
}

#[test]
fn every_room_is_named_and_every_name_is_a_room() {
    let declared: BTreeSet<_> = declared(&code_only(&text(&top().join("src/lib.rs")))).into_iter().collect();
    assert_eq!(declared, ROOMS.iter().map(|r| (*r).to_owned()).collect());
}

#[test]
fn a_reversed_import_is_caught() {
    let bad = |file: &str, code: &str| wrong_imports(file, code).len();
    assert_eq!(bad("plan/load.rs", "use crate::units::Fluence; use super::Plan;"), 0);
    assert_eq!(bad("plan/load.rs", "use crate::session::State;"), 1);
    assert_eq!(bad("units.rs", "fn f(p: &crate::plan::Plan) {}"), 1);
    assert_eq!(bad("session/state/apply.rs", "use crate::{plan::Zone, tui, advice::RULES};"), 2);
    assert_eq!(bad("session/mod.rs", "// use crate::tui;\nconst T: &str = \"crate::tui\";"), 0);
    assert_eq!(bad("journal/writer.rs", "use crate::session::Event;"), 1, "above in rank, yet not its business");
    assert_eq!(bad("journal/writer.rs", "use crate::text::shown;"), 0);
    assert_eq!(bad("coverage/mod.rs", "use crate::plan::Zone;"), 1);
    assert_eq!(bad("coverage/mod.rs", "use crate::words::Word;"), 0);
    assert_eq!(bad("main.rs", "use fadewright::cli::run;"), 0);
    assert_eq!(bad("main.rs", "use fadewright::journal::read;"), 1);
    assert_eq!(bad("annex/mod.rs", ""), 1, "a room without a place");
    assert_eq!(bad("plan/load.rs", "use super::super::session::State;"), 1);
    assert_eq!(bad("plan/mod.rs", "use super::session::State;"), 1);
    assert_eq!(bad("plan/load.rs", "mod tests { use super::*; }"), 0);
}

#[test]
fn a_word_in_the_wrong_room_is_caught() {
    let bad = |file: &str, code: &str| wrong_words(file, code).len();
    assert_eq!(bad("session/decide/mod.rs", "let t = std::time::Instant::now();"), 1);
    assert_eq!(bad("clock.rs", "let t = Instant::now();"), 0);
    assert_eq!(bad("review/mod.rs", "use ratatui::text::Line;"), 1);
    assert_eq!(bad("tui/run.rs", "use ratatui::text::Line;"), 0);
    assert_eq!(bad("tui/run.rs", "std::fs::write(p, t)"), 1);
    assert_eq!(bad("tui/run.rs", "println!(\"x\")"), 1);
    assert_eq!(bad("cli/log.rs", "println!(\"x\")"), 1);
    assert_eq!(bad("cli/output.rs", "println!(\"x\")"), 0);
    assert_eq!(bad("advice/mod.rs", "eprintln!(\"x\")"), 2);
    assert_eq!(bad("advice/mod.rs", "// println!\nlet s = \"std::fs\";"), 0);
}
