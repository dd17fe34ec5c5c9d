//! Where the hand is.

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
    /// True in every second row, which runs back.
    pub runs_back: bool,
    /// Whole passes fired before: 0 during the first.
    pub rounds: u64,
}

impl Place {
    pub(super) fn after(rows: &[usize], spots: usize, fired: u64) -> Self {
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
            runs_back: row % 2 == 1,
            rounds,
        }
    }
}
