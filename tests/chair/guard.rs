//! The terminal is given back on every way out: return, panic in any thread, signals, a closed window, a stop.
//!
//! The program under test is this test binary itself, started again inside the pseudo-terminal with only [`program`]
//! selected and told by an environment variable what to do.

use super::pty::{Chair, Ended, Home, Key, PATIENCE};
use fadewright::clock::{Clock, SystemClock};
use fadewright::tui::events::{self, Signal, TermEvent};
use fadewright::tui::terminal::{Keyboard, Screen, install_panic_hook};
use ratatui::crossterm::event::{Event, KeyCode, KeyEvent, KeyEventKind};
use ratatui::widgets::Paragraph;
use rustix::process::{Pid, Signal as Kill};
use std::path::Path;
use std::sync::Arc;
use std::sync::mpsc::sync_channel;
use std::thread;
use std::time::Duration;

const PART: &str = "FADEWRIGHT_TEST_PART";
const LEFT: &str = "\x1b[?1049l";
const POPPED: &str = "\x1b[<1u";

// ---- The program inside the terminal ----

#[test]
#[ignore = "it is the program inside the pseudo-terminal; the other tests start it"]
fn program() {
    match std::env::var(PART).as_deref() {
        Ok("holder") => hold_a_chair(),
        Ok(part) => chair_program(part == "deaf"),
        Err(_) => {}
    }
}

/// Shows each event that it gets; single keys make it leave in different ways.
fn chair_program(deaf_to_hangup_signal: bool) {
    install_panic_hook(|| {
        // The journal needs a moment to finish; what other threads do meanwhile must not reach the terminal.
        thread::sleep(Duration::from_millis(30));
        "The session is in the journal.".to_owned()
    });
    let mut screen = match Screen::open(std::env::var("TERM").ok().as_deref()) {
        Ok(screen) => screen,
        Err(error) => {
            eprintln!("error: {error}");
            std::process::exit(2);
        }
    };
    let clock: Arc<dyn Clock> = Arc::new(SystemClock::new());
    let (send, receive) = sync_channel(64);
    events::spawn(clock, move |event| drop(send.send(event))).unwrap();
    let mut lines = vec!["ready".to_owned()];
    let mut keys = 0_u32;
    loop {
        // A terminal that is gone cannot be drawn on; that it is gone is told by its own event.
        let _ = screen.draw(|frame| frame.render_widget(Paragraph::new(lines.join("\n")), frame.area()));
        match receive.recv().unwrap() {
            TermEvent::Input(stamped) => match stamped.what {
                Event::Key(KeyEvent { code: KeyCode::Char(c), kind: KeyEventKind::Press, .. }) => {
                    keys += 1;
                    match c {
                        'q' => break,
                        'p' => panic!("the main thread broke"),
                        't' => drop(thread::spawn(|| panic!("a worker broke"))),
                        'w' => {
                            // A worker breaks while frame after frame is drawn, until that ends the program.
                            drop(thread::spawn(|| {
                                thread::sleep(Duration::from_millis(20));
                                panic!("a worker broke")
                            }));
                            for fill in ["a", "b"].into_iter().cycle() {
                                let page = vec![fill.repeat(200); 60].join("\n");
                                let _ = screen.draw(|frame| {
                                    frame.render_widget(Paragraph::new(page), frame.area());
                                    // Most of the time a frame is under way.
                                    thread::sleep(Duration::from_millis(2));
                                });
                            }
                        }
                        'd' => {
                            screen.draw(|_| panic!("drawing broke")).unwrap();
                        }
                        'z' => lines.push(format!("suspended {}", screen.suspend().unwrap())),
                        'i' => screen.keyboard(Keyboard::Text).unwrap(),
                        'o' => screen.keyboard(Keyboard::Commands).unwrap(),
                        _ => {}
                    }
                    lines[0] = format!("keys {keys} last {c}");
                }
                Event::Key(key) => lines.push(format!("{:?} {:?}", key.code, key.kind)),
                Event::Paste(text) => lines.push(format!("pasted {} bytes", text.len())),
                Event::Resize(columns, rows) => lines.push(format!("size {columns}x{rows}")),
                other => lines.push(format!("{other:?}")),
            },
            TermEvent::Signal(signal) => match signal.what {
                Signal::Stop => drop(screen.suspend().unwrap()),
                Signal::Continue => screen.resumed().unwrap(),
                Signal::HangUp if deaf_to_hangup_signal => {}
                other => {
                    screen.close();
                    leave_word(other.name());
                    std::process::exit(other.exit_code().map_or(1, i32::from));
                }
            },
            TermEvent::HangUp(_) => {
                screen.close();
                leave_word("hang-up");
                std::process::exit(1);
            }
        }
        let extra = lines.len().saturating_sub(8);
        lines.drain(1..=extra);
    }
    drop(screen);
    println!("good-bye");
    std::process::exit(0);
}

