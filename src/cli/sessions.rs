//! Finding a session by its id, by the beginning of it, or by its file.

use super::Common;
use super::files::{PRACTICE, data_root};
use super::output::CliError;
use crate::journal::{self, DataDir, JournalError, OpenSession, ReadBack, SessionId};
use crate::session::{Event, Stamp};
use crate::text::shown;
use std::fs::File;
use std::io::{Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

/// The file of a session given as an id, as the beginning of one, or as a path.
pub(super) fn find(common: &Common, given: &str) -> Result<PathBuf, CliError> {
    if given.contains(std::path::MAIN_SEPARATOR) || Path::new(given).is_file() {
        return Ok(PathBuf::from(given));
    }
    let root = data_root(common)?;
    if !root.is_dir() {
        return Err(CliError::Bad(format!("no sessions yet: {} does not exist", root.display())));
    }
    let dir = DataDir::look_at(&root)?;
    let mut dirs = vec![dir.clone()];
    dirs.extend(DataDir::look_at(&root.join(PRACTICE)).ok());
    if let Ok(id) = given.parse::<SessionId>() {
        let paths = dirs.iter().map(|dir| dir.journal_path(&id));
        if let Some(path) = paths.into_iter().find(|path| path.is_file()) {
            return Ok(path);
        }
    }
    let mut found = Vec::new();
    for dir in &dirs {
        found.extend(dir.list()?.into_iter().filter(|e| e.id.as_str().starts_with(given)));
    }
    match found.as_slice() {
        [one] => Ok(one.path.clone()),
        [] => Err(CliError::Bad(format!(
            "no session '{}' in {}; give a session id, its beginning, or a file",
            shown(given),
            dir.root().display()
        ))),
        many => Err(CliError::Bad(format!(
            "'{}' fits {} sessions: {}{}",
            shown(given),
            many.len(),
            many.iter().take(5).map(|e| e.id.to_string()).collect::<Vec<_>>().join(", "),
            if many.len() > 5 { ", ..." } else { "" }
        ))),
    }
}

/// The sessions that were cut off, newest first.
pub(super) fn cut_off(dir: &DataDir) -> Result<Vec<OpenSession>, JournalError> {
    let open = dir.open_sessions()?;
    Ok(open.sessions.into_iter().filter(|s| !is_over(&s.path)).collect())
}

/// True for a journal that was closed, even where the day book missed it, and for one that holds nothing: the program
/// was cut off before its first event. The end of the file is enough to see that.
fn is_over(path: &Path) -> bool {
    const TAIL: u64 = 16 * 1024;
    /// A line names its event behind its number and its times, which are shorter than this.
    const EVENT_WITHIN: usize = 192;
    let tail = || -> std::io::Result<Vec<u8>> {
        let mut file = File::open(path)?;
        let len = file.metadata()?.len();
        file.seek(SeekFrom::Start(len.saturating_sub(TAIL)))?;
        let mut bytes = Vec::new();
        file.take(TAIL).read_to_end(&mut bytes)?;
        Ok(bytes)
    };
    let mark = br#""event":{"type":"session-closed""#;
    // From the end: of a thousand closed journals each is told by its last line.
    let closes = |line: &[u8]| line.get(..EVENT_WITHIN).unwrap_or(line).windows(mark.len()).any(|w| w == mark);
    tail().is_ok_and(|bytes| bytes.is_empty() || bytes.rsplit(|b| *b == b'\n').any(closes))
}

/// Events with their stamps, in order.
pub(super) type Events = Vec<(Stamp, Event)>;

/// Reads a session's journal: what it holds, and how it stands.
pub(super) fn read_session(path: &Path) -> Result<(ReadBack<Event>, Events), JournalError> {
    let mut back = journal::read::<Event>(path)?;
    let records = std::mem::take(&mut back.records);
    let events = records.into_iter().map(|r| (Stamp { seq: r.seq, at: r.at, mono_ms: r.mono_ms }, r.event)).collect();
    Ok((back, events))
}
