//! How a session meets its operator: on the screen, or in lines with `--plain`.

use super::Common;
use super::output::CliError;
use crate::clock::Clock;
use crate::practice::Operator;
use crate::recorder::Store;
use crate::tui::announce::Heard;
use crate::tui::chair::Chair;
use crate::tui::events;
use crate::tui::pages::Pages;
use crate::tui::plain::{self, run_plain, run_start_plain};
use crate::tui::run::{Ending, Msg, run_chair, run_pages, run_start};
use crate::tui::start::{Start, StartChoice};
use crate::tui::terminal::{OpenError, Screen, install_panic_hook};
use crate::tui::theme::Theme;
use std::io;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, SyncSender};

/// The screen, or lines.
pub(super) enum Face {
    Screen(Screen),
    Lines,
}

impl Face {
    /// Takes the terminal, or only its lines, and sends what comes from it.
    pub(super) fn open(common: &Common, clock: &Arc<dyn Clock>, sender: &SyncSender<Msg>) -> Result<Self, CliError> {
        let face = match common.plain {
            true => Self::Lines,
            false => {
                let term = std::env::var("TERM").ok();
                Self::Screen(Screen::open(term.as_deref()).map_err(|e| match e {
                    OpenError::Io(e) => CliError::from(e),
                    e => CliError::Bad(e.to_string()),
                })?)
            }
        };
        install_panic_hook(|| {
            "fadewright stopped on a fault of its own. What was shown as saved is on disk: start it again to resume."
                .to_owned()
        });
        let (to_loop, typed) = (sender.clone(), sender.clone());
        // The loop may have ended; then nobody needs the event.
        let event = move |event| drop(to_loop.send(Msg::Term(event)));
        match face {
            Self::Screen(_) => events::spawn(Arc::clone(clock), event)?,
            Self::Lines => {
                let input = io::BufReader::new(io::stdin());
                plain::spawn(Arc::clone(clock), input, event, move |line| typed.send(Msg::Typed(line)).is_ok())?;
            }
        }
        Ok(face)
    }

    /// Runs a session; `every` is the pulses between two milestones in lines.
    pub(super) fn run<S: Store>(
        &mut self,
        chair: &mut Chair<S>,
        inbox: &Receiver<Msg>,
        clock: &Arc<dyn Clock>,
        every: u64,
        announce: &mut dyn FnMut(Heard),
        operator: Option<Operator>,
    ) -> io::Result<Ending> {
        match self {
            Self::Screen(screen) => run_chair(chair, screen, inbox, clock, announce, operator),
            Self::Lines => run_plain(chair, &mut io::stdout(), inbox, clock, every, announce, operator),
        }
    }

    /// Shows a text until somebody has read it; in lines it is simply said.
    pub(super) fn read(
        &mut self,
        lines: impl Fn(usize) -> Vec<String> + 'static,
        theme: Theme,
        inbox: &Receiver<Msg>,
    ) -> io::Result<()> {
        match self {
            Self::Screen(screen) => run_pages(&mut Pages::new(lines, theme), screen, inbox),
            Self::Lines => plain::tell(&mut io::stdout(), &lines),
        }
    }

    /// Asks what to begin with.
    pub(super) fn start(&mut self, start: &mut Start, inbox: &Receiver<Msg>) -> io::Result<(StartChoice, Ending)> {
        match self {
            Self::Screen(screen) => run_start(start, screen, inbox),
            Self::Lines => run_start_plain(start, &mut io::stdout(), inbox),
        }
    }

    /// Gives the terminal back.
    pub(super) fn close(&mut self) {
        if let Self::Screen(screen) = self {
            screen.close();
        }
    }
}
