//! `fadewright review`: the supervisor's side, over all sessions.

mod gather;
mod index;
mod screens;
mod text;

use super::Common;
use super::files::{PRACTICE, cache_root, data_root};
use super::output::{CliError, answer};
use super::practise::progress;
use super::sessions::{Events, find, read_session};
use crate::journal::DataDir;
use crate::review::{Filter, Kept, Row, SessionReview, SortKey, client_course, review_session, sort, statistics};
use crate::session::Level;
use crate::text::shown;
use crate::words::{FitzpatrickType, Word};
use chrono::NaiveDate;
use clap::Args;
use gather::{Sessions, gather};
use serde::Serialize;
use std::path::Path;
use std::process::ExitCode;

/// Arguments of `review`.
#[derive(Debug, Args)]
pub struct ReviewArgs {
    /// One session: its id, the beginning of it, or a journal file. None: all sessions.
    #[arg(conflicts_with_all = ["statistics", "course", "progress"])]
    session: Option<String>,
    /// Figures over the sessions that the filters leave: responses, advice and its answers, adverse events.
    #[arg(long)]
    statistics: bool,
    /// The sessions of one client code, oldest first.
    #[arg(long, value_name = "CODE", conflicts_with_all = ["statistics", "progress"])]
    course: Option<String>,
    /// Progress in practice: best, last and trend of each scenario.
    #[arg(long, conflicts_with = "statistics")]
    progress: bool,
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
    /// Print plain text, also in a terminal.
    #[arg(long, conflicts_with = "json")]
    text: bool,
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
    use std::io::IsTerminal;
    if !args.json && !args.text && !common.plain && std::io::stdout().is_terminal() {
        return screens::show(common, args);
    }
    if let Some(given) = &args.session {
        return one_session(common, args, given);
    }
    if args.progress {
        let all = progress(common)?;
        answer(&all, args.json, |all| text::progress(all))?;
        return Ok(ExitCode::SUCCESS);
    }
    let filter = args.filter();
    let sessions = all_sessions(common, args.practice && args.course.is_none(), |_| {})?;
    if let Some(client) = &args.course {
        let course = client_course(client, &sessions.kept)
            .ok_or_else(|| CliError::No(format!("no session of client {}", shown(client))))?;
        answer(&course, args.json, |course| text::of(&course.lines(text::COLUMNS)))?;
        return Ok(ExitCode::SUCCESS);
    }
    if args.statistics {
        let counted = sessions.kept.iter().filter(|k| filter.shows(&k.row));
        let figures = statistics(counted, args.practice);
        answer(&figures, args.json, |figures| text::of(&figures.lines(text::COLUMNS)))?;
        return Ok(ExitCode::SUCCESS);
    }
    let rows: Vec<Row> = sessions.kept.into_iter().map(|k| k.row).collect();
    let mut order: Vec<usize> = (0..rows.len()).filter(|i| rows.get(*i).is_some_and(|r| filter.shows(r))).collect();
    sort(&mut order, |i| rows.get(i), args.sort);
    let shown_rows: Vec<&Row> = order.iter().filter_map(|i| rows.get(*i)).collect();
    let list = List { sessions: shown_rows, problems: &sessions.problems };
    answer(&list, args.json, |list| text::list(&list.sessions, &filter, list.problems))?;
    Ok(ExitCode::SUCCESS)
}

/// What can be known of one journal, and its events.
fn load(path: &Path) -> Result<(SessionReview, Events), CliError> {
    let (back, events) = read_session(path)?;
    let words = format!("{}: {}; nothing of the session can be read", path.display(), back.verdict);
    let review = review_session(&events, back.verdict).ok_or(CliError::No(words))?;
    Ok((review, events))
}

fn one_session(common: &Common, args: &ReviewArgs, given: &str) -> Result<ExitCode, CliError> {
    let (review, _) = load(&find(common, given)?)?;
    answer(&review, args.json, text::session)?;
    Ok(if review.record_sound { ExitCode::SUCCESS } else { ExitCode::from(1) })
}
