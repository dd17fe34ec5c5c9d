//! Text that a person typed.
//!
//! It is kept apart from the chained record, so that it can be erased later without breaking the chain. In JSON it is
//! `{"free_text": "..."}`, or `{"free_text_erased": true}` once it is gone.

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;

/// Longest text that is kept, in characters.
pub const FREE_TEXT_MAX: usize = 2000;

/// A person's words, or the mark that they were erased.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FreeText(Option<String>);

impl FreeText {
    /// The trimmed text, cut to [`FREE_TEXT_MAX`] characters; none when nothing is left.
    #[must_use]
    pub fn new(text: &str) -> Option<Self> {
        let text = text.trim();
        (!text.is_empty()).then(|| Self(Some(text.chars().take(FREE_TEXT_MAX).collect())))
    }

    /// The text, unless it was erased.
    #[must_use]
    pub fn text(&self) -> Option<&str> {
        self.0.as_deref()
    }
}

impl fmt::Display for FreeText {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.0 {
            Some(text) => f.write_str(&crate::text::shown(text)),
            None => f.write_str("(text erased)"),
        }
    }
}

#[derive(Serialize, Deserialize)]
struct Wire {
    #[serde(skip_serializing_if = "Option::is_none")]
    free_text: Option<String>,
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    free_text_erased: bool,
}

impl Serialize for FreeText {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        Wire { free_text: self.0.clone(), free_text_erased: self.0.is_none() }.serialize(serializer)
    }
}

impl<'de> Deserialize<'de> for FreeText {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        // Altered text is treated as gone: what cannot be vouched for is not shown as the operator's words.
        Ok(Self(Wire::deserialize(deserializer)?.free_text))
    }
}
