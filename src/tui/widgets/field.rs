//! A field of one line for text or a number, with its label, its unit and what is wrong with it.

use super::pen::Pen;
use crate::text::{fitted, shown};
use crate::tui::chord::{Chord, Key};
use crate::tui::theme::{Role, Theme};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};
use ratatui::widgets::Widget;
use unicode_segmentation::UnicodeSegmentation;
use unicode_width::UnicodeWidthStr;

/// What is typed in a field, and where the cursor is in it.
///
/// The text holds only characters that are safe to show: what is typed or pasted is made harmless on its way in.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct TextField {
    label: String,
    unit: String,
    max_graphemes: usize,
    text: String,
    /// In bytes, always at the edge of a grapheme.
    cursor: usize,
    error: Option<String>,
}

/// What a field did with a key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FieldAnswer {
    /// The text is another now.
    Changed,
    /// The cursor moved, or there was nothing to do.
    Taken,
    /// The field is full: nothing was typed.
    Full,
    /// The key is not for a field.
    NotMine,
}

impl TextField {
    /// An empty field that takes at most `max_graphemes` characters; `unit` may be empty.
    #[must_use]
    pub fn new(label: &str, unit: &str, max_graphemes: usize) -> Self {
        Self { label: shown(label), unit: shown(unit), max_graphemes, ..Self::default() }
    }

    /// The same field with a text in it, cut to what the field takes, and the cursor at its end.
    #[must_use]
    pub fn with_text(mut self, text: &str) -> Self {
        self.clear();
        self.paste(text);
        self
    }

    /// What is typed.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// What the field is for.
    #[must_use]
    pub fn label(&self) -> &str {
        &self.label
    }

    /// What is wrong with the text, if it has been judged.
    #[must_use]
    pub fn error(&self) -> Option<&str> {
        self.error.as_deref()
    }

    /// Says what is wrong with the text; the next change of the text takes it away.
    pub fn set_error(&mut self, error: impl AsRef<str>) {
        self.error = Some(shown(error.as_ref()));
    }

    /// Empties the field.
    pub fn clear(&mut self) {
        self.text.clear();
        self.cursor = 0;
        self.error = None;
    }

    /// Takes a key that was pressed or repeats; a release is not for a field.
    pub fn key(&mut self, chord: Chord) -> FieldAnswer {
        if let Some(c) = chord.typed() {
            return self.insert(c.encode_utf8(&mut [0; 4]));
        }
        let plain = !chord.alt && !chord.shift;
        match (chord.key, chord.ctrl) {
            (Key::Backspace, false) | (Key::Char('h'), true) if plain => self.remove(self.before()..self.cursor),
            (Key::Delete, false) | (Key::Char('d'), true) if plain => self.remove(self.cursor..self.after()),
            (Key::Char('u'), true) if plain => self.remove(0..self.cursor),
            (Key::Char('k'), true) if plain => self.remove(self.cursor..self.text.len()),
            (Key::Left, false) => self.go(self.before()),
            (Key::Right, false) => self.go(self.after()),
            (Key::Home, false) | (Key::Char('a'), true) => self.go(0),
            (Key::End, false) | (Key::Char('e'), true) => self.go(self.text.len()),
            _ => FieldAnswer::NotMine,
        }
    }

    /// Takes a paste as one change, as much of it as the field has room for.
    ///
    /// Line ends become spaces, so that a pasted line never answers anything.
    pub fn paste(&mut self, text: &str) -> FieldAnswer {
        self.insert(text.trim_end_matches(['\r', '\n']))
    }

    fn insert(&mut self, text: &str) -> FieldAnswer {
        let mut answer = if text.is_empty() { FieldAnswer::Taken } else { FieldAnswer::Full };
        // Grapheme by grapheme, so that a paste longer than the room is cut and not refused. Each one is tried in its
        // place, because it may join its neighbour and take no room at all, as an accent does.
        for grapheme in shown(text).graphemes(true) {
            let mut longer = self.text.clone();
            longer.insert_str(self.cursor, grapheme);
            if longer.graphemes(true).count() > self.max_graphemes {
                break;
            }
            self.text = longer;
            self.cursor = edge_at_or_after(&self.text, self.cursor + grapheme.len());
            self.error = None;
            answer = FieldAnswer::Changed;
        }
        answer
    }

    fn remove(&mut self, range: std::ops::Range<usize>) -> FieldAnswer {
        if range.is_empty() {
            return FieldAnswer::Taken;
        }
        let start = range.start;
        self.text.replace_range(range, "");
        // What stood apart may join now.
        self.cursor = edge_at_or_after(&self.text, start);
        self.error = None;
        FieldAnswer::Changed
    }

    const fn go(&mut self, to: usize) -> FieldAnswer {
        self.cursor = to;
        FieldAnswer::Taken
    }

    fn before(&self) -> usize {
        self.text.grapheme_indices(true).map(|(at, _)| at).take_while(|at| *at < self.cursor).last().unwrap_or(0)
    }

