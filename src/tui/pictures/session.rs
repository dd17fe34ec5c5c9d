//! A session over time: pulses a minute, and what happened when.

use super::{Picture, figures};
use crate::session::{State, TraceMark};
use crate::tui::theme::{Glyphs, Theme};
use crate::tui::widgets::time_lanes::{GUTTER, LANES, TimeLanes};
use crate::words::Word;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::Widget;

/// The picture.
#[derive(Debug, Clone, Copy)]
pub struct SessionPicture<'a> {
    state: &'a State,
    until_ms: u64,
}

impl<'a> SessionPicture<'a> {
    /// Of a session up to a session time in ms.
    #[must_use]
    pub const fn new(state: &'a State, until_ms: u64) -> Self {
        Self { state, until_ms }
    }

    /// A closed session, or a journal: up to its last event.
    #[must_use]
    pub const fn whole(state: &'a State) -> Self {
        Self::new(state, state.last_ms())
    }

    fn lanes<'t>(&self, theme: &'t Theme) -> TimeLanes<'t>
    where
        'a: 't,
    {
        TimeLanes::new(&self.state.trace, self.state.opened_at, self.until_ms, theme)
    }

    fn occurs(&self, mark: TraceMark) -> bool {
        self.state.trace.spans().iter().any(|span| span.has(mark))
    }
}

/// The letter of a mark within its row.
fn lettered(mark: TraceMark, letter: &str) -> String {
    format!("{letter} {}", mark.word().replace('-', " "))
}

impl Picture for SessionPicture<'_> {
    fn legend(&self, glyphs: Glyphs) -> String {
        let (run, stand) = if glyphs == Glyphs::Ascii { ("_", ".") } else { ("─", "┄") };
        format!("pulses a minute; letters, of several the most urgent; {run} a pass, {stand} paused")
    }

    /// The letters that occur, row by row.
    fn words(&self) -> String {
        let rows = LANES.into_iter().filter_map(|(name, marks)| {
            let here = marks.iter().filter(|(mark, _)| self.occurs(*mark));
            let here: Vec<String> = here.map(|(mark, letter)| lettered(*mark, letter)).collect();
            (!here.is_empty()).then(|| format!("{name}: {}", here.join(", ")))
        });
        let rows: Vec<String> = rows.collect();
        let minutes = figures(self.until_ms as f64 / 60_000.0);
        let pulses = self.state.total_pulses();
        let what = if rows.is_empty() { "nothing is marked yet".to_owned() } else { rows.join("; ") };
        format!("{pulses} pulses in {minutes} min since {}; {what}.", self.state.opened_at.format("%H:%M"))
    }

    fn draw(&self, area: Rect, buffer: &mut Buffer, theme: &Theme, glyphs: Glyphs) {
        (&self.lanes(theme).glyphs(glyphs)).render(area, buffer);
    }
}

/// Columns that time takes in an area of this width.
#[must_use]
pub const fn time_columns(width: u16) -> u16 {
    width.saturating_sub(GUTTER)
}
