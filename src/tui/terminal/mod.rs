//! Takes the terminal and gives it back, whatever happens in between.
//!
//! The state of the terminal is the state of the whole process, so it is kept in one atomic number: zero while the
//! terminal is as we found it, otherwise how many keyboard modes we have pushed. Whoever swaps it to zero restores the
//! terminal; everyone after that finds nothing to do. That makes [`restore`] safe to call from a drop, a panic in any
//! thread and a signal, in any order.

mod faults;
mod screen;

pub use faults::install_panic_hook;
pub use screen::Screen;

use crossterm::Command;
use crossterm::cursor::{Hide, Show};
use crossterm::event::{
    DisableBracketedPaste, EnableBracketedPaste, KeyboardEnhancementFlags, PopKeyboardEnhancementFlags,
    PushKeyboardEnhancementFlags,
};
use crossterm::style::ResetColor;
use crossterm::terminal::{
    EndSynchronizedUpdate, EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode,
};
use rustix::termios::{LocalModes, QueueSelector, tcflush, tcgetattr};
use std::io::{self, IsTerminal};
use std::sync::atomic::{AtomicU8, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError, TryLockError};
use std::thread;
use std::time::Duration;

/// How many keyboard modes are pushed on the alternate screen; zero when the terminal is not ours.
static PUSHED: AtomicU8 = AtomicU8::new(0);

/// Held while a frame or a change of modes is written, so that no frame follows the sequence that leaves the screen.
static WRITING: Mutex<()> = Mutex::new(());

/// How often, a millisecond apart, leaving waits for a frame that is being written. A terminal that takes nothing, as
/// one that its user has paused, must not keep us for ever.
const LEAVE_TRIES: u32 = 200;

/// Why the terminal could not be taken.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// Input or output is a file or a pipe.
    #[error(
        "there is no terminal to draw on: standard input and output must both be a terminal. Start fadewright in a \
         terminal window, without redirecting it, or use a subcommand that only prints"
    )]
    NoTerminal,
    /// `TERM` says that the terminal cannot move its cursor.
    #[error("this terminal cannot show full screens (TERM is `dumb`): start fadewright in another terminal window")]
    Dumb,
    /// The terminal refused a setting or went away.
    #[error("the terminal could not be prepared: {0}")]
    Io(#[from] io::Error),
}

/// What the keyboard is used for, which decides what the terminal is asked to report.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Keyboard {
    /// Keys are commands: report presses, repeats and releases of every key, where the terminal can.
    #[default]
    Commands,
    /// Keys are text: let the terminal compose it, since a report of single keys knows no dead keys and no AltGr.
    Text,
}

/// Holds the terminal: raw mode, alternate screen, no cursor, bracketed paste and, where the terminal knows them, key
/// reports. Dropping it gives the terminal back.
#[derive(Debug)]
pub struct TerminalGuard {
    _private: (),
}

impl TerminalGuard {
    /// Takes the terminal of standard input and output; `term` is the value of `TERM`.
    ///
    /// Nothing is asked of the terminal, since one that does not answer would hold up the first frame.
    ///
    /// # Errors
    /// When there is no usable terminal, or it cannot be prepared. It is then left as it was.
    pub fn enter(term: Option<&str>) -> Result<Self, OpenError> {
        usable(io::stdin().is_terminal(), io::stdout().is_terminal(), term)?;
        take()?;
        Ok(Self { _private: () })
    }

    /// Gives the terminal back; harmless when that has been done.
    pub fn leave(&self) {
        restore();
    }

    /// Takes the terminal again after [`TerminalGuard::leave`]; harmless when it is taken.
    ///
    /// # Errors
    /// When the terminal refuses a setting or has gone away.
    pub fn reenter(&self) -> io::Result<()> {
        take()
    }

    /// Tells the terminal what the keyboard is used for from now on.
    ///
    /// # Errors
    /// When the terminal cannot be written to.
    pub fn keyboard(&self, purpose: Keyboard) -> io::Result<()> {
        let _writing = lock_writing();
        match purpose {
            Keyboard::Text if PUSHED.compare_exchange(1, 2, Ordering::SeqCst, Ordering::SeqCst).is_ok() => {
                write_terminal(&ansi(PushKeyboardEnhancementFlags(TEXT_FLAGS)))
            }
            Keyboard::Commands if PUSHED.compare_exchange(2, 1, Ordering::SeqCst, Ordering::SeqCst).is_ok() => {
                write_terminal(&ansi(PopKeyboardEnhancementFlags))
            }
            Keyboard::Text | Keyboard::Commands => Ok(()),
        }
    }
}

impl Drop for TerminalGuard {
    fn drop(&mut self) {
        restore();
    }
}

/// Gives the terminal back if it is ours. Never fails and never panics, also when the terminal is gone.
pub fn restore() {
    let pushed = PUSHED.swap(0, Ordering::SeqCst);
    if pushed == 0 {
        return;
    }
    // Whoever draws next finds that the terminal is no longer ours; a frame that is under way may finish.
    let _writing = wait_for_frame();
    // Each step is tried even when the one before failed: half a restored terminal is better than none.
    let _ = write_terminal(&leave_sequence(pushed));
    // Keys that were typed ahead, or the report of the last key's release, must not reach the shell as commands.
    let _ = tcflush(io::stdin(), QueueSelector::IFlush);
    let _ = disable_raw_mode();
}

