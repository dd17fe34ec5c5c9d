//! `--plain`: a session in lines, typed and heard through pipes, as with a screen reader or a braille display.

use super::hand::{lines, only_session, run_json, sample};
use super::lines::{Done, Lines};
use super::pty::{Chair, Ended, Key};
use rustix::process::{Pid, Resource, Rlimit, Signal, kill_process, prlimit};
use std::io::Write;
use std::path::Path;
use std::process::Command;
use std::time::Duration;

fn treat(home: &Path) -> Lines {
    Lines::start(home, &["treat", &sample("two-zone-band"), "--plain"])
}

/// Asks how things stand until all is on disk.
fn saved(l: &mut Lines) -> Done {
    for _ in 0..200 {
        l.tell("status", "Device counter")?;
        std::thread::sleep(Duration::from_millis(50));
        if l.since().contains("All saved.") {
            return Ok(());
        }
    }
    Err("never saved".to_owned())
}

/// What a speech synthesiser or a braille display must not get.
fn strangers(said: &[u8]) -> Vec<char> {
    let text = std::str::from_utf8(said).expect("UTF-8");
    let drawn = |c: char| matches!(c, '\u{2500}'..='\u{259f}' | '\u{25a0}'..='\u{25ff}' | '\u{2800}'..='\u{28ff}' | '\u{1fb00}'..='\u{1fbff}' | '\u{2190}'..='\u{21ff}');
    text.chars().filter(|c| *c != '\n' && (c.is_control() || drawn(*c))).collect()
}

/// Nothing but lines of words: no control, no drawing, no columns, no line that has to be cut.
fn assert_plain(said: &[u8]) {
    assert_eq!(strangers(said), [], "{}", String::from_utf8_lossy(said));
    let text = std::str::from_utf8(said).unwrap();
    assert!(text.is_empty() || text.ends_with('\n'), "a line that has no end: {text}");
    for line in text.lines() {
        assert!(!line.trim().is_empty() && !line.contains("  ") && line.trim() == line, "{line:?}");
        assert!(unicode_width::UnicodeWidthStr::width(line) <= 70, "{line:?}");
    }
}

#[test]
fn the_test_of_plainness_can_fail() {
    assert_eq!(strangers("a\u{1b}[2J\u{2500}\u{2588}\u{28ff}\u{7}\r".as_bytes()).len(), 6);
    assert_eq!(strangers("Größe 漢字\n".as_bytes()), []);
}

