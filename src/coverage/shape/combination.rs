//! Zones put together from several shapes.

use super::super::{Outline, Point};
use super::Shape;
use super::error::ShapeError;
use geo::{BooleanOps, Coord, LineString, MultiPolygon, Orient, orient::Direction};
use serde::{Deserialize, Serialize};
use std::fmt;

/// Parts of a combination at most.
pub const PARTS_MAX: usize = 64;

/// Where parts overlap, their curves count as chords that stray from them by no more than this, mm. An ellipse of
/// 30 mm x 20 mm loses less than 0.001 % of its area by it, a circle of 4 mm 0.007 %.
const STRAY_MM: f64 = 1e-4;

/// One shape of a combination, in its place.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Part {
    /// The shape; no combination.
    pub shape: Shape,
    /// Where its origin comes to lie.
    #[serde(rename = "at_mm", default)]
    pub at: Point,
    /// How far it is turned counter-clockwise about its origin, degrees from -360 to 360.
    #[serde(default)]
    pub turn_degrees: f64,
    /// True when it is taken away.
    #[serde(default)]
    pub hole: bool,
}

impl Part {
    fn outline(&self) -> Outline {
        self.shape.outline().turned_and_moved(self.turn_degrees.to_radians(), self.at)
    }
}

/// The union of all parts that are no holes, less those that are.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Parts", into = "Parts")]
pub struct Combination {
    parts: Vec<Part>,
    outline: Outline,
}

/// A combination as it is written.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Parts {
    parts: Vec<Part>,
}

impl TryFrom<Parts> for Combination {
    type Error = ShapeError;
    fn try_from(p: Parts) -> Result<Self, ShapeError> {
        Self::new(p.parts)
    }
}

impl From<Combination> for Parts {
    fn from(c: Combination) -> Self {
        Self { parts: c.parts }
    }
}

impl Combination {
    /// Puts parts together. A single part keeps its curves; of several, curves become chords that stray by 0.1 um at most.
    ///
    /// # Errors
    /// [`ShapeError`] when there are no parts or too many, one is a combination, lies beyond 2 m or has a turn outside
    /// its range, or nothing is left.
    pub fn new(parts: Vec<Part>) -> Result<Self, ShapeError> {
        if parts.is_empty() || parts.len() > PARTS_MAX {
            return Err(ShapeError::Parts(parts.len()));
        }
        for (i, part) in parts.iter().enumerate() {
            let part_number = i + 1;
            if matches!(part.shape, Shape::Combination(_)) {
                return Err(ShapeError::Nested(part_number));
            }
            for (what, given, most, range) in [
                ("x", part.at.x_mm, 2000.0, "-2000 to 2000 mm"),
                ("y", part.at.y_mm, 2000.0, "-2000 to 2000 mm"),
                ("turn", part.turn_degrees, 360.0, "-360 to 360 degrees"),
            ] {
                if !(-most..=most).contains(&given) {
                    return Err(ShapeError::Placed { part: part_number, what, given, range });
                }
            }
        }
        let outline = match parts.as_slice() {
            [part] if !part.hole => part.outline(),
            parts => combined(parts)?,
        };
        Ok(Self { parts, outline })
    }

    /// Its parts.
    #[must_use]
    pub fn parts(&self) -> &[Part] {
        &self.parts
    }

    /// Its outline.
    #[must_use]
    pub const fn outline(&self) -> &Outline {
        &self.outline
    }
}

impl fmt::Display for Combination {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.parts.len() {
            1 => f.write_str("combination of 1 part"),
            n => write!(f, "combination of {n} parts"),
        }
    }
}

/// Less area than this is nothing, mm2.
const NOTHING_MM2: f64 = 1e-6;

fn combined(parts: &[Part]) -> Result<Outline, ShapeError> {
    let (holes, solid): (Vec<&Part>, Vec<&Part>) = parts.iter().partition(|p| p.hole);
    let union = |parts: Vec<&Part>| {
        parts.into_iter().map(polygon).reduce(|a, b| a.union(&b)).unwrap_or_else(|| MultiPolygon::new(Vec::new()))
    };
    let left = union(solid).difference(&union(holes)).orient(Direction::Default);
    let rings: Vec<Vec<Point>> = left
        .iter()
        .flat_map(|p| std::iter::once(p.exterior()).chain(p.interiors()))
        .map(|ring| ring.0.iter().skip(1).map(|c| Point::new(c.x, c.y)).collect())
        .collect();
    let outline = Outline::rings(&rings);
    // What is no number is nothing either.
    if outline.area_mm2() > NOTHING_MM2 { Ok(outline) } else { Err(ShapeError::Nothing) }
}

