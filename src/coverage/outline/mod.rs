//! The edge of a zone as straight and curved pieces, with the skin of the zone on their left.
//!
//! Ellipses and round ends stay curves, so that areas against them are exact; polygons come from the geometry crate.

mod piece;

pub use piece::{Arc, Piece};

use super::{Bounds, Point};
use geo::{Area, MinimumRotatedRect, MultiPoint};
use std::f64::consts::PI;

/// A closed edge: outer rings run counter-clockwise, holes clockwise.
#[derive(Debug, Clone, PartialEq)]
pub struct Outline {
    pieces: Vec<Piece>,
    inside: Inside,
    area_mm2: f64,
    perimeter_mm: f64,
    bounds: Bounds,
}

/// How to tell whether a place lies inside.
#[derive(Debug, Clone, PartialEq)]
enum Inside {
    /// Of an ellipse.
    Ellipse(Arc),
    /// Within half a width of a line between two places.
    Stroke { from: Point, to: Point, radius_mm: f64 },
    /// Of rings, by the even-odd rule; the segments' numbers sorted into bands of equal width across the axis on which
    /// they are short.
    Rings { across: Axis, low_mm: f64, band_mm: f64, bands: Vec<Vec<usize>> },
}

/// An axis of the skin.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Axis {
    X,
    Y,
}

impl Axis {
    /// A place's figure along this axis, and along the other.
    const fn of(self, p: Point) -> (f64, f64) {
        match self {
            Self::X => (p.x_mm, p.y_mm),
            Self::Y => (p.y_mm, p.x_mm),
        }
    }
}

impl Outline {
    /// A rectangle around the origin, sides along the axes.
    #[must_use]
    pub fn rectangle(width_mm: f64, height_mm: f64) -> Self {
        let (x, y) = (width_mm / 2.0, height_mm / 2.0);
        let ring = [Point::new(-x, -y), Point::new(x, -y), Point::new(x, y), Point::new(-x, y)];
        Self::rings(&[ring.to_vec()])
    }

    /// An ellipse around the origin by its full axes along x and y.
    #[must_use]
    pub fn ellipse(width_mm: f64, height_mm: f64) -> Self {
        let arc = Arc::ellipse(Point::ORIGIN, width_mm / 2.0, height_mm / 2.0);
        Self::new(vec![Piece::Arc(arc)], Inside::Ellipse(arc))
    }

    /// A line along x with round ends, around the origin; its round ends are part of its length.
    #[must_use]
    pub fn stroke(length_mm: f64, width_mm: f64) -> Self {
        let radius = width_mm / 2.0;
        // A stroke shorter than it is wide is a disc of its width.
        let half = (length_mm / 2.0 - radius).max(0.0);
        let (from, to) = (Point::new(-half, 0.0), Point::new(half, 0.0));
        let cap = |centre, start| Piece::Arc(Arc::circle(centre, radius).part(start, PI));
        let mut pieces = vec![cap(to, -PI / 2.0), cap(from, PI / 2.0)];
        if half > 0.0 {
            pieces.push(Piece::Line { from: Point::new(-half, -radius), to: Point::new(half, -radius) });
            pieces.push(Piece::Line { from: Point::new(half, radius), to: Point::new(-half, radius) });
        }
        Self::new(pieces, Inside::Stroke { from, to, radius_mm: radius })
    }

    /// Closed rings of places, without the first repeated at the end: outer rings counter-clockwise, holes clockwise.
    /// They must not cross.
    #[must_use]
    pub fn rings(rings: &[Vec<Point>]) -> Self {
        let mut pieces = Vec::new();
        for ring in rings {
            let next = ring.iter().skip(1).chain(ring.first());
            pieces.extend(ring.iter().zip(next).map(|(&from, &to)| Piece::Line { from, to }));
        }
        let inside = Inside::sorted(&pieces);
        Self::new(pieces, inside)
    }

