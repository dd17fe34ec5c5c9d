//! The program's manners: it gives the terminal back on every way out with the last event on disk, survives small
//! windows, pastes and typed-ahead keys, counts a held key once, and sends no foreign control character.

use super::hand::{Done, F4, Hand, last_event, only_session, run, sample, says_saved};
use super::pty::{Chair, Ended, Home, Key, PATIENCE};
use fadewright::clock::SystemClock;
use rustix::process::{Pid, Signal};
use std::path::Path;
use std::thread;
use std::time::Duration;

const LEFT: &str = "\x1b[?1049l";
const HOLDER_HOME: &str = "FADEWRIGHT_TEST_HOLDER_HOME";

/// A running pass with this many pulses saved.
fn in_a_pass(home: &Path, pulses: u64) -> Result<Hand, String> {
    let mut hand = Hand::treat(home, "two-zone-band")?;
    hand.begin_a_pass()?;
    hand.pulses(pulses)?;
    Ok(hand)
}

/// The settings of a terminal that nobody has touched.
fn fresh_settings() -> String {
    Chair::start_program("sleep", &["0"], &[], 80, 24).termios()
}

fn at(raw: &[u8], sequence: &str) -> Vec<usize> {
    let all = raw.windows(sequence.len()).enumerate();
    all.filter(|(_, window)| *window == sequence.as_bytes()).map(|(at, _)| at).collect()
}

fn assert_restored(chair: &Chair, how: &str) {
    assert_eq!(chair.termios(), fresh_settings(), "{how}: the terminal's settings are as they were");
    chair.with_screen(|screen| {
        assert!(!screen.alternate_screen(), "{how}: the alternate screen is left");
        assert!(!screen.hide_cursor(), "{how}: the cursor is shown");
        assert!(!screen.bracketed_paste(), "{how}: bracketed paste is off");
    });
    let raw = chair.raw();
    let left = at(&raw, LEFT);
    assert_eq!(left.len(), 1, "{how}: the screen is left once");
    let pushed = at(&raw, "\x1b[>15u").len() + at(&raw, "\x1b[>1u").len();
    let popped = at(&raw, "\x1b[<1u");
    assert_eq!(popped.len(), pushed, "{how}: every keyboard mode is popped");
    assert!(popped.iter().all(|pop| *pop < left[0]), "{how}: and on the screen that it was pushed on");
    assert!(at(&raw[left[0]..], "\x1b[?2026h").is_empty(), "{how}: no frame after leaving");
}

// ---- Ways out ----

#[test]
fn leaving_gives_the_terminal_back_and_keeps_the_session_open() -> Done {
    let home = tempfile::tempdir().unwrap();
    let mut hand = in_a_pass(home.path(), 3)?;
    hand.leave()?;
    assert_eq!(hand.chair.wait_exit()?, Ended::Code(0));
    assert_restored(&hand.chair, "leaving");
    let (id, journal) = only_session(home.path());
    let last = last_event(&journal);
    assert_eq!((last["type"].as_str(), last["cause"].as_str()), (Some("interrupted"), Some("left by the operator")));
    assert!(hand.chair.screen().contains(&format!("session {id} is open and saved")), "{}", hand.chair.screen());
    Ok(())
}

#[test]
fn signals_give_the_terminal_back_with_their_exit_codes_and_are_the_last_event() -> Done {
    for (signal, code, name) in [
        (Signal::TERM, 143, "SIGTERM"),
        (Signal::HUP, 129, "SIGHUP"),
        (Signal::INT, 130, "SIGINT"),
        (Signal::QUIT, 131, "SIGQUIT"),
    ] {
        let home = tempfile::tempdir().unwrap();
        let mut hand = in_a_pass(home.path(), 2)?;
        // In the middle of a train and of a text, so that both must end too.
        if signal == Signal::TERM {
            hand.press('t', "TRAIN RUNNING")?;
        } else {
            hand.chair.send("4");
            hand.wait_for("Count pulses")?;
        }
        hand.chair.signal(signal);
        assert_eq!(hand.chair.wait_exit()?, Ended::Code(code), "after {name}");
        assert_restored(&hand.chair, name);
        let last = last_event(&only_session(home.path()).1);
        assert_eq!((last["type"].as_str(), last["cause"].as_str()), (Some("interrupted"), Some(name)));
        assert!(hand.chair.screen().contains("is open and saved"), "{}", hand.chair.screen());
    }
    Ok(())
}

