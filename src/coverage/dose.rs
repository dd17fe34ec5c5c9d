//! Dose maps: how much light each place of a zone received, in pulses' worth.

use super::{Outline, Point};
use crate::units::SpotDiameter;
use crate::words::BeamProfile;

/// Cells of a map at most; a larger zone gets a coarser one.
const CELLS_MAX: f64 = 2e6;

/// Cells along the edge of a zone that is narrower than a cell, beside one for each of its pieces.
const EDGE_CELLS_MAX: f64 = 2000.0;

/// Steps of a map across one spot; no whole number, so that pitch and step do not fall together.
const STEPS_PER_SPOT: f64 = 41.3;

/// A Gaussian beam is followed to where less than a millionth of its peak is left: `exp(-2 x^2) = 1e-6`, x in radii.
const GAUSSIAN_REACH: f64 = 2.628_260_3;

/// The dose at the middles of a square grid's cells, of those that lie in the zone, in multiples of the nominal fluence:
/// one pulse's energy over the area of its spot. A flat-top pulse gives 1 within its spot; a Gaussian pulse, whose spot
/// is its 1/e2 diameter, gives `2 exp(-2 r^2 / w^2)`.
///
/// Sums over the grid stand for integrals over the zone: their error falls with the step. The peak is the largest of the
/// cells' middles.
#[derive(Debug, Clone, PartialEq)]
pub struct DoseMap {
    /// Sorted, lowest first.
    doses: Vec<f32>,
    step_mm: f64,
}

impl DoseMap {
    /// The map of a zone under pulses. A zone narrower than the finest cell is looked at along its edge: the dose hardly
    /// changes across it, and it might slip between the middles of all cells. Without an edge there is one cell, and no
    /// dose.
    #[must_use]
    pub fn of(outline: &Outline, spots: &[Point], spot: SpotDiameter, profile: BeamProfile) -> Self {
        let bounds = outline.bounds();
        let (width, height) = (bounds.width_mm(), bounds.height_mm());
        let fine = spot.mm() / STEPS_PER_SPOT;
        // The mean width of a long zone is its area over half its perimeter.
        let narrow = 2.0 * outline.area_mm2() < fine * outline.perimeter_mm();
        if width.is_finite() && height.is_finite() && !narrow {
            // Coarse enough for the area, and for a rectangle so flat that it has one row; whole cells are a few more.
            let mut step = fine.max((width * height / CELLS_MAX).sqrt()).max(width.max(height) / CELLS_MAX);
            while (width / step).ceil() * (height / step).ceil() > CELLS_MAX {
                step *= 1.01;
            }
            let map = Self::with_step(outline, spots, spot, profile, step);
            if !map.doses.is_empty() {
                return map;
            }
        }
        Self::along_the_edge(outline, spots, spot, profile, fine)
    }

    fn along_the_edge(outline: &Outline, spots: &[Point], spot: SpotDiameter, profile: BeamProfile, step: f64) -> Self {
        let step = step.max(outline.perimeter_mm() / EDGE_CELLS_MAX);
        let mut doses = Vec::new();
        for piece in outline.pieces() {
            // A cast of what is no number gives none.
            let parts = (piece.length_mm() / step).ceil().max(1.0);
            for i in 0..parts as u32 {
                let at = piece.at((f64::from(i) + 0.5) / parts);
                doses.push(spots.iter().map(|p| dose(profile, p.distance_squared(at), spot)).sum());
            }
        }
        if doses.is_empty() {
            doses.push(0.0);
        }
        doses.sort_unstable_by(f32::total_cmp);
        Self { doses, step_mm: step }
    }

    fn with_step(outline: &Outline, spots: &[Point], spot: SpotDiameter, profile: BeamProfile, step: f64) -> Self {
        let bounds = outline.bounds();
        let columns = (bounds.width_mm() / step).ceil().max(1.0) as usize;
        let rows = (bounds.height_mm() / step).ceil().max(1.0) as usize;
        // The grid lies in the middle of the zone, so that turning the zone by half a turn changes nothing.
        let centre = bounds.centre();
        let first = Point::new(
            centre.x_mm - step * (columns as f64 - 1.0) / 2.0,
            centre.y_mm - step * (rows as f64 - 1.0) / 2.0,
        );
        let radius = spot.mm() / 2.0;
        let reach = reach_in_radii(profile) * radius;
        let mut grid = vec![0.0_f32; columns * rows];
        let range = |from: f64, count: usize| {
            let low = ((from - reach) / step).ceil().max(0.0) as usize;
            let high = ((from + reach) / step).floor();
            low..(if high < 0.0 { 0 } else { (high as usize + 1).min(count) })
        };
        for p in spots.iter().filter(|p| p.is_finite()) {
            let (x, y) = (p.x_mm - first.x_mm, p.y_mm - first.y_mm);
            let across = range(x, columns);
            for row in range(y, rows) {
                let dy = row as f64 * step - y;
                let Some(cells) = grid.get_mut(row * columns..(row + 1) * columns) else { continue };
                for (column, cell) in cells.iter_mut().enumerate().take(across.end).skip(across.start) {
                    let dx = column as f64 * step - x;
                    *cell += dose(profile, dx * dx + dy * dy, spot);
                }
            }
        }
        let mut doses: Vec<f32> = grid
            .into_iter()
            .enumerate()
            .filter(|(i, _)| {
                let (row, column) = (i / columns, i % columns);
                outline.contains(Point::new(first.x_mm + column as f64 * step, first.y_mm + row as f64 * step))
            })
            .map(|(_, dose)| dose)
            .collect();
        doses.sort_unstable_by(f32::total_cmp);
        Self { doses, step_mm: step }
    }

