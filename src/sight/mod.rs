//! What is left of a screen's colours behind laser eyewear.
//!
//! Eyewear stops the laser's wavelengths and, with its tint, part of the light of the screen. From the spectra of a
//! [`Display`]'s three channels and a [`Filter`]'s transmission a [`View`] computes how bright a colour is behind the
//! filter, and how far two colours stand apart.
//!
//! All spectra are sampled at 380, 390, ... 780 nm, and integrals are sums over these 41 samples, as CIE 15 allows for
//! spectra without narrow lines. Displays and the shipped filters are models; a screen's data sheet and the eyewear's
//! own curve come first. Nothing here says what a filter protects from.

mod contrast;
mod display;
mod filter;
mod observer;

pub use contrast::{Contrast, Srgb, View};
pub use display::Display;
pub use filter::{Filter, KIND, Tint};
pub use observer::{chromaticity, d65, tristimulus};

/// The samples of every spectrum, from 380 nm up.
pub const SAMPLES: usize = 41;

const FIRST_NM: f64 = 380.0;
const STEP_NM: f64 = 10.0;

/// A value at each of 380, 390, ... 780 nm: light emitted, in any unit, or the share of light let through.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spectrum([f64; SAMPLES]);

impl Spectrum {
    /// These values, the first at 380 nm.
    #[must_use]
    pub const fn new(values: [f64; SAMPLES]) -> Self {
        Self(values)
    }

    /// The same value everywhere.
    #[must_use]
    pub const fn flat(value: f64) -> Self {
        Self([value; SAMPLES])
    }

    /// The values of a function of the wavelength in nm.
    #[must_use]
    pub fn of(value: impl Fn(f64) -> f64) -> Self {
        Self(std::array::from_fn(|i| value(FIRST_NM + STEP_NM * i as f64)))
    }

    /// The values with their wavelengths in nm.
    pub fn by_nm(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.0.iter().enumerate().map(|(i, v)| (FIRST_NM + STEP_NM * i as f64, *v))
    }

    /// Sample by sample, the product with another.
    #[must_use]
    pub fn times(&self, other: &Self) -> Self {
        let mut product = *self;
        for (value, factor) in product.0.iter_mut().zip(&other.0) {
            *value *= factor;
        }
        product
    }

    /// Every sample times a factor.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        Self(self.0.map(|v| v * factor))
    }

    /// The sum of all samples.
    #[must_use]
    pub fn sum(&self) -> f64 {
        self.0.iter().sum()
    }
}
