//! Rings about the axis, and how much each counts on the axis of a beam of any size.

use crate::physics::transport::Beam;

/// Rings of a plane; the last one counts all that lies further out.
pub(super) const RINGS: usize = 128;

/// Rings per square root of a centimetre: even in the root of the radius, so fine at the axis, where the light is.
/// They reach to 4 cm, more than twice the radius of any spot.
const RINGS_PER_ROOT_CM: f64 = RINGS as f64 / 2.0;

/// The ring at a place.
#[inline(always)]
pub(super) fn ring_at(x_cm: f32, y_cm: f32) -> usize {
    let ring = (x_cm * x_cm + y_cm * y_cm).sqrt().sqrt() * RINGS_PER_ROOT_CM as f32;
    (ring as usize).min(RINGS - 1)
}

/// Inner radius of a ring in cm.
fn start_cm(ring: usize) -> f64 {
    (ring as f64 / RINGS_PER_ROOT_CM).powi(2)
}

/// The share with which each ring counts on the axis of a beam.
pub(super) fn shares(beam: Beam) -> Vec<f64> {
    match beam {
        Beam::Wide => vec![1.0; RINGS],
        Beam::Flat { diameter_cm } => flat(diameter_cm / 2.0),
        Beam::Gaussian { diameter_cm } => gaussian(diameter_cm / 2.0),
    }
}

/// All rings within the radius, and of those about the edge as much as a cubic through the sums says.
fn flat(radius_cm: f64) -> Vec<f64> {
    let edge = radius_cm.sqrt() * RINGS_PER_ROOT_CM;
    // The sum over rings below an edge is known at whole numbers; between them four points make a cubic.
    let whole = (edge as usize).clamp(1, RINGS - 3);
    let s = edge - whole as f64;
    let lagrange = [
        -s * (s - 1.0) * (s - 2.0) / 6.0,
        (s + 1.0) * (s - 1.0) * (s - 2.0) / 2.0,
        -(s + 1.0) * s * (s - 2.0) / 2.0,
        (s + 1.0) * s * (s - 1.0) / 6.0,
    ];
    let share = |ring: usize| lagrange.iter().enumerate().filter(|(i, _)| ring + 1 < whole + i).map(|(_, f)| f).sum();
    (0..RINGS).map(share).collect()
}

/// The mean of the profile over each ring's area.
fn gaussian(radius_cm: f64) -> Vec<f64> {
    let w2 = radius_cm * radius_cm;
    let share = |ring: usize| {
        if ring + 1 == RINGS {
            return 0.0;
        }
        let (a, b) = (start_cm(ring).powi(2), start_cm(ring + 1).powi(2));
        // The integral of exp(-2 r^2 / w^2) over r^2 is its middle, written so that narrow rings lose no digits.
        let x = 2.0 * (b - a) / w2;
        (-2.0 * a / w2).exp() * -(-x).exp_m1() / x
    };
    (0..RINGS).map(share).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_flat_beam_that_ends_at_a_ring_counts_the_rings_within() {
        for ring in [2usize, 10, 60, 120] {
            for (i, share) in flat(start_cm(ring)).iter().enumerate() {
                let wanted = if i < ring { 1.0 } else { 0.0 };
                assert!((share - wanted).abs() < 1e-9, "{ring}, {i}: {share}");
            }
        }
    }

    /// Light spread evenly: the share within the radius is the area, whatever the rings.
    #[test]
    fn shares_of_even_light_are_areas() {
        let light = |shares: &[f64]| -> f64 {
            shares.iter().enumerate().map(|(r, s)| s * (start_cm(r + 1).powi(2) - start_cm(r).powi(2))).sum()
        };
        for radius in [0.025, 0.05, 0.1, 0.15, 0.3, 0.55, 1.0, 1.5] {
            let even = light(&flat(radius));
            assert!((even / (radius * radius) - 1.0).abs() < 2e-3, "{radius}: {even}");
            let even = light(&gaussian(radius));
            assert!((even / (radius * radius / 2.0) - 1.0).abs() < 1e-5, "{radius}: {even}");
        }
    }

    #[test]
    fn every_place_has_its_ring() {
        assert_eq!((ring_at(0.0, 0.0), ring_at(100.0, 3.0), ring_at(f32::INFINITY, 0.0)), (0, RINGS - 1, RINGS - 1));
        for ring in [0usize, 1, 7, 64, 126] {
            let middle = (start_cm(ring) + start_cm(ring + 1)) / 2.0;
            assert_eq!(ring_at(middle as f32, 0.0), ring);
        }
    }
}
