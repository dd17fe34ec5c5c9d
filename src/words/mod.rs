//! Closed lists of words: enums whose spelling in files, journals and messages is one and the same.

mod trade;

pub use trade::{BeamProfile, BodySite, Density, FitzpatrickType, InkColour, Level};

/// What every closed list can do, so that loaders and messages treat them alike.
pub trait Word: Copy + Sized + 'static {
    /// What the list is of, for messages.
    const WHAT: &'static str;
    /// Every spelling, in order.
    const WORDS: &'static [&'static str];
    /// Every value, in order.
    const ALL: &'static [Self];
    /// The spelling used in files.
    fn word(self) -> &'static str;
    /// The value with this spelling.
    fn from_word(word: &str) -> Option<Self>;
    /// The spelling as it is said: without hyphens.
    fn spoken(self) -> String {
        self.word().replace('-', " ")
    }
}

/// Defines such a list with its documentation, serde spelling and `Display`.
macro_rules! words {
    ($(#[$doc:meta])* $name:ident, $what:literal { $($(#[$vdoc:meta])* $variant:ident = $word:literal),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize)]
        pub enum $name {
            $($(#[$vdoc])* #[serde(rename = $word)] $variant),+
        }
        impl $crate::words::Word for $name {
            const WHAT: &'static str = $what;
            const WORDS: &'static [&'static str] = &[$($word),+];
            const ALL: &'static [Self] = &[$(Self::$variant),+];
            fn word(self) -> &'static str {
                match self { $(Self::$variant => $word),+ }
            }
            fn from_word(word: &str) -> Option<Self> {
                match word { $($word => Some(Self::$variant),)+ _ => None }
            }
        }
        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.pad($crate::words::Word::word(*self))
            }
        }
    };
}
pub(crate) use words;
