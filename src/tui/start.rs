//! The start screen: sessions that were cut off, and plans to treat.

use super::chord::{Chord, Stroke};
use super::events::Stamped;
use super::keymap::KeyTable;
use super::keys::{Action, Place, table};
use super::theme::{Role, Theme};
use super::widgets::footer::{Footer, labels};
use crate::text::{fitted, shown};
use crate::words::Word;
use crossterm::event::Event;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Line;
use ratatui::widgets::{Paragraph, Widget};
use std::path::PathBuf;

/// Rows above the lines that can be chosen.
const HEAD_ROWS: usize = 3;
/// Rows of the keys.
const FOOT_ROWS: usize = 1;

/// A line that can be chosen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StartEntry {
    /// What it says.
    pub text: String,
    /// What it does.
    pub choice: StartChoice,
}

/// What was chosen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum StartChoice {
    /// Take up a session again.
    Resume(PathBuf),
    /// Begin a session by a plan.
    Treat(PathBuf),
    /// Practise a scenario.
    Practise(String),
    /// Look over all sessions.
    Review,
    /// Leave.
    Quit,
}

/// The start screen.
pub struct Start {
    entries: Vec<StartEntry>,
    hints: Vec<String>,
    chosen: usize,
    theme: Theme,
    keys: KeyTable<Place, Action>,
}

impl Start {
    /// A start screen with these lines; `hints` stand below them.
    #[must_use]
    pub fn new(entries: Vec<StartEntry>, hints: Vec<String>, theme: Theme) -> Self {
        Self { entries, hints, chosen: 0, theme, keys: table() }
    }

    /// Takes what the terminal sent; answers with what was chosen.
    pub fn update(&mut self, input: &Stamped<Event>) -> Option<StartChoice> {
        let Event::Key(key) = &input.what else { return None };
        let (chord, stroke) = Chord::read(key)?;
        if stroke == Stroke::Release {
            return None;
        }
        let last = self.entries.len().saturating_sub(1);
        match self.keys.lookup(&[Place::Start, Place::NotInText, Place::Anywhere], chord)? {
            Action::Down => self.chosen = (self.chosen + 1).min(last),
            Action::Up => self.chosen = self.chosen.saturating_sub(1),
            Action::Open if stroke == Stroke::Press => return self.entries.get(self.chosen).map(|e| e.choice.clone()),
            Action::Quit | Action::Leave => return Some(StartChoice::Quit),
            _ => {}
        }
        None
    }

    /// What can be typed where the start screen is lines.
    pub const TYPE: &'static str = "Type a number, or q to leave.";

    /// The same as lines: what can be chosen, each by its number.
    #[must_use]
    pub fn in_lines(&self) -> Vec<String> {
        let mut lines: Vec<String> =
            self.entries.iter().enumerate().map(|(i, entry)| format!("{}: {}", i + 1, entry.text)).collect();
        if self.entries.is_empty() {
            lines.push("Nothing to resume, and no plans found.".to_owned());
        }
        lines.extend(self.hints.iter().cloned());
        lines.push(Self::TYPE.to_owned());
        lines.iter().flat_map(|line| crate::text::wrapped(&shown(line), 70)).collect()
    }

    /// What a typed line chooses; an empty one chooses nothing.
    #[must_use]
    pub fn chosen_by(&self, line: &str) -> Option<StartChoice> {
        let line = line.trim().to_lowercase();
        if [Action::Quit.word(), Action::Leave.word(), "q"].contains(&line.as_str()) {
            return Some(StartChoice::Quit);
        }
        let at = line.parse::<usize>().ok()?.checked_sub(1)?;
        self.entries.get(at).map(|entry| entry.choice.clone())
    }

    /// Draws the screen.
    pub fn view(&self, area: Rect, buffer: &mut Buffer) {
        buffer.set_style(area, self.theme.style(Role::Ink));
        let columns = usize::from(area.width.saturating_sub(2));
        let line = |role: Role, text: &str| Line::styled(fitted(text, columns), self.theme.style(role));
        let mut lines = vec![
            line(Role::Strong, "fadewright"),
            line(Role::Quiet, "beside the chair in laser tattoo removal: an aid for trained, licensed people"),
            Line::default(),
        ];
        let hints: Vec<String> = self.hints.iter().flat_map(|h| crate::text::wrapped(&shown(h), columns)).collect();
        // The lines that can be chosen keep at least half of the window.
        let rows = usize::from(area.height).saturating_sub(HEAD_ROWS + FOOT_ROWS);
        let room = rows.saturating_sub(hints.len() + 1).max(rows / 2).max(1);
        let first = self.chosen.saturating_sub(room / 2).min(self.entries.len().saturating_sub(room));
        for (i, entry) in self.entries.iter().enumerate().skip(first).take(room) {
            let here = i == self.chosen;
            let more_above = i == first && first > 0;
            let more_below = i + 1 == first + room && i + 1 < self.entries.len();
            let mark = match (here, more_above, more_below) {
                (true, ..) => "> ",
                (_, true, _) => "^ ",
                (.., true) => "v ",
                _ => "  ",
            };
            lines.push(line(if here { Role::Selected } else { Role::Ink }, &format!("{mark}{}", shown(&entry.text))));
        }
        if self.entries.is_empty() {
            lines.push(line(Role::Ink, "  nothing to resume, and no plans found"));
        }
        lines.push(Line::default());
        lines.extend(hints.iter().map(|text| line(Role::Quiet, text)));
        let inner = Rect { x: area.x + 1, width: area.width.saturating_sub(2), ..area };
        Paragraph::new(lines).render(inner.intersection(area), buffer);
        let keys = labels(&self.keys.hints(&[Place::Start]));
        let foot = Rect { y: area.bottom().saturating_sub(1), height: area.height.min(1), ..inner };
        Footer::new(&keys, &self.theme).render(foot.intersection(area), buffer);
    }
}
