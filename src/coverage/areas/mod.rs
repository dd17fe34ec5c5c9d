//! What share of a zone no pulse, one, two or more pulses fell on: exact, for flat-top discs.
//!
//! By Green's theorem the area hit at least k times is an integral along its edge, and that edge consists of two kinds
//! of parts: arcs of a disc's circle that lie in the zone and in exactly k - 1 other discs (crossing such an arc takes
//! one from k hits to k - 1), and stretches of the zone's edge that lie in at least k discs. So each circle and each
//! stretch adds its own share of the area, found from its neighbours alone: the cost grows with the number of pulses,
//! and one pulse more changes only the shares around it.

mod crossing;
mod neighbours;
mod swept;

use super::outline::Piece;
use super::{Bounds, Outline, Point};
use crate::units::SpotDiameter;
use neighbours::Neighbours;
use serde::Serialize;
use std::collections::HashMap;
use swept::{Scratch, Swept};

/// A flat-top pulse on the skin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Disc {
    /// Its middle.
    pub centre: Point,
    /// Its radius, mm.
    pub radius_mm: f64,
}

impl Disc {
    /// The same for the same disc, whatever the sign of a zero.
    fn bits(self) -> [u64; 3] {
        [self.centre.x_mm + 0.0, self.centre.y_mm + 0.0, self.radius_mm].map(f64::to_bits)
    }

    /// Area, mm2.
    #[must_use]
    pub fn area_mm2(self) -> f64 {
        std::f64::consts::PI * self.radius_mm * self.radius_mm
    }
}

/// How much of a zone was hit how often. The four shares add up to the area.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct HitAreas {
    /// Area of the zone, mm2.
    pub area_mm2: f64,
    /// Of it, hit by no pulse, mm2.
    pub bare_mm2: f64,
    /// Hit by exactly one.
    pub once_mm2: f64,
    /// Hit by exactly two.
    pub twice_mm2: f64,
    /// Hit by three or more.
    pub thrice_or_more_mm2: f64,
    /// Area of all pulses together, what fell outside the zone included, each place counted once, mm2.
    pub union_mm2: f64,
    /// Sum of what each pulse covered within the zone, each place counted as often as it was hit, mm2.
    pub landed_mm2: f64,
}

/// The hit areas of a zone, kept up to date pulse by pulse.
#[derive(Debug, Clone)]
pub struct Covered {
    outline: Outline,
    /// Radius of what [`Covered::add`] puts down.
    radius_mm: f64,
    /// Where the integrals are measured from: the middle of the zone, so that few digits cancel.
    middle: Point,
    discs: Vec<Placed>,
    stretches: Vec<Stretch>,
    by_disc: Neighbours,
    /// Numbers of the discs by their middle and radius, to the bit.
    by_place: HashMap<[u64; 3], usize>,
    by_stretch: Neighbours,
    total: Swept,
    scratch: Scratch,
}

/// A disc and its share of the integrals.
#[derive(Debug, Clone, Copy)]
struct Placed {
    disc: Disc,
    /// Pulses on this very place; none once it was taken back.
    copies: u32,
    at_edge: AtEdge,
    share: Swept,
}

/// How a circle lies to the zone's edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum AtEdge {
    /// All of it in the zone.
    Inside,
    /// None of it.
    Outside,
    /// The edge may cross it.
    Crossed,
}

/// Part of the zone's edge, about as long as a pulse is wide.
#[derive(Debug, Clone, Copy)]
struct Stretch {
    piece: Piece,
    bounds: Bounds,
    share: Swept,
}

/// At most this many stretches more than the outline has pieces.
const MOST_STRETCHES: f64 = 100_000.0;

/// A circle may coincide with a round end of the zone. Grown by this share, it lies outside for certain, and the
/// coinciding arc is counted once; the area changes by no more than twice this share.
const GROWN: f64 = 1.0 + 1e-11;

impl Covered {
    /// A zone that no pulse has hit yet, to be treated with one spot.
    #[must_use]
    pub fn new(outline: &Outline, spot: SpotDiameter) -> Self {
        Self::with_largest(outline, spot.mm() / 2.0)
    }

    /// A zone hit by pulses of one spot.
    #[must_use]
    pub fn of(outline: &Outline, spot: SpotDiameter, centres: impl IntoIterator<Item = Point>) -> Self {
        let mut covered = Self::new(outline, spot);
        for centre in centres {
            covered.place(Disc { centre, radius_mm: covered.radius_mm });
        }
        covered.renew_all();
        covered
    }

    fn with_largest(outline: &Outline, radius_mm: f64) -> Self {
        let cell_mm = (2.0 * radius_mm * GROWN).max(outline.perimeter_mm() / MOST_STRETCHES).max(f64::MIN_POSITIVE);
        let mut by_stretch = Neighbours::new(cell_mm);
        let mut stretches = Vec::new();
        for piece in outline.pieces() {
            let parts = (piece.most_mm() / cell_mm).ceil().max(1.0);
            for i in 0..parts as u32 {
                let part = piece.part(f64::from(i) / parts, (f64::from(i) + 1.0) / parts);
                let bounds = part.bounds(Bounds::EMPTY);
                by_stretch.add_box(bounds, stretches.len() as u32);
                stretches.push(Stretch { piece: part, bounds, share: Swept::NONE });
            }
        }
        Self {
            radius_mm,
            middle: outline.bounds().centre(),
            outline: outline.clone(),
            discs: Vec::new(),
            stretches,
            by_disc: Neighbours::new(cell_mm),
            by_place: HashMap::new(),
            by_stretch,
            total: Swept::NONE,
            scratch: Scratch::default(),
        }
    }