fn leave_word(word: &str) {
    let place = Path::new(&std::env::var("HOME").unwrap()).join("last-word");
    std::fs::write(place.with_extension("new"), word).unwrap();
    std::fs::rename(place.with_extension("new"), place).unwrap();
}

/// Holds a terminal with the program in it, as a terminal window does, until it is killed.
fn hold_a_chair() {
    let home = std::env::var("HOLDER_HOME").unwrap();
    let part = std::env::var("HOLDER_PART").unwrap();
    let chair = start_in(Home::Shared(home.clone().into()), &part);
    chair.wait_for("ready").unwrap();
    // Moved into place, so that half a number is never read.
    let pid = Path::new(&home).join("pid");
    std::fs::write(pid.with_extension("new"), chair.pid().to_string()).unwrap();
    std::fs::rename(pid.with_extension("new"), pid).unwrap();
    thread::sleep(PATIENCE * 3);
}

// ---- Starting it ----

const SELECT: [&str; 5] = ["--exact", "chair::guard::program", "--ignored", "--nocapture", "--test-threads=1"];

fn this_binary() -> String {
    std::env::current_exe().unwrap().into_os_string().into_string().unwrap()
}

fn start_in(home: Home, part: &str) -> Chair {
    Chair::start_program_in(home, &this_binary(), &SELECT, &[(PART, part)], 60, 12)
}

fn start() -> Result<(Chair, String), String> {
    // The settings before are read from a fresh terminal: the program may already run when we first can look.
    let fresh = Chair::start_program("sleep", &["0"], &[], 60, 12);
    let before = fresh.termios();
    let chair = start_in(Home::Own(tempfile::tempdir().unwrap()), "loop");
    chair.wait_for("ready")?;
    assert!(chair.with_screen(|screen| screen.alternate_screen() && screen.hide_cursor() && screen.bracketed_paste()));
    assert_ne!(chair.termios(), before, "raw mode is on");
    assert_eq!(chair.count_raw("\x1b[>15u"), 1, "key reports are asked for once");
    Ok((chair, before))
}

fn assert_restored(chair: &Chair, before: &str) {
    assert_eq!(chair.termios(), before, "the terminal's settings are as they were");
    chair.with_screen(|screen| {
        assert!(!screen.alternate_screen(), "the alternate screen is left");
        assert!(!screen.hide_cursor(), "the cursor is shown");
        assert!(!screen.bracketed_paste(), "bracketed paste is off");
    });
    assert_eq!(chair.count_raw(LEFT), 1, "the screen is left once");
    let raw = chair.raw();
    let pop = find(&raw, POPPED).expect("key reports are popped");
    assert!(pop < find(&raw, LEFT).unwrap(), "key reports are popped on the screen that they were pushed on");
    // A message is only readable when nothing is drawn after leaving.
    assert!(!raw[find(&raw, LEFT).unwrap()..].windows(8).any(|w| w == b"\x1b[?2026h"), "no frame after leaving");
}

fn find(raw: &[u8], sequence: &str) -> Option<usize> {
    raw.windows(sequence.len()).position(|window| window == sequence.as_bytes())
}

// ---- The ways out ----

#[test]
fn a_usual_end_restores_the_terminal() -> Result<(), String> {
    let (mut chair, before) = start()?;
    chair.send("q");
    assert_eq!(chair.wait_exit()?, Ended::Code(0));
    assert_restored(&chair, &before);
    assert!(chair.screen().contains("good-bye"));
    Ok(())
}

#[test]
fn a_panic_in_any_thread_restores_the_terminal_and_ends_the_program() -> Result<(), String> {
    for (key, message) in
        [("p", "the main thread broke"), ("t", "a worker broke"), ("w", "a worker broke"), ("d", "drawing broke")]
    {
        let (mut chair, before) = start()?;
        chair.send(key);
        assert_eq!(chair.wait_exit()?, Ended::Code(101), "after {key}");
        assert_restored(&chair, &before);
        let screen = chair.screen();
        assert!(screen.contains(message) && screen.contains("The session is in the journal."), "{screen}");
    }
    Ok(())
}

