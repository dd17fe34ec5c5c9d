//! One homogeneous layer: what it does to the light at its faces, and the fluence inside.
//!
//! With `s` up and down in all directions, `S = down + up` and `D = down - up`, the equation of transfer is
//!
//! ```text
//! dS/dz = -X D      X = mut/cosine - mus * (odd part of the phase matrix)
//! dD/dz = -Y S      Y = mut/cosine - mus * (even part of the phase matrix)
//! ```
//!
//! with `X` and `Y` symmetric and not negative. Factors `X = N N'`, `Y = M M'` and the singular values `k` of `M'N`
//! (right vectors `V`) uncouple it into modes that fall as `exp(-k z)`. The part of the light that is even about the
//! layer's middle meets at its faces an impedance `A k tanh(k d/2) A'`, the odd part `A k coth(k d/2) A'`, with
//! `A = N'^-1 V`; each reflects as `(1 - Z) / (1 + Z)`, half the sum of the two is the layer's reflection, half the
//! difference its transmission. This is what doubling a thin layer over and over comes to (a test does that), without a
//! starting error, at the same cost for every thickness, also for no end and for no absorption at all.
//!
//! The modes are those of the discrete-ordinate method (Chandrasekhar, *Radiative Transfer*, 1950; Stamnes and
//! co-workers, Appl Opt 27:2502, 1988); taking singular values of the factors, so that slow modes keep their digits
//! next to fast ones, is our own. The forward peak of the phase function is cut as in the delta-M method (Wiscombe,
//! J Atmos Sci 34:1408, 1977). Sources cited from memory; the checks do not rest on them.

use super::directions::Directions;
use super::singular::left_singular;
use crate::physics::Layer;
use nalgebra::{DMatrix, DVector};

/// A layer that scatters less than this on the way through scatters nothing, to the last digit.
const NOTHING: f64 = 1e-15;
/// Absorption per mean free path that stands for none, so that no mode is quite without change.
const NO_ABSORPTION: f64 = 1e-30;
/// Where a mode falls less than this across the layer, it is a straight line.
const STRAIGHT: f64 = 1e-9;

/// Whether a layer sends light into other directions.
pub(super) fn scatters(layer: &Layer) -> bool {
    layer.mus_per_cm * layer.thickness_cm >= NOTHING
}

/// A layer, ready for use.
#[derive(Debug)]
pub(super) struct Slab {
    /// Reflection, the same from both sides.
    pub(super) reflect: DMatrix<f64>,
    /// Transmission, the same both ways.
    pub(super) transmit: DMatrix<f64>,
    /// Mean free paths to a cm, which lengths are measured in here (1 for a clear layer).
    per_cm: f64,
    thickness: f64,
    modes: Modes,
}

/// How light falls off in a medium.
#[derive(Debug)]
struct Modes {
    /// Rate of each mode.
    rates: DVector<f64>,
    /// `A`: its transpose takes `S` at a face to what each mode carries there.
    at_face: DMatrix<f64>,
    /// The fluence of a unit of each mode.
    fluence: DVector<f64>,
}

impl Slab {
    /// A layer for light in the given directions; `moments` is how many Legendre terms the phase function keeps. None
    /// only if the numerics fail.
    pub(super) fn new(layer: &Layer, directions: &Directions, moments: usize) -> Option<Self> {
        let per_cm = if layer.is_clear() { 1.0 } else { layer.mut_per_cm() };
        let thickness = layer.thickness_cm * per_cm;
        let (absorbs, scattered) = (layer.mua_per_cm / per_cm, layer.mus_per_cm / per_cm);
        if scatters(layer) {
            let modes = Modes::new(absorbs, scattered, layer.g, directions, moments)?;
            let (reflect, transmit) = modes.at_faces(thickness)?;
            return Some(Self { reflect, transmit, per_cm, thickness, modes });
        }
        let size = directions.len();
        let rates = directions.cosines.map(|cosine| absorbs / cosine);
        Some(Self {
            reflect: DMatrix::zeros(size, size),
            transmit: DMatrix::from_diagonal(&rates.map(|k| (-k * thickness).exp())),
            per_cm,
            thickness,
            modes: Modes { rates, at_face: DMatrix::identity(size, size), fluence: directions.fluence() },
        })
    }

