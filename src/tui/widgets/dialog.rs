//! A question in a box over the screen, and when its answer may be believed.

use super::footer::{Footer, KeyLabel};
use super::pen::Pen;
use crate::text::{fitted, shown, wrapped};
use crate::tui::theme::{Glyphs, Role, Theme};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::symbols::border;
use ratatui::widgets::{Block, Clear, Widget};
use unicode_width::UnicodeWidthStr;

/// A key typed this soon after a question first appeared was typed before it was read.
pub const SETTLE_MS: u64 = 300;

/// Remembers when a question was first seen, so that keys typed ahead do not answer it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Question {
    drawn_at_ms: Option<u64>,
}

impl Question {
    /// A question that nobody has seen.
    #[must_use]
    pub const fn new() -> Self {
        Self { drawn_at_ms: None }
    }

    /// Call after each frame that shows it; the first call counts.
    pub const fn drawn(&mut self, at_ms: u64) {
        if self.drawn_at_ms.is_none() {
            self.drawn_at_ms = Some(at_ms);
        }
    }

    /// True when a key with this stamp may answer: it was typed long enough after the question was first drawn.
    #[must_use]
    pub const fn accepts(&self, key_ms: u64) -> bool {
        match self.drawn_at_ms {
            Some(drawn) => key_ms >= drawn.saturating_add(SETTLE_MS),
            None => false,
        }
    }
}

/// Draws a question: title, text, and the keys that answer it. The keys are always drawn first of all; what has no
/// room of the text ends in `…`.
#[derive(Debug, Clone, Copy)]
pub struct Dialog<'a> {
    title: &'a str,
    body: &'a str,
    keys: &'a [KeyLabel],
    theme: &'a Theme,
    role: Role,
    glyphs: Glyphs,
    max_columns: u16,
}

impl<'a> Dialog<'a> {
    /// A dialog; the line ends of `body` are kept.
    #[must_use]
    pub const fn new(title: &'a str, body: &'a str, keys: &'a [KeyLabel], theme: &'a Theme) -> Self {
        Self { title, body, keys, theme, role: Role::Strong, glyphs: Glyphs::Unicode, max_columns: 64 }
    }

    /// The role of the title, such as [`Role::Stop`].
    #[must_use]
    pub const fn role(mut self, role: Role) -> Self {
        self.role = role;
        self
    }

    /// The characters of the frame.
    #[must_use]
    pub const fn glyphs(mut self, glyphs: Glyphs) -> Self {
        self.glyphs = glyphs;
        self
    }

    /// How wide it may become.
    #[must_use]
    pub const fn max_columns(mut self, columns: u16) -> Self {
        self.max_columns = columns;
        self
    }

    /// Where it will be drawn within `area`.
    #[must_use]
    pub fn place(&self, area: Rect) -> Rect {
        let width = area.width.min(self.max_columns);
        let inner = width.saturating_sub(FRAME_COLUMNS);
        let body = u16::try_from(self.lines(inner).len()).unwrap_or(u16::MAX);
        let keys = Footer::new(self.keys, self.theme).rows(inner);
        let wanted = body.saturating_add(keys).saturating_add(FRAME_ROWS + 1);
        let height = area.height.min(wanted);
        Rect {
            x: area.x.saturating_add(area.width.saturating_sub(width) / 2),
            y: area.y.saturating_add(area.height.saturating_sub(height) / 2),
            width,
            height,
        }
    }

    fn lines(&self, columns: u16) -> Vec<String> {
        self.body
            .lines()
            .flat_map(|line| {
                let lines = wrapped(&shown(line), usize::from(columns));
                if lines.is_empty() { vec![String::new()] } else { lines }
            })
            .collect()
    }
}

/// Two lines and two blanks.
const FRAME_COLUMNS: u16 = 4;

/// Two lines.
const FRAME_ROWS: u16 = 2;

/// Below this a frame would take more than it gives.
const LEAST_FRAMED: (u16, u16) = (16, 5);

/// A frame of characters that every font has.
pub const ASCII_BORDER: border::Set<'_> = border::Set {
    top_left: "+",
    top_right: "+",
    bottom_left: "+",
    bottom_right: "+",
    vertical_left: "|",
    vertical_right: "|",
    horizontal_top: "-",
    horizontal_bottom: "-",
};

