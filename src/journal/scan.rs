//! Looking through a chained file, line by line, in bounded memory, without ever changing it.

use super::line::{Chain, Envelope, Fault, leading_record};
use super::{MAX_LINE, Verdict};
use std::io::{self, BufRead};

/// A sound line on its way past.
pub(super) struct Sound<'a> {
    /// Its bytes, without the line end.
    pub bytes: &'a [u8],
    /// Its parts.
    pub envelope: Envelope<'a>,
}

/// What the look through found.
#[derive(Debug)]
pub(super) struct Scan {
    /// The file's state.
    pub verdict: Verdict,
    /// Where the chain of sound lines ends.
    pub chain: Chain,
}

/// Reads lines until the first that is not sound; every sound one is handed to `visit`.
pub(super) fn scan(reader: impl BufRead, start: Chain, mut visit: impl FnMut(&Sound<'_>)) -> io::Result<Scan> {
    let mut lines = Lines { reader, buffer: Vec::new() };
    let mut chain = start;
    let (mut offset, mut number) = (0_u64, 0_u64);
    let done = |verdict, chain| Ok(Scan { verdict, chain });
    loop {
        let piece = lines.next()?;
        if piece.length == 0 && !piece.ended {
            let verdict = if chain.seq == start.seq { Verdict::Empty } else { Verdict::Clean { head: chain.head } };
            return done(verdict, chain);
        }
        number += 1;
        let bytes = lines.buffer.as_slice();
        let reason = match judge(bytes, &piece, number, chain) {
            Judged::Sound(envelope) => {
                chain = Chain { seq: envelope.seq, head: envelope.hash };
                visit(&Sound { bytes, envelope });
                if !piece.ended {
                    return done(Verdict::Unterminated { head: chain.head }, chain);
                }
                offset += piece.length + 1;
                continue;
            }
            Judged::Torn { whole: None } => return done(Verdict::TornTail { offset, bytes: piece.length }, chain),
            Judged::Torn { whole: Some((envelope, length)) } => {
                chain = Chain { seq: envelope.seq, head: envelope.hash };
                visit(&Sound { bytes: bytes.get(..length).unwrap_or_default(), envelope });
                let length = u64::try_from(length).unwrap_or(u64::MAX);
                let verdict = Verdict::TornTail { offset: offset + length, bytes: piece.length.saturating_sub(length) };
                return done(verdict, chain);
            }
            Judged::FrontReplaced(reason) => return done(Verdict::FrontReplaced { reason }, chain),
            Judged::Edited(reason) => {
                return done(Verdict::EditedElsewhere { line: number, offset, reason: reason.to_owned() }, chain);
            }
            Judged::Damaged(reason) => reason,
        };
        let verdict = if piece.ended && !lines.at_end()? {
            Verdict::Corrupt { line: number, offset, reason }
        } else {
            Verdict::CorruptTail { line: number, offset, reason }
        };
        return done(verdict, chain);
    }
}

/// What one line is, in its place.
enum Judged<'a> {
    /// Whole, unchanged, and next in the chain.
    Sound(Envelope<'a>),
    /// The trace of a cut-off write, perhaps after a whole record of this length.
    Torn { whole: Option<(Envelope<'a>, usize)> },
    /// Sound in itself, but no beginning of this chain.
    FrontReplaced(String),
    /// Re-written by another program.
    Edited(&'static str),
    /// Anything else.
    Damaged(String),
}

fn judge<'a>(bytes: &'a [u8], piece: &Piece, number: u64, chain: Chain) -> Judged<'a> {
    if number == 1 && [&b"\xEF\xBB\xBF"[..], b"\xFF\xFE", b"\xFE\xFF"].iter().any(|mark| bytes.starts_with(mark)) {
        return Judged::Edited("begins with a byte-order mark");
    }
    if piece.too_long() {
        return if piece.ended {
            Judged::Damaged(format!("is longer than {MAX_LINE} bytes"))
        } else {
            Judged::Torn { whole: None }
        };
    }
    match Envelope::check(bytes) {
        Ok(envelope) => match misplaced(&envelope, chain) {
            None => Judged::Sound(envelope),
            Some(reason) if number == 1 => Judged::FrontReplaced(reason),
            Some(reason) => Judged::Damaged(reason),
        },
        Err(_) if !piece.ended => judge_tail(bytes, chain),
        Err(Fault::Reshaped(reason)) => Judged::Edited(reason),
        Err(Fault::Damaged(reason)) => Judged::Damaged(reason.to_owned()),
    }
}

/// Bytes after the last line end that are no record.
///
/// A cut-off write leaves the beginning of a record, perhaps with zeros behind it. A whole record with anything else
/// behind it is no such trace: its line end was damaged later, and it may have been shown as saved.
fn judge_tail(bytes: &[u8], chain: Chain) -> Judged<'_> {
    let Some((record, rest)) = leading_record(bytes).and_then(|length| bytes.split_at_checked(length)) else {
        return Judged::Torn { whole: None };
    };
    match Envelope::check(record) {
        Ok(envelope) if rest.iter().all(|&b| b == 0) && misplaced(&envelope, chain).is_none() => {
            Judged::Torn { whole: Some((envelope, record.len())) }
        }
        _ => Judged::Damaged("has something else where its line end must be".to_owned()),
    }
}

/// Why a line that is sound in itself does not belong here.
fn misplaced(envelope: &Envelope<'_>, chain: Chain) -> Option<String> {
    let expected = chain.seq.saturating_add(1);
    if envelope.seq != expected {
        return Some(format!("is record {}, where record {expected} must be", envelope.seq));
    }
    (envelope.prev != chain.head).then(|| "does not follow the record before it".to_owned())
}

/// One stretch of bytes up to a line end or the end of the file.
struct Piece {
    /// Its length without the line end.
    length: u64,
    /// Whether it had a line end.
    ended: bool,
}

impl Piece {
    const fn too_long(&self) -> bool {
        self.length > MAX_LINE as u64
    }
}

/// Reads lines, keeping no more than the longest allowed line of each.
struct Lines<R> {
    reader: R,
    buffer: Vec<u8>,
}

impl<R: BufRead> Lines<R> {
    fn next(&mut self) -> io::Result<Piece> {
        self.buffer.clear();
        let mut length = 0_u64;
        loop {
            let available = match self.reader.fill_buf() {
                Ok(available) => available,
                Err(e) if e.kind() == io::ErrorKind::Interrupted => continue,
                Err(e) => return Err(e),
            };
            if available.is_empty() {
                return Ok(Piece { length, ended: false });
            }
            let end = available.iter().position(|&b| b == b'\n');
            let part = available.get(..end.unwrap_or(available.len())).unwrap_or_default();
            let room = MAX_LINE.saturating_sub(self.buffer.len()).min(part.len());
            self.buffer.extend_from_slice(part.get(..room).unwrap_or_default());
            length += part.len() as u64;
            let used = part.len() + usize::from(end.is_some());
            self.reader.consume(used);
            if end.is_some() {
                return Ok(Piece { length, ended: true });
            }
        }
    }

    fn at_end(&mut self) -> io::Result<bool> {
        loop {
            match self.reader.fill_buf() {
                Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
                other => return other.map(<[u8]>::is_empty),
            }
        }
    }
}
