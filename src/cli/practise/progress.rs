//! A trainee's progress over runs: best, last and trend of each scenario.

use super::PractiseArgs;
use crate::cli::Common;
use crate::cli::files::{PRACTICE, data_root};
use crate::cli::output::{CliError, print, print_json};
use crate::cli::sessions::read_session;
use crate::journal::DataDir;
use crate::practice::LightBook;
use crate::practice::debrief::debrief;
use crate::review::{self, Progress, Run};
use std::process::ExitCode;

/// Progress in a data directory. Demonstrations are not a trainee's.
pub(in crate::cli) fn progress(common: &Common) -> Result<Vec<Progress>, CliError> {
    let root = data_root(common)?.join(PRACTICE);
    let Ok(dir) = DataDir::look_at(&root) else { return Ok(Vec::new()) };
    let book = LightBook::default();
    let judged = dir.list()?.into_iter().rev().filter_map(|entry| {
        let (back, events) = read_session(&entry.path).ok()?;
        let d = debrief(&events, &book).filter(|d| d.closed && !d.demonstration && back.verdict.is_sound())?;
        Some(Run { scenario: d.scenario, trainee: d.trainee, score: d.score.total })
    });
    Ok(review::progress(judged))
}

pub(super) fn run(common: &Common, args: &PractiseArgs) -> Result<ExitCode, CliError> {
    let mut all = progress(common)?;
    if let Some(name) = &args.scenario {
        all.retain(|p| p.scenario == *name);
    }
    if let Some(trainee) = &args.trainee {
        all.retain(|p| p.trainee.as_deref() == Some(trainee.as_str()));
    }
    if args.json {
        print_json(&all)?;
        return Ok(ExitCode::SUCCESS);
    }
    let mut text = "PRACTICE: progress by scenario, scores of 100\n".to_owned();
    if all.is_empty() {
        text.push_str("no run was closed yet: fadewright practise first-script\n");
    }
    for p in &all {
        text.push_str(&p.line());
        text.push('\n');
    }
    print(&text)?;
    Ok(ExitCode::SUCCESS)
}
