//! What follows from the outline of a zone alone.

use super::model::Shape;
use std::f64::consts::PI;
use std::fmt;

impl Shape {
    /// Its area in mm2.
    #[must_use]
    pub fn area_mm2(&self) -> f64 {
        match self {
            Self::Rectangle { width, height } => width.mm() * height.mm(),
            Self::Ellipse { width, height } => PI * width.mm() * height.mm() / 4.0,
            // A rectangle between two half circles.
            Self::Stroke { length, width } => {
                (length.mm() - width.mm()).max(0.0) * width.mm() + PI * width.mm() * width.mm() / 4.0
            }
        }
    }
}

impl fmt::Display for Shape {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Rectangle { width, height } => write!(f, "rectangle {width} x {height}"),
            Self::Ellipse { width, height } => write!(f, "ellipse {width} x {height}"),
            Self::Stroke { length, width } => write!(f, "stroke {length} long, {width} wide"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Length;

    #[test]
    fn areas_follow_from_the_outline() {
        let mm = |v| Length::new(v).unwrap();
        let close = |shape: &Shape, area: f64| (shape.area_mm2() - area).abs() < 1e-9;
        assert!(close(&Shape::Rectangle { width: mm(40.0), height: mm(25.0) }, 1000.0));
        // Equal axes are a circle, and a stroke as long as it is wide is the same circle.
        let circle = PI * 100.0;
        assert!(close(&Shape::Ellipse { width: mm(20.0), height: mm(20.0) }, circle));
        assert!(close(&Shape::Stroke { length: mm(20.0), width: mm(20.0) }, circle));
        assert!(close(&Shape::Stroke { length: mm(70.0), width: mm(20.0) }, circle + 1000.0));
    }
}
