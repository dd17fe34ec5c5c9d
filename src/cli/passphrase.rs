//! Asking for a passphrase at the terminal, without showing it.

use rustix::termios::{LocalModes, OptionalActions, Termios, tcgetattr, tcsetattr};
use std::fs::{File, OpenOptions};
use std::io::{self, Read, Write};
use zeroize::Zeroizing;

/// Longest passphrase, in bytes.
const LONGEST: usize = 1024;

/// Puts the terminal back as it was, on every way out.
struct Quiet<'a> {
    terminal: &'a File,
    before: Termios,
}

impl<'a> Quiet<'a> {
    fn begin(terminal: &'a File) -> io::Result<Self> {
        let before = tcgetattr(terminal)?;
        let mut quiet = before.clone();
        // Keys that would end the program come as bytes, so that the terminal is never left without an echo.
        quiet.local_modes.remove(LocalModes::ECHO | LocalModes::ICANON | LocalModes::ISIG);
        tcsetattr(terminal, OptionalActions::Flush, &quiet)?;
        Ok(Self { terminal, before })
    }
}

impl Drop for Quiet<'_> {
    fn drop(&mut self) {
        let _ = tcsetattr(self.terminal, OptionalActions::Flush, &self.before);
    }
}

/// Asks at the controlling terminal; none when it was left with Ctrl-C or Ctrl-D.
///
/// # Errors
/// When there is no terminal, or it goes away.
pub(super) fn ask(question: &str) -> io::Result<Option<Zeroizing<String>>> {
    let terminal = OpenOptions::new().read(true).write(true).open("/dev/tty")?;
    let typed = {
        let _quiet = Quiet::begin(&terminal)?;
        (&terminal).write_all(question.as_bytes())?;
        read_line(&terminal)
    };
    (&terminal).write_all(b"\n")?;
    typed
}

fn read_line(mut keys: impl Read) -> io::Result<Option<Zeroizing<String>>> {
    // Room for all of it from the start: growing would leave copies behind.
    let mut line = Zeroizing::new(Vec::with_capacity(LONGEST));
    let mut key = Zeroizing::new([0_u8; 1]);
    loop {
        if keys.read(key.as_mut_slice())? == 0 {
            return Ok(None);
        }
        let [byte] = *key;
        match byte {
            b'\r' | b'\n' => break,
            3 | 4 => return Ok(None),
            8 | 127 => drop(line.pop()),
            21 => line.clear(),
            byte if line.len() < LONGEST => line.push(byte),
            _ => {}
        }
    }
    let text = std::str::from_utf8(&line).map_err(|_| io::Error::other("the passphrase is not UTF-8"))?;
    Ok(Some(Zeroizing::new(text.to_owned())))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn typed(keys: &str) -> Option<String> {
        read_line(keys.as_bytes()).unwrap().map(|words| words.as_str().to_owned())
    }

    #[test]
    fn a_line_can_be_corrected_and_left() {
        assert_eq!(typed("open sesame\rmore").as_deref(), Some("open sesame"));
        assert_eq!(typed("ab\u{7f}c\n").as_deref(), Some("ac"));
        assert_eq!(typed("wrong\u{15}right\r").as_deref(), Some("right"));
        assert_eq!(typed("\r").as_deref(), Some(""));
        for left in ["ab\u{3}", "ab\u{4}", "ab"] {
            assert_eq!(typed(left), None, "{left:?}");
        }
    }
}
