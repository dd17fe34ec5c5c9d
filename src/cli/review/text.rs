//! The supervisor's views as plain text.

use crate::review::{Filter, Progress, Row, SessionReview, WIDE};
use crate::text::shown;

/// Columns of what is printed, but for the list.
pub(super) const COLUMNS: usize = 100;

/// Lines as they are printed.
pub(super) fn of(lines: &[String]) -> String {
    lines.iter().map(|line| format!("{}\n", shown(line))).collect()
}

/// The list, one session a line.
pub(super) fn list(rows: &[&Row], filter: &Filter, problems: &[String]) -> String {
    let words = filter.words();
    let words = if words.is_empty() { String::new() } else { format!(" ({})", shown(&words)) };
    let plural = if rows.len() == 1 { "" } else { "s" };
    let mut out = format!("{} session{plural}{words}\n", rows.len());
    if !rows.is_empty() {
        out.push_str(&format!("{}\n", Row::headings(WIDE)));
    }
    for row in rows {
        out.push_str(&row.line(WIDE));
        out.push('\n');
    }
    for problem in problems {
        out.push_str(&format!("problem: {}\n", shown(problem)));
    }
    out
}

/// A session: overview, charts, timeline.
pub(super) fn session(review: &SessionReview) -> String {
    let mut lines = review.overview(COLUMNS);
    lines.push("CHARTS over session time".to_owned());
    lines.extend(review.chart_lines(80, 30));
    lines.push("TIMELINE".to_owned());
    lines.extend(review.timeline_lines(COLUMNS));
    of(&lines)
}

/// Progress in practice.
pub(super) fn progress(all: &[Progress]) -> String {
    let mut lines = vec!["PRACTICE: progress by scenario, scores of 100".to_owned()];
    lines.extend(all.iter().map(Progress::line));
    if all.is_empty() {
        lines.push("no run was closed yet: fadewright practise first-script".to_owned());
    }
    of(&lines)
}