    /// One pulse more.
    pub fn add(&mut self, centre: Point) {
        let i = self.place(Disc { centre, radius_mm: self.radius_mm });
        self.renew_around(i);
    }

    /// Takes one pulse back from a place; false when none was there.
    pub fn remove(&mut self, centre: Point) -> bool {
        let disc = Disc { centre, radius_mm: self.radius_mm * GROWN };
        let Some(&i) = self.by_place.get(&disc.bits()) else { return false };
        let Some(placed) = self.discs.get_mut(i).filter(|d| d.copies > 0) else { return false };
        placed.copies -= 1;
        self.renew_around(i);
        true
    }

    /// The hit areas now.
    #[must_use]
    pub fn areas(&self) -> HitAreas {
        let area_mm2 = self.outline.area_mm2();
        let [once_up, twice_up, thrice_up] = self.total.at_least;
        // Rounding may leave a share a little below zero; the four must still add up.
        let once_up = once_up.clamp(0.0, area_mm2);
        let twice_up = twice_up.clamp(0.0, once_up);
        let thrice_up = thrice_up.clamp(0.0, twice_up);
        HitAreas {
            area_mm2,
            bare_mm2: area_mm2 - once_up,
            once_mm2: once_up - twice_up,
            twice_mm2: twice_up - thrice_up,
            thrice_or_more_mm2: thrice_up,
            union_mm2: self.total.union.max(0.0),
            landed_mm2: self.total.landed.max(0.0),
        }
    }

    /// Puts a disc down without counting it yet.
    fn place(&mut self, disc: Disc) -> usize {
        let disc = Disc { radius_mm: disc.radius_mm * GROWN, ..disc };
        if let Some(&same) = self.by_place.get(&disc.bits()) {
            if let Some(placed) = self.discs.get_mut(same) {
                placed.copies = placed.copies.saturating_add(1);
            }
            return same;
        }
        let index = self.discs.len();
        let crossed = self
            .by_stretch
            .around(disc.centre)
            .any(|s| self.stretches.get(s as usize).is_some_and(|s| s.bounds.grown(disc.radius_mm).holds(disc.centre)));
        let at_edge = match crossed {
            true => AtEdge::Crossed,
            false if self.outline.contains(disc.centre) => AtEdge::Inside,
            false => AtEdge::Outside,
        };
        self.discs.push(Placed { disc, copies: 1, at_edge, share: Swept::NONE });
        self.by_disc.add(disc.centre, index as u32);
        self.by_place.insert(disc.bits(), index);
        index
    }

    /// Renews every share that the disc may have changed.
    fn renew_around(&mut self, i: usize) {
        let Some(disc) = self.discs.get(i).map(|d| d.disc) else { return };
        let touches = |j: &u32| {
            self.discs.get(*j as usize).is_some_and(|d| {
                let reach = d.disc.radius_mm + disc.radius_mm;
                d.copies > 0 && d.disc.centre.distance_squared(disc.centre) < reach * reach || *j as usize == i
            })
        };
        let discs: Vec<u32> = self.by_disc.around(disc.centre).filter(touches).collect();
        for j in discs {
            self.renew_disc(j as usize);
        }
        let reached = |s: &u32| {
            self.stretches.get(*s as usize).is_some_and(|s| s.bounds.grown(disc.radius_mm).holds(disc.centre))
        };
        let mut stretches: Vec<u32> = self.by_stretch.around(disc.centre).filter(reached).collect();
        stretches.sort_unstable();
        stretches.dedup();
        for s in stretches {
            self.renew_stretch(s as usize);
        }
    }

    fn renew_all(&mut self) {
        for i in 0..self.discs.len() {
            self.renew_disc(i);
        }
        for s in 0..self.stretches.len() {
            self.renew_stretch(s);
        }
    }

    fn renew_disc(&mut self, i: usize) {
        let mut scratch = std::mem::take(&mut self.scratch);
        let share = swept::of_circle(self, i, &mut scratch);
        self.scratch = scratch;
        if let Some(placed) = self.discs.get_mut(i) {
            self.total.replace(&placed.share, &share);
            placed.share = share;
        }
    }

    fn renew_stretch(&mut self, s: usize) {
        let mut scratch = std::mem::take(&mut self.scratch);
        let share = swept::of_stretch(self, s, &mut scratch);
        self.scratch = scratch;
        if let Some(stretch) = self.stretches.get_mut(s) {
            self.total.replace(&stretch.share, &share);
            stretch.share = share;
        }
    }
}

/// The hit areas of a zone under a list of discs, whose radii may differ. Discs that are not finite, or have no radius,
/// hit nothing.
#[must_use]
pub fn hit_areas(outline: &Outline, discs: &[Disc]) -> HitAreas {
    let sound = || discs.iter().filter(|d| d.centre.is_finite() && d.radius_mm.is_finite() && d.radius_mm > 0.0);
    let largest = sound().map(|d| d.radius_mm).fold(0.0, f64::max);
    let mut covered = Covered::with_largest(outline, largest);
    for disc in sound() {
        covered.place(*disc);
    }
    covered.renew_all();
    covered.areas()
}

#[cfg(test)]
mod tests;
