//! The figures that the coverage of a zone must reach, on the release build.
//!
//! `cargo bench --bench coverage` prints them with their limits and fails when one is missed. Words after `--` choose
//! parts: `areas`, `live`, `fit`. The union of the same discs by an independent geometry library runs in turns with ours.
#![allow(missing_docs, reason = "a program; its modules say what they do")]
#![allow(clippy::disallowed_methods, reason = "it measures real time")]

#[allow(dead_code, reason = "the chair's figures need more of it")]
mod figures;
#[allow(dead_code, reason = "the chair's figures need more of it")]
mod machine;
mod parts;

use fadewright::coverage::{Covered, Disc, Lattice, LatticeKind, Outline, Point, hit_areas};
use fadewright::units::{Overlap, SpotDiameter};
use figures::{Table, Times, ms};
use geo::{Area, BooleanOps, Coord, LineString, Polygon, unary_union};
use parts::Outcome;
use std::f64::consts::TAU;
use std::hint::black_box;
use std::process::ExitCode;
use std::time::{Duration, Instant};

const PARTS: [parts::Part; 3] = [("areas", areas), ("live", live), ("fit", fit)];
const TURNS: usize = 9;
const RADIUS_MM: f64 = 2.0;

fn main() -> ExitCode {
    parts::run("coverage", &PARTS)
}

/// A polygon of 100 corners that about `spots` spots of 4 mm cover at 10 % overlap, and those spots, each a little off
/// its place, as a hand leaves them.
fn case(spots: usize) -> Outcome<(Vec<Point>, Vec<Point>)> {
    let pitch = 2.0 * RADIUS_MM * 0.9;
    let mean_radius = (spots as f64 * 0.866 * pitch * pitch / (TAU / 2.0)).sqrt();
    let corners: Vec<Point> = (0..100)
        .map(|i| {
            let angle = TAU * f64::from(i) / 100.0;
            let radius = mean_radius * (1.0 + 0.15 * (5.0 * angle).sin());
            Point::new(radius * angle.cos(), radius * angle.sin())
        })
        .collect();
    // A lattice of our own, so that zones beyond what a session takes can be measured too.
    let mut off = 12_345_u64;
    let mut jitter = || {
        off = off.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((off >> 40) as f64 / f64::from(1 << 24) - 0.5) * 0.6
    };
    let outline = Outline::rings(std::slice::from_ref(&corners));
    let reach = (mean_radius * 1.2 / pitch) as i64 + 2;
    let mut centres = Vec::new();
    for row in -2 * reach..2 * reach {
        for column in -reach..reach {
            let shift = row.rem_euclid(2) as f64 / 2.0;
            let p = Point::new((column as f64 + shift) * pitch, row as f64 * 0.866 * pitch);
            if outline.contains(p) {
                centres.push(Point::new(p.x_mm + jitter(), p.y_mm + jitter()));
            }
        }
    }
    Ok((corners, centres))
}

fn timed<T>(work: impl FnOnce() -> T) -> (Duration, T) {
    let start = Instant::now();
    let value = black_box(work());
    (start.elapsed(), value)
}

/// The union by the library, within the zone, mm2: each disc a polygon of 64 corners and of the disc's own area.
fn union_by_library(corners: &[Point], centres: &[Point]) -> f64 {
    let ring = |places: &mut dyn Iterator<Item = (f64, f64)>| {
        Polygon::new(LineString::new(places.map(|(x, y)| Coord { x, y }).collect()), Vec::new())
    };
    let zone = ring(&mut corners.iter().map(|p| (p.x_mm, p.y_mm)));
    let step = TAU / 64.0;
    let radius = RADIUS_MM * (step / step.sin()).sqrt();
    let discs: Vec<Polygon> = centres
        .iter()
        .map(|c| {
            ring(&mut (0..64).map(|i| {
                let angle = f64::from(i) * step;
                (c.x_mm + radius * angle.cos(), c.y_mm + radius * angle.sin())
            }))
        })
        .collect();
    unary_union(&discs).intersection(&zone).unsigned_area()
}

