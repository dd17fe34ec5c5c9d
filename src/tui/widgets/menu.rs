//! A short list of choices, each with a letter of its own.

use super::pen::Pen;
use crate::text::{fitted, shown};
use crate::tui::chord::{Chord, Key};
use crate::tui::theme::{Role, Theme};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::Widget;
use unicode_width::UnicodeWidthStr;

/// One choice.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MenuItem {
    /// The letter that chooses it at once.
    pub key: char,
    /// What it is.
    pub label: String,
    /// More about it, such as why it cannot be chosen; may be empty.
    pub note: String,
    /// False when it is shown but cannot be chosen.
    pub enabled: bool,
}

impl MenuItem {
    /// A choice without a note.
    #[must_use]
    pub fn new(key: char, label: &str) -> Self {
        Self { key, label: shown(label), note: String::new(), enabled: true }
    }

    /// With a note.
    #[must_use]
    pub fn note(mut self, note: &str) -> Self {
        self.note = shown(note);
        self
    }

    /// Shown, but not to be chosen.
    #[must_use]
    pub const fn disabled(mut self) -> Self {
        self.enabled = false;
        self
    }
}

/// A list of choices and the one that is marked.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Menu {
    items: Vec<MenuItem>,
    marked: usize,
}

/// What a menu did with a key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MenuAnswer {
    /// This item was chosen.
    Chosen(usize),
    /// The mark moved, or the item cannot be chosen.
    Taken,
    /// The key is not for a menu.
    NotMine,
}

impl Menu {
    /// A menu with its first choice marked.
    #[must_use]
    pub fn new(items: Vec<MenuItem>) -> Self {
        let marked = items.iter().position(|item| item.enabled).unwrap_or(0);
        Self { items, marked }
    }

    /// Its items.
    #[must_use]
    pub fn items(&self) -> &[MenuItem] {
        &self.items
    }

    /// The index of the marked item.
    #[must_use]
    pub const fn marked(&self) -> usize {
        self.marked
    }

    /// Takes a key: a letter chooses, up and down move the mark past what cannot be chosen, enter chooses the marked.
    pub fn key(&mut self, chord: Chord) -> MenuAnswer {
        if let Some(c) = chord.typed()
            && let Some(n) = self.items.iter().position(|item| item.key == c)
        {
            return self.choose(n);
        }
        match chord {
            Chord { key: Key::Enter, ctrl: false, alt: false, shift: false } => self.choose(self.marked),
            Chord { key: Key::Up, .. } => self.go((0..self.marked).rev()),
            Chord { key: Key::Down, .. } => self.go(self.marked + 1..self.items.len()),
            Chord { key: Key::Home, .. } => self.go(0..self.items.len()),
            Chord { key: Key::End, .. } => self.go((0..self.items.len()).rev()),
            _ => MenuAnswer::NotMine,
        }
    }

    fn choose(&mut self, n: usize) -> MenuAnswer {
        if self.items.get(n).is_none_or(|item| !item.enabled) {
            return MenuAnswer::Taken;
        }
        self.marked = n;
        MenuAnswer::Chosen(n)
    }

    fn go(&mut self, mut candidates: impl Iterator<Item = usize>) -> MenuAnswer {
        if let Some(n) = candidates.find(|n| self.items.get(*n).is_some_and(|item| item.enabled)) {
            self.marked = n;
        }
        MenuAnswer::Taken
    }
}

/// Draws a menu, one item a row, scrolled so that the marked item is seen.
#[derive(Debug, Clone, Copy)]
pub struct MenuView<'a> {
    menu: &'a Menu,
    theme: &'a Theme,
}

impl<'a> MenuView<'a> {
    /// A view of a menu.
    #[must_use]
    pub const fn new(menu: &'a Menu, theme: &'a Theme) -> Self {
        Self { menu, theme }
    }
}

