//! Dose maps: how much light each place of a zone received, in pulses' worth.

use super::{Outline, Point};
use crate::units::SpotDiameter;
use crate::words::BeamProfile;

/// Cells of a map at most; a larger zone gets a coarser one.
const CELLS_MAX: f64 = 2e6;

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
    /// The map of a zone under pulses.
    #[must_use]
    pub fn of(outline: &Outline, spots: &[Point], spot: SpotDiameter, profile: BeamProfile) -> Self {
        let bounds = outline.bounds();
        let (width, height) = (bounds.width_mm(), bounds.height_mm());
        let fine = spot.mm() / STEPS_PER_SPOT;
        let mut step = fine.max((width * height / CELLS_MAX).sqrt());
        loop {
            let map = Self::with_step(outline, spots, spot, profile, step);
            // A sliver may slip between the middles of all cells.
            if !map.doses.is_empty() || step < fine / 64.0 {
                return map;
            }
            step /= 4.0;
        }
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
        let reach = match profile {
            BeamProfile::Flat => radius,
            BeamProfile::Gaussian => GAUSSIAN_REACH * radius,
        };
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
                    let r2 = (dx * dx + dy * dy) / (radius * radius);
                    *cell += match profile {
                        BeamProfile::Flat => f32::from(u8::from(r2 < 1.0)),
                        BeamProfile::Gaussian => 2.0 * (-2.0 * r2).exp() as f32,
                    };
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
}
