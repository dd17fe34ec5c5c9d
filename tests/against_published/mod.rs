//! Values that others published or that an independent computation gave; each names its source.

mod adding;
mod anaesthetic;
mod beam;
mod carbon;
mod course;
mod coverage;
mod dose;
mod hazard;
mod heat;
mod optics;
mod rules;
mod sight;
mod statistics;
mod transport;
mod unsteady_hand;

use crate::fixture::{date, opened, plan};
use fadewright::coverage::{LatticeKind, even_pulses, lattice::gapless_overlap_percent};
use fadewright::protocol::Computation;
use fadewright::session::{Verdict, checks};
use fadewright::units::{Overlap, SpotDiameter};

/// `coverage/lattice_coverage.csv`: discs' area over the cell's area for hexagonal lattices, from the lattice geometry,
/// computed independently of this program. The same number is the mean count of pulses on a point.
#[test]
fn mean_pulses_per_point_equals_the_disc_area_per_cell_of_a_hexagonal_lattice() {
    let mut seen = 0;
    for line in include_str!("coverage/lattice_coverage.csv").lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        if cells[0] != "hex" {
            continue;
        }
        let overlap: f64 = cells[2].parse().unwrap();
        let discs: f64 = cells[3].parse().unwrap();
        let spot = SpotDiameter::new(4.0).unwrap();
        let area = 1e6;
        let n = even_pulses(area, spot, Overlap::new(overlap * 100.0).unwrap());
        let mean = n * spot.area_mm2() / area;
        assert!((mean - discs).abs() < 1e-8, "overlap {overlap}: {mean} against {discs}");
        seen += 1;
    }
    assert!(seen >= 5);
}

/// Worked example of the trade's facts, section 10 (computed geometry): 30 cm2 with a 4 mm spot and 10 % overlap takes
/// 267 pulses on a hexagonal lattice.
#[test]
fn thirty_square_centimetres_take_267_pulses() {
    let n = even_pulses(3000.0, SpotDiameter::new(4.0).unwrap(), Overlap::new(10.0).unwrap());
    assert_eq!(n.floor() as u64, 267);
}

/// Gapless hexagonal cover begins at a linear overlap of 13.4 % (pitch 0.866 d): the covering density there is
/// 2 pi / sqrt 27 (Kershner's constant for covering the plane with circles).
#[test]
fn the_covering_density_of_the_hexagonal_lattice_is_kershners() {
    let spot = SpotDiameter::new(5.0).unwrap();
    let area = 1e6;
    let n = even_pulses(area, spot, Overlap::new(100.0 * (1.0 - 3f64.sqrt() / 2.0)).unwrap());
    let density = n * spot.area_mm2() / area;
    assert!((density - 2.0 * std::f64::consts::PI / 27f64.sqrt()).abs() < 1e-9);
    assert!((gapless_overlap_percent(LatticeKind::Hexagonal) - 13.397_46).abs() < 1e-5);
    assert!((gapless_overlap_percent(LatticeKind::Square) - 29.289_32).abs() < 1e-5);
}

/// Bencini PL et al., Arch Dermatol 2012;148:1364-1369: at least six weeks in the cohort, eight weeks or less linked to
/// lower success. The default protocol's intervals stand on it; the check must tell the cases apart.
#[test]
fn the_interval_check_tells_three_five_and_nine_weeks_apart() {
    let verdict = |last: &str| {
        let mut p = plan();
        p.history.earlier_sessions = 1;
        p.history.last_session = Some(date(last));
        checks::compute(Computation::Interval, &opened(p)).verdict
    };
    assert_eq!(verdict("2026-11-03"), Verdict::Block, "3 weeks");
    assert_eq!(verdict("2026-10-20"), Verdict::Warn, "5 weeks");
    assert_eq!(verdict("2026-09-22"), Verdict::Pass, "9 weeks");
    assert_eq!(verdict("2026-11-25"), Verdict::Block, "a date after today");
}

/// Cohen PR, Ross EV, J Clin Aesthet Dermatol 2015;8(9):48-53: chrysiasis up to 26 years after the last dose of gold.
#[test]
fn gold_in_the_history_refuses_whatever_its_age() {
    let mut p = plan();
    p.history.medicines = vec![fadewright::plan::Medicine::Gold];
    let found = checks::compute(Computation::Gold, &opened(p));
    assert_eq!(found.verdict, Verdict::HardStop);
}

/// The rows of a table of numbers below its heading; an empty cell is not a number.
fn csv(text: &str) -> Vec<Vec<f64>> {
    let cell = |c: &str| if c.trim().is_empty() { f64::NAN } else { c.trim().parse().unwrap() };
    text.lines().skip(1).filter(|l| !l.is_empty()).map(|l| l.split(',').map(cell).collect()).collect()
}
