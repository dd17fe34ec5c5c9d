//! Which sessions a list shows, and in which order.

use super::row::{RecordState, Row};
use crate::session::Level;
use crate::text::{fitted, shown};
use crate::units::trimmed;
use crate::words::{FitzpatrickType, Word, words};
use chrono::NaiveDate;
use std::cmp::Reverse;
use unicode_width::UnicodeWidthStr;

words! {
    /// What a list is sorted by.
    SortKey, "sort key" {
        /// What departs most from what is wanted, then the newest ([`Row::deviation_rank`]).
        Deviations = "deviations",
        /// The newest.
        Newest = "newest",
        /// The oldest.
        Oldest = "oldest",
        /// Client code, then the newest.
        Client = "client",
        /// Operator code, then the newest.
        Operator = "operator",
        /// The most urgent advice, then the newest.
        Level = "level",
        /// The most pulses.
        Pulses = "pulses",
    }
}

/// Which sessions are shown.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Filter {
    /// From this date on.
    pub from: Option<NaiveDate>,
    /// Up to this date, itself included.
    pub to: Option<NaiveDate>,
    /// This client code.
    pub client: Option<String>,
    /// This operator code.
    pub operator: Option<String>,
    /// This skin type.
    pub skin: Option<FitzpatrickType>,
    /// This wavelength, to half a nanometre.
    pub wavelength_nm: Option<f64>,
    /// Advice at least as urgent.
    pub level: Option<Level>,
    /// Only without a signature.
    pub unsigned: bool,
    /// PRACTICE instead of treatments.
    pub practice: bool,
    /// Only with a damaged journal.
    pub damaged: bool,
    /// Words that must all stand somewhere in the line, in any case of letters.
    pub search: String,
}

impl Filter {
    /// True for a session that is shown. One of which nothing can be read is shown by every filter but those of client,
    /// operator, skin, wavelength, advice and words: nobody should miss it for what cannot be known.
    #[must_use]
    pub fn shows(&self, row: &Row) -> bool {
        let same = |wanted: &Option<String>, had: &Option<String>| {
            wanted.as_ref().is_none_or(|w| had.as_ref().is_some_and(|h| h.eq_ignore_ascii_case(w)))
        };
        row.practice.is_some() == self.practice
            && self.from.is_none_or(|d| row.date.is_none_or(|had| had >= d))
            && self.to.is_none_or(|d| row.date.is_none_or(|had| had <= d))
            && same(&self.client, &row.client_code)
            && same(&self.operator, &row.operator_code)
            && self.skin.is_none_or(|s| row.skin_type == Some(s))
            && self.wavelength_nm.is_none_or(|nm| row.wavelengths_nm.iter().any(|had| (had - nm).abs() < 0.5))
            && self.level.is_none_or(|l| row.highest_level.is_some_and(|had| had >= l))
            && !(self.unsigned && row.signed)
            && (!self.damaged || row.record == RecordState::Damaged)
            && self.finds(row)
    }

    fn finds(&self, row: &Row) -> bool {
        if self.search.trim().is_empty() {
            return true;
        }
        let text = row.text().to_lowercase();
        self.search.to_lowercase().split_whitespace().all(|word| text.contains(word))
    }

    /// What is asked for, in words; empty where nothing is.
    #[must_use]
    pub fn words(&self) -> String {
        let mut parts = Vec::new();
        let mut say = |text: Option<String>| parts.extend(text);
        say(self.practice.then(|| "PRACTICE".to_owned()));
        say(self.from.map(|d| format!("from {d}")));
        say(self.to.map(|d| format!("to {d}")));
        say(self.client.as_ref().map(|c| format!("client {c}")));
        say(self.operator.as_ref().map(|o| format!("operator {o}")));
        say(self.skin.map(|s| format!("skin {s}")));
        say(self.wavelength_nm.map(|nm| format!("{nm} nm")));
        say(self.level.map(|l| format!("{l} or more")));
        say(self.unsigned.then(|| "unsigned".to_owned()));
        say(self.damaged.then(|| "damaged".to_owned()));
        say((!self.search.trim().is_empty()).then(|| format!("\"{}\"", self.search.trim())));
        parts.join(", ")
    }
}

impl Row {
    /// All that can be searched, in one line.
    #[must_use]
    pub fn text(&self) -> String {
        let or_dash = |text: Option<String>| text.unwrap_or_else(|| "-".to_owned());
        let nm: Vec<String> = self.wavelengths_nm.iter().map(|nm| format!("{nm}")).collect();
        [
            or_dash(self.practice.as_ref().map(|p| format!("PRACTICE {p}"))),
            self.session.clone(),
            or_dash(self.date.map(|d| d.to_string())),
            or_dash(self.client_code.clone()),
            or_dash(self.operator_code.clone()),
            or_dash(self.skin_type.map(|s| format!("skin {s}"))),
            nm.join(" "),
            or_dash(self.highest_level.map(|l| l.to_string())),
            self.outcome.map_or_else(|| "NOT CLOSED".to_owned(), |o| o.word().to_owned()),
            if self.signed { "signed".to_owned() } else { "unsigned".to_owned() },
            self.record.word().to_owned(),
        ]
        .join(" ")
    }
}

