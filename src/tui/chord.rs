//! One name for each key, whatever the terminal calls it.
//!
//! Terminals disagree: a capital W comes as `W`, as `W` with shift or as `w` with shift; shift-tab has a code of its
//! own; a keypad digit is a digit or a key apart. A [`Chord`] is the one form that key tables use and people read.

use crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use std::fmt;
use std::str::FromStr;

/// A key without its modifiers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Key {
    /// A character; a capital is its own character, not shift and a letter.
    Char(char),
    /// The return key, also that of the keypad.
    Enter,
    /// Escape.
    Esc,
    /// Tab.
    Tab,
    /// Backspace.
    Backspace,
    /// Forward delete.
    Delete,
    /// Insert.
    Insert,
    /// Home.
    Home,
    /// End.
    End,
    /// Page up.
    PageUp,
    /// Page down.
    PageDown,
    /// Cursor up.
    Up,
    /// Cursor down.
    Down,
    /// Cursor left.
    Left,
    /// Cursor right.
    Right,
    /// A function key, 1 to 35.
    F(u8),
}

/// A key and the modifiers held with it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Chord {
    /// The key.
    pub key: Key,
    /// Control is held.
    pub ctrl: bool,
    /// Alt is held.
    pub alt: bool,
    /// Shift is held; never with a character, whose shifted form is a character of its own.
    pub shift: bool,
}

/// What happened to the key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stroke {
    /// It went down. Terminals without key reports send this for repeats too.
    Press,
    /// It is held and repeats.
    Repeat,
    /// It came up.
    Release,
}

/// Keys with a name; the first name of a key is the one that is shown.
const NAMES: [(&str, Key); 21] = [
    ("space", Key::Char(' ')),
    ("enter", Key::Enter),
    ("return", Key::Enter),
    ("esc", Key::Esc),
    ("escape", Key::Esc),
    ("tab", Key::Tab),
    ("backspace", Key::Backspace),
    ("delete", Key::Delete),
    ("del", Key::Delete),
    ("insert", Key::Insert),
    ("home", Key::Home),
    ("end", Key::End),
    ("page-up", Key::PageUp),
    ("pageup", Key::PageUp),
    ("page-down", Key::PageDown),
    ("pagedown", Key::PageDown),
    ("up", Key::Up),
    ("down", Key::Down),
    ("left", Key::Left),
    ("right", Key::Right),
    ("minus", Key::Char('-')),
];

impl Chord {
    /// A key alone.
    #[must_use]
    pub const fn key(key: Key) -> Self {
        Self { key, ctrl: false, alt: false, shift: false }
    }

    /// A character alone.
    #[must_use]
    pub const fn char(c: char) -> Self {
        Self::key(Key::Char(c))
    }

    /// The character that this chord types into a text field, if it types one.
    #[must_use]
    pub const fn typed(self) -> Option<char> {
        match self.key {
            Key::Char(c) if !self.ctrl && !self.alt => Some(c),
            _ => None,
        }
    }

    /// Reads a terminal's key; `None` for keys that no table uses, such as a modifier alone or a media key.
    #[must_use]
    pub fn read(event: &KeyEvent) -> Option<(Self, Stroke)> {
        let stroke = match event.kind {
            KeyEventKind::Press => Stroke::Press,
            KeyEventKind::Repeat => Stroke::Repeat,
            KeyEventKind::Release => Stroke::Release,
        };
        let mut shift = event.modifiers.contains(KeyModifiers::SHIFT);
        let key = match event.code {
            KeyCode::Char(c) => Key::Char(c),
            KeyCode::Enter => Key::Enter,
            KeyCode::Esc => Key::Esc,
            KeyCode::Tab => Key::Tab,
            KeyCode::BackTab => {
                shift = true;
                Key::Tab
            }
            KeyCode::Backspace => Key::Backspace,
            KeyCode::Delete => Key::Delete,
            KeyCode::Insert => Key::Insert,
            KeyCode::Home => Key::Home,
            KeyCode::End => Key::End,
            KeyCode::PageUp => Key::PageUp,
            KeyCode::PageDown => Key::PageDown,
            KeyCode::Up => Key::Up,
            KeyCode::Down => Key::Down,
            KeyCode::Left => Key::Left,
            KeyCode::Right => Key::Right,
            KeyCode::F(n) => Key::F(n),
            // The middle of the keypad, with its number lock off.
            KeyCode::KeypadBegin => Key::Char('5'),
            _ => return None,
        };
        let ctrl = event.modifiers.contains(KeyModifiers::CONTROL);
        let alt = event.modifiers.contains(KeyModifiers::ALT);
        Some((Self { key, ctrl, alt, shift }.normal(), stroke))
    }

