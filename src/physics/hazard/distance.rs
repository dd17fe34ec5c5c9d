//! How far from the laser, or from a surface that scatters its light, a limit may be exceeded.

use super::factors::ALPHA_LARGE_MRAD;
use crate::units::AngularSubtense;
use std::f64::consts::PI;

/// Nominal ocular hazard distance in metres: `(sqrt(4 Q / (pi H)) - a) / phi` (IEC TR 60825-14), with the energy `Q` in
/// J, the limit `H` in J/m2, the 1/e beam diameter `a` in m and the full 1/e divergence `phi` in rad.
///
/// 0 where the limit is exceeded nowhere, infinite for a beam that does not spread. With powers and irradiances it
/// holds as well; with the skin's limit it is the skin's hazard distance.
#[must_use]
pub fn direct_m(energy_j: f64, limit_j_m2: f64, beam_m: f64, divergence_rad: f64) -> f64 {
    let excess = (4.0 * energy_j / (PI * limit_j_m2)).sqrt() - beam_m;
    if excess > 0.0 { excess / divergence_rad } else { 0.0 }
}

/// Hazard distance in metres from a matt surface that reflects a share `reflectance` by Lambert's law, seen head-on as
/// a point: `sqrt(rho Q / (pi H))`.
#[must_use]
pub fn diffuse_m(energy_j: f64, limit_j_m2: f64, reflectance: f64) -> f64 {
    (reflectance * energy_j / (PI * limit_j_m2)).sqrt()
}

/// The same for a lit spot of `spot_m` metres that is seen as an extended source: `limit` gives the limit in J/m2 for
/// the angle under which it is seen. Solved by halving.
#[must_use]
pub fn diffuse_extended_m(energy_j: f64, reflectance: f64, spot_m: f64, limit: impl Fn(AngularSubtense) -> f64) -> f64 {
    let exceeded = |r: f64| {
        let alpha = AngularSubtense::new((spot_m / r * 1e3).min(AngularSubtense::MAX));
        alpha.is_ok_and(|alpha| reflectance * energy_j / (PI * r * r) > limit(alpha))
    };
    // The rules for many pulses lower the limit of an extended source to a fifth of a point's at most.
    let mut far = 2.5 * diffuse_m(energy_j, limit(AngularSubtense::POINT), reflectance);
    let mut near = 0.0;
    // Above 100 mrad the rules for many pulses relax at once: look for the outer end first.
    let wide = spot_m / (ALPHA_LARGE_MRAD * 1e-3);
    if wide < far {
        if exceeded(wide * (1.0 + 1e-9)) { near = wide } else { far = wide }
    }
    for _ in 0..60 {
        let middle = 0.5 * (near + far);
        if exceeded(middle) { near = middle } else { far = middle }
    }
    0.5 * (near + far)
}
