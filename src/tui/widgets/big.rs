//! Letters and digits that are read from two metres.

use super::pen::Pen;
use crate::text::{fitted, shown};
use crate::tui::theme::Glyphs;
use ratatui::buffer::Buffer;
use ratatui::layout::{Alignment, Rect, Size};
use ratatui::style::Style;
use ratatui::widgets::Widget;
use tui_big_text::{BigText, PixelSize};
use unicode_width::UnicodeWidthStr;

/// Draws a short text as large as its area allows: block letters, a block a dot or several, or plain text.
#[derive(Debug, Clone, Copy)]
pub struct Big<'a> {
    text: &'a str,
    style: Style,
    glyphs: Glyphs,
    alignment: Alignment,
    most: Size,
}

/// The dots of one letter, each way.
const DOTS: u16 = 8;

/// The columns of a letter at its smallest, with four dots to a cell.
const LEAST_COLUMNS: u16 = DOTS / 2;

impl<'a> Big<'a> {
    /// A large text; what lies outside of ASCII is only drawn plain.
    #[must_use]
    pub const fn new(text: &'a str, style: Style) -> Self {
        let most = Size { width: u16::MAX, height: u16::MAX };
        Self { text, style, glyphs: Glyphs::Unicode, alignment: Alignment::Left, most }
    }

    /// The characters that it is drawn with.
    #[must_use]
    pub const fn glyphs(mut self, glyphs: Glyphs) -> Self {
        self.glyphs = glyphs;
        self
    }

    /// Where it stands in its area.
    #[must_use]
    pub const fn alignment(mut self, alignment: Alignment) -> Self {
        self.alignment = alignment;
        self
    }

    /// The largest that it may become, so that a short text does not outgrow a long one beside it.
    #[must_use]
    pub const fn at_most(mut self, most: Size) -> Self {
        self.most = most;
        self
    }

    /// The cells that it will take in an area of this size.
    #[must_use]
    pub fn fit(&self, within: Size) -> Size {
        match self.choose(within) {
            Some((_, size, _)) => size,
            None => {
                let columns = u16::try_from(shown(self.text).width()).unwrap_or(u16::MAX);
                Size { width: columns.min(within.width), height: within.height.min(1) }
            }
        }
    }

    /// The block letters that fit, the size they take, and how many cells each of their dots is enlarged to.
    fn choose(&self, within: Size) -> Option<(Buffer, Size, u16)> {
        let drawable = !self.text.is_empty() && self.text.chars().all(|c| c == ' ' || c.is_ascii_graphic());
        let within = Size { width: within.width.min(self.most.width), height: within.height.min(self.most.height) };
        if !drawable || self.text.len() > usize::from(within.width / LEAST_COLUMNS) + 1 {
            return None;
        }
        let drawn = self.letters(PixelSize::Full)?;
        let size = used(&drawn);
        let times = (within.width / size.width.max(1)).min(within.height / size.height.max(1));
        if times > 0 {
            let size = Size { width: size.width.saturating_mul(times), height: size.height.saturating_mul(times) };
            return Some((drawn, size, times));
        }
        if self.glyphs == Glyphs::Ascii {
            return None;
        }
        [PixelSize::HalfHeight, PixelSize::Quadrant].into_iter().find_map(|pixel| {
            let drawn = self.letters(pixel)?;
            let size = used(&drawn);
            (size.width <= within.width && size.height <= within.height).then_some((drawn, size, 1))
        })
    }

    /// The text in block letters, with the blanks that the font has at its right and below.
    fn letters(&self, pixel: PixelSize) -> Option<Buffer> {
        let letters = u16::try_from(self.text.len()).ok()?;
        let area = Rect::new(0, 0, letters.checked_mul(DOTS)?, DOTS);
        let mut buffer = Buffer::empty(area);
        BigText::builder().pixel_size(pixel).lines(vec![self.text.into()]).build().render(area, &mut buffer);
        Some(buffer)
    }
}

/// The size up to the last cell that is not blank.
fn used(buffer: &Buffer) -> Size {
    let mut size = Size { width: 1, height: 1 };
    for position in buffer.area.positions() {
        if is_set(buffer, position.x, position.y) {
            size.width = size.width.max(position.x + 1);
            size.height = size.height.max(position.y + 1);
        }
    }
    size
}

