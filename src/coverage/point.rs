//! Places on the skin.

use serde::{Deserialize, Serialize};

/// A place on the skin in mm, seen from above: x to the right, y up. The skin counts as flat.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(from = "[f64; 2]", into = "[f64; 2]")]
pub struct Point {
    /// To the right.
    pub x_mm: f64,
    /// Up.
    pub y_mm: f64,
}

impl Point {
    /// The place where zones are drawn around.
    pub const ORIGIN: Self = Self { x_mm: 0.0, y_mm: 0.0 };

    /// A place.
    #[must_use]
    pub const fn new(x_mm: f64, y_mm: f64) -> Self {
        Self { x_mm, y_mm }
    }

    /// Square of the distance to another place, mm2.
    #[must_use]
    pub fn distance_squared(self, other: Self) -> f64 {
        let (dx, dy) = (self.x_mm - other.x_mm, self.y_mm - other.y_mm);
        dx * dx + dy * dy
    }

    /// Turned counter-clockwise about the origin, then moved.
    #[must_use]
    pub fn turned_and_moved(self, turn_radians: f64, by: Self) -> Self {
        let (sin, cos) = turn_radians.sin_cos();
        Self::new(self.x_mm * cos - self.y_mm * sin + by.x_mm, self.x_mm * sin + self.y_mm * cos + by.y_mm)
    }

    /// True when both figures are finite.
    #[must_use]
    pub const fn is_finite(self) -> bool {
        self.x_mm.is_finite() && self.y_mm.is_finite()
    }
}

impl From<[f64; 2]> for Point {
    fn from([x_mm, y_mm]: [f64; 2]) -> Self {
        Self { x_mm, y_mm }
    }
}

impl From<Point> for [f64; 2] {
    fn from(p: Point) -> Self {
        [p.x_mm, p.y_mm]
    }
}

/// An upright rectangle that holds something.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// Lower left corner.
    pub low: Point,
    /// Upper right corner.
    pub high: Point,
}

impl Bounds {
    /// What holds nothing yet.
    pub const EMPTY: Self =
        Self { low: Point::new(f64::INFINITY, f64::INFINITY), high: Point::new(f64::NEG_INFINITY, f64::NEG_INFINITY) };

    /// Grown to hold a place.
    #[must_use]
    pub fn with(self, p: Point) -> Self {
        Self {
            low: Point::new(self.low.x_mm.min(p.x_mm), self.low.y_mm.min(p.y_mm)),
            high: Point::new(self.high.x_mm.max(p.x_mm), self.high.y_mm.max(p.y_mm)),
        }
    }

    /// Grown on all sides.
    #[must_use]
    pub fn grown(self, by_mm: f64) -> Self {
        Self {
            low: Point::new(self.low.x_mm - by_mm, self.low.y_mm - by_mm),
            high: Point::new(self.high.x_mm + by_mm, self.high.y_mm + by_mm),
        }
    }

    /// True when a place lies in it or on its edge.
    #[must_use]
    pub fn holds(self, p: Point) -> bool {
        (self.low.x_mm..=self.high.x_mm).contains(&p.x_mm) && (self.low.y_mm..=self.high.y_mm).contains(&p.y_mm)
    }

    /// Width in mm.
    #[must_use]
    pub fn width_mm(self) -> f64 {
        self.high.x_mm - self.low.x_mm
    }

    /// Height in mm.
    #[must_use]
    pub fn height_mm(self) -> f64 {
        self.high.y_mm - self.low.y_mm
    }

    /// The middle.
    #[must_use]
    pub fn centre(self) -> Point {
        Point::new(self.low.x_mm.midpoint(self.high.x_mm), self.low.y_mm.midpoint(self.high.y_mm))
    }
}
