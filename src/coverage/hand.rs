//! The unsteady hand: what a pass covers when spots land beside their places, or not at all, or twice.

use super::{Disc, HitAreas, Outline, Point, hit_areas};
use crate::units::SpotDiameter;
use rand_pcg::Pcg64;
use rand_pcg::rand_core::{Rng, SeedableRng};
use std::f64::consts::TAU;

/// Passes that are tried at most.
pub const RUNS_MAX: u32 = 100_000;

/// A hand's habits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hand {
    jitter_mm: f64,
    miss: f64,
    double: f64,
}

/// Why a hand cannot be.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum HandError {
    /// The jitter is out of range.
    #[error("jitter of {0} mm: from 0 to 50 mm")]
    Jitter(f64),
    /// A probability is out of range.
    #[error("{what} of {given}: a probability, from 0 to 1")]
    Probability {
        /// Which.
        what: &'static str,
        /// What was given.
        given: f64,
    },
    /// Both together exceed one.
    #[error("miss {miss} and double {double} exceed 1 together")]
    Together {
        /// Probability of missing a place.
        miss: f64,
        /// Probability of firing twice.
        double: f64,
    },
}

impl Hand {
    /// A hand whose pulses land off their places by a normal deviate of standard deviation `jitter_mm` along each axis,
    /// 0 to 50 mm; that misses a place with probability `miss` and fires twice with probability `double`.
    ///
    /// # Errors
    /// [`HandError`] names what is out of range.
    pub fn new(jitter_mm: f64, miss: f64, double: f64) -> Result<Self, HandError> {
        if !(0.0..=50.0).contains(&jitter_mm) {
            return Err(HandError::Jitter(jitter_mm));
        }
        for (what, given) in [("miss", miss), ("double", double)] {
            if !(0.0..=1.0).contains(&given) {
                return Err(HandError::Probability { what, given });
            }
        }
        if miss + double > 1.0 {
            return Err(HandError::Together { miss, double });
        }
        Ok(Self { jitter_mm, miss, double })
    }

    /// Where the pulses of one pass land. The same seed and run give the same places, whatever was run before.
    #[must_use]
    pub fn fire(&self, spots: &[Point], seed: u64, run: u32) -> Vec<Point> {
        let mut rng = generator(seed, run);
        let mut landed = Vec::with_capacity(spots.len());
        for p in spots {
            let luck = unit(&mut rng);
            let shots = if luck < self.miss {
                0
            } else if luck < self.miss + self.double {
                2
            } else {
                1
            };
            for _ in 0..shots {
                // Box and Muller 1958.
                let (radius, angle) = ((-2.0 * (1.0 - unit(&mut rng)).ln()).sqrt(), TAU * unit(&mut rng));
                let off = self.jitter_mm * radius;
                landed.push(Point::new(p.x_mm + off * angle.cos(), p.y_mm + off * angle.sin()));
            }
        }
        landed
    }
}

/// A stream of its own for each run, and a start of its own: streams with one start resemble each other (the generator's
/// documentation warns of it), and runs that do would make the standard error too small or too large.
fn generator(seed: u64, run: u32) -> Pcg64 {
    let start = Pcg64::seed_from_u64(seed).next_u64() ^ u64::from(run);
    let start = Pcg64::seed_from_u64(start).next_u64();
    Pcg64::new((u128::from(start) << 64) | u128::from(seed), u128::from(run))
}

/// Evenly from 0 to 1, 1 left out.
fn unit(rng: &mut Pcg64) -> f64 {
    (rng.next_u64() >> 11) as f64 / (1u64 << 53) as f64
}

/// A mean over runs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mean {
    /// The mean, mm2.
    pub mm2: f64,
    /// Its standard error, mm2; 0 for a single run.
    pub standard_error_mm2: f64,
}

/// What a hand's pass is expected to cover.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    /// Runs done.
    pub runs: u32,
    /// Pulses of a pass, on average.
    pub pulses: f64,
    /// Hit by none.
    pub bare: Mean,
    /// Hit by exactly one.
    pub once: Mean,
    /// Hit by exactly two.
    pub twice: Mean,
    /// Hit by three or more.
    pub thrice_or_more: Mean,
}

