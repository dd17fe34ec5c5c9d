//! Whole small files beside a journal, such as a signature.

use super::JournalError;
use super::file::{create_new, parent, survive_size_limit, sync_dir};
use std::io::Write;
use std::path::Path;

/// Makes a new file of these bytes, readable by its owner alone, and returns once it would survive a power cut.
///
/// # Errors
/// When it exists already, or cannot be written whole; nothing of it is left then.
pub fn keep_new(path: &Path, bytes: &[u8]) -> Result<(), JournalError> {
    survive_size_limit();
    let mut file = create_new(path)?;
    let kept = file.write_all(bytes).and_then(|()| file.sync_all()).and_then(|()| sync_dir(parent(path)));
    kept.map_err(|e| {
        // It is ours and not whole.
        let _ = std::fs::remove_file(path);
        JournalError::io("write the file", path, e)
    })
}
