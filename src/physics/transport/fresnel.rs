//! Reflection and refraction of unpolarised light at a plane boundary, intensities only.
//!
//! Fresnel's equations and Snell's law as in any textbook of optics (e.g. Born & Wolf, *Principles of Optics*, 1.5;
//! cited from memory). Several boundaries in a row are summed without interference: layers of skin and glass slides
//! are many wavelengths thick and never flat to a fraction of one.

use crate::physics::Stack;

/// Cosine of the angle after refraction, from the cosine before; none at total reflection.
///
/// Indices from 1 to 4, cosine from 0 to 1 against the normal. Exact but for rounding.
#[must_use]
pub fn refracted_cosine(n_from: f64, n_to: f64, cosine: f64) -> Option<f64> {
    let ratio = n_from / n_to;
    // 1 - ratio^2 sin^2, written so that equal indices and grazing angles lose no digits.
    let squared = (1.0 - ratio) * (1.0 + ratio) + (ratio * cosine).powi(2);
    (squared > 0.0).then(|| squared.sqrt().min(1.0))
}

/// Reflectance of a boundary for unpolarised light, 0 to 1: the mean of both polarisations, 1 at total reflection.
///
/// Indices from 1 to 4, cosine from 0 to 1 against the normal. Exact but for rounding.
#[must_use]
pub fn reflectance(n_from: f64, n_to: f64, cosine: f64) -> f64 {
    refracted_cosine(n_from, n_to, cosine).map_or(1.0, |refracted| between(n_from, cosine, n_to, refracted))
}

/// Reflectance between two directions that Snell's law joins; the same from both sides.
pub(super) fn between(n_a: f64, cosine_a: f64, n_b: f64, cosine_b: f64) -> f64 {
    let amplitude = |x: f64, y: f64| if x + y > 0.0 { (x - y) / (x + y) } else { 1.0 };
    let across = amplitude(n_a * cosine_a, n_b * cosine_b);
    let along = amplitude(n_a * cosine_b, n_b * cosine_a);
    f64::midpoint(across * across, along * along)
}

/// Reflectance at normal incidence, 0 to 1: `((n1 - n2) / (n1 + n2))^2`.
#[must_use]
pub fn reflectance_normal(n_from: f64, n_to: f64) -> f64 {
    ((n_from - n_to) / (n_from + n_to)).powi(2)
}

/// Cosine of the critical angle: light at a smaller cosine is totally reflected. 0 where there is no such angle.
#[must_use]
pub fn critical_cosine(n_from: f64, n_to: f64) -> f64 {
    let ratio = n_to / n_from;
    if ratio >= 1.0 { 0.0 } else { ((1.0 - ratio) * (1.0 + ratio)).sqrt() }
}

/// Reflectance and transmittance of whatever the light meets, at normal incidence.
type Through = (f64, f64);

/// A boundary in front of something, all reflections between them summed without interference.
fn in_front(boundary: f64, (reflects, transmits): Through) -> Through {
    // Between two perfect mirrors light would never leave; no index from 1 to 4 makes one.
    let entered = (1.0 - boundary) / (1.0 - boundary * reflects);
    (boundary + (1.0 - boundary) * entered * reflects, entered * transmits)
}

/// Specular reflectance of a stack at normal incidence, 0 to 1: what comes back before any light has met an absorbing
/// or scattering layer.
///
/// Clear layers on top (a glass slide, a gel) reflect from each of their faces; all orders are summed without
/// interference, `r1 + (1 - r1)^2 r2 / (1 - r1 r2)` for one of them. With clear layers only, it is the whole
/// reflectance.
#[must_use]
pub fn specular_of_clear_top(stack: &Stack) -> f64 {
    let clear = stack.layers().iter().take_while(|l| l.is_clear()).count();
    let mut indices = vec![stack.n_above()];
    indices.extend(stack.layers().iter().take(clear + 1).map(|l| l.n));
    if clear == stack.layers().len() {
        indices.push(stack.n_below());
    }
    let faces = indices.iter().zip(indices.iter().skip(1)).rev();
    faces.fold((0.0, 1.0), |behind, (from, to)| in_front(reflectance_normal(*from, *to), behind)).0
}

