//! The unsteady hand against the closed form of what it leaves on an endless lattice.
//!
//! A pulse aimed at a distance `d` from a place, with normal jitter of `s` along each axis, hits it with the
//! probability `p = integral over the spot of exp(-|x - d|^2 / 2 s^2) / (2 pi s^2)`. Pulses are independent, so the
//! number of hits on a place is a sum of independent ones, whose distribution follows by multiplying out; its mean over
//! a cell of the lattice is what a window of whole cells shows on average. No areas and no random numbers enter.

use fadewright::coverage::hand::{Expected, expected};
use fadewright::coverage::{Hand, Outline, Point, random_bare_share};
use fadewright::units::SpotDiameter;
use libm::erf;
use std::f64::consts::{FRAC_PI_2, PI, SQRT_2};

const RADIUS_MM: f64 = 2.0;
const PITCH_MM: f64 = 3.6;

fn row_mm() -> f64 {
    PITCH_MM * 0.75_f64.sqrt()
}

/// Probability that a pulse aimed at a distance hits a place: Simpson's rule over the strips of the spot, their lengths
/// by the error function.
fn hit(distance: f64, jitter: f64) -> f64 {
    let steps = 200;
    let strip = |i: i32| {
        let angle = FRAC_PI_2 * (2.0 * f64::from(i) / f64::from(steps) - 1.0);
        let (x, half) = (RADIUS_MM * angle.sin(), RADIUS_MM * angle.cos());
        let density = (-(x - distance).powi(2) / (2.0 * jitter * jitter)).exp() / (jitter * (2.0 * PI).sqrt());
        density * erf(half / (jitter * SQRT_2)) * half
    };
    let weight = |i: i32| match i {
        0 => 1.0,
        i if i == steps => 1.0,
        i => f64::from(2 + 2 * (i % 2)),
    };
    (0..=steps).map(|i| weight(i) * strip(i)).sum::<f64>() * PI / f64::from(steps) / 3.0
}

/// Places of a hexagonal lattice around the origin, out to a distance along each axis at least.
fn lattice(reach: f64) -> Vec<Point> {
    let (columns, rows) = ((reach / PITCH_MM).ceil() as i32, (reach / row_mm()).ceil() as i32);
    let at = |i: i32, j: i32| {
        Point::new((f64::from(i) + f64::from(j.rem_euclid(2)) / 2.0) * PITCH_MM, f64::from(j) * row_mm())
    };
    (-rows..=rows).flat_map(|j| (-columns..=columns).map(move |i| at(i, j))).collect()
}

/// Shares hit by none, one, two, three or more, averaged over a cell of two spots. The shares are smooth and repeat, so
/// that a few even steps average them far closer than the margins below.
fn closed_form(jitter: f64, miss: f64, double: f64) -> [f64; 4] {
    let (across, up) = (24, 40);
    let reach = RADIUS_MM + 7.0 * jitter;
    let places = lattice(reach + 2.0 * PITCH_MM);
    let step = jitter / 400.0;
    let table: Vec<f64> = (0..=(reach / step) as i32).map(|i| hit(f64::from(i) * step, jitter)).collect();
    let look_up = |d: f64| {
        let (i, part) = ((d / step) as usize, (d / step).fract());
        let (Some(a), Some(b)) = (table.get(i), table.get(i + 1)) else { return 0.0 };
        a + part * (b - a)
    };
    let mut mean = [0.0; 4];
    for (i, j) in (0..across).flat_map(|i| (0..up).map(move |j| (i, j))) {
        let (x, y) = (f64::from(i) / f64::from(across), f64::from(j) / f64::from(up));
        let place = Point::new(x * PITCH_MM, y * 2.0 * row_mm());
        let mut shares = [1.0, 0.0, 0.0, 0.0];
        for p in places.iter().map(|c| look_up(c.distance_squared(place).sqrt())).filter(|p| *p > 1e-12) {
            let none = miss + (1.0 - miss - double) * (1.0 - p) + double * (1.0 - p) * (1.0 - p);
            let two = double * p * p;
            let one = 1.0 - none - two;
            let [a, b, c, d] = shares;
            shares = [a * none, b * none + a * one, c * none + b * one + a * two, d + c * (one + two) + b * two];
        }
        for (sum, share) in mean.iter_mut().zip(shares) {
            *sum += share / f64::from(across * up);
        }
    }
    mean
}

