//! Intervals of shares.

/// The two-sided 95 % point of the normal distribution.
const Z: f64 = 1.959_963_984_540_054;

/// Wilson's score interval of a share, 95 %: `seen` of `of`. The whole range from 0 to 1 where nothing was counted.
///
/// Source: Wilson EB, J Am Stat Assoc 1927;22:209-212; without a correction for continuity.
#[must_use]
pub fn wilson_95(seen: u64, of: u64) -> (f64, f64) {
    if of == 0 {
        return (0.0, 1.0);
    }
    let n = of as f64;
    let p = seen.min(of) as f64 / n;
    let z2 = Z * Z;
    let scale = 1.0 + z2 / n;
    let centre = (p + z2 / (2.0 * n)) / scale;
    let half = Z / scale * (p * (1.0 - p) / n + z2 / (4.0 * n * n)).sqrt();
    // At the ends the interval closes exactly; rounding must not leave it.
    let low = if seen == 0 { 0.0 } else { (centre - half).max(0.0) };
    let high = if seen >= of { 1.0 } else { (centre + half).min(1.0) };
    (low, high)
}
