//! The text of a file, before anything is understood of it.

use super::problem::{Problem, Problems};

/// Files larger than this are refused unread: 4 MiB.
pub const SIZE_LIMIT: u64 = 4 * 1024 * 1024;

/// Tables of figures larger than this are refused unread: 64 MiB.
pub const TABLE_SIZE_LIMIT: u64 = 64 * 1024 * 1024;

/// The byte order mark of UTF-8.
const MARK: &[u8] = &[0xEF, 0xBB, 0xBF];

/// The text of a file and the name to call it by in messages.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SourceText {
    name: String,
    text: String,
}

impl SourceText {
    /// A text that is at hand already, such as an embedded default.
    #[must_use]
    pub fn new(name: impl Into<String>, text: impl Into<String>) -> Self {
        Self { name: name.into(), text: text.into() }
    }

    /// The text of a file's bytes.
    ///
    /// # Errors
    /// A problem with its place when the bytes are too many, not UTF-8, start with a byte order mark or hold a zero
    /// byte.
    pub fn from_bytes(name: &str, bytes: &[u8]) -> Result<Self, Problems> {
        if bytes.starts_with(MARK) {
            let told = "the file begins with a byte order mark; save it as UTF-8 without one";
            return Err(Problem::at(name, 1, 1, "", told).into());
        }
        Self::within(name, bytes, SIZE_LIMIT)
    }

    /// The text of a table of figures; a byte order mark is left out.
    ///
    /// # Errors
    /// As [`SourceText::from_bytes`], but for the mark.
    pub(super) fn of_table(name: &str, bytes: &[u8]) -> Result<Self, Problems> {
        Self::within(name, bytes.strip_prefix(MARK).unwrap_or(bytes), TABLE_SIZE_LIMIT)
    }

    fn within(name: &str, bytes: &[u8], most: u64) -> Result<Self, Problems> {
        let refused = |at: usize, message: &str| {
            let head = bytes.get(..at).map(String::from_utf8_lossy).unwrap_or_default();
            let line = head.matches('\n').count() + 1;
            let column = head.rsplit('\n').next().unwrap_or_default().chars().count() + 1;
            Problems::from(Problem::at(name, line, column, "", message))
        };
        if bytes.len() as u64 > most {
            return Err(too_large(name, bytes.len() as u64, most));
        }
        if bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]) {
            return Err(refused(0, "the file is UTF-16; save it as UTF-8"));
        }
        if let Some(at) = bytes.iter().position(|b| *b == 0) {
            return Err(refused(at, "a zero byte stands here: this is not a text file"));
        }
        match std::str::from_utf8(bytes) {
            Ok(text) => Ok(Self::new(name, text)),
            Err(e) => Err(refused(e.valid_up_to(), "bytes that are not UTF-8 stand here; save the file as UTF-8 text")),
        }
    }

    /// The name to call it by.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The text.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }
}

/// The refusal of a file that is too large to be one of ours.
pub(super) fn too_large(name: &str, bytes: u64, most: u64) -> Problems {
    let mib = most / (1024 * 1024);
    let usual = if most > SIZE_LIMIT { "" } else { "; these files have a few thousand" };
    let told = format!("the file has {bytes} bytes{usual}, and more than {mib} MiB is refused unread");
    Problems::from(Problem::of_file(name, &told))
}
