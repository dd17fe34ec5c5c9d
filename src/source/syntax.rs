//! Mistakes of TOML itself, told with a hint for the usual slips.

use super::places::Log;
use toml::de::Error;

/// What mistakes of TOML mean for the rest of the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Damage {
    /// Every other line still stands where its writer put it.
    None,
    /// Lines may have moved into a wrong table or into a text.
    Structure,
}

/// Takes down the parser's findings.
pub(super) fn report(log: &Log<'_>, errors: &[Error]) -> Damage {
    let mut damage = Damage::None;
    for error in errors {
        let span = error.span().unwrap_or(0..0);
        let (_, line) = log.line_at(span.start);
        let message = if error.message().starts_with("duplicate key") {
            "this key stands twice in its table; take one of the two lines out".to_owned()
        } else if let Some(told) = slip(line) {
            told
        } else {
            damage = Damage::Structure;
            error.message().to_owned()
        };
        log.slip(&span, &message);
    }
    damage
}

/// The usual slips of a hand-written line: they spoil its value, not the lines around it.
fn slip(line: &str) -> Option<String> {
    let (key, value) = line.split_once('=')?;
    let (key, value) = (key.trim(), value.split('#').next().unwrap_or_default().trim());
    if key.chars().count() > 40 || value.chars().count() > 60 || key.is_empty() {
        return None;
    }
    if value.is_empty() {
        return Some(format!("write a value after '{key} ='"));
    }
    let bare = !value.starts_with(['"', '\'', '[', '{']);
    let lone = bare && !value.contains(['"', '\'', ',']);
    if lone && value.contains(|c: char| c.is_alphabetic()) {
        return Some(format!("text and numbers with a unit stand in quotes: {key} = \"{value}\""));
    }
    None
}
