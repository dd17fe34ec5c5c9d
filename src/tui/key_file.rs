//! Keys of one's own: a layout, and keys given anew for single actions, in a file.

use super::chord::{Chord, Key};
use super::keymap::{Binding, KeyTable};
use super::keys::{Action, Place};
use super::layouts::{Layout, table_of};
use crate::source::{self, FileKind, Loaded, Problems, Seen, SourceText, Table};

/// What a key file says it is.
pub const KIND: FileKind = FileKind { kind: "fadewright keys", schema: 1 };

impl KeyTable<Place, Action> {
    /// The table with other keys for one action of a place: they take the place of those that it had.
    #[must_use]
    pub fn rebound(&self, place: Place, action: Action, chords: &[Chord]) -> Self {
        let mut rows: Vec<Binding<Place, Action>> = Vec::new();
        let is = |r: &Binding<Place, Action>| r.context == place && r.action == action;
        let mut given = false;
        for row in self.bindings() {
            if !is(row) {
                rows.push(row.clone());
            } else if !std::mem::replace(&mut given, true) {
                rows.extend(chords.iter().map(|chord| Binding { chord: *chord, ..row.clone() }));
            }
        }
        Self::new(rows)
    }
}

/// Acts that may sit on the return key and the space bar, which are hit by accident: those that can be taken back.
const HARMLESS: [Action; 4] = [Action::Pulse, Action::Down, Action::Open, Action::PageOn];

/// What is wrong with a table as a whole, in words.
#[must_use]
pub fn problems_of(table: &KeyTable<Place, Action>) -> Vec<String> {
    let mut found: Vec<String> = table
        .find_conflicts()
        .into_iter()
        .map(|c| {
            format!(
                "the key {} means both {} and {} in {}; give one of them another key",
                c.chord, c.first, c.second, c.context
            )
        })
        .collect();
    for row in table.bindings() {
        if matches!(row.chord.key, Key::Enter | Key::Char(' ')) && !HARMLESS.contains(&row.action) {
            found.push(format!(
                "{} in {} may not sit on {}: it cannot be taken back",
                row.action, row.context, row.chord
            ));
        }
        // An advice is answered on the treat screen: its keys would hide the screen's.
        let hidden = table.lookup(&[Place::Treat], row.chord);
        if let (Place::Advice, Some(other)) = (row.context, hidden) {
            found.push(format!("the key {} answers an advice ({}) and means {other} in treat", row.chord, row.action));
        }
    }
    found
}

/// Reads a key file.
///
/// # Errors
/// Every mistake of the file, and every key that would have two meanings.
pub fn load(source: &SourceText) -> Result<Loaded<KeyTable<Place, Action>>, Problems> {
    source::read(source, KIND, |file| {
        let layout = file.optional_word("layout").unwrap_or(Layout::Standard);
        let mut seen = Seen::default();
        let given = if file.has("key") { file.tables("key", 1..=200, |t| row(t, &mut seen))? } else { Vec::new() };
        let mut table = table_of(layout);
        for (place, action, chords) in &given {
            table = table.rebound(*place, *action, chords);
        }
        for problem in problems_of(&table) {
            file.problem("key", &problem);
        }
        Some(table)
    })
}

fn row(t: &mut Table<'_>, seen: &mut Seen<(Place, Action)>) -> Option<(Place, Action, Vec<Chord>)> {
    let place: Option<Place> = t.word("where");
    let action: Option<Action> = t.word("does");
    let names = t.texts("keys", 1..=6, 20);
    let mut chords = Vec::new();
    for name in names.iter().flatten() {
        match name.parse::<Chord>() {
            Ok(chord) => chords.push(chord),
            Err(e) => t.problem("keys", &e.to_string()),
        }
    }
    let (place, action) = (place?, action?);
    seen.check(t, "does", (place, action), format!("'{action}' in '{place}'"));
    let known = super::keys::table().bindings().iter().any(|r| r.context == place && r.action == action);
    if !known {
        t.problem("does", &format!("'{action}' is nothing that '{place}' does; see: fadewright keys"));
        return None;
    }
    Some((place, action, chords))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<KeyTable<Place, Action>, String> {
        let text = format!("kind = \"fadewright keys\"\nschema = 1\n{text}");
        load(&SourceText::new("keys.toml", text)).map(|l| l.value).map_err(|p| p.to_string())
    }

    #[test]
    fn a_file_gives_other_keys_and_leaves_the_rest() {
        let table = read("[[key]]\nwhere = \"treat\"\ndoes = \"pulse\"\nkeys = [\"f12\", \"space\"]\n").unwrap();
        assert_eq!(table.lookup(&[Place::Treat], Chord::key(Key::F(12))), Some(Action::Pulse));
        assert_eq!(table.lookup(&[Place::Treat], Chord::key(Key::Insert)), None, "its other key is gone");
        assert_eq!(table.lookup(&[Place::Treat], Chord::char('w')), Some(Action::Whitening));
        let left = read("layout = \"left-hand\"\n").unwrap();
        assert_eq!(left, table_of(Layout::LeftHand));
    }

    #[test]
    fn mistakes_are_told_with_line_and_field() {
        for (text, said) in [
            ("layout = \"upside-down\"\n", "keys.toml:3:"),
            ("[[key]]\nwhere = \"treat\"\ndoes = \"plse\"\nkeys = [\"p\"]\n", "keys.toml:5:"),
            ("[[key]]\nwhere = \"treat\"\ndoes = \"pulse\"\nkeys = [\"hyper-x\"]\n", "key[1].keys"),
            ("[[key]]\nwhere = \"treat\"\ndoes = \"pulse\"\nkeys = [\"w\"]\n", "the key w means both"),
            ("[[key]]\nwhere = \"treat\"\ndoes = \"end-zone\"\nkeys = [\"enter\"]\n", "cannot be taken back"),
            ("[[key]]\nwhere = \"advice\"\ndoes = \"accept\"\nkeys = [\"w\"]\n", "answers an advice"),
            ("[[key]]\nwhere = \"close\"\ndoes = \"pulse\"\nkeys = [\"y\"]\n", "nothing that 'close' does"),
            (
                "[[key]]\nwhere = \"treat\"\ndoes = \"pulse\"\nkeys = [\"f11\"]\n[[key]]\nwhere = \"treat\"\ndoes = \"pulse\"\nkeys = [\"f12\"]\n",
                "key[2].does",
            ),
            ("[[key]]\nwhere = \"treat\"\ndoes = \"pulse\"\nkeys = [\"f12\"]\nlabel = \"x\"\n", "label"),
        ] {
            let told = read(text).unwrap_err();
            assert!(told.contains(said), "{text}: {told}");
        }
    }
}
