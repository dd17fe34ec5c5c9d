//! The session files of a data directory with what tells whether they changed: for whoever keeps figures derived from
//! them.

use super::{DataDir, SessionId};
use crate::text::shown;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fs::Metadata;
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};

/// What tells that a file is still the one it was: equal stamps, equal file, unless somebody set out to deceive.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct FileStamp {
    /// Length in bytes.
    #[serde(rename = "b")]
    pub bytes: u64,
    /// Last change of its content, nanoseconds since 1970.
    #[serde(rename = "m")]
    pub modified_ns: i64,
    /// Last change of its content, name or rights, nanoseconds since 1970; no tool sets this one back.
    #[serde(rename = "c")]
    pub changed_ns: i64,
    /// Its number on its disk.
    #[serde(rename = "i")]
    pub inode: u64,
}

impl FileStamp {
    fn of(data: &Metadata) -> Self {
        let ns = |s: i64, ns: i64| s.saturating_mul(1_000_000_000).saturating_add(ns);
        Self {
            bytes: data.len(),
            modified_ns: ns(data.mtime(), data.mtime_nsec()),
            changed_ns: ns(data.ctime(), data.ctime_nsec()),
            inode: data.ino(),
        }
    }
}

/// A session's files, none of them opened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StampedSession {
    /// The session.
    pub id: SessionId,
    /// Its journal.
    pub path: PathBuf,
    /// The journal's stamp; none where a link or a special file stands in its place.
    pub journal: Option<FileStamp>,
    /// The stamp of its free texts; none where there are none.
    pub notes: Option<FileStamp>,
    /// True when a signature lies beside it, whether or not that is a good one.
    pub signed: bool,
}

impl DataDir {
    /// All sessions with their stamps, the newest first, and what could not be looked at. A directory that cannot be
    /// read hides no other.
    #[must_use]
    pub fn stamped(&self) -> (Vec<StampedSession>, Vec<String>) {
        let (mut found, mut problems) = (Vec::new(), Vec::new());
        for year in names(&self.root().join("sessions"), &mut problems) {
            if !is_numbered_dir(&year, 4) {
                continue;
            }
            for month in names(&year, &mut problems) {
                if is_numbered_dir(&month, 2) {
                    self.stamp_month(&month, &mut found, &mut problems);
                }
            }
        }
        found.sort_by(|a, b| b.id.cmp(&a.id));
        (found, problems)
    }

    fn stamp_month(&self, month: &Path, found: &mut Vec<StampedSession>, problems: &mut Vec<String>) {
        let mut here = BTreeMap::new();
        let (mut notes, mut signed) = (Vec::new(), Vec::new());
        for path in names(month, problems) {
            if let Some(id) = SessionId::of_file(&path) {
                if self.journal_path(&id) == path {
                    let journal = plain_stamp(&path);
                    here.insert(id.clone(), StampedSession { id, path, journal, notes: None, signed: false });
                }
                continue;
            }
            let Some((id, rest)) = path.file_name().and_then(|n| n.to_str()).and_then(|n| n.split_once('.')) else {
                continue;
            };
            let Ok(id) = id.parse::<SessionId>() else { continue };
            if rest == "notes.jsonl" {
                notes.push((id, plain_stamp(&path)));
            } else if is_signature(rest) {
                signed.push(id);
            }
        }
        for (id, stamp) in notes {
            if let Some(session) = here.get_mut(&id) {
                session.notes = stamp;
            }
        }
        for id in signed {
            if let Some(session) = here.get_mut(&id) {
                session.signed = true;
            }
        }
        found.extend(here.into_values());
    }
}

/// True for what follows a session's id in the name of a signature's file, such as `jh.sig`.
fn is_signature(rest: &str) -> bool {
    rest.ends_with(".sig")
}

fn plain_stamp(path: &Path) -> Option<FileStamp> {
    path.symlink_metadata().ok().filter(Metadata::is_file).map(|data| FileStamp::of(&data))
}

fn is_numbered_dir(path: &Path, digits: usize) -> bool {
    let name = path.file_name().and_then(|n| n.to_str()).unwrap_or_default();
    let numbered = name.len() == digits && name.bytes().all(|b| b.is_ascii_digit());
    numbered && path.symlink_metadata().is_ok_and(|data| data.is_dir())
}

fn names(dir: &Path, problems: &mut Vec<String>) -> Vec<PathBuf> {
    match std::fs::read_dir(dir) {
        Ok(entries) => entries.filter_map(|entry| Some(entry.ok()?.path())).collect(),
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => Vec::new(),
        Err(e) => {
            problems.push(format!("{}: cannot be read: {e}", shown(&dir.to_string_lossy())));
            Vec::new()
        }
    }
}
