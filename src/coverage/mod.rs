//! Zones on the skin and what the pulses over them leave, cover once, and cover more often.
//!
//! Overlap is linear: `1 - pitch / diameter`, where pitch is the distance between neighbouring spot centres. Skin counts
//! as flat and pulses as flat-top discs unless a dose map is asked for.

mod areas;
mod dose;
pub mod hand;
pub mod lattice;
mod outline;
mod overlap;
mod pattern;
mod point;
mod shape;

pub use areas::{Covered, Disc, HitAreas, hit_areas};
pub use dose::DoseMap;
pub use hand::Hand;
pub use lattice::{Lattice, LatticeError, LatticeKind, Place, Way};
pub use outline::{Arc, Outline, Piece};
pub use overlap::{even_pulses, largest_spot_mm, random_bare_share, time_s};
pub use pattern::Pattern;
pub use point::{Bounds, Point};
pub use shape::{Combination, POINTS_MAX, Part, Polygon, Ring, Shape, ShapeError, ShapeTextError};
