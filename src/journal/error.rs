//! What can go wrong with a journal, in words for the person at the screen.

use super::Verdict;
use crate::text::shown;
use std::io;
use std::path::{Path, PathBuf};

/// Why a journal could not be made, read or written.
#[derive(Debug, thiserror::Error)]
pub enum JournalError {
    /// The disk or the directory takes no writes.
    #[error("{}: cannot {doing}: it is read-only. Choose a directory you may write to (--data-dir).", name(path))]
    ReadOnly {
        /// What was tried.
        doing: &'static str,
        /// Where.
        path: PathBuf,
    },
    /// The operating system refused access.
    #[error(
        "{}: cannot {doing}: no permission. Choose a directory of your own (--data-dir) or correct its owner and mode.",
        name(path)
    )]
    NoPermission {
        /// What was tried.
        doing: &'static str,
        /// Where.
        path: PathBuf,
    },
    /// No space, no quota or no file size is left.
    #[error(
        "{}: cannot {doing}: the disk or the quota is full. Free some space or choose another directory (--data-dir).",
        name(path)
    )]
    Full {
        /// What was tried.
        doing: &'static str,
        /// Where.
        path: PathBuf,
    },
    /// Any other refusal by the operating system.
    #[error("{}: cannot {doing}: {source}", name(path))]
    Io {
        /// What was tried.
        doing: &'static str,
        /// Where.
        path: PathBuf,
        /// The system's answer.
        source: io::Error,
    },
    /// Something that is no directory stands where one must be.
    #[error("{}: is not a directory. Choose another data directory (--data-dir).", name(path))]
    NotADirectory {
        /// Where.
        path: PathBuf,
    },
    /// A link or a special file stands where a plain file or directory of ours must be.
    #[error(
        "{}: is a link or a special file, not a plain one, and is not followed. Remove it or choose another directory.",
        name(path)
    )]
    NotPlain {
        /// Where.
        path: PathBuf,
    },
    /// Other users could add or remove files.
    #[error("{}: other users may write to this directory (mode {mode:03o}). Correct it with: chmod go-w", name(path))]
    WritableByOthers {
        /// Where.
        path: PathBuf,
        /// The directory's permission bits.
        mode: u32,
    },
    /// The file exists already and is never written over.
    #[error("{}: exists already and is not written over. Choose another directory.", name(path))]
    Exists {
        /// Where.
        path: PathBuf,
    },
    /// Another process holds the file.
    #[error(
        "{}: is held by another running fadewright. Go on there, or close it first; reading is possible meanwhile.",
        name(path)
    )]
    HeldElsewhere {
        /// Where.
        path: PathBuf,
    },
    /// The journal is damaged and takes no more records.
    #[error("{}: {verdict}. The file is left as it is and can only be read; compare it with the backup.", name(path))]
    Damaged {
        /// Where.
        path: PathBuf,
        /// What was found.
        verdict: Verdict,
    },
    /// A record is sound but its event is not understood, so that the session's state is not known.
    #[error(
        "{}: line {line}: the record is sound but not understood: {reason}. Use the version of fadewright that wrote it, or a newer one.",
        name(path)
    )]
    NotUnderstood {
        /// Where.
        path: PathBuf,
        /// The line, counted from 1.
        line: u64,
        /// What the reader said.
        reason: String,
    },
    /// The file's name is no session's.
    #[error(
        "{}: is not named as a session's journal (20261124-224801-7K3M9Q.jsonl); a renamed copy needs its old name back",
        name(path)
    )]
    NotAJournal {
        /// Where.
        path: PathBuf,
    },
    /// The event cannot be written as one line.
    #[error("this entry cannot be recorded: {reason}")]
    Event {
        /// What is wrong with it.
        reason: String,
    },
    /// Records were made that are not on disk.
    #[error("NOT SAVED: records from number {since_seq} on are not on disk: {reason}")]
    Unsaved {
        /// The first record that is not on disk.
        since_seq: u64,
        /// Why.
        reason: String,
    },
}

impl JournalError {
    /// The error for a refusal by the operating system, told apart where the cure differs.
    pub(super) fn io(doing: &'static str, path: &Path, source: io::Error) -> Self {
        let path = path.to_owned();
        match source.kind() {
            io::ErrorKind::ReadOnlyFilesystem => Self::ReadOnly { doing, path },
            io::ErrorKind::PermissionDenied => Self::NoPermission { doing, path },
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded | io::ErrorKind::FileTooLarge => {
                Self::Full { doing, path }
            }
            io::ErrorKind::AlreadyExists => Self::Exists { path },
            io::ErrorKind::NotADirectory => Self::NotADirectory { path },
            _ if source.raw_os_error() == Some(rustix::io::Errno::LOOP.raw_os_error()) => Self::NotPlain { path },
            _ => Self::Io { doing, path, source },
        }
    }
}

/// A path as it may be printed.
fn name(path: &Path) -> String {
    shown(&path.to_string_lossy())
}

#[cfg(test)]
mod tests {
    use super::*;
    use rustix::io::Errno;

    #[test]
    fn a_refusal_says_what_is_wrong_and_what_to_do() {
        let said =
            |errno: Errno| JournalError::io("create the file", Path::new("/d/\u{1b}x"), errno.into()).to_string();
        for (errno, words) in [
            (Errno::ROFS, "read-only. Choose a directory"),
            (Errno::ACCESS, "no permission"),
            (Errno::PERM, "no permission"),
            (Errno::NOSPC, "full. Free some space"),
            (Errno::DQUOT, "full. Free some space"),
            (Errno::FBIG, "full. Free some space"),
            (Errno::LOOP, "is a link"),
            (Errno::NOTDIR, "is not a directory"),
            (Errno::EXIST, "not written over"),
            (Errno::IO, "cannot create the file: "),
        ] {
            let text = said(errno);
            assert!(text.contains(words) && text.starts_with("/d/␛x: "), "{errno:?}: {text}");
        }
    }
}
