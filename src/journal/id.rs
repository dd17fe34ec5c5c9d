//! The name of a session.

use chrono::{DateTime, FixedOffset, NaiveDate};
use serde::{Deserialize, Serialize};
use std::fmt;
use std::io;
use std::path::Path;
use std::str::FromStr;

/// Digits and capitals without I, L, O and U, which are misread or spell words.
const CROCKFORD: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
const DATE_TIME: &str = "%Y%m%d-%H%M%S";
const RANDOM_CHARS: usize = 6;

/// A session's id, such as `20261124-224801-7K3M9Q`: the local date and time of opening and six random characters.
///
/// It is also the stem of the session's file name, so only this exact shape is accepted, and nothing that could be
/// read as a path, an option or a device name.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct SessionId(String);

impl SessionId {
    /// A new id for a session opened at `opened`.
    ///
    /// # Errors
    /// When the machine gives no random bytes, or the year has not four digits.
    pub fn new(opened: DateTime<FixedOffset>) -> io::Result<Self> {
        let mut random = [0_u8; RANDOM_CHARS];
        getrandom::fill(&mut random)?;
        let mut text = format!("{}-", opened.format(DATE_TIME));
        text.extend(random.iter().filter_map(|b| CROCKFORD.get(usize::from(b & 31))).map(|&b| char::from(b)));
        text.parse().map_err(io::Error::other)
    }

    /// The id as text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The year of opening, four digits.
    #[must_use]
    pub fn year(&self) -> &str {
        self.0.get(..4).unwrap_or_default()
    }

    /// The month of opening, two digits.
    #[must_use]
    pub fn month(&self) -> &str {
        self.0.get(4..6).unwrap_or_default()
    }

    /// The name of the session's journal file.
    #[must_use]
    pub fn file_name(&self) -> String {
        format!("{}.jsonl", self.0)
    }

    /// The id that a journal's file name holds, if it is one.
    #[must_use]
    pub fn of_file(path: &Path) -> Option<Self> {
        path.file_name()?.to_str()?.strip_suffix(".jsonl")?.parse().ok()
    }
}

/// The text is no session id.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("“{}” is no session id; one looks like 20261124-224801-7K3M9Q", crate::text::fitted(&crate::text::shown(text), 40))]
pub struct BadId {
    text: String,
}

impl FromStr for SessionId {
    type Err = BadId;

    fn from_str(text: &str) -> Result<Self, BadId> {
        let shaped = text.split_at_checked(16).is_some_and(|(date_time, random)| {
            is_date_time(date_time) && random.len() == RANDOM_CHARS && random.bytes().all(|b| CROCKFORD.contains(&b))
        });
        if shaped { Ok(Self(text.to_owned())) } else { Err(BadId { text: text.to_owned() }) }
    }
}

/// Whether this is `YYYYMMDD-hhmmss-` with a date and time that exist. By hand, as lists of thousands are read at start.
fn is_date_time(text: &str) -> bool {
    let number = |from: usize, to: usize| {
        let digits = text.get(from..to).filter(|part| part.bytes().all(|b| b.is_ascii_digit()));
        digits.and_then(|part| part.parse::<u32>().ok())
    };
    let date_time = || {
        let date = NaiveDate::from_ymd_opt(number(0, 4)?.cast_signed(), number(4, 6)?, number(6, 8)?)?;
        date.and_hms_opt(number(9, 11)?, number(11, 13)?, number(13, 15)?)
    };
    text.get(8..9) == Some("-") && text.get(15..) == Some("-") && date_time().is_some()
}

impl fmt::Display for SessionId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

impl From<SessionId> for String {
    fn from(id: SessionId) -> Self {
        id.0
    }
}

impl TryFrom<String> for SessionId {
    type Error = BadId;

    fn try_from(text: String) -> Result<Self, BadId> {
        text.parse()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_new_id_reads_back_and_sorts_by_time() {
        let at = DateTime::parse_from_rfc3339("2026-11-24T22:48:01.900+01:00").unwrap();
        let id = SessionId::new(at).unwrap();
        assert!(id.as_str().starts_with("20261124-224801-"), "{id}");
        assert_eq!(id.as_str().parse(), Ok(id.clone()));
        assert_eq!((id.year(), id.month()), ("2026", "11"));
        assert_eq!(SessionId::of_file(Path::new("/x").join(id.file_name()).as_path()), Some(id.clone()));
        assert!(SessionId::new(at + chrono::Duration::seconds(1)).unwrap() > id);
    }

    #[test]
    fn nothing_else_is_an_id() {
        let good = "20261124-224801-7K3M9Q";
        assert!(good.parse::<SessionId>().is_ok());
        let long = "7".repeat(300);
        for bad in [
            "",
            ".",
            "..",
            "../x",
            "/etc/x",
            "..\\x",
            "CON",
            "a\0b",
            "-rf",
            &long,
            "20261124-224801-7K3M9q",
            "20261124-224801-7K3M9I",
            "20261124-224801-7K3M9",
            "20261124-224801-7K3M9QQ",
            "20261124-224801-../M9Q",
            "20261324-224801-7K3M9Q",
            "20260230-224801-7K3M9Q",
            "20261124-244801-7K3M9Q",
            "20261124-226001-7K3M9Q",
            "2026112-4224801-7K3M9Q",
            "+0261124-224801-7K3M9Q",
            " 0261124-224801-7K3M9Q",
            "20261124-224801-7K3M9Q\n",
            "20261124_224801-7K3M9Q",
            "20261124-224801-7K3M9Ｑ",
            "２0261124-224801-7K3M9Q",
            "20261124-224801-7K3Me\u{301}",
        ] {
            assert!(bad.parse::<SessionId>().is_err(), "{bad:?}");
        }
        let json = serde_json::from_str::<SessionId>("\"../../etc/passwd\"");
        assert!(json.unwrap_err().to_string().contains("is no session id"));
    }
}