fn wait_for_frame() -> Option<MutexGuard<'static, ()>> {
    for _ in 0..LEAVE_TRIES {
        match WRITING.try_lock() {
            Ok(guard) => return Some(guard),
            Err(TryLockError::Poisoned(error)) => return Some(error.into_inner()),
            Err(TryLockError::WouldBlock) => thread::sleep(Duration::from_millis(1)),
        }
    }
    None
}

fn lock_writing() -> MutexGuard<'static, ()> {
    WRITING.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Writes a frame if the terminal is still ours, and tells how many bytes it wrote.
fn write_frame(bytes: &[u8]) -> io::Result<usize> {
    let _writing = lock_writing();
    if !is_taken() {
        return Ok(0);
    }
    write_all(bytes)?;
    Ok(bytes.len())
}

/// True while the terminal is ours to draw on.
#[must_use]
pub fn is_taken() -> bool {
    PUSHED.load(Ordering::SeqCst) > 0
}

fn take() -> io::Result<()> {
    let taken = {
        let _writing = lock_writing();
        if PUSHED.compare_exchange(0, 1, Ordering::SeqCst, Ordering::SeqCst).is_err() {
            return Ok(());
        }
        enable_raw_mode().and_then(|()| write_terminal(&enter_sequence()))
    };
    if taken.is_err() {
        restore();
    }
    taken
}

/// True when someone has set the terminal back to lines and echo while we thought it ours.
fn was_reset_by_others() -> bool {
    tcgetattr(io::stdin()).is_ok_and(|modes| modes.local_modes.contains(LocalModes::ICANON))
}

fn usable(input: bool, output: bool, term: Option<&str>) -> Result<(), OpenError> {
    if !input || !output {
        return Err(OpenError::NoTerminal);
    }
    if term == Some("dumb") {
        return Err(OpenError::Dumb);
    }
    Ok(())
}

/// Repeats and releases of text keys need both of the middle flags; alternate keys give `?` and `W` their own name.
const COMMAND_FLAGS: KeyboardEnhancementFlags = KeyboardEnhancementFlags::DISAMBIGUATE_ESCAPE_CODES
    .union(KeyboardEnhancementFlags::REPORT_EVENT_TYPES)
    .union(KeyboardEnhancementFlags::REPORT_ALL_KEYS_AS_ESCAPE_CODES)
    .union(KeyboardEnhancementFlags::REPORT_ALTERNATE_KEYS);

const TEXT_FLAGS: KeyboardEnhancementFlags = KeyboardEnhancementFlags::DISAMBIGUATE_ESCAPE_CODES;

/// Keyboard modes are kept per screen, so they are pushed after entering the alternate one and popped before leaving.
fn enter_sequence() -> String {
    [
        ansi(EnterAlternateScreen),
        ansi(Hide),
        ansi(EnableBracketedPaste),
        ansi(PushKeyboardEnhancementFlags(COMMAND_FLAGS)),
    ]
    .concat()
}

fn leave_sequence(pushed: u8) -> String {
    let mut out = ansi(EndSynchronizedUpdate);
    for _ in 0..pushed {
        out.push_str(&ansi(PopKeyboardEnhancementFlags));
    }
    for part in [ansi(DisableBracketedPaste), ansi(ResetColor), ansi(Show), ansi(LeaveAlternateScreen)] {
        out.push_str(&part);
    }
    out
}

fn ansi(command: impl Command) -> String {
    let mut out = String::new();
    // Writing to a string cannot fail.
    let _ = command.write_ansi(&mut out);
    out
}

/// Writes past the lock and the buffer of standard output: a thread that panics may find another holding them.
fn write_terminal(text: &str) -> io::Result<()> {
    write_all(text.as_bytes())
}

fn write_all(mut bytes: &[u8]) -> io::Result<()> {
    while !bytes.is_empty() {
        match rustix::io::write(io::stdout(), bytes) {
            Ok(0) => return Err(io::ErrorKind::WriteZero.into()),
            Ok(n) => bytes = bytes.get(n..).unwrap_or_default(),
            Err(rustix::io::Errno::INTR) => {}
            Err(error) => return Err(error.into()),
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn input_and_output_must_both_be_a_terminal_that_can_draw() {
        assert!(matches!(usable(false, true, Some("xterm")), Err(OpenError::NoTerminal)));
        assert!(matches!(usable(true, false, Some("xterm")), Err(OpenError::NoTerminal)));
        assert!(matches!(usable(true, true, Some("dumb")), Err(OpenError::Dumb)));
        assert!(usable(true, true, Some("xterm-256color")).is_ok());
        assert!(usable(true, true, None).is_ok());
    }

    #[test]
    fn keyboard_modes_are_popped_on_the_screen_that_they_were_pushed_on() {
        assert_eq!(enter_sequence(), "\x1b[?1049h\x1b[?25l\x1b[?2004h\x1b[>15u");
        assert_eq!(leave_sequence(1), "\x1b[?2026l\x1b[<1u\x1b[?2004l\x1b[0m\x1b[?25h\x1b[?1049l");
        assert_eq!(leave_sequence(2).matches("\x1b[<1u").count(), 2);
    }
}