/// Holds a terminal with a session in it, as a terminal window does, until it is killed.
#[test]
#[ignore = "it is the window that another test closes"]
fn window() {
    let Some(home) = std::env::var_os(HOLDER_HOME) else { return };
    let home = Path::new(&home);
    let hand = in_a_pass(home, 4).unwrap();
    std::fs::write(home.join("pid.new"), hand.chair.pid().to_string()).unwrap();
    std::fs::rename(home.join("pid.new"), home.join("pid")).unwrap();
    thread::sleep(PATIENCE * 3);
}

/// Two presses in one write are two taps, unless the switch is said to bounce.
#[test]
fn a_bouncing_switch_is_believed_only_where_it_is_named() -> Done {
    for (bounce_ms, counted) in [("0", 2), ("40", 1)] {
        let home = tempfile::tempdir().unwrap();
        let mut hand = Hand::start(home.path(), &["treat", &sample("two-zone-band"), "--bounce-ms", bounce_ms]);
        hand.wait_for("CHECKS")?;
        hand.begin_a_pass()?;
        hand.chair.send("  ");
        hand.wait_count(counted)?;
        hand.chair.wait_quiet(Duration::from_millis(100));
        assert_eq!(hand.count(), Some(counted), "{bounce_ms} ms");
        hand.key(' ');
        hand.wait_count(counted + 1)?;
    }
    let home = tempfile::tempdir().unwrap();
    let told = run(home.path(), &["treat", &sample("two-zone-band"), "--bounce-ms", "41"]);
    assert_eq!(told.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&told.stderr).contains("0..=40"));
    Ok(())
}

#[test]
fn a_closed_window_ends_the_program_and_is_the_last_event() {
    let home = tempfile::tempdir().unwrap();
    let mut holder = std::process::Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "chair::manners::window", "--ignored", "--nocapture", "--test-threads=1"])
        .env(HOLDER_HOME, home.path())
        .stdout(std::process::Stdio::null())
        .spawn()
        .unwrap();
    let wait = |what: &str, met: &dyn Fn() -> bool| {
        for _ in 0..PATIENCE.as_millis() / 5 {
            if met() {
                return;
            }
            thread::sleep(Duration::from_millis(5));
        }
        panic!("waited for {what}");
    };
    let pid_file = home.path().join("pid");
    wait("a session in the window", &|| pid_file.exists());
    let pid = Pid::from_raw(std::fs::read_to_string(&pid_file).unwrap().parse().unwrap()).unwrap();
    holder.kill().unwrap();
    holder.wait().unwrap();
    let is_zombie = || {
        let stat = format!("/proc/{}/stat", pid.as_raw_nonzero());
        std::fs::read_to_string(stat).is_ok_and(|stat| stat.contains(") Z "))
    };
    wait("the program's end", &|| rustix::process::test_kill_process(pid).is_err() || is_zombie());
    let (id, journal) = only_session(home.path());
    let last = last_event(&journal);
    assert_eq!(last["type"], "interrupted");
    let cause = last["cause"].as_str().unwrap();
    assert!(["SIGHUP", "the terminal was closed"].contains(&cause), "{cause}");
    assert_eq!(super::hand::run_json(home.path(), &["log", &id, "--json"])["pulses"], 4);
}