/// Transmittance of light that was never scattered at normal incidence, 0 to 1, with all reflections between the
/// boundaries; exactly `exp(-sum of mut d)` where all indices are equal. 0 below a layer without an end.
#[must_use]
pub fn unscattered_transmittance(stack: &Stack) -> f64 {
    let mut below = stack.n_below();
    let mut met = (0.0, 1.0);
    for layer in stack.layers().iter().rev() {
        let (reflects, transmits) = in_front(reflectance_normal(layer.n, below), met);
        let one_way = (-layer.mut_per_cm() * layer.thickness_cm).exp();
        met = (one_way * one_way * reflects, one_way * transmits);
        below = layer.n;
    }
    in_front(reflectance_normal(stack.n_above(), below), met).1
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::Layer;

    fn close(a: f64, b: f64, tolerance: f64) {
        assert!((a - b).abs() <= tolerance, "{a} against {b}");
    }

    /// Unpolarised Fresnel values computed independently from the equations, 8 digits.
    #[test]
    fn air_to_1_4_and_back() {
        let cos = |degrees: f64| degrees.to_radians().cos();
        for (degrees, r) in [
            (0.0, 0.027_777_78),
            (30.0, 0.029_050_63),
            (45.0, 0.036_578_52),
            (60.0, 0.071_976_70),
            (75.0, 0.231_282_68),
            (85.0, 0.598_321_92),
        ] {
            close(reflectance(1.0, 1.4, cos(degrees)), r, 5e-9);
        }
        for (degrees, r) in [(15.0, 0.028_061_80), (30.0, 0.036_017_91), (45.0, 0.439_453_12), (60.0, 1.0)] {
            close(reflectance(1.4, 1.0, cos(degrees)), r, 5e-9);
        }
        close(reflectance(1.0, 1.4, 0.0), 1.0, 0.0);
        close(reflectance(1.4, 1.4, 0.0), 1.0, 0.0);
        close(reflectance(1.4, 1.4, 0.3), 0.0, 0.0);
    }

    #[test]
    fn the_reflectance_is_the_same_from_both_sides() {
        for cosine in [0.05, 0.3, 0.77, 1.0] {
            let inside = refracted_cosine(1.0, 1.4, cosine).unwrap();
            close(reflectance(1.0, 1.4, cosine), reflectance(1.4, 1.0, inside), 1e-13);
            close(refracted_cosine(1.4, 1.0, inside).unwrap(), cosine, 1e-12);
        }
        assert_eq!(refracted_cosine(1.4, 1.0, critical_cosine(1.4, 1.0) - 1e-9), None);
        close(critical_cosine(1.0, 1.4), 0.0, 0.0);
    }

    fn layer(n: f64, mua_per_cm: f64, mus_per_cm: f64, thickness_cm: f64) -> Layer {
        Layer { n, mua_per_cm, mus_per_cm, g: 0.9, thickness_cm }
    }

    #[test]
    fn a_glass_slide_reflects_from_both_faces() {
        let skin = layer(1.4, 1.0, 100.0, 0.1);
        let glass = layer(1.5, 0.0, 0.0, 0.1);
        let (r1, r2): (f64, f64) = (0.04, reflectance_normal(1.5, 1.4));
        let both = r1 + (1.0 - r1).powi(2) * r2 / (1.0 - r1 * r2);
        close(specular_of_clear_top(&Stack::new(1.0, 1.0, vec![glass, skin, glass]).unwrap()), both, 1e-15);
        close(specular_of_clear_top(&Stack::new(1.0, 1.0, vec![skin]).unwrap()), 1.0 / 36.0, 1e-15);
        // Glass alone: 2 r / (1 + r).
        let alone = Stack::new(1.0, 1.0, vec![glass]).unwrap();
        close(specular_of_clear_top(&alone), 0.08 / 1.04, 1e-15);
        close(unscattered_transmittance(&alone), 1.0 - 0.08 / 1.04, 1e-15);
    }

    #[test]
    fn unscattered_light_follows_beer_and_lambert() {
        let matched = Stack::new(1.0, 1.0, vec![layer(1.0, 10.0, 90.0, 0.02), layer(1.0, 1.0, 9.0, 0.1)]).unwrap();
        close(unscattered_transmittance(&matched), (-3.0f64).exp(), 1e-16);
        // One absorbing pane: (1 - r)^2 e / (1 - r^2 e^2).
        let pane = Stack::new(1.0, 1.0, vec![layer(1.4, 10.0, 0.0, 0.2)]).unwrap();
        let (r, e) = (1.0f64 / 36.0, (-2.0f64).exp());
        close(unscattered_transmittance(&pane), (1.0 - r).powi(2) * e / (1.0 - r * r * e * e), 1e-15);
        let endless = Stack::new(1.0, 1.0, vec![layer(1.4, 10.0, 0.0, f64::INFINITY)]).unwrap();
        close(unscattered_transmittance(&endless), 0.0, 0.0);
    }
}