    fn new(pieces: Vec<Piece>, inside: Inside) -> Self {
        let bounds = pieces.iter().fold(Bounds::EMPTY, |b, p| p.bounds(b));
        // Measured from the middle, so that a zone far from the origin loses no digits.
        let middle = bounds.centre();
        Self {
            area_mm2: pieces.iter().map(|p| p.swept_mm2(middle)).sum(),
            perimeter_mm: pieces.iter().map(Piece::length_mm).sum(),
            pieces,
            inside,
            bounds,
        }
    }

    /// Its pieces.
    #[must_use]
    pub fn pieces(&self) -> &[Piece] {
        &self.pieces
    }

    /// Area, mm2.
    #[must_use]
    pub const fn area_mm2(&self) -> f64 {
        self.area_mm2
    }

    /// Length of all edges, those of holes too, mm.
    #[must_use]
    pub const fn perimeter_mm(&self) -> f64 {
        self.perimeter_mm
    }

    /// The upright rectangle around it.
    #[must_use]
    pub const fn bounds(&self) -> Bounds {
        self.bounds
    }

    /// True when a place lies inside; on the edge either may come.
    #[must_use]
    pub fn contains(&self, p: Point) -> bool {
        match &self.inside {
            Inside::Ellipse(arc) => arc.holds(p),
            Inside::Stroke { from, to, radius_mm } => {
                let length = from.distance_squared(*to);
                let along = if length > 0.0 {
                    ((p.x_mm - from.x_mm) * (to.x_mm - from.x_mm) + (p.y_mm - from.y_mm) * (to.y_mm - from.y_mm))
                        / length
                } else {
                    0.0
                };
                let t = along.clamp(0.0, 1.0);
                let nearest = Point::new(from.x_mm + t * (to.x_mm - from.x_mm), from.y_mm + t * (to.y_mm - from.y_mm));
                p.distance_squared(nearest) < radius_mm * radius_mm
            }
            Inside::Rings { across, low_mm, band_mm, bands } => {
                let (at, along) = across.of(p);
                let band = ((at - low_mm) / band_mm).floor();
                // What is no number, or lies beyond every band, finds none.
                if band.is_nan() || band < 0.0 {
                    return false;
                }
                let Some(segments) = bands.get(band as usize) else { return false };
                segments.iter().filter_map(|&i| self.pieces.get(i)).fold(false, |inside, piece| {
                    let Piece::Line { from, to } = piece else { return inside };
                    let ((from_at, from_along), (to_at, to_along)) = (across.of(*from), across.of(*to));
                    let spans = (from_at > at) != (to_at > at);
                    let crossing = || from_along + (at - from_at) / (to_at - from_at) * (to_along - from_along);
                    inside != (spans && along < crossing())
                })
            }
        }
    }

    /// The direction along which the zone lies, counter-clockwise from the x axis: the longer side of the smallest
    /// rectangle around it, radians from -pi/2 to pi/2.
    #[must_use]
    pub fn lie_radians(&self) -> f64 {
        let turn = match &self.inside {
            Inside::Ellipse(arc) if arc.a_mm >= arc.b_mm => arc.turn_radians,
            Inside::Ellipse(arc) => arc.turn_radians + PI / 2.0,
            Inside::Stroke { from, to, .. } if from == to => 0.0,
            Inside::Stroke { from, to, .. } => (to.y_mm - from.y_mm).atan2(to.x_mm - from.x_mm),
            Inside::Rings { .. } => self.lie_of_rings(),
        };
        let turn = turn.rem_euclid(PI);
        if turn > PI / 2.0 { turn - PI } else { turn }
    }

    /// The shorter side of the rectangle around it whose longer side runs along [`Self::lie_radians`], mm.
    #[must_use]
    pub fn narrow_side_mm(&self) -> f64 {
        let bounds = self.turned_and_moved(-self.lie_radians(), Point::ORIGIN).bounds();
        bounds.width_mm().min(bounds.height_mm())
    }

