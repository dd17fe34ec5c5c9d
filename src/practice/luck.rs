//! Chance that can be repeated.

use rand_pcg::Pcg64;
use rand_pcg::rand_core::{Rng, SeedableRng};
use std::f64::consts::TAU;

/// A stream of chance; the same seed and name give the same stream, whatever others were drawn from.
#[derive(Debug, Clone)]
pub struct Luck(Pcg64);

impl Luck {
    /// The stream of a seed for a purpose.
    #[must_use]
    pub fn of(seed: u64, purpose: u64) -> Self {
        // Streams that start alike resemble each other, so the start depends on the purpose too.
        let start = Pcg64::seed_from_u64(seed).next_u64() ^ purpose.wrapping_mul(0x9E37_79B9_7F4A_7C15);
        let start = Pcg64::seed_from_u64(start).next_u64();
        Self(Pcg64::new((u128::from(start) << 64) | u128::from(seed), u128::from(purpose)))
    }

    /// Evenly from 0 to 1, 1 left out.
    pub fn even(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// True with this chance.
    pub fn strikes(&mut self, chance: f64) -> bool {
        self.even() < chance
    }

    /// Two normal deviates (Box and Muller 1958).
    pub fn normal_pair(&mut self) -> (f64, f64) {
        let (radius, angle) = ((-2.0 * (1.0 - self.even()).ln()).sqrt(), TAU * self.even());
        (radius * angle.cos(), radius * angle.sin())
    }
}
