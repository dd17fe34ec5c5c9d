//! Text from files and keyboards, made safe to show.
//!
//! A plan, a protocol or a journal may hold control characters, terminal escape sequences or invisible direction
//! marks. They are never sent to a terminal: each is replaced by a visible stand-in.

use unicode_segmentation::UnicodeSegmentation;
use unicode_width::UnicodeWidthStr;

/// True for characters that could steer a terminal or hide what a text says.
fn is_unsafe(c: char) -> bool {
    c.is_control()
        || matches!(c,
            '\u{00AD}' | '\u{034F}' | '\u{061C}' | '\u{115F}' | '\u{1160}' | '\u{17B4}' | '\u{17B5}' | '\u{180B}'..='\u{180F}'
            | '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2060}'..='\u{206F}' | '\u{3164}'
            | '\u{FE00}'..='\u{FE0F}' | '\u{FEFF}' | '\u{FFA0}' | '\u{FFF0}'..='\u{FFFB}' | '\u{1BCA0}'..='\u{1BCA3}'
            | '\u{1D173}'..='\u{1D17A}' | '\u{E0000}'..='\u{E0FFF}')
}

/// The text with every control, escape, direction and zero-width character made visible.
///
/// Tabs and line ends become a space, an escape becomes `␛`, other control characters their Unicode control picture,
/// the rest `⟨U+202E⟩`.
#[must_use]
pub fn shown(text: &str) -> String {
    if !text.chars().any(is_unsafe) {
        return text.to_owned();
    }
    let mut out = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        match c {
            '\t' | '\n' | '\r' => out.push(' '),
            c if !is_unsafe(c) => out.push(c),
            '\u{7f}' => out.push('␡'),
            c if (c as u32) < 0x20 => out.push(char::from_u32(0x2400 + c as u32).unwrap_or('?')),
            c => out.push_str(&format!("⟨U+{:04X}⟩", c as u32)),
        }
    }
    out
}

/// The text cut to at most `columns` terminal columns, by whole graphemes, ending in `…` when something was cut.
#[must_use]
pub fn fitted(text: &str, columns: usize) -> String {
    if text.width() <= columns {
        return text.to_owned();
    }
    let mut out = String::new();
    for g in text.graphemes(true) {
        out.push_str(g);
        // Measured as a whole: neighbours can change each other's width.
        if out.width() + 1 > columns {
            out.truncate(out.len() - g.len());
            break;
        }
    }
    if columns > 0 {
        out.push('…');
    }
    out
}

/// The text in lines of at most `columns` columns, each behind `indent` spaces; where that leaves little room, 20 columns
/// of text.
#[must_use]
pub fn indented(text: &str, indent: usize, columns: usize) -> Vec<String> {
    /// Less than this is not read with ease.
    const LEAST: usize = 20;
    let pad = " ".repeat(indent);
    wrapped(text, columns.saturating_sub(indent).max(LEAST)).into_iter().map(|l| format!("{pad}{l}")).collect()
}

/// The text broken into lines of at most `columns` columns at spaces; a longer word is cut.
#[must_use]
pub fn wrapped(text: &str, columns: usize) -> Vec<String> {
    let columns = columns.max(1);
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let mut word = word.to_owned();
        while word.width() > columns {
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            let mut head = String::new();
            let mut taken = 0;
            for g in word.graphemes(true) {
                // A single character wider than the whole line can only be told, not shown.
                let g_shown = if g.width() > columns { "?" } else { g };
                head.push_str(g_shown);
                if head.width() > columns {
                    head.truncate(head.len() - g_shown.len());
                    break;
                }
                taken += g.len();
            }
            word = word.get(taken..).unwrap_or_default().to_owned();
            lines.push(head);
        }
        if line.is_empty() {
            line = word;
        } else if line.width() + 1 + word.width() <= columns {
            line.push(' ');
            line.push_str(&word);
        } else {
            lines.push(std::mem::replace(&mut line, word));
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn escapes_and_invisible_marks_become_visible() {
        assert_eq!(shown("a\x1b[2Jb"), "a␛[2Jb");
        assert_eq!(shown("x\u{202e}y\u{200b}"), "x⟨U+202E⟩y⟨U+200B⟩");
        assert_eq!(shown("one\r\ntwo\u{9b}"), "one  two⟨U+009B⟩");
        assert_eq!(shown("Größe 3 µm"), "Größe 3 µm");
    }

    #[test]
    fn cutting_and_wrapping_count_columns_not_bytes() {
        assert_eq!(fitted("漢字かな", 5), "漢字…");
        assert_eq!(wrapped("lower the fluence one step", 11), ["lower the", "fluence one", "step"]);
        assert_eq!(wrapped("abcdefgh", 3), ["abc", "def", "gh"]);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn nothing_unsafe_survives(text in "\\PC*|[\\x00-\\x{2fff}]{0,40}") {
            prop_assert!(!shown(&text).chars().any(is_unsafe));
        }

        #[test]
        fn fitted_never_exceeds_its_columns(text in "\\PC{0,40}", n in 0usize..30) {
            prop_assert!(fitted(&text, n).width() <= n);
            for line in wrapped(&text, n.max(2)) { prop_assert!(line.width() <= n.max(2)); }
        }
    }
}
