//! One pass over a zone: its lattice, what it leaves and spills, and what any other count would mean.

use super::overlap::EdgeEffect;
use super::{Disc, HitAreas, Lattice, LatticeKind, Outline, Place, even_pulses, hit_areas};
use crate::units::{Overlap, SpotDiameter};

/// An even pass over a zone.
#[derive(Debug, Clone, PartialEq)]
pub struct Pattern {
    outline: Outline,
    spot: SpotDiameter,
    overlap: Overlap,
    lattice: Option<Lattice>,
    areas: HitAreas,
    pulses: u64,
    outside: u64,
    edge: EdgeEffect,
}

impl Pattern {
    /// The hexagonal pass of a zone. A zone that would take more than a million pulses gets their number without the
    /// edge, and no lattice.
    #[must_use]
    pub fn of(outline: Outline, spot: SpotDiameter, overlap: Overlap) -> Self {
        let lattice = Lattice::fit(&outline, LatticeKind::Hexagonal, spot, overlap).ok();
        let radius_mm = spot.mm() / 2.0;
        let spots = lattice.as_ref().map(Lattice::spots).unwrap_or_default();
        let discs: Vec<Disc> = spots.iter().map(|&centre| Disc { centre, radius_mm }).collect();
        let areas = hit_areas(&outline, &discs);
        let outside = spots.iter().filter(|p| !outline.contains(**p)).count() as u64;
        let area_mm2 = outline.area_mm2();
        let pulses =
            lattice.as_ref().map_or(even_pulses(area_mm2, spot, overlap).ceil() as u64, Lattice::pulses).max(1);
        let pitch_mm = spot.mm() * (1.0 - overlap.percent() / 100.0);
        let edge = EdgeEffect::of(area_mm2, pulses, pitch_mm);
        Self { outline, spot, overlap, lattice, areas, pulses, outside, edge }
    }

    /// The zone.
    #[must_use]
    pub const fn outline(&self) -> &Outline {
        &self.outline
    }

    /// The spot.
    #[must_use]
    pub const fn spot(&self) -> SpotDiameter {
        self.spot
    }

    /// The planned overlap.
    #[must_use]
    pub const fn overlap(&self) -> Overlap {
        self.overlap
    }

    /// Its lattice, unless that would be too large.
    #[must_use]
    pub const fn lattice(&self) -> Option<&Lattice> {
        self.lattice.as_ref()
    }

    /// What the whole pass leaves and covers; all bare without a lattice.
    #[must_use]
    pub const fn areas(&self) -> &HitAreas {
        &self.areas
    }

    /// Pulses of the pass; at least one.
    #[must_use]
    pub const fn pulses(&self) -> u64 {
        self.pulses
    }

    /// Of them, those whose middle lies outside the zone: more than half of their light falls on plain skin.
    #[must_use]
    pub const fn outside(&self) -> u64 {
        self.outside
    }

    /// Share of the light that falls within the zone; 1 without a lattice.
    #[must_use]
    pub fn share_in_zone(&self) -> f64 {
        if self.lattice.is_none() {
            return 1.0;
        }
        self.areas.landed_mm2 / (self.pulses as f64 * self.spot.area_mm2())
    }

    /// Linear overlap, in per cent, of an even pass with this many pulses, the edge reckoned in: the planned count has
    /// the planned overlap. Below zero while the spots do not touch; none before the first pulse.
    #[must_use]
    pub fn implied_overlap_percent(&self, pulses: u64) -> Option<f64> {
        (pulses > 0).then(|| 100.0 * (1.0 - self.edge.pitch_mm(pulses) / self.spot.mm()))
    }

    /// Pulses that fall on a place in the zone, on average, when this many are fired evenly.
    #[must_use]
    pub fn mean_pulses_per_point(&self, pulses: u64) -> f64 {
        pulses as f64 * self.share_in_zone() * self.spot.area_mm2() / self.outline.area_mm2()
    }

    /// Where the hand is after a number of pulses.
    #[must_use]
    pub fn place(&self, fired: u64) -> Option<Place> {
        self.lattice.as_ref().map(|l| l.place(fired))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn spot(mm: f64) -> SpotDiameter {
        SpotDiameter::new(mm).unwrap()
    }
    fn overlap(percent: f64) -> Overlap {
        Overlap::new(percent).unwrap()
    }

    #[test]
    fn the_planned_count_has_the_planned_overlap() {
        let p = Pattern::of(Outline::ellipse(58.0, 44.0), spot(4.0), overlap(10.0));
        let implied = p.implied_overlap_percent(p.pulses()).unwrap();
        assert!((implied - 10.0).abs() < 1e-9);
        assert!(p.implied_overlap_percent(0).is_none());
        assert!(p.implied_overlap_percent(3).unwrap() < 0.0);
    }

    /// The closed formula against lattices laid anew for other overlaps; without the edge it would be several points off.
    #[test]
    fn the_implied_overlap_agrees_with_lattices_of_that_count() {
        let (mut off, mut without_edge) = (0.0f64, 0.0f64);
        for outline in [Outline::rectangle(40.0, 25.0), Outline::ellipse(58.0, 44.0), Outline::stroke(62.0, 14.0)] {
            let plan = Pattern::of(outline.clone(), spot(3.0), overlap(10.0));
            for o in [2.0, 6.0, 12.0, 16.0, 22.0, 30.0] {
                let n = Pattern::of(outline.clone(), spot(3.0), overlap(o)).pulses();
                let implied = plan.implied_overlap_percent(n).unwrap();
                off = off.max((implied - o).abs());
                let even = 100.0 * (1.0 - (outline.area_mm2() / (0.866_025_4 * n as f64)).sqrt() / 3.0);
                without_edge = without_edge.max((even - o).abs());
            }
        }
        assert!(off < 4.0 && off < without_edge, "{off} with the edge, {without_edge} without");
    }

    #[test]
    fn a_huge_zone_is_counted_without_a_lattice() {
        let p = Pattern::of(Outline::rectangle(2000.0, 2000.0), spot(1.0), overlap(50.0));
        assert!(p.lattice().is_none() && p.pulses() > 18_000_000);
        assert!((p.share_in_zone() - 1.0).abs() < 1e-12);
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, cases: 40, ..ProptestConfig::default() })]
        #[test]
        fn more_pulses_never_mean_less_overlap(
            w in 2.0f64..60.0, h in 2.0f64..60.0, d in 1.0f64..8.0, o in 0.0f64..40.0, n in 1u64..5000,
        ) {
            let p = Pattern::of(Outline::rectangle(w, h), spot(d), overlap(o));
            prop_assert!(p.implied_overlap_percent(n + 1) > p.implied_overlap_percent(n));
            prop_assert!(p.mean_pulses_per_point(n + 1) > p.mean_pulses_per_point(n));
        }
    }
}
