//! Pulses from outside: one line for each, from a serial device or a pipe, such as a foot switch or a light sensor on a
//! microcontroller.

use crate::tui::pulse_line::{LineNews, read_line};
use std::fs::File;
use std::io::{BufReader, Read};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Between two attempts to open what went away.
const RETRY: Duration = Duration::from_millis(500);

/// Reads a path until nobody takes the news any more, opening it again whenever it ends. Opening a pipe waits for its
/// writer, so this has a thread of its own.
pub(super) fn spawn(path: PathBuf, mut tell: impl FnMut(LineNews) -> bool + Send + 'static) {
    std::thread::spawn(move || {
        let mut lost: Option<String> = None;
        loop {
            let why = match File::open(&path) {
                Ok(file) => {
                    lost = None;
                    if !tell(LineNews::Open) {
                        return;
                    }
                    match follow(file, &mut tell) {
                        Some(why) => why,
                        None => return,
                    }
                }
                Err(e) => format!("{}: {e}", shown(&path)),
            };
            // Each reason is told once, however long it lasts.
            if lost.as_ref() != Some(&why) {
                if !tell(LineNews::Lost(why.clone())) {
                    return;
                }
                lost = Some(why);
            }
            std::thread::sleep(RETRY);
        }
    });
}

/// The lines of one opening, and why it ended; none when nobody takes them.
fn follow(file: impl Read, tell: &mut impl FnMut(LineNews) -> bool) -> Option<String> {
    let mut reader = BufReader::new(file);
    loop {
        match read_line(&mut reader) {
            Ok(Some(news)) => {
                if !tell(news) {
                    return None;
                }
            }
            Ok(None) => return Some("it has ended".to_owned()),
            Err(e) => return Some(e.to_string()),
        }
    }
}

fn shown(path: &Path) -> String {
    crate::text::shown(&path.display().to_string())
}
