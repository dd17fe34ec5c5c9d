//! The keys that work now, on one line or a few.

use super::pen::Pen;
use crate::tui::keymap::Hint;
use crate::tui::theme::{Role, Theme};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::Widget;
use unicode_width::UnicodeWidthStr;

/// A key and what it does.
pub type KeyLabel = (String, String);

const GAP: usize = 2;

/// Draws keys and their labels. A pair is drawn whole or not at all; those that come first are the last to go.
#[derive(Debug, Clone, Copy)]
pub struct Footer<'a> {
    keys: &'a [KeyLabel],
    theme: &'a Theme,
}

/// The pairs for a footer: the first key of each hint that has a label.
#[must_use]
pub fn labels<A>(hints: &[Hint<A>]) -> Vec<KeyLabel> {
    hints
        .iter()
        .filter(|hint| !hint.label.is_empty())
        .filter_map(|hint| Some((hint.chords.first()?.to_string(), hint.label.to_owned())))
        .collect()
}

impl<'a> Footer<'a> {
    /// A footer of these pairs.
    #[must_use]
    pub const fn new(keys: &'a [KeyLabel], theme: &'a Theme) -> Self {
        Self { keys, theme }
    }

    /// How many rows show all pairs at this width.
    #[must_use]
    pub fn rows(&self, columns: u16) -> u16 {
        u16::try_from(lines(self.keys, usize::from(columns)).len()).unwrap_or(u16::MAX)
    }
}

fn lines(keys: &[KeyLabel], columns: usize) -> Vec<Vec<&KeyLabel>> {
    let mut lines: Vec<Vec<&KeyLabel>> = Vec::new();
    let mut used = 0;
    for pair in keys {
        let width = pair.0.width() + 1 + pair.1.width();
        match lines.last_mut() {
            Some(line) if used + GAP + width <= columns => {
                line.push(pair);
                used += GAP + width;
            }
            _ => {
                lines.push(vec![pair]);
                used = width;
            }
        }
    }
    lines
}

impl Widget for Footer<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        for (row, line) in (0..area.height).zip(lines(self.keys, usize::from(area.width))) {
            let Some(mut pen) = Pen::new(buffer, area, row) else { return };
            for (n, (key, label)) in line.into_iter().enumerate() {
                if n > 0 {
                    pen.blanks(GAP, self.theme.style(Role::Ink));
                }
                pen.write(key, self.theme.style(Role::Strong));
                pen.blanks(1, self.theme.style(Role::Ink));
                pen.write(label, self.theme.style(Role::Quiet));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::theme::Depth;
    use crate::tui::widgets::testing::{SIZES, draw};

    fn keys() -> Vec<KeyLabel> {
        [("space", "count"), ("u", "undo"), ("?", "help")].map(|(key, label)| (key.into(), label.into())).to_vec()
    }

    #[test]
    fn pairs_are_drawn_whole() {
        let (keys, theme) = (keys(), Theme::standard(Depth::None));
        let footer = Footer::new(&keys, &theme);
        assert_eq!(draw(footer, 40, 1), ["space count  u undo  ? help"]);
        assert_eq!(draw(footer, 24, 1), ["space count  u undo"]);
        assert_eq!(draw(footer, 24, 2), ["space count  u undo", "? help"]);
        assert_eq!((footer.rows(40), footer.rows(24), footer.rows(5)), (1, 2, 3));
    }

    #[test]
    fn no_area_is_too_small() {
        let (keys, theme) = (keys(), Theme::standard(Depth::None));
        for (columns, rows) in SIZES {
            draw(Footer::new(&keys, &theme), columns, rows);
        }
    }
}
