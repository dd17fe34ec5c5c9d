//! `fadewright debrief`: what a session of practice was worth.

use super::Common;
use super::output::{CliError, print, print_json};
use super::sessions::{find, read_session};
use crate::practice::LightBook;
use crate::practice::debrief::{Debrief, debrief};
use crate::session::{Event, Stamp};
use clap::Args;
use std::path::Path;
use std::process::ExitCode;

/// Columns of a debrief that is printed.
const COLUMNS: usize = 80;

/// Arguments of `debrief`.
#[derive(Debug, Args)]
pub struct DebriefArgs {
    /// Session id, its beginning, or a journal file.
    session: String,
    /// Print JSON; every key names its unit.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(common: &Common, args: &DebriefArgs) -> Result<ExitCode, CliError> {
    let path = find(common, &args.session)?;
    let (back, events) = read_session(&path)?;
    if !back.verdict.is_sound() {
        return Err(CliError::No(format!("{}: {}; a damaged run is not judged", path.display(), back.verdict)));
    }
    let debrief = of(&path, &events)?;
    if args.json {
        print_json(&debrief)?
    } else {
        print(&text(&debrief))?
    }
    Ok(ExitCode::SUCCESS)
}

fn of(path: &Path, events: &[(Stamp, Event)]) -> Result<Debrief, CliError> {
    debrief(events, &LightBook::default()).ok_or_else(|| {
        CliError::Bad(format!("{}: a treatment, not practice: see it with fadewright log", path.display()))
    })
}

/// The debrief as it is printed.
pub(super) fn text(debrief: &Debrief) -> String {
    let mut text = debrief.lines(COLUMNS).join("\n");
    text.push('\n');
    text
}
