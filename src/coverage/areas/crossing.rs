//! Where a piece of the zone's edge crosses a circle.

use super::super::outline::{Arc, Piece};
use super::Disc;

/// The parameters, from 0 to 1 along the piece, at which it enters or leaves a disc, in order.
pub(super) fn crossings(piece: &Piece, disc: Disc, out: &mut Vec<f64>) {
    out.clear();
    match piece {
        Piece::Line { from, to } => {
            let (dx, dy) = (to.x_mm - from.x_mm, to.y_mm - from.y_mm);
            let (fx, fy) = (from.x_mm - disc.centre.x_mm, from.y_mm - disc.centre.y_mm);
            let length2 = dx * dx + dy * dy;
            if length2 <= 0.0 {
                return;
            }
            let middle = -(fx * dx + fy * dy) / length2;
            // The distance of the line from the centre, by the cross product: no digits cancel.
            let off = fx * dy - fy * dx;
            let room = disc.radius_mm * disc.radius_mm - off * off / length2;
            if room > 0.0 {
                let half = (room / length2).sqrt();
                out.extend([middle - half, middle + half]);
            }
        }
        Piece::Arc(arc) => {
            let distance = Distance::new(arc, disc);
            distance.roots(arc.start, arc.start + arc.sweep, out);
            for t in out.iter_mut() {
                *t = (*t - arc.start) / arc.sweep;
            }
        }
    }
}

/// Square of the distance from a circle's centre to the place at parameter t of an ellipse, less the radius squared:
/// `k + b cos t + c sin t + d cos 2t`.
struct Distance {
    constant: f64,
    cos: f64,
    sin: f64,
    cos2: f64,
    /// Bound of the second derivative.
    bend: f64,
    /// How far rounding may put a value off.
    noise: f64,
}

/// Parameters closer than this are one place.
const SAME: f64 = 1e-12;

impl Distance {
    fn new(arc: &Arc, disc: Disc) -> Self {
        let c = arc.seen_from_axes(disc.centre);
        let (a2, b2) = (arc.a_mm * arc.a_mm, arc.b_mm * arc.b_mm);
        let (cos, sin) = (-2.0 * arc.a_mm * c.x_mm, -2.0 * arc.b_mm * c.y_mm);
        let cos2 = (a2 - b2) / 2.0;
        let (c2, r2) = (c.x_mm * c.x_mm + c.y_mm * c.y_mm, disc.radius_mm * disc.radius_mm);
        Self {
            constant: a2.midpoint(b2) + c2 - r2,
            cos,
            sin,
            cos2,
            bend: cos.abs() + sin.abs() + 4.0 * cos2.abs(),
            noise: 8.0 * f64::EPSILON * (a2 + b2 + c2 + r2 + cos.abs() + sin.abs()),
        }
    }

    fn value_and_slope(&self, t: f64) -> (f64, f64) {
        let (s, c) = t.sin_cos();
        let value = self.constant + self.cos * c + self.sin * s + self.cos2 * (c * c - s * s);
        (value, -self.cos * s + self.sin * c - 4.0 * self.cos2 * s * c)
    }

    /// Appends the roots between two parameters in order.
    fn roots(&self, from: f64, to: f64, out: &mut Vec<f64>) {
        let middle = from.midpoint(to);
        let half = (to - from) / 2.0;
        let (value, slope) = self.value_and_slope(middle);
        // Where a circle and an ellipse bend alike, values beside a root are all rounding: it must not hide the root,
        // and looking closer shows nothing more.
        let change = half * (slope.abs() + half * self.bend / 2.0);
        if value.abs() > change + self.noise {
            return;
        }
        let monotone = slope.abs() > half * self.bend;
        if !monotone && half > SAME && change > self.noise {
            self.roots(from, middle, out);
            self.roots(middle, to, out);
            return;
        }
        let (at_from, at_to) = (self.value_and_slope(from).0, self.value_and_slope(to).0);
        if (at_from < 0.0) != (at_to < 0.0) {
            out.push(self.root(from, to, at_from < 0.0));
        }
    }

    /// The root in an interval that holds one: Newton's steps, halving where they leave it.
    fn root(&self, mut low: f64, mut high: f64, rises: bool) -> f64 {
        let mut t = low.midpoint(high);
        for _ in 0..80 {
            let (value, slope) = self.value_and_slope(t);
            if (value < 0.0) == rises {
                low = t;
            } else {
                high = t;
            }
            let step = t - value / slope;
            let next = if step > low && step < high { step } else { low.midpoint(high) };
            if (next - t).abs() <= 1e-15 * t.abs().max(1.0) {
                return next;
            }
            t = next;
        }
        t
    }
}
