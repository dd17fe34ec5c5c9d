use super::*;
use crate::clock::{Clock, FakeClock};
use crate::device::DeviceProfile;
use crate::protocol::Protocol;
use crate::recorder::{MemorySink, Recorder};
use crate::session::Opened;
use crate::source::SourceText;
use crate::tui::key_file;
use crate::tui::keys::{Action, Place, table};
use crate::tui::theme::{Depth, Glyphs, Theme};
use std::sync::Arc;
use std::time::Duration;

/// A chair that is heard, over a clock that stands still.
struct Room {
    chair: Chair<MemorySink>,
    teller: Teller,
    clock: FakeClock,
    heard: Vec<String>,
}

impl Room {
    fn new() -> Self {
        let plan = include_str!("../../../../sample-plans/two-zone-band.toml");
        let now = chrono::DateTime::parse_from_rfc3339("2026-11-24T10:00:00+00:00").unwrap();
        let opened = Opened {
            session: "20261124-100000-TTTTTT".to_owned(),
            program: "test".to_owned(),
            date: now.date_naive(),
            plan: crate::plan::load(&SourceText::new("plan.toml", plan)).unwrap().value,
            device: DeviceProfile::embedded().unwrap(),
            protocol: Protocol::embedded().unwrap(),
            practice: None,
        };
        let clock = FakeClock::at(now);
        let recorder = Recorder::open(opened, MemorySink::default(), Arc::new(clock.clone())).unwrap();
        let chair = Chair::new(recorder, Theme::standard(Depth::None), Glyphs::Ascii);
        let mut room = Self { chair, teller: Teller::new(10), clock, heard: Vec::new() };
        room.heard = room.teller.begin(&mut room.chair);
        room
    }

    /// Types a line some time after the last one, and gives what is said.
    fn after(&mut self, ms: u64, line: &str) -> String {
        self.clock.advance(Duration::from_millis(ms));
        let at_ms = self.clock.now().mono_ms;
        let lines = self.teller.typed(&mut self.chair, line, at_ms).lines;
        self.heard.extend(lines.iter().cloned());
        lines.join("\n")
    }

    fn say(&mut self, line: &str) -> String {
        self.after(2_000, line)
    }

    fn all(&mut self, lines: &[&str]) -> String {
        lines.iter().map(|line| self.say(line)).last().unwrap_or_default()
    }

    fn in_a_pass(mut self) -> Self {
        self.all(&["v OP-7", "y", "y", "y", "y", "y", "y", "y", "y", "y", "a"]);
        self.all(&["1064", "6 ns", "4", "3.0", "0.377", "5", "confirm"]);
        self.all(&["v 1", "y", "y", "y", "y", "y", "y", "y", "start-pass"]);
        assert_eq!(self.say("skip"), "Zone band-black, pass 1, 175 planned.");
        self
    }

    fn pulses(&self) -> u64 {
        self.chair.state().total_pulses()
    }
}

#[test]
fn an_empty_line_does_nothing_wherever_it_is_typed() {
    let mut room = Room::new().in_a_pass();
    room.say("bleeding");
    for open in ["", "whitening", "note", "counter", "pain", "count", "go-settings", "go-close", "go-checks", "leave"] {
        room.say(open);
        let before = room.chair.state().clone();
        for empty in ["", " ", "\t", "\r", "\u{200b}"] {
            let said = room.say(empty);
            assert!(said.starts_with("Nothing typed, nothing changed."), "{open} {empty:?}: {said}");
            assert_eq!(room.chair.state(), &before, "{open} {empty:?}");
        }
        room.say("back");
        room.say("go-treat");
    }
    assert_eq!(room.chair.state().open_advice().len(), 1);
}

