//! Files in and out: the only place of this room that touches a disk.

use super::problem::{Problem, Problems};
use super::text::{SIZE_LIMIT, SourceText, TABLE_SIZE_LIMIT, too_large};
use std::fs::{self, File, OpenOptions};
use std::io::{self, ErrorKind, Read, Write};
use std::path::Path;

/// Reads a file whole.
///
/// # Errors
/// A plain message when it is missing, a directory, not readable, too large, or not text.
pub fn read_file(path: &Path) -> Result<SourceText, Problems> {
    SourceText::from_bytes(&path.display().to_string(), &read_bytes(path, SIZE_LIMIT)?)
}

/// Reads a table of figures, as instruments and spreadsheets write them: it may be larger, and begin with a byte order
/// mark, which is left out.
///
/// # Errors
/// As [`read_file`], over [`TABLE_SIZE_LIMIT`].
pub fn read_table(path: &Path) -> Result<SourceText, Problems> {
    SourceText::of_table(&path.display().to_string(), &read_bytes(path, TABLE_SIZE_LIMIT)?)
}

fn read_bytes(path: &Path, most: u64) -> Result<Vec<u8>, Problems> {
    let name = path.display().to_string();
    let refused = |e: &io::Error| Problems::from(Problem::of_file(&name, &in_words(e)));
    let meta = fs::metadata(path).map_err(|e| refused(&e))?;
    if meta.is_dir() {
        return Err(Problem::of_file(&name, "this is a directory; name a file in it").into());
    }
    // A pipe or a device could block or never end.
    if !meta.is_file() {
        return Err(Problem::of_file(&name, "this is not a plain file").into());
    }
    if meta.len() > most {
        return Err(too_large(&name, meta.len(), most));
    }
    let mut bytes = Vec::new();
    let file = File::open(path).map_err(|e| refused(&e))?;
    // It may have grown since it was measured.
    file.take(most + 1).read_to_end(&mut bytes).map_err(|e| refused(&e))?;
    Ok(bytes)
}

/// Writes a new file; one that exists is never touched.
///
/// # Errors
/// A plain message when the file exists or cannot be written.
pub fn create_new(path: &Path, text: &str) -> Result<(), Problems> {
    let name = path.display().to_string();
    let written = OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(path)
        .and_then(|mut file| file.write_all(text.as_bytes()).and_then(|()| file.sync_all()));
    written.map_err(|e| match e.kind() {
        ErrorKind::AlreadyExists => {
            Problem::of_file(&name, "this file exists already and is left as it is; choose another name").into()
        }
        _ => Problem::of_file(&name, &in_words(&e)).into(),
    })
}

/// An error of the system in plain words.
fn in_words(error: &io::Error) -> String {
    match error.kind() {
        ErrorKind::NotFound => "there is no such file or directory; check the name".to_owned(),
        ErrorKind::PermissionDenied => "access is denied; ask who owns the file for permission".to_owned(),
        ErrorKind::NotADirectory => "a part of this path is not a directory".to_owned(),
        _ => format!("the system reports: {error}"),
    }
}
