//! Which row of a pass the hand is in: the numbers, the direction, and a bar of rows where there is room.

use super::pen::Pen;
use crate::coverage::{Place, Way};
use crate::text::fitted;
use crate::tui::theme::{Glyphs, Role, Theme};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::Widget;
use unicode_width::UnicodeWidthStr;

/// Draws `row 4/11 -> 5 of 12 ###>.......`: rows done, the row at hand and the way it runs, rows to come. After a whole
/// pass it says that the pass is complete and how many pulses went beyond it.
#[derive(Debug, Clone, Copy)]
pub struct RowBar<'a> {
    place: Place,
    beyond: u64,
    theme: &'a Theme,
    glyphs: Glyphs,
}

impl<'a> RowBar<'a> {
    /// A bar for a place in a pass, and the pulses fired beyond the plan.
    #[must_use]
    pub const fn new(place: Place, beyond: u64, theme: &'a Theme) -> Self {
        Self { place, beyond, theme, glyphs: Glyphs::Unicode }
    }

    /// The characters of the bar.
    #[must_use]
    pub const fn glyphs(mut self, glyphs: Glyphs) -> Self {
        self.glyphs = glyphs;
        self
    }

    /// What it says without the bar.
    fn words(&self) -> String {
        let p = self.place;
        match (p.rounds, self.beyond) {
            (0, _) => {
                let way = arrow(self.glyphs, p.way);
                format!("row {}/{} {way} {} of {}", p.row, p.rows, p.fired_in_row, p.row_pulses)
            }
            (_, 0) => "pass complete".to_owned(),
            (_, n) => format!("pass complete, {n} more than planned"),
        }
    }

    /// Columns that the words and one cell for each row take.
    #[must_use]
    pub fn wish(&self) -> u16 {
        let bar = if self.place.rounds == 0 { 1 + self.place.rows } else { 0 };
        u16::try_from(self.words().width() + bar).unwrap_or(u16::MAX)
    }
}

/// The way of a row among words.
const fn arrow(glyphs: Glyphs, way: Way) -> &'static str {
    match (glyphs, way) {
        (Glyphs::Unicode, Way::Right) => "→",
        (Glyphs::Unicode, Way::Left) => "←",
        (Glyphs::Unicode, Way::Up) => "↑",
        (Glyphs::Unicode, Way::Down) => "↓",
        (Glyphs::Ascii, Way::Right) => "->",
        (Glyphs::Ascii, Way::Left) => "<-",
        (Glyphs::Ascii, Way::Up) => "up",
        (Glyphs::Ascii, Way::Down) => "down",
    }
}

/// The way of a row in one cell of the bar.
const fn head(glyphs: Glyphs, way: Way) -> &'static str {
    match (glyphs, way) {
        (Glyphs::Unicode, Way::Right) => "▶",
        (Glyphs::Unicode, Way::Left) => "◀",
        (Glyphs::Unicode, Way::Up) => "▲",
        (Glyphs::Unicode, Way::Down) => "▼",
        (Glyphs::Ascii, Way::Right) => ">",
        (Glyphs::Ascii, Way::Left) => "<",
        (Glyphs::Ascii, Way::Up) => "^",
        (Glyphs::Ascii, Way::Down) => "v",
    }
}

/// A bar shorter than this says nothing, unless the pass has no more rows.
const LEAST_BAR: usize = 4;

impl Widget for RowBar<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let Some(mut pen) = Pen::new(buffer, area, 0) else { return };
        let words = self.words();
        let role = if self.place.rounds > 0 && self.beyond > 0 { Role::Lower } else { Role::Strong };
        pen.write(&fitted(&words, pen.left()), self.theme.style(role));
        let rows = self.place.rows;
        let cells = rows.min(pen.left().saturating_sub(1));
        if self.place.rounds > 0 || cells < LEAST_BAR.min(rows) || cells == 0 {
            return;
        }
        let (full, empty) = match self.glyphs {
            Glyphs::Unicode => ("█", "░"),
            Glyphs::Ascii => ("#", "."),
        };
        // With more rows than cells a cell stands for several; the hand is in the cell that its row belongs to.
        let at = self.place.row.saturating_sub(1) * cells / rows;
        let edge = self.theme.style(Role::Edge);
        pen.blanks(1, edge);
        pen.write(&full.repeat(at), self.theme.style(Role::Ink));
        pen.write(head(self.glyphs, self.place.way), self.theme.style(Role::Strong));
        pen.write(&empty.repeat(cells.saturating_sub(at + 1)), edge);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::theme::Depth;
    use crate::tui::widgets::testing::{SIZES, draw};

    fn place(row: usize, rows: usize) -> Place {
        Place {
            row,
            rows,
            fired_in_row: 5,
            row_pulses: 12,
            way: if row.is_multiple_of(2) { Way::Left } else { Way::Right },
            rounds: 0,
        }
    }

    fn drawn(place: Place, beyond: u64, columns: u16) -> String {
        let theme = Theme::standard(Depth::None);
        draw(RowBar::new(place, beyond, &theme).glyphs(Glyphs::Ascii), columns, 1).remove(0)
    }

    #[test]
    fn a_cell_stands_for_a_row_and_points_the_way_it_runs() {
        assert_eq!(drawn(place(4, 11), 0, 40), "row 4/11 <- 5 of 12 ###<.......");
        assert_eq!(drawn(place(1, 11), 0, 40), "row 1/11 -> 5 of 12 >..........");
        assert_eq!(drawn(place(11, 11), 0, 40), "row 11/11 -> 5 of 12 ##########>");
        assert_eq!(drawn(place(1, 1), 0, 40), "row 1/1 -> 5 of 12 >");
        let down = Place { way: Way::Down, ..place(4, 11) };
        assert_eq!(drawn(down, 0, 40), "row 4/11 down 5 of 12 ###v.......");
    }

    #[test]
    fn many_rows_share_cells() {
        assert_eq!(drawn(place(1, 300), 0, 31), "row 1/300 -> 5 of 12 >.........");
        assert_eq!(drawn(place(299, 300), 0, 33), "row 299/300 -> 5 of 12 #########>");
        assert_eq!(drawn(place(151, 300), 0, 33), "row 151/300 -> 5 of 12 #####>....");
    }

    #[test]
    fn without_room_for_the_bar_the_words_stay() {
        assert_eq!(drawn(place(4, 11), 0, 22), "row 4/11 <- 5 of 12");
        assert_eq!(drawn(place(4, 11), 0, 9), "row 4/11…");
    }

    #[test]
    fn a_whole_pass_is_said_in_words() {
        let whole = Place { rounds: 1, ..place(1, 11) };
        assert_eq!(drawn(whole, 0, 60), "pass complete");
        assert_eq!(drawn(whole, 7, 60), "pass complete, 7 more than planned");
    }

    #[test]
    fn the_wish_is_what_is_drawn() {
        let theme = Theme::standard(Depth::None);
        for (row, rows) in [(4, 11), (1, 1), (120, 300)] {
            let bar = RowBar::new(place(row, rows), 0, &theme);
            let line = draw(bar, 400, 1).remove(0);
            assert_eq!(line.width(), usize::from(bar.wish()));
        }
    }

    #[test]
    fn no_area_is_too_small() {
        let theme = Theme::standard(Depth::Sixteen);
        for (columns, rows) in SIZES {
            for p in [place(1, 1), place(7, 5000), Place { rounds: 2, ..place(1, 0) }, place(0, 0)] {
                draw(RowBar::new(p, u64::MAX, &theme), columns, rows);
            }
        }
    }
}
