//! One table of keys: it drives handling, the footer and the help, so that what is shown is what works.

use super::chord::Chord;
use std::fmt;

/// One binding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Binding<C, A> {
    /// Where it holds: a screen, a dialog, or everywhere.
    pub context: C,
    /// The key.
    pub chord: Chord,
    /// What it does.
    pub action: A,
    /// One or two words for the footer; empty keeps it out of the footer.
    pub label: &'static str,
    /// One sentence for the help.
    pub help: &'static str,
}

/// The keys of the whole program.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyTable<C, A> {
    bindings: Vec<Binding<C, A>>,
}

/// One key that has been given two meanings in one place.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the key {chord} means both `{first:?}` and `{second:?}` in {context:?}: give one of them another key")]
pub struct Conflict<C: fmt::Debug, A: fmt::Debug> {
    /// Where.
    pub context: C,
    /// The key.
    pub chord: Chord,
    /// What the key means in the row that comes first.
    pub first: A,
    /// What the later row says it means.
    pub second: A,
}

/// All keys of one action, for the footer and the help.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hint<A> {
    /// The action.
    pub action: A,
    /// Its keys, the first one first.
    pub chords: Vec<Chord>,
    /// One or two words.
    pub label: &'static str,
    /// One sentence.
    pub help: &'static str,
}

impl<A> Hint<A> {
    /// The keys as one text, such as `space/+`.
    #[must_use]
    pub fn keys(&self) -> String {
        self.chords.iter().map(Chord::to_string).collect::<Vec<_>>().join("/")
    }
}

impl<C: Copy + PartialEq + fmt::Debug, A: Copy + PartialEq + fmt::Debug> KeyTable<C, A> {
    /// A table of these rows, in the order in which the help shows them.
    #[must_use]
    pub const fn new(bindings: Vec<Binding<C, A>>) -> Self {
        Self { bindings }
    }

    /// All rows.
    #[must_use]
    pub fn bindings(&self) -> &[Binding<C, A>] {
        &self.bindings
    }

    /// What a key means where `contexts` hold, the innermost first: a dialog, its screen, everywhere.
    #[must_use]
    pub fn lookup(&self, contexts: &[C], chord: Chord) -> Option<A> {
        contexts.iter().find_map(|context| {
            self.bindings.iter().find(|row| row.context == *context && row.chord == chord).map(|row| row.action)
        })
    }

    /// The keys that work where `contexts` hold, one hint an action. A key that an inner context takes for something
    /// else is left out of the outer action's hint.
    #[must_use]
    pub fn hints(&self, contexts: &[C]) -> Vec<Hint<A>> {
        let mut hints: Vec<Hint<A>> = Vec::new();
        for context in contexts {
            for row in self.bindings.iter().filter(|row| row.context == *context) {
                if self.lookup(contexts, row.chord) != Some(row.action) {
                    continue;
                }
                match hints.iter_mut().find(|hint| hint.action == row.action) {
                    Some(hint) if hint.chords.contains(&row.chord) => {}
                    Some(hint) => hint.chords.push(row.chord),
                    None => hints.push(Hint {
                        action: row.action,
                        chords: vec![row.chord],
                        label: row.label,
                        help: row.help,
                    }),
                }
            }
        }
        hints
    }

    /// The first key of an action where `contexts` hold, for texts that name it.
    #[must_use]
    pub fn key_for(&self, contexts: &[C], action: A) -> Option<Chord> {
        self.hints(contexts)
            .into_iter()
            .find(|hint| hint.action == action)
            .and_then(|hint| hint.chords.first().copied())
    }

    /// Every key with two meanings in one context.
    #[must_use]
    pub fn find_conflicts(&self) -> Vec<Conflict<C, A>> {
        let mut found = Vec::new();
        for (n, later) in self.bindings.iter().enumerate() {
            let earlier = self.bindings.iter().take(n);
            if let Some(first) = earlier
                .filter(|row| row.context == later.context && row.chord == later.chord)
                .find(|row| row.action != later.action)
            {
                found.push(Conflict {
                    context: later.context,
                    chord: later.chord,
                    first: first.action,
                    second: later.action,
                });
            }
        }
        found
    }

