//! The only place that prints, and what can go wrong on the command line.

use crate::journal::JournalError;
use crate::source::Problems;
use crate::text::shown;
use serde::Serialize;
use std::io::{self, Write};
use std::process::ExitCode;

/// Why a subcommand did not do what was asked.
#[derive(Debug)]
pub enum CliError {
    /// Usage or bad input: exit code 2.
    Bad(String),
    /// Mistakes in a file: exit code 2, each with its place.
    Problems(Problems),
    /// Someone else holds the session: exit code 75.
    Held(String),
    /// The answer is no: exit code 1.
    No(String),
    /// Standard output was closed.
    PipeClosed,
}

impl CliError {
    pub(super) fn exit_code(&self) -> ExitCode {
        match self {
            Self::Bad(_) | Self::Problems(_) => ExitCode::from(2),
            Self::No(_) => ExitCode::from(1),
            Self::Held(_) => ExitCode::from(75),
            Self::PipeClosed => ExitCode::SUCCESS,
        }
    }
}

impl From<Problems> for CliError {
    fn from(problems: Problems) -> Self {
        Self::Problems(problems)
    }
}

impl From<JournalError> for CliError {
    fn from(e: JournalError) -> Self {
        match e {
            JournalError::HeldElsewhere { .. } => Self::Held(e.to_string()),
            JournalError::Damaged { .. } => Self::No(e.to_string()),
            e => Self::Bad(e.to_string()),
        }
    }
}

impl From<io::Error> for CliError {
    fn from(e: io::Error) -> Self {
        if e.kind() == io::ErrorKind::BrokenPipe { Self::PipeClosed } else { Self::Bad(e.to_string()) }
    }
}

/// Prints text as it is; it must be safe to show already.
///
/// # Errors
/// When standard output cannot be written to.
pub fn print(text: &str) -> Result<(), CliError> {
    let mut out = io::stdout().lock();
    out.write_all(text.as_bytes())?;
    if !text.ends_with('\n') {
        out.write_all(b"\n")?;
    }
    Ok(out.flush()?)
}

/// Prints a value as JSON.
///
/// # Errors
/// As [`print()`].
pub fn print_json(value: &impl Serialize) -> Result<(), CliError> {
    let text = serde_json::to_string_pretty(value).map_err(|e| CliError::Bad(e.to_string()))?;
    print(&text)
}

/// Prints an answer: as JSON for a program, or in the words for a person.
///
/// # Errors
/// As [`print()`].
pub fn answer<T: Serialize>(value: &T, json: bool, in_words: impl FnOnce(&T) -> String) -> Result<(), CliError> {
    if json { print_json(value) } else { print(&in_words(value)) }
}

/// Prints an error for a person.
pub(super) fn print_error(error: &CliError) {
    let text = match error {
        CliError::Problems(problems) => problems.explained(),
        CliError::Bad(text) | CliError::Held(text) | CliError::No(text) => {
            // Line by line, so that the line ends that are ours stay.
            text.lines().map(shown).collect::<Vec<_>>().join("\n")
        }
        CliError::PipeClosed => return,
    };
    // Standard error may be gone; then there is nobody to tell.
    drop(writeln!(io::stderr(), "fadewright: {}", text.trim_end()));
}
