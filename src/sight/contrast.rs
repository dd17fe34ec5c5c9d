//! How bright colours are behind a filter, and how far they stand apart.

use super::display::{Display, WEIGHTS};
use super::filter::Filter;
use super::observer::luminous_efficiency;

/// A colour of the screen: the drive of red, green and blue.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Srgb(pub [u8; 3]);

impl Srgb {
    /// The share of each channel's light, 0 to 1 (the curve of IEC 61966-2-1, as WCAG 2.x gives it).
    #[must_use]
    pub fn linear(self) -> [f64; 3] {
        self.0.map(|value| {
            let c = f64::from(value) / 255.0;
            if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
        })
    }
}

/// The contrast of two colours, at least 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contrast {
    /// For an eye that has adapted to the filter: the light of the room that the screen reflects passes it too.
    pub adapted: f64,
    /// For an eye that has not: the reflected light weighs as much as without a filter. It punishes dark filters.
    pub dim: f64,
}

/// Light of the room that a screen reflects, as a share of its white (WCAG 2.x).
const FLARE: f64 = 0.05;

/// A display seen through a filter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct View {
    channels: [f64; 3],
    vlt: f64,
}

impl View {
    /// The display through the filter. For each channel c with emission S the share of its light that is left is
    /// T_c = sum(S tau V) / sum(S V).
    #[must_use]
    pub fn new(filter: &Filter, display: Display) -> Self {
        let mut channels = [0.0; 3];
        for ((left, emitted), weight) in channels.iter_mut().zip(display.channels()).zip(WEIGHTS) {
            // The channels are scaled so that sum(S V) is the weight.
            *left = emitted.times(filter.transmission()).times(luminous_efficiency()).sum() / weight;
        }
        Self { channels, vlt: filter.vlt() }
    }

    /// The share of the light of red, green and blue that is left, 0 to 1.
    #[must_use]
    pub const fn channels_left(&self) -> [f64; 3] {
        self.channels
    }

    /// The luminance of a colour behind the filter, as a share of the white's without it, 0 to 1:
    /// L = 0.2126 T_R R + 0.7152 T_G G + 0.0722 T_B B.
    #[must_use]
    pub fn luminance(&self, colour: Srgb) -> f64 {
        colour
            .linear()
            .iter()
            .zip(self.channels)
            .zip(WEIGHTS)
            .map(|((drive, left), weight)| drive * left * weight)
            .sum()
    }

    /// The contrast of two colours, in whichever order: (L1 + 0.05 VLT) / (L2 + 0.05 VLT) adapted and
    /// (L1 + 0.05) / (L2 + 0.05) dim, the brighter above. Without a filter both are WCAG 2.x's contrast ratio; what a
    /// filter makes of it is our extension.
    #[must_use]
    pub fn contrast(&self, a: Srgb, b: Srgb) -> Contrast {
        let (a, b) = (self.luminance(a), self.luminance(b));
        let (bright, dark) = (a.max(b), a.min(b));
        let above = |flare: f64| {
            // Behind a filter that lets nothing through all colours are one.
            if dark + flare > 0.0 { (bright + flare) / (dark + flare) } else { 1.0 }
        };
        Contrast { adapted: above(FLARE * self.vlt), dim: above(FLARE) }
    }
}

#[cfg(test)]
mod tests {
    use super::super::Spectrum;
    use super::*;
    use crate::words::Word;
    use proptest::prelude::*;

    const WHITE: Srgb = Srgb([255; 3]);
    const BLACK: Srgb = Srgb([0; 3]);

    fn view(transmission: Spectrum) -> View {
        View::new(&Filter::of("any", transmission).unwrap(), Display::Led)
    }

    /// WCAG 2.x: black on white is 21, #767676 on white the darkest grey that has 4.5 (its well-known example).
    #[test]
    fn without_a_filter_it_is_the_contrast_of_the_web_s_guidelines() {
        for display in Display::ALL {
            let bare = View::new(&Filter::none(), *display);
            let c = bare.contrast(BLACK, WHITE);
            assert!((c.adapted - 21.0).abs() < 1e-9 && (c.dim - 21.0).abs() < 1e-9, "{c:?}");
            assert!(bare.contrast(Srgb([0x76; 3]), WHITE).adapted >= 4.5);
            assert!(bare.contrast(Srgb([0x77; 3]), WHITE).adapted < 4.5);
        }
    }

    #[test]
    fn grey_glass_leaves_the_adapted_contrast_and_lowers_the_dim_one() {
        let grey = view(Spectrum::flat(0.2)).contrast(BLACK, WHITE);
        assert!((grey.adapted - 21.0).abs() < 1e-9, "{grey:?}");
        assert!((grey.dim - 5.0).abs() < 1e-9, "0.25 over 0.05: {grey:?}");
        let shut = view(Spectrum::flat(0.0)).contrast(BLACK, WHITE);
        assert_eq!((shut.adapted, shut.dim), (1.0, 1.0));
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn contrast_is_at_least_one_and_the_same_both_ways(
            a: [u8; 3], b: [u8; 3], tau in proptest::array::uniform32(0.0f64..=1.0),
        ) {
            let view = view(Spectrum::of(|nm| tau[((nm - 380.0) / 10.0) as usize % 32]));
            let (one, other) = (view.contrast(Srgb(a), Srgb(b)), view.contrast(Srgb(b), Srgb(a)));
            prop_assert_eq!(one, other);
            prop_assert!(one.adapted >= 1.0 && one.dim >= 1.0 && one.adapted.is_finite());
            prop_assert!((0.0..=1.0).contains(&view.luminance(Srgb(a))));
        }
    }
}
