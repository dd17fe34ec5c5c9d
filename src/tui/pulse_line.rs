//! The line of pulses from outside: what its lines mean, and how it stands.

use super::bounded_line;
use std::io::{self, BufRead};

/// What came on the line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LineNews {
    /// It was opened.
    Open,
    /// One pulse.
    Pulse,
    /// A line that is none.
    Garbage,
    /// It went away, and why.
    Lost(String),
}

/// A line longer than this is garbage, however long it goes on.
const LONGEST: usize = 64;

/// What a line says: `pulse` or `p`, in any case, is one pulse; an empty line is nothing.
fn meaning(line: &[u8]) -> Option<LineNews> {
    let text = line.trim_ascii();
    if text.is_empty() {
        return None;
    }
    let pulse = text.eq_ignore_ascii_case(b"pulse") || text.eq_ignore_ascii_case(b"p");
    Some(if pulse { LineNews::Pulse } else { LineNews::Garbage })
}

/// The next line that says something; none at the end. What is not ended by a line end was cut off and counts as
/// garbage.
///
/// # Errors
/// What the reader fails with.
pub fn read_line(reader: &mut impl BufRead) -> io::Result<Option<LineNews>> {
    loop {
        let line = bounded_line::read_line(reader, LONGEST)?;
        let news = if line.too_long { Some(LineNews::Garbage) } else { meaning(&line.bytes) };
        match (line.ended, news) {
            (true, Some(news)) => return Ok(Some(news)),
            (true, None) => {}
            (false, Some(_)) => return Ok(Some(LineNews::Garbage)),
            (false, None) => return Ok(None),
        }
    }
}

/// A contact that closes again within this time has bounced: no device fires so fast (20 Hz is 50 ms).
const BOUNCE_MS: u64 = 20;

/// How the line stands.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PulseLine {
    open: bool,
    lost: Option<String>,
    garbage: u64,
    bounced: u64,
    last_ms: Option<u64>,
}

impl PulseLine {
    /// Takes news; true for a pulse that counts.
    pub fn take(&mut self, news: LineNews, at_ms: u64) -> bool {
        match news {
            LineNews::Open => {
                self.open = true;
                self.lost = None;
            }
            LineNews::Lost(why) => {
                self.open = false;
                self.lost = Some(why);
            }
            LineNews::Garbage => self.garbage = self.garbage.saturating_add(1),
            LineNews::Pulse => {
                let bounced = self.last_ms.is_some_and(|last| at_ms.saturating_sub(last) < BOUNCE_MS);
                if bounced {
                    self.bounced = self.bounced.saturating_add(1);
                } else {
                    self.last_ms = Some(at_ms);
                }
                return !bounced;
            }
        }
        false
    }

    /// True while it can be read.
    #[must_use]
    pub const fn is_open(&self) -> bool {
        self.open
    }

    /// In words, and whether someone should look.
    #[must_use]
    pub fn words(&self) -> (bool, String) {
        let mut text = match (&self.lost, self.open) {
            (Some(why), _) => format!("PULSE LINE LOST: {why}"),
            (None, true) => "pulse line open".to_owned(),
            (None, false) => "pulse line: waiting".to_owned(),
        };
        for (n, what) in [(self.garbage, "bad lines"), (self.bounced, "bounces")] {
            if n > 0 {
                text.push_str(&format!(", {n} {what}"));
            }
        }
        (self.lost.is_some() || self.garbage > 0, text)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::{BufReader, Cursor};

    fn all(bytes: &[u8]) -> Vec<LineNews> {
        // A small buffer, so that lines come in pieces.
        let mut reader = BufReader::with_capacity(3, Cursor::new(bytes.to_vec()));
        std::iter::from_fn(|| read_line(&mut reader).unwrap()).collect()
    }

    #[test]
    fn a_pulse_is_a_line_that_says_so_and_everything_else_is_garbage() {
        use LineNews::{Garbage, Pulse};
        assert_eq!(all(b"pulse\np\r\nPULSE\n\n  p \n"), [Pulse, Pulse, Pulse, Pulse]);
        assert_eq!(all(b"pulses\n\xff\xfe\n1\npulse pulse\n"), [Garbage, Garbage, Garbage, Garbage]);
        assert_eq!(all(b"pulse\npul"), [Pulse, Garbage], "what was cut off is no pulse");
        assert_eq!(all(b"pulse\np"), [Pulse, Garbage]);
        assert_eq!(all(b""), []);
        let long = [b"p".repeat(100_000), b"\np\n".to_vec()].concat();
        assert_eq!(all(&long), [Garbage, Pulse]);
    }

    #[test]
    fn a_bouncing_contact_counts_once_and_a_lost_line_is_told() {
        let mut line = PulseLine::default();
        assert_eq!(line.words(), (false, "pulse line: waiting".to_owned()));
        assert!(!line.take(LineNews::Open, 0));
        let counted = [0, 5, 19, 25, 100].into_iter().filter(|ms| line.take(LineNews::Pulse, 1000 + ms)).count();
        assert_eq!(counted, 3, "at 0, 25 and 100 ms");
        assert!(!line.take(LineNews::Garbage, 1200));
        assert_eq!(line.words(), (true, "pulse line open, 1 bad lines, 2 bounces".to_owned()));
        line.take(LineNews::Lost("gone".to_owned()), 1300);
        assert!(line.words().1.starts_with("PULSE LINE LOST: gone"));
        line.take(LineNews::Open, 1400);
        assert!(line.words().1.starts_with("pulse line open"));
    }
}