/// Tries a pass `runs` times (at most [`RUNS_MAX`]), each with exact areas. `go_on` is asked after each run with the
/// number done; when it says no, what is done is told. None without a single run.
#[must_use]
pub fn expected(
    outline: &Outline,
    spots: &[Point],
    spot: SpotDiameter,
    hand: &Hand,
    (runs, seed): (u32, u64),
    go_on: &mut dyn FnMut(u32) -> bool,
) -> Option<Expected> {
    const PARTS: [fn(&HitAreas) -> f64; 4] =
        [|a| a.bare_mm2, |a| a.once_mm2, |a| a.twice_mm2, |a| a.thrice_or_more_mm2];
    // Mean and sum of squared deviations (Welford 1962).
    let mut sums = [(0.0_f64, 0.0_f64); 4];
    let (mut done, mut pulses) = (0_u32, 0_usize);
    for run in 0..runs.min(RUNS_MAX) {
        let landed = hand.fire(spots, seed, run);
        pulses += landed.len();
        let discs: Vec<Disc> = landed.into_iter().map(|centre| Disc { centre, radius_mm: spot.mm() / 2.0 }).collect();
        let areas = hit_areas(outline, &discs);
        done += 1;
        for ((mean, squares), part) in sums.iter_mut().zip(PARTS) {
            let off = part(&areas) - *mean;
            *mean += off / f64::from(done);
            *squares += off * (part(&areas) - *mean);
        }
        if !go_on(done) {
            break;
        }
    }
    let n = f64::from(done);
    let mean = |(mm2, squares): (f64, f64)| Mean {
        mm2,
        standard_error_mm2: if done > 1 { (squares.max(0.0) / (n * (n - 1.0))).sqrt() } else { 0.0 },
    };
    let [bare, once, twice, thrice_or_more] = sums.map(mean);
    (done > 0).then(|| Expected { runs: done, pulses: pulses as f64 / n, bare, once, twice, thrice_or_more })
}

#[cfg(test)]
mod tests {
    use super::super::{Lattice, LatticeKind, random_bare_share};
    use super::*;
    use crate::units::Overlap;

    fn spot(mm: f64) -> SpotDiameter {
        SpotDiameter::new(mm).unwrap()
    }

    fn lattice(zone: &Outline) -> Vec<Point> {
        let overlap = Overlap::new(10.0).unwrap();
        Lattice::fit(zone, LatticeKind::Hexagonal, spot(4.0), overlap).unwrap().spots().to_vec()
    }

    fn tried(zone: &Outline, hand: (f64, f64, f64), runs: u32, seed: u64) -> Expected {
        let hand = Hand::new(hand.0, hand.1, hand.2).unwrap();
        expected(zone, &lattice(zone), spot(4.0), &hand, (runs, seed), &mut |_| true).unwrap()
    }

    #[test]
    fn a_steady_hand_covers_what_the_lattice_covers() {
        let zone = Outline::ellipse(30.0, 20.0);
        let e = tried(&zone, (0.0, 0.0, 0.0), 5, 1);
        let discs: Vec<Disc> = lattice(&zone).into_iter().map(|centre| Disc { centre, radius_mm: 2.0 }).collect();
        let exact = hit_areas(&zone, &discs);
        assert!((e.bare.mm2 - exact.bare_mm2).abs() < 1e-9 && e.bare.standard_error_mm2 < 1e-9);
        assert!((e.twice.mm2 - exact.twice_mm2).abs() < 1e-9);
        let none = tried(&zone, (0.3, 1.0, 0.0), 3, 1);
        assert!((none.bare.mm2 - exact.area_mm2).abs() < 1e-9 && none.pulses < 1e-9);
        let twice = tried(&zone, (0.0, 0.0, 1.0), 2, 1);
        assert!(twice.once.mm2 < 1e-9 && (twice.pulses - 2.0 * discs.len() as f64).abs() < 1e-9);
    }

    #[test]
    fn the_same_seed_gives_the_same_and_another_one_not() {
        let zone = Outline::rectangle(20.0, 15.0);
        let a = tried(&zone, (0.5, 0.05, 0.05), 20, 7);
        assert_eq!(a, tried(&zone, (0.5, 0.05, 0.05), 20, 7));
        assert!(a != tried(&zone, (0.5, 0.05, 0.05), 20, 8));
        assert!(a.bare.standard_error_mm2 > 0.0);
        let mut asked = 0;
        let hand = Hand::new(0.5, 0.0, 0.0).unwrap();
        let part = expected(&zone, &lattice(&zone), spot(4.0), &hand, (50, 7), &mut |_| {
            asked += 1;
            asked < 3
        });
        assert_eq!(part.unwrap().runs, 3);
    }

