//! Where the hand is.

/// The way that a row runs, seen from above with y up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// Along x.
    Right,
    /// Against x.
    Left,
    /// Along y.
    Up,
    /// Against y.
    Down,
}

impl Way {
    /// The way of a row turned by an angle; every second row runs back.
    fn of(turn_radians: f64, back: bool) -> Self {
        let (sin, cos) = turn_radians.sin_cos();
        match (sin.abs() > cos.abs(), (sin + cos > 0.0) != back) {
            (false, true) => Self::Right,
            (false, false) => Self::Left,
            (true, true) => Self::Up,
            (true, false) => Self::Down,
        }
    }
}

/// Where the hand is in a pass, if it follows the order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Place {
    /// Row of the next pulse, from 1.
    pub row: usize,
    /// Rows in all.
    pub rows: usize,
    /// Pulses already fired in it.
    pub fired_in_row: usize,
    /// Pulses that it takes.
    pub row_pulses: usize,
    /// The way that the row runs.
    pub way: Way,
    /// Whole passes fired before: 0 during the first.
    pub rounds: u64,
}

impl Place {
    pub(super) fn after(rows: &[usize], spots: usize, turn_radians: f64, fired: u64) -> Self {
        let all = spots.max(1) as u64;
        let (rounds, into) = (fired / all, (fired % all) as usize);
        let row = rows.partition_point(|&first| first <= into).saturating_sub(1);
        let first = rows.get(row).copied().unwrap_or(0);
        let next = rows.get(row + 1).copied().unwrap_or(spots);
        Self {
            row: row + 1,
            rows: rows.len(),
            fired_in_row: into - first,
            row_pulses: next - first,
            way: Way::of(turn_radians, row % 2 == 1),
            rounds,
        }
    }
}