    /// Fluence at a depth within the layer (cm from its top), from `S` at its two faces.
    pub(super) fn fluence(&self, top: &DVector<f64>, bottom: &DVector<f64>, depth_cm: f64) -> f64 {
        let d = self.thickness;
        let z = (depth_cm * self.per_cm).clamp(0.0, d);
        let from_bottom = if d.is_infinite() { d } else { d - z };
        let (top, bottom) = (self.modes.at_face.tr_mul(top), self.modes.at_face.tr_mul(bottom));
        let modes = self.modes.rates.iter().zip(self.modes.fluence.iter());
        let ends = top.iter().zip(bottom.iter());
        modes.zip(ends).map(|((k, f), (t, b))| f * (t * left(*k, z, d) + b * left(*k, from_bottom, d))).sum()
    }
}

/// What is left of a mode at a distance from one face, when nothing comes from the other face at `d`:
/// `sinh(k (d - z)) / sinh(k d)`, which is `exp(-k z)` without an end.
fn left(k: f64, z: f64, d: f64) -> f64 {
    if d.is_infinite() {
        // From the far face, infinitely far away, nothing comes.
        return if z.is_infinite() { 0.0 } else { (-k * z).exp() };
    }
    if k * d < STRAIGHT {
        return (d - z) / d;
    }
    (-k * z).exp() * (-2.0 * k * (d - z)).exp_m1() / (-2.0 * k * d).exp_m1()
}

fn scale_columns(matrix: &mut DMatrix<f64>, by: &DVector<f64>) {
    for (mut column, by) in matrix.column_iter_mut().zip(by.iter()) {
        column *= *by;
    }
}

fn scale_rows(matrix: &mut DMatrix<f64>, by: &DVector<f64>) {
    for mut column in matrix.column_iter_mut() {
        column.component_mul_assign(by);
    }
}

/// The lower factor of a symmetric matrix without negative eigenvalues. With g next to 1 or -1 rounding may put one
/// below zero: then the diagonal is raised by as little as rounding is.
fn factor(matrix: &DMatrix<f64>) -> Option<DMatrix<f64>> {
    let mut raised = 0.0;
    for _ in 0..4 {
        let mut m = matrix.clone();
        m.set_diagonal(&(matrix.diagonal() * (1.0 + raised)));
        if let Some(c) = m.cholesky() {
            return Some(c.unpack());
        }
        raised = if raised > 0.0 { raised * 16.0 } else { f64::EPSILON };
    }
    None
}

/// A factor of the even part. Light that is the same in all directions is only absorbed, whatever the scattering, so
/// `root` is an eigenvector with the absorption coefficient as its value. It is split off first: else rounding would
/// absorb in a thick layer that does not.
fn even_factor(even: &DMatrix<f64>, absorbs: f64, root: &DVector<f64>) -> Option<DMatrix<f64>> {
    let size = root.len();
    let rest = size.checked_sub(1)?;
    // Householder's reflection that takes `root` to the last axis.
    let mut v = root.normalize();
    *v.iter_mut().next_back()? += 1.0;
    let mirror = DMatrix::identity(size, size) - &v * v.transpose() * (2.0 / v.norm_squared());
    let turned = &mirror * even * &mirror;
    let mut f = DMatrix::zeros(size, size);
    f.view_mut((0, 0), (rest, rest)).copy_from(&factor(&turned.view((0, 0), (rest, rest)).into_owned())?);
    *f.get_mut((rest, rest))? = absorbs.max(NO_ABSORPTION).sqrt();
    Some(mirror * f)
}

/// `(1 - Z) / (1 + Z)` for a symmetric `Z` without negative eigenvalues.
fn reflected(mut impedance: DMatrix<f64>) -> Option<DMatrix<f64>> {
    impedance.set_diagonal(&impedance.diagonal().add_scalar(1.0));
    let mut r = impedance.cholesky()?.inverse() * 2.0;
    r.set_diagonal(&r.diagonal().add_scalar(-1.0));
    Some(r)
}

impl Modes {
    /// The modes of a medium that absorbs and scatters so much to a mean free path.
    fn new(absorbs: f64, scattered: f64, g: f64, directions: &Directions, moments: usize) -> Option<Self> {
        let (even, mut odd) = scattering(absorbs, scattered, g, directions, moments);
        let slant = directions.cosines.map(|cosine| cosine.sqrt().recip());
        scale_rows(&mut odd, &slant);
        scale_columns(&mut odd, &slant);
        let n = factor(&odd)?;
        let mut slanted = n.clone();
        scale_rows(&mut slanted, &slant);
        // (M'N)' has the right vectors of M'N as its left ones.
        let m = even_factor(&even, absorbs, &directions.root_weights())?;
        let (rates, right) = left_singular(&slanted.tr_mul(&m))?;
        let at_face = n.tr_solve_lower_triangular(&right)?;
        let fluence = (&n * right).tr_mul(&directions.fluence());
        Some(Self { rates, at_face, fluence })
    }

