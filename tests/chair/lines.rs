//! A session in lines: types lines into the real binary and reads what it says, as a screen reader would.

use std::io::{Read, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

/// A step's end; the error shows what was said.
pub type Done = Result<(), String>;

/// How often a waiting test looks again, and for how long.
const LOOK_EVERY: Duration = Duration::from_millis(10);
const LOOKS: u32 = 2_000;
/// An answer counts a second after its question was said.
const HEARING: Duration = Duration::from_millis(1_100);

/// A program that is heard.
pub struct Lines {
    pub child: Child,
    pub input: Option<ChildStdin>,
    heard: Arc<Mutex<Vec<u8>>>,
    from: usize,
}

impl Lines {
    /// Starts fadewright with its input and output in pipes, in a home that outlives it. No terminal is named.
    pub fn start(home: &Path, args: &[&str]) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_fadewright"))
            .args(args)
            .env_clear()
            .env("PATH", std::env::var_os("PATH").unwrap_or_default())
            .env("HOME", home)
            .env("XDG_CONFIG_HOME", home.join("config"))
            .env("XDG_DATA_HOME", home.join("share"))
            .env("XDG_CACHE_HOME", concat!(env!("CARGO_TARGET_TMPDIR"), "/cache"))
            .env("FADEWRIGHT_DATA", home.join("data"))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("fadewright starts");
        let heard = Arc::new(Mutex::new(Vec::new()));
        let mut out = child.stdout.take().expect("its output");
        let into = Arc::clone(&heard);
        std::thread::spawn(move || {
            let mut chunk = [0; 4096];
            while let Ok(n @ 1..) = out.read(&mut chunk) {
                into.lock().unwrap_or_else(PoisonError::into_inner).extend_from_slice(&chunk[..n]);
            }
        });
        let input = child.stdin.take();
        Self { child, input, heard, from: 0 }
    }

    /// Every byte that it said.
    pub fn bytes(&self) -> Vec<u8> {
        self.heard.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// What it said since the last line was typed, with its lines joined.
    pub fn since(&self) -> String {
        String::from_utf8_lossy(&self.bytes()[self.from..]).replace('\n', " ")
    }

    /// Types a line.
    pub fn say(&mut self, line: &str) {
        self.from = self.bytes().len();
        let input = self.input.as_mut().expect("its input is open");
        input.write_all(format!("{line}\n").as_bytes()).and_then(|()| input.flush()).expect("it takes lines");
    }

    /// Waits until it has said this since the last line.
    pub fn hear(&self, words: &str) -> Done {
        for _ in 0..LOOKS {
            if self.since().contains(words) {
                return Ok(());
            }
            std::thread::sleep(LOOK_EVERY);
        }
        Err(format!("waited for {words:?}; it had said:\n{}", String::from_utf8_lossy(&self.bytes())))
    }

    /// Types a line and waits for what must be said then.
    pub fn tell(&mut self, line: &str, then: &str) -> Done {
        self.say(line);
        self.hear(then)
    }

    /// Answers something that must have been heard first.
    pub fn answer(&mut self, line: &str, then: &str) -> Done {
        std::thread::sleep(HEARING);
        self.tell(line, then)
    }

    /// Closes its input, waits for its end, and gives its exit code and its last words.
    pub fn end(&mut self) -> Result<(Option<i32>, String), String> {
        drop(self.input.take());
        for _ in 0..LOOKS {
            if let Some(status) = self.child.try_wait().map_err(|e| e.to_string())? {
                let mut words = String::new();
                if let Some(mut err) = self.child.stderr.take() {
                    err.read_to_string(&mut words).map_err(|e| e.to_string())?;
                }
                return Ok((status.code(), words));
            }
            std::thread::sleep(LOOK_EVERY);
        }
        Err("it did not end".to_owned())
    }

    /// From the first item of the plan with two zones to a running pass, without a counter reading.
    pub fn begin_a_pass(&mut self) -> Done {
        self.hear("Code of the operator")?;
        self.tell("value OP-7", "Item 2 of")?;
        for _ in 0..9 {
            self.tell("yes", "Item")?;
        }
        self.tell("not-applicable", "Wavelength, to be set to 1064 nm")?;
        self.read_back(["1064", "6 ns", "4", "3.0", "0.377", "5"])?;
        self.hear("Everyone, client included")?;
        self.tell("value 1", "Item 3 of")?;
        for _ in 0..6 {
            self.tell("y", "Item")?;
        }
        self.tell("y", "Type start-pass.")?;
        self.tell("start-pass", "skip, or back.")?;
        self.tell("skip", "Zone band-black, pass 1, 175 planned.")
    }

    /// Types what the device shows and compares.
    pub fn read_back(&mut self, shown: [&str; 6]) -> Done {
        for field in shown {
            self.tell(field, ".")?;
        }
        self.hear("Type confirm")?;
        self.tell("confirm", "Read back and confirmed.")
    }
}

impl Drop for Lines {
    fn drop(&mut self) {
        if matches!(self.child.try_wait(), Ok(None)) {
            let _ = self.child.kill();
            let _ = self.child.wait();
        }
    }
}
