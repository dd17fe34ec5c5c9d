//! Intervals of shares against statsmodels and scipy.

use super::csv;
use fadewright::review::wilson_95;

/// `wilson.csv`: `proportion_confint(method="wilson")` of statsmodels, agreeing with `binomtest.proportion_ci` of scipy to
/// 1e-12 (`tests/reference/wilson_reference.py`).
#[test]
fn wilson_intervals_are_those_of_statsmodels_and_scipy() {
    let rows = csv(include_str!("wilson.csv"));
    assert!(rows.len() >= 15);
    for row in rows {
        let (low, high) = wilson_95(row[0] as u64, row[1] as u64);
        assert!((low - row[2]).abs() < 1e-12, "{} of {}: {low} against {}", row[0], row[1], row[2]);
        assert!((high - row[3]).abs() < 1e-12, "{} of {}: {high} against {}", row[0], row[1], row[3]);
    }
}

/// Newcombe RG, Stat Med 1998;17:857-872, table I, method 3 (quoted from memory): 81 of 263 gives 0.2553 to 0.3662, 15 of
/// 148 gives 0.0624 to 0.1605.
#[test]
fn wilson_intervals_are_those_of_newcombes_examples() {
    for (seen, of, low, high) in [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605)] {
        let found = wilson_95(seen, of);
        assert!((found.0 - low).abs() < 5e-5 && (found.1 - high).abs() < 5e-5, "{found:?}");
    }
}
