//! The loop: waits for keys, signals, the journal and the clock, updates, draws.

use super::announce::Heard;
use super::chair::{Chair, Effect};
use super::events::{Signal, Stamped, TermEvent};
use super::pages::Pages;
use super::plain::Typed;
use super::player::Player;
use super::pulse_line::LineNews;
use super::start::{Start, StartChoice};
use super::terminal::{Keyboard, Screen};
use crate::clock::Clock;
use crate::limits::DepthLight;
use crate::practice::Operator;
use crate::recorder::Store;
use crate::session::Command;
use std::io::{self, Write};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError};
use std::time::Duration;

/// What wakes the loop.
#[derive(Debug)]
pub enum Msg {
    /// The terminal or the system.
    Term(TermEvent),
    /// The journal saved something, or failed to.
    Journal,
    /// Work beside the session has something to say.
    Said(String),
    /// Work beside the session has found something to record.
    Found(Command),
    /// Light in depth was followed beside the session.
    Followed(DepthLight),
    /// The line of pulses has news.
    Line(LineNews),
    /// A line came, where there is no screen.
    Typed(Stamped<Typed>),
}

/// Messages that may wait; beyond that the keyboard waits, never the journal.
pub const INBOX: usize = 4096;
/// Between looks at a running train.
const TRAIN_MS: u64 = 250;
/// Between looks at the clock when nothing else happens.
const IDLE_MS: u64 = 1000;

/// Shortest wait: where time runs fast, the loop must not spin.
const LEAST_WAIT: Duration = Duration::from_millis(1);

/// How the loop ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ending {
    /// The operator left or closed.
    Left,
    /// A signal or a closed window, with the exit code that belongs to it.
    Stopped(u8),
}

/// Runs a session on the screen until it is closed, left or stopped; `announce` is told after each change what somebody
/// who listens should know.
///
/// # Errors
/// When the terminal cannot be drawn on for another reason than that it is gone.
pub fn run_chair<S: Store>(
    chair: &mut Chair<S>,
    screen: &mut Screen,
    inbox: &Receiver<Msg>,
    clock: &Arc<dyn Clock>,
    announce: &mut dyn FnMut(Heard),
    operator: Option<Operator>,
) -> io::Result<Ending> {
    let mut player = operator.map(Player::new);
    let mut keyboard = Keyboard::Commands;
    let mut last_tick = clock.now().mono_ms;
    draw(chair, screen, clock)?;
    loop {
        let every = if chair.state().train.is_some() { TRAIN_MS } else { IDLE_MS };
        let now = clock.now().mono_ms;
        let mut due = clock.machine_time(last_tick.saturating_add(every).saturating_sub(now));
        if let Some(player) = &player {
            due = due.min(player.waits(clock));
        }
        // A clock that runs fast must not make the loop spin.
        due = due.max(LEAST_WAIT);
        let mut dirty = false;
        match inbox.recv_timeout(due) {
            Ok(first) => {
                // All that waits is taken before one frame is drawn, so that a burst of keys cannot queue up.
                for msg in std::iter::once(first).chain(std::iter::from_fn(|| inbox.try_recv().ok())) {
                    dirty = true;
                    if let Some(ending) = take(chair, screen, clock, msg)? {
                        return Ok(ending);
                    }
                }
            }
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => return Ok(Ending::Left),
        }
        let now = clock.now().mono_ms;
        if now.saturating_sub(last_tick) >= every {
            last_tick = now;
            dirty |= chair.tick();
        }
        if let Some(player) = &mut player {
            dirty |= player.play(chair, clock);
        }
        if chair.is_finished() {
            return Ok(Ending::Left);
        }
        // An advice comes with a key, a pulse from outside, or with time alone.
        if chair.bell_due() {
            ring()?;
        }
        let wanted = if chair.takes_text() { Keyboard::Text } else { Keyboard::Commands };
        if wanted != keyboard {
            keyboard = wanted;
            screen.keyboard(keyboard)?;
        }
        if dirty {
            draw(chair, screen, clock)?;
            announce(chair.heard());
        }
    }
}

fn draw<S: Store>(chair: &mut Chair<S>, screen: &mut Screen, clock: &Arc<dyn Clock>) -> io::Result<()> {
    chair.note_unsaved();
    screen.draw(|frame| chair.view(frame.area(), frame.buffer_mut()))?;
    chair.drawn(clock.machine_ms());
    Ok(())
}