/// Puts places of rows in order; equal ones stay newest first. `row` is the row at a place.
pub fn sort<'a>(order: &mut [usize], row: impl Fn(usize) -> Option<&'a Row>, by: SortKey) {
    let row = |i: &usize| row(*i);
    order.sort_by_key(|i| Reverse(row(i).map(|r| &r.session)));
    match by {
        SortKey::Newest => {}
        SortKey::Oldest => order.reverse(),
        SortKey::Deviations => order.sort_by_key(|i| row(i).map(Row::deviation_rank)),
        SortKey::Client => order.sort_by_key(|i| row(i).and_then(|r| r.client_code.as_ref())),
        SortKey::Operator => order.sort_by_key(|i| row(i).and_then(|r| r.operator_code.as_ref())),
        SortKey::Level => order.sort_by_key(|i| Reverse(row(i).and_then(|r| r.highest_level))),
        SortKey::Pulses => order.sort_by_key(|i| Reverse(row(i).map(|r| r.pulses))),
    }
}

impl Filter {
    /// What was typed in a line, over what is asked for already: words to be found, and `client:HL-2041`,
    /// `operator:OP-1`, `skin:III`, `nm:1064`, `level:STOP`, `from:2026-01-01`, `to:2026-12-31`, `unsigned:`,
    /// `damaged:`. What cannot be read yet, because it is still being typed, asks for nothing.
    #[must_use]
    pub fn typed(&self, line: &str) -> Self {
        let mut filter = self.clone();
        let mut words: Vec<&str> = Vec::new();
        for word in line.split_whitespace() {
            let Some((key, value)) = word.split_once(':') else {
                words.push(word);
                continue;
            };
            let text = (!value.is_empty()).then(|| value.to_owned());
            match key.to_lowercase().as_str() {
                "client" => filter.client = text.or(filter.client),
                "operator" => filter.operator = text.or(filter.operator),
                "skin" => filter.skin = FitzpatrickType::from_word(&value.to_uppercase()).or(filter.skin),
                "nm" => filter.wavelength_nm = value.parse().ok().or(filter.wavelength_nm),
                "level" => filter.level = Level::from_word(&value.to_uppercase()).or(filter.level),
                "from" => filter.from = value.parse().ok().or(filter.from),
                "to" => filter.to = value.parse().ok().or(filter.to),
                "unsigned" => filter.unsigned = true,
                "damaged" => filter.damaged = true,
                _ => words.push(word),
            }
        }
        if !words.is_empty() {
            filter.search = format!("{} {}", self.search, words.join(" ")).trim().to_owned();
        }
        filter
    }
}

/// From so many columns on a line holds everything.
pub const WIDE: usize = 124;

impl Row {
    /// The headings over [`Self::line`] in so many columns.
    #[must_use]
    pub const fn headings(columns: usize) -> &'static str {
        if columns >= WIDE {
            "  date       session                client     oper.  skin nm        z  pulses/about   advice decl adv end"
        } else {
            "  date       client    oper. sk. nm       pulses/abt. advic de ad end"
        }
    }

    /// The session in a line. The first sign is `!` where something departs from what is wanted ([`Self::deviation_rank`]
    /// below 5), `de` counts declined advice and overridden checks, `ad` adverse responses. In few columns some figures
    /// are left out, never that a journal is damaged, a session not closed or PRACTICE.
    #[must_use]
    pub fn line(&self, columns: usize) -> String {
        let nm: Vec<String> = self.wavelengths_nm.iter().map(|nm| trimmed(*nm, 1)).collect();
        let mark = if self.deviation_rank() < 5 { '!' } else { ' ' };
        let date = self.date.map_or_else(|| "-".to_owned(), |d| d.to_string());
        let skin = self.skin_type.map_or("-", Word::word);
        let level = self.highest_level.map_or("-", Word::word);
        let end = self.outcome.map_or("NOT CLOSED", Word::word);
        let decl = self.declined.saturating_add(self.overridden);
        let (client, operator) = (self.client_code.as_ref(), self.operator_code.as_ref());
        let nm = nm.join("+");
        if columns < WIDE {
            let nm = if self.practice.is_some() { "PRACTICE".to_owned() } else { nm };
            let end = if self.record == RecordState::Damaged { "DAMAGED" } else { end };
            let pulses = format!("{}/{}", self.pulses, self.planned_even_pulses);
            return format!(
                "{mark} {date:<10} {} {} {skin:<3} {} {} {level:<5} {decl:>2} {:>2} {end}",
                cell(client, 9),
                cell(operator, 5),
                cell(Some(&nm), 8),
                cell(Some(&pulses), 11),
                self.adverse
            );
        }
        let mut line = format!(
            "{mark} {date:<10} {} {} {} {skin:<4} {} {:>2} {:>6}/{:<6}  {level:<6} {decl:>4} {:>3} {end}",
            cell(Some(&self.session), 22),
            cell(client, 10),
            cell(operator, 6),
            cell(Some(&nm), 9),
            self.zones,
            self.pulses,
            self.planned_even_pulses,
            self.adverse,
        );
        if self.signed {
            line.push_str(" signed");
        }
        if self.record != RecordState::Sound {
            let text = self.record_text.as_deref().unwrap_or_default();
            line.push_str(&format!(" {}: {}", self.record.word().to_uppercase(), shown(text)));
        }
        if let Some(scenario) = &self.practice {
            line.push_str(&format!(" PRACTICE {}", shown(scenario)));
        }
        line
    }
}

/// A text in so many columns, safe to show.
fn cell(text: Option<&String>, columns: usize) -> String {
    let text = fitted(&shown(text.map_or("-", String::as_str)), columns);
    format!("{text}{}", " ".repeat(columns.saturating_sub(text.width())))
}