    fn lie_of_rings(&self) -> f64 {
        let upright = self.bounds.width_mm() * self.bounds.height_mm();
        let places: MultiPoint = self.pieces.iter().map(|p| p.at(0.0)).map(|p| (p.x_mm, p.y_mm)).collect();
        let long_side = |(x, y): (f64, f64), (u, v): (f64, f64)| {
            let longer = if x * x + y * y >= u * u + v * v { (x, y) } else { (u, v) };
            longer.1.atan2(longer.0)
        };
        let lying = long_side((self.bounds.width_mm(), 0.0), (0.0, self.bounds.height_mm()));
        let Some(smallest) = MinimumRotatedRect::minimum_rotated_rect(&places) else { return lying };
        // An upright rectangle that is hardly larger keeps the rows upright.
        if smallest.unsigned_area() >= 0.99 * upright {
            return lying;
        }
        match smallest.exterior().0.as_slice() {
            [a, b, c, ..] => long_side((b.x - a.x, b.y - a.y), (c.x - b.x, c.y - b.y)),
            _ => lying,
        }
    }

    /// Turned counter-clockwise about the origin, then moved.
    #[must_use]
    pub fn turned_and_moved(&self, turn_radians: f64, by: Point) -> Self {
        let pieces: Vec<Piece> = self.pieces.iter().map(|p| p.turned_and_moved(turn_radians, by)).collect();
        let inside = match &self.inside {
            Inside::Ellipse(arc) => Inside::Ellipse(arc.turned_and_moved(turn_radians, by)),
            Inside::Stroke { from, to, radius_mm } => Inside::Stroke {
                from: from.turned_and_moved(turn_radians, by),
                to: to.turned_and_moved(turn_radians, by),
                radius_mm: *radius_mm,
            },
            Inside::Rings { .. } => Inside::sorted(&pieces),
        };
        Self::new(pieces, inside)
    }

    /// Chords in place of its pieces, ring by ring: straight pieces as they are, curves in chords that stray from them
    /// by no more than `stray_mm`.
    #[must_use]
    pub fn chords(&self, stray_mm: f64) -> Vec<[Point; 2]> {
        self.pieces.iter().flat_map(|p| p.chords(stray_mm)).collect()
    }
}

impl Inside {
    fn sorted(pieces: &[Piece]) -> Self {
        let most = pieces.len().clamp(1, 1 << 16);
        let boxes: Vec<Bounds> = pieces.iter().map(|p| p.bounds(Bounds::EMPTY)).collect();
        let all = pieces.iter().fold(Bounds::EMPTY, |b, p| p.bounds(b));
        let span = |b: &Bounds, axis: Axis| (axis.of(b.low).0, axis.of(b.high).0);
        // How many bands the edges lie in, all together, if as many as edges divide the axis.
        let entries = |axis: Axis| {
            let (low, high) = span(&all, axis);
            let extents: f64 = boxes.iter().map(|b| span(b, axis)).map(|(low, high)| high - low).sum();
            extents / (high - low).max(f64::MIN_POSITIVE)
        };
        let across = if entries(Axis::X) < entries(Axis::Y) { Axis::X } else { Axis::Y };
        let (low_mm, high_mm) = span(&all, across);
        let extent = high_mm - low_mm;
        // Bands so wide that all edges together lie in a few times their own number; a flat outline has one, whatever
        // its width.
        let fewest = entries(across) * extent / (4.0 * most as f64);
        let band_mm = (extent / most as f64).max(fewest).max(f64::MIN_POSITIVE);
        let count = ((extent / band_mm).ceil().max(1.0) as usize).min(most);
        let mut bands = vec![Vec::new(); count + 1];
        for (i, b) in boxes.iter().enumerate() {
            let (low, high) = span(b, across);
            let band = |at: f64| ((at - low_mm) / band_mm).floor().max(0.0) as usize;
            for band in bands.iter_mut().take(band(high).saturating_add(1)).skip(band(low)) {
                band.push(i);
            }
        }
        Self::Rings { across, low_mm, band_mm, bands }
    }
}

#[cfg(test)]
mod tests;