    /// Pulses anywhere in a box leave a place well inside it bare with probability (1 - a/A)^n. Fixed seed; the margin of
    /// five standard errors errs once in two million.
    #[test]
    fn pulses_anywhere_leave_what_chance_leaves() {
        let window = Outline::rectangle(20.0, 20.0);
        let n = 60;
        let hand = Hand::new(0.0, 0.0, 0.0).unwrap();
        let mut bare = Vec::new();
        let mut rng = Pcg64::new(99, 3);
        for run in 0..300 {
            let anywhere: Vec<Point> =
                (0..n).map(|_| Point::new(24.0 * unit(&mut rng) - 12.0, 24.0 * unit(&mut rng) - 12.0)).collect();
            let e = expected(&window, &anywhere, spot(4.0), &hand, (1, run), &mut |_| true).unwrap();
            bare.push(e.bare.mm2 / 400.0);
        }
        let mean = bare.iter().sum::<f64>() / 300.0;
        let error = (bare.iter().map(|b| (b - mean).powi(2)).sum::<f64>() / 300.0 / 299.0).sqrt();
        let chance = (1.0 - std::f64::consts::PI * 4.0 / 576.0_f64).powi(n);
        assert!((mean - chance).abs() < 5.0 * error, "{mean} against {chance}, error {error}");
    }

    /// Normal deviates: mean 0 and variance 1 within five standard errors, fixed seed.
    #[test]
    fn jitter_has_the_spread_it_says() {
        let spots = vec![Point::ORIGIN; 20_000];
        let landed = Hand::new(2.0, 0.0, 0.0).unwrap().fire(&spots, 5, 0);
        let n = landed.len() as f64;
        let mean = landed.iter().map(|p| p.x_mm).sum::<f64>() / n;
        let variance = landed.iter().map(|p| p.x_mm * p.x_mm).sum::<f64>() / n;
        assert!(mean.abs() < 5.0 * 2.0 / n.sqrt() && (variance / 4.0 - 1.0).abs() < 5.0 * (2.0 / n).sqrt());
        let cross = landed.iter().map(|p| p.x_mm * p.y_mm).sum::<f64>() / n / 4.0;
        assert!(cross.abs() < 5.0 / n.sqrt());
    }

    #[test]
    fn what_no_hand_does_is_named() {
        assert!(Hand::new(f64::NAN, 0.0, 0.0).unwrap_err().to_string().starts_with("jitter"));
        assert!(Hand::new(-0.1, 0.0, 0.0).is_err() && Hand::new(51.0, 0.0, 0.0).is_err());
        assert_eq!(Hand::new(0.0, 1.5, 0.0).unwrap_err().to_string(), "miss of 1.5: a probability, from 0 to 1");
        assert!(Hand::new(0.0, 0.0, f64::INFINITY).unwrap_err().to_string().starts_with("double"));
        assert!(Hand::new(0.0, 0.6, 0.6).unwrap_err().to_string().contains("together"));
    }

    /// The k-th shots of runs near each other have no correlation: 320 pairs of columns, each within 5 standard errors,
    /// fixed seeds.
    #[test]
    fn neighbouring_runs_know_nothing_of_each_other() {
        let hand = Hand::new(1.0, 0.0, 0.0).unwrap();
        for seed in [0, 1, 42] {
            let runs: Vec<Vec<Point>> = (0..20_000).map(|run| hand.fire(&[Point::ORIGIN; 40], seed, run)).collect();
            for shot in 0..40 {
                for lag in [1, 2, 3, 4, 8, 16, 27, 32] {
                    let pairs = runs.iter().zip(&runs[lag..]);
                    let product: f64 = pairs.map(|(a, b)| a[shot].x_mm * b[shot].x_mm).sum();
                    let z = product / ((runs.len() - lag) as f64).sqrt();
                    assert!(z.abs() < 5.0, "seed {seed}, shot {shot}, {lag} runs apart: {z} standard errors");
                }
            }
        }
    }

    /// A jitter much wider than the pitch forgets the lattice: in the middle of a large patch a place stays bare as
    /// Poisson says, and far less often under a hand that is nearly steady.
    #[test]
    fn a_wild_hand_is_as_good_as_chance() {
        let zone = Outline::rectangle(10.0, 10.0);
        let at = |i: i32| f64::from(i) * 3.0 - 88.5;
        let spots: Vec<Point> = (0..3600).map(|i| Point::new(at(i % 60), at(i / 60))).collect();
        let bare = |jitter, runs| {
            let hand = Hand::new(jitter, 0.0, 0.0).unwrap();
            expected(&zone, &spots, spot(4.0), &hand, (runs, 3), &mut |_| true).unwrap().bare
        };
        let chance = zone.area_mm2() * random_bare_share(3600, spot(4.0), 180.0 * 180.0);
        let wild = bare(12.0, 150);
        assert!((wild.mm2 - chance).abs() < 5.0 * wild.standard_error_mm2, "{wild:?} against {chance}");
        assert!(bare(0.5, 20).mm2 < 0.5 * chance);
    }
}
