//! The directory that holds all that is recorded.
//!
//! ```text
//! <data>/daybook.jsonl
//! <data>/sessions/2026/11/20261124-224801-7K3M9Q.jsonl
//! <data>/sessions/2026/11/20261124-224801-7K3M9Q.notes.jsonl
//! ```

use super::digest::to_hex;
use super::file::{create_new, make_dir, parent, private_dir, survive_size_limit, sync_dir};
use super::{JournalError, SessionId};
use std::fs::DirBuilder;
use std::io::{self, Write};
use std::os::unix::fs::DirBuilderExt;
use std::path::{Path, PathBuf};

/// A data directory: found fit for recording, or only looked at.
#[derive(Debug, Clone)]
pub struct DataDir {
    root: PathBuf,
}

/// A session file in a data directory, known by its name alone.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CatalogueEntry {
    /// The session.
    pub id: SessionId,
    /// Its journal.
    pub path: PathBuf,
}

impl DataDir {
    /// Makes the directory if need be (for its owner alone), and writes and syncs a file in it to be sure that it
    /// takes records, so that a refusal comes before anything starts.
    ///
    /// # Errors
    /// When it is no directory, is read-only or full, gives no permission, or may be written to by other users.
    pub fn open(root: impl Into<PathBuf>) -> Result<Self, JournalError> {
        let asked = root.into();
        let known = asked.exists();
        DirBuilder::new().mode(0o700).recursive(true).create(&asked).map_err(|e| match e.kind() {
            io::ErrorKind::AlreadyExists => JournalError::NotADirectory { path: asked.clone() },
            _ => JournalError::io("create the data directory", &asked, e),
        })?;
        // The root itself may be a link, as to another disk; resolving it once keeps it from being turned elsewhere.
        let root = asked.canonicalize().map_err(|e| JournalError::io("find the data directory", &asked, e))?;
        let data = root.symlink_metadata().map_err(|e| JournalError::io("look at the data directory", &root, e))?;
        private_dir(&root, &data)?;
        probe(&root)?;
        if !known {
            sync_dir(parent(&root)).map_err(|e| JournalError::io("sync the directory", parent(&root), e))?;
        }
        make_dir(&root.join("sessions"))?;
        Ok(Self { root })
    }

    /// A directory that is only looked at, such as a backup on a read-only disk; nothing is written to it.
    ///
    /// # Errors
    /// When it is no directory, or cannot be found.
    pub fn look_at(root: &Path) -> Result<Self, JournalError> {
        let root = root.canonicalize().map_err(|e| JournalError::io("find the data directory", root, e))?;
        if root.is_dir() { Ok(Self { root }) } else { Err(JournalError::NotADirectory { path: root }) }
    }

    /// The directory itself, with links resolved.
    #[must_use]
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// Where a session's journal is, whether or not it exists yet.
    #[must_use]
    pub fn journal_path(&self, id: &SessionId) -> PathBuf {
        self.root.join("sessions").join(id.year()).join(id.month()).join(id.file_name())
    }

    /// Where the day book is.
    #[must_use]
    pub fn daybook_path(&self) -> PathBuf {
        self.root.join("daybook.jsonl")
    }

    /// All sessions, the newest first. Only names are read, no file is opened.
    ///
    /// # Errors
    /// When a directory cannot be read.
    pub fn list(&self) -> Result<Vec<CatalogueEntry>, JournalError> {
        let mut found = Vec::new();
        for year in subdirectories(&self.root.join("sessions"), 4)? {
            for month in subdirectories(&year, 2)? {
                for path in entries(&month)? {
                    if let Some(id) = SessionId::of_file(&path)
                        && self.journal_path(&id) == path
                    {
                        found.push(CatalogueEntry { id, path });
                    }
                }
            }
        }
        found.sort_by(|a, b| b.id.cmp(&a.id));
        Ok(found)
    }

    /// Makes the directory that a session's journal goes into.
    pub(super) fn make_month(&self, id: &SessionId) -> Result<(), JournalError> {
        let sessions = self.root.join("sessions");
        let year = sessions.join(id.year());
        make_dir(&sessions)?;
        make_dir(&year)?;
        make_dir(&year.join(id.month()))
    }
}

/// Writes, syncs and removes a small file.
fn probe(root: &Path) -> Result<(), JournalError> {
    survive_size_limit();
    let failed = |e| JournalError::io("record anything there", root, e);
    let mut random = [0_u8; 8];
    getrandom::fill(&mut random).map_err(|e| failed(e.into()))?;
    let path = root.join(format!(".probe-{}", to_hex(&random)));
    let tried = create_new(&path).map_err(|e| match e {
        JournalError::Io { source, .. } => failed(source),
        JournalError::ReadOnly { doing, .. } => JournalError::ReadOnly { doing, path: root.to_owned() },
        JournalError::NoPermission { doing, .. } => JournalError::NoPermission { doing, path: root.to_owned() },
        JournalError::Full { doing, .. } => JournalError::Full { doing, path: root.to_owned() },
        other => other,
    });
    let mut file = tried?;
    let written = file.write_all(&[b'.'; 4096]).and_then(|()| file.sync_all());
    let removed = std::fs::remove_file(&path);
    written.and(removed).map_err(failed)
}

fn subdirectories(dir: &Path, digits: usize) -> Result<Vec<PathBuf>, JournalError> {
    let named = |path: &PathBuf| {
        path.file_name()
            .and_then(|name| name.to_str())
            .is_some_and(|name| name.len() == digits && name.bytes().all(|b| b.is_ascii_digit()))
    };
    let plain = |path: &PathBuf| path.symlink_metadata().is_ok_and(|data| data.is_dir());
    Ok(entries(dir)?.into_iter().filter(named).filter(plain).collect())
}

fn entries(dir: &Path) -> Result<Vec<PathBuf>, JournalError> {
    let failed = |e| JournalError::io("read the directory", dir, e);
    match std::fs::read_dir(dir) {
        Ok(entries) => entries.map(|entry| entry.map(|e| e.path()).map_err(failed)).collect(),
        Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(Vec::new()),
        Err(e) => Err(failed(e)),
    }
}
