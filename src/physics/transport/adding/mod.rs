//! Light in a stack of plane layers under a beam much wider than the light spreads: the equation of transfer, solved
//! without chance.
//!
//! Each layer's reflection and transmission is found in closed form (`layer.rs` says how) and layers are put on top
//! of each other, with the boundaries between them, by the adding method: van de Hulst, *Multiple Light Scattering*
//! (1980); for tissue Prahl, van Gemert & Welch, Appl Opt 32:559 (1993); both cited from memory. Unlike there, layers
//! may differ in refractive index, and the fluence inside comes with it. Scattering is Henyey and Greenstein's.
//!
//! Against published and independent values see `tests/against_published/adding.rs`.

mod directions;
mod interface;
mod layer;
mod quadrature;
mod singular;
mod solve;

use crate::physics::Stack;
use serde::Serialize;

/// Directions to a quarter circle that [`wide_beam`] follows.
pub const ORDER: usize = 24;
/// The coarser order that [`wide_beam`] compares with.
pub const CHECK_ORDER: usize = 16;
/// Fewest and most directions to a quarter circle.
const ORDERS: (usize, usize) = (4, 128);

/// What a wide beam does, per unit of what comes in at normal incidence from above.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WideBeam {
    /// What comes back before it has met an absorbing or scattering layer, 0 to 1.
    pub specular_reflectance: f64,
    /// All else that comes back, 0 to 1.
    pub diffuse_reflectance: f64,
    /// All that goes through, 0 to 1, scattered or not.
    pub transmittance: f64,
    /// The part of the transmittance that was never scattered, 0 to 1.
    pub unscattered_transmittance: f64,
    /// What each layer absorbs, 0 to 1, from the top.
    pub absorbed: Vec<f64>,
    /// Fluence at each depth that was asked for, per incident fluence. It counts light from all directions alike, so it
    /// may exceed 1 by far.
    pub fluence: Vec<f64>,
}

impl WideBeam {
    /// What comes back in all, 0 to 1.
    #[must_use]
    pub fn total_reflectance(&self) -> f64 {
        self.specular_reflectance + self.diffuse_reflectance
    }
}

/// A result and how far it may be off.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Solution {
    /// The figures, at [`ORDER`].
    pub values: WideBeam,
    /// For each figure how far it may be off, from its distance and its neighbours' from those at [`CHECK_ORDER`]. An
    /// estimate: the values are usually several times closer to the exact solution.
    pub error: WideBeam,
}

/// Power per solid angle that leaves on either side, per unit of power that comes in: pairs of cosine (against the
/// normal, outside, falling from 1) and value in 1/sr. The reflection of the first boundary and the light that was
/// never scattered are left out.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Angular {
    /// Upwards.
    pub reflected_per_sr: Vec<(f64, f64)>,
    /// Downwards.
    pub transmitted_per_sr: Vec<(f64, f64)>,
}

/// Why there is no solution.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum AddingError {
    /// A depth that is not in the stack.
    #[error("depth {depth_cm} cm is not within the layers, which are {thickness_cm} cm thick")]
    DepthOutside {
        /// The depth asked for, in cm.
        depth_cm: f64,
        /// Thickness of all layers in cm.
        thickness_cm: f64,
    },
    /// The numerics failed. No stack is known that leads here.
    #[error("the layers could not be solved; please report them")]
    NotSolved,
}

/// Solves a stack under a wide beam at normal incidence, with the fluence at each of the depths in cm from the top.
///
/// A depth at a boundary belongs to the layer beneath it (fluence jumps where the index does); the end of the stack to
/// the last layer. For skin-like layers (g about 0.9) reflectance, transmittance and absorption are within 5e-6 and the
/// fluence within 2e-5 of its value; for g up to 0.995 within 1e-4 and 3e-4.
///
/// # Errors
/// [`AddingError::DepthOutside`] for a depth that is not in the stack or not a number.
pub fn wide_beam(stack: &Stack, depths_cm: &[f64]) -> Result<Solution, AddingError> {
    let mut probes = depths_cm.to_vec();
    probes.push(0.0);
    let mut values = wide_beam_at(stack, &probes, ORDER)?;
    let coarse = wide_beam_at(stack, &probes, CHECK_ORDER)?;
    let error = distance(&values, &coarse, &probes);
    values.fluence.truncate(depths_cm.len());
    Ok(Solution { values, error })
}

/// How far apart two solutions are. One figure may agree by chance where its error changes sign, so its neighbours
/// count too: no share is better known, relative to itself, than the reflectance, and no fluence better than what lies
/// above it. The last of the depths is left out.
fn distance(fine: &WideBeam, coarse: &WideBeam, depths_cm: &[f64]) -> WideBeam {
    let rounding = |value: f64| 1e-12 * value.abs().max(1.0);
    let shares = |of: &WideBeam| {
        let mut shares = vec![of.diffuse_reflectance, of.transmittance];
        shares.extend(&of.absorbed);
        shares
    };
    let widest = shares(fine).iter().zip(shares(coarse)).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
    let share = |a: f64, b: f64| (a - b).abs().max(widest * a) + rounding(a);
    let relative = |(a, b): (&f64, &f64)| if *a > 0.0 { (a - b).abs() / a } else { 0.0 };
    let relative: Vec<f64> = fine.fluence.iter().zip(&coarse.fluence).map(relative).collect();
    let above =
        |depth: f64| depths_cm.iter().zip(&relative).filter(|(z, _)| **z <= depth).map(|(_, r)| *r).fold(0.0, f64::max);
    let mut fluence: Vec<f64> =
        fine.fluence.iter().zip(depths_cm).map(|(phi, z)| (phi * above(*z)).abs() + rounding(*phi)).collect();
    fluence.pop();
    WideBeam {
        specular_reflectance: rounding(fine.specular_reflectance),
        diffuse_reflectance: widest + rounding(1.0),
        transmittance: share(fine.transmittance, coarse.transmittance),
        unscattered_transmittance: rounding(fine.unscattered_transmittance),
        absorbed: fine.absorbed.iter().zip(&coarse.absorbed).map(|(a, b)| share(*a, *b)).collect(),
        fluence,
    }
}

/// The same with a chosen number of directions to a quarter circle (4 to 128, taken into that range), without an error
/// estimate. Time grows with its third power.
///
/// # Errors
/// As [`wide_beam`].
pub fn wide_beam_at(stack: &Stack, depths_cm: &[f64], order: usize) -> Result<WideBeam, AddingError> {
    let thickness_cm = stack.thickness_cm();
    let end = if thickness_cm.is_finite() { thickness_cm * (1.0 + 1e-12) } else { f64::MAX };
    if let Some(&depth_cm) = depths_cm.iter().find(|z| !(0.0..=end).contains(*z)) {
        return Err(AddingError::DepthOutside { depth_cm, thickness_cm });
    }
    Ok(solve::Solved::new(stack, order.clamp(ORDERS.0, ORDERS.1))?.wide_beam(depths_cm))
}

/// In which directions the light leaves, with a chosen number of directions to a quarter circle (4 to 128).
///
/// # Errors
/// [`AddingError::NotSolved`] only.
pub fn angular(stack: &Stack, order: usize) -> Result<Angular, AddingError> {
    Ok(solve::Solved::new(stack, order.clamp(ORDERS.0, ORDERS.1))?.angular())
}
