//! A cursor on one table of a file.

use super::nearest::hint;
use super::places::Log;
use super::value::{Value, clip};
use super::{FileKind, nearest};
use crate::units::Quantity;
use crate::words::Word;
use chrono::NaiveDate;
use std::fmt::Display;
use std::ops::{Range, RangeInclusive};
use std::str::FromStr;
use toml::Spanned;
use toml::de::DeTable;

/// A cursor on one table: each reading names a key, so that at the end every other key is known to be a mistake.
///
/// Every method answers `None` for a missing or wrong value and has then taken the mistake down; read all the keys of
/// a table before giving up, so that all mistakes are told at once. What is called `optional` may be absent.
pub struct Table<'a> {
    log: &'a Log<'a>,
    path: String,
    span: Range<usize>,
    entries: &'a DeTable<'a>,
    known: Vec<&'static str>,
    missing: Vec<(&'static str, String)>,
    given_up: bool,
}

impl<'a> Table<'a> {
    pub(super) fn new(log: &'a Log<'a>, path: String, span: Range<usize>, entries: &'a DeTable<'a>) -> Self {
        Self { log, path, span, entries, known: Vec::new(), missing: Vec::new(), given_up: false }
    }

    /// The path of a field of this table.
    #[must_use]
    pub fn field(&self, key: &str) -> String {
        if self.path.is_empty() { key.to_owned() } else { format!("{}.{key}", self.path) }
    }

    /// True when the key is in the file.
    #[must_use]
    pub fn has(&self, key: &str) -> bool {
        self.entries.contains_key(key)
    }

    /// Takes down a mistake at a key, or at the table itself when the key is absent.
    pub fn problem(&self, key: &str, message: &str) {
        let span = self.entries.get(key).map_or_else(|| self.span.clone(), Spanned::span);
        self.log.problem(&self.field(key), &span, message);
    }

