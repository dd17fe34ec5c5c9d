//! Zones given by corners.

use super::super::{Outline, Point};
use super::error::{Ring, ShapeError};
use geo::algorithm::coordinate_position::{CoordPos, CoordinatePosition};
use geo::algorithm::line_intersection::{LineIntersection, line_intersection};
use geo::{BoundingRect, Coord, Intersects, Line, LineString};
use serde::{Deserialize, Serialize};
use std::fmt;

/// Points of a polygon at most, those of its holes too.
pub const POINTS_MAX: usize = 100_000;

/// Farthest from the origin that a point may lie along each axis, mm.
const FAR_MM: f64 = 2000.0;

/// Less area than this share of the square of its length is a line.
const FLAT: f64 = 1e-12;

/// An outline with holes, none of which cross.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Corners", into = "Corners")]
pub struct Polygon {
    /// The outline counter-clockwise, then the holes clockwise.
    rings: Vec<Vec<Point>>,
}

/// A polygon as it is written.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Corners {
    outline_mm: Vec<Point>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    holes_mm: Vec<Vec<Point>>,
}

impl TryFrom<Corners> for Polygon {
    type Error = ShapeError;
    fn try_from(c: Corners) -> Result<Self, ShapeError> {
        Self::new(c.outline_mm, c.holes_mm)
    }
}

impl From<Polygon> for Corners {
    fn from(polygon: Polygon) -> Self {
        let mut rings = polygon.rings.into_iter();
        Self { outline_mm: rings.next().unwrap_or_default(), holes_mm: rings.collect() }
    }
}

/// An edge and where it comes from.
#[derive(Debug, Clone, Copy)]
struct Edge {
    line: Line,
    ring: usize,
    index: usize,
    /// Edges of its ring.
    of: usize,
}

impl Edge {
    fn left(&self) -> f64 {
        self.line.start.x.min(self.line.end.x)
    }

    fn follows(&self, other: &Self) -> bool {
        self.ring == other.ring
            && ((self.index + 1) % self.of == other.index || (other.index + 1) % self.of == self.index)
    }
}

impl Polygon {
    /// A polygon by its corners, in either direction; the first may be repeated at the end.
    ///
    /// # Errors
    /// [`ShapeError`] names the point: not within 2 m, fewer than three, more than [`POINTS_MAX`], a ring that crosses
    /// or touches itself or another, no area, a hole outside the outline or in another hole.
    pub fn new(outline: Vec<Point>, holes: Vec<Vec<Point>>) -> Result<Self, ShapeError> {
        let mut rings: Vec<Vec<Point>> = std::iter::once(outline).chain(holes).collect();
        if rings.iter().map(Vec::len).sum::<usize>() > POINTS_MAX {
            return Err(ShapeError::TooMany);
        }
        let mut numbers = Vec::new();
        for (i, ring) in rings.iter_mut().enumerate() {
            numbers.push(tidy(ring, name(i))?);
        }
        uncrossed(&rings, &numbers)?;
        nested(&rings)?;
        for (i, ring) in rings.iter_mut().enumerate() {
            if (twice_area(ring) > 0.0) != (i == 0) {
                ring.reverse();
            }
        }
        Ok(Self { rings })
    }

    /// The rings: the outline counter-clockwise, then the holes clockwise.
    #[must_use]
    pub fn rings(&self) -> &[Vec<Point>] {
        &self.rings
    }

    /// Area, mm2.
    #[must_use]
    pub fn area_mm2(&self) -> f64 {
        self.rings.iter().map(|r| twice_area(r)).sum::<f64>() / 2.0
    }

    /// Its outline.
    #[must_use]
    pub fn outline(&self) -> Outline {
        Outline::rings(&self.rings)
    }
}

impl fmt::Display for Polygon {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "polygon of {} points", self.rings.first().map_or(0, Vec::len))?;
        match self.rings.len().saturating_sub(1) {
            0 => Ok(()),
            1 => f.write_str(" with 1 hole"),
            n => write!(f, " with {n} holes"),
        }
    }
}

const fn name(ring: usize) -> Ring {
    if ring == 0 { Ring::Outline } else { Ring::Hole(ring) }
}

