//! `fadewright export`: a recorded session as a page, tables, a sheet for the client, a calendar entry or FHIR.

mod every;
mod place;

use super::Common;
use super::output::{CliError, print};
use super::sessions::{find, read_session};
use crate::clock::{Clock, SystemClock};
use crate::report::csv::{self, Table};
use crate::report::page::page;
use crate::report::{Mark, SessionRecord, Standing, aftercare, calendar, fhir};
use crate::text::shown;
use crate::words::{Word, words};
use clap::builder::PossibleValuesParser;
use clap::{Args, builder::TypedValueParser};
use place::{Place, write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

words! {
    /// What a session is exported as.
    Format, "format" {
        /// A page to read, print and keep.
        Html = "html",
        /// Tables.
        Csv = "csv",
        /// A bundle of FHIR R4.
        Fhir = "fhir",
        /// A sheet for the client, as text.
        Aftercare = "aftercare",
        /// A sheet for the client, as a page.
        AftercareHtml = "aftercare-html",
        /// The earliest date of the next session as a calendar entry.
        Ics = "ics",
    }
}

fn words_of<W: Word + Send + Sync>() -> impl TypedValueParser<Value = W> {
    PossibleValuesParser::new(W::WORDS).try_map(|word| W::from_word(&word).ok_or("no such word"))
}

/// Arguments of `export`.
#[derive(Debug, Args)]
pub struct ExportArgs {
    /// Session id, its beginning, or a journal file.
    #[arg(required_unless_present = "all", conflicts_with = "all")]
    session: Option<String>,
    /// Every session of the data directory; practice is left out.
    #[arg(long)]
    all: bool,
    /// What to make.
    #[arg(long = "as", value_name = "FORMAT", value_parser = words_of::<Format>())]
    format: Format,
    /// File to write, or a directory [default: standard output].
    #[arg(long, value_name = "FILE|DIR")]
    out: Option<PathBuf>,
    /// Of csv, the one table that is printed.
    #[arg(long, value_name = "NAME", value_parser = words_of::<Table>())]
    table: Option<Table>,
    /// Take what can be read of a damaged journal, marked as DAMAGED.
    #[arg(long)]
    partial: bool,
    /// Leave the client code out of the calendar entry.
    #[arg(long)]
    no_code: bool,
    /// Replace files that are there already.
    #[arg(long)]
    force: bool,
}

/// The program with its version.
fn program() -> String {
    format!("fadewright {}", env!("CARGO_PKG_VERSION"))
}

/// One thing made: the end of its file's name, and its text.
struct Made {
    suffix: &'static str,
    text: String,
}

/// Why one session is not exported.
enum Refusal {
    /// It may not be: the answer is no.
    No(String),
    /// Its file could not be read at all.
    Unreadable(CliError),
}

impl From<Refusal> for CliError {
    fn from(refusal: Refusal) -> Self {
        match refusal {
            Refusal::No(why) => Self::No(why),
            Refusal::Unreadable(e) => e,
        }
    }
}

/// Reads the record of a session, unless it is damaged and that was not allowed for.
fn record_of(path: &Path, partial: bool) -> Result<SessionRecord, Refusal> {
    let (back, events) = read_session(path).map_err(|e| Refusal::Unreadable(e.into()))?;
    let standing = Standing::of(&back, &events);
    let name = shown(&path.display().to_string());
    if let Some(damage) = standing.damage().filter(|_| !partial) {
        return Err(Refusal::No(format!(
            "{name}: {damage}\nIt is not exported as if it were whole. See it with fadewright verify; --partial exports what \
             can be read, marked as DAMAGED"
        )));
    }
    let verdict = shown(&back.verdict.to_string());
    SessionRecord::of(&events, standing, &program(), SystemClock::new().now().wall)
        .ok_or_else(|| Refusal::No(format!("{name}: {verdict}; nothing of the session can be read")))
}

/// Makes what was asked for, unless this session must not be taken for that.
fn make(args: &ExportArgs, record: &SessionRecord) -> Result<Made, Refusal> {
    let session = &record.summary.session;
    if record.is_practice() && !matches!(args.format, Format::Html | Format::Csv) {
        return Err(Refusal::No(format!(
            "{session} is PRACTICE: nobody was treated, so there is no {} of it; html and csv can be made, marked as PRACTICE",
            args.format
        )));
    }
    let no_pulse = |what: &str| Refusal::No(format!("{session}: no pulse was fired, so there is {what}"));
    let sheet = || aftercare::sheet(record).ok_or_else(|| no_pulse("nothing to care for"));
    let (suffix, text) = match args.format {
        Format::Html => ("html", page(record)),
        Format::Fhir => ("fhir.json", fhir::bundle(record)),
        Format::Aftercare => ("aftercare.txt", aftercare::text(&sheet()?, record)),
        Format::AftercareHtml => ("aftercare.html", aftercare::page(&sheet()?, record)),
        Format::Ics => {
            let entry = calendar::entry(record, !args.no_code);
            ("ics", entry.ok_or_else(|| no_pulse("no earliest date of a next session"))?)
        }
        Format::Csv => return Err(Refusal::No("csv is several tables".to_owned())),
    };
    Ok(Made { suffix, text })
}

pub(super) fn run(common: &Common, args: &ExportArgs) -> Result<ExitCode, CliError> {
    if args.table.is_some() && (args.format != Format::Csv || args.out.is_some()) {
        return Err(CliError::Bad(
            "--table names the one table that --as csv prints; with --out all are written".into(),
        ));
    }
    if args.format == Format::Csv && args.table.is_none() && args.out.is_none() {
        let names = Table::WORDS.join(", ");
        return Err(CliError::Bad(format!(
            "csv is several tables: name a directory with --out DIR, or print one with --table NAME ({names})"
        )));
    }
    if args.no_code && args.format != Format::Ics {
        return Err(CliError::Bad(
            "--no-code leaves the client code out of --as ics; the other formats carry it".into(),
        ));
    }
    let Some(given) = args.session.as_ref().filter(|_| !args.all) else {
        return every::run(common, args);
    };
    let path = find(common, given)?;
    let record = record_of(&path, args.partial)?;
    if args.format == Format::Csv {
        let records = [&record];
        return match (&args.out, args.table) {
            (Some(dir), _) => {
                let tables = Table::ALL.iter().map(|t| (*t, csv::table(*t, records))).collect();
                tables_in(dir, tables, args.force)
            }
            (None, Some(table)) => print(&csv::table(table, records)).map(|()| ExitCode::SUCCESS),
            (None, None) => Ok(ExitCode::SUCCESS),
        };
    }
    let made = make(args, &record)?;
    let Some(out) = &args.out else {
        return print(&made.text).map(|()| ExitCode::SUCCESS);
    };
    let place = Place::file(out, &file_name(&path, made.suffix)?, args.force)?;
    write(&place, &made.text)?;
    print(&format!("{}{}\n", shown(&place.path().display().to_string()), marked(&record)))?;
    Ok(ExitCode::SUCCESS)
}

/// ` (NOT CLOSED)`, or nothing.
fn marked(record: &SessionRecord) -> String {
    let words = record.marks().iter().map(Mark::word).collect::<Vec<_>>().join(", ");
    if words.is_empty() { words } else { format!(" ({words})") }
}

/// The name of a session's file: from its journal's name, which has the shape of a session id and no other.
fn file_name(journal: &Path, suffix: &str) -> Result<String, CliError> {
    crate::journal::SessionId::of_file(journal).map(|id| format!("{id}.{suffix}")).ok_or_else(|| {
        CliError::Bad(format!("{} is not named as a session's journal", shown(&journal.display().to_string())))
    })
}

/// Writes tables into a directory, all or none.
fn tables_in(dir: &Path, tables: Vec<(Table, String)>, force: bool) -> Result<ExitCode, CliError> {
    place::directory(dir)?;
    let mut places = Vec::new();
    for (table, text) in tables {
        places.push((Place::within(dir, &format!("{table}.csv"), force)?, text));
    }
    let mut told = String::new();
    for (place, text) in &places {
        write(place, text)?;
        told.push_str(&format!("{}\n", shown(&place.path().display().to_string())));
    }
    print(&told)?;
    Ok(ExitCode::SUCCESS)
}
