//! Dose maps against plain sums on a finer grid and closed forms.

use super::coverage::{rows, zones};
use fadewright::coverage::{DoseMap, Point};
use fadewright::units::SpotDiameter;
use fadewright::words::BeamProfile;
use std::collections::BTreeMap;

/// `coverage/dose.csv`: six zones, three lists of spots, both beams, on a grid three times as fine, without windows or
/// cut tails, with numpy 2.4.6 and shapely 2.2.0; the mean of flat beams from the overlay of `areas.csv`, that of
/// Gaussian ones over the rectangle from error functions. Made by `tests/reference/dose_reference.py`.
///
/// A sum over a grid is off by what its edges cut: about the power 3/2 of the step, so five times the finer grid's
/// error, and two thousandths where that one is small by luck. The peak of the cells is no higher than that of a finer
/// grid, bar that much too, and at most 2 % lower where many Gaussians slope towards the edge; of a flat beam, whose
/// peak may be as small as the sliver that three circles share, one pulse lower.
#[test]
fn dose_maps_have_the_figures_of_a_finer_grid() {
    let zones = zones();
    let mut spots: BTreeMap<Vec<&str>, Vec<Point>> = BTreeMap::new();
    for (case, v) in rows(include_str!("coverage/spots.csv"), 2) {
        spots.entry(case).or_default().push(Point::new(v[0], v[1]));
    }
    let doses = rows(include_str!("coverage/dose.csv"), 3);
    let mut wrong = Vec::new();
    for (words, v) in &doses {
        let profile = if words[2] == "flat" { BeamProfile::Flat } else { BeamProfile::Gaussian };
        let spot = SpotDiameter::new(v[0]).unwrap();
        let map = DoseMap::of(&zones[words[0]], &spots[&words[..2].to_vec()], spot, profile);
        let tolerance = 5.0 * v[8] + 2e-3;
        let figures = [
            ("mean", map.mean(), v[1], tolerance),
            ("median", map.median(), v[2], tolerance),
            ("95th percentile", map.p95(), v[3], tolerance),
            ("above 0.5", map.share_above(0.5), v[4], tolerance),
            ("above 1.5", map.share_above(1.5), v[5], tolerance),
            ("above 2.5", map.share_above(2.5), v[6], tolerance),
        ];
        let lower = if profile == BeamProfile::Flat { 1.0 } else { 0.02 * v[7] };
        if map.peak() > v[7] + 2e-3 * v[7] || map.peak() < v[7] - lower {
            wrong.push(format!("{words:?} peak: {} against {}", map.peak(), v[7]));
        }
        for (name, found, stored, tolerance) in figures {
            if (found - stored).abs() > tolerance || found.is_nan() {
                wrong.push(format!("{words:?} {name}: {found} against {stored}, tolerance {tolerance:.1e}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert_eq!(doses.len(), 36);
}
