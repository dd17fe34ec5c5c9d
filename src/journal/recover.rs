//! Making a file that was cut off fit to be written on.
//!
//! Only the traces of a cut-off write are mended, and nothing is thrown away: the torn bytes are copied beside the
//! file before they are cut. Each step may be interrupted and taken again. Everything else is damage and left alone.

use super::file::{create_new, parent, sync_dir};
use super::line::Chain;
use super::scan::{Scan, scan};
use super::{Digest, JournalError, Verdict};
use std::fs::File;
use std::io::{self, BufReader, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// How a journal was found when its session was taken up again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Recovery {
    /// As it was left.
    Clean,
    /// Without any record: the program had been cut off before the first.
    Empty,
    /// With a cut-off write at its end, which was set aside.
    TornTail {
        /// How many bytes were set aside.
        bytes: u64,
        /// Where in the journal they began.
        offset: u64,
        /// Their SHA-256.
        sha256: Digest,
        /// The file that holds them now.
        kept_as: PathBuf,
    },
    /// With a whole last record that lacked its line end, which was added.
    Unterminated,
}

/// Lines with their line ends.
pub(super) type Lines = Vec<Arc<[u8]>>;

/// A file after mending.
pub(super) struct Mended {
    pub chain: Chain,
    pub lines: Lines,
    pub recovery: Recovery,
}

/// Brings a held file into a state that can be appended to.
pub(super) fn mend(file: &File, path: &Path, start: Chain) -> Result<Mended, JournalError> {
    let mut recovery = Recovery::Clean;
    loop {
        let (found, lines) = collect(file, path, start)?;
        match found.verdict {
            Verdict::Clean { .. } => {
                // A process that was killed between writing and syncing leaves lines that only look as if on disk.
                file.sync_all().map_err(|e| JournalError::io("sync the file", path, e))?;
                return Ok(Mended { chain: found.chain, lines, recovery });
            }
            Verdict::Empty => {
                let recovery = if recovery == Recovery::Clean { Recovery::Empty } else { recovery };
                return Ok(Mended { chain: found.chain, lines, recovery });
            }
            Verdict::TornTail { offset, bytes } if recovery == Recovery::Clean => {
                let (kept_as, sha256) =
                    set_aside(file, path, offset).map_err(|e| JournalError::io("set the torn end aside", path, e))?;
                let cut = file.set_len(offset).and_then(|()| file.sync_all());
                cut.map_err(|e| JournalError::io("cut the torn end", path, e))?;
                recovery = Recovery::TornTail { bytes, offset, sha256, kept_as };
            }
            Verdict::Unterminated { .. } => {
                let mut to = file;
                let ended = to.write_all(b"\n").and_then(|()| file.sync_all());
                ended.map_err(|e| JournalError::io("end the last line", path, e))?;
                if recovery == Recovery::Clean {
                    recovery = Recovery::Unterminated;
                }
            }
            verdict => return Err(JournalError::Damaged { path: path.to_owned(), verdict }),
        }
    }
}

/// Looks through a file and keeps its sound lines.
fn collect(file: &File, path: &Path, start: Chain) -> Result<(Scan, Lines), JournalError> {
    let failed = |e| JournalError::io("read the file", path, e);
    let mut lines = Vec::new();
    let mut from = file;
    from.seek(SeekFrom::Start(0)).map_err(failed)?;
    let found = scan(BufReader::new(file), start, |line| {
        lines.push(line.bytes.iter().copied().chain([b'\n']).collect());
    })
    .map_err(failed)?;
    Ok((found, lines))
}

/// Copies what lies beyond `offset` to `<file>.torn-<offset>`. A copy that an earlier try left is kept if it is the
/// same; otherwise a number is added.
fn set_aside(file: &File, path: &Path, offset: u64) -> io::Result<(PathBuf, Digest)> {
    let sha256 = digest_from(file, offset)?;
    for try_number in 1..100 {
        let mut name = path.as_os_str().to_owned();
        name.push(format!(".torn-{offset}"));
        if try_number > 1 {
            name.push(format!("-{try_number}"));
        }
        let kept_as = PathBuf::from(name);
        match create_new(&kept_as) {
            Ok(mut copy) => {
                let mut from = file;
                from.seek(SeekFrom::Start(offset))?;
                io::copy(&mut from, &mut copy)?;
                copy.sync_all()?;
                sync_dir(parent(&kept_as))?;
                return Ok((kept_as, sha256));
            }
            Err(JournalError::Exists { .. }) => {
                if super::file::open_to_read(&kept_as)
                    .is_ok_and(|copy| digest_from(&copy, 0).is_ok_and(|d| d == sha256))
                {
                    return Ok((kept_as, sha256));
                }
            }
            Err(JournalError::Io { source, .. }) => return Err(source),
            Err(other) => return Err(io::Error::other(other.to_string())),
        }
    }
    Err(io::Error::new(io::ErrorKind::AlreadyExists, "there are too many torn ends kept already"))
}

fn digest_from(mut file: &File, offset: u64) -> io::Result<Digest> {
    file.seek(SeekFrom::Start(offset))?;
    Digest::of_reader(file)
}