#[test]
fn a_session_is_held_from_sign_in_to_the_saved_close_by_lines_alone() -> Done {
    let home = tempfile::tempdir().unwrap();
    let mut l = treat(home.path());
    l.begin_a_pass()?;
    l.tell("pulse", "1 of 175.")?;
    for empty in ["", "   ", "\t"] {
        l.tell(empty, "Nothing typed, nothing changed.")?;
    }
    l.tell("whitening", "How strong?")?;
    l.tell("", "Nothing typed, nothing changed.")?;
    l.tell("2", "Seen: whitening 2.")?;
    l.tell("count 108", "109 of 175.")?;
    l.tell("b", "Answer: accept, decline or stop.")?;
    let said = l.since();
    for words in [
        "Advice: LOWER, zone band-black, pass 1.",
        "Pinpoint bleeding at pulse 109 of pass 1.",
        "Lower from 3 J/cm2 at 4 mm to 2.7 J/cm2 at 4 mm: -10 % at ink and epidermis.",
        "Why: Small vessels rupture",
    ] {
        assert!(said.contains(words), "{words:?} in {said}");
    }
    l.tell("", "Nothing typed, nothing changed.")?;
    saved(&mut l)?;
    for words in
        ["Advice 1 of 1: LOWER", "2.7 J/cm2", "109 of 175 pulses", "White 2 for", "Last seen: pinpoint bleeding"]
    {
        assert!(l.since().contains(words), "{words:?} in {}", l.since());
    }
    l.answer("accept", "Set the device to 1064 nm, 6 ns, 4 mm, 2.7 J/cm2, 5 Hz, 0.339 J a pulse.")?;
    assert!(l.since().contains("LOWER accepted"), "{}", l.since());
    // Pulses wait until the lower setting is read back, and the wrong figure is told.
    l.tell("go-treat", "not read back")?;
    l.tell("pulse", "read back")?;
    l.tell("go-settings", "Wavelength")?;
    for field in ["1064", "6 ns", "4", "3.0", "0.339", "5"] {
        l.tell(field, ".")?;
    }
    l.tell("confirm", "wanted 2.7 J/cm2; device shows 3 J/cm2")?;
    l.tell("edit-form", "Wavelength")?;
    for field in ["skip", "skip", "skip", "2.7", "skip", "skip"] {
        l.tell(field, ".")?;
    }
    l.tell("confirm", "Read back and confirmed.")?;
    l.tell("count 66", "175 of 175, pass complete.")?;
    l.tell("faded", "Whitening 2 faded after")?;
    l.tell("end-pass", "Pass ended.")?;
    l.tell("end-zone the client asked to stop", "Zone band-black is done.")?;
    l.tell("next-zone", "Zone 2 of 2, band-green".to_lowercase().as_str())?;
    l.tell("end-zone another day", "Zone band-green is")?;
    l.tell("go-checks", "Pulses and passes are recorded")?;
    for _ in 0..8 {
        l.tell("yes", "Item")?;
    }
    l.tell("yes", "Sign-out done.")?;
    l.tell("close-session", "How did it end?")?;
    l.tell("t", "answer again")?;
    l.answer("t", "Close for good?")?;
    l.answer("", "Nothing typed")?;
    l.tell("y", "Closing note.")?;
    l.tell("", "Nothing typed")?;
    l.tell("review in two weeks", "The session is closed.")?;
    l.say("leave");
    let (code, words) = l.end()?;
    assert_eq!(code, Some(0), "{words}");
    assert!(words.contains("closed (completed) and saved"), "{words}");
    assert_plain(&l.bytes());

    let (id, _) = only_session(home.path());
    assert_eq!(run_json(home.path(), &["verify", &id, "--json"])["ok"], true);
    assert_eq!(run_json(home.path(), &["verify", "--json"])["ok"], true, "the day book agrees");
    let log = run_json(home.path(), &["log", &id, "--json"]);
    assert_eq!((log["pulses"].as_u64(), &log["closing_note"]), (Some(175), &"review in two weeks".into()));
    let pass = &log["zones"][0]["passes"][0];
    assert_eq!((pass["pulses_by_key"].as_u64(), pass["pulses_typed"].as_u64()), (Some(1), Some(174)));
    let settings: Vec<_> = pass["settings"].as_array().unwrap().iter().map(|s| s["fluence_j_cm2"].as_f64()).collect();
    assert_eq!(settings, [Some(3.0), Some(2.7)]);
    Ok(())
}

