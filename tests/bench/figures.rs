//! Figures, the limits beside them, and the table that shows both.

use std::fmt::Write as _;
use std::time::Duration;

/// Measured times, sorted.
pub struct Times(Vec<Duration>);

impl Times {
    /// Takes times in any order.
    pub fn new(mut times: Vec<Duration>) -> Self {
        times.sort_unstable();
        Self(times)
    }

    /// How many there are.
    pub const fn len(&self) -> usize {
        self.0.len()
    }

    /// The time that `percent` of all do not exceed, by nearest rank; the largest for 100.
    pub fn percentile(&self, percent: usize) -> Duration {
        let rank = (self.0.len() * percent).div_ceil(100).max(1);
        self.0.get(rank - 1).copied().unwrap_or(Duration::MAX)
    }

    /// The shortest.
    pub fn least(&self) -> Duration {
        self.0.first().copied().unwrap_or(Duration::ZERO)
    }

    /// The usual figures in milliseconds.
    pub fn words(&self) -> String {
        let mut out = String::new();
        for (name, percent) in [("p50", 50), ("p90", 90), ("p99", 99), ("max", 100)] {
            // Writing to a string cannot fail.
            let _ = write!(out, "{name} {}  ", ms(self.percentile(percent)));
        }
        format!("{}({} times)", out, self.len())
    }
}

/// A time in milliseconds.
pub fn ms(time: Duration) -> String {
    format!("{:.1} ms", time.as_secs_f64() * 1000.0)
}

struct Row {
    what: String,
    measured: String,
    limit: String,
    verdict: &'static str,
}

/// The table of all figures.
#[derive(Default)]
pub struct Table {
    rows: Vec<Row>,
    missed: bool,
}

impl Table {
    /// A figure without a limit.
    pub fn note(&mut self, what: &str, measured: impl Into<String>) {
        self.push(what, measured.into(), "-", "");
    }

    /// A figure that must be within its limit.
    pub fn judge(&mut self, what: &str, measured: impl Into<String>, limit: impl Into<String>, kept: bool) {
        self.missed |= !kept;
        self.push(what, measured.into(), limit, if kept { "kept" } else { "MISSED" });
    }

    /// Times of which one percentile has a limit.
    pub fn judge_times(&mut self, what: &str, times: &Times, percent: usize, limit: Duration) {
        let name = if percent == 100 { "max".to_owned() } else { format!("p{percent}") };
        self.judge(what, times.words(), format!("{name} {}", ms(limit)), times.percentile(percent) <= limit);
    }

    /// Something that could not be measured: a miss, with the reason.
    pub fn failed(&mut self, what: &str, why: &str) {
        self.missed = true;
        self.push(what, why.to_owned(), "-", "FAILED");
    }

    /// True when a limit was missed or a figure could not be taken.
    pub const fn has_misses(&self) -> bool {
        self.missed
    }

    fn push(&mut self, what: &str, measured: String, limit: impl Into<String>, verdict: &'static str) {
        let row = Row { what: what.to_owned(), measured, limit: limit.into(), verdict };
        // Shown as it is taken, because the whole takes minutes.
        eprintln!("  {}: {} {}", row.what, row.measured, row.verdict);
        self.rows.push(row);
    }

    /// All rows in columns.
    pub fn text(&self) -> String {
        let width = |cell: fn(&Row) -> &str| self.rows.iter().map(|r| cell(r).lines().next().map_or(0, str::len)).max();
        let (what, measured, limit) =
            (width(|r| &r.what).unwrap_or(0), width(|r| &r.measured).unwrap_or(0), width(|r| &r.limit).unwrap_or(0));
        let mut out = String::new();
        for row in &self.rows {
            let line = format!("{:what$}  {:measured$}  {:limit$}  {}", row.what, row.measured, row.limit, row.verdict);
            out.push_str(line.trim_end());
            out.push('\n');
        }
        out
    }
}
