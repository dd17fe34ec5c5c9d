//! Layouts of the keys: one for either hand alone, one for a numeric keypad. Each is the standard table with other keys
//! for what the treating hand needs.

use super::chord::{Chord, Key};
use super::keymap::KeyTable;
use super::keys::{Action, Place, table};
use crate::words::words;

words! {
    /// A layout of the keys.
    Layout, "layout" {
        /// Letters that stand for words.
        Standard = "standard",
        /// All within reach of the left hand.
        LeftHand = "left-hand",
        /// All within reach of the right hand.
        RightHand = "right-hand",
        /// All on a numeric keypad.
        Keypad = "keypad",
    }
}

/// What a layout gives other keys: the place, what it does, and its keys.
type Row = (Place, Action, &'static [Chord]);

const fn c(letter: char) -> Chord {
    Chord::char(letter)
}

use Action as A;
use Place as P;

const SPACE: Chord = c(' ');
const INSERT: Chord = Chord::key(Key::Insert);
const BACKSPACE: Chord = Chord::key(Key::Backspace);

/// Capitals are shift and the letter, still one hand.
const LEFT_HAND: &[Row] = &[
    (P::Advice, A::Alternative, &[c('g')]),
    (P::Treat, A::StartPass, &[c('E')]),
    (P::Treat, A::NoResponse, &[c('W')]),
    (P::Treat, A::Undo, &[c('Z'), BACKSPACE]),
    (P::Treat, A::Correct, &[c('C')]),
    (P::Treat, A::Pause, &[c('T')]),
    (P::Treat, A::Note, &[c('V')]),
    (P::Treat, A::Remark, &[c('R')]),
    (P::Treat, A::NextZone, &[c('F'), Chord::key(Key::PageDown)]),
    (P::Treat, A::PreviousZone, &[c('B'), Chord::key(Key::PageUp)]),
];

const RIGHT_HAND: &[Row] = &[
    (P::Advice, A::Accept, &[c(',')]),
    (P::Advice, A::Decline, &[c('.')]),
    (P::Advice, A::Stop, &[c('/')]),
    (P::Advice, A::Alternative, &[c(';')]),
    (P::Treat, A::Train, &[c('y')]),
    (P::Treat, A::StartPass, &[c('n')]),
    (P::Treat, A::EndPass, &[c('m')]),
    (P::Treat, A::Whitening, &[c('h')]),
    (P::Treat, A::Faded, &[c('j')]),
    (P::Treat, A::Bleeding, &[c('k')]),
    (P::Treat, A::Responses, &[c('l')]),
    (P::Treat, A::NoResponse, &[c('o')]),
    (P::Treat, A::Pain, &[c('p')]),
    (P::Treat, A::Undo, &[c('u'), BACKSPACE]),
    (P::Treat, A::Correct, &[c('U')]),
    (P::Treat, A::Counter, &[c('i')]),
    (P::Treat, A::Pause, &[c('Y')]),
    (P::Treat, A::Note, &[c('N')]),
    (P::Treat, A::Remark, &[c('L')]),
    (P::Treat, A::EndZone, &[c('M')]),
    (P::Treat, A::Bell, &[c('H')]),
];

/// Digits count pulses no more: the plus key types a number.
const KEYPAD: &[Row] = &[
    (P::Advice, A::Accept, &[c('1')]),
    (P::Advice, A::Alternative, &[c('2')]),
    (P::Advice, A::Decline, &[c('3')]),
    (P::Advice, A::Stop, &[c('9')]),
    (P::Treat, A::Pulse, &[c('0'), SPACE, INSERT]),
    (P::Treat, A::Whitening, &[c('7')]),
    (P::Treat, A::Faded, &[c('8')]),
    (P::Treat, A::Bleeding, &[c('4')]),
    (P::Treat, A::Responses, &[c('5')]),
    (P::Treat, A::NoResponse, &[c('6')]),
    (P::Treat, A::Undo, &[c('.'), BACKSPACE]),
    (P::Treat, A::Count, &[c('+')]),
    (P::Treat, A::EndPass, &[c('-')]),
    (P::Treat, A::StartPass, &[c('*')]),
    (P::Treat, A::Counter, &[c('/')]),
];

/// The table of a layout.
#[must_use]
pub fn table_of(layout: Layout) -> KeyTable<Place, Action> {
    let rows: &[Row] = match layout {
        Layout::Standard => &[],
        Layout::LeftHand => LEFT_HAND,
        Layout::RightHand => RIGHT_HAND,
        Layout::Keypad => KEYPAD,
    };
    let mut keys = table();
    for (place, action, chords) in rows {
        keys = keys.rebound(*place, *action, chords);
    }
    keys
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::key_file::problems_of;
    use crate::words::Word;

    #[test]
    fn no_layout_gives_a_key_two_meanings_or_takes_one_away() {
        for layout in Layout::ALL {
            let table = table_of(*layout);
            assert_eq!(problems_of(&table), Vec::<String>::new(), "{layout}");
            for row in super::table().bindings() {
                let works = table.bindings().iter().any(|r| r.context == row.context && r.action == row.action);
                assert!(works, "{layout}: nothing does {} in {}", row.action, row.context);
            }
        }
    }

    /// Where the fingers of one hand lie on a keyboard of the usual shape, and what both reach: the space bar and the
    /// function keys, which are not for the moment of firing.
    #[test]
    fn each_hand_reaches_its_keys() {
        for (layout, reach) in
            [(Layout::LeftHand, "qwertasdfgzxcvb12345 "), (Layout::RightHand, "yuiophjklnm,.;/[]67890 ")]
        {
            let table = table_of(layout);
            for row in table.bindings().iter().filter(|r| matches!(r.context, P::Treat | P::Advice)) {
                let alone = |chord: &Chord| match chord.key {
                    Key::Char(letter) => reach.contains(letter.to_ascii_lowercase()),
                    _ => true,
                };
                let same = table.bindings().iter().filter(|r| r.context == row.context && r.action == row.action);
                // Typing a number is what the digits do.
                let in_reach = same.map(|r| r.chord).any(|chord| alone(&chord));
                assert!(in_reach || row.action == A::Count, "{layout}: {} lies on {}", row.action, row.chord);
            }
        }
    }

    #[test]
    fn the_keypad_has_what_firing_needs() {
        let table = table_of(Layout::Keypad);
        let keypad = |r: &&crate::tui::keymap::Binding<Place, Action>| {
            matches!(r.chord.key, Key::Char('0'..='9' | '.' | '+' | '-' | '*' | '/'))
        };
        let actions: Vec<Action> = table.bindings().iter().filter(keypad).map(|r| r.action).collect();
        for needed in
            [A::Pulse, A::Whitening, A::Bleeding, A::Undo, A::Accept, A::Decline, A::Stop, A::EndPass, A::Count]
        {
            assert!(actions.contains(&needed), "{needed}");
        }
    }
}
