//! Light on the axis of a beam of any size, from one run with a pencil beam.
//!
//! By symmetry the fluence on the axis under a wide beam is the pencil's fluence summed over all places where the
//! beam's light comes in, each with its share (Wang L, Jacques SL, Zheng L, Comput Methods Programs Biomed 54:141,
//! 1997, on convolution for beams of finite diameter).

use super::grid::Grid;
use super::kernel::ONE;
use super::tally::Tally;
use crate::physics::transport::{Beam, Measured, TransportError};

/// What a pencil beam left in a stack, in batches that give the statistical errors.
#[derive(Clone)]
pub struct Pencil {
    pub(super) grid: Grid,
    pub(super) batches: Vec<Tally>,
    /// Share of the light that is not reflected before it first interacts.
    pub(super) entering: f64,
    pub(super) deepest_cm: f64,
}

impl std::fmt::Debug for Pencil {
    /// Says how large it is; its cells would fill books.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Pencil").field("batches", &self.batches.len()).field("cells", &self.grid.cells()).finish()
    }
}

impl Pencil {
    /// Fluence on the beam's axis at a depth, per unit of incident fluence (of the peak, for a Gaussian beam).
    ///
    /// At an interface between layers the value is that of the layer below.
    ///
    /// # Errors
    /// [`TransportError::Depth`] for a depth that was not asked for when the run was started, in a clear layer, or
    /// outside the stack.
    pub fn fluence(&self, beam: Beam, depth_cm: f64) -> Result<Measured, TransportError> {
        let batches = self.batch_values(beam, depth_cm)?;
        Ok(Measured::of_batches(&batches))
    }

    /// The fluence of [`Pencil::fluence`] batch by batch: photons and value. Two of these, taken batch by batch, give
    /// the error of a ratio, in which most of the noise cancels.
    ///
    /// # Errors
    /// As [`Pencil::fluence`].
    pub fn batch_values(&self, beam: Beam, depth_cm: f64) -> Result<Vec<(u64, f64)>, TransportError> {
        let within = (0.0..=self.deepest_cm * (1.0 + 1e-9)).contains(&depth_cm);
        let terms = within.then(|| self.grid.at_depth(depth_cm)).flatten();
        let terms = terms.ok_or(TransportError::Depth { depth_cm })?;
        let shares = ring_shares(beam);
        Ok(self
            .batches
            .iter()
            .filter(|b| b.photons > 0)
            .map(|b| {
                let parts: f64 = terms.iter().map(|(bin, factor)| factor * weighed(b, *bin, &shares)).sum();
                (b.photons, self.entering * parts / b.launched() as f64)
            })
            .collect())
    }
}

/// Weight in a depth bin, each ring counted with its share.
fn weighed(batch: &Tally, bin: usize, shares: &[f64]) -> f64 {
    let rings = batch.cells.iter().skip(bin * Grid::RINGS).take(Grid::RINGS);
    rings.zip(shares).map(|(parts, share)| *parts as f64 * share).sum()
}

/// The share with which each ring counts on the axis of a beam.
fn ring_shares(beam: Beam) -> Vec<f64> {
    match beam {
        Beam::Wide => vec![1.0; Grid::RINGS],
        Beam::Flat { diameter_cm } => flat_shares(diameter_cm / 2.0),
        Beam::Gaussian { diameter_cm } => gaussian_shares(diameter_cm / 2.0),
    }
}

/// All rings within the radius, and of those about the edge as much as a cubic through the sums says.
fn flat_shares(radius_cm: f64) -> Vec<f64> {
    let edge = radius_cm.sqrt() * Grid::BINS_PER_ROOT_CM;
    // The sum over rings below an edge is known at whole numbers; between them four points make a cubic.
    let whole = (edge as usize).clamp(1, Grid::RINGS - 3);
    let s = edge - whole as f64;
    let lagrange = [
        -s * (s - 1.0) * (s - 2.0) / 6.0,
        (s + 1.0) * (s - 1.0) * (s - 2.0) / 2.0,
        -(s + 1.0) * s * (s - 2.0) / 2.0,
        (s + 1.0) * s * (s - 1.0) / 6.0,
    ];
    (0..Grid::RINGS)
        .map(|ring| {
            let sums = lagrange.iter().enumerate();
            sums.filter(|(i, _)| ring + 1 < whole + i).map(|(_, f)| f).sum()
        })
        .collect()
}

/// The mean of the profile over each ring's area.
fn gaussian_shares(radius_cm: f64) -> Vec<f64> {
    let w2 = radius_cm * radius_cm;
    (0..Grid::RINGS)
        .map(|ring| {
            let (a, b) = (Grid::ring_start_cm(ring).powi(2), Grid::ring_start_cm(ring + 1).powi(2));
            if ring + 1 == Grid::RINGS {
                return 0.0;
            }
            // The integral of exp(-2 r^2 / w^2) over r^2, written so that narrow rings lose no digits.
            let x = 2.0 * (b - a) / w2;
            (-2.0 * a / w2).exp() * -(-x).exp_m1() / x
        })
        .collect()
}

impl Tally {
    /// Weight as a share of what was launched.
    pub(super) fn share(&self, parts: u64) -> f64 {
        parts as f64 / (self.photons as f64 * f64::from(ONE))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_flat_beam_that_ends_at_a_ring_counts_the_rings_within() {
        for ring in [2usize, 10, 60, 120] {
            let shares = flat_shares(Grid::ring_start_cm(ring));
            for (i, share) in shares.iter().enumerate() {
                let wanted = if i < ring { 1.0 } else { 0.0 };
                assert!((share - wanted).abs() < 1e-9, "{ring}, {i}: {share}");
            }
        }
    }

    /// Light spread evenly: the share within the radius is the area, whatever the bins.
    #[test]
    fn shares_of_even_light_are_areas() {
        let light = |shares: &[f64]| -> f64 {
            let area = |r: usize| Grid::ring_start_cm(r + 1).powi(2) - Grid::ring_start_cm(r).powi(2);
            shares.iter().enumerate().map(|(r, s)| s * area(r)).sum()
        };
        for radius in [0.025, 0.05, 0.1, 0.15, 0.3, 0.55, 1.0, 1.5] {
            let flat = light(&flat_shares(radius));
            assert!((flat / (radius * radius) - 1.0).abs() < 2e-3, "{radius}: {flat}");
            let gaussian = light(&gaussian_shares(radius));
            assert!((gaussian / (radius * radius / 2.0) - 1.0).abs() < 1e-5, "{radius}: {gaussian}");
        }
    }
}
