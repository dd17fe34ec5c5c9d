//! What is left when the window is too small for a screen: the line that matters most, and how much is missing.

use super::pen::Pen;
use crate::text::{fitted, shown, wrapped};
use crate::tui::theme::{Role, Theme};
use ratatui::buffer::Buffer;
use ratatui::layout::{Rect, Size};
use ratatui::widgets::Widget;

/// Draws one line for safety, such as the count and the open advice, then the window's size and the size needed.
#[derive(Debug, Clone, Copy)]
pub struct TooSmall<'a> {
    safety_line: &'a str,
    role: Role,
    need: Size,
    theme: &'a Theme,
}

impl<'a> TooSmall<'a> {
    /// A notice that keeps `safety_line`, in the given role, on screen.
    #[must_use]
    pub const fn new(safety_line: &'a str, role: Role, need: Size, theme: &'a Theme) -> Self {
        Self { safety_line, role, need, theme }
    }

    /// True when `area` is smaller than `need` in either direction.
    #[must_use]
    pub const fn applies(area: Rect, need: Size) -> bool {
        area.width < need.width || area.height < need.height
    }
}

impl Widget for TooSmall<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let columns = usize::from(area.width);
        let mut safety = wrapped(&shown(self.safety_line), columns);
        let rows = usize::from(area.height);
        if safety.len() > rows {
            // Better one line that shows it was cut than a sentence that seems to end early.
            let rest = safety.split_off(rows.saturating_sub(1)).join(" ");
            safety.push(fitted(&rest, columns));
        }
        let need = format!(
            "Window {} x {}, needed {} x {}. Make it larger or its letters smaller.",
            area.width, area.height, self.need.width, self.need.height
        );
        let safety = safety.into_iter().map(|line| (line, self.role));
        let need = wrapped(&need, columns).into_iter().map(|line| (line, Role::Ink));
        for (row, (line, role)) in (0..area.height).zip(safety.chain(need)) {
            let Some(mut pen) = Pen::new(buffer, area, row) else { return };
            pen.write(&line, self.theme.style(role));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::theme::Depth;
    use crate::tui::widgets::testing::{SIZES, draw};

    const NEED: Size = Size { width: 80, height: 24 };

    fn drawn(columns: u16, rows: u16) -> Vec<String> {
        let theme = Theme::standard(Depth::None);
        draw(TooSmall::new("128/240 STOP: darkening", Role::Stop, NEED, &theme), columns, rows)
    }

    #[test]
    fn the_safety_line_comes_first_then_have_and_need() {
        assert_eq!(
            drawn(40, 4),
            ["128/240 STOP: darkening", "Window 40 x 4, needed 80 x 24. Make it", "larger or its letters smaller.", ""]
        );
        assert_eq!(drawn(12, 2), ["128/240", "STOP: darke…"]);
        assert_eq!(drawn(12, 1), ["128/240 STO…"]);
    }

    #[test]
    fn it_applies_when_either_side_is_short() {
        for (width, height, applies) in [(80, 24, false), (79, 24, true), (80, 23, true), (200, 60, false)] {
            assert_eq!(TooSmall::applies(Rect::new(0, 0, width, height), NEED), applies);
        }
    }

    #[test]
    fn no_area_is_too_small() {
        for (columns, rows) in SIZES {
            drawn(columns, rows);
        }
    }
}