#[test]
fn a_pulse_is_answered_with_its_count_and_milestones_come_by_themselves() {
    let mut room = Room::new().in_a_pass();
    assert_eq!(room.say("pulse"), "1 of 175.");
    assert_eq!(room.say("space"), "2 of 175.");
    assert_eq!(room.say("count 7"), "9 of 175.");
    // From a line of pulses only the milestones are said.
    for (said, n) in [("10 of 175.", 10), ("", 11)] {
        room.clock.advance(Duration::from_millis(100));
        room.chair.pulse_line(crate::tui::pulse_line::LineNews::Pulse);
        assert_eq!(room.teller.news(&mut room.chair).join("\n"), said);
        assert_eq!(room.pulses(), n);
    }
    assert!(room.say("5").contains("Nothing was counted"));
    assert!(room.say("pulse 5").contains("Nothing was done"));
    assert!(room.say("55 mm").contains("means nothing here"));
    assert_eq!(room.pulses(), 11);
    assert_eq!(room.say("undo"), "10 of 175.\nTaken back: 1 pulse.");
    // Beneath a choice the pulse word counts; in a line of text it is refused.
    room.say("whitening");
    assert_eq!(room.say("pulse"), "11 of 175.");
    assert!(room.say("back").starts_with("Back."));
    room.say("note");
    assert!(room.say("Pulse").contains("alone is a command"));
    assert_eq!(room.say("a pulse too many"), "Taken.");
    assert_eq!(room.pulses(), 11);
}

#[test]
fn an_advice_is_said_in_full_and_answered_only_after_it_could_be_heard() {
    let mut room = Room::new().in_a_pass();
    room.say("count 20");
    let said = room.say("bleeding").replace('\n', " ");
    for words in [
        "Advice: LOWER, zone band-black, pass 1.",
        "Pinpoint bleeding at pulse 20 of pass 1.",
        "Lower from 3 J/cm2 at 4 mm to 2.7 J/cm2 at 4 mm: -10 % at ink and epidermis.",
        "Why: Small vessels rupture",
        "Answer: accept, decline or stop.",
    ] {
        assert!(said.contains(words), "{words:?} in {said}");
    }
    assert!(room.after(900, "accept").contains("answer again"), "too soon after it was said");
    assert_eq!(room.chair.state().open_advice().len(), 2, "with the missing whitening");
    let status = room.say("status").replace('\n', " ");
    assert!(status.contains("Advice 1 of 2: LOWER") && status.contains("It waits behind LOWER"), "{status}");
    let said = room.say("decline spacer had slipped");
    assert!(said.starts_with("LOWER declined: Pinpoint bleeding"), "{said}");
    assert!(said.contains("Now on top: CHECK"), "{said}");
    room.say("bleeding");
    let said = room.say("a").replace('\n', " ");
    assert!(said.contains("Set the device to 1064 nm, 6 ns, 4 mm, 2.7 J/cm2, 5 Hz, 0.339 J"), "{said}");
}

#[test]
fn every_action_of_the_chair_can_be_typed_by_its_name() {
    let room = Room::new();
    let table = table();
    for row in table.bindings().iter().filter(|row| !matches!(row.context, Place::Start | Place::Review)) {
        let mut room =
            Room { chair: Room::new().chair, teller: Teller::new(10), clock: room.clock.clone(), heard: vec![] };
        room.chair.screen = match row.context {
            Place::Checks | Place::Anywhere | Place::NotInText | Place::Start | Place::Review => ScreenName::Checks,
            Place::Form | Place::Settings => ScreenName::Settings,
            Place::Treat | Place::Advice => ScreenName::Treat,
            Place::Close => ScreenName::Close,
            Place::Pictures => ScreenName::Pictures,
        };
        if row.context == Place::Settings {
            room.chair.form.focus = room.chair.form.fields.len();
        }
        if row.context == Place::Advice {
            room = Room::new().in_a_pass();
            room.say("bleeding");
        }
        for word in [row.action.to_string(), row.action.to_string().to_uppercase(), row.chord.to_string()] {
            assert!(matches!(room.chair.meaning(&word), typed::Meaning::Act(a) if a == row.action), "{word}");
        }
    }
    let mut room = Room::new();
    assert_eq!(room.say("start-pass"), "start-pass works on the treat screen: go-treat. Nothing was done.");
    assert!(room.say("start pass").contains("works on the treat screen"));
    assert!(room.say("open").contains("does not work here"));
}

