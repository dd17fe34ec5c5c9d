//! `fadewright review`: the supervisor's side, over all sessions.

mod gather;
mod index;
mod text;

use super::Common;
use super::files::{PRACTICE, cache_root, data_root};
use super::output::{CliError, print, print_json};
use crate::journal::DataDir;
use crate::review::{Filter, Kept, Row, SortKey, sort};
use crate::session::Level;
use crate::text::shown;
use crate::words::{FitzpatrickType, Word};
use chrono::NaiveDate;
use clap::Args;
use gather::{Sessions, gather};
use serde::Serialize;
use std::process::ExitCode;

/// Arguments of `review`.
#[derive(Debug, Args)]
pub struct ReviewArgs {
    /// Sessions from this date on, such as 2026-11-24.
    #[arg(long, value_name = "DATE")]
    from: Option<NaiveDate>,
    /// Sessions up to this date, itself included.
    #[arg(long, value_name = "DATE")]
    to: Option<NaiveDate>,
    /// Sessions of a client code.
    #[arg(long, value_name = "CODE")]
    client: Option<String>,
    /// Sessions of an operator code.
    #[arg(long, value_name = "CODE")]
    operator: Option<String>,
    /// Sessions of a Fitzpatrick skin type, I to VI.
    #[arg(long, value_name = "TYPE", value_parser = word::<FitzpatrickType>)]
    skin: Option<FitzpatrickType>,
    /// Sessions with a wavelength, planned or fired.
    #[arg(long, value_name = "NM")]
    wavelength_nm: Option<f64>,
    /// Sessions with advice at least as urgent: NOTE, CHECK, WAIT, LOWER or STOP.
    #[arg(long, value_name = "LEVEL", value_parser = word::<Level>)]
    level: Option<Level>,
    /// Only sessions without a signature.
    #[arg(long)]
    unsigned: bool,
    /// PRACTICE sessions instead of treatments.
    #[arg(long)]
    practice: bool,
    /// Only sessions with a damaged journal.
    #[arg(long)]
    damaged: bool,
    /// Words that must all stand in the line.
    #[arg(long, value_name = "WORDS")]
    search: Option<String>,
    /// Order: deviations, newest, oldest, client, operator, level or pulses.
    #[arg(long, value_name = "KEY", default_value = "deviations", value_parser = word::<SortKey>)]
    sort: SortKey,
    /// Print JSON; every key names its unit.
    #[arg(long)]
    json: bool,
}

fn word<W: Word>(text: &str) -> Result<W, String> {
    let same = |w: &&W| w.word().eq_ignore_ascii_case(text);
    W::ALL.iter().find(same).copied().ok_or_else(|| format!("{} is one of: {}", W::WHAT, W::WORDS.join(", ")))
}

impl ReviewArgs {
    fn filter(&self) -> Filter {
        Filter {
            from: self.from,
            to: self.to,
            client: self.client.clone(),
            operator: self.operator.clone(),
            skin: self.skin,
            wavelength_nm: self.wavelength_nm,
            level: self.level,
            unsigned: self.unsigned,
            practice: self.practice,
            damaged: self.damaged,
            search: self.search.clone().unwrap_or_default(),
        }
    }
}

/// What `review --json` prints.
#[derive(Debug, Serialize)]
struct List<'a> {
    sessions: Vec<&'a Row>,
    problems: &'a [String],
}

/// Threads that read.
fn threads() -> usize {
    std::thread::available_parallelism().map_or(1, usize::from).min(8)
}

/// The directory that is asked for; none where there is none yet.
fn directory(common: &Common, practice: bool) -> Result<Option<DataDir>, CliError> {
    let root = data_root(common)?;
    let root = if practice { root.join(PRACTICE) } else { root };
    if !root.is_dir() {
        return Ok(None);
    }
    Ok(Some(DataDir::look_at(&root)?))
}

fn all_sessions(common: &Common, practice: bool, told: impl Fn(&[Kept]) + Sync) -> Result<Sessions, CliError> {
    Ok(match directory(common, practice)? {
        Some(dir) => gather(&dir, cache_root().map(|c| c.join("review")).as_deref(), practice, told),
        None => Sessions { kept: Vec::new(), problems: Vec::new() },
    })
}

pub(super) fn run(common: &Common, args: &ReviewArgs) -> Result<ExitCode, CliError> {
    let filter = args.filter();
    let sessions = all_sessions(common, args.practice, |_| {})?;
    let rows: Vec<Row> = sessions.kept.into_iter().map(|k| k.row).collect();
    let mut order: Vec<usize> = (0..rows.len()).filter(|i| rows.get(*i).is_some_and(|r| filter.shows(r))).collect();
    sort(&mut order, &rows, args.sort);
    let shown_rows: Vec<&Row> = order.iter().filter_map(|i| rows.get(*i)).collect();
    if args.json {
        print_json(&List { sessions: shown_rows, problems: &sessions.problems })?;
    } else {
        let mut out = text::list(&shown_rows, &filter);
        for p in &sessions.problems {
            out.push_str(&format!("problem: {}\n", shown(p)));
        }
        print(&out)?;
    }
    Ok(ExitCode::SUCCESS)
}
