//! `fadewright keys`: the keys in force, and choosing them.

use super::Common;
use super::files::in_config_dir;
use super::output::{CliError, answer};
use crate::source::{Problems, read_file};
use crate::tui::key_file;
use crate::tui::keymap::KeyTable;
use crate::tui::keys::{Action, Place};
use crate::tui::layouts::{Layout, table_of};
use crate::words::Word;
use clap::Args;
use serde::Serialize;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// What `keys` is asked; which keys is said by `--keys`.
#[derive(Debug, Args)]
pub struct KeysArgs {
    /// Print JSON.
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
struct Line {
    r#where: Place,
    does: Action,
    keys: Vec<String>,
    help: &'static str,
}

pub(super) fn run(common: &Common, args: &KeysArgs) -> Result<ExitCode, CliError> {
    let table = chosen(common)?;
    let mut lines: Vec<Line> = Vec::new();
    for row in table.bindings() {
        match lines.iter_mut().find(|l| l.r#where == row.context && l.does == row.action) {
            Some(line) => line.keys.push(row.chord.to_string()),
            None => lines.push(Line {
                r#where: row.context,
                does: row.action,
                keys: vec![row.chord.to_string()],
                help: row.help,
            }),
        }
    }
    answer(&lines, args.json, |lines| {
        let line = |l: &Line| format!("{:<12} {:<18} {:<18} {}", l.r#where, l.does, l.keys.join(" "), l.help);
        lines.iter().map(line).collect::<Vec<_>>().join("\n")
    })?;
    Ok(ExitCode::SUCCESS)
}

/// The keys asked for: a layout by its name, a file, or the one in the config directory; else the standard ones.
fn chosen(common: &Common) -> Result<KeyTable<Place, Action>, CliError> {
    match wanted(common)? {
        Wanted::Layout(layout) => Ok(table_of(layout)),
        Wanted::File(path) => Ok(read(&path)?),
    }
}

/// For a session: a file with mistakes gives the standard keys, and what is wrong, so that nobody stands before a
/// program that does not start.
pub(super) fn for_session(common: &Common) -> Result<(KeyTable<Place, Action>, Option<String>), CliError> {
    match wanted(common)? {
        Wanted::Layout(layout) => Ok((table_of(layout), None)),
        Wanted::File(path) => Ok(match read(&path) {
            Ok(table) => (table, None),
            Err(problems) => {
                let first = problems.list().first().map(ToString::to_string).unwrap_or_default();
                (table_of(Layout::Standard), Some(format!("standard keys: {first}")))
            }
        }),
    }
}

enum Wanted {
    Layout(Layout),
    File(PathBuf),
}

fn wanted(common: &Common) -> Result<Wanted, CliError> {
    let Some(given) = &common.keys else {
        return Ok(in_config_dir("keys.toml").map_or(Wanted::Layout(Layout::Standard), Wanted::File));
    };
    if let Some(layout) = Layout::from_word(given) {
        return Ok(Wanted::Layout(layout));
    }
    if Path::new(given).is_file() {
        return Ok(Wanted::File(PathBuf::from(given)));
    }
    let given = crate::text::shown(given);
    Err(CliError::Bad(format!("--keys: no layout and no file '{given}'; layouts: {}", Layout::WORDS.join(", "))))
}

fn read(path: &Path) -> Result<KeyTable<Place, Action>, Problems> {
    key_file::load(&read_file(path)?).map(|loaded| loaded.value)
}
