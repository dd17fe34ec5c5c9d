//! A cursor on one value of a file.

use super::nearest::hint;
use super::places::Log;
use super::table::Table;
use crate::text::{fitted, shown};
use crate::units::Quantity;
use crate::words::Word;
use chrono::{Datelike, NaiveDate};
use std::fmt::Display;
use std::ops::RangeInclusive;
use std::str::FromStr;
use toml::Spanned;
use toml::de::DeValue;

/// The text that marks a blank of a template: whatever the field, it is refused as not filled in yet.
pub const BLANK: &str = "?";

/// Longest text that is tried as a quantity, a word or a name.
const SHORT: usize = 64;

/// A cursor on one value; every reading that fails has taken the mistake down.
#[derive(Clone)]
pub struct Value<'a> {
    log: &'a Log<'a>,
    field: String,
    key: &'static str,
    node: &'a Spanned<DeValue<'a>>,
}

impl<'a> Value<'a> {
    pub(super) fn new(log: &'a Log<'a>, field: String, key: &'static str, node: &'a Spanned<DeValue<'a>>) -> Self {
        Self { log, field, key, node }
    }

    /// Takes down a mistake at this value.
    pub fn problem(&self, message: &str) {
        self.log.problem(&self.field, &self.node.span(), message);
    }

    fn is_blank(&self) -> bool {
        self.node.get_ref().as_str() == Some(BLANK)
    }

    pub(super) fn is_table(&self) -> bool {
        self.node.get_ref().is_table()
    }

    /// Refuses the value: blank, or of a kind that is not `wanted`.
    fn unfit<T>(&self, wanted: &str) -> Option<T> {
        if self.is_blank() {
            self.problem(&format!("still blank; write {wanted}"));
        } else {
            self.problem(&format!("{} stands here; write {wanted}", in_words(self.node.get_ref())));
        }
        None
    }

