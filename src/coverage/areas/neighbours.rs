//! Who is near: numbers sorted into square cells.

use super::super::{Bounds, Point};
use std::collections::HashMap;

/// Numbers by the cells of a grid, whose cells are as wide as the widest disc: whatever touches a disc lies in its
/// middle's cell or in one of the eight around it.
#[derive(Debug, Clone)]
pub(super) struct Neighbours {
    cell_mm: f64,
    cells: HashMap<(i64, i64), Vec<u32>>,
}

impl Neighbours {
    pub(super) fn new(cell_mm: f64) -> Self {
        Self { cell_mm, cells: HashMap::new() }
    }

    fn cell(&self, p: Point) -> (i64, i64) {
        // A cast of what lies beyond the numbers stays at their end.
        ((p.x_mm / self.cell_mm).floor() as i64, (p.y_mm / self.cell_mm).floor() as i64)
    }

    /// Enters a number at a place.
    pub(super) fn add(&mut self, p: Point, number: u32) {
        self.cells.entry(self.cell(p)).or_default().push(number);
    }

    /// Enters a number in every cell that a box touches.
    pub(super) fn add_box(&mut self, bounds: Bounds, number: u32) {
        let ((x0, y0), (x1, y1)) = (self.cell(bounds.low), self.cell(bounds.high));
        for x in x0..=x1 {
            for y in y0..=y1 {
                self.cells.entry((x, y)).or_default().push(number);
            }
        }
    }

    /// The numbers in the cell of a place and in the cells around it, its own cell first. What was entered as a box
    /// may come more than once.
    pub(super) fn around(&self, p: Point) -> impl Iterator<Item = u32> + '_ {
        const AROUND: [(i64, i64); 9] = [(0, 0), (-1, 0), (1, 0), (0, -1), (0, 1), (-1, -1), (1, -1), (-1, 1), (1, 1)];
        let (x, y) = self.cell(p);
        AROUND
            .into_iter()
            .filter_map(move |(i, j)| self.cells.get(&(x.saturating_add(i), y.saturating_add(j))))
            .flatten()
            .copied()
    }
}
