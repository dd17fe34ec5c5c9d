//! One piece of an edge.

use super::super::{Bounds, Point};
use std::f64::consts::{PI, TAU};

/// A straight or curved piece of an edge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Piece {
    /// A straight line.
    Line {
        /// Where it starts.
        from: Point,
        /// Where it ends.
        to: Point,
    },
    /// Part of an ellipse, run counter-clockwise.
    Arc(Arc),
}

/// Part of an ellipse: `centre + turn (a cos t, b sin t)` for t from `start` over `sweep`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arc {
    /// Centre.
    pub centre: Point,
    /// Half axis along the turned x, mm.
    pub a_mm: f64,
    /// Half axis along the turned y, mm.
    pub b_mm: f64,
    /// How far the axes are turned counter-clockwise, radians.
    pub turn_radians: f64,
    /// Parameter of the start, radians.
    pub start: f64,
    /// How far the parameter runs, radians, above zero, at most a full turn.
    pub sweep: f64,
}

impl Arc {
    /// A whole ellipse, axes along x and y.
    #[must_use]
    pub const fn ellipse(centre: Point, a_mm: f64, b_mm: f64) -> Self {
        Self { centre, a_mm, b_mm, turn_radians: 0.0, start: 0.0, sweep: TAU }
    }

    /// A whole circle.
    #[must_use]
    pub const fn circle(centre: Point, radius_mm: f64) -> Self {
        Self::ellipse(centre, radius_mm, radius_mm)
    }

    /// Part of it.
    #[must_use]
    pub const fn part(self, start: f64, sweep: f64) -> Self {
        Self { start, sweep, ..self }
    }

    /// The place at a parameter.
    #[must_use]
    pub fn at(&self, t: f64) -> Point {
        let (sin, cos) = t.sin_cos();
        Point::new(self.a_mm * cos, self.b_mm * sin).turned_and_moved(self.turn_radians, self.centre)
    }

    /// A place as the ellipse's own axes see it.
    #[must_use]
    pub fn seen_from_axes(&self, p: Point) -> Point {
        let moved = Point::new(p.x_mm - self.centre.x_mm, p.y_mm - self.centre.y_mm);
        moved.turned_and_moved(-self.turn_radians, Point::ORIGIN)
    }

    /// True when a place lies inside the whole ellipse.
    #[must_use]
    pub fn holds(&self, p: Point) -> bool {
        let own = self.seen_from_axes(p);
        let (x, y) = (own.x_mm / self.a_mm, own.y_mm / self.b_mm);
        x * x + y * y < 1.0
    }

    /// Turned counter-clockwise about the origin, then moved.
    #[must_use]
    pub fn turned_and_moved(&self, turn_radians: f64, by: Point) -> Self {
        Self {
            centre: self.centre.turned_and_moved(turn_radians, by),
            turn_radians: self.turn_radians + turn_radians,
            ..*self
        }
    }

    /// Area that the line from `middle` sweeps while its end runs from parameter `from` to `to`, mm2.
    #[must_use]
    pub fn swept_mm2(&self, middle: Point, from: f64, to: f64) -> f64 {
        let (p, q) = (self.at(from), self.at(to));
        let (cx, cy) = (self.centre.x_mm - middle.x_mm, self.centre.y_mm - middle.y_mm);
        0.5 * (self.a_mm * self.b_mm * (to - from) + cx * (q.y_mm - p.y_mm) - cy * (q.x_mm - p.x_mm))
    }

    /// Length of the whole ellipse by the arithmetic-geometric mean (Gauss; DLMF 19.8.6 with 19.30.5).
    fn full_length_mm(&self) -> f64 {
        let (mut a, mut b) = (self.a_mm.max(self.b_mm), self.a_mm.min(self.b_mm));
        let largest = a;
        let mut c = (a * a - b * b).max(0.0).sqrt();
        let (mut sum, mut power) = (0.5 * c * c, 0.5);
        for _ in 0..40 {
            if c <= 1e-17 * largest {
                break;
            }
            (a, b, c) = (a.midpoint(b), (a * b).sqrt(), (a - b) / 2.0);
            power *= 2.0;
            sum += power * c * c;
        }
        // 4 a E(e) with E = K (1 - sum / a^2) and K = pi / (2 agm); the factor a of 4 a E cancels one of a^2.
        2.0 * PI / a * (largest * largest - sum)
    }

    fn length_mm(&self) -> f64 {
        if (self.a_mm - self.b_mm).abs() <= f64::EPSILON * self.a_mm {
            return self.a_mm * self.sweep;
        }
        // Only circles are cut into parts; ellipses come whole.
        self.full_length_mm() * self.sweep / TAU
    }
}