impl Widget for Dialog<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let place = self.place(area.intersection(buffer.area));
        if place.is_empty() {
            return;
        }
        Clear.render(place, buffer);
        buffer.set_style(place, self.theme.style(Role::Ink));
        let inner = if place.width >= LEAST_FRAMED.0 && place.height >= LEAST_FRAMED.1 {
            let set = match self.glyphs {
                Glyphs::Unicode => border::DOUBLE,
                Glyphs::Ascii => ASCII_BORDER,
            };
            Block::bordered().border_set(set).border_style(self.theme.style(Role::Edge)).render(place, buffer);
            if let Some(mut pen) = Pen::new(buffer, Rect { x: place.x + 2, width: place.width - 4, ..place }, 0) {
                pen.write(&fitted(&format!(" {} ", shown(self.title)), pen.left()), self.theme.style(self.role));
            }
            Rect { x: place.x + 2, y: place.y + 1, width: place.width - 4, height: place.height - 2 }
        } else {
            place
        };
        let keys = Footer::new(self.keys, self.theme);
        let keys_height = keys.rows(inner.width).min(inner.height);
        let keys_area = Rect { y: inner.bottom().saturating_sub(keys_height), height: keys_height, ..inner };
        keys.render(keys_area, buffer);
        let mut above = Rect { height: inner.height.saturating_sub(keys_height), ..inner };
        if inner == place
            && let Some(mut pen) = Pen::new(buffer, above, 0)
        {
            pen.write(&fitted(&shown(self.title), pen.left()), self.theme.style(self.role));
            above = Rect { y: above.y.saturating_add(1), height: above.height.saturating_sub(1), ..above };
        }
        self.render_body(above, buffer);
    }
}

impl Dialog<'_> {
    fn render_body(&self, area: Rect, buffer: &mut Buffer) {
        let lines = self.lines(area.width);
        let cut = lines.len() > usize::from(area.height);
        for (row, line) in (0..area.height).zip(lines) {
            let Some(mut pen) = Pen::new(buffer, area, row) else { return };
            let line = if cut && row + 1 == area.height { marked_cut(&line, pen.left()) } else { line };
            pen.write(&fitted(&line, pen.left()), self.theme.style(Role::Ink));
        }
    }
}

/// The last line of a text that goes on: whole words and `…`, since half a number is a wrong number.
fn marked_cut(line: &str, columns: usize) -> String {
    let mut words = line;
    while words.width() + 2 > columns {
        match words.rsplit_once(' ') {
            Some((fewer, _)) => words = fewer,
            None => return fitted(&format!("{line} …"), columns),
        }
    }
    format!("{words} …")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::theme::Depth;
    use crate::tui::widgets::testing::{SIZES, draw};

    const BODY: &str = "The display shows 2.5 J/cm2 at 3 mm.\nThe plan says 2.0 J/cm2 at 4 mm.";

    fn keys() -> Vec<KeyLabel> {
        [("l", "lower"), ("d", "decline with a reason")].map(|(key, label)| (key.into(), label.into())).to_vec()
    }

    fn drawn(columns: u16, rows: u16, glyphs: Glyphs) -> String {
        let (keys, theme) = (keys(), Theme::standard(Depth::None));
        draw(Dialog::new("Lower?", BODY, &keys, &theme).glyphs(glyphs).max_columns(42), columns, rows).join("\n")
    }

    #[test]
    fn a_key_typed_before_the_question_was_seen_does_not_answer_it() {
        let mut question = Question::new();
        assert!(!question.accepts(5000), "not drawn yet");
        question.drawn(1000);
        question.drawn(1200);
        for (key_ms, accepted) in [(0, false), (999, false), (1299, false), (1300, true), (9000, true)] {
            assert_eq!(question.accepts(key_ms), accepted, "{key_ms}");
        }
        question.drawn(u64::MAX);
        assert!(Question { drawn_at_ms: Some(u64::MAX) }.accepts(u64::MAX));
    }

    #[test]
    fn it_is_centred_with_its_keys_at_the_foot() {
        insta::assert_snapshot!(drawn(46, 9, Glyphs::Ascii), @r"

          +- Lower? -------------------------------+
          | The display shows 2.5 J/cm2 at 3 mm.   |
          | The plan says 2.0 J/cm2 at 4 mm.       |
          |                                        |
          | l lower  d decline with a reason       |
          +----------------------------------------+
        ");
    }

    #[test]
    fn with_little_room_the_keys_stay() {
        insta::assert_snapshot!(drawn(30, 4, Glyphs::Unicode), @r"
        Lower?
        The display shows 2.5 J/cm2 …
        l lower
        d decline with a reason
        ");
        assert!(drawn(40, 1, Glyphs::Unicode).contains("l lower"));
    }

    #[test]
    fn control_characters_in_its_text_are_made_visible() {
        let (keys, theme) = (keys(), Theme::standard(Depth::None));
        let told = draw(Dialog::new("a\u{1b}[2J", "b\u{7}", &keys, &theme), 60, 9).join("\n");
        assert!(told.contains("a␛[2J") && told.contains("b␇"), "{told}");
    }

    #[test]
    fn no_area_is_too_small() {
        for (columns, rows) in SIZES {
            drawn(columns, rows, Glyphs::Unicode);
        }
    }
}
