//! The supervisor's lists as plain text.

use crate::review::{Filter, Row};
use crate::text::shown;

/// The list, one session a line, columns parted by spaces.
pub(super) fn list(rows: &[&Row], filter: &Filter) -> String {
    let words = filter.words();
    let of = if words.is_empty() { String::new() } else { format!(" ({})", shown(&words)) };
    let plural = if rows.len() == 1 { "" } else { "s" };
    let mut out = format!("{} session{plural}{of}\n", rows.len());
    for row in rows {
        out.push_str(&row.line());
        out.push('\n');
    }
    out
}