#[test]
fn a_stop_between_passes_gives_the_terminal_to_the_shell_and_comes_back() -> Done {
    let home = tempfile::tempdir().unwrap();
    let script = "\"$0\" \"$@\"; echo shell-has-it; stty -a | grep -o '.icanon'; read line; fg; echo job=$?";
    let plan = sample("two-zone-band");
    let args = ["-mc", script, env!("CARGO_BIN_EXE_fadewright"), "treat", &plan];
    let shared = Home::Shared(home.path().to_owned());
    let mut hand = Hand { chair: Chair::start_program_in(shared, "bash", &args, &[], 80, 24) };
    hand.sign_in()?;
    hand.chair.send_key(Key::Ctrl('z'));
    hand.wait_for("shell-has-it")?;
    hand.wait_for("icanon")?;
    assert!(!hand.chair.screen().contains("-icanon"), "{}", hand.chair.screen());
    assert!(!hand.chair.with_screen(|screen| screen.alternate_screen() || screen.hide_cursor()));
    assert_eq!(hand.chair.count_raw("\x1b[<1u"), hand.chair.count_raw("\x1b[>15u") + hand.chair.count_raw("\x1b[>1u"));
    hand.chair.send_key(Key::Enter);
    hand.wait_for("SETTINGS")?;
    assert!(hand.chair.with_screen(|screen| screen.alternate_screen() && screen.hide_cursor()));
    // In the middle of a pass it is declined: the count must not stand behind a shell.
    hand.read_back(super::hand::BLACK)?;
    hand.time_out()?;
    hand.key('n');
    hand.fill("Device counter", "")?;
    hand.wait_for("running")?;
    hand.chair.send_key(Key::Ctrl('z'));
    hand.wait_for("a pass is running")?;
    hand.pulses(2)?;
    hand.leave()?;
    hand.wait_for("job=0")?;
    assert!(!hand.chair.with_screen(|screen| screen.alternate_screen() || screen.hide_cursor()));
    assert_eq!(last_event(&only_session(home.path()).1)["type"], "interrupted");
    Ok(())
}

// ---- Windows, pastes, hasty keys ----

#[test]
fn a_small_window_says_what_it_needs_and_counts_on() -> Done {
    let home = tempfile::tempdir().unwrap();
    let mut hand = in_a_pass(home.path(), 5)?;
    hand.chair.resize(20, 5);
    let words = |chair: &Chair| chair.screen().split_whitespace().collect::<Vec<_>>().join(" ");
    hand.chair.wait_until("the size that is needed, and the count", |chair| {
        let words = words(chair);
        words.contains("needed 80 x 24") && words.contains("5/175") && words.contains("[saved]")
    })?;
    for _ in 0..3 {
        hand.key(' ');
    }
    hand.chair.wait_until("three more, saved", |chair| {
        let words = words(chair);
        words.contains("8/175") && words.contains("[saved]")
    })?;
    hand.key('b');
    hand.chair.wait_until("the advice", |chair| words(chair).contains("LOWER"))?;
    for (columns, rows) in [(1, 1), (300, 100), (2, 40), (80, 24)] {
        hand.chair.resize(columns, rows);
    }
    hand.wait_for("TREAT")?;
    hand.wait_for("Pinpoint bleeding at pulse 8")?;
    hand.pulses(2)?;
    hand.wait_count(10)
}

#[test]
fn pasted_text_counts_nothing_and_answers_nothing() -> Done {
    let home = tempfile::tempdir().unwrap();
    let mut hand = in_a_pass(home.path(), 3)?;
    hand.chair.paste("   qyx");
    hand.wait_for("pasted text is ignored here")?;
    hand.chair.wait_quiet(Duration::from_millis(50));
    hand.wait_count(3)?;
    // Nor does it answer a question that waits, however long it has been there.
    hand.key('q');
    hand.wait_for("Leave?")?;
    thread::sleep(Duration::from_millis(400));
    hand.chair.paste("y");
    hand.chair.wait_quiet(Duration::from_millis(50));
    hand.wait_for("Leave?")?;
    hand.chair.send_key(Key::Esc);
    hand.wait_gone("Leave?")?;
    // In a text it is text.
    hand.key('m');
    hand.wait_for("No names")?;
    hand.chair.paste("two lines\nin one   qyx");
    hand.wait_for("two lines in one   qyx")?;
    hand.chair.send_key(Key::Enter);
    hand.wait_gone("No names")?;
    hand.pulses(1)?;
    hand.wait_count(4)
}

