//! Exact hit areas against a geometry library's overlay, closed forms, and the geometry of endless lattices.

use fadewright::coverage::lattice::gapless_overlap_percent;
use fadewright::coverage::{Disc, HitAreas, LatticeKind, Outline, Point, hit_areas};
use std::collections::BTreeMap;
use std::f64::consts::PI;

/// Rows of a table whose first columns are words: those, and the numbers after them.
pub(super) fn rows(text: &str, words: usize) -> Vec<(Vec<&str>, Vec<f64>)> {
    let row = |line| {
        let cells: Vec<&str> = str::split(line, ',').collect();
        (cells[..words].to_vec(), cells[words..].iter().map(|c| c.parse().unwrap()).collect())
    };
    text.lines().skip(1).map(row).collect()
}

/// The zones of `coverage/zones.csv` and `coverage/curved.csv`, by name.
pub(super) fn zones() -> BTreeMap<&'static str, Outline> {
    let mut rings: BTreeMap<&str, Vec<Vec<Point>>> = BTreeMap::new();
    for (words, v) in rows(include_str!("coverage/zones.csv"), 1) {
        let of_zone = rings.entry(words[0]).or_default();
        of_zone.resize(v[0] as usize + 1, Vec::new());
        of_zone[v[0] as usize].push(Point::new(v[1], v[2]));
    }
    let mut zones: BTreeMap<&str, Outline> = rings.iter().map(|(name, rings)| (*name, Outline::rings(rings))).collect();
    for (words, v) in rows(include_str!("coverage/curved.csv"), 2) {
        let upright = if words[1] == "stroke" { Outline::stroke(v[0], v[1]) } else { Outline::ellipse(v[0], v[1]) };
        zones.insert(words[0], upright.turned_and_moved(v[2], Point::new(v[3], v[4])));
    }
    zones
}

fn disc(x_mm: f64, y_mm: f64, radius_mm: f64) -> Disc {
    Disc { centre: Point::new(x_mm, y_mm), radius_mm }
}

/// What does not hold of one set of areas, in words.
fn faults(case: &str, found: HitAreas, stored: &[f64]) -> Vec<String> {
    let tolerance = stored[7];
    let named = [
        ("area", found.area_mm2),
        ("bare", found.bare_mm2),
        ("once", found.once_mm2),
        ("twice", found.twice_mm2),
        ("thrice or more", found.thrice_or_more_mm2),
        ("union", found.union_mm2),
        ("landed", found.landed_mm2),
    ];
    let off = named.iter().zip(stored).filter(|((_, a), b)| (a - *b).abs() > tolerance || a.is_nan());
    off.map(|((name, a), b)| format!("{case}: {name} {a} against {b}, tolerance {tolerance}")).collect()
}