/// The input of a session ends, in three ways; what was counted is there and goes on.
#[test]
fn the_end_of_input_leaves_a_session_that_can_be_resumed() -> Done {
    for ending in ["end", "cut off", "interrupt"] {
        let home = tempfile::tempdir().unwrap();
        let mut l = treat(home.path());
        l.begin_a_pass()?;
        l.tell("count 42", "42 of 175.")?;
        match ending {
            "cut off" => l.input.as_mut().unwrap().write_all(b"count 9").unwrap(),
            "interrupt" => {
                let pid = Pid::from_raw(i32::try_from(l.child.id()).unwrap()).unwrap();
                kill_process(pid, Signal::INT).unwrap();
                // Its input is still open: the signal ends it.
                for _ in 0..500 {
                    if l.child.try_wait().unwrap().is_some() {
                        break;
                    }
                    std::thread::sleep(Duration::from_millis(10));
                }
                assert!(l.child.try_wait().unwrap().is_some());
            }
            _ => {}
        }
        let (code, words) = l.end()?;
        assert_eq!(code, Some(if ending == "interrupt" { 130 } else { 0 }), "{ending}: {words}");
        assert!(words.contains("is open and saved"), "{words}");
        assert_plain(&l.bytes());
        let (id, journal) = only_session(home.path());
        assert_eq!(run_json(home.path(), &["verify", &id, "--json"])["ok"], true);
        let last = lines(&journal).pop().unwrap()["event"].clone();
        assert_eq!(last["type"], "interrupted", "{last}");

        // The plan again: the open session is offered, in lines too.
        let mut l = treat(home.path());
        l.hear("Type a number, or q to leave.")?;
        l.tell("", "Type a number, or q to leave.")?;
        l.tell("1", "Treat, zone 1 of 2, band-black")?;
        l.tell("status", "42 of 175 pulses")?;
        l.tell("pulse", "43 of 175.")?;
        l.tell("leave", "Leave?")?;
        l.say("");
        l.answer("y", "")?;
        let (code, words) = l.end()?;
        assert_eq!(code, Some(0), "{words}");
        assert_plain(&l.bytes());
        assert_eq!(run_json(home.path(), &["log", &id, "--json"])["pulses"], 43);
    }
    Ok(())
}

#[test]
fn output_that_is_gone_ends_the_session_as_a_closed_terminal_does() {
    let home = tempfile::tempdir().unwrap();
    let script = "(sleep 1; echo status; sleep 1; echo status; sleep 5) | (\"$0\" treat \"$1\" --plain; echo $? >code) | head -n 1";
    let status = Command::new("sh")
        .args(["-c", script, env!("CARGO_BIN_EXE_fadewright"), &sample("two-zone-band")])
        .current_dir(home.path())
        .env("HOME", home.path())
        .env("FADEWRIGHT_DATA", home.path().join("data"))
        .output()
        .unwrap();
    assert!(status.status.success());
    assert_eq!(std::fs::read_to_string(home.path().join("code")).unwrap().trim(), "129");
    let (id, _) = only_session(home.path());
    assert_eq!(run_json(home.path(), &["verify", &id, "--json"])["ok"], true);
}

