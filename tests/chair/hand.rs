//! The operator's hand: what a person does at the chair, each step waiting until the screen has answered.

use super::pty::{Chair, Key};
use serde_json::Value;
use std::num::NonZeroU16;
use std::path::{Path, PathBuf};
use std::process::Output;
use std::thread;
use std::time::Duration;

/// A step's end; the error shows the screen.
pub type Done = Result<(), String>;

pub const F2: &str = "\x1bOQ";
pub const F3: &str = "\x1bOR";
pub const F4: &str = "\x1bOS";
pub const F5: &str = "\x1b[15~";
pub const F9: &str = "\x1b[20~";

/// A question may be answered 300 ms after it was drawn.
const READING: Duration = Duration::from_millis(350);

/// What the device shows for a zone: wavelength, pulse duration, spot, fluence, energy, rate.
pub type Shown = [&'static str; 6];

/// The first zone of the sample plan with two zones.
pub const BLACK: Shown = ["1064", "6 ns", "4", "3.0", "0.377", "5"];

/// A sample plan's path.
pub fn sample(name: &str) -> String {
    format!("{}/sample-plans/{name}.toml", env!("CARGO_MANIFEST_DIR"))
}

/// Runs fadewright without a terminal, with the data directory of a home.
pub fn run(home: &Path, args: &[&str]) -> Output {
    std::process::Command::new(env!("CARGO_BIN_EXE_fadewright"))
        .args(args)
        .env("HOME", home)
        .env("FADEWRIGHT_DATA", home.join("data"))
        .env_remove("FADEWRIGHT_THEME")
        .output()
        .expect("fadewright starts")
}

/// Runs it and reads what it prints as JSON; it must succeed.
pub fn run_json(home: &Path, args: &[&str]) -> Value {
    let told = run(home, args);
    assert!(told.status.success(), "{args:?}: {}", String::from_utf8_lossy(&told.stderr));
    serde_json::from_slice(&told.stdout).expect("JSON")
}

/// The journals in a home's data directory, oldest first.
pub fn journals(home: &Path) -> Vec<PathBuf> {
    let inside = |dir: &Path| -> Vec<PathBuf> {
        std::fs::read_dir(dir).map(|list| list.map(|e| e.unwrap().path()).collect()).unwrap_or_default()
    };
    let years = inside(&home.join("data/sessions"));
    let mut found: Vec<PathBuf> = years.iter().flat_map(|year| inside(year)).flat_map(|month| inside(&month)).collect();
    found.retain(|path| {
        let name = path.to_string_lossy();
        name.ends_with(".jsonl") && !name.ends_with(".notes.jsonl")
    });
    found.sort();
    found
}

/// The one session of a home: its id and its journal.
pub fn only_session(home: &Path) -> (String, PathBuf) {
    let found = journals(home);
    assert_eq!(found.len(), 1, "{found:?}");
    (found[0].file_stem().unwrap().to_string_lossy().into_owned(), found[0].clone())
}

/// The whole lines of a journal; what a kill has cut off is no line.
pub fn lines(journal: &Path) -> Vec<Value> {
    let bytes = std::fs::read(journal).unwrap();
    let whole = bytes.iter().rposition(|b| *b == b'\n').map_or(0, |end| end + 1);
    // Space that was set aside for coming lines is no line either.
    bytes[..whole]
        .split(|b| *b == b'\n')
        .filter(|line| line.first() == Some(&b'{'))
        .map(|line| serde_json::from_slice(line).expect("a line of JSON"))
        .collect()
}

/// The last event of a journal.
pub fn last_event(journal: &Path) -> Value {
    lines(journal).last().expect("a line")["event"].clone()
}

/// The count of the running pass, from the numbers beside the bar, or from the one line of a small window.
pub fn count_on(screen: &str) -> Option<u64> {
    screen.lines().find_map(|line| {
        let (numbers, _) = line.trim_start().split_once(' ')?;
        let (count, planned) = numbers.split_once('/')?;
        planned.parse::<u64>().ok()?;
        count.parse().ok()
    })
}

/// True when the header says that all is saved.
pub fn says_saved(screen: &str) -> bool {
    screen.lines().next().is_some_and(|header| header.trim_end().ends_with(" saved"))
}

/// The screen after each frame that the program completed, at 80x24.
pub fn frames(raw: &[u8]) -> Vec<String> {
    const END: &[u8] = b"\x1b[?2026l";
    let mut parser = vt100::Parser::new(NonZeroU16::new(24).unwrap(), NonZeroU16::new(80).unwrap(), 0);
    let mut rest = raw;
    let mut screens = Vec::new();
    while let Some(at) = rest.windows(END.len()).position(|w| w == END) {
        let (frame, more) = rest.split_at(at + END.len());
        parser.process(frame);
        screens.push(parser.screen().contents());
        rest = more;
    }
    screens
}

/// A person before the screen.
pub struct Hand {
    pub chair: Chair,
}

impl Hand {
    /// Starts fadewright at 80x24 in a home that outlives it.
    pub fn start(home: &Path, args: &[&str]) -> Self {
        Self { chair: Chair::start_in(home, args, &[], 80, 24) }
    }

    /// Starts a session by a sample plan.
    pub fn treat(home: &Path, plan: &str) -> Result<Self, String> {
        let hand = Self::start(home, &["treat", &sample(plan)]);
        hand.wait_for("CHECKS")?;
        Ok(hand)
    }

    pub fn wait_for(&self, text: &str) -> Done {
        self.chair.wait_for(text)
    }

    pub fn wait_gone(&self, text: &str) -> Done {
        self.chair.wait_until(&format!("{text:?} to go"), |chair| !chair.screen().contains(text))
    }

    /// Presses and releases a key, as a terminal with key reports tells it.
    pub fn key(&mut self, c: char) {
        self.chair.send_key(Key::Pressed(c));
        self.chair.send_key(Key::Released(c));
    }

    /// Presses a key and waits for what must show then.
    pub fn press(&mut self, c: char, then: &str) -> Done {
        self.key(c);
        self.wait_for(then)
    }

    /// Types into the open question and sends it.
    pub fn fill(&mut self, question: &str, text: &str) -> Done {
        self.wait_for(question)?;
        self.chair.send(text);
        self.chair.send_key(Key::Enter);
        self.wait_gone(question)
    }

    /// Presses a key once what it answers could be read, until that has had its effect.
    pub fn answer(&mut self, question: &str, c: char, met: impl Fn(&Chair) -> bool) -> Done {
        self.wait_for(question)?;
        for _ in 0..4 {
            thread::sleep(READING);
            self.key(c);
            if self.chair.wait_at_most(Duration::from_secs(5), "an answer to be taken", &met).is_ok() {
                return Ok(());
            }
        }
        Err(format!("{c} did not answer {question:?}; the screen was:\n{}", self.chair.framed()))
    }

    /// Answers a question of letters.
    pub fn choose(&mut self, question: &str, c: char) -> Done {
        self.answer(question, c, |chair| !chair.screen().contains(question))
    }

    /// Waits until this checklist item is the chosen one and not answered.
    pub fn at_item(&self, statement: &str) -> Done {
        self.chair.wait_until(&format!("the item {statement:?}"), |chair| {
            chair.screen().lines().any(|l| l.trim_start().starts_with("> [ ]") && l.contains(statement))
        })
    }

    /// The sign-in with all answers as they should be, in one go.
    pub fn sign_in(&mut self) -> Done {
        self.at_item("Code of the operator")?;
        self.key('v');
        self.fill("enter take", "OP-7")?;
        for _ in 0..9 {
            self.key('y');
        }
        // No anaesthetic was given.
        self.key('a');
        self.wait_for("SETTINGS")
    }

    /// Types what the device shows and compares.
    pub fn read_back(&mut self, shown: Shown) -> Done {
        self.wait_for("SETTINGS")?;
        if !self.chair.screen().contains("next field") {
            self.press('i', "next field")?;
        }
        for field in shown {
            self.chair.send_key(Key::Ctrl('u'));
            self.chair.send(field);
            self.chair.send_key(Key::Enter);
        }
        self.wait_for("c compare")?;
        self.key('c');
        Ok(())
    }

    /// The eyewear worn: the first pair of the protocol.
    pub fn eyewear(&mut self) -> Done {
        self.at_item("Everyone, client included")?;
        self.key('v');
        self.fill("enter take", "1")
    }

    /// The time-out with all answers as they should be, in one go.
    pub fn time_out(&mut self) -> Done {
        self.eyewear()?;
        for _ in 0..7 {
            self.key('y');
        }
        self.wait_for("TREAT")
    }

    /// From the first screen of the plan with two zones to a running pass, without a counter reading.
    pub fn begin_a_pass(&mut self) -> Done {
        self.sign_in()?;
        self.read_back(BLACK)?;
        self.time_out()?;
        self.key('n');
        self.fill("Device counter", "")?;
        self.wait_for("running")
    }

    /// Types the device's counter into the open question. These pulses come faster than the device's rate, so that the
    /// program may ask whether the counter is believed.
    pub fn counter(&mut self, reading: u64, then: &str) -> Done {
        self.fill("Device counter", &reading.to_string())?;
        let asked = "Is that right?";
        self.chair.wait_until(&format!("{then:?} or {asked:?}"), |chair| {
            let screen = chair.screen();
            screen.contains(then) || screen.contains(asked)
        })?;
        if self.chair.screen().contains(asked) {
            self.choose(asked, 'j')?;
        }
        self.wait_for(then)
    }

    /// The count on screen.
    pub fn count(&self) -> Option<u64> {
        count_on(&self.chair.screen())
    }

    /// Waits until this count is shown as saved.
    pub fn wait_count(&self, n: u64) -> Done {
        self.chair.wait_until(&format!("the count {n}, saved"), |chair| {
            let screen = chair.screen();
            count_on(&screen) == Some(n) && says_saved(&screen)
        })
    }

    /// Presses the pulse key and waits until all of it is counted and saved.
    pub fn pulses(&mut self, n: u64) -> Done {
        let before = self.count().ok_or("no count on screen")?;
        for _ in 0..n {
            self.key(' ');
            thread::sleep(Duration::from_millis(2));
        }
        self.wait_count(before + n)
    }

    /// Leaves with the session open.
    pub fn leave(&mut self) -> Done {
        self.key('q');
        self.wait_for("Leave?")?;
        thread::sleep(READING);
        self.key('y');
        Ok(())
    }
}