    /// The same chord in its one form: characters carry their shift themselves, control knows no capitals.
    fn normal(mut self) -> Self {
        if let Key::Char(c) = self.key {
            let c = if self.ctrl {
                c.to_ascii_lowercase()
            } else if self.shift {
                upper(c)
            } else {
                c
            };
            self.key = Key::Char(c);
            self.shift = false;
        }
        self
    }
}

/// The capital, when it is one character.
fn upper(c: char) -> char {
    let mut upper = c.to_uppercase();
    match (upper.next(), upper.next()) {
        (Some(one), None) => one,
        _ => c,
    }
}

impl fmt::Display for Chord {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut name = String::new();
        for (held, modifier) in [(self.ctrl, "ctrl-"), (self.alt, "alt-"), (self.shift, "shift-")] {
            if held {
                name.push_str(modifier);
            }
        }
        match self.key {
            Key::F(n) => name.push_str(&format!("f{n}")),
            Key::Char('-') => name.push('-'),
            key => match (NAMES.iter().find(|(_, named)| *named == key), key) {
                (Some((named, _)), _) => name.push_str(named),
                (None, Key::Char(c)) => name.push(c),
                (None, _) => {}
            },
        }
        f.pad(&name)
    }
}

/// A key name that is not one.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{name}` is not a key: write one character, or a name such as space, enter, f1, ctrl-l or shift-tab{}",
    .nearest.as_ref().map(|near| format!("; nearest known: {near}")).unwrap_or_default())]
pub struct UnknownKey {
    /// The name as it was written, made safe to show.
    pub name: String,
    /// The known name nearest to it, if one is near.
    pub nearest: Option<String>,
}

impl FromStr for Chord {
    type Err = UnknownKey;

    /// Reads `ctrl-l`, `space`, `f1`, `?`, `W`, `shift-tab`.
    fn from_str(text: &str) -> Result<Self, UnknownKey> {
        let mut chord = Self::char(' ');
        let mut rest = text;
        loop {
            let (held, after) = if let Some(after) = rest.strip_prefix("ctrl-") {
                (&mut chord.ctrl, after)
            } else if let Some(after) = rest.strip_prefix("alt-") {
                (&mut chord.alt, after)
            } else if let Some(after) = rest.strip_prefix("shift-") {
                (&mut chord.shift, after)
            } else {
                break;
            };
            *held = true;
            rest = after;
        }
        chord.key = key_named(rest).ok_or_else(|| unknown(text, rest))?;
        Ok(chord.normal())
    }
}

fn key_named(name: &str) -> Option<Key> {
    let mut chars = name.chars();
    if let (Some(c), None) = (chars.next(), chars.next()) {
        return (!c.is_control()).then_some(Key::Char(c));
    }
    if let Some((_, key)) = NAMES.iter().find(|(known, _)| *known == name) {
        return Some(*key);
    }
    let number = name.strip_prefix('f')?.parse().ok()?;
    (1..=35).contains(&number).then_some(Key::F(number))
}