    /// Distance of two middles, mm.
    #[must_use]
    pub const fn step_mm(&self) -> f64 {
        self.step_mm
    }

    /// Mean dose.
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.doses.iter().copied().map(f64::from).sum::<f64>() / self.doses.len().max(1) as f64
    }

    /// The dose that half of the zone stays below.
    #[must_use]
    pub fn median(&self) -> f64 {
        self.percentile(50.0)
    }

    /// The dose that 95 % of the zone stay below.
    #[must_use]
    pub fn p95(&self) -> f64 {
        self.percentile(95.0)
    }

    /// Largest dose.
    #[must_use]
    pub fn peak(&self) -> f64 {
        self.doses.last().copied().map_or(0.0, f64::from)
    }

    /// Share of the zone with more than `k` times the nominal fluence, 0 to 1.
    #[must_use]
    pub fn share_above(&self, k: f64) -> f64 {
        let below = self.doses.partition_point(|&d| f64::from(d) <= k);
        (self.doses.len() - below) as f64 / self.doses.len().max(1) as f64
    }

    /// The smallest dose that a per cent of the cells does not exceed, by nearest rank.
    fn percentile(&self, percent: f64) -> f64 {
        let rank = (self.doses.len() as f64 * percent / 100.0).ceil().max(1.0) as usize;
        self.doses.get(rank - 1).copied().map_or(0.0, f64::from)
    }
}

/// How far a pulse is followed, in radii of its spot.
const fn reach_in_radii(profile: BeamProfile) -> f64 {
    match profile {
        BeamProfile::Flat => 1.0,
        BeamProfile::Gaussian => GAUSSIAN_REACH,
    }
}