    /// The text when it is one, not blank and short enough to be tried.
    fn short(&self, wanted: &str) -> Option<&'a str> {
        match self.node.get_ref() {
            DeValue::String(s) if s != BLANK && s.chars().count() <= SHORT => Some(s),
            _ => self.unfit(wanted),
        }
    }

    /// A quantity: a text with its unit.
    #[must_use]
    pub fn quantity<Q: Quantity>(&self) -> Option<Q> {
        let (key, example) = (self.key, Q::EXAMPLE);
        let number = match self.node.get_ref() {
            DeValue::Integer(n) => Some(clip(&n.to_string())),
            DeValue::Float(n) => Some(clip(n.as_str())),
            _ => None,
        };
        if let Some(number) = number {
            let wrong = if number.contains(['n', 'i']) { "is not a number" } else { "has no unit" };
            self.problem(&format!("{number} {wrong}; write it in quotes with its unit, like {key} = \"{example}\""));
            return None;
        }
        let text = self.short(&format!("a {} with its unit, like \"{example}\"", Q::NAME))?;
        let quantity = text.parse::<Q>();
        if let Err(e) = &quantity {
            let pointed = text.replace(',', ".");
            match pointed.parse::<Q>() {
                Ok(_) => self.problem(&format!("decimals take a point; write {key} = \"{pointed}\"")),
                Err(_) => self.problem(&e.to_string()),
            }
        }
        quantity.ok()
    }

    /// A word of a closed list.
    #[must_use]
    pub fn word<W: Word>(&self) -> Option<W> {
        let allowed = W::WORDS.join(", ");
        let word = self.short(&format!("a {} in quotes, one of: {allowed}", W::WHAT))?;
        let found = W::from_word(word);
        if found.is_none() {
            self.problem(&format!("'{word}' is not a known {}; {}", W::WHAT, hint(word, W::WORDS)));
        }
        found
    }

    /// A free text that says something, of at most `max` characters.
    #[must_use]
    pub fn text(&self, max: usize) -> Option<String> {
        let text = match self.node.get_ref() {
            DeValue::String(s) if s != BLANK => s,
            _ => return self.unfit(&format!("a text in quotes, at most {max} characters")),
        };
        let length = text.chars().count();
        if text.trim().is_empty() {
            self.problem("the text is empty; write what it is, or take the line out where it may be absent");
            return None;
        }
        if length > max {
            self.problem(&format!("the text has {length} characters; at most {max} are allowed"));
            return None;
        }
        Some(text.clone().into_owned())
    }

    /// A short text with rules of its own: a code, an id. `wanted` says how it may look.
    #[must_use]
    pub fn name<T: FromStr<Err: Display>>(&self, wanted: &str) -> Option<T> {
        if self.is_blank() {
            // The rules of the name are known only from its refusal.
            let rules = BLANK.parse::<T>().err().map_or_else(String::new, |e| e.to_string());
            self.problem(&format!("still blank: {rules}"));
            return None;
        }
        let text = self.short(wanted)?;
        match text.parse() {
            Ok(name) => Some(name),
            Err(e) => {
                let hidden = text.chars().enumerate().find(|(_, c)| shown(c.encode_utf8(&mut [0; 4])) != c.to_string());
                let told = hidden.map(|(i, c)| format!("; character {} is U+{:04X}", i + 1, u32::from(c)));
                self.problem(&format!("{e}{}", told.unwrap_or_default()));
                None
            }
        }
    }

    /// A whole number within a range.
    #[must_use]
    pub fn integer<T: TryFrom<i64>>(&self, range: RangeInclusive<i64>) -> Option<T> {
        let wanted = format!("a whole number, {} to {}", range.start(), range.end());
        let DeValue::Integer(n) = self.node.get_ref() else {
            return match self.node.get_ref() {
                DeValue::Float(n) => {
                    self.problem(&format!("{} is not a whole number; write {wanted}", clip(n.as_str())));
                    None
                }
                _ => self.unfit(&wanted),
            };
        };
        let number = i64::from_str_radix(n.as_str(), n.radix()).ok().filter(|n| range.contains(n));
        let fitting = number.and_then(|n| T::try_from(n).ok());
        if fitting.is_none() {
            let given = clip(&n.to_string());
            self.problem(&format!("{given} is outside {} to {}", range.start(), range.end()));
        }
        fitting
    }

    /// A bare number, whole or not, `inf` included: for keys whose name tells the unit. Its range is for the caller.
    #[must_use]
    pub fn number(&self) -> Option<f64> {
        let number = match self.node.get_ref() {
            DeValue::Integer(n) => i64::from_str_radix(n.as_str(), n.radix()).ok().map(|n| n as f64),
            DeValue::Float(n) => n.as_str().parse().ok(),
            _ => None,
        };
        number.or_else(|| self.unfit("a number without quotes, in the unit that the key names"))
    }

    /// Yes or no.
    #[must_use]
    pub fn boolean(&self) -> Option<bool> {
        match self.node.get_ref() {
            DeValue::Boolean(b) => Some(*b),
            _ => self.unfit("true or false, without quotes"),
        }
    }

    /// A date between 1990 and 2100.
    #[must_use]
    pub fn date(&self) -> Option<NaiveDate> {
        const WANTED: &str = "a date without quotes, such as 2026-10-12";
        let date = match self.node.get_ref() {
            DeValue::Datetime(at) if at.time.is_none() => at.date,
            DeValue::Datetime(_) => {
                self.problem(&format!("a time of day stands here; write {WANTED}"));
                return None;
            }
            _ => return self.unfit(WANTED),
        };
        let date = date.and_then(|d| NaiveDate::from_ymd_opt(i32::from(d.year), u32::from(d.month), u32::from(d.day)));
        let sane = date.filter(|d| (1990..=2100).contains(&d.year()));
        if sane.is_none() {
            self.problem("no date between 1990 and 2100; check day, month and year (2026-10-12)");
        }
        sane
    }

    /// A table, walked to its end.
    #[must_use]
    pub fn table<T>(&self, walk: impl FnOnce(&mut Table<'a>) -> Option<T>) -> Option<T> {
        let DeValue::Table(entries) = self.node.get_ref() else {
            return self.unfit(&format!("a table, like {} = {{ ... }}", self.key));
        };
        let mut table = Table::new(self.log, self.field.clone(), self.node.span(), entries);
        let value = walk(&mut table);
        table.finish();
        value
    }

    /// A list: its entries are read one by one, all of them, before it is given up.
    #[must_use]
    pub fn list<T>(&self, count: RangeInclusive<usize>, mut read: impl FnMut(Self) -> Option<T>) -> Option<Vec<T>> {
        let DeValue::Array(entries) = self.node.get_ref() else {
            return self.unfit("a list in square brackets");
        };
        if !count.contains(&entries.len()) {
            let (low, high) = (count.start(), count.end());
            self.problem(&format!("{} entries stand here; {low} to {high} are allowed", entries.len()));
            return None;
        }
        let mut all = Some(Vec::with_capacity(entries.len()));
        for (i, node) in entries.iter().enumerate() {
            let field = format!("{}[{}]", self.field, i + 1);
            self.log.note(&field, node.span());
            match (read(Self { log: self.log, field, key: self.key, node }), &mut all) {
                (Some(value), Some(list)) => list.push(value),
                _ => all = None,
            }
        }
        all
    }
}

/// What stands in the file, for a message.
fn in_words(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) => format!("'{}'", clip(text)),
        DeValue::Integer(number) => clip(&number.to_string()),
        DeValue::Float(number) => clip(number.as_str()),
        DeValue::Boolean(answer) => answer.to_string(),
        DeValue::Datetime(at) => at.to_string(),
        DeValue::Array(_) => "a list".to_owned(),
        DeValue::Table(_) => "a table".to_owned(),
    }
}

/// A text from a file, cut to fit a message.
pub(super) fn clip(text: &str) -> String {
    fitted(&shown(&text.chars().take(SHORT).collect::<String>()), 40)
}
