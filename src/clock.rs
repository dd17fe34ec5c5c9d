//! The only caller of the clock.
//!
//! Everything below the shell takes a [`Now`] as an argument, so that rules, timers and replay can be tested with any
//! time. Order in a journal is by sequence number, durations come from the monotonic reading, wall time is for people.

use chrono::{DateTime, FixedOffset, NaiveDateTime, TimeZone};
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// The moment of a local time in the machine's zone, the earlier where the clocks are put back; none where they skip it.
#[must_use]
pub fn moment_of_local(at: NaiveDateTime) -> Option<DateTime<FixedOffset>> {
    chrono::Local.from_local_datetime(&at).earliest().map(|at| at.fixed_offset())
}

/// One reading of both clocks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Now {
    /// Wall time with its offset, to the millisecond.
    pub wall: DateTime<FixedOffset>,
    /// Milliseconds since this process started; never goes back.
    pub mono_ms: u64,
}

/// A source of time.
pub trait Clock: Send + Sync {
    /// Reads both clocks.
    fn now(&self) -> Now;

    /// How long this clock's milliseconds take on the machine: for waiting.
    fn machine_time(&self, ms: u64) -> Duration {
        Duration::from_millis(ms)
    }

    /// Milliseconds of the machine's own time, for what hands do: keys keep their pace however fast a clock runs.
    fn machine_ms(&self) -> u64 {
        self.now().mono_ms
    }

    /// Lets time pass at once; false where time cannot be hurried, as in every treatment.
    fn let_pass(&self, _ms: u64) -> bool {
        false
    }
}

/// The machine's clocks.
#[derive(Debug, Clone, Copy)]
pub struct SystemClock {
    start: Instant,
}

impl SystemClock {
    /// A clock whose monotonic reading starts at zero now.
    #[must_use]
    #[allow(clippy::disallowed_methods, reason = "this is the one place that reads the machine's clocks")]
    pub fn new() -> Self {
        Self { start: Instant::now() }
    }

    /// The monotonic instant `mono_ms` milliseconds after this clock's start, for waiting on channels.
    #[must_use]
    pub fn elapsed(&self) -> Duration {
        self.start.elapsed()
    }
}

impl Default for SystemClock {
    fn default() -> Self {
        Self::new()
    }
}

impl Clock for SystemClock {
    #[allow(clippy::disallowed_methods, reason = "this is the one place that reads the machine's clocks")]
    fn now(&self) -> Now {
        use chrono::SubsecRound;
        let wall = chrono::Local::now().fixed_offset().trunc_subsecs(3);
        Now { wall, mono_ms: u64::try_from(self.start.elapsed().as_millis()).unwrap_or(u64::MAX) }
    }
}

/// A clock of practice: it starts at a given time, may run faster, and may be moved on.
#[derive(Debug)]
pub struct PracticeClock {
    from: DateTime<FixedOffset>,
    machine: SystemClock,
    /// The machine's time when this clock began, ms.
    began_ms: u64,
    /// How many times faster than the machine's, in thousandths.
    thousandths: u64,
    skipped_ms: AtomicU64,
}

impl PracticeClock {
    /// A clock that reads `from` now and runs `speed` times as fast as the machine's, from 1 to 600; outside that range
    /// the nearer end.
    #[must_use]
    pub fn new(machine: SystemClock, from: DateTime<FixedOffset>, speed: f64) -> Self {
        let thousandths = (speed.clamp(1.0, 600.0) * 1000.0).round() as u64;
        Self { from, machine, began_ms: machine.now().mono_ms, thousandths, skipped_ms: AtomicU64::new(0) }
    }
}

impl Clock for PracticeClock {
    fn now(&self) -> Now {
        let real = self.machine.now().mono_ms.saturating_sub(self.began_ms);
        let mono_ms = real.saturating_mul(self.thousandths) / 1000 + self.skipped_ms.load(Ordering::SeqCst);
        let passed = chrono::Duration::milliseconds(i64::try_from(mono_ms).unwrap_or(i64::MAX / 4));
        Now { wall: self.from + passed, mono_ms }
    }

    fn machine_ms(&self) -> u64 {
        self.machine.now().mono_ms
    }

    fn machine_time(&self, ms: u64) -> Duration {
        Duration::from_millis(ms.saturating_mul(1000) / self.thousandths.max(1))
    }

    fn let_pass(&self, ms: u64) -> bool {
        self.skipped_ms.fetch_add(ms, Ordering::SeqCst);
        true
    }
}

/// A clock for tests: it stands still until it is moved.
#[derive(Debug, Clone)]
pub struct FakeClock {
    origin: DateTime<FixedOffset>,
    mono_ms: Arc<AtomicU64>,
    wall_step_ms: Arc<AtomicI64>,
}

impl FakeClock {
    /// A clock that stands at `origin` with its monotonic reading at zero.
    #[must_use]
    pub fn at(origin: DateTime<FixedOffset>) -> Self {
        Self { origin, mono_ms: Arc::default(), wall_step_ms: Arc::default() }
    }

    /// Lets time pass on both clocks.
    pub fn advance(&self, by: Duration) {
        self.mono_ms.fetch_add(u64::try_from(by.as_millis()).unwrap_or(u64::MAX), Ordering::SeqCst);
    }

    /// Moves the wall clock alone, as a correction or a zone change does.
    pub fn step_wall(&self, ms: i64) {
        self.wall_step_ms.fetch_add(ms, Ordering::SeqCst);
    }
}

impl Clock for FakeClock {
    fn now(&self) -> Now {
        let mono_ms = self.mono_ms.load(Ordering::SeqCst);
        let passed =
            i64::try_from(mono_ms).unwrap_or(i64::MAX).saturating_add(self.wall_step_ms.load(Ordering::SeqCst));
        Now { wall: self.origin + chrono::Duration::milliseconds(passed), mono_ms }
    }
}
