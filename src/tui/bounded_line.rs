//! Lines from outside, as long as anybody writes them and no longer.

use std::io::{self, BufRead};

/// A line without its end.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct BoundedLine {
    /// Its bytes, of a line that is too long only a part.
    pub bytes: Vec<u8>,
    /// True when it was longer than the bound.
    pub too_long: bool,
    /// True when its end came; false for what the end of input cut off, which may be nothing at all.
    pub ended: bool,
}

/// Reads a line; of one longer than `longest` bytes the rest is read and forgotten, so that it costs no memory.
///
/// # Errors
/// As the reader's; an interrupted read is tried again.
pub(super) fn read_line(reader: &mut impl BufRead, longest: usize) -> io::Result<BoundedLine> {
    let mut line = BoundedLine { bytes: Vec::new(), too_long: false, ended: false };
    loop {
        let here = match reader.fill_buf() {
            Ok(here) => here,
            Err(e) if e.kind() == io::ErrorKind::Interrupted => continue,
            Err(e) => return Err(e),
        };
        if here.is_empty() {
            return Ok(line);
        }
        let end = here.iter().position(|b| *b == b'\n');
        let part = here.get(..end.unwrap_or(here.len())).unwrap_or_default();
        line.too_long |= line.bytes.len() + part.len() > longest;
        if !line.too_long {
            line.bytes.extend_from_slice(part);
        }
        let used = part.len() + usize::from(end.is_some());
        reader.consume(used);
        if end.is_some() {
            line.ended = true;
            return Ok(line);
        }
    }
}
