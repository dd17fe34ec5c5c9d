//! Zones as plans and commands write them.

mod combination;
mod error;
mod polygon;
mod text;

pub use combination::{Combination, PARTS_MAX, Part};
pub use error::{Ring, ShapeError};
pub use polygon::{POINTS_MAX, Polygon};
pub use text::ShapeTextError;

use super::Outline;
use crate::units::Length;
use serde::{Deserialize, Serialize};
use std::fmt;

/// The outline of a zone on the skin.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "lowercase")]
pub enum Shape {
    /// A rectangle.
    Rectangle {
        /// Longer or shorter side, whichever is named width.
        #[serde(rename = "width_mm")]
        width: Length,
        /// The other side.
        #[serde(rename = "height_mm")]
        height: Length,
    },
    /// An ellipse given by its two full axes.
    Ellipse {
        /// One full axis.
        #[serde(rename = "width_mm")]
        width: Length,
        /// The other full axis.
        #[serde(rename = "height_mm")]
        height: Length,
    },
    /// A line of script: a length with a width, round ends included in the length.
    Stroke {
        /// Length along the line.
        #[serde(rename = "length_mm")]
        length: Length,
        /// Width across the line.
        #[serde(rename = "width_mm")]
        width: Length,
    },
    /// Corners, with holes.
    Polygon(Polygon),
    /// Several shapes together, with others taken away.
    Combination(Combination),
}

impl Shape {
    /// Area in mm2.
    #[must_use]
    pub fn area_mm2(&self) -> f64 {
        use std::f64::consts::PI;
        match self {
            Self::Rectangle { width, height } => width.mm() * height.mm(),
            Self::Ellipse { width, height } => PI * width.mm() * height.mm() / 4.0,
            Self::Stroke { length, width } => {
                // A stroke shorter than it is wide is a disc of its width.
                let straight = (length.mm() - width.mm()).max(0.0);
                straight * width.mm() + PI * width.mm() * width.mm() / 4.0
            }
            Self::Polygon(p) => p.area_mm2(),
            Self::Combination(c) => c.outline().area_mm2(),
        }
    }
}

impl Shape {
    /// Its outline. Rectangle, ellipse and stroke have their middle at the origin and their length along x.
    #[must_use]
    pub fn outline(&self) -> Outline {
        match self {
            Self::Rectangle { width, height } => Outline::rectangle(width.mm(), height.mm()),
            Self::Ellipse { width, height } => Outline::ellipse(width.mm(), height.mm()),
            Self::Stroke { length, width } => Outline::stroke(length.mm(), width.mm()),
            Self::Polygon(p) => p.outline(),
            Self::Combination(c) => c.outline().clone(),
        }
    }
}

impl fmt::Display for Shape {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Rectangle { width, height } => write!(f, "rectangle {width} x {height}"),
            Self::Ellipse { width, height } => write!(f, "ellipse {width} x {height}"),
            Self::Stroke { length, width } => write!(f, "stroke {length} long, {width} wide"),
            Self::Polygon(p) => p.fmt(f),
            Self::Combination(c) => c.fmt(f),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mm(v: f64) -> Length {
        Length::new(v).unwrap()
    }

    #[test]
    fn areas_follow_the_school_formulas() {
        let close = |shape: Shape, area: f64| assert!((shape.area_mm2() - area).abs() < 1e-9, "{shape}");
        close(Shape::Rectangle { width: mm(40.0), height: mm(25.0) }, 1000.0);
        close(Shape::Ellipse { width: mm(30.0), height: mm(20.0) }, std::f64::consts::PI * 150.0);
        close(Shape::Stroke { length: mm(50.0), width: mm(4.0) }, 46.0 * 4.0 + std::f64::consts::PI * 4.0);
        close(Shape::Stroke { length: mm(2.0), width: mm(4.0) }, std::f64::consts::PI * 4.0);
    }
}
