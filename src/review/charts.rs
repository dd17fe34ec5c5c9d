//! How a session went over time: small charts in text, of fluence, pulse rate and overlap.

use crate::session::{Event, Stamp, State};
use crate::units::trimmed;
use serde::Serialize;

/// Columns of labels at the left.
const GUTTER: usize = 8;
/// Points of a series that are kept.
const POINTS_MAX: usize = 240;

/// A figure over session time.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Series {
    /// What.
    pub name: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// Session time in seconds, and the value.
    pub points: Vec<(f64, f64)>,
}

/// Fluence fired with, pulses a minute, and the overlap implied so far in the pass, of a whole session.
#[must_use]
pub fn charts(events: &[(Stamp, Event)]) -> Vec<Series> {
    let (mut fluence, mut overlap, mut pulses) = (Vec::new(), Vec::new(), Vec::new());
    let mut state: Option<State> = None;
    for (stamp, event) in events {
        let Some(state) = &mut state else {
            let Event::SessionOpened(opened) = event else { return Vec::new() };
            state = Some(State::new(*stamp, (**opened).clone()));
            continue;
        };
        state.apply(*stamp, event);
        let Event::PulsesFired { n, .. } = event else { continue };
        let Some((_, plan, zone, pass)) = state.running() else { continue };
        let s = state.last_ms() as f64 / 1000.0;
        fluence.push((s, zone.target.fluence.j_cm2()));
        pulses.push((s, *n as f64));
        // Below zero the spots do not touch yet.
        if let Some(percent) = zone.implied_overlap_percent(plan, pass).filter(|p| *p >= 0.0) {
            overlap.push((s, percent));
        }
    }
    let end = state.map_or(0.0, |s| s.last_ms() as f64 / 1000.0);
    vec![
        Series { name: "fluence", unit: "J/cm2", points: thinned(fluence) },
        Series { name: "pulse rate", unit: "pulses/min", points: rate(&pulses, end) },
        Series { name: "overlap so far in the pass", unit: "%", points: thinned(overlap) },
    ]
}

/// Of many points the last of each of so many equal stretches.
fn thinned(points: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    if points.len() <= POINTS_MAX {
        return points;
    }
    let step = points.len().div_ceil(POINTS_MAX);
    points.chunks(step).filter_map(|c| c.last().copied()).collect()
}

/// Pulses a minute, minute by minute, or in at most [`POINTS_MAX`] equal stretches of whole minutes.
fn rate(pulses: &[(f64, f64)], end_s: f64) -> Vec<(f64, f64)> {
    let minutes = (end_s / 60.0).ceil().max(1.0);
    let step_min = (minutes / POINTS_MAX as f64).ceil().max(1.0);
    let mut out: Vec<(f64, f64)> = Vec::new();
    if pulses.is_empty() {
        return out;
    }
    let stretches = (minutes / step_min).ceil() as usize;
    out.extend((0..stretches).map(|i| ((i as f64 + 0.5) * step_min * 60.0, 0.0)));
    for (s, n) in pulses {
        let at = (s / 60.0 / step_min) as usize;
        if let Some(slot) = out.get_mut(at.min(stretches.saturating_sub(1))) {
            slot.1 += n / step_min;
        }
    }
    out
}

impl Series {
    /// The chart as text: so many columns, so many rows below its name. Only ASCII.
    #[must_use]
    pub fn drawn(&self, columns: usize, rows: usize) -> Vec<String> {
        let low = self.points.iter().map(|p| p.1).fold(f64::INFINITY, f64::min);
        let high = self.points.iter().map(|p| p.1).fold(f64::NEG_INFINITY, f64::max);
        let (Some(first), Some(last)) = (self.points.first(), self.points.last()) else {
            return vec![format!("{}, {}: nothing to draw", self.name, self.unit)];
        };
        let mut lines = vec![format!(
            "{}, {}: {} to {}, last {}",
            self.name,
            self.unit,
            trimmed(low, 1),
            trimmed(high, 1),
            trimmed(last.1, 1)
        )];
        let room = columns.saturating_sub(GUTTER + 1).max(1);
        let rows = rows.max(2);
        let span = (last.0 - first.0).max(1e-9);
        let height = (high - low).max(1e-9);
        let mut grid = vec![vec![' '; room]; rows];
        for (s, value) in &self.points {
            let x = ((s - first.0) / span * (room - 1) as f64).round() as usize;
            let up = if high > low { (value - low) / height } else { 0.5 };
            let y = ((1.0 - up) * (rows - 1) as f64).round() as usize;
            if let Some(cell) = grid.get_mut(y).and_then(|row| row.get_mut(x)) {
                *cell = '*';
            }
        }
        for (y, row) in grid.iter().enumerate() {
            let label = match y {
                0 => trimmed(high, 1),
                y if y + 1 == rows => trimmed(low, 1),
                _ => String::new(),
            };
            let text: String = row.iter().collect();
            lines.push(format!("{label:>GUTTER$}|{}", text.trim_end()));
        }
        let minutes = |s: f64| format!("{} min", trimmed(s / 60.0, 1));
        let (from, to) = (minutes(first.0), minutes(last.0));
        let gap = room.saturating_sub(from.len() + to.len()).max(1);
        lines.push(format!("{}{from}{}{to}", " ".repeat(GUTTER + 1), " ".repeat(gap)));
        lines
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn marks_lie_where_the_figures_say() {
        let series = Series { name: "fluence", unit: "J/cm2", points: vec![(0.0, 3.0), (60.0, 3.0), (120.0, 2.0)] };
        let drawn = series.drawn(GUTTER + 1 + 11, 3);
        assert_eq!(
            drawn,
            [
                "fluence, J/cm2: 2 to 3, last 2",
                "       3|*    *",
                "        |",
                "       2|          *",
                "         0 min 2 min"
            ]
        );
        let none = Series { name: "fluence", unit: "J/cm2", points: Vec::new() };
        assert_eq!(none.drawn(40, 4), ["fluence, J/cm2: nothing to draw"]);
    }

    #[test]
    fn a_rate_keeps_every_pulse() {
        let pulses: Vec<(f64, f64)> = (0..600).map(|i| (f64::from(i), 1.0)).collect();
        let minutes = rate(&pulses, 600.0);
        assert_eq!(minutes.len(), 10);
        assert!(minutes.iter().all(|(_, n)| (*n - 60.0).abs() < 1e-9));
        let long: f64 = rate(&pulses, 86_400.0).iter().map(|(_, n)| n * 6.0).sum();
        assert!((long - 600.0).abs() < 1e-9, "{long}");
    }
}
