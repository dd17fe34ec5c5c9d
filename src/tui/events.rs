//! One stream of what the terminal and the system tell us: keys, pastes, new sizes, signals, a closed window.
//!
//! Three small threads feed it. One reads keys; one waits for signals; one waits for the terminal to hang up, which
//! needs a thread of its own because a read from a terminal that is gone may never return, and costs nothing because
//! it sleeps in the kernel until that happens.

use crate::clock::Clock;
use crossterm::event::Event;
use rustix::event::{PollFd, PollFlags, poll};
use rustix::process::kill_current_process_group;
use signal_hook::consts::{SIGCONT, SIGHUP, SIGINT, SIGQUIT, SIGSTOP, SIGTERM, SIGTSTP, SIGWINCH};
use signal_hook::iterator::Signals;
use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::thread;
use std::time::Duration;

/// Something with the monotonic time at which it arrived.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stamped<T> {
    /// Milliseconds on the clock's monotonic reading.
    pub at_ms: u64,
    /// What arrived.
    pub what: T,
}

/// What the terminal and the system tell us.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum TermEvent {
    /// A key, a paste, a new size or a change of focus.
    Input(Stamped<Event>),
    /// A signal other than those that only concern the size.
    Signal(Stamped<Signal>),
    /// The terminal is gone, or its keys can no longer be read. It may be told more than once.
    HangUp(Stamped<()>),
}

/// The signals that we answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Signal {
    /// SIGTERM: the system asks us to end.
    Terminate,
    /// SIGHUP: the terminal's window was closed or its line was cut.
    HangUp,
    /// SIGINT, sent from outside; in raw mode Ctrl-C is a key.
    Interrupt,
    /// SIGQUIT, sent from outside.
    Quit,
    /// SIGTSTP: someone asks us to stop until further notice.
    Stop,
    /// SIGCONT: we go on after a stop.
    Continue,
}

impl Signal {
    const ALL: [Self; 6] = [Self::Terminate, Self::HangUp, Self::Interrupt, Self::Quit, Self::Stop, Self::Continue];

    /// The signal's number on this system.
    #[must_use]
    pub const fn number(self) -> i32 {
        match self {
            Self::Terminate => SIGTERM,
            Self::HangUp => SIGHUP,
            Self::Interrupt => SIGINT,
            Self::Quit => SIGQUIT,
            Self::Stop => SIGTSTP,
            Self::Continue => SIGCONT,
        }
    }

    /// The signal's usual name, for the journal.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Terminate => "SIGTERM",
            Self::HangUp => "SIGHUP",
            Self::Interrupt => "SIGINT",
            Self::Quit => "SIGQUIT",
            Self::Stop => "SIGTSTP",
            Self::Continue => "SIGCONT",
        }
    }

    /// The exit code of a program that this signal ended, 128 + number; `None` for those that do not end it.
    #[must_use]
    pub const fn exit_code(self) -> Option<u8> {
        match self {
            Self::Terminate | Self::HangUp | Self::Interrupt | Self::Quit => {
                // Signal numbers end well below 127.
                let number = self.number() as u8;
                Some(128 + number)
            }
            Self::Stop | Self::Continue => None,
        }
    }

    fn from_number(number: i32) -> Option<Self> {
        Self::ALL.into_iter().find(|signal| signal.number() == number)
    }
}

/// Starts all three threads; `send` maps each event into the caller's own message and may block.
///
/// Events of one kind keep their order. Start it after the terminal is taken, once for the process.
///
/// # Errors
/// When a thread or the signal handlers cannot be set up.
pub fn spawn(clock: Arc<dyn Clock>, send: impl Fn(TermEvent) + Send + Sync + 'static) -> io::Result<()> {
    let send: Sink = Arc::new(send);
    watch_signals(Arc::clone(&clock), Arc::clone(&send))?;
    watch_hang_up(Arc::clone(&clock), Arc::clone(&send))?;
    read_input(clock, send)
}

/// Where events go.
pub(super) type Sink = Arc<dyn Fn(TermEvent) + Send + Sync>;

/// True once the signal thread runs, which then counts the continues.
static WATCHED: AtomicBool = AtomicBool::new(false);

/// How often we have been continued after a stop.
static CONTINUES: AtomicU64 = AtomicU64::new(0);

/// How often, a millisecond apart, we look for the continue that must follow our own stop. None of it passes while we
/// are stopped.
const CONTINUE_LOOKS: u32 = 500;

