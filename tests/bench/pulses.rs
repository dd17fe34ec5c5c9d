//! Pulse keys at the rate of a fast device, and when each was on screen and on disk.

use super::drive::Count;
use super::figures::Times;
use super::terminal::{Frame, Terminal};
use std::thread;
use std::time::{Duration, Instant};

/// Twenty keys a second: on average one in this time.
const PERIOD_US: u64 = 50_000;
/// Each gap is longer or shorter by up to this, so that keys meet the program's own clocks at every phase.
const JITTER_US: u64 = 5_000;
/// No gap is shorter than this, also when the machine wakes us late.
const LEAST_GAP: Duration = Duration::from_micros(PERIOD_US - JITTER_US);

/// A key is down for this long.
const DOWN: Duration = Duration::from_millis(20);
/// Space as a terminal with key reports sends it.
const PRESSED: &str = "\x1b[32u";
/// Its release.
const RELEASED: &str = "\x1b[32;1:3u";

/// What was seen of a run of keys.
pub struct Run {
    /// From key to the frame that shows its count.
    pub drawn: Times,
    /// From key to the frame that shows its count, and that it is on disk.
    pub saved: Times,
    /// Keys that stood as saved in the very frame that first showed their count.
    pub saved_when_drawn: usize,
    /// Bytes of each frame.
    pub frame_bytes: Vec<usize>,
    /// Bytes from one count to the next: all frames that one pulse costs.
    pub pulse_bytes: Vec<usize>,
    /// Pulses counted and keys typed.
    pub counted: (u64, u64),
}

/// Types so many pulse keys, in a terminal that reports presses and releases, and waits until all is saved.
pub fn run(terminal: &mut Terminal, keys: usize, patience: Duration) -> Result<Run, String> {
    let before = current(terminal)?;
    let mut typed: Vec<Instant> = Vec::with_capacity(keys);
    let mut gaps = Gaps::new();
    for _ in 0..keys {
        gaps.wait();
        typed.push(terminal.send(PRESSED)?);
        thread::sleep(DOWN);
        terminal.send(RELEASED)?;
    }
    let wanted = before + keys as u64;
    // Frames are looked at only now: while keys were typed, they were stamped and put aside.
    let mut watch = Watch::new(before, &typed);
    let deadline = Instant::now() + patience;
    loop {
        while let Some(frame) = terminal.next_frame() {
            watch.see(&frame);
        }
        if (watch.count == wanted && watch.all_saved) || Instant::now() > deadline {
            break;
        }
        thread::sleep(Duration::from_millis(2));
    }
    if watch.count != wanted || !watch.all_saved {
        return Err(format!(
            "{keys} keys were typed, {} counted, saved: {}; the screen was:\n{}",
            watch.count - before,
            watch.all_saved,
            terminal.screen()
        ));
    }
    Ok(Run {
        drawn: Times::new(watch.drawn),
        saved: Times::new(watch.saved),
        saved_when_drawn: watch.saved_when_drawn,
        frame_bytes: watch.frame_bytes,
        pulse_bytes: watch.pulse_bytes,
        counted: (watch.count - before, keys as u64),
    })
}

/// Types so many pulse keys in a terminal that reports no releases, where only time tells a tap from a held key; answers
/// with how many of them counted.
pub fn run_without_reports(terminal: &mut Terminal, keys: usize) -> Result<u64, String> {
    let before = current(terminal)?;
    let mut gaps = Gaps::new();
    for _ in 0..keys {
        gaps.wait();
        terminal.send(" ")?;
    }
    thread::sleep(Duration::from_secs(1));
    Ok(current(terminal)? - before)
}

fn current(terminal: &mut Terminal) -> Result<u64, String> {
    while terminal.next_frame().is_some() {}
    let screen = terminal.screen();
    Count::read(&screen).map(|c| c.counted).ok_or_else(|| format!("no count on the screen:\n{screen}"))
}

struct Watch<'a> {
    typed: &'a [Instant],
    before: u64,
    count: u64,
    all_saved: bool,
    drawn: Vec<Duration>,
    saved: Vec<Duration>,
    saved_when_drawn: usize,
    frame_bytes: Vec<usize>,
    pulse_bytes: Vec<usize>,
    since_count: usize,
}

impl<'a> Watch<'a> {
    fn new(before: u64, typed: &'a [Instant]) -> Self {
        Self {
            typed,
            before,
            count: before,
            all_saved: true,
            drawn: Vec::new(),
            saved: Vec::new(),
            saved_when_drawn: 0,
            frame_bytes: Vec::new(),
            pulse_bytes: Vec::new(),
            since_count: 0,
        }
    }

    fn see(&mut self, frame: &Frame) {
        let Some(now) = Count::read(&frame.text) else { return };
        self.frame_bytes.push(frame.bytes);
        if now.counted > self.count {
            if self.count > self.before {
                self.pulse_bytes.push(self.since_count);
            }
            self.since_count = 0;
        }
        self.since_count += frame.bytes;
        self.count = now.counted;
        self.all_saved = now.is_saved();
        let keys = |upto: u64| {
            let n = usize::try_from(upto.saturating_sub(self.before)).unwrap_or(usize::MAX);
            self.typed.get(..n).unwrap_or(self.typed)
        };
        let since = |at: &Instant| frame.at.saturating_duration_since(*at);
        // Every key is one event, so what is not on disk are the last keys.
        let saved = keys(now.counted.saturating_sub(now.unsaved));
        let new: Vec<Duration> = keys(now.counted).iter().skip(self.drawn.len()).map(since).collect();
        let new_saved: Vec<Duration> = saved.iter().skip(self.saved.len()).map(since).collect();
        self.saved_when_drawn += saved.len().saturating_sub(self.drawn.len());
        self.saved.extend(new_saved);
        self.drawn.extend(new);
    }
}

/// Waits from key to key.
struct Gaps {
    due: Instant,
    last: Option<Instant>,
    /// State of a small generator of even numbers (xorshift64), the same on every run.
    random: u64,
}

impl Gaps {
    fn new() -> Self {
        Self { due: Instant::now(), last: None, random: 0x9e37_79b9_7f4a_7c15 }
    }

    fn wait(&mut self) {
        self.random ^= self.random << 13;
        self.random ^= self.random >> 7;
        self.random ^= self.random << 17;
        let jitter_us = self.random % (2 * JITTER_US + 1);
        self.due += Duration::from_micros(PERIOD_US - JITTER_US + jitter_us);
        let earliest = self.last.map_or(self.due, |last| last + LEAST_GAP);
        thread::sleep(self.due.max(earliest).saturating_duration_since(Instant::now()));
        self.last = Some(Instant::now());
    }
}
