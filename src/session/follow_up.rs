//! What was seen when the client came back.

use super::command::Refusal;
use super::{FreeText, State};
use crate::words::words;
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

words! {
    /// How the treated skin heals.
    ///
    /// Crusts that shed within two weeks are the expected course; weeping or spreading redness, pus and fever are signs
    /// to call for (hospital aftercare sheets; general practice).
    Healing, "healing" {
        /// As expected.
        Good = "good",
        /// Slower than expected.
        Slow = "slow",
        /// Under crusts.
        Crusted = "crusted",
        /// Open and weeping.
        Weeping = "weeping",
        /// With signs of infection.
        Infected = "infected",
    }
}

words! {
    /// How the skin's own pigment changed.
    Pigment, "pigment change" {
        /// Not at all.
        None = "none",
        /// Lighter than the skin around it.
        Lighter = "lighter",
        /// Darker than the skin around it.
        Darker = "darker",
        /// Lighter in places, darker in others.
        Both = "both",
    }
}

words! {
    /// What scar is seen.
    Scar, "scar" {
        /// None.
        None = "none",
        /// The surface feels or looks different.
        Texture = "texture",
        /// Sunken.
        Atrophic = "atrophic",
        /// Raised within the treated area.
        Hypertrophic = "hypertrophic",
        /// Raised beyond it.
        Keloid = "keloid",
    }
}

/// Whom a record names: 2 to 16 capital letters, digits and hyphens with at least one digit, such as `OP-1`; a code,
/// never a name.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct CodeOfPerson(String);

impl CodeOfPerson {
    /// The text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl FromStr for CodeOfPerson {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let shaped = (2..=16).contains(&text.len())
            && text.bytes().all(|b| b.is_ascii_uppercase() || b.is_ascii_digit() || b == b'-')
            && text.bytes().any(|b| b.is_ascii_digit())
            && !text.starts_with('-')
            && !text.ends_with('-');
        if shaped {
            Ok(Self(text.to_owned()))
        } else {
            Err("a code of a person is 2 to 16 capital letters, digits and hyphens with at least one digit, such as \
                 OP-1; never a name"
                .to_owned())
        }
    }
}

impl fmt::Display for CodeOfPerson {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

impl From<CodeOfPerson> for String {
    fn from(code: CodeOfPerson) -> Self {
        code.0
    }
}

impl TryFrom<String> for CodeOfPerson {
    type Error = String;

    fn try_from(text: String) -> Result<Self, String> {
        text.parse()
    }
}

/// A photograph that was taken; it is not kept here, only named.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Photo {
    /// The file's name without its path. Files are named by people, so it lies outside the chain as their words do.
    pub name: FreeText,
    /// SHA-256 of its bytes, 64 lower-case hexadecimal digits.
    pub sha256: String,
}

/// One follow-up.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FollowUp {
    /// The day the client was seen.
    pub date: NaiveDate,
    /// Code of who saw the client.
    pub seen_by: FreeText,
    /// How the skin heals.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub healing: Option<Healing>,
    /// True when a blister was seen or told of.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub blister: bool,
    /// How the skin's own pigment changed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pigment: Option<Pigment>,
    /// What scar is seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scar: Option<Scar>,
    /// How much of the ink is gone, as it is judged by eye, 0 to 100 per cent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clearance_percent: Option<u8>,
    /// In the observer's words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<FreeText>,
    /// Photographs taken.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub photos: Vec<Photo>,
}

impl FollowUp {
    /// Whether it may be recorded for this session, today, after the follow-ups there are.
    ///
    /// # Errors
    /// A [`Refusal`]: the session is practice or not closed, the day is before the session or not yet there, nothing was
    /// found, the clearance is above 100 per cent, a photograph is named twice, or the same was recorded before.
    pub fn check(&self, state: &State, today: NaiveDate, earlier: &[Self]) -> Result<(), Refusal> {
        if state.opened.practice.is_some() {
            return Err(Refusal::new(
                "follow-up.practice",
                "this is a PRACTICE session on simulated skin: nobody was treated",
                "there is nobody to follow up",
            ));
        }
        if state.closed.is_none() {
            return Err(Refusal::new(
                "follow-up.open",
                "the session is not closed",
                "take it up with fadewright resume, close it, then record the follow-up",
            ));
        }
        if self.date < state.opened.date {
            return Err(Refusal::new(
                "follow-up.before",
                format!("{} is before the session, which was on {}", self.date, state.opened.date),
                "correct the date, or name the session that was followed up",
            ));
        }
        if self.date > today {
            return Err(Refusal::new(
                "follow-up.future",
                format!("{} is not yet there: today is {today}", self.date),
                "record a follow-up after the client was seen, and look whether the computer's clock is right",
            ));
        }
        if self.clearance_percent.is_some_and(|p| p > 100) {
            return Err(Refusal::new(
                "follow-up.clearance",
                "more than all of the ink cannot be gone",
                "give the clearance as 0 to 100 per cent",
            ));
        }
        if self.is_empty() {
            return Err(Refusal::new(
                "follow-up.empty",
                "nothing was found",
                "tell at least one of healing, blister, pigment, scar, clearance, a note or a photo",
            ));
        }
        let twice =
            self.photos.iter().enumerate().any(|(i, p)| self.photos.iter().skip(i + 1).any(|q| q.sha256 == p.sha256));
        if twice {
            return Err(Refusal::new("follow-up.photo-twice", "the same photo is named twice", "name it once"));
        }
        if let Some(n) = earlier.iter().position(|e| e == self) {
            return Err(Refusal::new(
                "follow-up.twice",
                format!("the same is recorded already, as follow-up {}", n + 1),
                "nothing was added; if the client was seen twice that day, say in a note what differs",
            ));
        }
        Ok(())
    }

    fn is_empty(&self) -> bool {
        self.findings().is_empty() && self.note.is_none() && self.photos.is_empty()
    }

    /// True when something was found that a register counts as an adverse effect: healing that is slow, weeping or
    /// infected, a blister, a change of pigment, a scar.
    #[must_use]
    pub fn is_adverse(&self) -> bool {
        matches!(self.healing, Some(Healing::Slow | Healing::Weeping | Healing::Infected))
            || self.blister
            || self.pigment.is_some_and(|p| p != Pigment::None)
            || self.scar.is_some_and(|s| s != Scar::None)
    }

    /// The findings in words, without the note and the photographs.
    #[must_use]
    pub fn findings(&self) -> Vec<String> {
        let mut found = Vec::new();
        found.extend(self.healing.map(|h| format!("healing {h}")));
        found.extend(self.blister.then(|| "blister".to_owned()));
        found.extend(self.pigment.map(|p| match p {
            Pigment::None => "no pigment change".to_owned(),
            Pigment::Both => "pigment lighter and darker".to_owned(),
            other => format!("pigment {other}"),
        }));
        found.extend(self.scar.map(|s| match s {
            Scar::None => "no scar".to_owned(),
            Scar::Texture => "change of texture".to_owned(),
            Scar::Keloid => "keloid".to_owned(),
            other => format!("{other} scar"),
        }));
        found.extend(self.clearance_percent.map(|p| format!("{p} % cleared by eye")));
        found
    }

    /// All of it in words, in one line.
    #[must_use]
    pub fn words(&self) -> String {
        let mut parts = self.findings();
        parts.extend(self.note.as_ref().map(|note| format!("note: {note}")));
        parts.extend(self.photos.iter().map(|p| format!("photo {}", p.name)));
        format!("seen by {}: {}", self.seen_by, parts.join("; "))
    }
}