/// Dose of one pulse at the square of a distance, mm2, from its middle.
fn dose(profile: BeamProfile, distance2: f64, spot: SpotDiameter) -> f32 {
    let r2 = 4.0 * distance2 / (spot.mm() * spot.mm());
    let reached = r2 < reach_in_radii(profile) * reach_in_radii(profile);
    match profile {
        BeamProfile::Flat => f32::from(u8::from(reached)),
        BeamProfile::Gaussian if reached => 2.0 * (-2.0 * r2).exp() as f32,
        BeamProfile::Gaussian => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Disc, hit_areas};
    use super::*;

    fn spot(mm: f64) -> SpotDiameter {
        SpotDiameter::new(mm).unwrap()
    }

    /// Facts of the trade, section 9: the peak of a Gaussian is twice the flat-top value of the same diameter; midway
    /// between two at pitch p the sum is `2 exp(-p^2 / 2w^2)` of the peak; share within the 1/e2 diameter 0.864664717.
    #[test]
    fn a_gaussian_pulse_has_its_peak_its_valley_and_its_energy() {
        let (w, p) = (2.0_f64, 3.6_f64);
        let tiny = Outline::rectangle(0.02, 0.02);
        let at = |x: f64| tiny.turned_and_moved(0.0, Point::new(x, 0.0));
        let one = [Point::ORIGIN];
        let map = DoseMap::of(&at(0.0), &one, spot(4.0), BeamProfile::Gaussian);
        assert!((map.peak() - 2.0).abs() < 1e-3);
        let two = [Point::ORIGIN, Point::new(p, 0.0)];
        let midway = DoseMap::of(&at(p / 2.0), &two, spot(4.0), BeamProfile::Gaussian);
        assert!((midway.mean() / 2.0 - 2.0 * (-p * p / (2.0 * w * w)).exp()).abs() < 1e-3);
        let disc = Outline::ellipse(4.0, 4.0);
        let inside = DoseMap::of(&disc, &one, spot(4.0), BeamProfile::Gaussian);
        assert!((inside.mean() - 0.864_664_717).abs() < 6e-3, "{}", inside.mean());
        // All of the energy: the sum over the cells is the area of one spot.
        let wide = Outline::rectangle(20.0, 20.0);
        let all = DoseMap::of(&wide, &one, spot(4.0), BeamProfile::Gaussian);
        let cells_mm2 = all.doses.len() as f64 * all.step_mm() * all.step_mm();
        assert!((all.mean() * cells_mm2 / (std::f64::consts::PI * 4.0) - 1.0).abs() < 1e-5);
    }

    #[test]
    fn flat_shares_tend_to_the_exact_areas() {
        let zone = Outline::ellipse(30.0, 20.0);
        let spots: Vec<Point> =
            (0..60).map(|i| Point::new(f64::from(i % 10) * 2.9 - 13.0, f64::from(i / 10) * 3.1 - 8.0)).collect();
        let discs: Vec<Disc> = spots.iter().map(|&centre| Disc { centre, radius_mm: 2.0 }).collect();
        let exact = hit_areas(&zone, &discs);
        let map = DoseMap::of(&zone, &spots, spot(4.0), BeamProfile::Flat);
        assert!((map.share_above(0.5) - 1.0 + exact.bare_mm2 / exact.area_mm2).abs() < 6e-3);
        let twice_up = exact.twice_mm2 + exact.thrice_or_more_mm2;
        assert!((map.share_above(1.5) - twice_up / exact.area_mm2).abs() < 6e-3);
        assert!((map.mean() - exact.landed_mm2 / exact.area_mm2).abs() < 6e-3);
        let finer = DoseMap::with_step(&zone, &spots, spot(4.0), BeamProfile::Flat, map.step_mm() / 4.0);
        assert!((finer.mean() - exact.landed_mm2 / exact.area_mm2).abs() < 1.5e-3);
        assert!((finer.median() - 1.0).abs() < 1e-6 && finer.peak() >= finer.p95() && finer.p95() >= 2.0);
    }

    #[test]
    fn nothing_fired_and_slivers_have_maps_too() {
        let none = DoseMap::of(&Outline::rectangle(10.0, 10.0), &[], spot(4.0), BeamProfile::Flat);
        assert!(none.peak().abs() < 1e-12 && none.median().abs() < 1e-12 && none.share_above(0.0).abs() < 1e-12);
        let sliver = [(0.0, 0.0), (300.0, 0.2), (0.0, 0.1)].map(|(x, y)| Point::new(x, y)).to_vec();
        let map = DoseMap::of(&Outline::rings(&[sliver]), &[Point::new(1.0, 0.0)], spot(1.0), BeamProfile::Flat);
        assert!(map.peak() > 0.9 && map.mean() < 0.1);
        let huge = DoseMap::of(&Outline::rectangle(2000.0, 2000.0), &[Point::ORIGIN], spot(1.0), BeamProfile::Flat);
        assert!(huge.step_mm() > 1.0);
    }

    /// Encircled energy of a Gaussian, `1 - exp(-2 r^2 / w^2)`: facts of physics, section 9.
    #[test]
    fn circles_around_a_gaussian_hold_the_textbook_shares() {
        let rings = [(0.5, 0.393_469_340), (0.5f64.sqrt(), 0.632_120_559), (1.5, 0.988_891_003), (2.0, 0.999_664_537)];
        for (r, share) in rings {
            let zone = Outline::ellipse(4.0 * r, 4.0 * r);
            let off = [0.08, 0.01].map(|step| {
                let map = DoseMap::with_step(&zone, &[Point::ORIGIN], spot(4.0), BeamProfile::Gaussian, step);
                (map.mean() * r * r - share).abs()
            });
            assert!(off[0] < 2e-2 && off[1] < 1e-3, "{r} w: {off:?}");
        }
    }

    /// A zone with hardly any area, or none, is still hit by a pulse upon it.
    #[test]
    fn what_is_thinner_than_a_cell_gets_its_dose() {
        let turned = |zone: Outline| zone.turned_and_moved(0.7, Point::new(3.0, -8.0));
        for profile in [BeamProfile::Flat, BeamProfile::Gaussian] {
            let peak = if profile == BeamProfile::Flat { 1.0 } else { 2.0 };
            for zone in [
                Outline::rectangle(0.0, 0.0),
                Outline::rectangle(0.0, 5.0),
                Outline::rectangle(1e-9, 1e-9),
                turned(Outline::stroke(300.0, 1e-4)),
                turned(Outline::stroke(300.0, 1e-7)),
                Outline::rings(&[vec![Point::new(3.0, 3.0)]]),
            ] {
                let middle = zone.bounds().centre();
                let map = DoseMap::of(&zone, &[middle], spot(1.0), profile);
                assert!(map.peak() > peak * 0.6, "{profile}: {} of {:?}", map.peak(), zone.bounds());
                assert!(map.doses.len() < 10_000);
            }
        }
        // Twenty of three hundred millimetres lie under the spot.
        let line = turned(Outline::stroke(300.0, 1e-4));
        let map = DoseMap::of(&line, &[line.bounds().centre()], spot(20.0), BeamProfile::Flat);
        assert!((map.mean() - 20.0 / 300.0).abs() < 2e-3, "{}", map.mean());
        let nothing = DoseMap::of(&Outline::rings(&[]), &[Point::ORIGIN], spot(2.0), BeamProfile::Flat);
        assert!(nothing.mean().abs() < 1e-12 && nothing.doses.len() == 1);
        let long = DoseMap::of(&Outline::rectangle(1e6, 1.0), &[Point::ORIGIN], spot(2.0), BeamProfile::Flat);
        assert!(long.doses.len() as f64 <= CELLS_MAX);
    }
}