fn take<S: Store>(
    chair: &mut Chair<S>,
    screen: &mut Screen,
    clock: &Arc<dyn Clock>,
    msg: Msg,
) -> io::Result<Option<Ending>> {
    match msg {
        Msg::Journal | Msg::Typed(_) => {}
        Msg::Said(text) => chair.say(text),
        Msg::Found(command) => chair.record(command),
        Msg::Followed(light) => chair.take_light(light),
        Msg::Line(news) => chair.pulse_line(news),
        Msg::Term(TermEvent::Input(input)) => {
            for effect in chair.update(&input) {
                match effect {
                    Effect::Suspend => suspend(chair, screen)?,
                    Effect::Repaint => screen.repaint(),
                    Effect::LetPass(ms) => {
                        clock.let_pass(ms);
                        chair.tick();
                    }
                }
            }
        }
        Msg::Term(TermEvent::Signal(signal)) => match signal.what {
            Signal::Continue => screen.resumed()?,
            Signal::Stop => suspend(chair, screen)?,
            ending => {
                chair.interrupt(ending.name());
                return Ok(Some(Ending::Stopped(ending.exit_code().unwrap_or(1))));
            }
        },
        Msg::Term(TermEvent::HangUp(_)) => {
            chair.interrupt("the terminal was closed");
            return Ok(Some(Ending::Stopped(Signal::HangUp.exit_code().unwrap_or(1))));
        }
    }
    Ok(None)
}

fn ring() -> io::Result<()> {
    let mut out = io::stdout();
    out.write_all(b"\x07")?;
    out.flush()
}

fn suspend<S: Store>(chair: &mut Chair<S>, screen: &mut Screen) -> io::Result<()> {
    if chair.state().train.is_some() {
        chair.stop_train();
    }
    if !screen.suspend()? {
        chair.say("there is no shell to suspend to");
    }
    Ok(())
}

/// Runs the start screen until something is chosen.
///
/// # Errors
/// As [`run_chair`].
pub fn run_start(start: &mut Start, screen: &mut Screen, inbox: &Receiver<Msg>) -> io::Result<(StartChoice, Ending)> {
    loop {
        screen.draw(|frame| start.view(frame.area(), frame.buffer_mut()))?;
        match inbox.recv() {
            Ok(Msg::Term(TermEvent::Input(input))) => {
                if let Some(choice) = start.update(&input) {
                    return Ok((choice, Ending::Left));
                }
                if matches!(input.what, crossterm::event::Event::Resize(..)) {
                    screen.repaint();
                }
            }
            Ok(Msg::Term(TermEvent::Signal(signal))) => match signal.what {
                Signal::Continue => screen.resumed()?,
                Signal::Stop => {
                    screen.suspend()?;
                }
                ending => return Ok((StartChoice::Quit, Ending::Stopped(ending.exit_code().unwrap_or(1)))),
            },
            Ok(Msg::Term(TermEvent::HangUp(_))) => return Ok((StartChoice::Quit, Ending::Stopped(129))),
            Ok(Msg::Journal | Msg::Said(_) | Msg::Found(_) | Msg::Followed(_) | Msg::Line(_) | Msg::Typed(_)) => {}
            Err(_) => return Ok((StartChoice::Quit, Ending::Left)),
        }
    }
}

/// Shows a text until somebody has read enough.
///
/// # Errors
/// As [`run_chair`].
pub fn run_pages(pages: &mut Pages, screen: &mut Screen, inbox: &Receiver<Msg>) -> io::Result<()> {
    loop {
        screen.draw(|frame| pages.view(frame.area(), frame.buffer_mut()))?;
        match inbox.recv() {
            Ok(Msg::Term(TermEvent::Input(input))) => {
                if !pages.update(&input) {
                    return Ok(());
                }
                if matches!(input.what, crossterm::event::Event::Resize(..)) {
                    screen.repaint();
                }
            }
            Ok(Msg::Term(TermEvent::Signal(signal))) => match signal.what {
                Signal::Continue => screen.resumed()?,
                Signal::Stop => {
                    screen.suspend()?;
                }
                _ => return Ok(()),
            },
            Ok(Msg::Term(TermEvent::HangUp(_))) | Err(_) => return Ok(()),
            Ok(Msg::Journal | Msg::Said(_) | Msg::Found(_) | Msg::Line(_) | Msg::Followed(_) | Msg::Typed(_)) => {}
        }
    }
}