    /// Reflection and transmission of a thickness in mean free paths.
    fn at_faces(&self, thickness: f64) -> Option<(DMatrix<f64>, DMatrix<f64>)> {
        let half = thickness / 2.0;
        let impedance = |of: &dyn Fn(f64) -> f64| {
            let mut scaled = self.at_face.clone();
            scale_columns(&mut scaled, &self.rates.map(of));
            scaled * self.at_face.transpose()
        };
        let even = reflected(impedance(&|k| if half.is_infinite() { k } else { k * (k * half).tanh() }))?;
        if thickness.is_infinite() {
            let size = even.nrows();
            return Some((even, DMatrix::zeros(size, size)));
        }
        let odd = reflected(impedance(&|k| if k * half < STRAIGHT { 1.0 / half } else { k / (k * half).tanh() }))?;
        Some(((&even + &odd) * 0.5, (even - odd) * 0.5))
    }
}

/// `Y` and `X` of the module's head, each end times the root of its cosine: what is lost on the way less what is
/// scattered back into it.
fn scattering(
    absorbs: f64,
    scattered: f64,
    g: f64,
    directions: &Directions,
    moments: usize,
) -> (DMatrix<f64>, DMatrix<f64>) {
    let root = directions.root_weights();
    let (mut even, mut odd) = phase_matrices(&directions.cosines, &root, g, moments);
    // What the kept terms do not scatter anywhere else goes on straight ahead (straight back for g < 0). Taking that
    // share from the column sums makes scattering keep the energy to the last digit.
    let kept = even.tr_mul(&root).component_div(&root);
    let to_others = &kept - even.diagonal();
    let ahead = if g < 0.0 { -1.0 } else { 1.0 };
    let peak = kept.map(|kept| ahead * (1.0 - kept));
    let odd_diagonal = ((odd.diagonal() + peak) * -scattered).add_scalar(absorbs + scattered);
    even *= -scattered;
    odd *= -scattered;
    even.set_diagonal(&(to_others * scattered).add_scalar(absorbs));
    odd.set_diagonal(&odd_diagonal);
    (even, odd)
}

