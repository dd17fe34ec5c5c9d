//! The program in a pseudo-terminal, with the time at which each of its frames arrived.
//!
//! A thread of its own reads and stamps the bytes and does nothing else; they are parsed later, so that parsing takes no
//! time from what is measured.

use portable_pty::{Child, CommandBuilder, MasterPty, PtySize, native_pty_system};
use std::ffi::OsStr;
use std::io::{Read, Write};
use std::num::NonZeroU16;
use std::path::Path;
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

/// The window, in cells.
pub const COLUMNS: u16 = 100;
/// The window, in cells.
pub const ROWS: u16 = 30;

/// Ends every frame: the program draws each as one synchronised update.
const FRAME_END: &[u8] = b"\x1b[?2026l";

/// The longest wait for anything.
pub const PATIENCE: Duration = Duration::from_secs(30);

/// One whole frame, as it stood on screen.
#[derive(Debug, Clone)]
pub struct Frame {
    /// When its last byte was read.
    pub at: Instant,
    /// The bytes since the frame before.
    pub bytes: usize,
    /// The screen as text.
    pub text: String,
}

#[derive(Default)]
struct Seen {
    chunks: Vec<(Instant, Vec<u8>)>,
    ended: bool,
}

#[derive(Default)]
struct Log {
    seen: Mutex<Seen>,
    changed: Condvar,
}

impl Log {
    fn lock(&self) -> MutexGuard<'_, Seen> {
        self.seen.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A program in a pseudo-terminal.
pub struct Terminal {
    child: Box<dyn Child + Send + Sync>,
    /// Closing it hangs the program up.
    _master: Box<dyn MasterPty + Send>,
    writer: Box<dyn Write + Send>,
    log: Arc<Log>,
    started: Instant,
    parser: vt100::Parser,
    chunks_parsed: usize,
    pending: Vec<u8>,
    pending_at: Instant,
}

impl Terminal {
    /// Starts a program with this data directory, in a home of its own and a clean environment.
    pub fn start(command: &[&OsStr], home: &Path, data: &Path) -> Result<Self, String> {
        let (program, args) = command.split_first().ok_or("no program")?;
        let size = PtySize { rows: ROWS, cols: COLUMNS, pixel_width: 0, pixel_height: 0 };
        let pair = native_pty_system().openpty(size).map_err(|e| e.to_string())?;
        let mut builder = CommandBuilder::new(program);
        builder.args(args);
        builder.env_clear();
        for (name, value) in [
            ("PATH", std::env::var_os("PATH").unwrap_or_default()),
            ("HOME", home.into()),
            ("XDG_CONFIG_HOME", home.join("config").into()),
            ("FADEWRIGHT_DATA", data.into()),
            ("TERM", "xterm-256color".into()),
            ("LANG", "C.UTF-8".into()),
        ] {
            builder.env(name, value);
        }
        builder.cwd(home);
        let log = Arc::new(Log::default());
        read_into(pair.master.try_clone_reader().map_err(|e| e.to_string())?, Arc::clone(&log));
        let writer = pair.master.take_writer().map_err(|e| e.to_string())?;
        let cells = |n| NonZeroU16::new(n).ok_or("a window has cells");
        let parser = vt100::Parser::new(cells(ROWS)?, cells(COLUMNS)?, 0);
        let started = Instant::now();
        let child = pair.slave.spawn_command(builder).map_err(|e| e.to_string())?;
        drop(pair.slave);
        Ok(Self {
            child,
            _master: pair.master,
            writer,
            log,
            started,
            parser,
            chunks_parsed: 0,
            pending: Vec::new(),
            pending_at: started,
        })
    }

    /// Just before the program was started.
    pub const fn started(&self) -> Instant {
        self.started
    }

    /// The program's process.
    pub fn pid(&self) -> Result<u32, String> {
        self.child.process_id().ok_or_else(|| "the program has no process".to_owned())
    }

