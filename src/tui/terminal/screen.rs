//! Draws frames, each in one write.

use super::{Keyboard, OpenError, TerminalGuard, is_taken, was_reset_by_others, write_frame};
use crate::tui::events;
use crossterm::terminal::{BeginSynchronizedUpdate, EndSynchronizedUpdate};
use ratatui::backend::CrosstermBackend;
use ratatui::layout::{Rect, Size};
use ratatui::{Frame, Terminal};
use rustix::process::{getpgrp, getsid};
use std::cell::RefCell;
use std::io::{self, Write};
use std::rc::Rc;

/// The terminal as something to draw on.
pub struct Screen {
    guard: TerminalGuard,
    terminal: Terminal<CrosstermBackend<FrameBytes>>,
    bytes: FrameBytes,
    repaint: bool,
}

impl Screen {
    /// Takes the terminal; `term` is the value of `TERM`.
    ///
    /// # Errors
    /// When there is no usable terminal, or it cannot be prepared.
    pub fn open(term: Option<&str>) -> Result<Self, OpenError> {
        let guard = TerminalGuard::enter(term)?;
        let bytes = FrameBytes::default();
        let terminal = Terminal::new(CrosstermBackend::new(bytes.clone()))?;
        Ok(Self { guard, terminal, bytes, repaint: true })
    }

    /// Draws one frame as one synchronised write and tells how many bytes it took.
    ///
    /// Draws nothing once the terminal has been given back, so that a frame cannot land on the user's shell.
    ///
    /// # Errors
    /// When the terminal cannot be written to, as after a hang-up.
    pub fn draw(&mut self, view: impl FnOnce(&mut Frame<'_>)) -> io::Result<usize> {
        if !is_taken() {
            return Ok(0);
        }
        self.bytes.clear();
        crossterm::queue!(self.bytes, BeginSynchronizedUpdate)?;
        if self.repaint {
            let area = Rect::from((ratatui::layout::Position::ORIGIN, self.size()?));
            self.terminal.resize(area)?;
        }
        self.terminal.draw(view)?;
        crossterm::queue!(self.bytes, EndSynchronizedUpdate)?;
        let sent = self.bytes.send()?;
        self.repaint = false;
        Ok(sent)
    }

    /// Makes the next frame draw every cell, whatever the terminal shows now.
    pub const fn repaint(&mut self) {
        self.repaint = true;
    }

    /// The terminal's size in cells.
    ///
    /// # Errors
    /// When the terminal is gone.
    pub fn size(&self) -> io::Result<Size> {
        self.terminal.size()
    }

    /// Tells the terminal what the keyboard is used for from now on.
    ///
    /// # Errors
    /// When the terminal cannot be written to.
    pub fn keyboard(&self, purpose: Keyboard) -> io::Result<()> {
        self.guard.keyboard(purpose)
    }

    /// Gives the terminal to the shell and stops until the shell continues us; false when there is no shell to do that.
    ///
    /// # Errors
    /// When the terminal cannot be taken again.
    pub fn suspend(&mut self) -> io::Result<bool> {
        if !has_job_control() {
            return Ok(false);
        }
        self.guard.leave();
        let stopped = events::stop_job();
        self.guard.reenter()?;
        self.repaint();
        stopped.map(|()| true)
    }

    /// Takes the terminal again when we were stopped from outside without a chance to leave it, and repaints.
    ///
    /// # Errors
    /// When the terminal cannot be taken again.
    pub fn resumed(&mut self) -> io::Result<()> {
        if was_reset_by_others() {
            self.guard.leave();
        }
        self.guard.reenter()?;
        self.repaint();
        Ok(())
    }

    /// Gives the terminal back; later frames are not drawn.
    pub fn close(&self) {
        self.guard.leave();
    }
}

/// A shell with job control gives each job a process group of its own; without one, nobody would ever continue us.
fn has_job_control() -> bool {
    getsid(None).is_ok_and(|session| session != getpgrp())
}

/// Collects a frame, so that it leaves in one write and a slow link never shows half of it.
#[derive(Clone, Default)]
struct FrameBytes(Rc<RefCell<Vec<u8>>>);

impl FrameBytes {
    fn clear(&self) {
        self.0.borrow_mut().clear();
    }

    fn send(&self) -> io::Result<usize> {
        write_frame(&self.0.borrow())
    }
}

impl Write for FrameBytes {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.borrow_mut().extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}