impl Widget for MenuView<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let Self { menu, theme } = self;
        let first = (menu.marked + 1).saturating_sub(usize::from(area.height));
        let labels = menu.items.iter().map(|item| item.label.width()).max().unwrap_or(0);
        for (row, (n, item)) in (0..area.height).zip(menu.items.iter().enumerate().skip(first)) {
            let Some(mut pen) = Pen::new(buffer, area, row) else { return };
            let marked = n == menu.marked && item.enabled;
            let text = theme.style(match (marked, item.enabled) {
                (true, _) => Role::Selected,
                (false, true) => Role::Ink,
                (false, false) => Role::Quiet,
            });
            let key = if item.enabled { theme.style(Role::Strong) } else { text };
            pen.write(if marked { "> " } else { "  " }, theme.style(Role::Strong));
            pen.write(&if item.enabled { item.key.to_string() } else { "-".to_owned() }, key);
            pen.blanks(2, theme.style(Role::Ink));
            let label = fitted(&item.label, pen.left());
            pen.write(&label, text);
            if !item.note.is_empty() && pen.left() > 2 {
                pen.blanks(labels.saturating_sub(label.width()) + 2, theme.style(Role::Ink));
                pen.write(&fitted(&item.note, pen.left()), theme.style(Role::Quiet));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::theme::Depth;
    use crate::tui::widgets::testing::{SIZES, draw};

    fn menu() -> Menu {
        Menu::new(vec![
            MenuItem::new('r', "Resume").note("no open session").disabled(),
            MenuItem::new('t', "Treat"),
            MenuItem::new('p', "Practise").note("simulated skin"),
            MenuItem::new('v', "Review"),
        ])
    }

    fn press(menu: &mut Menu, key: &str) -> MenuAnswer {
        menu.key(key.parse().unwrap())
    }

    #[test]
    fn letters_choose_and_arrows_pass_what_cannot_be_chosen() {
        let mut menu = menu();
        assert_eq!(menu.marked(), 1);
        assert_eq!(press(&mut menu, "r"), MenuAnswer::Taken);
        assert_eq!(press(&mut menu, "up"), MenuAnswer::Taken);
        assert_eq!(menu.marked(), 1);
        press(&mut menu, "down");
        assert_eq!(press(&mut menu, "enter"), MenuAnswer::Chosen(2));
        assert_eq!(press(&mut menu, "v"), MenuAnswer::Chosen(3));
        press(&mut menu, "down");
        assert_eq!(menu.marked(), 3);
        press(&mut menu, "home");
        assert_eq!(menu.marked(), 1);
        for key in ["x", "esc", "ctrl-t", "space"] {
            assert_eq!(press(&mut menu, key), MenuAnswer::NotMine, "{key}");
        }
    }

    #[test]
    fn an_empty_menu_chooses_nothing() {
        let mut menu = Menu::new(Vec::new());
        for key in ["enter", "up", "down", "home", "end"] {
            assert_eq!(press(&mut menu, key), MenuAnswer::Taken, "{key}");
        }
    }

    #[test]
    fn the_mark_is_a_sign_and_not_only_a_colour() {
        let (menu, theme) = (menu(), Theme::standard(Depth::None));
        insta::assert_snapshot!(draw(MenuView::new(&menu, &theme), 40, 5).join("\n"), @r"
          -  Resume    no open session
        > t  Treat
          p  Practise  simulated skin
          v  Review
        ");
    }

    #[test]
    fn the_marked_item_is_always_seen() {
        let (mut menu, theme) = (menu(), Theme::standard(Depth::None));
        press(&mut menu, "v");
        assert_eq!(draw(MenuView::new(&menu, &theme), 30, 2), ["  p  Practise  simulated skin", "> v  Review"]);
    }

    #[test]
    fn no_area_is_too_small() {
        let theme = Theme::standard(Depth::Sixteen);
        for (columns, rows) in SIZES {
            draw(MenuView::new(&menu(), &theme), columns, rows);
            draw(MenuView::new(&Menu::default(), &theme), columns, rows);
        }
    }
}