fn areas(table: &mut Table) -> Outcome<()> {
    let mut per_spot = Vec::new();
    for spots in [1_000, 10_000, 100_000] {
        let (corners, centres) = case(spots)?;
        let outline = Outline::rings(std::slice::from_ref(&corners));
        let discs: Vec<Disc> = centres.iter().map(|&centre| Disc { centre, radius_mm: RADIUS_MM }).collect();
        let by_library = spots <= 10_000;
        let (mut ours, mut ratios, mut off) = (Vec::new(), Vec::new(), 0.0_f64);
        for _ in 0..TURNS {
            let (time, found) = timed(|| hit_areas(&outline, &discs));
            ours.push(time);
            if by_library {
                let (theirs, union) = timed(|| union_by_library(&corners, &centres));
                ratios.push(theirs.as_secs_f64() / time.as_secs_f64());
                off = off.max((found.area_mm2 - found.bare_mm2 - union).abs() / union);
            }
        }
        let times = Times::new(ours);
        let what = format!("exact 0/1/2/3+ areas, {} spots, 100 corners", centres.len());
        if spots == 10_000 {
            table.judge_times(&what, &times, 50, Duration::from_millis(50));
        } else {
            table.note(&what, times.words());
        }
        let n = centres.len() as f64;
        per_spot.push(times.percentile(50).as_secs_f64() * 1e9 / (n * n.log2()));
        if by_library {
            ratios.sort_by(f64::total_cmp);
            let middle = ratios.get(TURNS / 2).copied().unwrap_or(0.0);
            table.note(
                &format!("  union alone by the geometry library, {} spots", centres.len()),
                format!("{middle:.1} x our time; areas differ by {off:.1e} of the union"),
            );
            table.judge("  the two unions agree", format!("{off:.1e}"), "1e-3", off < 1e-3);
        }
    }
    let words = per_spot.iter().map(|ns| format!("{ns:.0}")).collect::<Vec<_>>().join(", ");
    table.note("  ns over n log2 n at 1k, 10k, 100k", words);
    let (least, most) = per_spot.iter().fold((f64::MAX, 0.0_f64), |(a, b), &x| (a.min(x), b.max(x)));
    table.judge("  cost close to n log n", format!("most over least {:.2}", most / least), "3", most < 3.0 * least);
    Ok(())
}

fn live(table: &mut Table) -> Outcome<()> {
    let spot = SpotDiameter::new(2.0 * RADIUS_MM)?;
    let (corners, centres) = case(5_000)?;
    let outline = Outline::rings(&[corners]);
    let mut covered = Covered::new(&outline, spot);
    let mut times = Vec::new();
    // Two rounds: the second falls on skin that is covered already.
    for round in 0..2 {
        for centre in &centres {
            let p = Point::new(centre.x_mm + 0.1 * f64::from(round), centre.y_mm);
            let (time, _) = timed(|| {
                covered.add(p);
                covered.areas()
            });
            times.push(time);
        }
    }
    let times = Times::new(times);
    let what = format!("one pulse more in a zone of {} spots, two rounds", centres.len());
    table.judge(
        &what,
        format!("p50 {:.1} us, p99 {:.1} us", micros(times.percentile(50)), micros(times.percentile(99))),
        "p99 1 ms",
        times.percentile(99) <= Duration::from_millis(1),
    );
    table.note("  the slowest of them", ms(times.percentile(100)));
    Ok(())
}

fn micros(time: Duration) -> f64 {
    time.as_secs_f64() * 1e6
}

fn fit(table: &mut Table) -> Outcome<()> {
    let overlap = Overlap::new(10.0)?;
    for (words, outline, mm) in [
        ("ellipse 30 x 20 mm", Outline::ellipse(30.0, 20.0), 3.0),
        ("script 62 x 9 mm", Outline::stroke(62.0, 9.0), 3.0),
        ("rectangle 100 x 100 mm", Outline::rectangle(100.0, 100.0), 3.0),
        ("rectangle 300 x 300 mm", Outline::rectangle(300.0, 300.0), 3.0),
    ] {
        let spot = SpotDiameter::new(mm)?;
        let mut times = Vec::new();
        let mut pulses = 0;
        for _ in 0..TURNS {
            let (time, lattice) = timed(|| Lattice::fit(&outline, LatticeKind::Hexagonal, spot, overlap));
            pulses = lattice?.pulses();
            times.push(time);
        }
        table.note(&format!("a lattice fitted to {words}, {pulses} pulses"), Times::new(times).words());
    }
    Ok(())
}
