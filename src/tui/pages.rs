//! Text that is read and scrolled, such as a debrief.

use super::chord::{Chord, Key, Stroke};
use super::events::Stamped;
use super::theme::{Role, Theme};
use crate::text::{fitted, shown};
use crossterm::event::Event;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Line;
use ratatui::widgets::{Paragraph, Widget};

/// Rows below the text.
const FOOT_ROWS: u16 = 1;

/// Lines for a width.
type Lines = Box<dyn Fn(usize) -> Vec<String>>;

/// A text on screen.
pub struct Pages {
    lines: Lines,
    first: usize,
    /// Rows that were shown last, and how many lines there were: for paging.
    shown: (usize, usize),
    theme: Theme,
}

impl Pages {
    /// Text whose lines are laid out for the width of the window.
    pub fn new(lines: impl Fn(usize) -> Vec<String> + 'static, theme: Theme) -> Self {
        Self { lines: Box::new(lines), first: 0, shown: (1, 0), theme }
    }

    /// Takes what the terminal sent; false when somebody has read enough.
    pub fn update(&mut self, input: &Stamped<Event>) -> bool {
        let Event::Key(key) = &input.what else { return true };
        let Some((chord, stroke)) = Chord::read(key) else { return true };
        if stroke == Stroke::Release {
            return true;
        }
        let (rows, lines) = self.shown;
        let last = lines.saturating_sub(rows);
        let page = rows.saturating_sub(1).max(1);
        self.first = match chord.key {
            Key::Down | Key::Char('j') => self.first.saturating_add(1),
            Key::Up | Key::Char('k') => self.first.saturating_sub(1),
            Key::PageDown | Key::Char(' ') => self.first.saturating_add(page),
            Key::PageUp | Key::Char('b') => self.first.saturating_sub(page),
            Key::Home => 0,
            Key::End => last,
            Key::Char('q') | Key::Esc => return false,
            Key::Char('c') if chord.ctrl => return false,
            _ => self.first,
        }
        .min(last);
        true
    }

    /// Draws it.
    pub fn view(&mut self, area: Rect, buffer: &mut Buffer) {
        buffer.set_style(area, self.theme.style(Role::Ink));
        let inner = Rect { x: area.x + 1, width: area.width.saturating_sub(2), ..area }.intersection(area);
        let columns = usize::from(inner.width);
        let rows = usize::from(area.height.saturating_sub(FOOT_ROWS));
        let lines = (self.lines)(columns);
        self.shown = (rows, lines.len());
        self.first = self.first.min(lines.len().saturating_sub(rows));
        let styled = lines.iter().skip(self.first).take(rows).map(|l| {
            // Headings are in capitals, so that they stand out without colour too.
            let heading = !l.starts_with(' ') && l.chars().any(char::is_uppercase) && !l.is_empty();
            let role = if heading { Role::Strong } else { Role::Ink };
            Line::styled(fitted(&shown(l), columns), self.theme.style(role))
        });
        Paragraph::new(styled.collect::<Vec<_>>()).render(inner, buffer);
        let more = lines.len().saturating_sub(self.first + rows);
        let text = if more > 0 {
            format!("space: on ({more} lines more)   up/down   q: done")
        } else {
            "q: done   up: back".to_owned()
        };
        let foot = Rect { y: area.bottom().saturating_sub(FOOT_ROWS), height: FOOT_ROWS.min(area.height), ..inner };
        buffer.set_stringn(foot.x, foot.y, fitted(&text, columns), columns, self.theme.style(Role::Selected));
    }
}
