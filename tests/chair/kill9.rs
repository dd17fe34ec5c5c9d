//! Pulls the plug at random moments: what the screen had shown as saved must be there afterwards.
//!
//! Every frame that the program ever completed is looked at, also those that arrived just before the kill. After each
//! kill the count is taken once from the journal's raw lines and once from the screen after the session is taken up
//! again.

use super::hand::{Done, Hand, count_on, frames, journals, lines, only_session, run_json, sample, says_saved};
use super::pty::{Chair, Ended, Key};
use serde_json::Value;
use std::path::Path;
use std::thread;
use std::time::Duration;

/// Kills of each kind by one run; with four runs more than 200 in all.
const WHILE_COUNTING: u64 = 40;
const WHILE_TAKING_UP: u64 = 8;
const WHILE_OPENING: u64 = 6;

/// A small seeded source of numbers (splitmix64).
struct Dice(u64);

impl Dice {
    fn roll(&mut self, below: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (z ^ (z >> 31)) % below
    }

    fn wait_up_to(&mut self, ms: u64) {
        thread::sleep(Duration::from_micros(self.roll(ms * 1000)));
    }
}

/// What has been shown and sent so far.
#[derive(Debug, Default, Clone, Copy)]
struct Tally {
    /// The highest count that stood on a screen whose header said "saved".
    shown_saved: u64,
    /// Pulses sent, whether or not they arrived.
    sent: u64,
    /// Frames that showed a count as saved.
    frames: u64,
    kills: u64,
}

impl Tally {
    /// Kills the program and looks at all frames that it has drawn.
    fn kill(&mut self, chair: &mut Chair) -> Done {
        chair.kill9();
        self.kills += 1;
        match chair.wait_exit()? {
            Ended::Signal(_) => {}
            Ended::Code(code) => return Err(format!("ended by itself with {code}:\n{}", chair.framed())),
        }
        self.look_at(&chair.raw());
        Ok(())
    }

    fn look_at(&mut self, raw: &[u8]) {
        for screen in frames(raw) {
            if let Some(count) = count_on(&screen).filter(|_| says_saved(&screen)) {
                self.frames += 1;
                self.shown_saved = self.shown_saved.max(count);
            }
        }
    }
}

/// Pulses by the raw lines of the one journal.
fn in_journal(home: &Path) -> u64 {
    let (_, journal) = only_session(home);
    let fired = |line: &Value| match line["event"]["type"].as_str() {
        Some("pulses-fired") => line["event"]["n"].as_u64().unwrap(),
        Some("pulses-corrected" | "entry-voided") => panic!("nothing was taken back: {line}"),
        _ => 0,
    };
    lines(&journal).iter().map(fired).sum()
}

/// Takes the session up again as a person does.
fn take_up(home: &Path) -> Result<Hand, String> {
    let mut hand = Hand::start(home, &[]);
    hand.wait_for("resume session")?;
    hand.chair.send_key(Key::Enter);
    hand.wait_for("TREAT")?;
    hand.chair.wait_until("a saved count", |chair| {
        let screen = chair.screen();
        count_on(&screen).is_some() && says_saved(&screen)
    })?;
    Ok(hand)
}

/// Kills the program again and again while a session is being opened; each time it can be begun all the same.
fn kill_while_opening(dice: &mut Dice, tally: &mut Tally) -> Done {
    for _ in 0..WHILE_OPENING {
        let home = tempfile::tempdir().unwrap();
        let mut hand = Hand::start(home.path(), &["treat", &sample("two-zone-band")]);
        dice.wait_up_to(150);
        tally.kill(&mut hand.chair)?;
        let shown = frames(&hand.chair.raw()).iter().any(|frame| says_saved(frame));
        let mut again = Hand::start(home.path(), &["treat", &sample("two-zone-band")]);
        again.chair.wait_until("a first screen", |chair| {
            let screen = chair.screen();
            screen.contains("CHECKS") || screen.contains("begin a new session")
        })?;
        let offered = again.chair.screen().contains("resume session");
        assert!(offered || !shown, "a session that was shown as saved is not offered:\n{}", again.chair.framed());
        if offered {
            again.chair.send_key(Key::Enter);
            again.wait_for("CHECKS")?;
            again.wait_for("resumed")?;
        }
        again.leave()?;
        assert_eq!(again.chair.wait_exit()?, Ended::Code(0));
        for journal in journals(home.path()) {
            if std::fs::metadata(&journal).unwrap().len() > 0 {
                let report = run_json(home.path(), &["verify", "--json", journal.to_str().unwrap()]);
                assert_eq!(report["ok"], true);
            }
        }
    }
    Ok(())
}

