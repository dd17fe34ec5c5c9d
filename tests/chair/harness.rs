//! The harness itself, against small shell programs whose behaviour is known.

use super::pty::{Chair, Ended, Key};
use rustix::process::Signal;
use std::time::Duration;

fn shell(script: &str) -> Chair {
    Chair::start_program("sh", &["-c", script], &[], 40, 10)
}

#[test]
fn what_is_typed_reaches_the_program_and_what_it_prints_is_seen() -> Result<(), String> {
    let mut chair = shell("stty -echo; echo ready; read x; echo \"got $x\"; exit 3");
    chair.wait_for("ready")?;
    chair.send("two zones");
    chair.send_key(Key::Enter);
    chair.wait_for("got two zones")?;
    assert_eq!(chair.wait_exit()?, Ended::Code(3));
    assert_eq!(chair.screen(), "ready\ngot two zones");
    Ok(())
}

#[test]
fn a_wait_that_is_not_met_shows_the_screen() {
    let chair = shell("echo only this; sleep 30");
    let told = chair.wait_at_most(Duration::from_millis(400), "that", |chair| chair.screen().contains("that"));
    let told = told.unwrap_err();
    assert!(told.contains("waited for that") && told.contains("only this"), "{told}");
}

#[test]
fn the_environment_is_clean_and_the_home_is_its_own() -> Result<(), String> {
    let mut chair = shell("env | cut -d= -f1 | sort | tr '\\n' ' '; echo; test \"$HOME\" = \"$PWD\" && echo at-home");
    chair.wait_for("at-home")?;
    chair.wait_exit()?;
    let screen = chair.screen().replace('\n', "");
    assert!(!screen.contains("COLORTERM") && !screen.contains("CARGO"), "{screen}");
    assert!(screen.contains("FADEWRIGHT_DATA"), "{screen}");
    assert!(chair.data_dir().starts_with(chair.home()));
    Ok(())
}

#[test]
fn a_new_size_is_told_to_the_program() -> Result<(), String> {
    let chair = shell("trap 'stty size; exit' WINCH; stty size; while :; do sleep 0.05; done");
    chair.wait_for("10 40")?;
    chair.resize(100, 30);
    chair.wait_for("30 100")
}

#[test]
fn signals_arrive_and_a_killed_program_is_told_from_one_that_ends() -> Result<(), String> {
    let mut chair = shell("trap 'echo bye; exit 7' TERM; echo up; while :; do sleep 0.05; done");
    chair.wait_for("up")?;
    chair.signal(Signal::TERM);
    assert_eq!(chair.wait_exit()?, Ended::Code(7));
    assert!(chair.screen().contains("bye"));

    let mut chair = shell("echo up; sleep 30");
    chair.wait_for("up")?;
    chair.kill9();
    assert!(matches!(chair.wait_exit()?, Ended::Signal(_)));
    Ok(())
}

#[test]
fn changed_terminal_settings_are_noticed() -> Result<(), String> {
    let mut chair = shell("read x; stty raw -echo; echo raw; sleep 30");
    let before = chair.termios();
    chair.send_key(Key::Enter);
    chair.wait_for("raw")?;
    assert_ne!(chair.termios(), before);
    Ok(())
}

#[test]
fn raw_bytes_and_the_terminal_s_state_are_kept() -> Result<(), String> {
    let mut chair = shell("printf '\\033[?1049h\\033[?25l\\033[>15uinside'; read x; printf '\\033[?1049l'; echo out");
    chair.wait_for("inside")?;
    assert!(chair.with_screen(|screen| screen.alternate_screen() && screen.hide_cursor()));
    assert_eq!(chair.count_raw("\x1b[>15u"), 1);
    chair.send_key(Key::Enter);
    chair.wait_exit()?;
    assert!(!chair.with_screen(vt100::Screen::alternate_screen));
    Ok(())
}

#[test]
fn keys_are_sent_as_terminals_send_them() -> Result<(), String> {
    let keys = [
        (Key::Esc, "^["),
        (Key::Tab, "^I"),
        (Key::BackTab, "^[[Z"),
        (Key::Backspace, "^?"),
        (Key::Delete, "^[[3~"),
        (Key::Up, "^[[A"),
        (Key::Down, "^[[B"),
        (Key::Right, "^[[C"),
        (Key::Left, "^[[D"),
        (Key::Home, "^[[H"),
        (Key::End, "^[[F"),
        (Key::PageUp, "^[[5~"),
        (Key::PageDown, "^[[6~"),
        (Key::F(1), "^[OP"),
        (Key::F(4), "^[OS"),
        (Key::Ctrl('l'), "^L"),
        (Key::Pressed(' '), "^[[32u"),
        (Key::Repeated(' '), "^[[32;1:2u"),
        (Key::Released('w'), "^[[119;1:3u"),
    ];
    let mut chair = shell("stty raw -echo; echo ready; cat -vT");
    chair.wait_for("ready")?;
    for (key, shown) in keys {
        chair.send("\r");
        let before = chair.count_raw(shown);
        chair.send_key(key);
        chair.wait_until(&format!("{key:?}"), |chair| chair.count_raw(shown) > before)?;
    }
    Ok(())
}
