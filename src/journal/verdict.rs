//! What a look through a journal found.

use super::Digest;
use serde::Serialize;
use std::fmt;

/// The state of a journal file, judged from its bytes alone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(tag = "verdict", rename_all = "snake_case")]
pub enum Verdict {
    /// Every line is whole and follows the one before.
    Clean {
        /// The hash of the last line.
        head: Digest,
    },
    /// The file holds no byte: the program was cut off before the first record.
    Empty,
    /// The last line was cut off while it was written; it was never shown as saved.
    TornTail {
        /// Where the cut line begins, in bytes.
        offset: u64,
        /// How many bytes of it there are.
        bytes: u64,
    },
    /// The last record is whole and right, only its line end is missing.
    Unterminated {
        /// The hash of the last record.
        head: Digest,
    },
    /// A line is damaged and more follows it.
    Corrupt {
        /// The line, counted from 1.
        line: u64,
        /// Where the line begins, in bytes.
        offset: u64,
        /// What is wrong with it.
        reason: String,
    },
    /// The last line is damaged although its line end is there, so that it may have been shown as saved.
    CorruptTail {
        /// The line, counted from 1.
        line: u64,
        /// Where the line begins, in bytes.
        offset: u64,
        /// What is wrong with it.
        reason: String,
    },
    /// The first line is sound in itself but does not begin this session's chain.
    FrontReplaced {
        /// What is wrong with it.
        reason: String,
    },
    /// Another program opened and saved the file, and changed its form.
    EditedElsewhere {
        /// The first changed line, counted from 1.
        line: u64,
        /// Where the line begins, in bytes.
        offset: u64,
        /// What gave it away.
        reason: String,
    },
}

impl Verdict {
    /// True when all that was recorded is there, unchanged and complete.
    #[must_use]
    pub const fn is_sound(&self) -> bool {
        matches!(self, Self::Clean { .. })
    }

    /// True when a session may go on in this file: it is sound, or it only shows the traces of a cut-off write.
    #[must_use]
    pub const fn allows_appending(&self) -> bool {
        matches!(self, Self::Clean { .. } | Self::Empty | Self::TornTail { .. } | Self::Unterminated { .. })
    }

    /// The line that is not as it must be, counted from 1, where there is one.
    #[must_use]
    pub const fn line(&self) -> Option<u64> {
        match self {
            Self::Corrupt { line, .. } | Self::CorruptTail { line, .. } | Self::EditedElsewhere { line, .. } => {
                Some(*line)
            }
            Self::FrontReplaced { .. } => Some(1),
            Self::Clean { .. } | Self::Empty | Self::TornTail { .. } | Self::Unterminated { .. } => None,
        }
    }
}

impl fmt::Display for Verdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Clean { head } => write!(f, "sound; every record follows the one before (head {})", head.short()),
            Self::Empty => f.write_str("empty; nothing was recorded"),
            Self::TornTail { offset, bytes } => {
                write!(
                    f,
                    "cut off while writing: {bytes} bytes from byte {offset} are no whole record; all before is sound"
                )
            }
            Self::Unterminated { .. } => f.write_str("sound, but the last line lacks its line end"),
            Self::Corrupt { line, offset, reason } => {
                write!(f, "damaged: line {line} (byte {offset}) {reason}; more lines follow it")
            }
            Self::CorruptTail { line, offset, reason } => {
                write!(f, "damaged: the last line, {line} (byte {offset}), {reason}")
            }
            Self::FrontReplaced { reason } => write!(f, "damaged: the first line {reason}"),
            Self::EditedElsewhere { line, offset, reason } => {
                write!(f, "opened and saved by another program: line {line} (byte {offset}) {reason}")
            }
        }
    }
}
