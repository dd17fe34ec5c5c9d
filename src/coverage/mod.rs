//! Zone outlines and how evenly pulses cover them.
//!
//! Overlap is linear: `1 - pitch / diameter`, where pitch is the distance between neighbouring spot centres. Planned
//! pulses are those of a hexagonal lattice, the tightest even pattern: `n = A / (sqrt(3)/2 p^2)`.

mod areas;
pub mod lattice;
mod outline;
mod overlap;
mod point;
mod shape;

pub use areas::{Covered, Disc, HitAreas, hit_areas};
pub use lattice::{Lattice, LatticeError, LatticeKind, Place};
pub use outline::{Arc, Outline, Piece};
pub use overlap::{Coverage, planned_pulses, planned_pulses_exact};
pub use point::{Bounds, Point};
pub use shape::Shape;
