//! What must hold for light in any stack of layers under a wide beam.

use fadewright::physics::transport::adding::{AddingError, WideBeam, angular, wide_beam, wide_beam_at};
use fadewright::physics::{Layer, Stack};
use proptest::prelude::*;

/// Coarse: energy, reciprocity and scaling hold at every order.
const ORDER: usize = 12;

fn index() -> impl Strategy<Value = f64> {
    prop_oneof![Just(1.0), Just(1.33), Just(1.4), Just(1.5), 1.0..1.7]
}

/// A value over decades.
fn decades(from: f64, to: f64) -> impl Strategy<Value = f64> {
    (from..to).prop_map(|e| 10f64.powf(e))
}

fn layer() -> impl Strategy<Value = Layer> {
    let mua = prop_oneof![1 => Just(0.0), 5 => decades(-4.0, 3.0)];
    let mus = prop_oneof![1 => Just(0.0), 5 => decades(-2.0, 5.0)];
    let g = prop_oneof![Just(0.0), Just(0.9), -0.999..0.999];
    (index(), mua, mus, g, decades(-4.0, 1.0)).prop_map(|(n, mua_per_cm, mus_per_cm, g, thickness_cm)| Layer {
        n,
        mua_per_cm,
        mus_per_cm,
        g,
        thickness_cm,
    })
}

fn stack() -> impl Strategy<Value = Stack> {
    (index(), index(), prop::collection::vec(layer(), 1..5), any::<bool>()).prop_map(
        |(above, below, mut layers, endless)| {
            if let Some(last) = layers.last_mut().filter(|l| endless && l.mua_per_cm > 0.0) {
                last.thickness_cm = f64::INFINITY;
            }
            Stack::new(above, below, layers).unwrap()
        },
    )
}

fn sum(of: &WideBeam) -> f64 {
    of.total_reflectance() + of.transmittance + of.absorbed.iter().sum::<f64>()
}

/// Depths at every boundary and within every layer.
fn depths(stack: &Stack) -> Vec<f64> {
    let mut top = 0.0;
    let mut depths = vec![0.0];
    for layer in stack.layers() {
        let thickness = if layer.thickness_cm.is_finite() { layer.thickness_cm } else { 1.0 };
        depths.extend([top + 0.3 * thickness, top + thickness]);
        top += thickness;
    }
    depths
}

