//! How far from the laser, or from a surface that scatters its light, a limit may be exceeded.

use super::factors::{ALPHA_LARGE_MRAD, ALPHA_MIN_MRAD};
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
/// the angle under which it is seen. Where the spot is a point at that distance, this is [`diffuse_m`].
#[must_use]
pub fn diffuse_extended_m(energy_j: f64, reflectance: f64, spot_m: f64, limit: impl Fn(AngularSubtense) -> f64) -> f64 {
    let point = diffuse_m(energy_j, limit(AngularSubtense::POINT), reflectance);
    if point <= 0.0 || spot_m <= point * ALPHA_MIN_MRAD * 1e-3 {
        return point;
    }
    // How far the limit is exceeded, as a logarithm: over the logarithm of the distance it is made of straight lines.
    let excess = |log_r: f64| {
        let r = log_r.exp();
        let alpha =
            AngularSubtense::new((spot_m / r * 1e3).min(AngularSubtense::MAX)).unwrap_or(AngularSubtense::POINT);
        (reflectance * energy_j / (PI * r * r) / limit(alpha)).ln()
    };
    // An extended source is allowed 67 times as much at most, and the rules for many pulses lower that to a fifth.
    let (mut near, mut far) = ((point / 12.0).ln(), (point * 2.5).ln());
    // Above 100 mrad the rules for many pulses relax at once: the outer end is looked for first.
    let wide = (spot_m / (ALPHA_LARGE_MRAD * 1e-3)).ln() + 1e-9;
    if wide > near && wide < far {
        if excess(wide) > 0.0 { near = wide } else { far = wide }
    }
    let (mut at_near, mut at_far) = (excess(near), excess(far));
    // Regula falsi, with the weight of an end that stays put halved (the Illinois rule); the root stays between the
    // ends where the limit jumps.
    let mut moved_near = None;
    for _ in 0..100 {
        if far - near < 1e-12 {
            break;
        }
        let between = ((near * at_far - far * at_near) / (at_far - at_near)).clamp(near, far);
        let found = excess(between);
        if found.abs() < 1e-12 {
            return between.exp();
        }
        if found > 0.0 {
            (near, at_near) = (between, found);
            if moved_near == Some(true) {
                at_far *= 0.5;
            }
        } else {
            (far, at_far) = (between, found);
            if moved_near == Some(false) {
                at_near *= 0.5;
            }
        }
        moved_near = Some(found > 0.0);
    }
    // The side on which the limit holds.
    far.exp()
}
