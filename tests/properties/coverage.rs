//! What must hold of hit areas whatever the zone and wherever the pulses fall.

use fadewright::coverage::{Covered, Disc, HitAreas, Outline, Point, hit_areas};
use fadewright::units::SpotDiameter;
use proptest::prelude::*;
use std::f64::consts::TAU;

/// A ring that a ray from the origin crosses once: convex, concave, with spikes. The corners are so many and the steps
/// so alike that none spans half a turn, which would leave the origin outside and turn the ring round.
fn star() -> impl Strategy<Value = Vec<Point>> {
    prop::collection::vec((2.0f64..14.0, 0.3f64..1.0), 5..24).prop_map(|corners| {
        let all: f64 = corners.iter().map(|c| c.1).sum();
        let mut angle = 0.0;
        corners
            .iter()
            .map(|(far, step)| {
                angle += step / all * TAU;
                Point::new(far * angle.cos(), far * angle.sin())
            })
            .collect()
    })
}

/// The same, at times with a hole around the origin, clockwise, that the outer ring stays clear of.
fn rings() -> impl Strategy<Value = Outline> {
    let square =
        |half: f64| [(half, half), (half, -half), (-half, -half), (-half, half)].map(|(x, y)| Point::new(x, y));
    (star(), prop::option::of(0.1f64..0.9)).prop_map(move |(outer, hole)| {
        let Some(half) = hole.filter(|half| clearance(&outer) > half * 1.5) else { return Outline::rings(&[outer]) };
        Outline::rings(&[outer, square(half).to_vec()])
    })
}

/// Ellipses and strokes, among them round ones and strokes as wide as a spot, upright or turned.
fn curved() -> impl Strategy<Value = Outline> {
    let side = || prop_oneof![3 => 0.5f64..26.0, 1 => Just(4.0), 1 => Just(8.0)];
    let turn = prop_oneof![Just(0.0), -4.0f64..4.0];
    (side(), side(), turn, any::<bool>()).prop_map(|(w, h, turn, stroke)| {
        let upright = if stroke { Outline::stroke(w, h) } else { Outline::ellipse(w, h) };
        upright.turned_and_moved(turn, Point::ORIGIN)
    })
}

fn zone() -> impl Strategy<Value = Outline> {
    prop_oneof![3 => rings(), 2 => curved()]
}

/// The distance of the origin from the ring, mm.
fn clearance(ring: &[Point]) -> f64 {
    let next = ring.iter().cycle().skip(1);
    ring.iter()
        .zip(next)
        .map(|(a, b)| {
            let (dx, dy) = (b.x_mm - a.x_mm, b.y_mm - a.y_mm);
            let t = (-(a.x_mm * dx + a.y_mm * dy) / (dx * dx + dy * dy)).clamp(0.0, 1.0);
            (a.x_mm + t * dx).hypot(a.y_mm + t * dy)
        })
        .fold(f64::INFINITY, f64::min)
}

/// Pulses on and around the zone: anywhere, on a coarse grid where they stack and touch, in three sizes or any.
fn discs() -> impl Strategy<Value = Vec<Disc>> {
    let anywhere = (-16.0f64..16.0, -16.0f64..16.0);
    let grid = (-8i32..=8, -8i32..=8).prop_map(|(x, y)| (f64::from(x) * 2.0, f64::from(y) * 2.0));
    let radius = prop_oneof![4 => Just(2.0), 2 => Just(1.0), 1 => Just(4.0), 2 => 0.2f64..6.0, 1 => 15.0f64..40.0];
    let one = (prop_oneof![anywhere, grid], radius)
        .prop_map(|((x, y), radius_mm)| Disc { centre: Point::new(x, y), radius_mm });
    prop::collection::vec(one, 0..40)
}

/// Largest difference between two sets of areas, mm2.
fn apart(a: HitAreas, b: HitAreas) -> f64 {
    let list = |h: HitAreas| {
        let shares = [h.bare_mm2, h.once_mm2, h.twice_mm2, h.thrice_or_more_mm2];
        shares.into_iter().chain([h.area_mm2, h.union_mm2, h.landed_mm2])
    };
    list(a).zip(list(b)).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
}