fn with(stack: &Stack, change: impl Fn(usize, &mut Layer)) -> Stack {
    let mut layers = stack.layers().to_vec();
    layers.iter_mut().enumerate().for_each(|(i, l)| change(i, l));
    Stack::new(stack.n_above(), stack.n_below(), layers).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn light_is_neither_made_nor_lost(stack in stack()) {
        let depths = depths(&stack);
        let got = wide_beam_at(&stack, &depths, ORDER).unwrap();
        prop_assert!((sum(&got) - 1.0).abs() < 1e-10, "{}", sum(&got) - 1.0);
        let shares = [got.specular_reflectance, got.diffuse_reflectance, got.transmittance, got.unscattered_transmittance];
        prop_assert!(shares.iter().chain(&got.absorbed).all(|v| (0.0..=1.0 + 1e-10).contains(v)), "{got:?}");
        prop_assert!(got.unscattered_transmittance <= got.transmittance + 1e-10);
        prop_assert!(got.fluence.len() == depths.len() && got.fluence.iter().all(|v| v.is_finite() && *v > -1e-9), "{got:?}");
    }

    #[test]
    fn only_optical_thickness_counts(stack in stack(), scale in 0.1..10.0f64) {
        let scaled = with(&stack, |_, l| {
            l.mua_per_cm *= scale;
            l.mus_per_cm *= scale;
            l.thickness_cm /= scale;
        });
        let (a, b) = (wide_beam_at(&stack, &[], ORDER).unwrap(), wide_beam_at(&scaled, &[], ORDER).unwrap());
        prop_assert!((a.total_reflectance() - b.total_reflectance()).abs() < 1e-10, "{a:?} {b:?}");
        prop_assert!((a.transmittance - b.transmittance).abs() < 1e-10);
    }

    #[test]
    fn more_absorption_lets_less_out(stack in stack(), which in 0usize..5, more in 1.1..10.0f64) {
        let which = which % stack.layers().len();
        let darker = with(&stack, |i, l| if i == which { l.mua_per_cm = l.mua_per_cm * more + 1e-3; });
        let (a, b) = (wide_beam_at(&stack, &[], ORDER).unwrap(), wide_beam_at(&darker, &[], ORDER).unwrap());
        prop_assert!(b.total_reflectance() <= a.total_reflectance() + 1e-10);
        prop_assert!(b.transmittance <= a.transmittance + 1e-10);
    }

    /// Reciprocity: from one side or the other, what goes straight through is the same.
    #[test]
    fn light_along_the_normal_passes_a_stack_the_same_way_upside_down(stack in stack()) {
        let stack = with(&stack, |_, l| l.thickness_cm = l.thickness_cm.min(10.0));
        let turned: Vec<Layer> = stack.layers().iter().rev().copied().collect();
        let turned = Stack::new(stack.n_below(), stack.n_above(), turned).unwrap();
        let straight = |stack: &Stack| {
            let through = angular(stack, ORDER).unwrap().transmitted_per_sr[0].1;
            // Per solid angle of the inside: a ray bundle narrows by the index squared.
            through / stack.n_below().powi(2)
        };
        let (a, b) = (straight(&stack), straight(&turned));
        prop_assert!((a - b).abs() < 1e-9 * a.abs().max(1.0), "{a} {b}");
    }

    /// A layer cut in two is still the same layer, and the fluence at the cut is the fluence inside.
    #[test]
    fn a_cut_through_a_layer_changes_nothing(stack in stack(), at in 0.05..0.95f64) {
        let first = stack.layers()[0];
        let thickness = if first.thickness_cm.is_finite() { first.thickness_cm } else { 0.1 };
        let cut = at * thickness;
        let mut layers = stack.layers().to_vec();
        layers[0].thickness_cm -= cut;
        layers.insert(0, Layer { thickness_cm: cut, ..first });
        let two = Stack::new(stack.n_above(), stack.n_below(), layers).unwrap();
        let (a, b) = (wide_beam_at(&stack, &[cut], ORDER).unwrap(), wide_beam_at(&two, &[cut], ORDER).unwrap());
        prop_assert!((a.total_reflectance() - b.total_reflectance()).abs() < 1e-10);
        prop_assert!((a.transmittance - b.transmittance).abs() < 1e-10);
        prop_assert!((a.absorbed[0] - b.absorbed[0] - b.absorbed[1]).abs() < 1e-10);
        prop_assert!((a.fluence[0] - b.fluence[0]).abs() < 1e-8 * a.fluence[0].max(1.0), "{} {}", a.fluence[0], b.fluence[0]);
    }
}

/// What a layer absorbs is its absorption coefficient times the fluence, summed over its depth; with the index changing
/// from layer to layer too.
#[test]
fn absorption_is_the_fluence_times_the_coefficient() {
    let layer = |n, mua_per_cm, mus_per_cm, g, thickness_cm| Layer { n, mua_per_cm, mus_per_cm, g, thickness_cm };
    let stack = Stack::new(
        1.0,
        1.33,
        vec![
            layer(1.42, 5.0, 200.0, 0.85, 0.01),
            layer(1.37, 0.5, 150.0, 0.85, 0.2),
            layer(1.5, 4.0, 0.0, 0.0, 0.05),
            layer(1.44, 0.3, 50.0, 0.8, 0.3),
        ],
    )
    .unwrap();
    let mut top = 0.0;
    let absorbed = wide_beam(&stack, &[]).unwrap().values.absorbed;
    for (i, layer) in stack.layers().iter().enumerate() {
        let d = layer.thickness_cm;
        // Simpson's rule in u with z = d u^2 (3 - 2 u), which packs points near the faces, where rays graze.
        let steps = 400;
        let u = |k: i32| f64::from(k) / f64::from(steps);
        // The last point would belong to the next layer.
        let depths: Vec<f64> =
            (0..=steps).map(|k| top + (d * u(k).powi(2) * (3.0 - 2.0 * u(k))).min(d * (1.0 - 1e-9))).collect();
        let fluence = wide_beam(&stack, &depths).unwrap().values.fluence;
        let sum: f64 = (0..=steps)
            .map(|k| {
                let weight = if k == 0 || k == steps { 1.0 } else { f64::from(2 + 2 * (k % 2)) };
                weight * fluence[k as usize] * 6.0 * d * u(k) * (1.0 - u(k))
            })
            .sum();
        let from_fluence = layer.mua_per_cm * sum / (3.0 * f64::from(steps));
        assert!((from_fluence - absorbed[i]).abs() < 1e-7, "layer {}: {from_fluence} {}", i + 1, absorbed[i]);
        top += d;
    }
}

