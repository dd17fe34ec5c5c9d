//! Even patterns of spots over a zone, in an order that a hand can follow.
//!
//! Overlap is linear: `1 - pitch / diameter`, the pitch being the distance between the middles of neighbouring spots.
//! A hexagonal lattice has rows `sqrt(3)/2` of a pitch apart, each shifted by half a pitch against the last; a square
//! one has rows a pitch apart. Circles cover the plane without gaps from a linear overlap of 13.4 % on in the first
//! (`1 - sqrt(3)/2`) and of 29.3 % in the second (`1 - 1/sqrt(2)`).

mod cell;
mod fit;
mod place;

pub use place::{Place, Way};

use super::{Outline, Point};
use crate::units::{Overlap, SpotDiameter};
use crate::words::words;
use cell::Cell;
use std::f64::consts::PI;

words! {
    /// How the spots of a pass lie to each other.
    LatticeKind, "lattice" {
        /// Each spot has six neighbours: the fewest pulses for an even pass.
        Hexagonal = "hex",
        /// Spots in rows and columns.
        Square = "square",
    }
}

impl LatticeKind {
    /// Distance of two rows over the pitch.
    #[must_use]
    pub const fn row_over_pitch(self) -> f64 {
        match self {
            Self::Hexagonal => 0.866_025_403_784_438_6,
            Self::Square => 1.0,
        }
    }
}

/// More spots than this no pass has; a figure was mistaken.
pub const SPOTS_MAX: usize = 1_000_000;

/// Why a zone has no lattice.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum LatticeError {
    /// Too many spots.
    #[error("a zone of {area_mm2:.0} mm2 would take about {spots:.0} pulses of {spot} a pass; at most {SPOTS_MAX}")]
    TooManySpots {
        /// Area of the zone, mm2.
        area_mm2: f64,
        /// About so many.
        spots: f64,
        /// Of this diameter.
        spot: SpotDiameter,
    },
}

/// The spots of one pass.
#[derive(Debug, Clone, PartialEq)]
pub struct Lattice {
    kind: LatticeKind,
    spot: SpotDiameter,
    pitch_mm: f64,
    row_pitch_mm: f64,
    turn_radians: f64,
    spots: Vec<Point>,
    /// Number of the first spot of each row.
    rows: Vec<usize>,
}

impl Lattice {
    /// Fits a lattice to a zone: its rows run along the longer side, its pitch is the planned one or a little less, so
    /// that rows and columns end at the edge. A spot belongs to the pass when its cell of the lattice reaches into the
    /// zone; so wherever the lattice leaves no gaps, the zone has none either. Spots whose middle would lie outside are
    /// left out, the least needed first, as long as they add no more bare skin than the lattice's own gaps leave
    /// anyway, and at most 0.75 % of the zone (none with more than 2,000 spots outside).
    ///
    /// # Errors
    /// [`LatticeError`] when the pass would take too many pulses.
    pub fn fit(
        outline: &Outline,
        kind: LatticeKind,
        spot: SpotDiameter,
        overlap: Overlap,
    ) -> Result<Self, LatticeError> {
        fit::fit(outline, kind, spot, overlap)
    }

    /// How the spots lie to each other.
    #[must_use]
    pub const fn kind(&self) -> LatticeKind {
        self.kind
    }

    /// The spot.
    #[must_use]
    pub const fn spot(&self) -> SpotDiameter {
        self.spot
    }

    /// Distance of two neighbours in a row, mm.
    #[must_use]
    pub const fn pitch_mm(&self) -> f64 {
        self.pitch_mm
    }

    /// Distance of two rows, mm.
    #[must_use]
    pub const fn row_pitch_mm(&self) -> f64 {
        self.row_pitch_mm
    }

    /// How far its rows are turned counter-clockwise from the x axis, radians.
    #[must_use]
    pub const fn turn_radians(&self) -> f64 {
        self.turn_radians
    }

    /// Pulses of a pass.
    #[must_use]
    pub const fn pulses(&self) -> u64 {
        self.spots.len() as u64
    }

    /// The spots in firing order: row by row, each the other way, so that the hand never jumps across the zone.
    #[must_use]
    pub fn spots(&self) -> &[Point] {
        &self.spots
    }

    /// The rows, each in firing order.
    pub fn rows(&self) -> impl ExactSizeIterator<Item = &[Point]> {
        (0..self.rows.len()).map(|i| {
            let from = self.rows.get(i).copied().unwrap_or(0);
            let to = self.rows.get(i + 1).copied().unwrap_or(self.spots.len());
            self.spots.get(from..to).unwrap_or_default()
        })
    }

    /// Where the hand is after a number of pulses, if it follows the order; after a whole pass it starts again.
    #[must_use]
    pub fn place(&self, fired: u64) -> Place {
        Place::after(&self.rows, self.spots.len(), self.turn_radians, fired)
    }
}

/// Linear overlap from which a lattice leaves no gaps, in per cent.
#[must_use]
pub fn gapless_overlap_percent(kind: LatticeKind) -> f64 {
    match kind {
        LatticeKind::Hexagonal => 100.0 * (1.0 - 3f64.sqrt() / 2.0),
        LatticeKind::Square => 100.0 * (1.0 - 0.5f64.sqrt()),
    }
}

/// Area that two circles of equal radius share, mm2.
#[must_use]
pub fn lens_mm2(radius_mm: f64, distance_mm: f64) -> f64 {
    if distance_mm >= 2.0 * radius_mm {
        return 0.0;
    }
    let half = (distance_mm / (2.0 * radius_mm)).acos();
    radius_mm * radius_mm * (2.0 * half - (2.0 * half).sin())
}

/// Area that two neighbouring spots share, over the area of one.
#[must_use]
pub fn area_overlap(overlap: Overlap) -> f64 {
    lens_mm2(1.0, 2.0 * (1.0 - overlap.percent() / 100.0)) / PI
}

/// Share of the plane that an endless lattice leaves bare.
#[must_use]
pub fn own_gaps(kind: LatticeKind, overlap: Overlap) -> f64 {
    let pitch = 1.0 - overlap.percent() / 100.0;
    Cell::new(kind, pitch, kind.row_over_pitch() * pitch).bare_share(0.5)
}

#[cfg(test)]
mod tests;
