//! Where things stand in a file, and the log in which one reading gathers its mistakes.

use super::problem::{Problem, Problems};
use super::text::SourceText;
use std::cell::{Cell, RefCell};
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

/// More mistakes than this are counted, not listed.
const LISTED: usize = 100;

/// Lines that are read; a file of ours has a few hundred.
const LINES: usize = 50_000;

/// A place in a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
}

/// Where the lines of a text start.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Lines(Vec<usize>);

impl Lines {
    fn of(text: &str) -> Self {
        Self(std::iter::once(0).chain(text.match_indices('\n').map(|(i, _)| i + 1)).collect())
    }

    /// The number of the line a byte stands in, the byte it starts at, and its text.
    fn at<'t>(&self, text: &'t str, offset: usize) -> (usize, usize, &'t str) {
        let number = self.0.partition_point(|start| *start <= offset).max(1);
        let start = self.0.get(number - 1).copied().unwrap_or(0);
        let end = self.0.get(number).copied().unwrap_or(text.len());
        (number, start, text.get(start..end).unwrap_or_default().trim_end_matches(['\n', '\r']))
    }

    /// A problem at a span of bytes, with the line it stands in.
    fn problem(&self, source: &SourceText, field: &str, span: &Range<usize>, message: &str) -> Problem {
        let (_, _, line) = self.at(source.text(), span.start);
        let place = self.place(source.text(), span);
        let marked = self.length(source.text(), span);
        Problem::at(source.name(), place.line, place.column, field, message).quoting(line, marked)
    }

    fn place(&self, text: &str, span: &Range<usize>) -> Place {
        let (number, start, line) = self.at(text, span.start);
        Place { line: number, column: 1 + chars_before(line, span.start - start) }
    }

    /// Characters of the first line of a span.
    fn length(&self, text: &str, span: &Range<usize>) -> usize {
        let (_, start, line) = self.at(text, span.start);
        let chars = |offset: usize| chars_before(line, offset.saturating_sub(start));
        chars(span.end).saturating_sub(chars(span.start))
    }
}

fn chars_before(line: &str, bytes: usize) -> usize {
    line.char_indices().take_while(|(i, _)| *i < bytes).count()
}

/// The places of all fields of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Places {
    source: SourceText,
    lines: Lines,
    fields: BTreeMap<String, Range<usize>>,
}

impl Places {
    /// The place of a field; of the nearest table around it when the field itself is not in the file.
    #[must_use]
    pub fn of(&self, field: &str) -> Place {
        self.lines.place(self.source.text(), &self.span(field))
    }

    fn span(&self, field: &str) -> Range<usize> {
        let mut path = field;
        loop {
            if let Some(span) = self.fields.get(path) {
                return span.clone();
            }
            match path.rfind(['.', '[']).and_then(|at| path.get(..at)) {
                Some(parent) => path = parent,
                None => return 0..0,
            }
        }
    }

    /// A problem with a field that was found after the file had been read.
    ///
    /// Fields are named as in the file, lists counting from 1: `zone[2].setting.fluence`.
    #[must_use]
    pub fn problem(&self, field: &str, message: &str) -> Problem {
        self.lines.problem(&self.source, field, &self.span(field), message)
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
    lines: Lines,
    fields: RefCell<BTreeMap<String, Range<usize>>>,
    problems: RefCell<Vec<Problem>>,
    /// Lines with a mistake of TOML itself: what the parser made of them is not worth judging.
    spoilt: RefCell<BTreeSet<usize>>,
    unlisted: Cell<usize>,
}

impl<'s> Log<'s> {
    pub(super) fn new(source: &'s SourceText) -> Self {
        Self {
            source,
            lines: Lines::of(source.text()),
            fields: RefCell::default(),
            problems: RefCell::default(),
            spoilt: RefCell::default(),
            unlisted: Cell::new(0),
        }
    }

    /// The number and the text of the line a byte stands in.
    pub(super) fn line_at(&self, offset: usize) -> (usize, &'s str) {
        let (number, _, line) = self.lines.at(self.source.text(), offset);
        (number, line)
    }

    /// Remembers where a field stands.
    pub(super) fn note(&self, field: &str, span: Range<usize>) {
        self.fields.borrow_mut().insert(field.to_owned(), span);
    }

    /// Takes down a mistake of TOML itself: one for each line, since one slip often makes several.
    pub(super) fn slip(&self, span: &Range<usize>, message: &str) {
        let (number, _) = self.line_at(span.start);
        let first = !self.spoilt.borrow().contains(&number);
        if first {
            self.problem("", span, message);
            self.spoilt.borrow_mut().insert(number);
        }
    }

    /// Takes down a mistake.
    pub(super) fn problem(&self, field: &str, span: &Range<usize>, message: &str) {
        let mut problems = self.problems.borrow_mut();
        if self.spoilt.borrow().contains(&self.line_at(span.start).0) {
            return;
        }
        if problems.len() < LISTED {
            problems.push(self.lines.problem(self.source, field, span, message));
        } else {
            self.unlisted.set(self.unlisted.get() + 1);
        }
    }

    /// Refuses a text with more lines than could have been written by hand: junk of millions of short lines would be
    /// as many mistakes.
    pub(super) fn has_too_many_lines(&self) -> bool {
        let too_many = self.lines.0.len() > LINES;
        if let Some(start) = self.lines.0.get(LINES).filter(|_| too_many) {
            let message = format!("the file has {} lines; more than {LINES} are not read", self.lines.0.len());
            self.problem("", &(*start..*start), &message);
        }
        too_many
    }

    pub(super) fn is_clean(&self) -> bool {
        self.problems.borrow().is_empty()
    }

    pub(super) fn into_places(self) -> Places {
        Places { source: self.source.clone(), lines: self.lines, fields: self.fields.into_inner() }
    }

    pub(super) fn into_problems(self) -> Problems {
        let mut list = self.problems.into_inner();
        if self.unlisted.get() > 0 {
            let last = self.lines.0.len();
            let more = format!("and {} more mistakes, not listed", self.unlisted.get());
            list.push(Problem::at(self.source.name(), last, 1, "", &more));
        }
        let fallback = || Problem::at(self.source.name(), 1, 1, "", "the file could not be understood");
        Problems::of(list).unwrap_or_else(|| Problems::from(fallback()))
    }
}
