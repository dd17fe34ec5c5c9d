//! `log` and `verify` on sound, damaged and missing journals, and a session that someone else holds.

use super::{home, run};
use crate::chair::pty::{Chair, Ended};
use crate::fixture::Bench;
use fadewright::journal::{DataDir, SessionId, Writer};
use fadewright::session::{Event, Response};
use std::path::{Path, PathBuf};
use std::time::Duration;

const ID: &str = "20261124-100000-TTTTTT";

/// Writes a session with 30 pulses and a bleeding; the writer still holds it.
fn recorded(home: &Path) -> (Writer<Event>, PathBuf) {
    let mut bench = Bench::new();
    bench.start(0);
    bench.see(Response::Whitening, Some(1));
    bench.fire(30);
    bench.see(Response::PinpointBleeding, None);
    let dir = DataDir::open(home.join("data")).unwrap();
    let id: SessionId = ID.parse().unwrap();
    let mut writer = Writer::create(&dir, &id, |_| {}).unwrap();
    for (stamp, event) in bench.events() {
        writer.append(stamp.at, stamp.mono_ms, event).unwrap();
    }
    assert!(writer.wait_saved(Duration::from_secs(20)));
    (writer, dir.journal_path(&id))
}

fn sound(home: &Path) -> PathBuf {
    let (writer, path) = recorded(home);
    writer.close().unwrap();
    path
}

#[test]
fn a_sound_journal_verifies_and_the_words_promise_no_more_than_is_true() {
    let home = home();
    let path = sound(home.path());
    for given in [path.display().to_string(), ID.to_owned(), "20261124".to_owned()] {
        let told = run(home.path(), &["verify", &given]);
        assert_eq!(told.code, 0, "{}", told.err);
        assert!(told.out.contains("no proof against someone who can rewrite the whole file"), "{}", told.out);
        let json = run(home.path(), &["verify", &given, "--json"]).json();
        assert_eq!(json["ok"], true);
        assert_eq!(json["problems"], serde_json::json!([]));
    }
}

#[test]
fn the_chart_of_a_session_is_plain_text_with_its_pulses_and_letters() {
    let home = home();
    sound(home.path());
    let told = run(home.path(), &["log", ID, "--chart"]);
    assert_eq!((told.code, told.err.as_str()), (0, ""));
    assert!(told.out.is_ascii() && told.out.lines().all(|l| l.len() <= 80), "{}", told.out);
    for words in ["30 pulses in", "skin: w whitening, b bleeding", "advice: L LOWER", "10:00"] {
        assert!(told.out.contains(words), "{words}: {}", told.out);
    }
    let lane = |name: &str| told.out.lines().find(|l| l.starts_with(name)).unwrap_or_default().to_owned();
    // Whitening and bleeding fall together here: bleeding counts for more.
    assert!(lane("skin").contains('b') && lane("advice").contains('L') && lane("work").contains('n'), "{}", told.out);
    assert!(told.out.contains('#'), "{}", told.out);
    assert_eq!(run(home.path(), &["log", ID, "--chart", "--json"]).code, 2);
}

#[test]
fn a_flipped_byte_is_found_with_its_line() {
    let home = home();
    let path = sound(home.path());
    let mut bytes = std::fs::read(&path).unwrap();
    let line = 4;
    let start = bytes.iter().enumerate().filter(|(_, b)| **b == b'\n').nth(line - 2).unwrap().0 + 1;
    bytes[start + 30] ^= 1;
    std::fs::write(&path, bytes).unwrap();
    let told = run(home.path(), &["verify", ID, "--json"]);
    assert_eq!(told.code, 1);
    let json = told.json();
    assert_eq!(json["ok"], false);
    let problem = &json["problems"][0];
    assert_eq!(problem["line"], line);
    assert_eq!(problem["file"], path.display().to_string());
    for key in ["column", "field", "message"] {
        assert!(problem.get(key).is_some(), "{key}");
    }
    let human = run(home.path(), &["verify", ID]);
    assert_eq!(human.code, 1);
    assert!(human.out.contains("DAMAGED") && human.out.contains("line 4"), "{}", human.out);
    assert_eq!(run(home.path(), &["log", ID]).code, 1, "a log of a damaged journal is no clean answer");
}

#[test]
fn a_session_that_is_not_there_is_bad_input() {
    let home = home();
    let none_yet = run(home.path(), &["log", ID]);
    assert_eq!(none_yet.code, 2);
    assert!(none_yet.err.contains("no sessions yet"), "{}", none_yet.err);
    assert!(!home.path().join("data").exists(), "looking for a session makes no directory");
    sound(home.path());
    for command in ["log", "verify"] {
        let told = run(home.path(), &[command, "20270101-000000-AAAAAA"]);
        assert_eq!(told.code, 2);
        assert!(told.err.contains("no session '20270101-000000-AAAAAA'"), "{}", told.err);
        let file = run(home.path(), &[command, "./20270101-000000-AAAAAA.jsonl"]);
        assert_eq!(file.code, 2, "{}", file.err);
        assert!(file.err.contains("20270101-000000-AAAAAA.jsonl"), "{}", file.err);
    }
}

#[test]
fn the_log_s_figures_are_those_of_the_session_and_name_their_units() {
    let home = home();
    sound(home.path());
    let told = run(home.path(), &["log", ID, "--json"]);
    assert_eq!(told.code, 0, "{}", told.err);
    let json = told.json();
    assert_eq!(json["session"], ID);
    assert_eq!(json["pulses"], 30);
    assert_eq!(json["record_sound"], true);
    assert_eq!(json["advice"][0]["rule"], "pinpoint-bleeding");
    let zone = &json["zones"][0];
    assert_eq!(zone["area_mm2"], 1200.0);
    let planned = &zone["planned"];
    for (key, value) in [
        ("wavelength_nm", 1064.0),
        ("spot_mm", 4.0),
        ("fluence_j_cm2", 3.0),
        ("rate_hz", 5.0),
        ("pulse_duration_s", 6e-9),
    ] {
        let found = planned[key].as_f64().unwrap_or_else(|| panic!("{key} in {planned}"));
        assert!((found / value - 1.0).abs() < 1e-9, "{key}: {found}");
    }
    // E = F pi d^2 / 4 = 3 J/cm2 x pi x (0.4 cm)^2 / 4.
    let energy_j = planned["energy_j"].as_f64().unwrap();
    assert!((energy_j - 0.376_991_118).abs() < 1e-8, "{energy_j}");
    let human = run(home.path(), &["log", ID]);
    assert_eq!(human.code, 0);
    assert!(human.out.contains("pulses: 30") && human.out.contains("NOT CLOSED"), "{}", human.out);
}

#[test]
fn a_session_that_is_held_elsewhere_can_be_read_but_not_resumed() {
    let home = home();
    let (writer, _) = recorded(home.path());
    assert_eq!(run(home.path(), &["log", ID]).code, 0);
    let mut chair = Chair::start_in(home.path(), &[], &[], 80, 24);
    chair.wait_for(ID).unwrap();
    chair.send("o");
    assert_eq!(chair.wait_exit().unwrap(), Ended::Code(75));
    assert!(chair.screen().contains("fadewright: "), "{}", chair.screen());
    drop(writer);
}