fn unknown(text: &str, key: &str) -> UnknownKey {
    let nearest = NAMES
        .iter()
        .map(|(known, _)| (strsim::damerau_levenshtein(key, known), *known))
        .min()
        .filter(|(distance, _)| *distance <= 2)
        .map(|(_, known)| known.to_owned());
    UnknownKey { name: crate::text::shown(text), nearest }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crossterm::event::KeyEventState;
    use proptest::prelude::*;

    fn read(code: KeyCode, modifiers: KeyModifiers) -> String {
        Chord::read(&KeyEvent::new(code, modifiers)).unwrap().0.to_string()
    }

    #[test]
    fn one_key_has_one_name_in_every_terminal() {
        const SHIFT: KeyModifiers = KeyModifiers::SHIFT;
        const NONE: KeyModifiers = KeyModifiers::NONE;
        const CTRL: KeyModifiers = KeyModifiers::CONTROL;
        for (code, modifiers, name) in [
            (KeyCode::Char('W'), SHIFT, "W"),
            (KeyCode::Char('W'), NONE, "W"),
            (KeyCode::Char('w'), SHIFT, "W"),
            (KeyCode::Char('?'), NONE, "?"),
            (KeyCode::Char('?'), SHIFT, "?"),
            (KeyCode::Char(' '), NONE, "space"),
            (KeyCode::Char(' '), SHIFT, "space"),
            (KeyCode::BackTab, SHIFT, "shift-tab"),
            (KeyCode::BackTab, NONE, "shift-tab"),
            (KeyCode::Tab, SHIFT, "shift-tab"),
            (KeyCode::Tab, NONE, "tab"),
            (KeyCode::Char('l'), CTRL, "ctrl-l"),
            (KeyCode::Char('L'), CTRL.union(SHIFT), "ctrl-l"),
            (KeyCode::Up, SHIFT, "shift-up"),
            (KeyCode::F(1), NONE, "f1"),
            (KeyCode::Char('-'), NONE, "-"),
            (KeyCode::Char('ß'), SHIFT, "ß"),
            (KeyCode::Char('x'), KeyModifiers::ALT, "alt-x"),
        ] {
            assert_eq!(read(code, modifiers), name, "{code:?} {modifiers:?}");
        }
    }

    #[test]
    fn a_keypad_digit_is_that_digit() {
        let event = KeyEvent { state: KeyEventState::KEYPAD, ..KeyEvent::new(KeyCode::Char('7'), KeyModifiers::NONE) };
        assert_eq!(Chord::read(&event), Some((Chord::char('7'), Stroke::Press)));
        assert_eq!(read(KeyCode::KeypadBegin, KeyModifiers::NONE), "5");
    }

    #[test]
    fn strokes_are_told_apart_and_modifiers_alone_are_no_keys() {
        for (kind, stroke) in [
            (KeyEventKind::Press, Stroke::Press),
            (KeyEventKind::Repeat, Stroke::Repeat),
            (KeyEventKind::Release, Stroke::Release),
        ] {
            let event = KeyEvent::new_with_kind(KeyCode::Enter, KeyModifiers::NONE, kind);
            assert_eq!(Chord::read(&event), Some((Chord::key(Key::Enter), stroke)));
        }
        let shift = KeyCode::Modifier(crossterm::event::ModifierKeyCode::LeftShift);
        assert_eq!(Chord::read(&KeyEvent::new(shift, KeyModifiers::SHIFT)), None);
        assert_eq!(Chord::read(&KeyEvent::new(KeyCode::CapsLock, KeyModifiers::NONE)), None);
    }

    #[test]
    fn names_are_read_in_any_known_form() {
        for (text, name) in [
            ("escape", "esc"),
            ("pageup", "page-up"),
            ("minus", "-"),
            ("ctrl--", "ctrl--"),
            ("shift-w", "W"),
            ("ctrl-L", "ctrl-l"),
            ("alt-shift-up", "alt-shift-up"),
            ("f", "f"),
            ("f12", "f12"),
            (" ", "space"),
        ] {
            assert_eq!(text.parse::<Chord>().unwrap().to_string(), name, "{text}");
        }
    }

    #[test]
    fn a_wrong_name_is_told_with_the_nearest_known() {
        let told = "ctrl-spce".parse::<Chord>().unwrap_err();
        assert_eq!(told.nearest.as_deref(), Some("space"));
        assert!(told.to_string().contains("`ctrl-spce` is not a key"), "{told}");
        assert!(told.to_string().contains("nearest known: space"), "{told}");
        for text in ["", "f0", "f99", "ctrl-", "a\u{1b}[2J", "\u{7}"] {
            let told = text.parse::<Chord>().unwrap_err();
            assert!(!told.to_string().contains('\u{1b}'), "{text:?}");
        }
    }

    #[test]
    fn only_plain_characters_type_text() {
        assert_eq!(Chord::char('é').typed(), Some('é'));
        assert_eq!("ctrl-a".parse::<Chord>().unwrap().typed(), None);
        assert_eq!("enter".parse::<Chord>().unwrap().typed(), None);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn every_key_reads_back_from_its_name(
            c in prop::char::any(), ctrl: bool, alt: bool, shift: bool, n in 0usize..NAMES.len(), named: bool,
        ) {
            prop_assume!(!c.is_control());
            let key = if named { NAMES[n].1 } else { Key::Char(c) };
            let chord = Chord { key, ctrl, alt, shift }.normal();
            prop_assert_eq!(chord.to_string().parse(), Ok(chord));
        }

        #[test]
        fn any_text_is_read_or_refused(text in "\\PC*") {
            let _ = text.parse::<Chord>();
        }
    }
}