fn is_set(buffer: &Buffer, x: u16, y: u16) -> bool {
    buffer.cell((x, y)).is_some_and(|cell| cell.symbol() != " ")
}

impl Widget for Big<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        let indent = |width: u16| match self.alignment {
            Alignment::Left => 0,
            Alignment::Center => area.width.saturating_sub(width) / 2,
            Alignment::Right => area.width.saturating_sub(width),
        };
        let Some((drawn, size, times)) = self.choose(area.as_size()) else {
            let Some(mut pen) = Pen::new(buffer, area, 0) else { return };
            let text = fitted(&shown(self.text), pen.left());
            pen.blanks(usize::from(indent(u16::try_from(text.width()).unwrap_or(0))), Style::new());
            return pen.write(&text, self.style);
        };
        let left = area.x.saturating_add(indent(size.width));
        for row in 0..size.height {
            for column in 0..size.width {
                let Some(from) = drawn.cell((column / times.max(1), row / times.max(1))) else { continue };
                let Some(to) = buffer.cell_mut((left.saturating_add(column), area.y.saturating_add(row))) else {
                    continue;
                };
                let dot = from.symbol() != " " && self.glyphs == Glyphs::Ascii;
                to.set_symbol(if dot { "#" } else { from.symbol() }).set_style(self.style);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::widgets::testing::{SIZES, draw};

    fn big(text: &str) -> Big<'_> {
        Big::new(text, Style::new())
    }

    #[test]
    fn it_grows_with_its_area() {
        let sizes = [(10, 3), (28, 4), (60, 4), (60, 8), (120, 20), (200, 60)]
            .map(|(width, height)| big("128/240").fit(Size { width, height }));
        let widths = sizes.map(|size| size.width);
        assert!(widths.is_sorted(), "{widths:?}");
        assert_eq!((sizes[0].width, sizes[0].height), (7, 1), "plain");
        assert!(sizes[1].width > 20 && sizes[1].height == 4, "quadrants: {:?}", sizes[1]);
        assert!(sizes[5].width > 100 && sizes[5].height > 20, "several cells a dot: {:?}", sizes[5]);
        for (size, (width, height)) in sizes.into_iter().zip([(10, 3), (28, 4), (60, 4), (60, 8), (120, 20), (200, 60)])
        {
            assert!(size.width <= width && size.height <= height);
        }
    }

    #[test]
    fn digits_are_drawn_in_blocks() {
        insta::assert_snapshot!(draw(big("47"), 8, 4).join("\n"), @"
         ▟█ █▀█
        ▟▘█  ▗▛
        ▀▀█▘ █
         ▝▀▘ ▀
        ");
        insta::assert_snapshot!(draw(big("7").glyphs(Glyphs::Ascii), 9, 8).join("\n"), @"
        ######
        ##  ##
            ##
           ##
          ##
          ##
          ##
        ");
    }

    #[test]
    fn without_room_it_is_plain_and_shows_when_it_is_cut() {
        assert_eq!(draw(big("128/240"), 20, 2), ["128/240", ""]);
        assert_eq!(draw(big("128/240").alignment(Alignment::Right), 20, 1), ["             128/240"]);
        assert_eq!(draw(big("128/240"), 5, 1), ["128/…"]);
        assert_eq!(draw(big("Größe"), 80, 24)[0], "Größe", "letters that the font may lack");
        assert_eq!(draw(big("a\u{1b}b"), 80, 24)[0], "a␛b");
    }

    #[test]
    fn ascii_draws_with_ascii() {
        for (columns, rows) in SIZES {
            let drawn = draw(big("128").glyphs(Glyphs::Ascii), columns, rows).concat();
            assert!(drawn.replace('…', "").is_ascii(), "{drawn}");
        }
    }

    #[test]
    fn it_never_becomes_larger_than_it_may() {
        let most = Size { width: 40, height: 8 };
        let size = big("128").at_most(most).fit(Size { width: 200, height: 60 });
        assert!(size.width <= 40 && size.height <= 8, "{size:?}");
    }

    #[test]
    fn no_area_is_too_small() {
        for (columns, rows) in SIZES {
            for text in ["", " ", "0", "STOP", "128/240", &"9".repeat(9000)] {
                for alignment in [Alignment::Left, Alignment::Center, Alignment::Right] {
                    draw(big(text).alignment(alignment), columns, rows);
                }
            }
        }
    }
}
