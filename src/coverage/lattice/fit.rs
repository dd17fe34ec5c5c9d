//! Laying a lattice over a zone.

use super::super::areas::Covered;
use super::super::{Bounds, Outline, Point};
use super::cell::Cell;
use super::{Lattice, LatticeError, LatticeKind, SPOTS_MAX, own_gaps};
use crate::units::{Overlap, SpotDiameter};

/// Zones with more spots than this get one way of laying the lattice: where its rows begin matters less and less.
const TRY_ALL_BELOW: f64 = 600.0;

/// Of the ways that look good, this many are followed to the end.
const OTHERS_TRIED: usize = 4;

/// With more spots outside than this, none is left out: the zone is all edge, and trying each would take long.
const OUTSIDE_MOST: usize = 2000;

/// Bare skin that spots left out may add to the lattice's own gaps, as a share of the zone at most.
const BARE_MORE: f64 = 0.0075;

/// Of a lattice with gaps, a spot outside is likely to be needed when its cell, shrunk to this share, still reaches
/// into the zone.
const DEEP: f64 = 0.6;

/// Rows squeezed closer than this share of their planned distance are spread beyond the edge instead.
const CLOSEST: f64 = 0.6;

/// Curves count as chords that stray no further than this share of the spot, when cells are looked for.
const STRAY: f64 = 1e-3;

/// Where rows and columns lie.
#[derive(Debug, Clone, Copy)]
struct Laid {
    pitch: f64,
    row: f64,
    /// Middle of one spot of an unshifted row.
    first: Point,
}

/// Spots found for one way of laying, by row from the top.
struct Found {
    laid: Laid,
    rows: Vec<Vec<Point>>,
    pulses: usize,
    /// Those whose middle lies outside the zone.
    outside: Vec<Point>,
    /// About as many as will be left when those not needed are left out.
    about: usize,
}

impl Found {
    /// What makes one way better than another: fewer pulses, fewer of them outside, less light beyond the edge.
    fn cost(&self) -> (usize, usize, f64) {
        (self.pulses, self.outside.len(), self.laid.pitch * self.laid.row)
    }
}

/// The zone turned so that rows run along x, and what is asked of the lattice.
struct Task {
    zone: Outline,
    chords: Vec<[Point; 2]>,
    bounds: Bounds,
    kind: LatticeKind,
    spot: SpotDiameter,
    pitch: f64,
    /// Bare area up to which spots outside may be left out, mm2.
    bare_mm2: f64,
}

pub(super) fn fit(
    outline: &Outline,
    kind: LatticeKind,
    spot: SpotDiameter,
    overlap: Overlap,
) -> Result<Lattice, LatticeError> {
    let pitch = spot.mm() * (1.0 - overlap.percent() / 100.0);
    let turn = outline.lie_radians();
    let zone = outline.turned_and_moved(-turn, Point::ORIGIN);
    let bounds = zone.bounds();
    let cell_mm2 = kind.row_over_pitch() * pitch * pitch;
    // The box around the zone and a margin are searched.
    let searched = bounds.grown(pitch);
    let spots = searched.width_mm() * searched.height_mm() / cell_mm2;
    if spots.is_nan() || spots > 4.0 * SPOTS_MAX as f64 || outline.area_mm2() / cell_mm2 > SPOTS_MAX as f64 {
        return Err(LatticeError::TooManySpots { area_mm2: outline.area_mm2(), spots, spot });
    }
    let own = own_gaps(kind, overlap);
    let task = Task {
        chords: zone.chords(STRAY * spot.mm()),
        bare_mm2: zone.area_mm2() * (own + own.min(BARE_MORE) + 1e-9),
        zone,
        bounds,
        kind,
        spot,
        pitch,
    };
    let (sure, others) = task.ways();
    let mut tried: Vec<Found> = sure.iter().map(|laid| task.reaching(*laid)).collect();
    if spots < TRY_ALL_BELOW {
        let mut others: Vec<Found> = others.iter().map(|laid| task.reaching(*laid)).collect();
        others.sort_by_key(|f| f.about);
        tried.extend(others.into_iter().take(OTHERS_TRIED));
    } else {
        tried.truncate(1);
    }
    let mut best: Option<Found> = None;
    for mut found in tried {
        // Spots inside are never left out.
        if best.as_ref().is_some_and(|b| b.pulses < found.pulses - found.outside.len()) {
            continue;
        }
        task.leave_out(&mut found);
        if best.as_ref().is_none_or(|b| found.cost() < b.cost()) {
            best = Some(found);
        }
    }
    match best {
        Some(found) if found.pulses <= SPOTS_MAX => Ok(task.lattice(found, turn)),
        _ => Err(LatticeError::TooManySpots { area_mm2: outline.area_mm2(), spots, spot }),
    }
}

