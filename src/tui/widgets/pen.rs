//! Writes one line from left to right and never past its end.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

/// A place on a line of the buffer.
pub(super) struct Pen<'a> {
    buffer: &'a mut Buffer,
    x: u16,
    y: u16,
    end: u16,
}

impl<'a> Pen<'a> {
    /// At the start of a row of `area`; `None` when the area has no such row.
    pub(super) fn new(buffer: &'a mut Buffer, area: Rect, row: u16) -> Option<Self> {
        let area = area.intersection(buffer.area);
        let y = area.y.checked_add(row).filter(|y| *y < area.bottom())?;
        (area.width > 0).then_some(Self { buffer, x: area.x, y, end: area.right() })
    }

    /// The columns left to write in.
    pub(super) fn left(&self) -> usize {
        usize::from(self.end.saturating_sub(self.x))
    }

    /// Writes as much as there is room for.
    pub(super) fn write(&mut self, text: &str, style: Style) {
        let left = self.left();
        let (x, _) = self.buffer.set_stringn(self.x, self.y, text, left, style);
        self.x = x;
    }

    /// Writes this many blanks, or as many as there is room for.
    pub(super) fn blanks(&mut self, columns: usize, style: Style) {
        self.write(&" ".repeat(columns.min(self.left())), style);
    }
}