/// Mean shares and their standard errors over a window of whole cells, aimed at from so far around that no pulse that
/// could land in it is wanting.
fn tried(jitter: f64, miss: f64, double: f64, runs: u32, seed: u64) -> ([f64; 4], [f64; 4]) {
    let window = Outline::rectangle(4.0 * PITCH_MM, 4.0 * row_mm());
    let places = lattice(2.0 * PITCH_MM + RADIUS_MM + 6.0 * jitter);
    let hand = Hand::new(jitter, miss, double).unwrap();
    let spot = SpotDiameter::new(2.0 * RADIUS_MM).unwrap();
    let Expected { runs: done, pulses, bare, once, twice, thrice_or_more } =
        expected(&window, &places, spot, &hand, (runs, seed), &mut |_| true).unwrap();
    assert_eq!(done, runs);
    let n = places.len() as f64;
    let spread = (n * (miss + double - (double - miss).powi(2)) / f64::from(runs)).sqrt();
    assert!((pulses - n * (1.0 - miss + double)).abs() <= 5.0 * spread + 1e-9, "{pulses} pulses for {n} places");
    let all = [bare, once, twice, thrice_or_more];
    (all.map(|m| m.mm2 / window.area_mm2()), all.map(|m| m.standard_error_mm2 / window.area_mm2()))
}

/// Within five standard errors, which errs once in two million; fixed seeds. The errors themselves are small enough to
/// tell the cases apart.
#[test]
fn an_unsteady_hand_leaves_what_the_closed_form_says() {
    let mut bare = Vec::new();
    let hands = [(0.3, 0.0, 0.0), (0.8, 0.1, 0.05), (0.25, 0.3, 0.3), (0.5, 0.0, 1.0), (3.0, 0.0, 0.0)];
    for (seed, (jitter, miss, double)) in (1..).zip(hands) {
        let exact = closed_form(jitter, miss, double);
        assert!((exact.iter().sum::<f64>() - 1.0).abs() < 1e-9);
        let (mean, error) = tried(jitter, miss, double, 400, seed);
        for ((mean, error), exact) in mean.iter().zip(error).zip(exact) {
            assert!(error < 0.005, "jitter {jitter}: error {error}");
            let off = (mean - exact).abs();
            assert!(off < 5.0 * error + 1e-5, "jitter {jitter}: {mean} against {exact}, error {error}");
        }
        bare.push(exact[0]);
    }
    // A steadier hand leaves less; one that hardly aims nears what chance leaves.
    let chance = (-PI * RADIUS_MM * RADIUS_MM / (PITCH_MM * row_mm())).exp();
    assert!(bare[0] < 0.2 * chance && bare[4] < chance && bare[4] > 0.85 * chance, "{bare:?} {chance}");
}

/// The standard error says how far the means of other seeds lie: over many seeds the squares of the deviations, in its
/// units, average one within five standard errors of such an average of normal deviates.
#[test]
fn the_standard_error_is_what_other_seeds_show() {
    let (jitter, miss, double) = (0.6, 0.05, 0.05);
    let exact = closed_form(jitter, miss, double);
    let seeds = 60_u32;
    let square = |seed: u32| {
        let (mean, error) = tried(jitter, miss, double, 40, u64::from(seed));
        ((mean[0] - exact[0]) / error[0]).powi(2)
    };
    let n = f64::from(seeds);
    let squares = (0..seeds).map(square).sum::<f64>() / n;
    assert!((squares - 1.0).abs() < 5.0 * (2.0 / n).sqrt(), "{squares}");
}

/// Poisson's limit, `1 - exp(-n a / A)`: the table of the trade's facts, section 8 (computed geometry), six decimals.
#[test]
fn chance_covers_the_shares_of_the_table() {
    let spot = SpotDiameter::new(4.0).unwrap();
    for (times, covered) in [(0.5, 0.393_469), (1.0, 0.632_121), (2.0, 0.864_665), (3.0, 0.950_213), (4.605, 0.99)] {
        let pulses = 1000;
        let bare = random_bare_share(pulses, spot, pulses as f64 * spot.area_mm2() / times);
        assert!((1.0 - bare - covered).abs() < 1e-5, "{times}: {bare}");
    }
}
