//! Long computations: a bar on the terminal, a time limit, and Ctrl-C that ends with what is there.

use crate::clock::{Clock, SystemClock};
use crate::physics::transport::montecarlo::Watch;
use crate::units::WaitingTime;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::{self, IsTerminal};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError};

/// Work shorter than this shows no bar.
const QUIET_MS: u64 = 500;

/// Watches over one long computation.
pub(super) struct Progress {
    clock: SystemClock,
    limit_ms: u64,
    interrupted: Arc<AtomicBool>,
    timed_out: AtomicBool,
    bar: Mutex<Option<ProgressBar>>,
    shown: bool,
    unit: &'static str,
}

impl Progress {
    /// Starts watching: work on so many `unit` may take as long as `limit`.
    pub(super) fn start(limit: WaitingTime, unit: &'static str) -> Self {
        let interrupted = Arc::new(AtomicBool::new(false));
        // A second Ctrl-C ends the program at once, as it would have without this.
        // Where signals cannot be caught, Ctrl-C ends the program with nothing shown: nothing is lost but the wait.
        let code = 128 + signal_hook::consts::SIGINT;
        drop(signal_hook::flag::register_conditional_shutdown(
            signal_hook::consts::SIGINT,
            code,
            Arc::clone(&interrupted),
        ));
        drop(signal_hook::flag::register(signal_hook::consts::SIGINT, Arc::clone(&interrupted)));
        Self {
            clock: SystemClock::new(),
            limit_ms: (limit.seconds() * 1000.0) as u64,
            interrupted,
            timed_out: AtomicBool::new(false),
            bar: Mutex::new(None),
            shown: io::stderr().is_terminal(),
            unit,
        }
    }

    /// Seconds since the start.
    pub(super) fn seconds(&self) -> f64 {
        self.clock.elapsed().as_secs_f64()
    }

    /// Why the work was stopped before its end, if it was.
    pub(super) fn stopped_by(&self) -> Option<&'static str> {
        if self.interrupted.load(Ordering::Relaxed) {
            Some("interrupted")
        } else if self.timed_out.load(Ordering::Relaxed) {
            Some("time limit")
        } else {
            None
        }
    }

    fn draw(&self, done: u64, planned: u64) {
        let mut bar = self.bar.lock().unwrap_or_else(PoisonError::into_inner);
        let bar = bar.get_or_insert_with(|| {
            let bar = ProgressBar::with_draw_target(Some(planned), ProgressDrawTarget::stderr_with_hz(10));
            let template =
                format!("{{bar:30}} {{percent:>3}} %  {{human_pos}} of {{human_len}} {}, {{eta}} left", self.unit);
            // The template is fixed; should it ever be wrong, the plain bar does.
            if let Ok(style) = ProgressStyle::with_template(&template) {
                bar.set_style(style.progress_chars("#> "));
            }
            bar
        });
        bar.set_length(planned);
        bar.set_position(done);
    }
}

impl Watch for Progress {
    fn go_on(&self, done: u64, planned: u64) -> bool {
        let now_ms = self.clock.now().mono_ms;
        if self.shown && now_ms > QUIET_MS {
            self.draw(done, planned);
        }
        if now_ms >= self.limit_ms {
            self.timed_out.store(true, Ordering::Relaxed);
        }
        self.stopped_by().is_none()
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if let Some(bar) = self.bar.lock().unwrap_or_else(PoisonError::into_inner).take() {
            bar.finish_and_clear();
        }
    }
}
