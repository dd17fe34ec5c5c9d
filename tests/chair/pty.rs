//! Runs a program in a pseudo-terminal: types keys, reads its screen, changes its size, signals and ends it.
//!
//! A [`Chair`] keeps every byte that the program wrote and a parsed screen. Its program sees a clean environment: a
//! home of its own in a temporary directory, `TERM=xterm-256color`, no colour settings.

use portable_pty::{Child, CommandBuilder, MasterPty, PtySize, SlavePty, native_pty_system};
use std::fs::OpenOptions;
use std::io::{Read, Write};
use std::num::NonZeroU16;
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::Duration;
use tempfile::TempDir;

/// How often a waiting test looks again.
const LOOK_EVERY: Duration = Duration::from_millis(5);

/// How long a test waits for something that should take no time, on a machine that is busy.
pub const PATIENCE: Duration = Duration::from_secs(20);

/// A program in a pseudo-terminal.
pub struct Chair {
    child: Box<dyn Child + Send + Sync>,
    master: Box<dyn MasterPty + Send>,
    /// Kept open, so that the terminal's settings can be read after the program has ended.
    _slave: Box<dyn SlavePty + Send>,
    /// Kept alive: dropping it types a newline and Ctrl-D into the program.
    writer: Box<dyn Write + Send>,
    seen: Arc<Mutex<Seen>>,
    home: Home,
}

/// The program's own home and data directory.
pub enum Home {
    /// Made for one program and removed with it.
    Own(TempDir),
    /// Shared by several programs of one test, such as one that is killed and its successor.
    Shared(PathBuf),
}

impl Home {
    fn path(&self) -> &Path {
        match self {
            Self::Own(dir) => dir.path(),
            Self::Shared(path) => path,
        }
    }
}

struct Seen {
    parser: vt100::Parser,
    raw: Vec<u8>,
    ended: bool,
}

/// Keys that are not plain text, as an xterm sends them, and kitty's reports.
#[derive(Debug, Clone, Copy)]
pub enum Key {
    /// The return key.
    Enter,
    /// Escape.
    Esc,
    /// Tab.
    Tab,
    /// Shift and tab.
    BackTab,
    /// Backspace.
    Backspace,
    /// Forward delete.
    Delete,
    /// Cursor up.
    Up,
    /// Cursor down.
    Down,
    /// Cursor right.
    Right,
    /// Cursor left.
    Left,
    /// Home.
    Home,
    /// End.
    End,
    /// Page up.
    PageUp,
    /// Page down.
    PageDown,
    /// F1 to F4.
    F(u8),
    /// Control and a letter.
    Ctrl(char),
    /// A press of a character key as a terminal with key reports sends it.
    Pressed(char),
    /// A repeat of a held character key, as such a terminal sends it.
    Repeated(char),
    /// The release of a character key, as such a terminal sends it.
    Released(char),
}

impl Key {
    fn bytes(self) -> String {
        match self {
            Self::Enter => "\r".into(),
            Self::Esc => "\x1b".into(),
            Self::Tab => "\t".into(),
            Self::BackTab => "\x1b[Z".into(),
            Self::Backspace => "\x7f".into(),
            Self::Delete => "\x1b[3~".into(),
            Self::Up => "\x1b[A".into(),
            Self::Down => "\x1b[B".into(),
            Self::Right => "\x1b[C".into(),
            Self::Left => "\x1b[D".into(),
            Self::Home => "\x1b[H".into(),
            Self::End => "\x1b[F".into(),
            Self::PageUp => "\x1b[5~".into(),
            Self::PageDown => "\x1b[6~".into(),
            Self::F(n) => format!("\x1bO{}", char::from(b'P' + n.clamp(1, 4) - 1)),
            Self::Ctrl(c) => char::from((c as u8) & 0x1f).to_string(),
            Self::Pressed(c) => format!("\x1b[{}u", u32::from(c)),
            Self::Repeated(c) => format!("\x1b[{};1:2u", u32::from(c)),
            Self::Released(c) => format!("\x1b[{};1:3u", u32::from(c)),
        }
    }
}

/// How the program ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ended {
    /// With this exit code.
    Code(u32),
    /// By this signal, in the system's words.
    Signal(String),
}

impl Chair {
    /// Starts fadewright in a home that outlives it.
    pub fn start_in(home: &Path, args: &[&str], env: &[(&str, &str)], cols: u16, rows: u16) -> Self {
        let home = Home::Shared(home.to_owned());
        Self::start_program_in(home, env!("CARGO_BIN_EXE_fadewright"), args, env, cols, rows)
    }