impl Task {
    /// Ways of laying the lattice: those that end at the edges, or need one row; and others that may need less.
    fn ways(&self) -> (Vec<Laid>, Vec<Laid>) {
        let (width, height) = (self.bounds.width_mm(), self.bounds.height_mm());
        let radius = self.spot.mm() / 2.0;
        let row = self.kind.row_over_pitch() * self.pitch;
        let cell = Cell::new(self.kind, self.pitch, row);
        // Rows: the first and the last so near the edge that no gap opens there.
        let reach = (radius * radius - self.pitch * self.pitch / 4.0).max(0.0).sqrt().max(cell.side);
        let (row_fit, y_fit) = fitted(self.bounds.low.y_mm, height, reach, row);
        let middle = self.bounds.centre();
        let columns = match self.kind {
            LatticeKind::Square => {
                let reach = (radius * radius - row * row / 4.0).max(0.0).sqrt().max(self.pitch / 2.0);
                let (pitch, x) = fitted(self.bounds.low.x_mm, width, reach, self.pitch);
                vec![(pitch, x), (self.pitch, middle.x_mm), (self.pitch, middle.x_mm + self.pitch / 2.0)]
            }
            LatticeKind::Hexagonal => {
                // Every second row begins half a pitch further in; where the circles of two such rows cross lies the
                // deepest notch, and it must lie outside.
                let slant = (self.pitch * self.pitch / 4.0 + row * row).sqrt();
                let notch = (radius * radius - slant * slant / 4.0).max(0.0).sqrt() * row / slant - self.pitch / 4.0;
                let (half, x) = fitted(self.bounds.low.x_mm, width, notch.max(0.0), self.pitch / 2.0);
                let pitch = 2.0 * half;
                let free = [0.0, 0.25, 0.5, 0.75].map(|s| (self.pitch, middle.x_mm + s * self.pitch));
                [(pitch, x), (pitch, x + half)].into_iter().chain(free).collect()
            }
        };
        let rows = [(row_fit, y_fit), (row, middle.y_mm), (row, middle.y_mm + row / 2.0)];
        let mut ways = rows
            .iter()
            .flat_map(|&(row, y)| columns.iter().map(move |&(pitch, x)| Laid { pitch, row, first: Point::new(x, y) }));
        let fitted_columns = if self.kind == LatticeKind::Hexagonal { 2 } else { 1 };
        let mut sure: Vec<Laid> = ways.by_ref().take(fitted_columns).collect();
        let others = ways.collect();
        // A zone narrower than the spot may do with one row, if its spots lie close enough.
        if height < self.spot.mm() {
            let pitch = self.pitch.min((self.spot.mm() * self.spot.mm() - height * height).sqrt());
            if pitch >= CLOSEST * self.pitch {
                let (pitch, x) = fitted(self.bounds.low.x_mm, width, pitch / 2.0, pitch);
                sure.push(Laid { pitch, row: 2.0 * height + pitch, first: Point::new(x, middle.y_mm) });
            }
        }
        (sure, others)
    }

    /// The spots whose cells reach into the zone, by row from the top, each from the left.
    fn reaching(&self, laid: Laid) -> Found {
        let cell = Cell::new(self.kind, laid.pitch, laid.row);
        let deep = cell.beyond_neighbours(self.spot.mm() / 2.0).unwrap_or(DEEP);
        let (low, high) = (self.bounds.low, self.bounds.high);
        let first_row = ((low.y_mm - cell.top - laid.first.y_mm) / laid.row).ceil() as i64;
        let last_row = ((high.y_mm + cell.top - laid.first.y_mm) / laid.row).floor() as i64;
        let shift = |row: i64| match self.kind {
            LatticeKind::Hexagonal => (row.rem_euclid(2)) as f64 * laid.pitch / 2.0,
            LatticeKind::Square => 0.0,
        };
        let at = |row: i64, column: i64| {
            Point::new(
                laid.first.x_mm + shift(row) + column as f64 * laid.pitch,
                laid.first.y_mm + row as f64 * laid.row,
            )
        };
        let columns = |row: i64, from_mm: f64, to_mm: f64| {
            let zero = laid.first.x_mm + shift(row);
            (((from_mm - zero) / laid.pitch).ceil() as i64)..=(((to_mm - zero) / laid.pitch).floor() as i64)
        };
        let mut reached: Vec<(i64, i64, bool)> = Vec::new();
        // Cells that the edge crosses.
        for &[p, q] in &self.chords {
            let (bottom, top) = (p.y_mm.min(q.y_mm), p.y_mm.max(q.y_mm));
            let from = ((bottom - cell.top - laid.first.y_mm) / laid.row).ceil() as i64;
            let to = ((top + cell.top - laid.first.y_mm) / laid.row).floor() as i64;
            for row in from..=to {
                // Only the part of the chord that the row's cells can reach.
                let y = laid.first.y_mm + row as f64 * laid.row;
                let (left, right) = span_at(p, q, y - cell.top, y + cell.top);
                for column in columns(row, left - laid.pitch / 2.0, right + laid.pitch / 2.0) {
                    if cell.meets(at(row, column), [p, q], 1.0) {
                        reached.push((row, column, cell.meets(at(row, column), [p, q], deep)));
                    }
                }
            }
        }
        // Cells whose middle lies inside.
        for row in first_row..=last_row {
            for column in columns(row, low.x_mm, high.x_mm) {
                if self.zone.contains(at(row, column)) {
                    reached.push((row, column, true));
                }
            }
        }
        reached.sort_unstable_by_key(|&(row, column, deep)| (std::cmp::Reverse(row), column, !deep));
        reached.dedup_by_key(|&mut (row, column, _)| (row, column));
        let about = reached.iter().filter(|(.., deep)| *deep).count();
        let mut rows: Vec<Vec<Point>> = Vec::new();
        let mut last = None;
        for (row, column, _) in reached {
            if last != Some(row) {
                rows.push(Vec::new());
                last = Some(row);
            }
            if let Some(spots) = rows.last_mut() {
                spots.push(at(row, column));
            }
        }
        let outside: Vec<Point> = rows.iter().flatten().copied().filter(|p| !self.zone.contains(*p)).collect();
        Found { laid, pulses: rows.iter().map(Vec::len).sum(), rows, outside, about }
    }

