//! `calc coverage` in words.

use super::report::Report;
use crate::units::trimmed;
use std::fmt::Write as _;

/// A row: what, and what about it.
fn row(out: &mut String, what: &str, told: &str) {
    // Writing to a text cannot fail.
    let _ = writeln!(out, "{what:<14}{told}");
}

pub(super) fn of(r: &Report) -> String {
    let mut out = String::new();
    let mm2 = |v: f64| trimmed(v, 3);
    let of_zone = |v: f64| format!("{:>14} mm2 {:>8} %", format!("{v:.3}"), format!("{:.2}", 100.0 * v / r.area_mm2));
    let [left, bottom, right, top] = r.bounds_mm.map(|v| trimmed(v, 2));
    row(&mut out, "Zone", &format!("{} mm2, edge {} mm", mm2(r.area_mm2), trimmed(r.perimeter_mm, 2)));
    row(&mut out, "", &format!("x {left} to {right} mm, y {bottom} to {top} mm"));
    row(&mut out, "Pulses", &format!("{} of {} mm", r.pulses, trimmed(r.spot_mm, 2)));
    if let Some(e) = &r.even {
        row(&mut out, "Overlap", &format!("{} %, linear: 1 - pitch / spot diameter", trimmed(100.0 * e.overlap, 1)));
        row(&mut out, "", &format!("two neighbours share {} % of a spot's area", trimmed(100.0 * e.overlap_area, 2)));
        let rows = match e.row_pitch_mm {
            Some(mm) => format!("{} rows {} mm apart", e.rows, trimmed(mm, 3)),
            None => "one row".to_owned(),
        };
        row(&mut out, "Lattice", &format!("{}, fitted: pitch {} mm, {rows}", e.lattice, trimmed(e.pitch_mm, 3)));
        let gaps = if e.endless_bare_share > 0.0 {
            format!("has gaps of its own, {} % without an edge", trimmed(100.0 * e.endless_bare_share, 2))
        } else {
            "has no gaps of its own".to_owned()
        };
        row(&mut out, "", &format!("{gaps}; none from {} % on", trimmed(100.0 * e.gapless_overlap, 1)));
        row(&mut out, "Without edge", &format!("{} pulses, as of an endless lattice", trimmed(e.even_pulses, 2)));
    }
    if let Some(a) = &r.areas {
        row(&mut out, "Bare", &of_zone(a.bare_mm2));
        row(&mut out, "Once", &of_zone(a.once_mm2));
        row(&mut out, "Twice", &of_zone(a.twice_mm2));
        row(&mut out, "Thrice or more", &of_zone(a.thrice_or_more_mm2));
        row(&mut out, "All spots", &format!("{} mm2, each place once, beside the zone too", mm2(a.union_mm2)));
        row(&mut out, "Spill", &format!("{} mm2 of all spots fell beside the zone", mm2(a.spill_mm2)));
        row(&mut out, "Outside", &format!("{} of the pulses, by their middle", a.pulses_outside));
    }
    if let Some(a) = &r.areas {
        let (d, fixed) = (&a.dose, |v: f64| format!("{v:.2}"));
        let figures = [d.mean, d.median, d.p95, d.peak].map(fixed);
        let [mean, median, p95, peak] = figures;
        row(&mut out, "Dose", &format!("mean {mean}, median {median}, 95 % of the zone to {p95}, peak {peak}"));
        row(
            &mut out,
            "",
            &format!("times the nominal fluence, {} beam, every {} mm", d.profile, trimmed(d.step_mm, 3)),
        );
        let share = trimmed(100.0 * d.share_above, 2);
        row(&mut out, "", &format!("{share} % of the zone above {} times", trimmed(d.above, 3)));
        if let Some(h) = &a.hand {
            let habits = [trimmed(h.jitter_mm, 3), trimmed(100.0 * h.miss, 2), trimmed(100.0 * h.double, 2)];
            let [jitter, miss, double] = habits;
            row(&mut out, "Unsteady hand", &format!("jitter {jitter} mm, misses {miss} %, fires {double} % twice"));
            row(&mut out, "", &format!("mean of {} passes with seed {}, +/- standard error", h.runs, h.seed));
            if let Some(why) = h.stopped_by {
                row(&mut out, "", &format!("NOT COMPLETE: {why}; fewer passes were tried than asked for"));
            }
            for (what, mm2, error) in [
                ("bare", h.bare_mm2, h.bare_se_mm2),
                ("once", h.once_mm2, h.once_se_mm2),
                ("twice", h.twice_mm2, h.twice_se_mm2),
                ("thrice or more", h.thrice_or_more_mm2, h.thrice_or_more_se_mm2),
            ] {
                row(&mut out, "", &format!("{what:<14} {mm2:.3} mm2 +/- {error:.3}"));
            }
        }
    }
    if let Some(i) = &r.implied {
        let overlap = 100.0 * i.implied_overlap;
        let told = if overlap < 0.0 {
            format!("{} %: fired evenly, the spots would not touch", trimmed(overlap, 1))
        } else {
            format!("{} % if fired evenly, the edge reckoned in", trimmed(overlap, 1))
        };
        row(&mut out, "Implied", &format!("overlap {told}"));
        row(&mut out, "", "linear: 1 - pitch / spot diameter, of a hexagonal lattice");
        row(&mut out, "", &format!("{} pulses on a place, on average", trimmed(i.mean_pulses_per_point, 3)));
    }
    row(&mut out, "At random", &format!("so many pulses would leave {} mm2 bare", mm2(r.random_bare_mm2)));
    if let (Some(rate), Some(time)) = (r.rate_hz, r.time_s) {
        row(&mut out, "Time", &format!("{} s at {} Hz, first pulse to last", trimmed(time, 1), trimmed(rate, 2)));
    }
    if let Some(mm) = r.largest_spot_mm {
        row(&mut out, "Largest spot", &format!("{} mm that the energy fills with the fluence", trimmed(mm, 3)));
    }
    let exact = if r.areas.is_some() { "Exact areas for flat-top spots on flat skin. " } else { "" };
    out + "\n" + exact + "It explains; it sets nothing.\nThe device's manual and the clinic's protocol come first.\n"
}
