//! Texts that name a key name the one in force.

use super::stage::{BLACK, Stage};
use ratatui::crossterm::event::KeyCode;

/// Other keys for all that a text names; none of the old ones is left.
const KEYS: &str = r#"
kind = "fadewright keys"
schema = 1
key = [
    { where = "checks", does = "value", keys = ["V"] },
    { where = "checks", does = "override", keys = ["O"] },
    { where = "settings", does = "confirm", keys = ["g"] },
    { where = "treat", does = "pause", keys = ["P"] },
    { where = "treat", does = "train", keys = ["T"] },
    { where = "treat", does = "start-pass", keys = ["N"] },
    { where = "anywhere", does = "go-checks", keys = ["shift-f1"] },
    { where = "anywhere", does = "go-settings", keys = ["S"] },
    { where = "anywhere", does = "go-close", keys = ["f12"] },
    { where = "anywhere", does = "save-elsewhere", keys = ["f11"] },
    { where = "not-in-text", does = "leave", keys = ["Q"] },
]
"#;

/// Keys of the standard table that have another meaning here, as texts named them.
const OLD: [&str; 9] = ["F2", "F3", "F4 ", "F5", "F9", "p goes on", "t stops", "c compares", "q leaves"];

fn shows(stage: &Stage, words: &str) {
    let screen = stage.draw(160, 50);
    assert!(screen.contains(words), "{words:?} in\n{screen}");
    for old in OLD {
        assert!(!screen.contains(old), "{old:?} in\n{screen}");
    }
}

#[test]
fn texts_name_the_keys_in_force() {
    let mut s = Stage::by("two-zone-band").with_keys(KEYS);
    shows(&s, "V: type the value.");
    s.keys("V");
    s.fill("OP-7");
    s.keys("n");
    s.fill("consent is missing");
    shows(&s, "or O: override with code");
    s.keys("yyyyyyyayya");
    for field in BLACK {
        s.fill(field);
    }
    shows(&s, "g compares and confirms");
    s.keys("g");
    s.keys("V");
    s.fill("1");
    s.keys("yyyyyyy");
    shows(&s, "not started: N");
    s.keys("N");
    s.fill("120000");
    s.keys("P");
    shows(&s, "PAUSED: P goes on");
    s.keys("PT");
    shows(&s, "T stops");
    s.keys("T");
    // A lower setting waits for its read-back, and the advice that says so names the screen's key.
    s.keys("b");
    s.keys("a");
    s.press(KeyCode::F(4));
    shows(&s, "NOT READ BACK: S");
    s.wait(30);
    shows(&s, "on the settings screen (S)");
    s.press(KeyCode::F(12));
    shows(&s, "of the sign-out are not done: SHIFT-F1");
    s.break_disk();
    s.keys("m");
    s.fill("nothing reaches the disk");
    s.wait(2);
    shows(&s, "F11: go on in another directory");
}

#[test]
fn the_end_of_a_session_names_the_key_that_leaves() {
    let mut s = Stage::by("refused-gold").with_keys(KEYS);
    shows(&s, "F12 closes the session as refused");
    s.press(KeyCode::F(12));
    s.keys("cry");
    s.fill("referred");
    shows(&s, "session closed: Q to leave");
    shows(&s, "Q leaves");
}
