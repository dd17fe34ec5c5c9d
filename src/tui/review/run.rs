//! The loop of the supervisor's screens.

use super::Review;
use crate::review::Kept;
use crate::tui::events::{Signal, TermEvent};
use crate::tui::run::Ending;
use crate::tui::terminal::{Keyboard, Screen};
use std::io;
use std::sync::mpsc::Receiver;

/// What wakes the loop.
pub enum ReviewMsg {
    /// The terminal or the system.
    Term(TermEvent),
    /// Sessions that were read while others still are.
    Some(Vec<Kept>),
    /// All sessions, and what could not be looked at.
    All(Vec<Kept>, Vec<String>),
    /// The sessions cannot be read.
    Failed(String),
}

/// Shows the screens until somebody leaves.
///
/// # Errors
/// When the terminal cannot be drawn on for another reason than that it is gone.
pub fn run_review(review: &mut Review, screen: &mut Screen, inbox: &Receiver<ReviewMsg>) -> io::Result<Ending> {
    screen.keyboard(Keyboard::Text)?;
    loop {
        screen.draw(|frame| review.view(frame.area(), frame.buffer_mut()))?;
        let Ok(first) = inbox.recv() else { return Ok(Ending::Left) };
        // All that waits is taken before one frame is drawn.
        let mut more = Vec::new();
        for msg in std::iter::once(first).chain(std::iter::from_fn(|| inbox.try_recv().ok())) {
            match msg {
                ReviewMsg::Some(mut kept) => more.append(&mut kept),
                ReviewMsg::All(kept, problems) => {
                    more.clear();
                    review.set(kept, problems);
                }
                ReviewMsg::Failed(why) => review.set(Vec::new(), vec![why]),
                ReviewMsg::Term(event) => {
                    if let Some(ending) = take(review, screen, event)? {
                        return Ok(ending);
                    }
                }
            }
        }
        if !more.is_empty() {
            review.add(more);
        }
        if review.is_finished() {
            return Ok(Ending::Left);
        }
    }
}

fn take(review: &mut Review, screen: &mut Screen, event: TermEvent) -> io::Result<Option<Ending>> {
    match event {
        TermEvent::Input(input) => {
            review.update(&input);
            if matches!(input.what, crossterm::event::Event::Resize(..)) {
                screen.repaint();
            }
        }
        TermEvent::Signal(signal) => match signal.what {
            Signal::Continue => screen.resumed()?,
            Signal::Stop => drop(screen.suspend()?),
            ending => return Ok(Some(Ending::Stopped(ending.exit_code().unwrap_or(1)))),
        },
        TermEvent::HangUp(_) => return Ok(Some(Ending::Stopped(Signal::HangUp.exit_code().unwrap_or(1)))),
    }
    Ok(None)
}
