//! Drives the program as an operator does, by what stands on its screen: checks, read-back, time-out, first pass.

use super::terminal::Terminal;
use std::thread;
use std::time::Duration;

/// More keys than this lead nowhere.
const KEYS_MAX: usize = 200;
/// The pause after each key, for the frames that it sets off.
const SETTLE: Duration = Duration::from_millis(60);
/// What the device of `large-sleeve.toml` shows, field by field; the energy is 4.0 J/cm2 x pi x (2 mm)^2 / 4.
const DISPLAY: [&str; 6] = ["1064", "6 ns", "2", "4.0", "0.126", "20"];

/// The count of the running pass, and what the header says of the disk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Count {
    /// Pulses counted.
    pub counted: u64,
    /// Events that are not on disk yet: none while the header says `saved`, N while it says `saving N`.
    pub unsaved: u64,
}

impl Count {
    /// Reads `12/4300` and the header; none when one of them does not stand there.
    pub fn read(screen: &str) -> Option<Self> {
        let header = screen.lines().next()?;
        if header.contains("NOT SAVED") {
            return None;
        }
        let unsaved = match header.split_once("saving") {
            Some((_, rest)) => rest.split_whitespace().next()?.parse().ok()?,
            None => header.contains("saved").then_some(0)?,
        };
        // The zone's number among the zones, `1/1`, looks the same but for its size.
        let of_plan = |word: &str| {
            let (counted, planned) = word.split_once('/')?;
            let (counted, planned): (u64, u64) = (counted.parse().ok()?, planned.parse().ok()?);
            (planned >= 1000).then_some(counted)
        };
        let counted = screen.split_whitespace().find_map(of_plan)?;
        Some(Self { counted, unsaved })
    }

    /// True when all is on disk.
    pub const fn is_saved(self) -> bool {
        self.unsaved == 0
    }
}

/// Leads a new session to its first pass, with nothing counted.
pub fn to_first_pass(terminal: &mut Terminal) -> Result<(), String> {
    terminal.until("the first screen", |f| f.text.contains("CHECKS"))?;
    let mut begun = false;
    for _ in 0..KEYS_MAX {
        let screen = settled(terminal);
        let header = screen.lines().next().unwrap_or_default();
        let keys = if screen.contains("Device counter") {
            // The counter is not read.
            "\r"
        } else if header.contains("CHECKS") {
            if screen.contains("v: type the value") {
                "vOP-7\r"
            } else if screen.contains("v: type a dose") {
                // None was given.
                "a"
            } else if screen.contains("v: type the marking") {
                // The first pair of the protocol.
                "v1\r"
            } else {
                "y"
            }
        } else if header.contains("SETTINGS") {
            if screen.contains("READ BACK: the device agrees") {
                "\x1bOQ"
            } else {
                for field in DISPLAY {
                    terminal.send(&format!("{field}\t"))?;
                    thread::sleep(SETTLE);
                }
                "c"
            }
        } else if header.contains("TREAT") && !begun {
            begun = true;
            "n"
        } else if header.contains("TREAT") {
            match Count::read(&screen) {
                Some(count) if count.is_saved() => return see_whitening(terminal),
                // A slow disk is waited for.
                _ => continue,
            }
        } else {
            return Err(format!("no way on from this screen:\n{screen}"));
        };
        terminal.send(keys)?;
    }
    Err(format!("{KEYS_MAX} keys did not lead to the first pass; the screen was:\n{}", terminal.screen()))
}

/// Noted before the first pulse, so that no advice for want of it comes between the pulses.
fn see_whitening(terminal: &mut Terminal) -> Result<(), String> {
    terminal.send("w")?;
    terminal.until("the question for a grade", |f| f.text.contains("How strong"))?;
    terminal.send("2")?;
    terminal.until("whitening on the treat screen", |f| {
        f.text.contains("WHITE 2") && Count::read(&f.text).is_some_and(Count::is_saved)
    })?;
    Ok(())
}

/// Leaves the program with the session open, and waits for its end.
pub fn leave(terminal: &mut Terminal) -> Result<(), String> {
    terminal.send("q")?;
    terminal.until("the question whether to leave", |f| f.text.contains("y ") || f.text.contains("yes"))?;
    // A question takes no answer that came before it could be read.
    thread::sleep(Duration::from_millis(400));
    terminal.send("y")?;
    terminal.wait_end()
}

fn settled(terminal: &mut Terminal) -> String {
    thread::sleep(SETTLE);
    while terminal.next_frame().is_some() {}
    terminal.screen()
}
