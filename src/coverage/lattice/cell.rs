//! The part of the plane that lies nearest to one spot of a lattice.

use super::super::Point;
use super::{LatticeKind, lens_mm2};
use std::f64::consts::PI;

/// A cell around the origin, rows along x.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cell {
    kind: LatticeKind,
    pitch: f64,
    row: f64,
    /// Height of the side between two neighbours of a row, from the row's line to its end.
    pub(super) side: f64,
    /// Height of the cell's top over the row's line.
    pub(super) top: f64,
}

impl Cell {
    pub(super) fn new(kind: LatticeKind, pitch: f64, row: f64) -> Self {
        let (side, top) = match kind {
            LatticeKind::Square => (row / 2.0, row / 2.0),
            // The corner of three cells is as far from each of the three middles.
            LatticeKind::Hexagonal => {
                let side = (row * row - pitch * pitch / 4.0) / (2.0 * row);
                (side, row - side)
            }
        };
        Self { kind, pitch, row, side, top }
    }

    /// True when part of a line lies within the cell around a middle, shrunk to a share of its size; and by a millionth
    /// more, so that a line along its side is no part of it.
    pub(super) fn meets(&self, middle: Point, line: [Point; 2], share: f64) -> bool {
        let shrink = share * (1.0 - 1e-6);
        let half = self.pitch / 2.0 * shrink;
        let slope = (self.top - self.side) / (self.pitch / 2.0);
        let top = self.top * shrink;
        let [p, q] = line.map(|p| Point::new(p.x_mm - middle.x_mm, p.y_mm - middle.y_mm));
        // The part of the line from p to q that is left, cut by one side of the cell after the other.
        let (mut from, mut to) = (0.0_f64, 1.0_f64);
        for (nx, ny, most) in [
            (1.0, 0.0, half),
            (-1.0, 0.0, half),
            (slope, 1.0, top),
            (-slope, 1.0, top),
            (slope, -1.0, top),
            (-slope, -1.0, top),
        ] {
            let at = |p: Point| nx * p.x_mm + ny * p.y_mm - most;
            let (a, b) = (at(p), at(q));
            if a > 0.0 && b > 0.0 {
                return false;
            }
            if a > 0.0 {
                from = from.max(a / (a - b));
            } else if b > 0.0 {
                to = to.min(a / (a - b));
            }
        }
        from <= to
    }

    /// The share of the cell's size within which only its own disc reaches, of a lattice without gaps.
    pub(super) fn beyond_neighbours(&self, radius: f64) -> Option<f64> {
        let corner = (self.pitch * self.pitch / 4.0 + self.side * self.side).sqrt();
        (radius >= corner * (1.0 - 1e-9)).then(|| (2.0 - radius / corner).max(0.3))
    }

    /// Share of an endless lattice of such cells that discs of a radius leave bare.
    pub(super) fn bare_share(&self, radius: f64) -> f64 {
        let corner = (self.pitch * self.pitch / 4.0 + self.side * self.side).sqrt();
        if radius >= corner * (1.0 - 1e-9) {
            return 0.0;
        }
        // No place lies in three discs while the corners are bare, so only pairs need counting; each spot has half of
        // each of its pairs.
        let pairs = match self.kind {
            LatticeKind::Square => lens_mm2(radius, self.pitch) + lens_mm2(radius, self.row),
            LatticeKind::Hexagonal => {
                let slanted = (self.pitch * self.pitch / 4.0 + self.row * self.row).sqrt();
                lens_mm2(radius, self.pitch) + 2.0 * lens_mm2(radius, slanted)
            }
        };
        (1.0 - (PI * radius * radius - pairs) / (self.pitch * self.row)).max(0.0)
    }
}
