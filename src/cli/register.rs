//! `fadewright register`: the treatment register of some days.

use super::Common;
use super::calc::given::by;
use super::files::data_root;
use super::follow_up::{beside, day};
use super::output::{CliError, print, print_json};
use super::sessions::read_session;
use crate::journal::daybook::{self, Finding};
use crate::journal::{CatalogueEntry, DataDir, SessionId, Verdict, keep_new};
use crate::review::follow_ups;
use crate::review::register::{Entry, Register, Standing, csv, html, text};
use crate::source::Problem;
use crate::words::words;
use chrono::NaiveDate;
use clap::Args;
use std::path::PathBuf;
use std::process::ExitCode;

words! {
    /// How the register is written.
    Form, "form" {
        /// Lines of at most 80 columns.
        Text = "text",
        /// Comma-separated values.
        Csv = "csv",
        /// One page to print.
        Html = "html",
    }
}

/// Arguments of `register`.
#[derive(Debug, Args)]
pub struct RegisterArgs {
    /// First day, such as 2026-11-01.
    #[arg(long, value_name = "DATE", value_parser = by(day))]
    from: NaiveDate,
    /// Last day.
    #[arg(long, value_name = "DATE", value_parser = by(day))]
    to: NaiveDate,
    /// Form: text, csv or html [default: text].
    #[arg(long = "as", value_name = "FORM", value_parser = super::calc::given::word::<Form>())]
    form: Option<Form>,
    /// Write it to a new file, readable by you alone; one that exists is not written over.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Print JSON; every key names its unit.
    #[arg(long, conflicts_with = "form")]
    json: bool,
}

pub(super) fn run(common: &Common, args: &RegisterArgs) -> Result<ExitCode, CliError> {
    if args.from > args.to {
        return Err(CliError::Bad(format!("--from {} is after --to {}: exchange them", args.from, args.to)));
    }
    let root = data_root(common)?;
    if !root.is_dir() {
        return Err(CliError::Bad(format!("no sessions yet: {} does not exist", root.display())));
    }
    let register = register(&DataDir::look_at(&root)?, args.from, args.to)?;
    let written = match (args.json, args.form.unwrap_or(Form::Text)) {
        (true, _) => serde_json::to_string_pretty(&register).map_err(|e| CliError::Bad(e.to_string()))?,
        (false, Form::Text) => text(&register),
        (false, Form::Csv) => csv(&register),
        (false, Form::Html) => html(&register),
    };
    match &args.out {
        Some(path) => {
            let end = if written.ends_with('\n') { "" } else { "\n" };
            keep_new(path, format!("{written}{end}").as_bytes())?;
            print(&format!("{}: {}", path.display(), register.summary()))?;
        }
        None if args.json => print_json(&register)?,
        None => print(&written)?,
    }
    Ok(if register.is_whole() { ExitCode::SUCCESS } else { ExitCode::from(1) })
}

fn register(dir: &DataDir, from: NaiveDate, to: NaiveDate) -> Result<Register, CliError> {
    let mut register = Register { from, to, sessions: Vec::new(), findings: Vec::new() };
    for found in dir.list()?.into_iter().rev() {
        register.sessions.extend(entry(&found)?);
    }
    for finding in daybook::audit(dir)? {
        let said = finding.to_string();
        match finding {
            Finding::DayBook { .. } => {
                register.findings.push(format!("{said}: sessions whose files are gone may be missing here"));
            }
            Finding::Missing { session } => {
                let date = date_of(&session);
                register.sessions.push(Entry::unreadable(session.as_str(), date, Standing::Missing, &said));
            }
            Finding::Shorter { session, .. } | Finding::HeadDiffers { session, .. } => {
                if let Some(e) = register.sessions.iter_mut().find(|e| e.session == session.as_str()) {
                    e.standing = Standing::Damaged;
                    e.record = format!("{}; {said}", e.record);
                }
            }
            // What is wrong in itself was found on reading; one that is not listed is here all the same.
            Finding::Damaged { .. } | Finding::Unlisted { .. } => {}
        }
    }
    register.sessions.retain(|e| (from..=to).contains(&e.date));
    register.sessions.sort_by(|a, b| (a.date, &a.session).cmp(&(b.date, &b.session)));
    Ok(register)
}

/// The day that a session's name tells.
fn date_of(id: &SessionId) -> NaiveDate {
    NaiveDate::parse_from_str(id.as_str().get(..8).unwrap_or_default(), "%Y%m%d").unwrap_or_default()
}

/// One session; none for PRACTICE.
fn entry(found: &CatalogueEntry) -> Result<Option<Entry>, CliError> {
    let (id, date) = (found.id.as_str(), date_of(&found.id));
    let (back, events) = match read_session(&found.path) {
        Ok(read) => read,
        // Also what cannot be opened is no reason to leave the session out.
        Err(e) => {
            let why = Problem::of_file(&found.path.display().to_string(), &e.to_string()).to_string();
            return Ok(Some(Entry::unreadable(id, date, Standing::Damaged, &why)));
        }
    };
    // A line that is only half there was never shown as saved: the session was cut off, not damaged.
    let mut sound = back.verdict.allows_appending() && back.notes.altered == 0;
    let mut record = back.verdict.to_string();
    if back.notes.altered > 0 {
        record = format!("{record}; {} free texts were altered", back.notes.altered);
    }
    if !back.not_understood.is_empty() {
        record = format!("{record}; {} records are not understood by this version", back.not_understood.len());
        sound = false;
    }
    let head = match back.verdict {
        Verdict::Clean { head } => Some(head),
        _ => None,
    };
    let after = beside(&found.path, head)?;
    if let Some(broken) = after.as_ref().filter(|a| !a.report.is_ok()) {
        record = format!("{record}; its follow-ups are {}", broken.report.verdict);
        sound = false;
    }
    let seen: Vec<_> = after.iter().flat_map(|a| follow_ups(&a.events).map(|(f, _)| f)).collect();
    if events.is_empty() && back.verdict == Verdict::Empty {
        return Ok(Some(Entry::unreadable(id, date, Standing::NotClosed, &record)));
    }
    Ok(Entry::of(id, date, &events, &seen, sound, &record))
}
