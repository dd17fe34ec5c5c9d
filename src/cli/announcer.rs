//! Announcements: a program named in the config gets each line on its standard input.
//!
//! It is started as it is named, never through a shell. It never blocks the session: lines that it does not take in time
//! are left out, and its end is a message on screen.

use super::files::in_config_dir;
use crate::source::{self, FileKind, Problems, SourceText};
use std::io::Write;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{SyncSender, TrySendError, sync_channel};

/// What the file says it is.
const KIND: FileKind = FileKind { kind: "fadewright announcements", schema: 1 };
/// Pulses between two milestones, unless the file says otherwise.
pub(super) const EVERY: u64 = 10;
/// Lines that may wait to be taken.
const WAITING: usize = 16;

/// What is announced, and to whom.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Announcements {
    /// The program and its arguments.
    pub command: Vec<String>,
    /// The count is said each time it passes a multiple of this.
    pub every: u64,
}

fn load(text: &SourceText) -> Result<Announcements, Problems> {
    source::read(text, KIND, |file| {
        let command = file.texts("command", 1..=20, 200);
        let every =
            if file.has("every") { file.integer::<i64>("every", 1..=10_000) } else { i64::try_from(EVERY).ok() };
        Some(Announcements { command: command?, every: u64::try_from(every?).unwrap_or(EVERY) })
    })
    .map(|loaded| loaded.value)
}

/// What the config directory says; none when it says nothing, an error in words when it cannot be read.
pub(super) fn configured() -> Option<Result<Announcements, String>> {
    let path = in_config_dir("announcements.toml")?;
    let read = source::read_file(&path).and_then(|text| load(&text));
    Some(read.map_err(|problems| problems.list().first().map(ToString::to_string).unwrap_or_default()))
}

/// A program that listens.
pub(super) struct Voice {
    sender: SyncSender<String>,
}

impl Voice {
    /// Starts the program; `ended` is told when it goes away.
    ///
    /// # Errors
    /// In words, when it cannot be started.
    pub(super) fn start(what: &Announcements, ended: impl FnOnce(String) + Send + 'static) -> Result<Self, String> {
        let (program, arguments) = what.command.split_first().ok_or("no program is named")?;
        let mut child = Command::new(program)
            .args(arguments)
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .map_err(|e| format!("{}: {e}", crate::text::shown(program)))?;
        let (sender, lines) = sync_channel::<String>(WAITING);
        std::thread::spawn(move || {
            let Some(mut input) = child.stdin.take() else { return };
            for line in lines {
                if let Err(e) = writeln!(input, "{line}").and_then(|()| input.flush()) {
                    ended(why(&mut child, &e.to_string()));
                    return;
                }
            }
            // The session is over: it may finish what it is saying.
            drop(input);
        });
        Ok(Self { sender })
    }

    /// Says a line, if the program takes it.
    pub(super) fn say(&self, line: String) {
        match self.sender.try_send(line) {
            Ok(()) | Err(TrySendError::Full(_) | TrySendError::Disconnected(_)) => {}
        }
    }
}

fn why(child: &mut Child, otherwise: &str) -> String {
    match child.try_wait() {
        Ok(Some(status)) => status.to_string(),
        _ => otherwise.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Announcements, String> {
        let text = format!("kind = \"fadewright announcements\"\nschema = 1\n{text}");
        load(&SourceText::new("announcements.toml", text)).map_err(|p| p.to_string())
    }

    #[test]
    fn the_file_names_a_program_and_how_often_it_counts() {
        let read_ok = read("command = [\"voice\", \"--slow\"]\nevery = 25\n").unwrap();
        assert_eq!(read_ok, Announcements { command: vec!["voice".to_owned(), "--slow".to_owned()], every: 25 });
        assert_eq!(read("command = [\"voice\"]\n").unwrap().every, 10);
        for (text, said) in [
            ("every = 5\n", "command: missing"),
            ("command = []\n", "command"),
            ("command = [\"voice\"]\nevery = 0\n", "announcements.toml:4:"),
            ("command = \"voice --slow\"\n", "command"),
            ("command = [\"voice\"]\nloud = true\n", "loud"),
        ] {
            let told = read(text).unwrap_err();
            assert!(told.contains(said), "{text}: {told}");
        }
    }

    #[test]
    fn a_program_that_is_not_there_is_told_and_one_that_dies_too() {
        let named = |program: &str| Announcements { command: vec![program.to_owned()], every: 10 };
        assert!(Voice::start(&named("/nowhere/voice"), |_| ()).is_err());
        let (told, heard) = std::sync::mpsc::channel();
        let voice = Voice::start(&named("true"), move |why| drop(told.send(why))).unwrap();
        let said = (0..200).find_map(|_| {
            voice.say("still there?".to_owned());
            heard.recv_timeout(std::time::Duration::from_millis(20)).ok()
        });
        assert!(said.is_some(), "its end was not noticed");
    }
}