#[test]
fn extremes_neither_fail_nor_leak() {
    let layer = |n, mua_per_cm, mus_per_cm, g, thickness_cm| Layer { n, mua_per_cm, mus_per_cm, g, thickness_cm };
    let inf = f64::INFINITY;
    for layers in [
        vec![layer(1.4, 1e-4, 100.0, 0.9, inf)],
        vec![layer(1.4, 1e-12, 100.0, 0.9, inf)],
        vec![layer(1.4, 1e-300, 100.0, 0.9, inf)],
        vec![layer(1.4, 1e-300, 1e-300, 0.9, inf)],
        vec![layer(1.4, 0.0, 1e6, 0.9, 1e4)],
        vec![layer(1.4, 0.0, 1e6, -0.999_999, 1.0)],
        vec![layer(1.4, 1e6, 1e6, 0.999_999, 1e4)],
        vec![layer(1.4, 0.1, 100.0, 1.0 - 1e-12, 60.0)],
        vec![layer(1.0, 0.0, 1e-12, 0.0, 1e-9), layer(4.0, 1e-300, 1e-300, 0.5, 1e-300)],
        vec![layer(1.0, 0.0, 0.0, 0.0, 1.0); 100],
        vec![layer(1.5, 0.0, 0.0, 0.0, 1.0), layer(1.3, 0.0, 0.0, 0.0, 1.0), layer(1.5, 1e-300, 0.0, 0.0, 1.0)],
        vec![
            layer(1.4, 1.0, 100.0, 0.9, 0.1),
            layer(1.4 + 1e-13, 1.0, 100.0, 0.9, 0.1),
            layer(1.4 + 1e-7, 1.0, 100.0, 0.9, 0.1),
        ],
        vec![layer(4.0, 0.0, 100.0, 0.9, 0.1), layer(1.0, 1.0, 100.0, 0.9, 0.1), layer(4.0, 0.0, 100.0, 0.9, 0.1)],
        (0..100).map(|i| layer(1.0 + 0.03 * f64::from(i), 0.1, 10.0, 0.8, 0.01)).collect(),
    ] {
        for (above, below) in [(1.0, 1.0), (1.5, 1.0), (1.0, 4.0)] {
            let stack = Stack::new(above, below, layers.clone()).unwrap();
            let got = wide_beam_at(&stack, &[0.0], 24).unwrap();
            assert!((sum(&got) - 1.0).abs() < 1e-9, "{layers:?}: {}", sum(&got) - 1.0);
            assert!(got.fluence[0].is_finite() && got.fluence[0] > 0.0, "{layers:?}: {got:?}");
        }
    }
}

#[test]
fn a_depth_must_lie_within_the_layers() {
    let layer = Layer { n: 1.4, mua_per_cm: 1.0, mus_per_cm: 100.0, g: 0.9, thickness_cm: 0.1 };
    let stack = Stack::new(1.0, 1.0, vec![layer, layer]).unwrap();
    for depth in [-1e-9, 0.201, f64::NAN, f64::INFINITY] {
        let refused = wide_beam(&stack, &[0.1, depth]).unwrap_err();
        assert!(matches!(refused, AddingError::DepthOutside { .. }));
    }
    assert!(wide_beam(&stack, &[0.0, 0.2]).is_ok());
    // Where nothing is left of the light, that is the answer, with an error that is a number.
    let dark = Stack::new(1.0, 1.0, vec![Layer { mua_per_cm: 1e6, thickness_cm: f64::INFINITY, ..layer }]).unwrap();
    let got = wide_beam(&dark, &[1e3, f64::MAX]).unwrap();
    assert!(got.values.fluence.iter().all(|phi| *phi <= 0.0) && got.error.fluence.iter().all(|e| *e <= 1e-12));
}

/// At a boundary the depth belongs to the layer beneath, whatever rounding makes of the sum of thicknesses.
#[test]
fn fluence_jumps_where_the_index_does() {
    let layer = |n, thickness_cm| Layer { n, mua_per_cm: 1.0, mus_per_cm: 100.0, g: 0.9, thickness_cm };
    let stack = Stack::new(1.0, 1.0, vec![layer(1.33, 0.1), layer(1.33, 0.2), layer(1.5, 0.1)]).unwrap();
    // 0.1 + 0.2 is not 0.3 to the last digit.
    let got = wide_beam(&stack, &[0.3 - 1e-6, 0.3, 0.1 + 0.2, 0.3 + 1e-6]).unwrap().values.fluence;
    assert!((got[1] - got[2]).abs() < 1e-12 && (got[2] - got[3]).abs() < 1e-4, "{got:?}");
    assert!(got[1] > 1.1 * got[0], "denser, so brighter: {got:?}");
}