#[test]
fn signals_restore_the_terminal_and_set_the_exit_code() -> Result<(), String> {
    for (signal, code, name) in [
        (Kill::TERM, 143, "SIGTERM"),
        (Kill::INT, 130, "SIGINT"),
        (Kill::QUIT, 131, "SIGQUIT"),
        (Kill::HUP, 129, "SIGHUP"),
    ] {
        let (mut chair, before) = start()?;
        chair.signal(signal);
        assert_eq!(chair.wait_exit()?, Ended::Code(code), "after {name}");
        assert_restored(&chair, &before);
        assert_eq!(std::fs::read_to_string(chair.home().join("last-word")).unwrap(), name);
    }
    Ok(())
}

#[test]
fn a_signal_while_text_is_typed_pops_both_keyboard_modes() -> Result<(), String> {
    let (mut chair, before) = start()?;
    chair.send("i");
    chair.wait_until("the text mode", |chair| chair.count_raw("\x1b[>1u") == 1)?;
    chair.send("o");
    chair.wait_until("the command mode", |chair| chair.count_raw(POPPED) == 1)?;
    chair.send("i");
    chair.wait_until("the text mode again", |chair| chair.count_raw("\x1b[>1u") == 2)?;
    chair.signal(Kill::TERM);
    chair.wait_exit()?;
    assert_restored(&chair, &before);
    assert_eq!(chair.count_raw(POPPED), 3);
    Ok(())
}

#[test]
fn a_closed_window_ends_the_program_with_and_without_its_signal() -> Result<(), String> {
    for (part, words) in [("loop", ["SIGHUP", "hang-up"].as_slice()), ("deaf", &["hang-up"])] {
        let home = tempfile::tempdir().unwrap();
        let mut holder = std::process::Command::new(this_binary())
            .args(SELECT)
            .env(PART, "holder")
            .env("HOLDER_PART", part)
            .env("HOLDER_HOME", home.path())
            .stdout(std::process::Stdio::null())
            .spawn()
            .unwrap();
        let read = |name: &str| {
            for _ in 0..PATIENCE.as_millis() / 5 {
                if let Ok(text) = std::fs::read_to_string(home.path().join(name)) {
                    return Ok(text);
                }
                thread::sleep(Duration::from_millis(5));
            }
            Err(format!("{name} was not written after {part}"))
        };
        let pid = read("pid");
        holder.kill().unwrap();
        holder.wait().unwrap();
        let pid = pid?.parse().unwrap();
        let word = read("last-word")?;
        assert!(words.contains(&word.as_str()), "{word}");
        let gone = || rustix::process::test_kill_process(Pid::from_raw(pid).unwrap()).is_err() || is_zombie(pid);
        for _ in 0..PATIENCE.as_millis() / 5 {
            if gone() {
                break;
            }
            thread::sleep(Duration::from_millis(5));
        }
        assert!(gone(), "the program still runs after {part}");
    }
    Ok(())
}

/// An orphan that nobody reaps is as good as gone.
fn is_zombie(pid: i32) -> bool {
    std::fs::read_to_string(format!("/proc/{pid}/stat")).is_ok_and(|stat| stat.contains(") Z "))
}

#[test]
fn a_stop_gives_the_terminal_to_the_shell_and_repaints_afterwards() -> Result<(), String> {
    let script = "\"$0\" \"$@\"; echo shell-has-it; stty -a | grep -o '.icanon'; read line; fg; echo job=$?";
    let mut args = vec!["-mc", script];
    let binary = this_binary();
    args.push(&binary);
    args.extend(SELECT);
    for by_key in [true, false] {
        let mut chair = Chair::start_program("bash", &args, &[(PART, "loop")], 60, 12);
        chair.wait_for("ready")?;
        if by_key {
            chair.send("z");
        } else {
            let job = chair.foreground().expect("the job is in the foreground");
            rustix::process::kill_process(Pid::from_raw(job).unwrap(), Kill::TSTP).unwrap();
        }
        chair.wait_for("shell-has-it")?;
        chair.wait_for("icanon")?;
        assert!(!chair.screen().contains("-icanon"), "{}", chair.screen());
        assert!(!chair.with_screen(|screen| screen.alternate_screen() || screen.hide_cursor()));
        assert_eq!(chair.count_raw(POPPED), 1);
        chair.send_key(Key::Enter);
        chair.wait_until("the program's screen again", |chair| {
            chair.with_screen(|screen| screen.alternate_screen() && screen.hide_cursor())
                && chair.screen().contains(if by_key { "suspended true" } else { "ready" })
        })?;
        assert_eq!(chair.count_raw("\x1b[>15u"), 2, "key reports are asked for again");
        chair.wait_quiet(Duration::from_millis(50));
        assert!(chair.with_screen(vt100::Screen::alternate_screen), "one stop stops once");
        chair.send("q");
        chair.wait_for("job=0")?;
        assert!(!chair.with_screen(|screen| screen.alternate_screen() || screen.hide_cursor()));
    }
    Ok(())
}