/// A part as the geometry crate takes it.
fn polygon(part: &Part) -> MultiPolygon {
    let turn = part.turn_degrees.to_radians();
    let line = |ring: Vec<Point>| {
        let coords = ring.into_iter().map(|p| p.turned_and_moved(turn, part.at));
        LineString::new(coords.map(|p| Coord { x: p.x_mm, y: p.y_mm }).collect())
    };
    let mut rings = match &part.shape {
        Shape::Polygon(p) => p.rings().to_vec(),
        // The pieces of a stroke do not follow each other, so its places are put in order by their direction: it is
        // convex, as the other shapes are, and its middle lies at the origin.
        shape => {
            let chords = shape.outline().chords(STRAY_MM);
            let mut places: Vec<Point> = chords.into_iter().map(|[from, _]| from).collect();
            places.sort_by(|a, b| a.y_mm.atan2(a.x_mm).total_cmp(&b.y_mm.atan2(b.x_mm)));
            vec![places]
        }
    }
    .into_iter()
    .map(line);
    let exterior = rings.next().unwrap_or_else(|| LineString::new(Vec::new()));
    MultiPolygon::new(vec![geo::Polygon::new(exterior, rings.collect())])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Length;
    use std::f64::consts::PI;

    fn mm(v: f64) -> Length {
        Length::new(v).unwrap()
    }

    fn part(shape: Shape, x: f64, y: f64, turn_degrees: f64, hole: bool) -> Part {
        Part { shape, at: Point::new(x, y), turn_degrees, hole }
    }

    fn rect(w: f64, h: f64) -> Shape {
        Shape::Rectangle { width: mm(w), height: mm(h) }
    }

    fn ellipse(w: f64, h: f64) -> Shape {
        Shape::Ellipse { width: mm(w), height: mm(h) }
    }

    fn area(parts: Vec<Part>) -> f64 {
        Combination::new(parts).unwrap().outline().area_mm2()
    }

    #[test]
    fn unions_differences_and_pieces_apart_have_their_areas() {
        let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-4 * b, "{a} against {b}");
        close(
            area(vec![part(rect(10.0, 10.0), 0.0, 0.0, 0.0, false), part(rect(10.0, 10.0), 5.0, 0.0, 0.0, false)]),
            150.0,
        );
        close(
            area(vec![part(rect(10.0, 10.0), 0.0, 0.0, 45.0, false), part(rect(2.0, 2.0), 0.0, 0.0, 0.0, true)]),
            96.0,
        );
        close(
            area(vec![part(ellipse(6.0, 6.0), 0.0, 0.0, 0.0, false), part(ellipse(4.0, 4.0), 20.0, 0.0, 0.0, false)]),
            13.0 * PI,
        );
        let stroke = Shape::Stroke { length: mm(20.0), width: mm(4.0) };
        close(
            area(vec![part(stroke.clone(), 0.0, 0.0, 0.0, false), part(stroke, 0.0, 0.0, 90.0, false)]),
            2.0 * (64.0 + 4.0 * PI) - 16.0,
        );
    }

    /// What the chords cost, as the documentation says.
    #[test]
    fn a_lone_part_keeps_its_curves_and_chords_cost_little() {
        let lone = area(vec![part(ellipse(30.0, 20.0), 3.0, 4.0, 30.0, false)]);
        assert!((lone - 150.0 * PI).abs() < 1e-9);
        let far = part(rect(1.0, 1.0), 500.0, 0.0, 0.0, false);
        let chords = area(vec![part(ellipse(30.0, 20.0), 0.0, 0.0, 0.0, false), far]) - 1.0;
        let lost = 1.0 - chords / (150.0 * PI);
        assert!(lost > 0.0 && lost < 1e-5, "{lost}");
    }

    #[test]
    fn what_cannot_be_is_named() {
        let square = || part(rect(5.0, 5.0), 0.0, 0.0, 0.0, false);
        assert_eq!(Combination::new(Vec::new()).unwrap_err(), ShapeError::Parts(0));
        assert_eq!(Combination::new(vec![square(); 65]).unwrap_err(), ShapeError::Parts(65));
        let hole = part(rect(9.0, 9.0), 0.0, 0.0, 0.0, true);
        assert_eq!(Combination::new(vec![square(), hole.clone()]).unwrap_err(), ShapeError::Nothing);
        assert_eq!(Combination::new(vec![hole]).unwrap_err(), ShapeError::Nothing);
        let nested = Shape::Combination(Combination::new(vec![square()]).unwrap());
        assert_eq!(Combination::new(vec![part(nested, 0.0, 0.0, 0.0, false)]).unwrap_err(), ShapeError::Nested(1));
        let turned = part(rect(5.0, 5.0), 0.0, 0.0, f64::NAN, false);
        assert!(Combination::new(vec![square(), turned]).unwrap_err().to_string().starts_with("part 2: turn of NaN"));
    }

    #[test]
    fn it_is_written_and_read_back() {
        let c = Shape::Combination(
            Combination::new(vec![
                part(rect(5.0, 5.0), 1.0, 2.0, 15.0, false),
                part(ellipse(2.0, 2.0), 1.0, 2.0, 0.0, true),
            ])
            .unwrap(),
        );
        let text = serde_json::to_string(&c).unwrap();
        assert_eq!(serde_json::from_str::<Shape>(&text).unwrap(), c);
        assert!(text.contains("\"kind\":\"combination\""), "{text}");
    }
}
