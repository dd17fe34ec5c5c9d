//! A trainee's progress over runs: best, last and trend of each scenario.

use super::PractiseArgs;
use crate::cli::Common;
use crate::cli::files::{PRACTICE, data_root};
use crate::cli::output::{CliError, print, print_json};
use crate::cli::sessions::read_session;
use crate::journal::DataDir;
use crate::practice::LightBook;
use crate::practice::debrief::debrief;
use crate::scenario::SHIPPED;
use crate::text::shown;
use serde::Serialize;
use std::process::ExitCode;

/// Runs of one scenario by one trainee.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub(in crate::cli) struct Progress {
    /// Scenario.
    pub scenario: String,
    /// Trainee, where one was named.
    pub trainee: Option<String>,
    /// Runs that were closed.
    pub runs: usize,
    /// Best score, 0 to 100.
    pub best: u32,
    /// Score of the last run.
    pub last: u32,
    /// Points that a run brings, by a straight line through all scores in order; none for a single run.
    pub trend_points_per_run: Option<f64>,
    /// All scores, in order.
    pub scores: Vec<u32>,
}

/// Progress in a data directory. Demonstrations are not a trainee's.
pub(in crate::cli) fn progress(common: &Common) -> Result<Vec<Progress>, CliError> {
    let root = data_root(common)?.join(PRACTICE);
    let Ok(dir) = DataDir::look_at(&root) else { return Ok(Vec::new()) };
    let book = LightBook::default();
    let mut all: Vec<Progress> = Vec::new();
    for entry in dir.list()?.into_iter().rev() {
        let Ok((back, events)) = read_session(&entry.path) else { continue };
        let Some(d) = debrief(&events, &book).filter(|d| d.closed && !d.demonstration && back.verdict.is_sound())
        else {
            continue;
        };
        let trainee = d.trainee;
        match all.iter_mut().find(|p| p.scenario == d.scenario && p.trainee == trainee) {
            Some(p) => p.scores.push(d.score.total),
            None => all.push(Progress {
                scenario: d.scenario,
                trainee,
                runs: 0,
                best: 0,
                last: 0,
                trend_points_per_run: None,
                scores: vec![d.score.total],
            }),
        }
    }
    for p in &mut all {
        p.runs = p.scores.len();
        p.best = p.scores.iter().copied().max().unwrap_or(0);
        p.last = p.scores.last().copied().unwrap_or(0);
        p.trend_points_per_run = slope(&p.scores);
    }
    let place = |name: &str| SHIPPED.iter().position(|s| s.name == name).unwrap_or(usize::MAX);
    all.sort_by(|a, b| place(&a.scenario).cmp(&place(&b.scenario)).then_with(|| a.trainee.cmp(&b.trainee)));
    Ok(all)
}

/// Slope of the straight line of least squares; none with fewer than two points.
fn slope(scores: &[u32]) -> Option<f64> {
    let n = scores.len() as f64;
    if scores.len() < 2 {
        return None;
    }
    let mean_x = (n - 1.0) / 2.0;
    let mean_y = scores.iter().map(|s| f64::from(*s)).sum::<f64>() / n;
    let (mut above, mut below) = (0.0, 0.0);
    for (i, s) in scores.iter().enumerate() {
        let dx = i as f64 - mean_x;
        above += dx * (f64::from(*s) - mean_y);
        below += dx * dx;
    }
    Some(above / below)
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
        text.push_str(&line(p));
        text.push('\n');
    }
    print(&text)?;
    Ok(ExitCode::SUCCESS)
}

/// `first-script  TR-04  3 runs: best 92, last 88, +4.0 points a run`.
pub(in crate::cli) fn line(p: &Progress) -> String {
    let who = p.trainee.as_ref().map(|t| format!("  {t}")).unwrap_or_default();
    let trend = match p.trend_points_per_run {
        Some(t) => format!(", {t:+.1} points a run"),
        None => String::new(),
    };
    let runs = if p.runs == 1 { "1 run".to_owned() } else { format!("{} runs", p.runs) };
    format!("{:<18}{who}  {runs}: best {}, last {}{trend}", shown(&p.scenario), p.best, p.last)
}

#[cfg(test)]
mod tests {
    use super::slope;

    #[test]
    fn a_trend_needs_two_runs_and_is_the_line_of_least_squares() {
        assert_eq!(slope(&[80]), None);
        assert!((slope(&[80, 90]).unwrap() - 10.0).abs() < 1e-12);
        // By hand: x 0 1 2 3, y 60 70 65 85: 7.0.
        assert!((slope(&[60, 70, 65, 85]).unwrap() - 7.0).abs() < 1e-12);
    }
}