/// Takes out repeated points; checks that what is left lies near and makes an area. The numbers, from 1, that the points
/// left had.
fn tidy(ring: &mut Vec<Point>, name: Ring) -> Result<Vec<usize>, ShapeError> {
    for (i, p) in ring.iter().enumerate() {
        // What is no number is in no range.
        if !(-FAR_MM..=FAR_MM).contains(&p.x_mm) || !(-FAR_MM..=FAR_MM).contains(&p.y_mm) {
            return Err(ShapeError::Far { ring: name, point: i + 1, place: *p });
        }
    }
    let mut numbered: Vec<(usize, Point)> = ring.iter().copied().enumerate().map(|(i, p)| (i + 1, p)).collect();
    numbered.dedup_by_key(|(_, p)| *p);
    while numbered.len() > 1 && numbered.first().map(|(_, p)| *p) == numbered.last().map(|(_, p)| *p) {
        numbered.pop();
    }
    let (numbers, left) = numbered.into_iter().unzip();
    *ring = left;
    let (Some(&from), true) = (ring.first(), ring.len() >= 3) else {
        return Err(ShapeError::TooFew { ring: name, points: ring.len() });
    };
    let farthest = ring.iter().copied().max_by(|a, b| from.distance_squared(*a).total_cmp(&from.distance_squared(*b)));
    let to = farthest.unwrap_or(from);
    let off =
        |p: &Point| ((to.x_mm - from.x_mm) * (p.y_mm - from.y_mm) - (to.y_mm - from.y_mm) * (p.x_mm - from.x_mm)).abs();
    if ring.iter().map(off).fold(0.0, f64::max) <= FLAT * from.distance_squared(to) {
        return Err(ShapeError::Flat { ring: name, from, to });
    }
    Ok(numbers)
}

fn coord(p: Point) -> Coord {
    Coord { x: p.x_mm, y: p.y_mm }
}

/// Refuses edges that meet where they must not: rings may not even touch.
fn uncrossed(rings: &[Vec<Point>], numbers: &[Vec<usize>]) -> Result<(), ShapeError> {
    let (mut wide, mut high) = (0.0, 0.0);
    let mut edges = Vec::new();
    for (r, ring) in rings.iter().enumerate() {
        for (index, (from, to)) in ring.iter().zip(ring.iter().skip(1).chain(ring.first())).enumerate() {
            wide += (from.x_mm - to.x_mm).abs();
            high += (from.y_mm - to.y_mm).abs();
            edges.push(Edge { line: Line::new(coord(*from), coord(*to)), ring: r, index, of: ring.len() });
        }
    }
    // Edges are sorted along the axis on which they overlap least, and each is compared with those that begin before it
    // ends. Edges that are long along both axes make that slow.
    let turn = wide > high;
    if turn {
        for edge in &mut edges {
            edge.line = Line::new(swapped(edge.line.start), swapped(edge.line.end));
        }
    }
    edges.sort_by(|a, b| a.left().total_cmp(&b.left()));
    let pairs = edges.iter().enumerate().flat_map(|(i, a)| {
        let right = a.line.start.x.max(a.line.end.x);
        edges.iter().skip(i + 1).take_while(move |b| b.left() <= right).map(move |b| (a, b))
    });
    for (a, b) in pairs {
        let place = match line_intersection(a.line, b.line) {
            None => continue,
            // Neighbours meet in their corner.
            Some(LineIntersection::SinglePoint { is_proper: false, .. }) if a.follows(b) => continue,
            Some(LineIntersection::SinglePoint { intersection, .. }) => intersection,
            Some(LineIntersection::Collinear { intersection }) => intersection.start,
        };
        let place = if turn { swapped(place) } else { place };
        let (a, b) = if (a.ring, a.index) <= (b.ring, b.index) { (a, b) } else { (b, a) };
        let number = |e: &Edge| numbers.get(e.ring).and_then(|n| n.get(e.index)).copied().unwrap_or(0);
        return Err(ShapeError::Crossing {
            ring: name(a.ring),
            first: number(a),
            other: name(b.ring),
            second: number(b),
            place: Point::new(place.x, place.y),
        });
    }
    Ok(())
}

const fn swapped(c: Coord) -> Coord {
    Coord { x: c.y, y: c.x }
}