    /// Types; answers with the time just before.
    pub fn send(&mut self, keys: &str) -> Result<Instant, String> {
        let at = Instant::now();
        self.writer.write_all(keys.as_bytes()).and_then(|()| self.writer.flush()).map_err(|e| e.to_string())?;
        Ok(at)
    }

    /// The next frame that has not been looked at, if it has arrived.
    pub fn next_frame(&mut self) -> Option<Frame> {
        loop {
            if let Some(end) = self.pending.windows(FRAME_END.len()).position(|w| w == FRAME_END) {
                let bytes: Vec<u8> = self.pending.drain(..end + FRAME_END.len()).collect();
                self.parser.process(&bytes);
                let text = self.parser.screen().contents();
                return Some(Frame { at: self.pending_at, bytes: bytes.len(), text });
            }
            let seen = self.log.lock();
            let (at, bytes) = seen.chunks.get(self.chunks_parsed)?;
            self.pending.extend_from_slice(bytes);
            self.pending_at = *at;
            self.chunks_parsed += 1;
        }
    }

    /// The first frame from now on that meets `met`; frames before it are passed over.
    pub fn until(&mut self, what: &str, met: impl Fn(&Frame) -> bool) -> Result<Frame, String> {
        self.until_within(PATIENCE, what, met)
    }

    /// [`Terminal::until`] with a patience of its own.
    pub fn until_within(
        &mut self,
        patience: Duration,
        what: &str,
        met: impl Fn(&Frame) -> bool,
    ) -> Result<Frame, String> {
        let deadline = Instant::now() + patience;
        loop {
            while let Some(frame) = self.next_frame() {
                if met(&frame) {
                    return Ok(frame);
                }
            }
            let left = deadline.saturating_duration_since(Instant::now());
            let seen = self.log.lock();
            let known = self.chunks_parsed;
            let waiting = |seen: &mut Seen| seen.chunks.len() <= known && !seen.ended;
            let (seen, timed) =
                self.log.changed.wait_timeout_while(seen, left, waiting).unwrap_or_else(PoisonError::into_inner);
            if timed.timed_out() || (seen.ended && seen.chunks.len() <= known) {
                let how = if seen.ended { "the program ended" } else { "it did not come" };
                drop(seen);
                let rest = String::from_utf8_lossy(&self.pending).into_owned();
                return Err(format!("waited for {what}: {how}; the screen was:\n{}\n{rest}", self.screen()));
            }
        }
    }

    /// The screen after the last frame that was looked at.
    pub fn screen(&self) -> String {
        self.parser.screen().contents()
    }

    /// Waits until the program has ended by itself.
    pub fn wait_end(&mut self) -> Result<(), String> {
        let deadline = Instant::now() + PATIENCE;
        while Instant::now() < deadline {
            if self.child.try_wait().map_err(|e| e.to_string())?.is_some() {
                return Ok(());
            }
            thread::sleep(Duration::from_millis(5));
        }
        Err("the program did not end".to_owned())
    }
}

impl Drop for Terminal {
    /// Ends the program at once if it still runs: it must not go on writing into a directory that is measured next.
    fn drop(&mut self) {
        if matches!(self.child.try_wait(), Ok(None)) {
            let _ = self.child.kill();
            let _ = self.child.wait();
        }
    }
}

fn read_into(mut reader: Box<dyn Read + Send>, log: Arc<Log>) {
    thread::spawn(move || {
        let mut buffer = [0; 16 * 1024];
        loop {
            let n = reader.read(&mut buffer).unwrap_or(0);
            let at = Instant::now();
            let mut seen = log.lock();
            match buffer.get(..n) {
                Some(bytes) if n > 0 => seen.chunks.push((at, bytes.to_vec())),
                _ => seen.ended = true,
            }
            let ended = seen.ended;
            drop(seen);
            log.changed.notify_all();
            if ended {
                return;
            }
        }
    });
}