    /// Gives an action of one context other keys; false when that context has no such action.
    pub fn rebind(&mut self, context: C, action: A, chords: &[Chord]) -> bool {
        let ours = |row: &Binding<C, A>| row.context == context && row.action == action;
        let Some(place) = self.bindings.iter().position(ours) else { return false };
        let Some(old) = self.bindings.get(place).cloned() else { return false };
        self.bindings.retain(|row| !ours(row));
        let new = chords.iter().map(|chord| Binding { chord: *chord, ..old.clone() });
        let tail = self.bindings.split_off(place.min(self.bindings.len()));
        self.bindings.extend(new);
        self.bindings.extend(tail);
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    enum Place {
        Treat,
        Dialog,
        Anywhere,
    }

    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    enum Do {
        Count,
        Undo,
        Yes,
        Help,
    }

    fn chord(name: &str) -> Chord {
        name.parse().unwrap()
    }

    fn row(context: Place, key: &str, action: Do, label: &'static str) -> Binding<Place, Do> {
        Binding { context, chord: chord(key), action, label, help: "" }
    }

    fn table() -> KeyTable<Place, Do> {
        KeyTable::new(vec![
            row(Place::Treat, "space", Do::Count, "count"),
            row(Place::Treat, "+", Do::Count, "count"),
            row(Place::Treat, "u", Do::Undo, "undo"),
            row(Place::Dialog, "u", Do::Yes, "yes"),
            row(Place::Anywhere, "?", Do::Help, "help"),
        ])
    }

    #[test]
    fn the_innermost_context_decides() {
        let all = [Place::Dialog, Place::Treat, Place::Anywhere];
        assert_eq!(table().lookup(&all, chord("u")), Some(Do::Yes));
        assert_eq!(table().lookup(&all[1..], chord("u")), Some(Do::Undo));
        assert_eq!(table().lookup(&[Place::Anywhere], chord("u")), None);
        assert_eq!(table().lookup(&all, chord("?")), Some(Do::Help));
    }

    #[test]
    fn hints_tell_what_works_and_nothing_else() {
        let keys = |contexts: &[Place]| {
            table().hints(contexts).iter().map(|hint| format!("{} {}", hint.keys(), hint.label)).collect::<Vec<_>>()
        };
        assert_eq!(keys(&[Place::Treat, Place::Anywhere]), ["space/+ count", "u undo", "? help"]);
        assert_eq!(keys(&[Place::Dialog, Place::Treat]), ["u yes", "space/+ count"]);
        assert_eq!(table().key_for(&[Place::Treat], Do::Count), Some(chord("space")));
        assert_eq!(table().key_for(&[Place::Dialog, Place::Treat], Do::Undo), None);
    }

    #[test]
    fn a_key_with_two_meanings_in_one_place_is_found() {
        assert!(table().find_conflicts().is_empty());
        let mut table = table();
        assert!(table.rebind(Place::Treat, Do::Undo, &[chord("+")]));
        let found = table.find_conflicts();
        assert_eq!(found.len(), 1);
        let told = found[0].to_string();
        assert_eq!(told, "the key + means both `Count` and `Undo` in Treat: give one of them another key");
    }

    #[test]
    fn new_keys_take_the_old_ones_place() {
        let mut table = table();
        assert!(table.rebind(Place::Treat, Do::Count, &[chord("f"), chord("0")]));
        assert_eq!(table.lookup(&[Place::Treat], chord("space")), None);
        assert_eq!(table.lookup(&[Place::Treat], chord("0")), Some(Do::Count));
        assert_eq!(table.hints(&[Place::Treat])[0].keys(), "f/0");
        assert!(!table.rebind(Place::Dialog, Do::Count, &[chord("x")]));
        assert_eq!(table.bindings().len(), 5);
    }
}
