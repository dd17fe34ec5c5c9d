//! A mistake in a file, told so that it can be found and mended.

use crate::text::shown;
use serde::Serialize;
use std::fmt;
use unicode_width::UnicodeWidthStr;

/// One mistake in a file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Problem {
    /// The file, as it was named.
    pub file: String,
    /// Line, from 1; 0 when the file as a whole is meant.
    pub line: usize,
    /// Column in characters, from 1; 0 when the file as a whole is meant.
    pub column: usize,
    /// The field, such as `zone[2].setting.fluence` (tables of a list count from 1); empty outside of any field.
    pub field: String,
    /// What is wrong and what is allowed, safe to show.
    pub message: String,
    #[serde(skip)]
    excerpt: Option<Excerpt>,
}

/// The line a problem stands in, safe to show, with what to underline.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Excerpt {
    line: String,
    indent: usize,
    marks: usize,
}

/// Characters of a line that are shown before and after the place of a problem.
const BEFORE: usize = 60;
const AFTER: usize = 60;

impl Problem {
    /// A problem of the file as a whole: missing, unreadable, too large.
    #[must_use]
    pub fn of_file(file: &str, message: &str) -> Self {
        Self::at(file, 0, 0, "", message)
    }

    /// A problem at a place.
    #[must_use]
    pub fn at(file: &str, line: usize, column: usize, field: &str, message: &str) -> Self {
        Self { file: file.to_owned(), line, column, field: shown(field), message: shown(message), excerpt: None }
    }

    /// The same problem with the line it stands in; `length` characters of it are underlined.
    #[must_use]
    pub(super) fn quoting(mut self, line: &str, length: usize) -> Self {
        let from = self.column.saturating_sub(1);
        let start = from.saturating_sub(BEFORE);
        let part = |skip: usize, take: usize| shown(&line.chars().skip(skip).take(take).collect::<String>());
        let cut = |yes: bool| if yes { "…" } else { "" };
        let (before, marked) = (part(start, from - start), part(from, length.clamp(1, AFTER)));
        let rest = part(from + length.clamp(1, AFTER), AFTER.saturating_sub(length.min(AFTER)));
        let longer = line.chars().nth(from + AFTER.max(1)).is_some();
        let before = format!("{}{before}", cut(start > 0));
        self.excerpt = Some(Excerpt {
            indent: before.width(),
            marks: marked.width().max(1),
            line: format!("{before}{marked}{rest}{}", cut(longer)).trim_end().to_owned(),
        });
        self
    }

    /// The problem with the line it stands in and a mark under the place.
    #[must_use]
    pub fn explained(&self) -> String {
        match &self.excerpt {
            None => format!("{self}\n"),
            Some(e) => format!(
                "{self}\n{:>6} | {}\n{:>6} | {}{}\n",
                self.line,
                e.line,
                "",
                " ".repeat(e.indent),
                "^".repeat(e.marks)
            ),
        }
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&shown(&self.file))?;
        if self.line > 0 {
            write!(f, ":{}:{}", self.line, self.column)?;
        }
        if !self.field.is_empty() {
            write!(f, ": {}", self.field)?;
        }
        write!(f, ": {}", self.message)
    }
}

/// The mistakes of a file, in the order of its lines; never empty.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, thiserror::Error)]
#[serde(transparent)]
pub struct Problems(Vec<Problem>);

impl Problems {
    /// The mistakes; none when the list is empty.
    #[must_use]
    pub fn of(mut list: Vec<Problem>) -> Option<Self> {
        list.sort_by_key(|p| (p.line, p.column));
        if list.is_empty() { None } else { Some(Self(list)) }
    }

    /// The mistakes in order.
    #[must_use]
    pub fn list(&self) -> &[Problem] {
        &self.0
    }

    /// All mistakes, each with its line and a mark under the place.
    #[must_use]
    pub fn explained(&self) -> String {
        self.0.iter().map(Problem::explained).collect()
    }
}

impl From<Problem> for Problems {
    fn from(problem: Problem) -> Self {
        Self(vec![problem])
    }
}

impl fmt::Display for Problems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, problem) in self.0.iter().enumerate() {
            write!(f, "{}{problem}", if i > 0 { "\n" } else { "" })?;
        }
        Ok(())
    }
}