    fn after(&self) -> usize {
        edge_at_or_after(&self.text, self.cursor.saturating_add(1))
    }

    /// The part of the text that `columns` can show with the cursor in it: text before the cursor, at it, after it.
    fn window(&self, columns: usize) -> (&str, &str, &str) {
        let after = self.after();
        let under = self.text.get(self.cursor..after).unwrap_or_default();
        let room = columns.saturating_sub(under.width().max(1));
        let mut start = self.cursor;
        for (at, _) in self.text.grapheme_indices(true).rev().skip_while(|(at, _)| *at >= self.cursor) {
            if self.text.get(at..self.cursor).is_none_or(|part| part.width() > room) {
                break;
            }
            start = at;
        }
        let before = self.text.get(start..self.cursor).unwrap_or_default();
        let room = room.saturating_sub(before.width());
        let mut end = after;
        for (at, grapheme) in self.text.grapheme_indices(true).skip_while(|(at, _)| *at < after) {
            if self.text.get(after..at + grapheme.len()).is_none_or(|part| part.width() > room) {
                break;
            }
            end = at + grapheme.len();
        }
        (before, under, self.text.get(after..end).unwrap_or_default())
    }
}

/// The first edge of a grapheme at or after this byte.
fn edge_at_or_after(text: &str, byte: usize) -> usize {
    text.grapheme_indices(true).map(|(at, _)| at).find(|at| *at >= byte).unwrap_or(text.len())
}

/// Draws a field: `label [text     ] unit`, and below it what is wrong.
#[derive(Debug, Clone, Copy)]
pub struct FieldView<'a> {
    field: &'a TextField,
    theme: &'a Theme,
    focused: bool,
    label_columns: u16,
}

impl<'a> FieldView<'a> {
    /// The rows that a field takes with its error line.
    pub const ROWS: u16 = 2;

    /// A view without focus.
    #[must_use]
    pub const fn new(field: &'a TextField, theme: &'a Theme) -> Self {
        Self { field, theme, focused: false, label_columns: 0 }
    }

    /// Shows the cursor.
    #[must_use]
    pub const fn focused(mut self, focused: bool) -> Self {
        self.focused = focused;
        self
    }

    /// Gives the label this many columns, so that the fields of a form stand in line.
    #[must_use]
    pub const fn label_columns(mut self, columns: u16) -> Self {
        self.label_columns = columns;
        self
    }
}

impl Widget for FieldView<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let Self { field, theme, focused, label_columns } = self;
        let Some(mut pen) = Pen::new(buffer, area, 0) else { return };
        let label = if focused { Role::Strong } else { Role::Ink };
        let wanted = field.label.width().max(usize::from(label_columns));
        // A field that is too narrow for both keeps what is typed.
        let label_room = wanted.min(usize::from(area.width / 2));
        if label_room > 0 {
            let shown_label = fitted(&field.label, label_room);
            let pad = label_room.saturating_sub(shown_label.width()) + 1;
            pen.write(&shown_label, theme.style(label));
            pen.blanks(pad, theme.style(label));
        }
        pen.write(if focused { ">" } else { "[" }, theme.style(label));
        let unit_room = if field.unit.is_empty() { 0 } else { field.unit.width() + 1 };
        let room = pen.left().saturating_sub(unit_room + 1).min(field.max_graphemes.saturating_add(1)).max(1);
        let (before, under, after) = field.window(room);
        let style = theme.style(Role::Field);
        let used = before.width() + under.width().max(1) + after.width();
        pen.write(before, style);
        let under = if under.is_empty() { " " } else { under };
        pen.write(under, if focused { cursor(style) } else { style });
        pen.write(after, style);
        pen.blanks(room.saturating_sub(used), style);
        pen.write(if focused { "<" } else { "]" }, theme.style(label));
        if !field.unit.is_empty() {
            pen.write(" ", theme.style(Role::Ink));
            pen.write(&field.unit, theme.style(Role::Quiet));
        }
        if let Some(error) = &field.error
            && let Some(mut pen) = Pen::new(buffer, area, 1)
        {
            pen.write(&fitted(&format!("! {error}"), pen.left()), theme.style(Role::Lower));
        }
    }
}

