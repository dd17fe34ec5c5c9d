//! The line of pulses: a serial device that goes away and comes back, and a pipe.

use super::hand::{BLACK, Done, Hand, lines, only_session, sample};
use portable_pty::{PtyPair, PtySize, native_pty_system};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::thread::sleep;
use std::time::Duration;

/// Longer than a bounce.
const APART: Duration = Duration::from_millis(60);

fn hand(home: &Path, line: &Path) -> Result<Hand, String> {
    let plan = sample("two-zone-band");
    let hand = Hand::start(home, &["treat", &plan, "--pulse-input", line.to_str().unwrap()]);
    hand.wait_for("CHECKS")?;
    Ok(hand)
}

fn in_a_pass(hand: &mut Hand) -> Done {
    hand.sign_in()?;
    hand.read_back(BLACK)?;
    hand.time_out()?;
    hand.key('n');
    hand.fill("Device counter", "")?;
    hand.wait_for("running")
}

fn pulses(to: &mut impl Write, n: usize) {
    for _ in 0..n {
        to.write_all(b"pulse\n").unwrap();
        to.flush().unwrap();
        sleep(APART);
    }
}

/// A pair of pseudo-terminals stands for a serial device and its cable.
#[test]
fn a_serial_line_counts_pulses_and_shows_what_is_none() -> Done {
    let home = tempfile::tempdir().unwrap();
    let Pair { mut cable, both, path } = pair();
    let mut hand = hand(home.path(), &path)?;
    in_a_pass(&mut hand)?;
    hand.wait_for("pulse line open")?;
    pulses(&mut cable, 5);
    hand.wait_count(5)?;
    cable.write_all(b"hello?\npulse\npulse\n").unwrap();
    // Of two at once the second has bounced.
    hand.wait_count(6)?;
    hand.wait_for("1 bad lines, 1 bounces")?;
    drop(cable);
    drop(both);
    hand.wait_for("PULSE LINE LOST")?;
    // Counting goes on by key.
    hand.pulses(1)?;
    hand.wait_count(7)?;
    hand.leave()?;
    let (_, journal) = only_session(home.path());
    let by_line = lines(&journal).iter().filter(|l| l["event"]["source"] == "line").count();
    assert_eq!(by_line, 6);
    Ok(())
}

/// A pipe ends with each of its writers, and is opened again for the next.
#[test]
fn a_pipe_is_taken_up_again_after_its_writer_went_away() -> Done {
    let home = tempfile::tempdir().unwrap();
    let pipe = home.path().join("pulses");
    assert!(Command::new("mkfifo").arg(&pipe).status().unwrap().success());
    let mut hand = hand(home.path(), &pipe)?;
    in_a_pass(&mut hand)?;
    for (writer, total) in [(1, 3), (2, 6)] {
        let mut to = std::fs::OpenOptions::new().write(true).open(&pipe).unwrap();
        hand.wait_for("pulse line open")?;
        pulses(&mut to, 3);
        hand.wait_count(total)?;
        drop(to);
        hand.wait_for("PULSE LINE LOST").map_err(|e| format!("writer {writer}: {e}"))?;
    }
    hand.leave()
}

/// Nothing is there at the start, and a pulse without a pass is refused like a key.
#[test]
fn a_line_that_is_not_there_is_told_and_tried_again() -> Done {
    let home = tempfile::tempdir().unwrap();
    let path = home.path().join("later");
    let mut hand = hand(home.path(), &path)?;
    hand.wait_for("the pulse line is lost")?;
    assert!(Command::new("mkfifo").arg(&path).status().unwrap().success());
    let mut to = std::fs::OpenOptions::new().write(true).open(&path).unwrap();
    pulses(&mut to, 1);
    hand.wait_for("no pass is running")?;
    hand.leave()
}

/// Both ends of a pseudo-terminal, the far one in raw mode.
struct Pair {
    cable: Box<dyn Write + Send>,
    both: PtyPair,
    path: PathBuf,
}

fn pair() -> Pair {
    let both = native_pty_system().openpty(PtySize::default()).unwrap();
    let path = both.master.tty_name().unwrap();
    let raw = Command::new("stty").arg("-F").arg(&path).args(["raw", "-echo"]).status().unwrap();
    assert!(raw.success());
    Pair { cable: both.master.take_writer().unwrap(), both, path }
}