#[test]
fn a_phase_a_refusal_and_the_way_out_are_said() {
    let mut room = Room::new();
    assert!(room.say("next-phase").starts_with("Checks, time-out 1 of 9 done;"));
    assert!(room.say("go-treat").contains("Checks are not done. Type go-checks."));
    let before = room.chair.state().clone();
    assert!(room.say("start-pass").contains("sign-in"), "what is in the way");
    assert_eq!(room.chair.state(), &before);
    assert!(room.say("leave").ends_with("Type y: leave; or back."));
    assert_eq!(room.say("y"), "");
    assert!(room.chair.is_finished());
}

#[test]
fn choices_take_letters_numbers_and_words() {
    let mut room = Room::new().in_a_pass();
    let said = room.say("w");
    assert_eq!(said, "Whitening.\nHow strong?\nType 1: faint; 2: clear; 3: fierce; or back.");
    assert!(room.say("9").starts_with("9 is none of the choices."));
    assert!(room.say("clear").starts_with("Seen: whitening 2."));
    assert!(room.say("pain 10").starts_with("Seen: pain 10."));
    assert!(room.say("response purpura").contains("means nothing here"), "the action is named responses");
    assert!(room.say("responses purpura").starts_with("Seen: purpura."));
    assert!(room.say("r s").contains("Swelling."));
    assert!(room.say("no").starts_with("Back."));
}

#[test]
fn what_is_typed_and_what_files_say_is_harmless_and_short_of_a_line() {
    let mut room = Room::new().in_a_pass();
    let hostile = "a\u{1b}[2J\u{202e}b \u{2500}";
    room.say(&format!("note {hostile}"));
    room.say("note");
    let long = "word ".repeat(200);
    assert!(room.say(&long).contains("too long"));
    assert_eq!(room.say("a family of four 👩\u{200d}👩\u{200d}👧 e\u{301}"), "Taken.");
    room.all(&["help", "help all", "help screen", "help train", "status", "go-close", "status", hostile]);
    for line in &room.heard {
        assert!(!line.chars().any(char::is_control), "{line:?}");
        assert!(unicode_width::UnicodeWidthStr::width(line.as_str()) <= COLUMNS, "{line:?}");
        assert!(!line.contains("  "), "{line:?}");
    }
    assert!(room.heard.iter().any(|l| l.contains("a␛[2J")), "shown, not swallowed");
}

#[test]
fn keys_of_ones_own_are_named_where_a_key_is_named() {
    let file = "kind = \"fadewright keys\"\nschema = 1\n\
        [[key]]\nwhere = \"checks\"\ndoes = \"value\"\nkeys = [\"g\"]\n\
        [[key]]\nwhere = \"anywhere\"\ndoes = \"go-settings\"\nkeys = [\"f11\"]\n";
    let keys = key_file::load(&SourceText::new("keys.toml", file)).unwrap().value;
    let mut room = Room::new();
    room.chair = room.chair.with_keys(keys);
    room.teller = Teller::new(10);
    let first = room.teller.begin(&mut room.chair).join("\n");
    assert!(first.contains("g: type the value."), "{first}");
    let action = "Fire no pulse. Type what the device shows on the settings screen";
    assert_eq!(room.chair.action_words(action), format!("{action} (F11)"));
    assert_eq!(room.chair.key_of(Action::GoChecks), "F2");
}

#[test]
fn sentences_begin_large_and_end() {
    for (text, told) in [
        ("pass ended", "Pass ended."),
        ("a pass is running", "A pass is running."),
        ("v: type the value.", "v: type the value."),
        ("2 lines; ", "2 lines;"),
        ("", ""),
        ("Why?", "Why?"),
    ] {
        assert_eq!(sentence(text), told);
    }
}
