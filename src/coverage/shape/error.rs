//! What is wrong with a shape, and where.

use super::super::Point;
use super::{PARTS_MAX, POINTS_MAX};
use crate::units::trimmed;
use std::fmt;

/// Which ring of a polygon.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ring {
    /// The outer one.
    Outline,
    /// A hole, counted from 1.
    Hole(usize),
}

impl fmt::Display for Ring {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Outline => f.write_str("outline"),
            Self::Hole(n) => write!(f, "hole {n}"),
        }
    }
}

/// Why a shape cannot be; points are counted from 1.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ShapeError {
    /// A coordinate is no number, or beyond 2 m.
    #[error("point {point} of the {ring} is {}: from -2000 to 2000 mm", at(*.place))]
    Far {
        /// Its ring.
        ring: Ring,
        /// Its number.
        point: usize,
        /// Where it lies.
        place: Point,
    },
    /// Fewer than three corners.
    #[error("the {ring} has {points} different points: three or more make a shape")]
    TooFew {
        /// The ring.
        ring: Ring,
        /// Points left when repeated ones are taken out.
        points: usize,
    },
    /// Too many corners.
    #[error("point {} is one too many: at most {POINTS_MAX} points in all", POINTS_MAX + 1)]
    TooMany,
    /// Two edges meet where they must not.
    #[error("the edge from point {first} of the {ring} meets the edge from point {second} of the {other} at {}", at(*.place))]
    Crossing {
        /// Ring of the first edge.
        ring: Ring,
        /// Point that the first edge starts from.
        first: usize,
        /// Ring of the second edge.
        other: Ring,
        /// Point that the second edge starts from.
        second: usize,
        /// Where they meet.
        place: Point,
    },
    /// All points lie on one line.
    #[error("the {ring} has no area: its points lie on one line, from {} to {}", at(*.from), at(*.to))]
    Flat {
        /// The ring.
        ring: Ring,
        /// Its first point.
        from: Point,
        /// Another one.
        to: Point,
    },
    /// A hole is not inside the outline.
    #[error("hole {hole} lies outside the outline: its point {point} is {}", at(*.place))]
    HoleOutside {
        /// Which hole, from 1.
        hole: usize,
        /// One of its points.
        point: usize,
        /// Where that lies.
        place: Point,
    },
    /// A hole lies within another.
    #[error("hole {hole} lies within hole {within}: its point {point} is {}", at(*.place))]
    HoleInHole {
        /// Which hole, from 1.
        hole: usize,
        /// The other one.
        within: usize,
        /// One of its points.
        point: usize,
        /// Where that lies.
        place: Point,
    },
    /// Number of parts.
    #[error("{0} parts: a combination has 1 to {PARTS_MAX}")]
    Parts(usize),
    /// A part is a combination itself.
    #[error("part {0} is a combination itself: name its parts instead")]
    Nested(usize),
    /// A part's place or turn.
    #[error("part {part}: {what} of {given} is outside {range}")]
    Placed {
        /// The part, from 1.
        part: usize,
        /// What.
        what: &'static str,
        /// The figure.
        given: f64,
        /// What it may be.
        range: &'static str,
    },
    /// Nothing is left.
    #[error("the parts that are taken away leave nothing")]
    Nothing,
}

impl ShapeError {
    /// The ring and the point, from 1, that it lies at, where there is one.
    #[must_use]
    pub const fn point(&self) -> Option<(Ring, usize)> {
        match self {
            Self::Far { ring, point, .. } => Some((*ring, *point)),
            Self::Crossing { other, second, .. } => Some((*other, *second)),
            Self::HoleOutside { hole, point, .. } | Self::HoleInHole { hole, point, .. } => {
                Some((Ring::Hole(*hole), *point))
            }
            _ => None,
        }
    }
}

fn at(p: Point) -> String {
    format!("({}, {}) mm", trimmed(p.x_mm, 3), trimmed(p.y_mm, 3))
}
