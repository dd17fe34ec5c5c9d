//! What a walk counts: whole parts of photons, so that sums are exact in any order.

use super::kernel::ONE;
use super::rings::RINGS;

/// Counts of one slice or one batch.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Tally {
    /// Photons launched and followed to their end.
    pub(super) photons: u64,
    /// Interactions.
    pub(super) events: u64,
    /// Parts that left above.
    pub(super) reflected: u64,
    /// Parts that left below.
    pub(super) transmitted: u64,
    /// Parts absorbed, a layer.
    pub(super) absorbed: Vec<u64>,
    /// Parts that went through a plane, each over the cosine of its direction, ring by ring and plane by plane. Over
    /// what was launched this is fluence.
    pub(super) rings: Vec<u64>,
}

impl Tally {
    pub(super) fn new(layers: usize, planes: usize) -> Self {
        Self { absorbed: vec![0; layers], rings: vec![0; planes * RINGS], ..Self::default() }
    }

    pub(super) fn clear(&mut self) {
        (self.photons, self.events, self.reflected, self.transmitted) = (0, 0, 0, 0);
        self.absorbed.fill(0);
        self.rings.fill(0);
    }

    pub(super) fn add(&mut self, other: &Self) {
        self.photons += other.photons;
        self.events += other.events;
        self.reflected += other.reflected;
        self.transmitted += other.transmitted;
        let pairs = |a: &mut Vec<u64>, b: &[u64]| a.iter_mut().zip(b).for_each(|(a, b)| *a += b);
        pairs(&mut self.absorbed, &other.absorbed);
        pairs(&mut self.rings, &other.rings);
    }

    /// Parts as a share of what was launched.
    pub(super) fn share(&self, parts: u64) -> f64 {
        parts as f64 / self.launched() as f64
    }

    /// All parts that came to an end, whichever.
    #[cfg(test)]
    pub(super) fn ended(&self) -> u64 {
        self.reflected + self.transmitted + self.absorbed.iter().sum::<u64>()
    }

    /// Parts launched.
    pub(super) fn launched(&self) -> u64 {
        self.photons * ONE as u64
    }
}