/// `coverage/areas.csv`: seven zones of straight edges and five of curves under nine or ten lists of spots each, by
/// overlay of polygons of 2880 sides with shapely 2.2.0 on GEOS 3.14.1. Made by
/// `tests/reference/coverage_reference.py`, which also says how wide the tolerance is and why. The lists hold what such
/// sums stumble over: spots on corners, touching edges, stacked, on the round ends of a stroke, larger than the zone.
#[test]
fn hit_areas_equal_those_of_an_overlay_by_a_geometry_library() {
    let zones = zones();
    let mut spots: BTreeMap<Vec<&str>, Vec<Disc>> = BTreeMap::new();
    for (case, v) in rows(include_str!("coverage/spots.csv"), 2) {
        spots.entry(case).or_default().push(disc(v[0], v[1], v[2]));
    }
    let areas = rows(include_str!("coverage/areas.csv"), 2);
    let mut wrong = Vec::new();
    for (case, stored) in &areas {
        wrong.extend(faults(&case.join(" "), hit_areas(&zones[case[0]], &spots[case]), stored));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert_eq!((zones.len(), spots.len(), areas.len()), (12, 113, 113));
}

/// `coverage/lens_areas.csv`: what two circles share, by the closed form with two arc cosines (a textbook's
/// circle-circle intersection), computed independently of this program, 12 decimals.
#[test]
fn two_discs_share_the_area_of_their_lens() {
    let zone = Outline::rectangle(40.0, 40.0);
    let lenses = rows(include_str!("coverage/lens_areas.csv"), 0);
    for (_, v) in &lenses {
        let (r, s, apart, lens) = (v[0], v[1], v[2], v[3]);
        // Along the axis and askew.
        for turn in [0.0_f64, 0.7, 2.5] {
            let a =
                hit_areas(&zone, &[disc(0.3, -0.2, r), disc(0.3 + apart * turn.cos(), -0.2 + apart * turn.sin(), s)]);
            assert!((a.twice_mm2 - lens).abs() < 1e-9, "{v:?} turned {turn}: {}", a.twice_mm2);
            assert!((a.union_mm2 - (PI * (r * r + s * s) - lens)).abs() < 1e-9, "{v:?} turned {turn}: {}", a.union_mm2);
        }
    }
    assert_eq!(lenses.len(), 11);
}

/// `coverage/union_areas.csv`: unions of two to seven discs, exact by arcs, computed independently of this program to
/// 10 decimals; the last column is the same by shapely with 4096 segments to a quarter circle, whose polygons lie
/// within their circles.
#[test]
fn unions_of_discs_have_their_stored_areas() {
    let mut unions: BTreeMap<&str, (Vec<Disc>, f64, f64)> = BTreeMap::new();
    for (words, v) in rows(include_str!("coverage/union_areas.csv"), 1) {
        let union = unions.entry(words[0]).or_insert((Vec::new(), v[4], v[5]));
        union.0.push(disc(v[1], v[2], v[3]));
    }
    for (name, (discs, exact, overlaid)) in &unions {
        // The union must not depend on the zone: one that holds them all, and one far smaller.
        for zone in [Outline::rectangle(60.0, 60.0), Outline::rectangle(1.0, 2.0)] {
            let a = hit_areas(&zone, discs);
            assert!((a.union_mm2 - exact).abs() < 1e-8, "{name}: {} against {exact}", a.union_mm2);
            assert!((a.union_mm2 - overlaid).abs() < 1e-6 * exact, "{name}: {} against {overlaid}", a.union_mm2);
        }
        let a = hit_areas(&Outline::rectangle(60.0, 60.0), discs);
        assert!((a.area_mm2 - a.bare_mm2 - exact).abs() < 1e-8, "{name}: {} bare", a.bare_mm2);
    }
    assert_eq!(unions.len(), 8);
}

/// `coverage/lattice_coverage.csv`: shares of an endless lattice hit at all, once and twice, from the lenses in one
/// cell, computed independently of this program to nine decimals. Here a window of whole cells cut out of a patch that
/// reaches beyond it on every side. The spacing is rebuilt from the root it is, where the table rounds it.
#[test]
fn a_window_of_whole_cells_holds_the_shares_of_the_endless_lattice() {
    let lattices = rows(include_str!("coverage/lattice_coverage.csv"), 1);
    for (words, v) in &lattices {
        let exact = [0.75_f64.sqrt(), 0.5_f64.sqrt()].into_iter().find(|root| (root - v[0]).abs() < 1e-9);
        let diameter = 3.0;
        let pitch = exact.unwrap_or(v[0]) * diameter;
        let hexagonal = words[0] == "hex";
        let row = if hexagonal { pitch * 0.75_f64.sqrt() } else { pitch };
        let mut discs = Vec::new();
        for j in -6..=6 {
            let shift = if hexagonal && j % 2 != 0 { 0.5 } else { 0.0 };
            discs.extend((-6..=6).map(|i| disc((f64::from(i) + shift) * pitch, f64::from(j) * row, diameter / 2.0)));
        }
        // Three cells by four rows: even, as a hexagonal lattice repeats every second row. Off the centres too.
        for at in [Point::ORIGIN, Point::new(0.31, -0.47)] {
            let window = Outline::rectangle(3.0 * pitch, 4.0 * row).turned_and_moved(0.0, at);
            let a = hit_areas(&window, &discs);
            let share = |area: f64| area / a.area_mm2;
            let named = [
                ("mean hits", share(a.landed_mm2), v[2]),
                ("covered", 1.0 - share(a.bare_mm2), v[3]),
                ("once", share(a.once_mm2), v[4]),
                ("twice", share(a.twice_mm2), v[5]),
                ("thrice or more", share(a.thrice_or_more_mm2), 0.0),
            ];
            for (name, found, stored) in named {
                assert!((found - stored).abs() < 1e-8, "{words:?} {v:?} at {at:?}: {name} {found} against {stored}");
            }
        }
    }
    assert_eq!(lattices.len(), 12);
}

/// Kershner 1939 for hexagonal, and the square lattice's circle around its cell: discs that just cover the plane lie
/// 2 pi / sqrt 27 = 1.2092 and pi / 2 = 1.5708 deep on average, and a spot smaller by a hundredth leaves gaps.
#[test]
fn lattices_that_just_cover_have_the_published_densities() {
    let published = [(LatticeKind::Hexagonal, 2.0 * PI / 27f64.sqrt()), (LatticeKind::Square, PI / 2.0)];
    for (kind, density) in published {
        let radius = 2.0;
        let pitch = 2.0 * radius * (1.0 - gapless_overlap_percent(kind) / 100.0);
        let (row, shift) = match kind {
            LatticeKind::Hexagonal => (pitch * 0.75_f64.sqrt(), pitch / 2.0),
            LatticeKind::Square => (pitch, 0.0),
        };
        let patch = |radius: f64| -> Vec<Disc> {
            let x = |i: i32, j: i32| f64::from(i) * pitch + f64::from(j.rem_euclid(2)) * shift;
            let all = (-7..=7).flat_map(|j| (-7..=7).map(move |i| (i, j)));
            all.map(|(i, j)| disc(x(i, j), f64::from(j) * row, radius)).collect()
        };
        let window = Outline::rectangle(4.0 * pitch, 6.0 * row);
        let whole = hit_areas(&window, &patch(radius));
        assert!((whole.landed_mm2 / whole.area_mm2 - density).abs() < 1e-9, "{kind}: {whole:?}");
        assert!(whole.bare_mm2 < 1e-8, "{kind}: {whole:?}");
        let gaps = hit_areas(&window, &patch(0.99 * radius));
        assert!(gaps.bare_mm2 > 1e-5 * gaps.area_mm2, "{kind}: {gaps:?}");
    }
}
