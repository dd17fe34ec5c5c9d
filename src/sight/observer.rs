//! The standard observer and daylight.

use super::Spectrum;

/// CIE 1931 2-degree colour matching function for X (CIE 15, ISO/CIE 11664-1; every tenth value of the 1 nm table in
/// colour-science 0.4.7); Y and Z alike.
const X_BAR: Spectrum = Spectrum::new([
    0.001368, 0.004243, 0.01431, 0.04351, 0.13438, 0.2839, 0.34828, 0.3362, 0.2908, 0.19536, 0.09564, 0.03201, 0.0049,
    0.0093, 0.06327, 0.1655, 0.2904, 0.43345, 0.5945, 0.7621, 0.9163, 1.0263, 1.0622, 1.0026, 0.85445, 0.6424, 0.4479,
    0.2835, 0.1649, 0.0874, 0.04677, 0.0227, 0.011359, 0.00579, 0.002899, 0.00144, 0.00069, 0.000332, 0.000166,
    0.000083, 0.000042,
]);

/// For Y: the luminous efficiency V of photopic vision.
const Y_BAR: Spectrum = Spectrum::new([
    0.000039, 0.00012, 0.000396, 0.00121, 0.004, 0.0116, 0.023, 0.038, 0.06, 0.09098, 0.13902, 0.20802, 0.323, 0.503,
    0.71, 0.862, 0.954, 0.99495, 0.995, 0.952, 0.87, 0.757, 0.631, 0.503, 0.381, 0.265, 0.175, 0.107, 0.061, 0.032,
    0.017, 0.00821, 0.004102, 0.002091, 0.001047, 0.00052, 0.000249, 0.00012, 0.00006, 0.00003, 0.000015,
]);

/// For Z.
const Z_BAR: Spectrum = Spectrum::new([
    0.00645, 0.02005, 0.06785, 0.2074, 0.6456, 1.3856, 1.74706, 1.77211, 1.6692, 1.28764, 0.81295, 0.46518, 0.272,
    0.1582, 0.07825, 0.04216, 0.0203, 0.00875, 0.0039, 0.0021, 0.00165, 0.0011, 0.0008, 0.00034, 0.00019, 0.00005,
    0.00002, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0,
]);

/// Relative power of the daylight D65, 100 at 560 nm (CIE 15, ISO/CIE 11664-2, as in colour-science 0.4.7).
const D65: Spectrum = Spectrum::new([
    49.9755, 54.6482, 82.7549, 91.486, 93.4318, 86.6823, 104.865, 117.008, 117.812, 114.861, 115.923, 108.811, 109.354,
    107.802, 104.79, 107.689, 104.405, 104.046, 100.0, 96.3342, 95.788, 88.6856, 90.0062, 89.5991, 87.6987, 83.2886,
    83.6992, 80.0268, 80.2146, 82.2778, 78.2842, 69.7213, 71.6091, 74.349, 61.604, 69.8856, 75.087, 63.5927, 46.4182,
    66.8054, 63.3828,
]);

/// The daylight D65, relative to 100 at 560 nm.
#[must_use]
pub const fn d65() -> &'static Spectrum {
    &D65
}

/// The luminous efficiency V.
pub(super) const fn luminous_efficiency() -> &'static Spectrum {
    &Y_BAR
}

/// X, Y and Z of emitted light: the sums of its samples times the colour matching functions.
#[must_use]
pub fn tristimulus(light: &Spectrum) -> [f64; 3] {
    [X_BAR, Y_BAR, Z_BAR].map(|bar| light.times(&bar).sum())
}

/// The chromaticity x, y of emitted light; none when there is no light.
#[must_use]
pub fn chromaticity(light: &Spectrum) -> Option<[f64; 2]> {
    let [x, y, z] = tristimulus(light);
    let sum = x + y + z;
    (sum > 0.0).then(|| [x / sum, y / sum])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two half-Gaussians of different width, as Wyman, Sloan and Shirley write them.
    fn lobe(nm: f64, height: f64, middle: f64, below: f64, above: f64) -> f64 {
        let t = (nm - middle) * if nm < middle { below } else { above };
        height * (-0.5 * t * t).exp()
    }

    /// C. Wyman, P.-P. Sloan, P. Shirley, Simple Analytic Approximations to the CIE XYZ Color Matching Functions,
    /// JCGT 2(2), 2013, the multi-lobe fit (figures as two public programs repeat its listing).
    #[test]
    fn the_tables_follow_the_analytic_fit() {
        let x = |nm| {
            lobe(nm, 0.362, 442.0, 0.0624, 0.0374) + lobe(nm, 1.056, 599.8, 0.0264, 0.0323)
                - lobe(nm, 0.065, 501.1, 0.0490, 0.0382)
        };
        let y = |nm| lobe(nm, 0.821, 568.8, 0.0213, 0.0247) + lobe(nm, 0.286, 530.9, 0.0613, 0.0322);
        let z = |nm| lobe(nm, 1.217, 437.0, 0.0845, 0.0278) + lobe(nm, 0.681, 459.0, 0.0385, 0.0725);
        let fits: [&dyn Fn(f64) -> f64; 3] = [&x, &y, &z];
        for (bar, fit) in [X_BAR, Y_BAR, Z_BAR].iter().zip(fits) {
            let peak = bar.by_nm().map(|(_, v)| v).fold(0.0, f64::max);
            for (nm, value) in bar.by_nm() {
                assert!((value - fit(nm)).abs() < 0.025 * peak, "{nm} nm: {value} against {}", fit(nm));
            }
        }
    }

    /// The three functions have one area: an equal-energy light has x = y = 1/3. The published sum of each from 360 to
    /// 830 nm at 1 nm is 106.87, 106.86 and 106.89 (CIE 018; from memory, and the sums of colour-science 0.4.7's table).
    #[test]
    fn the_sums_are_the_published_ones() {
        let white = chromaticity(&Spectrum::flat(1.0)).unwrap();
        assert!(white.iter().all(|v| (v - 1.0 / 3.0).abs() < 2e-4), "{white:?}");
        for (sum, published) in tristimulus(&Spectrum::flat(10.0)).into_iter().zip([106.87, 106.86, 106.89]) {
            assert!((sum / published - 1.0).abs() < 1.5e-3, "{sum} against {published}");
        }
    }

    /// Published chromaticity of D65: 0.3127, 0.3290 (CIE 15; IEC 61966-2-1 names it as sRGB's white).
    #[test]
    fn daylight_has_its_published_chromaticity() {
        let [x, y] = chromaticity(&D65).unwrap();
        assert!((x - 0.3127).abs() < 2e-4 && (y - 0.3290).abs() < 2e-4, "{x} {y}");
        assert!(chromaticity(&Spectrum::flat(0.0)).is_none());
    }
}
