//! `export --all`: every treatment of the data directory.

use super::place::{self, Place, write};
use super::{ExportArgs, Format, Refusal, file_name, make, record_of, tables_in};
use crate::cli::Common;
use crate::cli::files::data_root;
use crate::cli::output::{CliError, print, print_error};
use crate::cli::progress::Progress;
use crate::journal::DataDir;
use crate::physics::transport::montecarlo::Watch;
use crate::report::SessionRecord;
use crate::report::csv::{self, Table};
use crate::units::WaitingTime;
use crate::words::Word;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Sessions that are named when they are refused.
const REFUSED_SHOWN: usize = 20;

/// What became of the sessions.
#[derive(Default)]
struct Tally {
    exported: usize,
    practice: usize,
    refused: Vec<String>,
    interrupted: bool,
}

impl Tally {
    fn end(&self, of: usize, what: &str) -> Result<ExitCode, CliError> {
        if !self.refused.is_empty() {
            // What can be done about it is the same for each, and is said once.
            let first = |why: &String| why.lines().next().unwrap_or_default().to_owned();
            let mut list: Vec<String> = self.refused.iter().take(REFUSED_SHOWN).map(first).collect();
            let left = self.refused.len().saturating_sub(REFUSED_SHOWN);
            if left > 0 {
                list.push(format!("and {left} more; fadewright verify names every damaged one"));
            }
            let told = format!("{} sessions were not exported:\n{}", self.refused.len(), list.join("\n"));
            print_error(&CliError::No(format!(
                "{told}\n--partial takes what can be read of damaged ones, marked as DAMAGED"
            )));
        }
        if self.interrupted {
            print_error(&CliError::No(format!("interrupted: {what}")));
            return Ok(ExitCode::from(128 + 2));
        }
        let practice =
            if self.practice > 0 { format!(", {} of practice left out", self.practice) } else { String::new() };
        // Beside what is printed, so that a table on standard output stays a table.
        print_error(&CliError::No(format!("{} of {of} sessions exported{practice}", self.exported)));
        Ok(if self.refused.is_empty() { ExitCode::SUCCESS } else { ExitCode::from(1) })
    }
}

pub(super) fn run(common: &Common, args: &ExportArgs) -> Result<ExitCode, CliError> {
    let root = data_root(common)?;
    if !root.is_dir() {
        return Err(CliError::Bad(format!("no sessions yet: {} does not exist", root.display())));
    }
    // Sessions of practice have a directory of their own, which is not looked at.
    let mut paths: Vec<PathBuf> = DataDir::look_at(&root)?.list()?.into_iter().map(|e| e.path).collect();
    if paths.is_empty() {
        return Err(CliError::Bad(format!("no sessions in {}", root.display())));
    }
    // Oldest first, as tables are read.
    paths.reverse();
    if args.format == Format::Csv { tables(args, &paths) } else { files(args, &paths) }
}

/// Hands each record to `take`, until Ctrl-C.
fn each(
    args: &ExportArgs,
    paths: &[PathBuf],
    mut take: impl FnMut(&Path, &SessionRecord) -> Result<(), Refusal>,
) -> Result<Tally, CliError> {
    let limit = WaitingTime::new(WaitingTime::MAX).map_err(|e| CliError::Bad(e.to_string()))?;
    let progress = Progress::start(limit, "sessions");
    let mut tally = Tally::default();
    for (done, path) in paths.iter().enumerate() {
        if !progress.go_on(done as u64, paths.len() as u64) {
            tally.interrupted = true;
            break;
        }
        match record_of(path, args.partial).and_then(|record| {
            if record.is_practice() {
                return Ok(false);
            }
            take(path, &record).map(|()| true)
        }) {
            Ok(true) => tally.exported += 1,
            Ok(false) => tally.practice += 1,
            Err(Refusal::No(why)) => tally.refused.push(why),
            Err(Refusal::Unreadable(CliError::Bad(why) | CliError::No(why) | CliError::Held(why))) => {
                tally.refused.push(why);
            }
            Err(Refusal::Unreadable(e)) => return Err(e),
        }
    }
    Ok(tally)
}

fn tables(args: &ExportArgs, paths: &[PathBuf]) -> Result<ExitCode, CliError> {
    let wanted: Vec<Table> = args.table.map_or_else(|| Table::ALL.to_vec(), |t| vec![t]);
    let mut texts: Vec<(Table, String)> = wanted.into_iter().map(|t| (t, csv::header(t))).collect();
    let tally = each(args, paths, |_, record| {
        for (table, text) in &mut texts {
            csv::rows(*table, record, text);
        }
        Ok(())
    })?;
    if tally.interrupted {
        // Half of the sessions would pass for all of them.
        return tally.end(paths.len(), "nothing was written");
    }
    match &args.out {
        Some(dir) => {
            tables_in(dir, texts, args.force)?;
        }
        None => {
            for (_, text) in &texts {
                print(text)?;
            }
        }
    }
    tally.end(paths.len(), "")
}

fn files(args: &ExportArgs, paths: &[PathBuf]) -> Result<ExitCode, CliError> {
    let Some(dir) = &args.out else {
        return Err(CliError::Bad(format!(
            "--all makes a file for each session: name a directory with --out DIR (--as {})",
            args.format
        )));
    };
    place::directory(dir)?;
    let tally = each(args, paths, |path, record| {
        let made = make(args, record)?;
        let place = file_name(path, made.suffix).and_then(|name| Place::within(dir, &name, args.force));
        place.and_then(|place| write(&place, &made.text)).map_err(Refusal::Unreadable)
    })?;
    let told = format!("{} of {} sessions were exported, each file whole", tally.exported, paths.len());
    tally.end(paths.len(), &told)
}