impl Piece {
    /// Area that the line from `middle` sweeps while its end runs along the piece, mm2; the sum over a closed edge is
    /// the area inside (Green's theorem).
    #[must_use]
    pub fn swept_mm2(&self, middle: Point) -> f64 {
        match self {
            Self::Line { from, to } => triangle_mm2(middle, *from, *to),
            Self::Arc(arc) => arc.swept_mm2(middle, arc.start, arc.start + arc.sweep),
        }
    }

    /// Length, mm.
    #[must_use]
    pub fn length_mm(&self) -> f64 {
        match self {
            Self::Line { from, to } => from.distance_squared(*to).sqrt(),
            Self::Arc(arc) => arc.length_mm(),
        }
    }

    /// A bound of its length such that the n-th part of the way is never longer than the n-th part of the bound, mm.
    #[must_use]
    pub fn most_mm(&self) -> f64 {
        match self {
            Self::Line { .. } => self.length_mm(),
            Self::Arc(arc) => arc.a_mm.max(arc.b_mm) * arc.sweep,
        }
    }

    /// The place at a share of the way along, 0 to 1.
    #[must_use]
    pub fn at(&self, share: f64) -> Point {
        match self {
            Self::Line { from, to } => {
                Point::new(from.x_mm + share * (to.x_mm - from.x_mm), from.y_mm + share * (to.y_mm - from.y_mm))
            }
            Self::Arc(arc) => arc.at(arc.start + share * arc.sweep),
        }
    }

    /// The part between two shares of the way along.
    #[must_use]
    pub fn part(&self, from: f64, to: f64) -> Self {
        match self {
            Self::Line { .. } => Self::Line { from: self.at(from), to: self.at(to) },
            Self::Arc(arc) => Self::Arc(arc.part(arc.start + from * arc.sweep, (to - from) * arc.sweep)),
        }
    }

    /// The bounds given, grown to hold the piece.
    #[must_use]
    pub fn bounds(&self, so_far: Bounds) -> Bounds {
        match self {
            Self::Line { from, to } => so_far.with(*from).with(*to),
            Self::Arc(arc) => {
                let end = arc.start + arc.sweep;
                let ends = so_far.with(arc.at(arc.start)).with(arc.at(end));
                // Where the tangent runs along x or y.
                let (sin, cos) = arc.turn_radians.sin_cos();
                let along_y = (-arc.b_mm * sin).atan2(arc.a_mm * cos);
                let along_x = (arc.b_mm * cos).atan2(arc.a_mm * sin);
                [along_y, along_y + PI, along_x, along_x + PI].into_iter().fold(ends, |b, t| {
                    let into = (t - arc.start).rem_euclid(TAU);
                    if into <= arc.sweep { b.with(arc.at(arc.start + into)) } else { b }
                })
            }
        }
    }

    /// Turned counter-clockwise about the origin, then moved.
    #[must_use]
    pub fn turned_and_moved(&self, turn_radians: f64, by: Point) -> Self {
        match self {
            Self::Line { from, to } => {
                Self::Line { from: from.turned_and_moved(turn_radians, by), to: to.turned_and_moved(turn_radians, by) }
            }
            Self::Arc(arc) => Self::Arc(arc.turned_and_moved(turn_radians, by)),
        }
    }

    /// Chords that stray from the piece by no more than `stray_mm`.
    #[must_use]
    pub fn chords(&self, stray_mm: f64) -> Vec<[Point; 2]> {
        match self {
            Self::Line { from, to } => vec![[*from, *to]],
            Self::Arc(arc) => {
                // The sagitta of a step h in the parameter is at most a h^2 / 8 with the longer half axis a.
                let step = (8.0 * stray_mm / arc.a_mm.max(arc.b_mm)).sqrt().clamp(1e-4, PI / 4.0);
                let n = (arc.sweep / step).ceil().max(1.0);
                let at = |i: f64| arc.at(arc.start + arc.sweep * i / n);
                (0..n as u32).map(|i| [at(f64::from(i)), at(f64::from(i) + 1.0)]).collect()
            }
        }
    }
}

/// Signed area of a triangle, mm2; positive when its corners run counter-clockwise.
#[must_use]
fn triangle_mm2(a: Point, b: Point, c: Point) -> f64 {
    0.5 * ((b.x_mm - a.x_mm) * (c.y_mm - a.y_mm) - (b.y_mm - a.y_mm) * (c.x_mm - a.x_mm))
}