/// Counts as fast as a hand can, and faster, for a while.
fn count_for_a_while(hand: &mut Hand, dice: &mut Dice, tally: &mut Tally) {
    hand.chair.send_key(Key::Released(' '));
    for _ in 0..dice.roll(60) {
        match dice.roll(30) {
            0 => {
                hand.chair.send("7\r");
                tally.sent += 7;
            }
            1 => hand.chair.send("w2"),
            _ => {
                hand.key(' ');
                tally.sent += 1;
            }
        }
        dice.wait_up_to(8);
    }
    // A frame takes a few milliseconds, and so does the disk: most kills fall between a key and its line.
    dice.wait_up_to(8);
}

fn kills(seed: u64) -> Done {
    println!("seed {seed}");
    let mut dice = Dice(seed);
    let mut tally = Tally::default();
    kill_while_opening(&mut dice, &mut tally)?;

    let home = tempfile::tempdir().unwrap();
    let mut hand = Hand::treat(home.path(), "two-zone-band")?;
    hand.begin_a_pass()?;
    let taking_up_every = WHILE_COUNTING / WHILE_TAKING_UP;
    for n in 0..WHILE_COUNTING {
        count_for_a_while(&mut hand, &mut dice, &mut tally);
        tally.kill(&mut hand.chair)?;
        check_kept(home.path(), tally, seed);
        if n % taking_up_every == 0 {
            let mut half_way = Hand::start(home.path(), &[]);
            if dice.roll(2) == 0 {
                half_way.wait_for("resume session")?;
                half_way.chair.send_key(Key::Enter);
            }
            dice.wait_up_to(100);
            tally.kill(&mut half_way.chair)?;
            check_kept(home.path(), tally, seed);
        }
        hand = take_up(home.path())?;
        let count = hand.count().ok_or("no count on screen")?;
        assert!(count >= tally.shown_saved, "seed {seed}: {count} after resumption, {tally:?}");
        assert!(count <= tally.sent, "seed {seed}: {count} after resumption, {tally:?}");
        assert_eq!(count, in_journal(home.path()), "seed {seed}: the screen against the raw lines");
    }
    count_for_a_while(&mut hand, &mut dice, &mut tally);
    hand.chair.wait_quiet(Duration::from_millis(100));
    let last = hand.count().ok_or("no count on screen")?;
    hand.wait_count(last)?;
    hand.key('e');
    hand.wait_for("not started")?;
    hand.leave()?;
    assert_eq!(hand.chair.wait_exit()?, Ended::Code(0));
    let (id, _) = only_session(home.path());
    let log = run_json(home.path(), &["log", &id, "--json"]);
    assert_eq!((log["pulses"].as_u64(), log["record_sound"].as_bool()), (Some(last), Some(true)));
    assert_eq!(run_json(home.path(), &["verify", "--json"])["ok"], true);
    assert!(tally.frames > WHILE_COUNTING, "too few frames with a saved count to show anything: {tally:?}");
    println!("{tally:?}, {last} counted in the end");
    Ok(())
}

fn check_kept(home: &Path, tally: Tally, seed: u64) {
    let kept = in_journal(home);
    assert!(kept >= tally.shown_saved, "seed {seed}: {kept} pulses on disk, {tally:?}");
    assert!(kept <= tally.sent, "seed {seed}: {kept} pulses on disk, {tally:?}");
}

#[test]
fn no_saved_pulse_is_lost_to_a_pulled_plug_1() -> Done {
    kills(0x5eed_0001)
}

#[test]
fn no_saved_pulse_is_lost_to_a_pulled_plug_2() -> Done {
    kills(0x5eed_0002)
}

#[test]
fn no_saved_pulse_is_lost_to_a_pulled_plug_3() -> Done {
    kills(0x5eed_0003)
}

#[test]
fn no_saved_pulse_is_lost_to_a_pulled_plug_4() -> Done {
    kills(0x5eed_0004)
}