const CLOSE: f64 = 1e-7;

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 64, ..ProptestConfig::default() })]

    #[test]
    fn areas_sum_to_the_zone_and_the_union_is_no_less_than_what_is_covered(zone in zone(), discs in discs()) {
        let a = hit_areas(&zone, &discs);
        prop_assert!((a.area_mm2 - zone.area_mm2()).abs() < CLOSE);
        let shares = [a.bare_mm2, a.once_mm2, a.twice_mm2, a.thrice_or_more_mm2];
        prop_assert!(shares.iter().all(|s| *s > -CLOSE), "{a:?}");
        prop_assert!((shares.iter().sum::<f64>() - a.area_mm2).abs() < CLOSE, "{a:?}");
        let covered = a.area_mm2 - a.bare_mm2;
        prop_assert!(a.union_mm2 > covered - CLOSE, "{a:?}");
        prop_assert!(a.union_mm2 < discs.iter().map(|d| d.area_mm2()).sum::<f64>() + CLOSE, "{a:?}");
        let least = a.once_mm2 + 2.0 * a.twice_mm2 + 3.0 * a.thrice_or_more_mm2;
        let most = least + (discs.len() as f64 - 3.0).max(0.0) * a.thrice_or_more_mm2;
        prop_assert!(a.landed_mm2 > least - CLOSE && a.landed_mm2 < most + CLOSE, "{a:?}");
    }

    #[test]
    fn turning_and_moving_all_changes_nothing(
        zone in zone(), discs in discs(), turn in -7.0f64..7.0, x in -500.0f64..500.0, y in -500.0f64..500.0,
    ) {
        let by = Point::new(x, y);
        let moved: Vec<Disc> =
            discs.iter().map(|d| Disc { centre: d.centre.turned_and_moved(turn, by), ..*d }).collect();
        let (a, b) = (hit_areas(&zone, &discs), hit_areas(&zone.turned_and_moved(turn, by), &moved));
        prop_assert!(apart(a, b) < CLOSE, "{a:?} {b:?}");
    }

    #[test]
    fn one_pulse_more_never_raises_bare_nor_lowers_thrice(zone in zone(), discs in discs()) {
        let mut before = hit_areas(&zone, &[]);
        prop_assert!((before.bare_mm2 - before.area_mm2).abs() < CLOSE);
        for n in 1..=discs.len() {
            let after = hit_areas(&zone, &discs[..n]);
            prop_assert!(after.bare_mm2 < before.bare_mm2 + CLOSE, "{n}: {before:?} {after:?}");
            prop_assert!(after.thrice_or_more_mm2 > before.thrice_or_more_mm2 - CLOSE, "{n}: {before:?} {after:?}");
            prop_assert!(after.landed_mm2 > before.landed_mm2 - CLOSE, "{n}: {before:?} {after:?}");
            let room = discs[n - 1].area_mm2() + CLOSE;
            prop_assert!(before.bare_mm2 - after.bare_mm2 < room, "{n}: {before:?} {after:?}");
            before = after;
        }
    }

    /// Places on a fine grid, one in each cell. A grid of step h misses an edge of length l by about
    /// h^1.5 sqrt(l) at random; the bound is a bound found by trying; the sampling error itself is about 0.2 mm2.
    #[test]
    fn counting_places_on_a_grid_agrees(zone in zone(), discs in discs(), dx in 0.0f64..1.0, dy in 0.0f64..1.0) {
        let a = hit_areas(&zone, &discs);
        let (n, bounds) = (400, zone.bounds());
        let (w, h) = (bounds.width_mm() / f64::from(n), bounds.height_mm() / f64::from(n));
        let mut counted = [0u32; 4];
        for i in 0..n * n {
            let p = Point::new(
                bounds.low.x_mm + (f64::from(i % n) + dx) * w,
                bounds.low.y_mm + (f64::from(i / n) + dy) * h,
            );
            if zone.contains(p) {
                let hits = discs.iter().filter(|d| d.centre.distance_squared(p) < d.radius_mm * d.radius_mm).count();
                counted[hits.min(3)] += 1;
            }
        }
        let exact = [a.bare_mm2, a.once_mm2, a.twice_mm2, a.thrice_or_more_mm2];
        for (count, exact) in counted.iter().zip(exact) {
            let sampled = f64::from(*count) * w * h;
            prop_assert!((sampled - exact).abs() < 0.8, "{counted:?} {a:?}");
        }
    }

    /// Pulses put down and taken back in any order, some on one place, against the discs that are left.
    #[test]
    fn pulse_by_pulse_equals_all_at_once(
        zone in zone(), grid in prop::collection::vec((-7i32..=7, -7i32..=7), 1..50), mm in 1.0f64..9.0,
        off in -0.4f64..0.4, back in prop::collection::vec(any::<prop::sample::Index>(), 0..40),
    ) {
        let mut covered = Covered::new(&zone, SpotDiameter::new(mm).unwrap());
        let mut left: Vec<Point> = Vec::new();
        for (i, &(x, y)) in grid.iter().enumerate() {
            let pulse = Point::new(f64::from(x) * 2.0 + off, f64::from(y) * 2.0 + off);
            covered.add(pulse);
            left.push(pulse);
            if i % 2 == 1 && let Some(index) = back.get(i / 2) {
                prop_assert!(covered.remove(left.swap_remove(index.index(left.len()))));
            }
        }
        let discs: Vec<Disc> = left.iter().map(|&centre| Disc { centre, radius_mm: mm / 2.0 }).collect();
        let (a, b) = (covered.areas(), hit_areas(&zone, &discs));
        prop_assert!(apart(a, b) < CLOSE, "{a:?} {b:?}");
        prop_assert!(!covered.remove(Point::new(50.0, 50.0)), "nothing was there");
        for p in left {
            prop_assert!(covered.remove(p));
        }
        let empty = covered.areas();
        prop_assert!((empty.bare_mm2 - empty.area_mm2).abs() < CLOSE && empty.union_mm2 < CLOSE, "{empty:?}");
    }
}