fn cursor(style: Style) -> Style {
    style.add_modifier(Modifier::REVERSED).remove_modifier(Modifier::UNDERLINED)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::theme::Depth;
    use crate::tui::widgets::testing::{SIZES, draw};
    use proptest::prelude::*;

    fn keys(field: &mut TextField, names: &str) {
        for name in names.split(' ') {
            field.key(name.parse().unwrap());
        }
    }

    fn view(field: &TextField, columns: u16, rows: u16, focused: bool) -> Vec<String> {
        let theme = Theme::standard(Depth::Sixteen);
        draw(FieldView::new(field, &theme).focused(focused), columns, rows)
    }

    #[test]
    fn typing_moving_and_removing_work_by_whole_characters() {
        let mut field = TextField::new("Note", "", 20);
        keys(&mut field, "a é 漢 left left X");
        assert_eq!(field.text(), "aXé漢");
        keys(&mut field, "right delete backspace home delete end backspace backspace");
        assert_eq!(field.text(), "");
        let mut field = field.with_text("e\u{301}🇩🇪👩‍🔬z");
        keys(&mut field, "left backspace");
        assert!(field.text().starts_with("e\u{301}🇩🇪") && field.text().ends_with('z'), "{}", field.text());
    }

    #[test]
    fn a_paste_is_one_harmless_change_cut_to_the_room() {
        let mut field = TextField::new("Note", "", 12);
        assert_eq!(field.paste("a\tb\r\nc\u{1b}[2J\r\n"), FieldAnswer::Changed);
        assert_eq!(field.text(), "a b  c␛[2J");
        assert_eq!(field.paste("0123456789"), FieldAnswer::Changed);
        assert_eq!(field.text(), "a b  c␛[2J01");
        assert_eq!(field.paste("x"), FieldAnswer::Full);
        assert_eq!(field.key(Chord::char('x')), FieldAnswer::Full);
        keys(&mut field, "home ctrl-k");
        assert_eq!(field.paste("\n"), FieldAnswer::Taken);
        assert_eq!(field.text(), "");
    }

    #[test]
    fn keys_of_the_screen_are_left_to_it() {
        let mut field = TextField::new("Fluence", "J/cm2", 6);
        for name in ["enter", "esc", "tab", "shift-tab", "up", "f1", "ctrl-l", "alt-x"] {
            assert_eq!(field.key(name.parse().unwrap()), FieldAnswer::NotMine, "{name}");
        }
        assert_eq!(field.key(Chord::char('2')), FieldAnswer::Changed);
        assert_eq!(field.key(Chord::key(Key::Left)), FieldAnswer::Taken);
    }

    #[test]
    fn an_error_stays_until_the_text_changes() {
        let mut field = TextField::new("Fluence", "J/cm2", 6).with_text("9");
        field.set_error("9 is above\u{1b} 4 J/cm2");
        assert_eq!(field.error(), Some("9 is above␛ 4 J/cm2"));
        keys(&mut field, "left end");
        assert!(field.error().is_some());
        keys(&mut field, "backspace");
        assert_eq!(field.error(), None);
    }

    #[test]
    fn it_shows_label_text_unit_and_error() {
        let mut field = TextField::new("Fluence", "J/cm2", 6).with_text("2.5");
        assert_eq!(view(&field, 40, 2, false), ["Fluence [2.5    ] J/cm2", ""]);
        field.set_error("the display must show 2.0");
        assert_eq!(view(&field, 40, 2, true), ["Fluence >2.5    < J/cm2", "! the display must show 2.0"]);
        assert_eq!(view(&field, 40, 1, true), ["Fluence >2.5    < J/cm2"]);
    }

    #[test]
    fn labels_of_a_form_stand_in_line() {
        let theme = Theme::standard(Depth::Sixteen);
        let field = TextField::new("Größe", "mm", 4).with_text("3");
        assert_eq!(draw(FieldView::new(&field, &theme).label_columns(9), 40, 1), ["Größe     [3    ] mm"]);
    }

    #[test]
    fn a_long_text_scrolls_with_its_cursor() {
        let mut field = TextField::new("Note", "", 60).with_text("0123456789abcdefghij");
        assert_eq!(view(&field, 16, 1, true), ["Note >cdefghij <"]);
        keys(&mut field, "home");
        assert_eq!(view(&field, 16, 1, true), ["Note >012345678<"]);
        let mut wide = TextField::new("", "", 60).with_text("漢字漢字漢字");
        keys(&mut wide, "left");
        assert_eq!(view(&wide, 9, 1, true), [">字漢字 <"]);
    }

    #[test]
    fn no_area_is_too_small() {
        let mut field = TextField::new("Fluence", "J/cm2", 6).with_text("漢2.5");
        field.set_error("too high");
        for (columns, rows) in SIZES {
            for focused in [false, true] {
                view(&field, columns, rows, focused);
            }
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn any_keys_and_pastes_keep_the_cursor_on_an_edge(
            steps in prop::collection::vec(("\\PC{0,3}|[e\u{301}\u{308}🇩🇪👩\u{200d}🔬]{0,4}", 0usize..7), 0..40),
            max in 0usize..12,
            columns in 0u16..30,
        ) {
            let mut field = TextField::new("L", "u", max);
            for (text, step) in steps {
                let key = ["left", "right", "home", "end", "backspace", "delete", "ctrl-u"][step];
                field.key(key.parse().unwrap());
                field.paste(&text);
                let edges = field.text.grapheme_indices(true).map(|(at, _)| at).chain([field.text.len()]);
                prop_assert!(edges.into_iter().any(|at| at == field.cursor));
                prop_assert!(field.text.graphemes(true).count() <= max);
                prop_assert_eq!(shown(&field.text), field.text.clone());
                view(&field, columns, 2, true);
            }
        }
    }
}
