//! Light on the axis of a beam of any size, from one run with a pencil beam.
//!
//! By symmetry the fluence on the axis under a wide beam is the pencil's fluence summed over all places where the
//! beam's light comes in, each with its share (Wang L, Jacques SL, Zheng L, Comput Methods Programs Biomed 54:141,
//! 1997, on convolution for beams of finite diameter).

use super::rings::{RINGS, shares};
use super::tally::Tally;
use crate::physics::transport::{Beam, Measured, TransportError};

/// What a pencil beam left at the depths asked for, ring by ring, in batches that give the statistical errors.
#[derive(Clone)]
pub struct Pencil {
    pub(super) batches: Vec<Tally>,
    /// The depths asked for, and the plane of each.
    pub(super) planes: Vec<(f64, usize)>,
    /// Share of the light that is not reflected before it first interacts.
    pub(super) entering: f64,
}

impl std::fmt::Debug for Pencil {
    /// Says how large it is; its rings would fill pages.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Pencil").field("batches", &self.batches.len()).field("planes", &self.planes).finish()
    }
}

impl Pencil {
    /// Fluence on the beam's axis at a depth, per unit of incident fluence (of the peak, for a Gaussian beam).
    ///
    /// At an interface between layers the value is that of the layer below, at the very bottom of the layer above.
    ///
    /// # Errors
    /// [`TransportError::Depth`] for a depth that was not asked for when the run was started.
    pub fn fluence(&self, beam: Beam, depth_cm: f64) -> Result<Measured, TransportError> {
        Ok(Measured::of_batches(&self.batch_values(beam, depth_cm)?))
    }

    /// The fluence of [`Pencil::fluence`] batch by batch: photons and value. Two of these give the error of a ratio,
    /// in which most of the noise cancels.
    ///
    /// # Errors
    /// As [`Pencil::fluence`].
    pub fn batch_values(&self, beam: Beam, depth_cm: f64) -> Result<Vec<(u64, f64)>, TransportError> {
        let plane = self.planes.iter().find(|(z, _)| (z - depth_cm).abs() <= 0.0);
        let (_, plane) = plane.ok_or(TransportError::Depth { depth_cm })?;
        let shares = shares(beam);
        let value = |batch: &Tally| {
            let rings = batch.rings.iter().skip(plane * RINGS).take(RINGS);
            let parts: f64 = rings.zip(&shares).map(|(parts, share)| *parts as f64 * share).sum();
            self.entering * parts / batch.launched() as f64
        };
        Ok(self.batches.iter().filter(|b| b.photons > 0).map(|b| (b.photons, value(b))).collect())
    }
}