/// A terminal without bracketed paste sends a paste as very fast typing.
#[test]
fn text_that_comes_as_fast_typing_leaves_nothing_and_closes_nothing() -> Done {
    let home = tempfile::tempdir().unwrap();
    let mut hand = Hand::treat(home.path(), "two-zone-band")?;
    hand.begin_a_pass()?;
    // A session taken up again has not learnt yet that this terminal reports keys.
    hand.leave()?;
    hand.chair.wait_exit()?;
    let mut hand = Hand::start(home.path(), &[]);
    hand.wait_for("resume session")?;
    hand.chair.send_key(Key::Enter);
    hand.wait_for("TREAT")?;
    hand.chair.send("   qyx");
    hand.wait_for("Leave?")?;
    hand.chair.wait_quiet(Duration::from_millis(50));
    hand.wait_for("Leave?")?;
    hand.chair.send_key(Key::Esc);
    hand.wait_gone("Leave?")?;
    hand.wait_count(1)
}

#[test]
fn keys_typed_ahead_do_not_answer_a_new_advice() -> Done {
    for ahead in ["ba", "bx", "bd"] {
        let home = tempfile::tempdir().unwrap();
        let mut hand = in_a_pass(home.path(), 2)?;
        hand.chair.send(ahead);
        hand.wait_for("LOWER")?;
        hand.wait_for("before the advice could be read")?;
        hand.chair.wait_quiet(Duration::from_millis(50));
        let screen = hand.chair.screen();
        assert!(screen.contains("a accept") && screen.contains("TREAT") && !screen.contains("Decline"), "{screen}");
        hand.answer("LOWER", 'a', |chair| chair.screen().contains("SETTINGS"))?;
        let answered: Vec<_> = super::hand::lines(&only_session(home.path()).1)
            .iter()
            .filter(|line| line["event"]["type"] == "advice-answered")
            .map(|line| line["event"]["answer"]["answer"].as_str().unwrap().to_owned())
            .collect();
        assert_eq!(answered, ["accepted"]);
    }
    Ok(())
}

/// Sends keys at a steady pace; false when this machine stood still for so long that the pace was lost.
fn steadily(hand: &mut Hand, n: u32, every: Duration, send: impl Fn(&mut Hand)) -> bool {
    let clock = SystemClock::new();
    let (mut last, mut steady) = (clock.elapsed(), true);
    for _ in 0..n {
        thread::sleep(every);
        let now = clock.elapsed();
        steady &= now - last < every + Duration::from_millis(40);
        last = now;
        send(hand);
    }
    steady
}

/// Begins a pass in a terminal that is not known to report keys, and lets `hold` hold the pulse key.
fn held(hold: impl Fn(&mut Hand) -> bool) -> Done {
    for _ in 0..5 {
        let home = tempfile::tempdir().unwrap();
        let mut hand = in_a_pass(home.path(), 0)?;
        hand.leave()?;
        hand.chair.wait_exit()?;
        let mut hand = Hand::start(home.path(), &[]);
        hand.wait_for("resume session")?;
        hand.chair.send_key(Key::Enter);
        hand.wait_for("TREAT")?;
        let steady = hold(&mut hand);
        hand.chair.wait_quiet(Duration::from_millis(100));
        if steady {
            return hand.wait_count(1);
        }
        println!("the machine stood still while a key was held: once more");
    }
    Err("this machine is too busy to hold a key steadily".to_owned())
}

#[test]
fn a_key_held_without_key_reports_counts_once() -> Done {
    held(|hand| {
        hand.chair.send(" ");
        steadily(hand, 1, Duration::from_millis(500), |hand| hand.chair.send(" "))
            && steadily(hand, 90, Duration::from_millis(33), |hand| hand.chair.send(" "))
    })
}

