//! What a program that listens gets to hear.

use super::hand::{Done, Hand, sample};
use std::path::Path;
use std::thread::sleep;
use std::time::Duration;

fn configure(home: &Path, text: &str) {
    let dir = home.join("config/fadewright");
    std::fs::create_dir_all(&dir).unwrap();
    let text = format!("kind = \"fadewright announcements\"\nschema = 1\n{text}");
    std::fs::write(dir.join("announcements.toml"), text).unwrap();
}

#[test]
fn milestones_advice_and_questions_are_lines_of_their_own() -> Done {
    let home = tempfile::tempdir().unwrap();
    let said = home.path().join("said.txt");
    configure(home.path(), &format!("command = [\"tee\", \"{}\"]\nevery = 5\n", said.display()));
    let mut hand = Hand::start(home.path(), &["treat", &sample("two-zone-band")]);
    hand.begin_a_pass()?;
    hand.pulses(6)?;
    hand.key('b');
    hand.wait_for("LOWER")?;
    hand.key('w');
    hand.wait_for("How strong?")?;
    for _ in 0..100 {
        if std::fs::read_to_string(&said).unwrap_or_default().contains("How strong?") {
            break;
        }
        sleep(Duration::from_millis(50));
    }
    let heard = std::fs::read_to_string(&said).unwrap();
    for line in [
        "Zone band-black, pass 1, 175 planned.",
        "5 of 175.",
        "LOWER. Pinpoint bleeding at pulse 6 of pass 1. Lower from 3 J/cm2 at 4 mm to 2.7 J/cm2 at 4 mm",
        "Whitening How strong?",
    ] {
        assert!(heard.lines().any(|l| l.starts_with(line)), "{line:?} in:\n{heard}");
    }
    assert_eq!(heard.lines().filter(|l| l.starts_with("LOWER")).count(), 1, "said once: {heard}");
    hand.chair.send("\x1b");
    hand.wait_gone("How strong?")?;
    hand.leave()
}

#[test]
fn a_program_that_dies_or_is_not_there_is_only_a_message() -> Done {
    let home = tempfile::tempdir().unwrap();
    configure(home.path(), "command = [\"true\"]\nevery = 1\n");
    let mut hand = Hand::start(home.path(), &["treat", &sample("two-zone-band")]);
    hand.begin_a_pass()?;
    hand.pulses(3)?;
    hand.wait_count(3)?;
    hand.leave()?;
    configure(home.path(), "command = [\"/nowhere/voice\"]\n");
    let mut hand = Hand::start(home.path(), &["treat", &sample("two-zone-band"), "--new"]);
    hand.wait_for("no announcements:")?;
    hand.leave()?;
    configure(home.path(), "command = [\"true\"]\nevery = \"often\"\n");
    let mut hand = Hand::start(home.path(), &["treat", &sample("two-zone-band"), "--new"]);
    hand.wait_for("no announcements:")?;
    hand.leave()
}