    /// Starts any program.
    pub fn start_program(program: &str, args: &[&str], env: &[(&str, &str)], cols: u16, rows: u16) -> Self {
        let home = Home::Own(tempfile::tempdir().expect("a temporary home"));
        Self::start_program_in(home, program, args, env, cols, rows)
    }

    /// Starts any program in a given home.
    pub fn start_program_in(
        home: Home,
        program: &str,
        args: &[&str],
        env: &[(&str, &str)],
        cols: u16,
        rows: u16,
    ) -> Self {
        let pair = native_pty_system().openpty(pty_size(cols, rows)).expect("a pseudo-terminal");
        let mut command = CommandBuilder::new(program);
        command.args(args);
        command.env_clear();
        let at = |name: &str| home.path().join(name);
        command.env("PATH", std::env::var_os("PATH").unwrap_or_default());
        command.env("HOME", home.path());
        command.env("XDG_CONFIG_HOME", at("config"));
        command.env("XDG_DATA_HOME", at("share"));
        command.env("XDG_STATE_HOME", at("state"));
        // Light that one test has followed through the skin serves the others.
        command.env("XDG_CACHE_HOME", concat!(env!("CARGO_TARGET_TMPDIR"), "/cache"));
        command.env("XDG_RUNTIME_DIR", at("run"));
        command.env("FADEWRIGHT_DATA", at("data"));
        command.env("TERM", "xterm-256color");
        command.env("LANG", "C.UTF-8");
        for (name, value) in env {
            command.env(name, value);
        }
        command.cwd(home.path());
        let seen = Seen { parser: vt100::Parser::new(nonzero(rows), nonzero(cols), 0), raw: Vec::new(), ended: false };
        let seen = Arc::new(Mutex::new(seen));
        read_into(pair.master.try_clone_reader().expect("a reader"), Arc::clone(&seen));
        let writer = pair.master.take_writer().expect("a writer");
        let child = pair.slave.spawn_command(command).expect("the program starts");
        Self { child, master: pair.master, _slave: pair.slave, writer, seen, home }
    }

    /// Types text as it is.
    pub fn send(&mut self, text: &str) {
        self.send_bytes(text.as_bytes());
    }

    /// Types one key.
    pub fn send_key(&mut self, key: Key) {
        self.send(&key.bytes());
    }

    /// Pastes text, as a terminal with bracketed paste does.
    pub fn paste(&mut self, text: &str) {
        self.send(&format!("\x1b[200~{text}\x1b[201~"));
    }

    /// Sends any bytes.
    pub fn send_bytes(&mut self, bytes: &[u8]) {
        self.writer.write_all(bytes).expect("the terminal takes what is typed");
        self.writer.flush().expect("the terminal takes what is typed");
    }

    /// The screen as text, without blanks at the ends of lines.
    pub fn screen(&self) -> String {
        self.seen().parser.screen().contents()
    }

    /// The terminal's own state: alternate screen, cursor, colours of each cell.
    pub fn with_screen<T>(&self, look: impl FnOnce(&vt100::Screen) -> T) -> T {
        look(self.seen().parser.screen())
    }

    /// Every byte that the program has written.
    pub fn raw(&self) -> Vec<u8> {
        self.seen().raw.clone()
    }

    /// How often the program has written this sequence.
    pub fn count_raw(&self, sequence: &str) -> usize {
        self.seen().raw.windows(sequence.len()).filter(|window| *window == sequence.as_bytes()).count()
    }

    /// Waits until the screen holds this text.
    pub fn wait_for(&self, text: &str) -> Result<(), String> {
        self.wait_until(&format!("the text {text:?}"), |chair| chair.screen().contains(text))
    }

    /// Waits until `met` holds; the error shows what was waited for and the screen as it was.
    pub fn wait_until(&self, what: &str, met: impl Fn(&Self) -> bool) -> Result<(), String> {
        self.wait_at_most(PATIENCE, what, met)
    }

    /// [`Chair::wait_until`] with a patience of its own.
    pub fn wait_at_most(&self, patience: Duration, what: &str, met: impl Fn(&Self) -> bool) -> Result<(), String> {
        for _ in 0..looks(patience) {
            if met(self) {
                return Ok(());
            }
            thread::sleep(LOOK_EVERY);
        }
        if met(self) { Ok(()) } else { Err(format!("waited for {what}; the screen was:\n{}", self.framed())) }
    }

    /// Waits until nothing new has been written for this long.
    pub fn wait_quiet(&self, for_long: Duration) {
        let mut length = usize::MAX;
        loop {
            let now = self.seen().raw.len();
            if now == length {
                return;
            }
            length = now;
            thread::sleep(for_long);
        }
    }

