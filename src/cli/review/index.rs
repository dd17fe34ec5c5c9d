//! What is kept of each journal, in a file of the cache directory, so that a list need not read them all again.
//!
//! The file may be deleted at any time. An entry is used only while the stamps of the journal and its free texts are
//! those it was made from; each line carries a digest, so that a damaged one is not believed. New entries are added at
//! the end and replace earlier ones of the same session; the file is written anew when most of it is replaced.

use crate::journal::{Digest, FileStamp, SessionId};
use crate::review::Kept;
use serde::{Deserialize, Serialize};
use std::collections::HashMap;
use std::fs::{DirBuilder, File, OpenOptions};
use std::io::{self, Read, Write};
use std::os::unix::fs::{DirBuilderExt, OpenOptionsExt};
use std::path::{Path, PathBuf};

/// The first line: what the file is, and of which version, since figures may change their meaning.
const HEAD: &str = concat!("fadewright review index 1 ", env!("CARGO_PKG_VERSION"));
/// Digits of a line's digest.
const DIGITS: usize = 16;
/// Larger files are no index of ours.
const MAX_BYTES: u64 = 1 << 30;

/// One entry.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Entry {
    /// The session.
    pub id: SessionId,
    /// The journal's stamp.
    pub journal: FileStamp,
    /// The stamp of its free texts.
    pub notes: Option<FileStamp>,
    /// The hash of its last record, where it was sound.
    pub head: Option<Digest>,
    /// What is kept.
    pub kept: Kept,
}

/// The index of one data directory.
pub(super) struct Index {
    path: PathBuf,
    entries: HashMap<SessionId, Entry>,
    /// Lines in the file.
    lines: usize,
    /// False where the file must be written anew.
    appendable: bool,
}

impl Index {
    /// Where the index of a data directory is.
    pub(super) fn path(cache: &Path, root: &Path) -> PathBuf {
        let name = Digest::of(&[root.as_os_str().as_encoded_bytes()]).to_string();
        cache.join(format!("{}.jsonl", name.get(..DIGITS).unwrap_or_default()))
    }

    /// Reads an index; one that is missing, of another version or no plain file is empty.
    pub(super) fn load(path: PathBuf) -> Self {
        let bytes = read(&path).unwrap_or_default();
        let mut lines = bytes.split(|b| *b == b'\n');
        let ours = lines.next() == Some(HEAD.as_bytes());
        let lines: Vec<&[u8]> = if ours { lines.filter(|l| !l.is_empty()).collect() } else { Vec::new() };
        let parts: Vec<Vec<Entry>> = std::thread::scope(|scope| {
            let size = lines.len().div_ceil(super::threads()).max(1);
            let parse = |part| move || -> Vec<Entry> { <[&[u8]]>::iter(part).filter_map(|l| entry(l)).collect() };
            let running: Vec<_> = lines.chunks(size).map(|part| scope.spawn(parse(part))).collect();
            running.into_iter().filter_map(|r| r.join().ok()).collect()
        });
        let count = lines.len();
        let appendable = ours && bytes.last() == Some(&b'\n');
        let entries: HashMap<_, _> = parts.into_iter().flatten().map(|e| (e.id.clone(), e)).collect();
        Self { path, entries, lines: count, appendable }
    }

    /// Takes out the entry of a session, if it was made from these very files.
    pub(super) fn take(&mut self, id: &SessionId, journal: FileStamp, notes: Option<FileStamp>) -> Option<Entry> {
        self.entries.remove(id).filter(|e| e.journal == journal && e.notes == notes)
    }

    /// Adds entries; `all` are all that hold now, for the case that the file is to be written anew.
    pub(super) fn store(&self, new: &[&Entry], all: &[&Entry]) -> io::Result<()> {
        if new.is_empty() && self.appendable {
            return Ok(());
        }
        if let Some(dir) = self.path.parent() {
            DirBuilder::new().mode(0o700).recursive(true).create(dir)?;
        }
        if self.appendable && self.lines + new.len() <= 2 * all.len() + 64 {
            let text = text_of(new)?;
            return options().append(true).open(&self.path)?.write_all(&text);
        }
        let mut text = format!("{HEAD}\n").into_bytes();
        text.extend(text_of(all)?);
        let fresh = self.path.with_extension(format!("new-{}", std::process::id()));
        let written = options().write(true).create_new(true).open(&fresh).and_then(|mut f| f.write_all(&text));
        let put = written.and_then(|()| std::fs::rename(&fresh, &self.path));
        if put.is_err() {
            // What is half there helps nobody.
            drop(std::fs::remove_file(&fresh));
        }
        put
    }
}

fn options() -> OpenOptions {
    let mut options = OpenOptions::new();
    options.mode(0o600).custom_flags(rustix::fs::OFlags::NOFOLLOW.bits().cast_signed());
    options
}

fn read(path: &Path) -> io::Result<Vec<u8>> {
    let flags = rustix::fs::OFlags::NOFOLLOW | rustix::fs::OFlags::NONBLOCK;
    let file: File = OpenOptions::new().read(true).custom_flags(flags.bits().cast_signed()).open(path)?;
    let data = file.metadata()?;
    if !data.is_file() || data.len() > MAX_BYTES {
        return Err(io::Error::other("no index"));
    }
    let mut bytes = Vec::with_capacity(usize::try_from(data.len()).unwrap_or(0));
    file.take(MAX_BYTES).read_to_end(&mut bytes)?;
    Ok(bytes)
}

fn digits(json: &[u8]) -> String {
    Digest::of(&[json]).to_string().get(..DIGITS).unwrap_or_default().to_owned()
}

fn text_of(entries: &[&Entry]) -> io::Result<Vec<u8>> {
    let mut text = Vec::new();
    for entry in entries {
        let json = serde_json::to_vec(entry)?;
        text.extend(digits(&json).into_bytes());
        text.push(b' ');
        text.extend(json);
        text.push(b'\n');
    }
    Ok(text)
}

fn entry(line: &[u8]) -> Option<Entry> {
    let (given, rest) = line.split_at_checked(DIGITS)?;
    let json = rest.strip_prefix(b" ")?;
    if given != digits(json).as_bytes() {
        return None;
    }
    serde_json::from_slice(json).ok()
}
