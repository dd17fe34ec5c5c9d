//! The one reader for the files a person writes: plans, device profiles and clinic protocols.
//!
//! A file is read whole, and every mistake in it is gathered before it is refused: each with its line, its column, the
//! field it stands in, what is wrong and what is allowed. Columns count characters, lines and columns count from 1.
//! Unknown keys are mistakes too, so that a misspelt limit is never taken for a limit that was left out.
//!
//! A loader hands [`read`] a closure that walks the file with a [`Table`] cursor; [`Loaded`] keeps the places of all
//! fields, so that a mistake found later (a setting above a ceiling) can still be shown in the file.

mod disk;
mod nearest;
mod places;
mod problem;
mod syntax;
mod table;
mod text;
mod value;

pub use disk::{create_new, read_file, read_table};
pub use nearest::nearest;
pub use places::{Place, Places};
pub use problem::{Problem, Problems};
pub use table::{Seen, Table};
pub use text::{SIZE_LIMIT, SourceText, TABLE_SIZE_LIMIT};
pub use value::{BLANK, Value};

use places::Log;
use toml::de::DeTable;

/// What a file says it is, in its first two lines: `kind = "fadewright plan"` and `schema = 1`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FileKind {
    /// The text of the key `kind`.
    pub kind: &'static str,
    /// The newest schema this program reads.
    pub schema: u32,
}

/// A value read from a file, with the place of every field it was read from.
#[derive(Debug, Clone, PartialEq)]
pub struct Loaded<T> {
    /// The value.
    pub value: T,
    /// Where its fields stand in the file.
    pub places: Places,
}

/// Reads a file of the given kind with a closure that walks its root table.
///
/// # Errors
/// Every mistake of the file, in the order of its lines. Where a mistake of TOML itself may have moved lines into a
/// wrong table, the fields are not judged.
pub fn read<T>(
    source: &SourceText,
    kind: FileKind,
    walk: impl FnOnce(&mut Table<'_>) -> Option<T>,
) -> Result<Loaded<T>, Problems> {
    // Judged by the rules of another kind or schema, every line would be a mistake.
    read_plain(source, |table| if table.is_of_kind(kind) { walk(table) } else { table.give_up() })
}

/// Reads a file that does not say what it is, such as a table of figures that another program wrote.
///
/// # Errors
/// As [`read`].
pub fn read_plain<T>(
    source: &SourceText,
    walk: impl FnOnce(&mut Table<'_>) -> Option<T>,
) -> Result<Loaded<T>, Problems> {
    let log = Log::new(source);
    if log.has_too_many_lines() {
        return Err(log.into_problems());
    }
    let (root, errors) = DeTable::parse_recoverable(source.text());
    if syntax::report(&log, &errors) == syntax::Damage::Structure {
        return Err(log.into_problems());
    }
    let mut table = Table::new(&log, String::new(), 0..0, root.get_ref());
    let value = walk(&mut table);
    table.finish();
    drop(table);
    match value {
        Some(value) if log.is_clean() => Ok(Loaded { value, places: log.into_places() }),
        _ => Err(log.into_problems()),
    }
}
