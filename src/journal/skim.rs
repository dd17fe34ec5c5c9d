//! A quick way through a journal that is whole and sound, as nearly all are.
//!
//! Each line's hash, its number and its place in the chain are checked as [`super::read`] does. What is quick is that
//! the envelope is taken apart by its bytes, for it has one spelling only. Whatever is not exactly so is left to
//! [`super::read`], which tells what is wrong with it.

use super::file::open_to_read;
use super::line::{END, HASH_HEX, HASH_KEY};
use super::notes::Notes;
use super::read::{read_notes, session_of};
use super::{Digest, JournalError, MAX_LINE, NotesTally};
use chrono::{DateTime, FixedOffset};
use std::borrow::Cow;
use std::io::Read;
use std::path::Path;

/// Longer journals are left to the reader that keeps no more than a line.
const MAX_BYTES: u64 = 64 << 20;

/// One sound record on its way past.
#[derive(Debug)]
pub struct Passing<'a> {
    /// Its number, from 1.
    pub seq: u64,
    /// When, by the wall clock.
    pub at: DateTime<FixedOffset>,
    /// When, in milliseconds since the process that wrote it started.
    pub mono_ms: u64,
    /// The event's JSON with its free texts put back.
    pub event: Cow<'a, str>,
}

/// What a journal that was skimmed is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Skimmed {
    /// How many records it has.
    pub records: u64,
    /// The hash of the last.
    pub head: Digest,
    /// What became of the free texts.
    pub notes: NotesTally,
}

/// Goes through a journal that is sound to its last byte and hands each record to `visit`, until that answers false.
/// None where it was told to stop, or where the file is anything but plainly sound: then [`super::read`] tells more.
/// `buffer` is only room that is used again and again.
///
/// # Errors
/// As [`super::read`].
pub fn skim(
    path: &Path,
    buffer: &mut Vec<u8>,
    mut visit: impl FnMut(Passing<'_>) -> bool,
) -> Result<Option<Skimmed>, JournalError> {
    let id = session_of(path)?;
    let mut file = open_to_read(path)?;
    let failed = |e| JournalError::io("read the file", path, e);
    if file.metadata().map_err(failed)?.len() > MAX_BYTES {
        return Ok(None);
    }
    buffer.clear();
    Read::by_ref(&mut file).take(MAX_BYTES + 1).read_to_end(buffer).map_err(failed)?;
    if buffer.len() as u64 > MAX_BYTES || buffer.last() != Some(&b'\n') {
        return Ok(None);
    }
    let mut notes = Notes::parse(&read_notes(path)?);
    let genesis = Digest::genesis(id.as_str()).to_string();
    let mut head: &[u8] = genesis.as_bytes();
    let mut records = 0_u64;
    let body = buffer.strip_suffix(b"\n").unwrap_or_default();
    for line in body.split(|b| *b == b'\n') {
        let Some(parts) = Parts::of(line, records + 1, head) else { return Ok(None) };
        head = parts.hash;
        records += 1;
        if !visit(Passing { seq: records, at: parts.at, mono_ms: parts.mono_ms, event: notes.joined(parts.event) }) {
            return Ok(None);
        }
    }
    let head = std::str::from_utf8(head).ok().and_then(|hex| hex.parse().ok());
    Ok(head.map(|head| Skimmed { records, head, notes: notes.tally }))
}

/// A line taken apart.
struct Parts<'a> {
    at: DateTime<FixedOffset>,
    mono_ms: u64,
    event: &'a str,
    hash: &'a [u8],
}

impl<'a> Parts<'a> {
    /// The parts of the record with this number that follows the record with this hash; none for any other line.
    fn of(line: &'a [u8], seq: u64, prev: &[u8]) -> Option<Self> {
        if line.len() > MAX_LINE {
            return None;
        }
        let rest = line.strip_suffix(END)?;
        let (rest, hash) = rest.split_at_checked(rest.len().checked_sub(HASH_HEX)?)?;
        let hashed = rest.strip_suffix(HASH_KEY)?;
        let given: Digest = std::str::from_utf8(hash).ok()?.parse().ok()?;
        if given != Digest::of(&[hashed]) {
            return None;
        }
        let text = std::str::from_utf8(hashed).ok()?;
        let (number, text) = text.strip_prefix("{\"seq\":")?.split_once(",\"at\":\"")?;
        let (at, text) = text.split_once("\",\"mono_ms\":")?;
        let (mono_ms, text) = text.split_once(",\"event\":")?;
        let text = text.strip_suffix('"')?;
        let (text, before) = text.split_at_checked(text.len().checked_sub(HASH_HEX)?)?;
        let event = text.strip_suffix(",\"prev\":\"")?;
        if number.parse() != Ok(seq) || before.as_bytes() != prev || !event.starts_with('{') {
            return None;
        }
        Some(Self { at: DateTime::parse_from_rfc3339(at).ok()?, mono_ms: mono_ms.parse().ok()?, event, hash })
    }
}
