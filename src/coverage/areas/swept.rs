//! The share of one circle, and of one stretch of the zone's edge, in the integrals.

use super::super::Point;
use super::crossing::crossings;
use super::{AtEdge, Covered, Disc, Placed};
use std::f64::consts::TAU;

/// Shares of the areas hit at least once, twice, thrice; of the union; and of what landed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Swept {
    pub(super) at_least: [f64; 3],
    pub(super) union: f64,
    pub(super) landed: f64,
}

impl Swept {
    pub(super) const NONE: Self = Self { at_least: [0.0; 3], union: 0.0, landed: 0.0 };

    pub(super) fn replace(&mut self, old: &Self, new: &Self) {
        for ((sum, old), new) in self.at_least.iter_mut().zip(old.at_least).zip(new.at_least) {
            *sum += new - old;
        }
        self.union += new.union - old.union;
        self.landed += new.landed - old.landed;
    }

    /// Counts a part of the edge of all areas hit more than `below` and at most `below + copies` times.
    fn count(&mut self, mm2: f64, below: i64, copies: i64) {
        for (k, sum) in (1_i64..).zip(self.at_least.iter_mut()) {
            if below < k && k <= below + copies {
                *sum += mm2;
            }
        }
    }
}

/// Room for the lists that each share needs, kept so that none is made anew.
#[derive(Debug, Clone, Default)]
pub(super) struct Scratch {
    /// Where the count of discs changes, and by how much.
    changes: Vec<(f64, i64)>,
    crossings: Vec<f64>,
    splits: Vec<f64>,
}

/// How far a crossing may lie beyond the ends of its stretch and still cut the circle. A cut too many costs nothing,
/// one too few could misjudge half a circle.
const BEYOND: f64 = 1e-9;

/// A circle is looked at in this many steps to see whether it is deep under others all round.
const STEPS: usize = 64;

/// Share of a circle: its arcs, by how many other discs lie on them and whether they lie in the zone.
pub(super) fn of_circle(covered: &Covered, i: usize, scratch: &mut Scratch) -> Swept {
    let mut share = Swept::NONE;
    let Some(own) = covered.discs.get(i).filter(|d| d.copies > 0) else { return share };
    let disc = own.disc;
    let Some(under) = discs_on_circle(covered, i, own, &mut scratch.changes) else {
        // Deep under others, it bounds no area; what it landed still counts.
        scratch.changes.clear();
        finish_circle(covered, own, disc, 3, scratch, &mut share);
        return share;
    };
    finish_circle(covered, own, disc, under, scratch, &mut share);
    share
}

/// The changes along the circle in the number of other discs; the number at angle 0. None when three or more others lie
/// on all of it.
fn discs_on_circle(covered: &Covered, i: usize, own: &Placed, changes: &mut Vec<(f64, i64)>) -> Option<i64> {
    changes.clear();
    let (mut at_zero, mut everywhere) = (0_i64, 0_i64);
    let mut depth = Depth::default();
    let own_disc = own.disc;
    for j in covered.by_disc.around(own_disc.centre) {
        let j = j as usize;
        let Some(other) = covered.discs.get(j).filter(|d| j != i && d.copies > 0) else { continue };
        let d2 = own_disc.centre.distance_squared(other.disc.centre);
        let (r, s) = (own_disc.radius_mm, other.disc.radius_mm);
        let apart = d2 >= (r + s) * (r + s);
        let nested = d2 <= (r - s) * (r - s);
        if apart || (r > s && nested) {
            continue;
        }
        let copies = i64::from(other.copies);
        if s > r && nested {
            everywhere += copies;
            if everywhere >= 3 {
                return None;
            }
            continue;
        }
        let d = d2.sqrt();
        let towards =
            (other.disc.centre.y_mm - own_disc.centre.y_mm).atan2(other.disc.centre.x_mm - own_disc.centre.x_mm);
        // Half the angle under which the other disc lies on this circle. Equal radii, the usual case, need no sum.
        let ratio = if r.to_bits() == s.to_bits() { d / (2.0 * r) } else { (d2 + (r - s) * (r + s)) / (2.0 * d * r) };
        if ratio <= -1.0 {
            // All of it, though rounding let the distance pass as too long for that: half a turn to either side would
            // begin and end in one place, and could as well be read as nothing.
            everywhere += copies;
            if everywhere >= 3 {
                return None;
            }
            continue;
        }
        let half = ratio.min(1.0).acos();
        let (from, to) = ((towards - half).rem_euclid(TAU), (towards + half).rem_euclid(TAU));
        // Only crowded circles are worth a look whether another disc still changes anything.
        if changes.len() > STEPS {
            if depth.is_deep(from, to) {
                continue;
            }
            depth.deepen(from, to, copies);
            if depth.is_deep_all_round() {
                return None;
            }
        }
        if to < from {
            at_zero += copies;
        }
        changes.extend([(from, copies), (to, -copies)]);
    }
    changes.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    Some(at_zero + everywhere)
}

/// How many discs lie on each step of a circle, as far as it matters: three are deep.
struct Depth {
    steps: [i64; STEPS],
    deep: usize,
}

impl Default for Depth {
    fn default() -> Self {
        Self { steps: [0; STEPS], deep: 0 }
    }
}

impl Depth {
    const DEEP: i64 = 3;

