//! What a pass has covered if its rows were followed, kept pulse by pulse while the map shows it.

use crate::coverage::{Covered, Pattern};
use crate::plan::Zone;
use crate::session::{PassState, ZoneState};
use crate::units::SpotDiameter;
use std::cell::RefCell;
use std::sync::Arc;

/// A pass as the map shows it.
pub(super) struct ShownPass {
    /// Its number.
    pub number: u8,
    /// The even pass that it follows.
    pub pattern: Arc<Pattern>,
    /// Pulses fired, counted as one spot.
    pub fired: u64,
    /// How it stands, in words.
    pub state: &'static str,
    /// True when the next pulse belongs to it.
    pub goes_on: bool,
}

impl ShownPass {
    /// The running pass; between passes the last one, so that what was done stays in sight; before the first an empty
    /// one.
    pub fn of(plan: &Zone, z: &ZoneState, running: bool) -> Self {
        let Some(pass) = z.passes.last() else {
            return Self { number: 1, pattern: z.pattern(plan), fired: 0, state: "not started", goes_on: true };
        };
        let spot = if running { z.target.spot } else { last_spot(z, pass) };
        Self {
            number: pass.number,
            pattern: z.pattern_of(plan, spot),
            fired: z.counted_as(plan, pass, spot),
            state: if running { "running" } else { "ended" },
            goes_on: running,
        }
    }
}

fn last_spot(z: &ZoneState, pass: &PassState) -> SpotDiameter {
    pass.settings.last().map_or(z.target.spot, |(s, _)| s.spot)
}

/// What was covered, for the pass that was asked about last. A pulse more or less costs microseconds; another pass is
/// reckoned anew.
#[derive(Default)]
pub(super) struct RowByRow(RefCell<Option<Followed>>);

struct Followed {
    pattern: Arc<Pattern>,
    fired: u64,
    covered: Covered,
}

/// Rather than so many pulses one by one, all are reckoned anew.
const FEW: u64 = 200;

/// Rounds beyond which nothing said here changes: every place is hit three times or more, or never.
const ROUNDS: u64 = 3;

/// What was covered, for words.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Shares {
    /// Share of the zone hit at least once, per cent with one decimal.
    pub covered_percent: f64,
    /// Share hit twice or more.
    pub twice_percent: f64,
    /// Share hit by none; with the first it makes 100.
    pub bare_percent: f64,
}

impl RowByRow {
    /// The shares of the zone after so many pulses; none when the pass has no lattice.
    pub fn shares(&self, pattern: &Arc<Pattern>, fired: u64) -> Option<Shares> {
        let spots = pattern.lattice()?.spots();
        let fired = fired.min(pattern.pulses().saturating_mul(ROUNDS));
        let spot_of = |n: u64| spots.get((n % spots.len().max(1) as u64) as usize).copied();
        let mut held = self.0.borrow_mut();
        let fits = |f: &&mut Followed| *f.pattern == **pattern && f.fired.abs_diff(fired) <= FEW;
        let areas = match held.as_mut().filter(fits) {
            Some(f) => {
                (f.fired..fired).filter_map(spot_of).for_each(|at| f.covered.add(at));
                for at in (fired..f.fired).filter_map(spot_of) {
                    f.covered.remove(at);
                }
                f.fired = fired;
                f.covered.areas()
            }
            None => {
                let covered = Covered::of(pattern.outline(), pattern.spot(), (0..fired).filter_map(spot_of));
                let areas = covered.areas();
                *held = Some(Followed { pattern: Arc::clone(pattern), fired, covered });
                areas
            }
        };
        let bare_percent = tenths(areas.bare_mm2 / areas.area_mm2);
        Some(Shares {
            covered_percent: 100.0 - bare_percent,
            twice_percent: tenths((areas.twice_mm2 + areas.thrice_or_more_mm2) / areas.area_mm2),
            bare_percent,
        })
    }
}

/// Per cent with one decimal; neither 0 nor 100 unless it is that.
fn tenths(share: f64) -> f64 {
    const NOTHING: f64 = 1e-9;
    let tenths = match share {
        s if s <= NOTHING => 0.0,
        s if s >= 1.0 - NOTHING => 1000.0,
        s => (s * 1000.0).round().clamp(1.0, 999.0),
    };
    tenths / 10.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coverage::{Disc, Outline, hit_areas};
    use crate::units::Overlap;

    fn pattern() -> Arc<Pattern> {
        let (spot, overlap) = (SpotDiameter::new(4.0).unwrap(), Overlap::new(10.0).unwrap());
        Arc::new(Pattern::of(Outline::ellipse(58.0, 44.0), spot, overlap))
    }

    fn anew(pattern: &Pattern, fired: u64) -> [f64; 3] {
        let spots = pattern.lattice().unwrap().spots();
        let discs: Vec<Disc> =
            spots.iter().cycle().take(fired as usize).map(|&c| Disc { centre: c, radius_mm: 2.0 }).collect();
        let a = hit_areas(pattern.outline(), &discs);
        let p = |mm2: f64| 100.0 * mm2 / a.area_mm2;
        [p(a.area_mm2 - a.bare_mm2), p(a.twice_mm2 + a.thrice_or_more_mm2), p(a.bare_mm2)]
    }

    #[test]
    fn pulse_by_pulse_and_back_it_agrees_with_all_at_once() {
        let (p, kept) = (pattern(), RowByRow::default());
        let n = p.pulses();
        for fired in [0, 1, 2, 40, 39, 41, n - 1, n, n + 5, n - 3, 10, 0] {
            let s = kept.shares(&p, fired).unwrap();
            for (got, want) in [s.covered_percent, s.twice_percent, s.bare_percent].into_iter().zip(anew(&p, fired)) {
                assert!((got - want).abs() <= 0.1 + 1e-9, "after {fired}: {got} {want}");
            }
            assert!((s.covered_percent + s.bare_percent - 100.0).abs() < 1e-9);
        }
    }

    #[test]
    fn a_little_is_never_called_nothing() {
        let words = |share: f64| crate::units::trimmed(tenths(share), 1);
        assert_eq!([0.0, 1e-6, 0.0316, 0.999_99, 1.0].map(words), ["0", "0.1", "3.2", "99.9", "100"]);
    }

    #[test]
    fn any_count_is_answered_in_time() {
        let (p, kept) = (pattern(), RowByRow::default());
        let s = kept.shares(&p, u64::MAX).unwrap();
        assert!(s.covered_percent > 97.0);
    }

    #[test]
    fn another_spot_is_another_pass() {
        let kept = RowByRow::default();
        let p = pattern();
        let other = Arc::new(Pattern::of(Outline::ellipse(58.0, 44.0), SpotDiameter::new(2.0).unwrap(), p.overlap()));
        let first = kept.shares(&p, 30).unwrap();
        let second = kept.shares(&other, 30).unwrap();
        assert!(second.covered_percent < first.covered_percent / 2.0);
        assert_eq!(kept.shares(&p, 30).unwrap(), first);
    }
}