/// Stops this process until it is continued, and the rest of its job with it, as the terminal's own stop key does.
///
/// A shell waits until all of a job has stopped, so a script or a build tool around us must stop too.
pub(super) fn stop_job() -> io::Result<()> {
    if !WATCHED.load(Ordering::SeqCst) {
        return signal_hook::low_level::raise(SIGSTOP);
    }
    let before = CONTINUES.load(Ordering::SeqCst);
    kill_current_process_group(rustix::process::Signal::STOP)?;
    // The stop may reach another thread first and this one a moment later: who goes on at once takes the terminal back
    // just before the shell does.
    for _ in 0..CONTINUE_LOOKS {
        if CONTINUES.load(Ordering::SeqCst) != before {
            break;
        }
        thread::sleep(Duration::from_millis(1));
    }
    Ok(())
}

fn stamped<T>(clock: &dyn Clock, what: T) -> Stamped<T> {
    Stamped { at_ms: clock.now().mono_ms, what }
}

/// Sends the signals that we answer, and each new size of the terminal.
pub(super) fn watch_signals(clock: Arc<dyn Clock>, send: Sink) -> io::Result<()> {
    let numbers = Signal::ALL.map(Signal::number);
    let mut signals = Signals::new(numbers.into_iter().chain([SIGWINCH]))?;
    WATCHED.store(true, Ordering::SeqCst);
    thread::Builder::new().name("signals".into()).spawn(move || {
        for number in &mut signals {
            if number == SIGWINCH {
                // Told here and not by the key reader, which may be asleep in a poll of its own.
                if let Ok((columns, rows)) = crossterm::terminal::size() {
                    send(TermEvent::Input(stamped(&*clock, Event::Resize(columns, rows))));
                }
            } else if let Some(signal) = Signal::from_number(number) {
                if signal == Signal::Continue {
                    CONTINUES.fetch_add(1, Ordering::SeqCst);
                }
                send(TermEvent::Signal(stamped(&*clock, signal)));
            }
        }
    })?;
    Ok(())
}

/// Waits on standard input; with `PollFlags::empty()` only for its end.
fn wait_for_input(flags: PollFlags) -> PollFlags {
    let input = io::stdin();
    loop {
        let mut fds = [PollFd::new(&input, flags)];
        match poll(&mut fds, None) {
            Ok(_) => return fds.first().map_or(PollFlags::HUP, PollFd::revents),
            Err(rustix::io::Errno::INTR | rustix::io::Errno::AGAIN) => {}
            Err(_) => return PollFlags::ERR,
        }
    }
}

fn is_end(flags: PollFlags) -> bool {
    flags.intersects(PollFlags::HUP | PollFlags::ERR | PollFlags::NVAL)
}

fn watch_hang_up(clock: Arc<dyn Clock>, send: Sink) -> io::Result<()> {
    thread::Builder::new().name("hang-up".into()).spawn(move || {
        // Hang-ups and errors are reported whether asked for or not.
        while !is_end(wait_for_input(PollFlags::empty())) {}
        send(TermEvent::HangUp(stamped(&*clock, ())));
    })?;
    Ok(())
}

/// How long the reader waits for more before it looks for the terminal's end again. crossterm looks at what it holds
/// already only if none of this has passed by then, so that a short time could leave a key lying on a busy machine, and
/// it spins through the last millisecond of it; a terminal that is gone makes it spin through the rest of it.
const AGAIN: Duration = Duration::from_secs(1);

fn read_input(clock: Arc<dyn Clock>, send: Sink) -> io::Result<()> {
    thread::Builder::new().name("keys".into()).spawn(move || {
        // The end is looked for before each read, because a read from a terminal that is gone spins for ever. Whoever
        // sees it first tells it once: that is the other thread's work.
        while !is_end(wait_for_input(PollFlags::IN)) {
            if let Err(_lost) = read_burst(&*clock, &send) {
                // A program that runs on without its keys would look alive.
                return send(TermEvent::HangUp(stamped(&*clock, ())));
            }
        }
    })?;
    Ok(())
}

fn read_burst(clock: &dyn Clock, send: &Sink) -> io::Result<()> {
    while crossterm::event::poll(AGAIN)? {
        match crossterm::event::read()? {
            // Sizes come from the signal thread.
            Event::Resize(..) => {}
            event => send(TermEvent::Input(stamped(clock, event))),
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signals_that_end_us_have_the_shell_s_exit_codes() {
        assert_eq!(Signal::Terminate.exit_code(), Some(143));
        assert_eq!(Signal::HangUp.exit_code(), Some(129));
        assert_eq!(Signal::Interrupt.exit_code(), Some(130));
        assert_eq!(Signal::Quit.exit_code(), Some(131));
        assert_eq!(Signal::Stop.exit_code(), None);
        for signal in Signal::ALL {
            assert_eq!(Signal::from_number(signal.number()), Some(signal));
            assert!(signal.name().starts_with("SIG"));
        }
        assert_eq!(Signal::from_number(SIGWINCH), None);
    }
}
