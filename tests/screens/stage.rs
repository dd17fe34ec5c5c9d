//! A chair without a terminal: keys in, a drawn screen out, over a clock that stands still and a disk that can fail.

use crate::fixture::{date, origin};
use chrono::{DateTime, FixedOffset};
use fadewright::clock::{Clock, FakeClock};
use fadewright::device::DeviceProfile;
use fadewright::plan;
use fadewright::protocol::Protocol;
use fadewright::recorder::{MemorySink, Recorder, Sink, Store};
use fadewright::session::{Event, Opened};
use fadewright::source::{self, SourceText};
use fadewright::tui::chair::Chair;
use fadewright::tui::events::Stamped;
use fadewright::tui::key_file;
use fadewright::tui::theme::{Depth, Glyphs, Theme};
use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{Event as TermEvent, KeyCode, KeyEvent, KeyModifiers};
use ratatui::layout::Rect;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

/// Events in memory, of which only those up to a number are on disk.
#[derive(Debug)]
pub struct Disk {
    memory: MemorySink,
    room: Arc<AtomicU64>,
}

impl Disk {
    fn room(&self) -> u64 {
        self.room.load(Ordering::SeqCst)
    }
}

impl Sink for Disk {
    fn append(&mut self, at: DateTime<FixedOffset>, mono_ms: u64, event: &Event) -> Result<u64, String> {
        self.memory.append(at, mono_ms, event)
    }
}

impl Store for Disk {
    fn saved_upto(&self) -> u64 {
        self.memory.saved_upto().min(self.room())
    }
    fn failure(&self) -> Option<(u64, String)> {
        let full = self.memory.saved_upto() > self.room();
        full.then(|| (self.room() + 1, "No space left on device (os error 28)".to_owned()))
    }
    fn continue_in(&mut self, dir: &Path) -> Result<(PathBuf, Option<String>), String> {
        self.room.store(u64::MAX, Ordering::SeqCst);
        Ok((dir.join("session.jsonl"), None))
    }
    fn path(&self) -> PathBuf {
        PathBuf::from("session.jsonl")
    }
}

/// The chair, the clock and the disk of one test.
pub struct Stage {
    pub chair: Chair<Disk>,
    clock: FakeClock,
    room: Arc<AtomicU64>,
}

impl Stage {
    /// A session by a sample plan, with the embedded device and protocol.
    pub fn by(sample: &str) -> Self {
        Self::drawn_with(sample, Glyphs::Unicode, Depth::Sixteen)
    }

    pub fn drawn_with(sample: &str, glyphs: Glyphs, depth: Depth) -> Self {
        Self::themed(sample, glyphs, Theme::standard(depth))
    }

    pub fn themed(sample: &str, glyphs: Glyphs, theme: Theme) -> Self {
        let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("sample-plans").join(format!("{sample}.toml"));
        let opened = Opened {
            session: "20261124-100000-TTTTTT".to_owned(),
            program: "fadewright test".to_owned(),
            date: date("2026-11-24"),
            plan: plan::load(&source::read_file(&path).unwrap()).unwrap().value,
            device: DeviceProfile::embedded().unwrap(),
            protocol: Protocol::embedded().unwrap(),
            practice: None,
        };
        let clock = FakeClock::at(origin());
        let room = Arc::new(AtomicU64::new(u64::MAX));
        let disk = Disk { memory: MemorySink::default(), room: Arc::clone(&room) };
        let recorder = Recorder::open(opened, disk, Arc::new(clock.clone())).unwrap();
        let mut stage = Self { chair: Chair::new(recorder, theme, glyphs), clock, room };
        stage.look();
        stage
    }

    /// With keys of a file.
    pub fn with_keys(self, file: &str) -> Self {
        let keys = key_file::load(&SourceText::new("keys.toml", file)).unwrap().value;
        let mut stage = Self { chair: self.chair.with_keys(keys), ..self };
        stage.look();
        stage
    }

    /// From now on nothing reaches the disk.
    pub fn break_disk(&self) {
        let saved = self.chair.store().saved_upto();
        self.room.store(saved, Ordering::SeqCst);
    }

    /// Lets time pass, second by second, as the program's loop does.
    pub fn wait(&mut self, seconds: u64) {
        for _ in 0..seconds {
            self.clock.advance(Duration::from_secs(1));
            self.chair.tick();
        }
        self.look();
    }

    fn look(&mut self) {
        self.draw(80, 24);
        self.chair.drawn(self.clock.now().mono_ms);
    }

    fn code(&mut self, code: KeyCode, modifiers: KeyModifiers) {
        // Slower than any key that is held, and after the screen could be read.
        self.clock.advance(Duration::from_millis(500));
        let at_ms = self.clock.now().mono_ms;
        self.chair.update(&Stamped { at_ms, what: TermEvent::Key(KeyEvent::new(code, modifiers)) });
        self.look();
    }

    pub fn press(&mut self, code: KeyCode) {
        self.code(code, KeyModifiers::NONE);
    }

    pub fn keys(&mut self, text: &str) {
        for c in text.chars() {
            self.press(KeyCode::Char(c));
        }
    }

    /// Types a line and sends it.
    pub fn fill(&mut self, text: &str) {
        self.keys(text);
        self.press(KeyCode::Enter);
    }

    /// All sign-in items that a person answers.
    pub fn sign_in(&mut self) {
        self.keys("v");
        self.fill("OP-7");
        self.keys("yyyyyyayya");
    }

    pub fn read_back(&mut self, shown: [&str; 6]) {
        for field in shown {
            self.code(KeyCode::Char('u'), KeyModifiers::CONTROL);
            self.fill(field);
        }
        self.keys("c");
    }

    pub fn time_out(&mut self) {
        self.keys("v");
        self.fill("1");
        self.keys("yyyyyyy");
    }

    /// A running pass of the plan with two zones, the counter read before the first pulse.
    pub fn in_a_pass(mut self) -> Self {
        self.sign_in();
        self.read_back(BLACK);
        self.time_out();
        self.keys("n");
        self.fill("120000");
        self
    }

    pub fn pulses(&mut self, n: usize) {
        self.keys(&" ".repeat(n));
    }

    /// A typed number of pulses.
    pub fn count(&mut self, n: u64) {
        self.fill(&n.to_string());
    }

    pub fn buffer(&self, columns: u16, rows: u16) -> Buffer {
        let area = Rect::new(0, 0, columns, rows);
        let mut buffer = Buffer::empty(area);
        self.chair.view(area, &mut buffer);
        buffer
    }

    /// The screen as text.
    pub fn draw(&self, columns: u16, rows: u16) -> String {
        text(&self.buffer(columns, rows))
    }
}

pub const BLACK: [&str; 6] = ["1064", "6 ns", "4", "3.0", "0.377", "5"];

/// A buffer's lines, without blanks at their ends.
pub fn text(buffer: &Buffer) -> String {
    let row = |y| {
        let cells = (0..buffer.area.width).filter_map(|x| buffer.cell((x, y)));
        cells.map(|cell| cell.symbol()).collect::<String>().trim_end().to_owned()
    };
    (0..buffer.area.height).map(row).collect::<Vec<_>>().join("\n")
}