    /// First step and number of steps of an interval, by how its ends are rounded.
    fn range(from: f64, to: f64, inwards: bool) -> (usize, usize) {
        let scale = STEPS as f64 / TAU;
        let to = if to < from { to + TAU } else { to };
        let (first, last) = if inwards {
            ((from * scale).ceil(), (to * scale).floor())
        } else {
            ((from * scale).floor(), (to * scale).ceil())
        };
        (first as usize, (last - first).max(0.0) as usize)
    }

    /// True when every step that the interval touches is deep: it changes no count that matters.
    fn is_deep(&self, from: f64, to: f64) -> bool {
        let (first, n) = Self::range(from, to, false);
        (first..first + n).all(|i| self.steps.get(i % STEPS).is_some_and(|&d| d >= Self::DEEP))
    }

    /// Counts an interval in the steps that it covers whole.
    fn deepen(&mut self, from: f64, to: f64, copies: i64) {
        let (first, n) = Self::range(from, to, true);
        for i in first..first + n {
            if let Some(depth) = self.steps.get_mut(i % STEPS) {
                self.deep += usize::from(*depth < Self::DEEP && *depth + copies >= Self::DEEP);
                *depth += copies;
            }
        }
    }

    const fn is_deep_all_round(&self) -> bool {
        self.deep == STEPS
    }
}

/// Walks the arcs between all changes and all crossings with the zone's edge.
fn finish_circle(
    covered: &Covered,
    own: &Placed,
    disc: Disc,
    mut under: i64,
    scratch: &mut Scratch,
    share: &mut Swept,
) {
    let copies = i64::from(own.copies);
    let splits = &mut scratch.splits;
    splits.clear();
    if own.at_edge == AtEdge::Crossed {
        for s in covered.by_stretch.around(disc.centre) {
            let Some(stretch) = covered.stretches.get(s as usize) else { continue };
            crossings(&stretch.piece, disc, &mut scratch.crossings);
            splits.extend(scratch.crossings.iter().filter(|t| (-BEYOND..=1.0 + BEYOND).contains(*t)).map(|&t| {
                let p = stretch.piece.at(t);
                (p.y_mm - disc.centre.y_mm).atan2(p.x_mm - disc.centre.x_mm).rem_euclid(TAU)
            }));
        }
    }
    // A split changes no count.
    scratch.changes.extend(splits.iter().map(|&angle| (angle, 0)));
    if !splits.is_empty() {
        scratch.changes.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    }
    let middle = covered.middle;
    let mut last = Corner::at(disc, 0.0);
    for &(angle, change) in scratch.changes.iter().chain(&[(TAU, 0)]) {
        if angle > last.angle {
            let here = Corner::at(disc, angle);
            let mm2 = last.swept_to(&here, disc, middle);
            if under == 0 {
                share.union += mm2;
            }
            let inside = match own.at_edge {
                AtEdge::Inside => true,
                AtEdge::Outside => false,
                AtEdge::Crossed => covered.outline.contains(Corner::at(disc, last.angle.midpoint(angle)).place),
            };
            if inside {
                share.landed += copies as f64 * mm2;
                share.count(mm2, under, copies);
            }
            last = here;
        }
        under += change;
    }
}

/// A place on a circle.
struct Corner {
    angle: f64,
    place: Point,
}

impl Corner {
    fn at(disc: Disc, angle: f64) -> Self {
        let (sin, cos) = angle.sin_cos();
        let place = Point::new(disc.centre.x_mm + disc.radius_mm * cos, disc.centre.y_mm + disc.radius_mm * sin);
        Self { angle, place }
    }

    /// Area that the line from `middle` sweeps while its end runs along the circle to another corner.
    fn swept_to(&self, to: &Self, disc: Disc, middle: Point) -> f64 {
        let (cx, cy) = (disc.centre.x_mm - middle.x_mm, disc.centre.y_mm - middle.y_mm);
        let (dx, dy) = (to.place.x_mm - self.place.x_mm, to.place.y_mm - self.place.y_mm);
        0.5 * (disc.radius_mm * disc.radius_mm * (to.angle - self.angle) + cx * dy - cy * dx)
    }
}

/// Share of a stretch of the zone's edge, by how many discs lie on it.
pub(super) fn of_stretch(covered: &Covered, s: usize, scratch: &mut Scratch) -> Swept {
    let mut share = Swept::NONE;
    let Some(stretch) = covered.stretches.get(s) else { return share };
    let piece = stretch.piece;
    let changes = &mut scratch.changes;
    changes.clear();
    // A stretch is no longer than a cell is wide, so what reaches it lies around its middle.
    for j in covered.by_disc.around(piece.at(0.5)) {
        let Some(other) = covered.discs.get(j as usize).filter(|d| d.copies > 0) else { continue };
        let disc = other.disc;
        let copies = i64::from(other.copies);
        crossings(&piece, disc, &mut scratch.crossings);
        let r2 = disc.radius_mm * disc.radius_mm;
        let mut from = 0.0;
        // Each part is judged in its middle, away from the crossings at its ends.
        for to in scratch.crossings.iter().copied().chain([1.0]) {
            let to = to.clamp(from, 1.0);
            if to > from && piece.at(from.midpoint(to)).distance_squared(disc.centre) < r2 {
                changes.extend([(from, copies), (to, -copies)]);
            }
            from = to;
        }
    }
    let mut under = 0_i64;
    changes.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    let mut last = 0.0;
    for &(t, change) in changes.iter().chain(&[(1.0, 0)]) {
        if t > last {
            if under > 0 {
                let mm2 = piece.part(last, t).swept_mm2(covered.middle);
                share.landed += under as f64 * mm2;
                share.count(mm2, 0, under);
            }
            last = t;
        }
        under += change;
    }
    share
}
