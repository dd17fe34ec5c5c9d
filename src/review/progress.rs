//! A trainee's progress over runs of practice: best, last and trend of each scenario.

use crate::scenario::SHIPPED;
use crate::text::shown;
use serde::Serialize;

/// A run of practice that was closed and judged.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Run {
    /// Scenario.
    pub scenario: String,
    /// Trainee, where one was named.
    pub trainee: Option<String>,
    /// Score, 0 to 100.
    pub score: u32,
}

/// Runs of one scenario by one trainee.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Progress {
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

/// Progress over runs, oldest first; scenarios in the order in which they are shipped.
#[must_use]
pub fn progress(runs: impl IntoIterator<Item = Run>) -> Vec<Progress> {
    let mut all: Vec<Progress> = Vec::new();
    for run in runs {
        match all.iter_mut().find(|p| p.scenario == run.scenario && p.trainee == run.trainee) {
            Some(p) => p.scores.push(run.score),
            None => all.push(Progress {
                scenario: run.scenario,
                trainee: run.trainee,
                runs: 0,
                best: 0,
                last: 0,
                trend_points_per_run: None,
                scores: vec![run.score],
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
    all
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

impl Progress {
    /// `first-script  TR-04  3 runs: best 92, last 88, +4.0 points a run`.
    #[must_use]
    pub fn line(&self) -> String {
        let who = self.trainee.as_ref().map(|t| format!("  {}", shown(t))).unwrap_or_default();
        let trend = match self.trend_points_per_run {
            Some(t) => format!(", {t:+.1} points a run"),
            None => String::new(),
        };
        let runs = if self.runs == 1 { "1 run".to_owned() } else { format!("{} runs", self.runs) };
        format!("{:<18}{who}  {runs}: best {}, last {}{trend}", shown(&self.scenario), self.best, self.last)
    }
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
