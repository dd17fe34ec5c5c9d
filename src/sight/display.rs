//! Screens as spectra.

use super::Spectrum;
use super::observer::luminous_efficiency;
use crate::words::words;

words! {
    /// A model of a screen.
    Display, "display" {
        /// Smooth channels with the chromaticities of sRGB's primaries.
        Srgb = "srgb",
        /// A panel lit by white LEDs: blue LED, phosphor, colour filters.
        Led = "led",
    }
}

/// The share of the white's luminance that red, green and blue have at full drive (IEC 61966-2-1 for sRGB; the
/// weights of WCAG 2's relative luminance).
pub(super) const WEIGHTS: [f64; 3] = [0.2126, 0.7152, 0.0722];

/// A Gaussian of height 1 with its middle and its full width at half maximum in nm.
fn line(nm: f64, middle: f64, fwhm: f64) -> f64 {
    (-4.0 * std::f64::consts::LN_2 * ((nm - middle) / fwhm).powi(2)).exp()
}

impl Display {
    /// Emission of red, green and blue at full drive, scaled so that each has its share of the white's luminance.
    ///
    /// - `srgb`: each channel is the Gaussian, or sum of two, that has the chromaticity of sRGB's primary (IEC
    ///   61966-2-1: 0.640 0.330, 0.300 0.600, 0.150 0.060) to 0.001; the white is D65 to 0.001. Two figures of each
    ///   were solved for it, the others chosen. Many spectra have these chromaticities: it is a model.
    /// - `led`: R = g(610, 50) + 0.35 g(640, 40), G = g(535, 70), B = g(450, 20) + 0.08 g(490, 40), with g a Gaussian
    ///   by middle and width: a model, its peaks within the ranges that are usual for LED-lit panels (from memory).
    ///
    /// Screens with narrower green (quantum dots, organic LEDs) lose more of it behind an orange tint than either.
    #[must_use]
    pub fn channels(self) -> [Spectrum; 3] {
        let raw = match self {
            Self::Srgb => [
                Spectrum::of(|nm| line(nm, 629.19, 60.0) + 0.025_92 * line(nm, 450.0, 50.0)),
                Spectrum::of(|nm| line(nm, 539.12, 78.47)),
                Spectrum::of(|nm| line(nm, 456.20, 50.0) + 0.019_62 * line(nm, 550.0, 100.0)),
            ],
            Self::Led => [
                Spectrum::of(|nm| line(nm, 610.0, 50.0) + 0.35 * line(nm, 640.0, 40.0)),
                Spectrum::of(|nm| line(nm, 535.0, 70.0)),
                Spectrum::of(|nm| line(nm, 450.0, 20.0) + 0.08 * line(nm, 490.0, 40.0)),
            ],
        };
        let mut channels = raw;
        for (channel, weight) in channels.iter_mut().zip(WEIGHTS) {
            *channel = channel.scaled(weight / channel.times(luminous_efficiency()).sum());
        }
        channels
    }
}

#[cfg(test)]
mod tests {
    use super::super::{SAMPLES, chromaticity, tristimulus};
    use super::*;
    use crate::words::Word;

    fn near(light: &Spectrum, wanted: [f64; 2]) {
        let [x, y] = chromaticity(light).unwrap();
        assert!((x - wanted[0]).abs() < 1e-3 && (y - wanted[1]).abs() < 1e-3, "{x} {y} against {wanted:?}");
    }

    #[test]
    fn the_srgb_screen_has_the_primaries_and_the_white_of_its_standard() {
        let [r, g, b] = Display::Srgb.channels();
        near(&r, [0.640, 0.330]);
        near(&g, [0.300, 0.600]);
        near(&b, [0.150, 0.060]);
        let mut white = [0.0; SAMPLES];
        for channel in [&r, &g, &b] {
            for (sum, (_, value)) in white.iter_mut().zip(channel.by_nm()) {
                *sum += value;
            }
        }
        near(&Spectrum::new(white), [0.3127, 0.3290]);
    }

    #[test]
    fn white_has_luminance_one_on_every_screen() {
        for display in Display::ALL {
            let whole: f64 = display.channels().iter().map(|c| tristimulus(c)[1]).sum();
            assert!((whole - 1.0).abs() < 1e-12, "{display}: {whole}");
        }
    }

    #[test]
    fn the_led_screen_peaks_where_such_screens_do() {
        let peaks = Display::Led.channels().map(|c| c.by_nm().fold((0.0, 0.0), |a, b| if b.1 > a.1 { b } else { a }).0);
        assert!((peaks[2] - 450.0).abs() < 1e-9, "{peaks:?}");
        assert!((530.0..=545.0).contains(&peaks[1]) && (605.0..=615.0).contains(&peaks[0]), "{peaks:?}");
    }
}