/// Even and odd part of the Henyey-Greenstein phase function, averaged over azimuth, between the directions, with the
/// peak cut off: `sum of (2 l + 1) (g^l - peak) P_l P_l` over even and over odd `l`, each end times its root weight.
///
/// Henyey & Greenstein, Astrophys J 93:70 (1941), cited from memory: its Legendre moments are `g^l`.
fn phase_matrices(cosines: &DVector<f64>, root: &DVector<f64>, g: f64, moments: usize) -> (DMatrix<f64>, DMatrix<f64>) {
    let size = cosines.len();
    let half = moments / 2;
    let peak = g.abs().powi(2 * half as i32);
    let mut legendre = [DMatrix::zeros(size, half), DMatrix::zeros(size, half)];
    let (mut p, mut before) = (root.clone(), DVector::zeros(size));
    for l in 0..2 * half {
        if let Some(table) = legendre.get_mut(l % 2) {
            table.set_column(l / 2, &p);
        }
        let degree = l as f64;
        let next = (p.component_mul(cosines) * (2.0 * degree + 1.0) - before * degree) / (degree + 1.0);
        before = std::mem::replace(&mut p, next);
    }
    let [even, odd] = legendre;
    let product = |table: DMatrix<f64>, parity: usize| {
        let mut scaled = table.clone();
        for (j, mut column) in scaled.column_iter_mut().enumerate() {
            let l = 2 * j + parity;
            // The peak lies straight ahead, or straight back for g < 0, where odd moments change sign.
            let sign = if g < 0.0 && parity == 1 { -1.0 } else { 1.0 };
            column *= (2.0 * l as f64 + 1.0) * (g.powi(l as i32) - sign * peak);
        }
        scaled * table.transpose()
    };
    (product(even, 0), product(odd, 1))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::Stack;
    use crate::physics::transport::adding::quadrature::nodes;

    fn slab(layer: Layer, order: usize) -> (Slab, Directions) {
        let mut for_stack = layer;
        for_stack.thickness_cm = 1.0;
        let stack = Stack::new(1.0, 1.0, vec![for_stack]).unwrap();
        let directions = Directions::of(&nodes(&stack, order), layer.n, layer.n);
        (Slab::new(&layer, &directions, 2 * order).unwrap(), directions)
    }

    const DERMIS: Layer = Layer { n: 1.4, mua_per_cm: 0.5, mus_per_cm: 150.0, g: 0.9, thickness_cm: 0.01 };

    fn worst(a: &DMatrix<f64>, b: &DMatrix<f64>) -> f64 {
        (a - b).amax()
    }

    /// Doubling (van de Hulst) from the operators of one thickness must give those of twice the thickness.
    #[test]
    fn two_equal_layers_are_one_of_twice_the_thickness() {
        for layer in
            [DERMIS, Layer { g: 0.0, ..DERMIS }, Layer { g: -0.9, ..DERMIS }, Layer { mua_per_cm: 0.0, ..DERMIS }]
        {
            let (one, _) = slab(layer, 16);
            let (two, _) = slab(Layer { thickness_cm: 0.02, ..layer }, 16);
            let size = one.reflect.nrows();
            let trains = (DMatrix::identity(size, size) - &one.reflect * &one.reflect).lu();
            let between = trains.solve(&one.transmit).unwrap();
            let transmit = &one.transmit * &between;
            let reflect = &one.reflect + &one.transmit * &one.reflect * &between;
            assert!(worst(&transmit, &two.transmit) < 1e-12, "{}", worst(&transmit, &two.transmit));
            assert!(worst(&reflect, &two.reflect) < 1e-12, "{}", worst(&reflect, &two.reflect));
        }
    }

    /// For a very thin layer the operators are those of single scattering.
    #[test]
    fn a_thin_layer_scatters_once() {
        let thin = Layer { thickness_cm: 1e-9, g: 0.0, ..DERMIS };
        let (slab, directions) = slab(thin, 8);
        let w = directions.root_weights();
        for i in 0..directions.len() {
            for j in 0..directions.len() {
                let (a, b) = (directions.cosines[i], directions.cosines[j]);
                // Isotropic: half of what is scattered goes up, spread evenly over the cosine.
                let once = 0.5 * thin.mus_per_cm * thin.thickness_cm * w[i] * w[j] / (a * b).sqrt();
                assert!((slab.reflect[(i, j)] - once).abs() < 1e-4 * once + 1e-13, "{i} {j}");
            }
        }
    }

    #[test]
    fn a_layer_without_absorption_keeps_all_light() {
        for (g, thickness_cm) in [(0.9, 1e-6), (0.9, 0.1), (0.99, 10.0), (0.0, 1e3), (-0.7, 0.1), (0.999, 0.1)] {
            let (slab, directions) = slab(Layer { mua_per_cm: 0.0, g, thickness_cm, ..DERMIS }, 16);
            let out = (&slab.reflect + &slab.transmit).tr_mul(&directions.flux);
            let lost = (out - &directions.flux).component_div(&directions.flux).amax();
            assert!(lost < 1e-9, "g {g}, {thickness_cm} cm: {lost}");
            assert!(worst(&slab.reflect, &slab.reflect.transpose()) < 1e-12);
            assert!(worst(&slab.transmit, &slab.transmit.transpose()) < 1e-12);
        }
    }

    #[test]
    fn no_end_is_the_limit_of_a_thick_layer() {
        let (thick, _) = slab(Layer { thickness_cm: 30.0, ..DERMIS }, 16);
        let (endless, _) = slab(Layer { thickness_cm: f64::INFINITY, ..DERMIS }, 16);
        assert!(worst(&thick.reflect, &endless.reflect) < 1e-13);
        assert!(endless.transmit.amax() <= 0.0 && thick.transmit.amax() < 1e-13);
    }

    #[test]
    fn a_mode_is_left_at_the_near_face_and_gone_at_the_far_one() {
        for (k, d) in [(0.0, 1.0), (1e-12, 1.0), (3.0, 0.5), (1e9, 10.0)] {
            assert!((left(k, 0.0, d) - 1.0).abs() < 1e-15 && left(k, d, d).abs() < 1e-15);
        }
        assert!((left(3.0, 0.2, 0.5) - (0.9f64).sinh() / 1.5f64.sinh()).abs() < 1e-15);
        assert!((left(3.0, 0.2, f64::INFINITY) - (-0.6f64).exp()).abs() < 1e-16);
        assert!((left(1e-10, 0.2, 0.5) - 0.6).abs() < 1e-15);
    }
}