#[test]
fn hostile_lines_are_refused_or_shown_and_change_nothing() -> Done {
    let home = tempfile::tempdir().unwrap();
    let mut l = treat(home.path());
    l.begin_a_pass()?;
    let too_long = "x".repeat(100_000);
    for (bytes, then) in [
        (b"\x1b[2J\x1b]0;title\x07".as_slice(), "means nothing here"),
        (b"\xff\xfe\x00", "means nothing here"),
        (too_long.as_bytes(), "far too long"),
        ("pulse\u{202e}".as_bytes(), "means nothing here"),
        (b"note \x1b[31mred\x1b[0m", "Taken."),
        ("remark e\u{301} 漢字 👩\u{200d}🔬".as_bytes(), "no response was noted yet"),
        (b"count 99999999999999999999", "too long"),
        (b"9x", "whole number"),
        (b"back", "Back."),
        (b"count 10001", "10"),
    ] {
        l.say("");
        l.hear("Nothing typed")?;
        l.say("");
        l.hear("Nothing typed")?;
        let input = l.input.as_mut().unwrap();
        input.write_all(bytes).and_then(|()| input.write_all(b"\n")).unwrap();
        for _ in 0..2_000 {
            if l.since().to_lowercase().contains(&then.to_lowercase()) {
                break;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        assert!(l.since().to_lowercase().contains(&then.to_lowercase()), "{then}: {}", l.since());
    }
    let (code, _) = l.end()?;
    assert_eq!(code, Some(0));
    assert_plain(&l.bytes());
    let (id, _) = only_session(home.path());
    assert_eq!(run_json(home.path(), &["log", &id, "--json"])["pulses"], 0);
    Ok(())
}

#[test]
fn pulses_from_a_line_are_said_at_milestones_and_a_refused_one_once() -> Done {
    let home = tempfile::tempdir().unwrap();
    let config = home.path().join("config/fadewright");
    std::fs::create_dir_all(&config).unwrap();
    let said = home.path().join("said.txt");
    let text = format!("command = [\"tee\", \"{}\"]\nevery = 5\n", said.display());
    std::fs::write(
        config.join("announcements.toml"),
        format!("kind = \"fadewright announcements\"\nschema = 1\n{text}"),
    )
    .unwrap();
    let pipe = home.path().join("pulses");
    assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    let line = pipe.to_str().unwrap();
    let mut l = Lines::start(home.path(), &["treat", &sample("two-zone-band"), "--plain", "--pulse-input", line]);
    let mut to = std::fs::OpenOptions::new().write(true).open(&pipe).unwrap();
    let mut pulses = |n: usize| {
        for _ in 0..n {
            to.write_all(b"pulse\n").unwrap();
            std::thread::sleep(Duration::from_millis(60));
        }
    };
    l.hear("The pulse line is open.")?;
    pulses(3);
    l.hear("No pass is running")?;
    l.begin_a_pass()?;
    pulses(7);
    l.hear("5 of 175.")?;
    l.tell("status", "7 of 175 pulses")?;
    assert!(l.since().contains("ulse line open"), "{}", l.since());
    let all = String::from_utf8(l.bytes()).unwrap();
    assert_eq!(all.matches(" of 175.").count(), 1, "only the milestone: {all}");
    assert_eq!(all.to_lowercase().matches("no pass is running").count(), 1, "{all}");
    l.end()?;
    assert_plain(&l.bytes());
    assert!(std::fs::read_to_string(&said).unwrap().contains("5 of 175."), "the program that listens heard it too");
    Ok(())
}

#[test]
fn a_disk_that_fails_is_said_and_the_exit_code_says_so_too() -> Done {
    let home = tempfile::tempdir().unwrap();
    let mut l = treat(home.path());
    l.begin_a_pass()?;
    l.tell("pulse", "1 of 175.")?;
    saved(&mut l)?;
    let (_, journal) = only_session(home.path());
    let pid = Pid::from_raw(i32::try_from(l.child.id()).unwrap()).unwrap();
    let limit = Rlimit { current: Some(std::fs::metadata(&journal).unwrap().len() + 100), maximum: None };
    prlimit(Some(pid), Resource::Fsize, limit).unwrap();
    l.tell("pulse", "NOT SAVED")?;
    l.hear("save-elsewhere")?;
    l.tell("pulse", "3 of 175.")?;
    l.tell("status", "NOT SAVED")?;
    assert!(!l.since().contains("All saved"), "{}", l.since());
    l.tell("save-elsewhere /nowhere/at/all", "No such directory.")?;
    let (code, words) = l.end()?;
    assert_eq!(code, Some(1), "{words}");
    assert!(words.contains("NOT ALL SAVED"), "{words}");
    assert_plain(&l.bytes());
    Ok(())
}

/// In a terminal nothing is changed about it, and Ctrl-C leaves.
#[test]
fn a_terminal_stays_as_it_was_and_gets_no_sequence() -> Done {
    let home = tempfile::tempdir().unwrap();
    let mut chair = Chair::start_in(home.path(), &["--plain", "treat", &sample("two-zone-band")], &[], 80, 24);
    chair.wait_for("Code of the operator")?;
    let before = chair.termios();
    chair.send("v OP-7\n");
    chair.wait_for("Item 2 of")?;
    assert_eq!(chair.termios(), before);
    assert!(!chair.with_screen(vt100::Screen::alternate_screen));
    chair.send_key(Key::Ctrl('c'));
    assert_eq!(chair.wait_exit()?, Ended::Code(130));
    let raw = String::from_utf8(chair.raw()).unwrap().replace("\r\n", "\n");
    assert_eq!(strangers(raw.as_bytes()), [], "{raw:?}");
    let (id, _) = only_session(home.path());
    assert_eq!(run_json(home.path(), &["verify", &id, "--json"])["ok"], true);
    Ok(())
}