    /// Changes the window's size.
    pub fn resize(&self, cols: u16, rows: u16) {
        self.seen().parser.set_size(nonzero(rows), nonzero(cols));
        self.master.resize(pty_size(cols, rows)).expect("the terminal changes its size");
    }

    /// The program's process id.
    pub fn pid(&self) -> i32 {
        self.child.process_id().and_then(|pid| i32::try_from(pid).ok()).expect("the program has an id")
    }

    /// The process group that the terminal's keys go to, when the system tells.
    pub fn foreground(&self) -> Option<i32> {
        self.master.process_group_leader()
    }

    /// Sends the program a signal by number.
    pub fn signal(&self, signal: rustix::process::Signal) {
        let pid = rustix::process::Pid::from_raw(self.pid()).expect("an id is not zero");
        rustix::process::kill_process(pid, signal).expect("the program can be signalled");
    }

    /// Ends the program as a pulled plug does.
    pub fn kill9(&self) {
        self.signal(rustix::process::Signal::KILL);
    }

    /// Waits until the program has ended and all that it wrote has been read.
    pub fn wait_exit(&mut self) -> Result<Ended, String> {
        for _ in 0..looks(PATIENCE) {
            if let Some(status) = self.child.try_wait().map_err(|error| error.to_string())? {
                self.drain();
                return Ok(match status.signal() {
                    Some(signal) => Ended::Signal(signal.to_owned()),
                    None => Ended::Code(status.exit_code()),
                });
            }
            thread::sleep(LOOK_EVERY);
        }
        Err(format!("waited for the program's end; the screen was:\n{}", self.framed()))
    }

    /// The terminal's settings now, in a form to compare.
    pub fn termios(&self) -> String {
        format!("{:?}", self.master.get_termios().expect("the terminal has settings"))
    }

    /// The program's home directory.
    pub fn home(&self) -> &Path {
        self.home.path()
    }

    /// The data directory that the program is told to use.
    pub fn data_dir(&self) -> PathBuf {
        self.home.path().join("data")
    }

    /// The screen in a frame, for messages.
    pub fn framed(&self) -> String {
        let bar = "-".repeat(usize::from(self.with_screen(|screen| screen.size().1.get())));
        format!("+{bar}\n{}\n+{bar}", self.screen())
    }

    fn seen(&self) -> MutexGuard<'_, Seen> {
        self.seen.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// What the program wrote last may still be on its way when it has ended. What we write behind it arrives after it.
    fn drain(&self) {
        const BEHIND: &[u8] = b"\x1b]777;nothing more\x1b\\";
        let name = self.master.tty_name().expect("the terminal has a name");
        let flags = i32::try_from(rustix::fs::OFlags::NOCTTY.bits()).expect("flags of a file");
        let terminal = OpenOptions::new().write(true).custom_flags(flags).open(name);
        terminal.and_then(|mut terminal| terminal.write_all(BEHIND)).expect("our end of the terminal is open");
        for _ in 0..looks(PATIENCE) {
            let mut seen = self.seen();
            if seen.raw.ends_with(BEHIND) {
                let end = seen.raw.len() - BEHIND.len();
                seen.raw.truncate(end);
                return;
            }
            drop(seen);
            thread::sleep(LOOK_EVERY);
        }
        panic!("what the program wrote last did not arrive; the screen was:\n{}", self.framed());
    }
}

impl Drop for Chair {
    fn drop(&mut self) {
        if matches!(self.child.try_wait(), Ok(None)) {
            let _ = self.child.kill();
            let _ = self.child.wait();
        }
    }
}

fn read_into(mut reader: Box<dyn Read + Send>, seen: Arc<Mutex<Seen>>) {
    thread::spawn(move || {
        let mut chunk = [0; 16 * 1024];
        loop {
            let read = reader.read(&mut chunk).unwrap_or(0);
            let mut seen = seen.lock().unwrap_or_else(PoisonError::into_inner);
            if read == 0 {
                seen.ended = true;
                return;
            }
            let bytes = &chunk[..read];
            seen.raw.extend_from_slice(bytes);
            seen.parser.process(bytes);
        }
    });
}

fn looks(patience: Duration) -> u128 {
    patience.as_millis() / LOOK_EVERY.as_millis()
}

fn pty_size(cols: u16, rows: u16) -> PtySize {
    PtySize { rows, cols, pixel_width: 0, pixel_height: 0 }
}

fn nonzero(n: u16) -> NonZeroU16 {
    NonZeroU16::new(n).expect("a terminal has at least one row and one column")
}