/// Refuses holes outside the outline or within each other. The rings do not cross.
fn nested(rings: &[Vec<Point>]) -> Result<(), ShapeError> {
    let closed: Vec<LineString> = rings
        .iter()
        .map(|ring| {
            let mut line = LineString::new(ring.iter().copied().map(coord).collect());
            line.close();
            line
        })
        .collect();
    let polygon = |ring: &LineString| geo::Polygon::new(ring.clone(), Vec::new());
    let mut holes: Vec<geo::Polygon> = Vec::new();
    let Some(outline) = closed.first().map(polygon) else { return Ok(()) };
    for (hole, ring) in closed.iter().enumerate().skip(1) {
        // A point that only touches tells nothing.
        let side = |of: &geo::Polygon| {
            ring.0.iter().enumerate().find_map(|(i, c)| match of.coordinate_position(c) {
                CoordPos::OnBoundary => None,
                CoordPos::Inside => Some((true, i + 1, *c)),
                CoordPos::Outside => Some((false, i + 1, *c)),
            })
        };
        if let Some((false, point, c)) = side(&outline) {
            return Err(ShapeError::HoleOutside { hole, point, place: Point::new(c.x, c.y) });
        }
        let own = ring.bounding_rect();
        for (i, other) in holes.iter().enumerate() {
            // Apart for certain, and cheaply so.
            if own.zip(other.bounding_rect()).is_some_and(|(a, b)| !a.intersects(&b)) {
                continue;
            }
            if let Some((true, point, c)) = side(other) {
                return Err(ShapeError::HoleInHole { hole, within: i + 1, point, place: Point::new(c.x, c.y) });
            }
            // The other one may lie within this one.
            let first = closed.get(i + 1).and_then(|r| r.0.first()).copied().unwrap_or_default();
            if polygon(ring).coordinate_position(&first) == CoordPos::Inside {
                let place = Point::new(first.x, first.y);
                return Err(ShapeError::HoleInHole { hole: i + 1, within: hole, point: 1, place });
            }
        }
        holes.push(polygon(ring));
    }
    Ok(())
}