    /// The value of a key that may be absent.
    pub fn optional_value(&mut self, key: &'static str) -> Option<Value<'a>> {
        self.known.push(key);
        let node = self.entries.get(key)?;
        let field = self.field(key);
        self.log.note(&field, node.span());
        Some(Value::new(self.log, field, key, node))
    }

    /// The value of a key that must be there; `like` shows how it may look.
    pub fn value(&mut self, key: &'static str, like: &str) -> Option<Value<'a>> {
        let value = self.optional_value(key);
        if value.is_none() {
            self.missing.push((key, format!("missing; write {key} = {like}")));
        }
        value
    }

    /// A quantity with its unit.
    pub fn required<Q: Quantity>(&mut self, key: &'static str) -> Option<Q> {
        self.value(key, &format!("\"{}\"", Q::EXAMPLE))?.quantity()
    }

    /// A quantity that may be absent.
    pub fn optional<Q: Quantity>(&mut self, key: &'static str) -> Option<Q> {
        self.optional_value(key)?.quantity()
    }

    /// A list of quantities.
    pub fn quantities<Q: Quantity>(&mut self, key: &'static str, count: RangeInclusive<usize>) -> Option<Vec<Q>> {
        self.value(key, &format!("[\"{}\"]", Q::EXAMPLE))?.list(count, |v| v.quantity())
    }

    /// A word of a closed list.
    pub fn word<W: Word>(&mut self, key: &'static str) -> Option<W> {
        self.value(key, &one_of(W::WORDS))?.word()
    }

    /// A word that may be absent.
    pub fn optional_word<W: Word>(&mut self, key: &'static str) -> Option<W> {
        self.optional_value(key)?.word()
    }

    /// A list of words without repeats; with a count from 0 the key must still be there, as `key = []`.
    pub fn words<W: Word + PartialEq>(&mut self, key: &'static str, count: RangeInclusive<usize>) -> Option<Vec<W>> {
        let like = if *count.start() == 0 {
            "[] when there are none".to_owned()
        } else {
            format!("a list in brackets of: {}", W::WORDS.join(", "))
        };
        let value = self.value(key, &like)?;
        let words: Vec<W> = value.list(count, |v| v.word())?;
        for (i, word) in words.iter().enumerate() {
            if words.iter().take(i).any(|w| w == word) {
                self.problem(key, &format!("'{}' stands there twice", word.word()));
                return None;
            }
        }
        Some(words)
    }

    /// A free text that says something, of at most `max` characters. Control characters are kept: they are made
    /// visible wherever the text is shown.
    pub fn text(&mut self, key: &'static str, max: usize) -> Option<String> {
        self.value(key, "\"...\"")?.text(max)
    }

    /// A list of free texts; with a count from 0 the key must still be there, as `key = []`.
    pub fn texts(&mut self, key: &'static str, count: RangeInclusive<usize>, max: usize) -> Option<Vec<String>> {
        let like = if *count.start() == 0 { "[] when there are none" } else { "[\"...\"]" };
        self.value(key, like)?.list(count, |v| v.text(max))
    }

    /// A list of free texts that may be absent.
    pub fn optional_texts(&mut self, key: &'static str, count: RangeInclusive<usize>, max: usize) -> Vec<String> {
        self.optional_value(key).and_then(|v| v.list(count, |v| v.text(max))).unwrap_or_default()
    }

    /// A code or an id with rules of its own; hidden and control characters are refused.
    pub fn name<T: FromStr<Err: Display>>(&mut self, key: &'static str) -> Option<T> {
        self.value(key, "\"...\"")?.name("a short text in quotes")
    }

    /// An id: 1 to 32 small letters, digits and hyphens, starting with a letter.
    pub fn slug(&mut self, key: &'static str) -> Option<String> {
        struct Slug(String);
        impl FromStr for Slug {
            type Err = String;
            fn from_str(text: &str) -> Result<Self, Self::Err> {
                let fits = (1..=32).contains(&text.len())
                    && text.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
                    && text.starts_with(|c: char| c.is_ascii_lowercase());
                if fits {
                    Ok(Self(text.to_owned()))
                } else {
                    Err(format!(
                        "'{text}' is not an id: 1 to 32 small letters, digits and hyphens, starting with a letter"
                    ))
                }
            }
        }
        self.name::<Slug>(key).map(|slug| slug.0)
    }

    /// A whole number.
    pub fn integer<T: TryFrom<i64>>(&mut self, key: &'static str, range: RangeInclusive<i64>) -> Option<T> {
        self.value(key, &format!("a whole number, {} to {}", range.start(), range.end()))?.integer(range)
    }

    /// A bare number in the unit that the key names; `like` shows how it may look.
    pub fn number(&mut self, key: &'static str, like: &str) -> Option<f64> {
        self.value(key, like)?.number()
    }

    /// Yes or no, written `true` or `false`.
    pub fn boolean(&mut self, key: &'static str) -> Option<bool> {
        self.value(key, "true or false")?.boolean()
    }

    /// Yes or no, `otherwise` when the key is absent.
    pub fn optional_boolean(&mut self, key: &'static str, otherwise: bool) -> Option<bool> {
        match self.optional_value(key) {
            Some(value) => value.boolean(),
            None => Some(otherwise),
        }
    }

    /// A date between 1990 and 2100.
    pub fn date(&mut self, key: &'static str) -> Option<NaiveDate> {
        self.value(key, "2026-10-12")?.date()
    }

    /// A date that may be absent.
    pub fn optional_date(&mut self, key: &'static str) -> Option<NaiveDate> {
        self.optional_value(key)?.date()
    }

    /// A table that must be there.
    pub fn table<T>(&mut self, key: &'static str, walk: impl FnOnce(&mut Self) -> Option<T>) -> Option<T> {
        let found = self.optional_value(key);
        if found.is_none() {
            let message = format!("missing; begin the table with [{}]", self.field(key));
            self.missing.push((key, message));
        }
        found?.table(walk)
    }

    /// A table that may be absent.
    pub fn optional_table<T>(&mut self, key: &'static str, walk: impl FnOnce(&mut Self) -> Option<T>) -> Option<T> {
        self.optional_value(key)?.table(walk)
    }

    /// A list of tables; their fields count from 1.
    pub fn tables<T>(
        &mut self,
        key: &'static str,
        count: RangeInclusive<usize>,
        mut walk: impl FnMut(&mut Self) -> Option<T>,
    ) -> Option<Vec<T>> {
        let found = self.optional_value(key);
        if found.is_none() {
            let message = format!("missing; begin each entry with [[{}]]", self.field(key));
            self.missing.push((key, message));
        }
        let found = found?;
        if found.is_table() {
            found.problem(&format!("one table stands here where a list is wanted; begin each entry with [[{key}]]"));
            return None;
        }
        found.list(count, |v| v.table(&mut walk))
    }

    /// True when the file says it is of this kind and of a schema that can be read; the rest is worth judging only
    /// then.
    pub(super) fn is_of_kind(&mut self, kind: FileKind) -> bool {
        let said = self.value("kind", &format!("\"{}\" at the top", kind.kind));
        let said_kind = said.and_then(|v| v.text(40));
        let right_kind = said_kind.as_deref().is_none_or(|k| k == kind.kind);
        if let Some(other) = said_kind.filter(|_| !right_kind) {
            self.problem("kind", &format!("this file is a '{other}'; a '{}' is wanted here", kind.kind));
        }
        let like = format!("{} at the top", kind.schema);
        let schema = self.value("schema", &like).and_then(|v| v.integer::<i64>(1..=9999));
        let right_schema = schema.is_none_or(|s| s <= i64::from(kind.schema));
        if right_kind && !right_schema {
            let message = format!(
                "this file is of schema {}, newer than {}, the newest this program reads; update fadewright, or write \
                 the file anew for schema {}",
                schema.unwrap_or_default(),
                kind.schema,
                kind.schema
            );
            self.problem("schema", &message);
        }
        right_kind && right_schema
    }

    /// Leaves the keys that were not asked for unjudged.
    pub(super) fn give_up<T>(&mut self) -> Option<T> {
        self.given_up = true;
        None
    }

    /// Takes down the keys that nobody asked for, and the missing ones that none of these was meant to be.
    pub(super) fn finish(&mut self) {
        if self.given_up {
            return;
        }
        let mut meant = Vec::new();
        for (key, _) in self.entries {
            let text = key.get_ref().as_ref();
            if self.known.contains(&text) {
                continue;
            }
            meant.extend(nearest(text, &self.known));
            let message = format!("unknown key '{}'; {}", clip(text), hint(text, &self.known));
            self.log.problem(&self.field(&clip(text)), &key.span(), &message);
        }
        for (key, message) in std::mem::take(&mut self.missing) {
            if !meant.contains(&key) {
                self.log.problem(&self.field(key), &self.span, &message);
            }
        }
    }
}

/// `"none", "fading" or "visible"`.
fn one_of(words: &[&str]) -> String {
    match words {
        [] => String::new(),
        [word] => format!("\"{word}\""),
        [first @ .., last] => {
            format!("{} or \"{last}\"", first.iter().map(|w| format!("\"{w}\"")).collect::<Vec<_>>().join(", "))
        }
    }
}

/// Values that must differ from one another within a list of tables.
pub struct Seen<T>(Vec<T>);

impl<T> Default for Seen<T> {
    fn default() -> Self {
        Self(Vec::new())
    }
}

impl<T: PartialEq> Seen<T> {
    /// Remembers a value read from `key`; takes a mistake down when an earlier table of the list had the same.
    pub fn check(&mut self, table: &Table<'_>, key: &str, value: T, what: impl Display) {
        if self.0.contains(&value) {
            table.problem(key, &format!("{what} is used twice; each may stand there once"));
        }
        self.0.push(value);
    }
}