#[test]
fn a_key_held_with_key_reports_counts_once() -> Done {
    held(|hand| {
        hand.chair.send_key(Key::Pressed(' '));
        thread::sleep(Duration::from_millis(500));
        // Whatever the pace: these are told apart by what they are.
        steadily(hand, 90, Duration::from_millis(33), |hand| hand.chair.send_key(Key::Repeated(' ')));
        hand.chair.send_key(Key::Released(' '));
        true
    })
}

/// A person's taps, slower than any repeat, all count also where the terminal reports no keys.
#[test]
fn taps_without_key_reports_all_count() -> Done {
    let home = tempfile::tempdir().unwrap();
    let mut hand = in_a_pass(home.path(), 0)?;
    hand.leave()?;
    hand.chair.wait_exit()?;
    let mut hand = Hand::start(home.path(), &[]);
    hand.wait_for("resume session")?;
    hand.chair.send_key(Key::Enter);
    hand.wait_for("TREAT")?;
    for _ in 0..12 {
        hand.chair.send(" ");
        thread::sleep(Duration::from_millis(160));
    }
    hand.wait_count(12)
}

// ---- What is sent to the terminal ----

#[test]
fn control_characters_of_a_plan_reach_the_terminal_only_as_stand_ins() -> Done {
    let home = tempfile::tempdir().unwrap();
    let hostile = std::fs::read_to_string(sample("two-zone-band"))
        .unwrap()
        .replace("Two-colour band, two passes", r"T\u001b]0;owned\u0007\u001b[2J\u009b31m")
        .replace("left forearm, outer side, edge of the band", r"arm\u001b[31m\u202e\u0008\u007f");
    assert_eq!(hostile.matches(r"\u001b").count(), 3, "both texts are in the plan");
    let plan = home.path().join("plan.toml");
    std::fs::write(&plan, hostile).unwrap();
    let mut hand = Hand::start(home.path(), &["treat", plan.to_str().unwrap()]);
    hand.wait_for("CHECKS")?;
    hand.wait_for("T␛]0;owned␇␛[2J")?;
    hand.sign_in()?;
    hand.wait_for("arm␛[31m⟨U+202E⟩␈␡")?;
    hand.chair.send(F4);
    hand.wait_for("TREAT")?;
    hand.leave()?;
    assert_eq!(hand.chair.wait_exit()?, Ended::Code(0));
    let (id, _) = only_session(home.path());
    let mut sent = vec![hand.chair.raw()];
    for args in
        [["log", &id, ""], ["log", &id, "--json"], ["verify", &id, ""], ["plan", "show", plan.to_str().unwrap()]]
    {
        let told = run(home.path(), &args.into_iter().filter(|a| !a.is_empty()).collect::<Vec<_>>());
        assert!(told.status.success(), "{args:?}");
        assert!(!told.stdout.contains(&0x1b), "{args:?}");
        sent.extend([told.stdout, told.stderr]);
    }
    for bytes in sent {
        for foreign in ["\x1b]0", "\x07", "\x1b[2Jb", "\x1b[31m", "\u{9b}", "\u{202e}", "\x08", "\x7f", "owned\x1b"] {
            let found = at(&bytes, foreign);
            assert!(found.is_empty(), "{foreign:?} at {found:?} of {:?}", String::from_utf8_lossy(&bytes));
        }
    }
    Ok(())
}

#[test]
fn an_untouched_screen_is_not_drawn_again_and_again() -> Done {
    let home = tempfile::tempdir().unwrap();
    let hand = Hand::treat(home.path(), "two-zone-band")?;
    hand.chair.wait_until("saved", |chair| says_saved(&chair.screen()))?;
    hand.chair.wait_quiet(Duration::from_millis(200));
    let before = hand.chair.raw().len();
    thread::sleep(Duration::from_millis(1500));
    assert_eq!(hand.chair.raw().len(), before, "nothing changes on the checks screen by time alone");
    Ok(())
}