/// Twice the signed area, from the first point, so that a ring far from the origin loses no digits.
fn twice_area(ring: &[Point]) -> f64 {
    let Some(&o) = ring.first() else { return 0.0 };
    ring.windows(2)
        .map(|w| match w {
            [p, q] => (p.x_mm - o.x_mm) * (q.y_mm - o.y_mm) - (q.x_mm - o.x_mm) * (p.y_mm - o.y_mm),
            _ => 0.0,
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn ring(points: &[(f64, f64)]) -> Vec<Point> {
        points.iter().map(|&(x, y)| Point::new(x, y)).collect()
    }

    fn why(outline: &[(f64, f64)], holes: &[&[(f64, f64)]]) -> String {
        Polygon::new(ring(outline), holes.iter().map(|h| ring(h)).collect()).unwrap_err().to_string()
    }

    const SQUARE: [(f64, f64); 4] = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)];

    #[test]
    fn either_direction_and_a_closing_point_give_the_same_polygon() {
        let mut back = SQUARE;
        back.reverse();
        let closed = [&SQUARE[..], &SQUARE[..1]].concat();
        let hole = ring(&[(2.0, 2.0), (4.0, 2.0), (4.0, 5.0)]);
        for outline in [ring(&SQUARE), ring(&back), ring(&closed)] {
            let p = Polygon::new(outline, vec![hole.clone()]).unwrap();
            assert!((p.area_mm2() - 97.0).abs() < 1e-12 && (p.outline().area_mm2() - 97.0).abs() < 1e-12);
            assert_eq!(p.to_string(), "polygon of 4 points with 1 hole");
            let text = serde_json::to_string(&p).unwrap();
            assert_eq!(serde_json::from_str::<Polygon>(&text).unwrap(), p);
        }
    }

    #[test]
    fn what_is_wrong_is_named_with_its_point() {
        let eight = [(0.0, 0.0), (10.0, 10.0), (10.0, 0.0), (0.0, 10.0)];
        assert_eq!(
            why(&eight, &[]),
            "the edge from point 1 of the outline meets the edge from point 3 of the outline at (5, 5) mm"
        );
        // A repeated point keeps the numbers of those behind it.
        let repeated = [eight[0], eight[0], eight[1], eight[2], eight[3]];
        assert!(why(&repeated, &[]).starts_with("the edge from point 1 of the outline meets the edge from point 4"));
        assert!(why(&[(0.0, 0.0), (1.0, 1.0)], &[]).contains("2 different points"));
        assert!(why(&[(0.0, 0.0), (1.0, 1.0), (2.0, 2.0)], &[]).contains("no area"));
        assert!(why(&[(0.0, 0.0), (f64::NAN, 1.0), (2.0, 0.0)], &[]).starts_with("point 2 of the outline is (NaN, 1)"));
        assert!(why(&[(0.0, 0.0), (1.0, 1.0), (2e9, 0.0)], &[]).starts_with("point 3 of the outline"));
        // A spike that runs back along itself, and a ring that touches itself.
        assert!(why(&[(0.0, 0.0), (5.0, 0.0), (9.0, 0.0), (5.0, 0.0), (5.0, 5.0)], &[]).contains("meets the edge"));
        let pinched = [(0.0, 0.0), (5.0, 5.0), (10.0, 0.0), (10.0, 10.0), (5.0, 5.0), (0.0, 10.0)];
        assert!(why(&pinched, &[]).contains("(5, 5) mm"));
        let away = [(20.0, 20.0), (22.0, 20.0), (22.0, 22.0)];
        assert!(why(&SQUARE, &[&away]).starts_with("hole 1 lies outside the outline: its point 1 is (20, 20) mm"));
        let through = [(5.0, 5.0), (15.0, 5.0), (5.0, 6.0)];
        assert!(why(&SQUARE, &[&through]).contains("hole 1"));
        let (big, small) = ([(1.0, 1.0), (9.0, 1.0), (9.0, 9.0), (1.0, 9.0)], [(2.0, 2.0), (3.0, 2.0), (3.0, 3.0)]);
        assert!(why(&SQUARE, &[&big, &small]).starts_with("hole 2 lies within hole 1"));
        assert!(why(&SQUARE, &[&small, &big]).starts_with("hole 1 lies within hole 2"));
        assert!(why(&SQUARE, &[&SQUARE]).contains("meets"));
        // Through the edge at its own corners, and one hole in another that touches it.
        let half_out = [(5.0, 5.0), (8.0, 10.0), (5.0, 15.0), (2.0, 10.0)];
        assert!(why(&SQUARE, &[&half_out]).contains("meets"));
        let (outer, inner) =
            ([(2.0, 2.0), (6.0, 2.0), (6.0, 6.0), (2.0, 6.0)], [(4.0, 2.0), (6.0, 4.0), (4.0, 6.0), (2.0, 4.0)]);
        assert!(why(&SQUARE, &[&outer, &inner]).contains("meets"));
        assert!(serde_json::from_str::<Polygon>(r#"{"outline_mm":[[0,0],[1,1],[2,2]]}"#).is_err());
    }

    #[test]
    fn a_hundred_thousand_points_are_read_and_one_more_is_not() {
        let circle = |n: usize| -> Vec<Point> {
            (0..n)
                .map(|i| {
                    let a = std::f64::consts::TAU * i as f64 / n as f64;
                    Point::new(500.0 * a.cos(), 500.0 * a.sin())
                })
                .collect()
        };
        let p = Polygon::new(circle(POINTS_MAX), Vec::new()).unwrap();
        assert!((p.area_mm2() / (std::f64::consts::PI * 250_000.0) - 1.0).abs() < 1e-8);
        assert_eq!(Polygon::new(circle(POINTS_MAX + 1), Vec::new()), Err(ShapeError::TooMany));
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, cases: 64, ..ProptestConfig::default() })]
        #[test]
        fn stars_are_taken_with_their_area(radii in prop::collection::vec(1.0f64..50.0, 3..60), x in -900.0f64..900.0) {
            let n = radii.len() as f64;
            let star: Vec<Point> = radii
                .iter()
                .enumerate()
                .map(|(i, r)| {
                    let a = std::f64::consts::TAU * i as f64 / n;
                    Point::new(x + r * a.cos(), r * a.sin())
                })
                .collect();
            let next = radii.iter().skip(1).chain(radii.first());
            let sector = (std::f64::consts::TAU / n).sin() / 2.0;
            let area: f64 = radii.iter().zip(next).map(|(r, s)| r * s * sector).sum();
            let p = Polygon::new(star, Vec::new()).unwrap();
            prop_assert!((p.area_mm2() - area).abs() < 1e-9 * area.max(1.0));
        }
    }
}
