//! How much of how much: the numbers, and a bar beside them where there is room.

use super::pen::Pen;
use crate::text::fitted;
use crate::tui::theme::{Glyphs, Role, Theme};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::Widget;
use unicode_width::UnicodeWidthStr;

/// Draws `12/40 [####........]`. More than planned ends in `>`; without a plan there is only the number.
#[derive(Debug, Clone, Copy)]
pub struct Gauge<'a> {
    done: u64,
    planned: u64,
    theme: &'a Theme,
    role: Role,
    glyphs: Glyphs,
}

impl<'a> Gauge<'a> {
    /// A gauge of so many done of so many planned; zero planned means that there is no plan.
    #[must_use]
    pub const fn new(done: u64, planned: u64, theme: &'a Theme) -> Self {
        Self { done, planned, theme, role: Role::Ink, glyphs: Glyphs::Unicode }
    }

    /// The role of the bar.
    #[must_use]
    pub const fn role(mut self, role: Role) -> Self {
        self.role = role;
        self
    }

    /// The characters of the bar.
    #[must_use]
    pub const fn glyphs(mut self, glyphs: Glyphs) -> Self {
        self.glyphs = glyphs;
        self
    }
}

/// A bar shorter than this says nothing.
const LEAST_BAR: usize = 4;

impl Widget for Gauge<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let Some(mut pen) = Pen::new(buffer, area, 0) else { return };
        let strong = self.theme.style(Role::Strong);
        if self.planned == 0 {
            return pen.write(&fitted(&self.done.to_string(), pen.left()), strong);
        }
        let numbers = format!("{}/{}", self.done, self.planned);
        let bar = pen.left().saturating_sub(numbers.width() + 3);
        pen.write(&fitted(&numbers, pen.left()), strong);
        if bar < LEAST_BAR {
            return;
        }
        let (full, empty, more) = match self.glyphs {
            Glyphs::Unicode => ("█", "░", "▶"),
            Glyphs::Ascii => ("#", ".", ">"),
        };
        let over = self.done > self.planned;
        let filled = filled(self.done, self.planned, bar).saturating_sub(usize::from(over));
        let edge = self.theme.style(Role::Edge);
        let style = self.theme.style(self.role);
        pen.write(" [", edge);
        pen.write(&full.repeat(filled), style);
        if over {
            pen.write(more, self.theme.style(Role::Lower));
        } else {
            pen.write(&empty.repeat(bar.saturating_sub(filled)), edge);
        }
        pen.write("]", edge);
    }
}

/// The filled cells: none only when nothing is done, all only when all is done.
fn filled(done: u64, planned: u64, cells: usize) -> usize {
    if done >= planned {
        return cells;
    }
    let exact = u128::from(done) * cells as u128 / u128::from(planned.max(1));
    let filled = usize::try_from(exact).unwrap_or(cells);
    filled.max(usize::from(done > 0)).min(cells.saturating_sub(1))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::theme::Depth;
    use crate::tui::widgets::testing::{SIZES, draw};

    fn drawn(done: u64, planned: u64, columns: u16) -> String {
        let theme = Theme::standard(Depth::None);
        draw(Gauge::new(done, planned, &theme).glyphs(Glyphs::Ascii), columns, 1).remove(0)
    }

    #[test]
    fn numbers_and_bar() {
        assert_eq!(drawn(10, 40, 18), "10/40 [##........]");
        assert_eq!(drawn(0, 40, 17), "0/40 [..........]");
        assert_eq!(drawn(40, 40, 18), "40/40 [##########]");
        assert_eq!(drawn(41, 40, 18), "41/40 [#########>]");
        assert_eq!(drawn(12, 0, 18), "12");
    }

    #[test]
    fn a_bar_is_never_empty_once_begun_nor_full_before_the_end() {
        assert_eq!(drawn(1, 400, 18), "1/400 [#.........]");
        assert_eq!(drawn(399, 400, 20), "399/400 [#########.]");
        assert_eq!(filled(u64::MAX - 1, u64::MAX, 10), 9);
    }

    #[test]
    fn a_number_that_is_cut_shows_that_it_is() {
        assert_eq!(drawn(10, 40, 8), "10/40");
        assert_eq!(drawn(10, 40, 4), "10/…");
        assert_eq!(drawn(1000, 0, 3), "10…");
    }

    #[test]
    fn no_area_is_too_small() {
        let theme = Theme::standard(Depth::Sixteen);
        for (columns, rows) in SIZES {
            for done in [0, 7, 40, u64::MAX] {
                draw(Gauge::new(done, 40, &theme), columns, rows);
                draw(Gauge::new(done, 0, &theme), columns, rows);
            }
        }
    }
}