    /// Leaves out spots outside that the zone can do without.
    fn leave_out(&self, found: &mut Found) {
        if found.outside.is_empty() || found.outside.len() > OUTSIDE_MOST {
            return;
        }
        let mut covered = Covered::of(&self.zone, self.spot, found.rows.iter().flatten().copied());
        let mut by_need: Vec<(f64, Point)> = found
            .outside
            .iter()
            .map(|&p| {
                let before = covered.areas().bare_mm2;
                covered.remove(p);
                let need = covered.areas().bare_mm2 - before;
                covered.add(p);
                (need, p)
            })
            .collect();
        by_need.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut left_out = Vec::new();
        for (need, p) in by_need {
            // What was not needed beside its neighbours may be once some of them are gone; never the other way round.
            if covered.areas().bare_mm2 + need > self.bare_mm2 {
                continue;
            }
            covered.remove(p);
            if covered.areas().bare_mm2 <= self.bare_mm2 {
                left_out.push(p);
            } else {
                covered.add(p);
            }
        }
        found.outside.retain(|p| !left_out.contains(p));
        for row in &mut found.rows {
            row.retain(|p| !left_out.contains(p));
        }
        found.rows.retain(|row| !row.is_empty());
        found.pulses -= left_out.len();
    }

    fn lattice(&self, found: Found, turn: f64) -> Lattice {
        let mut spots = Vec::with_capacity(found.pulses);
        let mut rows = Vec::with_capacity(found.rows.len());
        for (i, row) in found.rows.into_iter().enumerate() {
            rows.push(spots.len());
            let turned = row.into_iter().map(|p| p.turned_and_moved(turn, Point::ORIGIN));
            if i % 2 == 0 { spots.extend(turned) } else { spots.extend(turned.rev()) }
        }
        Lattice {
            kind: self.kind,
            spot: self.spot,
            pitch_mm: found.laid.pitch,
            row_pitch_mm: found.laid.row,
            turn_radians: turn,
            spots,
            rows,
        }
    }
}

/// Steps of at most `step` that run from `reach` inside one edge to `reach` inside the other; the step and the first.
fn fitted(low: f64, length: f64, reach: f64, step: f64) -> (f64, f64) {
    let run = length - 2.0 * reach;
    if run <= 0.0 {
        return (step, low + length / 2.0);
    }
    // A run of whole steps must not gain one by rounding.
    let steps = (run / step - 1e-9).ceil().max(1.0);
    let fit = (run / steps).max(CLOSEST * step);
    (fit, low + length / 2.0 - fit * steps / 2.0)
}

/// Smallest and largest x of the part of a line between two heights.
fn span_at(p: Point, q: Point, low: f64, high: f64) -> (f64, f64) {
    let rise = q.y_mm - p.y_mm;
    if rise == 0.0 {
        return (p.x_mm.min(q.x_mm), p.x_mm.max(q.x_mm));
    }
    let x_at = |y: f64| p.x_mm + ((y - p.y_mm) / rise).clamp(0.0, 1.0) * (q.x_mm - p.x_mm);
    let (a, b) = (x_at(low), x_at(high));
    (a.min(b), a.max(b))
}
