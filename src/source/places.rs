//! Where things stand in a file, and the log in which one reading gathers its mistakes.

use super::problem::{Problem, Problems};
use super::text::SourceText;
use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;
use std::ops::Range;

/// More mistakes than this are counted, not listed.
const LISTED: usize = 100;

/// A place in a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// Characters of the line that belong to it.
    length: usize,
}

/// The places of all fields of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Places {
    source: SourceText,
    fields: BTreeMap<String, Place>,
}

impl Places {
    /// The place of a field; of the nearest table around it when the field itself is not in the file.
    #[must_use]
    pub fn of(&self, field: &str) -> Place {
        let mut path = field;
        loop {
            if let Some(place) = self.fields.get(path) {
                return *place;
            }
            match path.rfind(['.', '[']).and_then(|at| path.get(..at)) {
                Some(parent) => path = parent,
                None => return Place { line: 1, column: 1, length: 1 },
            }
        }
    }

    /// A problem with a field that was found after the file had been read.
    ///
    /// Fields are named as in the file, lists counting from 1: `zone[2].setting.fluence`.
    #[must_use]
    pub fn problem(&self, field: &str, message: &str) -> Problem {
        let place = self.of(field);
        let line = self.source.text().lines().nth(place.line - 1).unwrap_or_default();
        Problem::at(self.source.name(), place.line, place.column, field, message).quoting(line, place.length)
    }

    /// The file's name, as it was given.
    #[must_use]
    pub fn file(&self) -> &str {
        self.source.name()
    }

    /// The file's text.
    #[must_use]
    pub fn text(&self) -> &str {
        self.source.text()
    }
}

/// What one reading of a file gathers: places and mistakes.
pub(super) struct Log<'s> {
    source: &'s SourceText,
    /// Byte offset at which each line starts.
    starts: Vec<usize>,
    fields: RefCell<BTreeMap<String, Place>>,
    problems: RefCell<Vec<Problem>>,
    unlisted: Cell<usize>,
}

impl<'s> Log<'s> {
    pub(super) fn new(source: &'s SourceText) -> Self {
        let starts = std::iter::once(0).chain(source.text().match_indices('\n').map(|(i, _)| i + 1)).collect();
        Self { source, starts, fields: RefCell::default(), problems: RefCell::default(), unlisted: Cell::new(0) }
    }

    /// The line number of a byte offset, from 1, and the text of that line.
    pub(super) fn line_at(&self, offset: usize) -> (usize, &'s str) {
        let number = self.starts.partition_point(|start| *start <= offset).max(1);
        let start = self.starts.get(number - 1).copied().unwrap_or(0);
        let end = self.starts.get(number).copied().unwrap_or(self.source.text().len());
        (number, self.source.text().get(start..end).unwrap_or_default().trim_end_matches(['\n', '\r']))
    }

    fn place(&self, span: &Range<usize>) -> Place {
        let (line, text) = self.line_at(span.start);
        let start = self.starts.get(line - 1).copied().unwrap_or(0);
        let chars = |bytes: usize| text.char_indices().take_while(|(i, _)| *i < bytes).count();
        let before = chars(span.start.saturating_sub(start));
        let length = chars(span.end.saturating_sub(start)).saturating_sub(before).max(1);
        Place { line, column: before + 1, length }
    }

    /// Remembers where a field stands.
    pub(super) fn note(&self, field: &str, span: &Range<usize>) {
        self.fields.borrow_mut().insert(field.to_owned(), self.place(span));
    }

    /// Takes down a mistake.
    pub(super) fn problem(&self, field: &str, span: &Range<usize>, message: &str) {
        let mut problems = self.problems.borrow_mut();
        if problems.len() >= LISTED {
            self.unlisted.set(self.unlisted.get() + 1);
            return;
        }
        let place = self.place(span);
        let (_, text) = self.line_at(span.start);
        problems.push(
            Problem::at(self.source.name(), place.line, place.column, field, message).quoting(text, place.length),
        );
    }

    pub(super) fn is_clean(&self) -> bool {
        self.problems.borrow().is_empty()
    }

    pub(super) fn into_places(self) -> Places {
        Places { source: self.source.clone(), fields: self.fields.into_inner() }
    }

    pub(super) fn into_problems(self) -> Problems {
        let mut list = self.problems.into_inner();
        if self.unlisted.get() > 0 {
            let last = self.starts.len();
            let more = format!("and {} more mistakes, not listed", self.unlisted.get());
            list.push(Problem::at(self.source.name(), last, 1, "", &more));
        }
        let fallback = || Problem::at(self.source.name(), 1, 1, "", "the file could not be understood");
        Problems::of(list).unwrap_or_else(|| Problems::from(fallback()))
    }
}