#[test]
fn without_a_shell_to_come_back_to_a_stop_is_declined() -> Result<(), String> {
    let (mut chair, before) = start()?;
    chair.send("z");
    chair.wait_for("suspended false")?;
    chair.send("q");
    assert_eq!(chair.wait_exit()?, Ended::Code(0));
    assert_restored(&chair, &before);
    Ok(())
}

#[test]
fn after_a_stop_from_outside_the_screen_is_whole_again() -> Result<(), String> {
    let (mut chair, before) = start()?;
    chair.signal(Kill::STOP);
    let frames = chair.count_raw("\x1b[?2026h");
    chair.signal(Kill::CONT);
    chair.wait_until("a repaint", |chair| chair.count_raw("\x1b[?2026h") > frames)?;
    chair.wait_for("ready")?;
    chair.send("q");
    chair.wait_exit()?;
    assert_restored(&chair, &before);
    Ok(())
}

// ---- What arrives ----

#[test]
fn sizes_pastes_and_key_reports_arrive() -> Result<(), String> {
    let (mut chair, _) = start()?;
    chair.resize(70, 20);
    chair.wait_for("size 70x20")?;
    chair.paste(&"q".repeat(5000));
    chair.wait_for("pasted 5000 bytes")?;
    chair.send_key(Key::Repeated(' '));
    chair.wait_for("Char(' ') Repeat")?;
    chair.send_key(Key::Released(' '));
    chair.wait_for("Char(' ') Release")
}

#[test]
fn a_flood_of_keys_loses_none() -> Result<(), String> {
    let (mut chair, _) = start()?;
    for _ in 0..5 {
        chair.send(&"a".repeat(1500));
    }
    chair.wait_for("keys 7500")
}

#[test]
fn a_small_change_is_one_small_frame() -> Result<(), String> {
    let (mut chair, _) = start()?;
    chair.resize(200, 60);
    chair.wait_for("size 200x60")?;
    chair.send("a");
    chair.wait_for("keys 1 last a")?;
    chair.wait_quiet(Duration::from_millis(50));
    let (bytes, frames) = (chair.raw().len(), chair.count_raw("\x1b[?2026h"));
    chair.send("a");
    chair.wait_for("keys 2 last a")?;
    chair.wait_quiet(Duration::from_millis(50));
    assert_eq!(chair.count_raw("\x1b[?2026h"), frames + 1);
    assert!(chair.raw().len() - bytes < 200, "{} bytes", chair.raw().len() - bytes);
    Ok(())
}

#[test]
fn tiny_and_huge_windows_do_no_harm() -> Result<(), String> {
    let (mut chair, before) = start()?;
    for (columns, rows) in [(1, 1), (500, 200), (2, 1), (60, 12)] {
        chair.resize(columns, rows);
    }
    chair.wait_for("size 60x12")?;
    chair.send("q");
    assert_eq!(chair.wait_exit()?, Ended::Code(0));
    assert_restored(&chair, &before);
    Ok(())
}

#[test]
fn without_a_terminal_the_error_says_so() {
    let told = std::process::Command::new(this_binary())
        .args(SELECT)
        .env(PART, "loop")
        .stdin(std::process::Stdio::null())
        .output()
        .unwrap();
    assert_eq!(told.status.code(), Some(2));
    let words = String::from_utf8_lossy(&told.stderr);
    assert!(words.contains("no terminal to draw on"), "{words}");
    assert!(!told.stdout.contains(&0x1b), "nothing is drawn into a pipe");
}
