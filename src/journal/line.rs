//! One line of the chain: how it is written and how it is checked.
//!
//! ```text
//! {"seq":1,"at":"2026-11-24T22:48:01.123+00:00","mono_ms":12,"event":{...},"prev":"<64 hex>","hash":"<64 hex>"}
//! ```
//!
//! The hash is SHA-256 over the bytes of the line before `,"hash":"`, exactly as they stand in the file, so that a
//! check needs neither this program nor any rule for re-writing JSON: `head -c` and `sha256sum` will do.

use super::{Digest, MAX_LINE};
use chrono::{DateTime, FixedOffset, SecondsFormat};
use serde::Deserialize;
use serde::de::IgnoredAny;
use serde_json::value::RawValue;
use std::collections::BTreeMap;

pub(super) const HASH_KEY: &[u8] = b",\"hash\":\"";
pub(super) const HASH_HEX: usize = 64;
pub(super) const END: &[u8] = b"\"}";
/// serde_json reads 128 levels; the envelope and a margin for the notes come off.
const MAX_DEPTH: usize = 100;
/// An event may hold hashes of its own; a file made to waste time may hold any number.
const MAX_CANDIDATES: usize = 64;

/// Where a chain stands: what the next line has to follow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Chain {
    /// The number of the last line; 0 before the first.
    pub seq: u64,
    /// The hash of the last line, or the genesis value.
    pub head: Digest,
}

impl Chain {
    /// The beginning of the chain of this name.
    pub fn start(name: &str) -> Self {
        Self { seq: 0, head: Digest::genesis(name) }
    }

    /// Writes the next line, with its line end, and moves on. `event` is compact JSON.
    pub fn extend(&mut self, at: DateTime<FixedOffset>, mono_ms: u64, event: &str) -> Result<Vec<u8>, String> {
        if depth(event) > MAX_DEPTH {
            return Err(format!("it is nested more than {MAX_DEPTH} levels deep"));
        }
        let seq = self.seq.saturating_add(1);
        let at = at.to_rfc3339_opts(SecondsFormat::Millis, false);
        let body = format!(
            "{{\"seq\":{seq},\"at\":\"{at}\",\"mono_ms\":{mono_ms},\"event\":{event},\"prev\":\"{}\"",
            self.head
        );
        let mut line = body.into_bytes();
        let hash = Digest::of(&[&line]);
        line.extend_from_slice(HASH_KEY);
        line.extend_from_slice(hash.to_string().as_bytes());
        line.extend_from_slice(END);
        if line.len() > MAX_LINE {
            return Err(format!("it is {} bytes long, the most is {MAX_LINE}", line.len()));
        }
        line.push(b'\n');
        *self = Self { seq, head: hash };
        Ok(line)
    }
}

/// A line whose own hash is right, taken apart. Fields that a later version may add are passed over.
#[derive(Debug, Deserialize)]
pub(super) struct Envelope<'a> {
    /// The line's number.
    pub seq: u64,
    /// When, in RFC 3339.
    pub at: DateTime<FixedOffset>,
    /// When, in milliseconds of the process that wrote it.
    pub mono_ms: u64,
    /// What happened, as it stands in the file.
    #[serde(borrow)]
    pub event: &'a RawValue,
    /// The hash of the line before.
    pub prev: Digest,
    /// The line's own hash.
    pub hash: Digest,
}

/// What is wrong with one line in itself.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Fault {
    /// Its bytes are not those that were hashed, or it is no record at all.
    Damaged(&'static str),
    /// It is a record, but written in another form than ours.
    Reshaped(&'static str),
}

impl<'a> Envelope<'a> {
    /// Checks one line (without its line end) against its own hash and takes it apart.
    pub fn check(line: &'a [u8]) -> Result<Self, Fault> {
        let Some((body, hash)) = split_hash(line) else { return Err(misshapen(line)) };
        if std::str::from_utf8(hash).ok().and_then(|hash| hash.parse().ok()) != Some(Digest::of(&[body])) {
            // Spaces put in by another program show at the front, where a line has one form only.
            let ours = line.strip_prefix(b"{\"seq\":").and_then(<[u8]>::first).is_some_and(u8::is_ascii_digit);
            return Err(if ours { Fault::Damaged("does not match its own hash") } else { misshapen(line) });
        }
        serde_json::from_slice(line).map_err(|_| Fault::Damaged("is no journal record although its hash is right"))
    }
}

/// The hashed bytes and the hash's digits, if the line ends as one of ours.
fn split_hash(line: &[u8]) -> Option<(&[u8], &[u8])> {
    let rest = line.strip_suffix(END)?;
    let (rest, hash) = rest.split_at_checked(rest.len().checked_sub(HASH_HEX)?)?;
    Some((rest.strip_suffix(HASH_KEY)?, hash))
}

/// Tells a line that was re-written in another form from one that is broken.
fn misshapen(line: &[u8]) -> Fault {
    if let Some(unix) = line.strip_suffix(b"\r")
        && Envelope::check(unix).is_ok()
    {
        return Fault::Reshaped("ends in a carriage return");
    }
    if matches!(line.trim_ascii(), b"{" | b"[") {
        return Fault::Reshaped("was broken into several lines");
    }
    let fields: BTreeMap<String, IgnoredAny> = serde_json::from_slice(line).unwrap_or_default();
    if ["seq", "at", "event", "prev", "hash"].iter().all(|name| fields.contains_key(*name)) {
        return Fault::Reshaped("has its fields in another order or spacing");
    }
    Fault::Damaged(if line.is_empty() { "is empty" } else { "is no journal record" })
}

/// The length of the whole record that these bytes begin with, if they do.
pub(super) fn leading_record(bytes: &[u8]) -> Option<usize> {
    let whole = HASH_KEY.len() + HASH_HEX + END.len();
    bytes
        .windows(HASH_KEY.len())
        .enumerate()
        .filter(|(_, window)| *window == HASH_KEY)
        .take(MAX_CANDIDATES)
        .map(|(at, _)| at + whole)
        .find(|&len| bytes.get(..len).is_some_and(|record| Envelope::check(record).is_ok()))
}

/// How deeply compact JSON is nested.
fn depth(json: &str) -> usize {
    let (mut level, mut deepest, mut in_text, mut escaped) = (0_usize, 0, false, false);
    for b in json.bytes() {
        match b {
            _ if escaped => escaped = false,
            b'\\' if in_text => escaped = true,
            b'"' => in_text = !in_text,
            b'{' | b'[' if !in_text => {
                level += 1;
                deepest = deepest.max(level);
            }
            b'}' | b']' if !in_text => level = level.saturating_sub(1),
            _ => {}
        }
    }
    deepest
}
