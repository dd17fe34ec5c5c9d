//! Light under a wide beam ([`fadewright::physics::transport::adding`]) against values that others published and
//! against independent computations; `physics/light.toml` names the sources.
//!
//! `rt_reference.csv`, `fluence_depth.csv` and `vdh_angular.csv` come from an independent discrete-ordinate solution in
//! another language (thin layers by matrix exponential, then doubling; 64 nodes for equal indices, 96 else). It agrees
//! with PythonicDISORT 1.8 to 1e-7 in five cases and with Monte Carlo runs of 1e7 to 1e8 photons within 1.7 standard
//! errors. The figures are printed to six digits and converged to 2e-6 (fluence: 1e-5 of its value).

use fadewright::physics::transport::adding::{ORDER, Solution, WideBeam, angular, wide_beam, wide_beam_at};
use fadewright::physics::transport::fresnel;
use fadewright::physics::{Layer, Stack};
use std::collections::BTreeMap;

const INF: f64 = f64::INFINITY;

fn layer(n: f64, (mua_per_cm, mus_per_cm, g, thickness_cm): (f64, f64, f64, f64)) -> Layer {
    Layer { n, mua_per_cm, mus_per_cm, g, thickness_cm }
}

fn in_air(layers: Vec<Layer>) -> Stack {
    Stack::new(1.0, 1.0, layers).unwrap()
}

/// The stacks of `rt_reference.csv` by the first word of their name.
struct Row {
    stack: Stack,
    specular: f64,
    diffuse: f64,
    transmittance: f64,
    /// Independent Monte Carlo: diffuse reflectance, its standard error, transmittance, its standard error.
    monte_carlo: Option<[f64; 4]>,
}

fn rows() -> BTreeMap<String, Row> {
    let mut rows = BTreeMap::new();
    for line in include_str!("physics/rt_reference.csv").lines().skip(1) {
        let [head, layers, tail] = line.split('"').collect::<Vec<_>>()[..] else { panic!("{line}") };
        let head: Vec<&str> = head.split(',').collect();
        let tail: Vec<&str> = tail.trim_start_matches(',').split(',').collect();
        let n: f64 = head[1].parse().unwrap();
        let mut stack: Vec<Layer> = layers
            .split(';')
            .map(|l| {
                let v: Vec<f64> = l.trim().trim_matches(['(', ')']).split(',').map(|v| v.parse().unwrap()).collect();
                layer(n, (v[0], v[1], v[2], v[3]))
            })
            .collect();
        if head[2].contains("glass") {
            let glass = layer(1.5, (0.0, 0.0, 0.0, 0.1));
            stack.insert(0, glass);
            stack.push(glass);
        }
        let name = head[0].split('_').next().unwrap().to_owned();
        let number = |i: usize| tail[i].parse().unwrap();
        // The Monte Carlo figures of the glass rows are counted otherwise (specular part of the first face only).
        let monte_carlo = tail[7].parse().ok().map(|rd| [rd, number(8), number(9), number(10)]);
        rows.insert(
            name,
            Row {
                stack: in_air(stack),
                specular: number(0),
                diffuse: number(1),
                transmittance: number(3),
                monte_carlo: monte_carlo.filter(|_| !head[2].contains("glass")),
            },
        );
    }
    rows
}

fn light() -> toml::Table {
    include_str!("physics/light.toml").parse().unwrap()
}

fn value(table: &str, key: &str) -> f64 {
    light()[table][key].as_float().unwrap()
}

fn list(table: &str, key: &str) -> Vec<f64> {
    light()[table][key].as_array().unwrap().iter().map(|v| v.as_float().unwrap()).collect()
}

fn pairs(table: &str, key: &str) -> Vec<(f64, f64)> {
    let number = |v: &toml::Value, i: usize| v[i].as_float().unwrap();
    light()[table][key].as_array().unwrap().iter().map(|v| (number(v, 0), number(v, 1))).collect()
}

fn near(what: &str, got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance, "{what}: {got} against {want}, off {:.1e}", (got - want).abs());
}

fn solve(stack: &Stack) -> WideBeam {
    let Solution { values, error } = wide_beam(stack, &[]).unwrap();
    assert!(error.diffuse_reflectance < 3e-5 && error.transmittance < 3e-5, "{error:?}");
    values
}

/// Every row of `rt_reference.csv`: equal indices to 1e-6 (six printed digits), others to 4e-6 (their convergence
/// is 2e-6).
#[test]
fn reflectance_and_transmittance_of_sixteen_stacks() {
    let rows = rows();
    assert_eq!(rows.len(), 16);
    for (name, row) in rows {
        let got = solve(&row.stack);
        let tolerance = if row.stack.layers()[0].n > 1.0 { 4e-6 } else { 6e-7 };
        near(&format!("{name} specular"), got.specular_reflectance, row.specular, 6e-7);
        near(&format!("{name} Rd"), got.diffuse_reflectance, row.diffuse, tolerance);
        near(&format!("{name} T"), got.transmittance, row.transmittance, tolerance);
        if let Some([rd, rd_se, t, t_se]) = row.monte_carlo {
            near(&format!("{name} Rd, Monte Carlo"), got.diffuse_reflectance, rd, 3.0 * rd_se);
            near(&format!("{name} T, Monte Carlo"), got.transmittance, t, 3.0 * t_se + 1e-6);
        }
        let absorbed: f64 = got.absorbed.iter().sum();
        near(&format!("{name} energy"), got.total_reflectance() + got.transmittance + absorbed, 1.0, 1e-12);
    }
}

/// `fluence_depth.csv`: eighty depths in seven stacks, 2e-5 of the value (their own accuracy is 1e-5).
#[test]
fn fluence_and_net_flux_inside() {
    let rows = rows();
    let absorber = |n| in_air(vec![layer(n, (10.0, 0.0, 0.0, 0.2))]);
    let mut by_stack: BTreeMap<&str, Vec<[f64; 3]>> = BTreeMap::new();
    for line in include_str!("physics/fluence_depth.csv").lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let number = |i: usize| cells[i].parse().unwrap();
        by_stack.entry(cells[0].split('_').next().unwrap()).or_default().push([number(1), number(2), number(3)]);
    }
    assert_eq!(by_stack.values().map(Vec::len).sum::<usize>(), 82);
    for (name, depths) in by_stack {
        let stack = match name {
            "A1" => absorber(1.0),
            "A2" => absorber(1.4),
            _ => rows[name].stack.clone(),
        };
        let at: Vec<f64> = depths.iter().map(|d| d[0]).collect();
        let got = wide_beam(&stack, &at).unwrap();
        for ((d, phi), error) in depths.iter().zip(&got.values.fluence).zip(&got.error.fluence) {
            near(&format!("{name} fluence at {}", d[0]), *phi, d[1], 2e-5 * d[1]);
            assert!(*error < 1e-4 * phi, "{name}: {error} of {phi}");
        }
        // The net flux at a depth is all that is absorbed beneath it and all that leaves below: cut the stack there.
        for d in depths.iter().filter(|d| d[0] > 0.0 && d[0] < stack.thickness_cm() - 1e-9) {
            let (mut cut, mut top, mut beneath) = (Vec::new(), 0.0, Vec::new());
            for l in stack.layers() {
                let end: f64 = top + l.thickness_cm;
                if d[0] > top + 1e-9 && d[0] < end - 1e-9 {
                    cut.push(Layer { thickness_cm: d[0] - top, ..*l });
                    beneath.push(cut.len());
                    cut.push(Layer { thickness_cm: end - d[0], ..*l });
                } else {
                    if top >= d[0] - 1e-9 {
                        beneath.push(cut.len());
                    }
                    cut.push(*l);
                }
                top = end;
            }
            let first = beneath[0];
            let got = solve(&in_air(cut));
            let net = got.transmittance + got.absorbed.iter().skip(first).sum::<f64>();
            near(&format!("{name} net flux at {}", d[0]), net, d[2], 5e-6);
        }
    }
}

/// van de Hulst 1980 (published, five digits) and the computed figures of the same slab.
#[test]
fn the_slab_of_van_de_hulst() {
    let slab = rows().remove("S1").unwrap().stack;
    let got = solve(&slab);
    near("Rd", got.diffuse_reflectance, value("slab", "published_rd"), 6e-6);
    near("T", got.transmittance, value("slab", "published_t"), 6e-6);
    near("Rd", got.diffuse_reflectance, value("slab", "rd"), 1e-7);
    near("T", got.transmittance, value("slab", "t"), 1e-7);
    near("unscattered", got.unscattered_transmittance, value("slab", "unscattered"), 1e-7);
    near("absorbed", got.absorbed[0], list("slab", "absorbed")[0], 1e-7);
}

/// Lagrange's polynomial through the eight nearest nodes.
fn between(nodes: &[(f64, f64)], x: f64) -> f64 {
    let mut near: Vec<(f64, f64)> = nodes.to_vec();
    near.sort_by(|a, b| (a.0 - x).abs().total_cmp(&(b.0 - x).abs()));
    near.truncate(8);
    let basis = |i: usize| -> f64 {
        near.iter().enumerate().filter(|(j, _)| *j != i).map(|(_, n)| (x - n.0) / (near[i].0 - n.0)).product()
    };
    near.iter().enumerate().map(|(i, n)| n.1 * basis(i)).sum()
}

/// Light that leaves the slab by direction: at six cosines to 3e-7, and the thirty bins of `vdh_angular.csv` (power in
/// three degrees each) to 6e-9 in reflection (their last digit) and 2e-7 in transmission. At order 64, so that the test's
/// interpolation between the directions is good enough.
#[test]
fn the_slab_of_van_de_hulst_by_angle() {
    let got = angular(&rows().remove("S1").unwrap().stack, 64).unwrap();
    for (key, nodes) in [("rd_per_sr", &got.reflected_per_sr), ("td_per_sr", &got.transmitted_per_sr)] {
        for (cosine, want) in pairs("slab", key) {
            near(&format!("{key} at {cosine}"), between(nodes, cosine), want, 3e-7);
        }
    }
    let mut bins = 0;
    for line in include_str!("physics/vdh_angular.csv").lines().skip(1) {
        let cells: Vec<f64> = line.split(',').map(|c| c.parse().unwrap()).collect();
        let (from, to) = (cells[0].to_radians().cos(), cells[1].to_radians().cos());
        let flux = |nodes: &[(f64, f64)]| {
            // Simpson's rule over the cosine.
            let step = (from - to) / 16.0;
            let at = |i: u32| between(nodes, to + f64::from(i) * step);
            let weight = |i: u32| if i == 0 || i == 16 { 1.0 } else { f64::from(2 + 2 * (i % 2)) };
            std::f64::consts::TAU * step / 3.0 * (0..=16).map(|i| weight(i) * at(i)).sum::<f64>()
        };
        near(&format!("reflected from {} deg", cells[0]), flux(&got.reflected_per_sr), cells[4], 6e-9);
        near(&format!("transmitted from {} deg", cells[0]), flux(&got.transmitted_per_sr), cells[5], 2e-7);
        bins += 1;
    }
    assert_eq!(bins, 30);
}

/// Giovanelli 1955 (total, four digits as printed), and the computed six digits.
#[test]
fn the_half_space_of_giovanelli() {
    let got = solve(&in_air(vec![layer(1.5, (10.0, 90.0, 0.0, INF))]));
    near("R", got.total_reflectance(), value("half_space", "published_r_total"), 1e-4);
    near("R", got.total_reflectance(), value("half_space", "r_total"), 1e-6);
}

/// The three layers of the 1995 manual: its printed run of 1e6 photons. Tolerance: 3 standard errors of such a run,
/// 1.3e-3, which also holds the bias of its generator.
#[test]
fn the_three_layers_of_the_1995_manual() {
    let got = solve(&rows().remove("M3").unwrap().stack);
    near("specular", got.specular_reflectance, value("three_layers", "published_specular"), 1e-7);
    near("Rd", got.diffuse_reflectance, value("three_layers", "published_rd"), 1.3e-3);
    near("T", got.transmittance, value("three_layers", "published_t"), 1.3e-3);
    for (i, (got, published)) in got.absorbed.iter().zip(list("three_layers", "published_absorbed")).enumerate() {
        near(&format!("layer {}", i + 1), *got, published, 1.3e-3);
    }
}

#[test]
fn what_each_layer_absorbs() {
    let rows = rows();
    for (table, name) in [("three_layers", "M3"), ("epidermis_dermis", "M4"), ("ink", "M5")] {
        let got = solve(&rows[name].stack);
        let want = list(table, "absorbed");
        assert_eq!(got.absorbed.len(), want.len());
        for (i, (got, want)) in got.absorbed.iter().zip(want).enumerate() {
            near(&format!("{table}, layer {}", i + 1), *got, want, 3e-6);
        }
    }
}

/// Three different indices: two Monte Carlo codes together, within 3 of their standard errors (absorption is printed to
/// four digits).
#[test]
fn three_layers_of_different_index() {
    let stack = in_air(vec![
        layer(1.42, (5.0, 200.0, 0.85, 0.01)),
        layer(1.37, (0.5, 150.0, 0.85, 0.2)),
        layer(1.44, (0.3, 50.0, 0.8, 0.3)),
    ]);
    let got = solve(&stack);
    let want = |key| value("three_indices", key);
    near("specular", got.specular_reflectance, want("specular"), 6e-7);
    near("Rd", got.diffuse_reflectance, want("rd"), 3.0 * want("rd_se"));
    near("T", got.transmittance, want("t"), 3.0 * want("t_se"));
    for (i, (got, want)) in got.absorbed.iter().zip(list("three_indices", "absorbed")).enumerate() {
        near(&format!("layer {}", i + 1), *got, want, 2.5e-4);
    }
}

#[test]
fn glass_on_both_sides() {
    let got = solve(&rows().remove("G1").unwrap().stack);
    let want = |key| value("glass_slides", key);
    near("specular", got.specular_reflectance, want("specular"), 1e-7);
    near("Rd", got.diffuse_reflectance, want("rd"), 4e-6);
    near("T", got.transmittance, want("t"), 4e-6);
}

/// Without scattering everything has a closed form: (1 - r) [e^(-a z) + r e^(-a (2 d - z))] / (1 - r^2 e^(-2 a d)).
#[test]
fn pure_absorbers_are_exact() {
    let depths = pairs("pure_absorber", "fluence");
    let at: Vec<f64> = depths.iter().map(|d| d.0).collect();
    let got = wide_beam(&in_air(vec![layer(1.4, (10.0, 0.0, 0.0, 0.2))]), &at).unwrap().values;
    let want = |key| value("pure_absorber", key);
    near("specular", got.specular_reflectance, want("specular"), 3e-8);
    near("returned", got.diffuse_reflectance, want("returned"), 1e-9);
    near("T", got.transmittance, want("t"), 1e-9);
    near("unscattered", got.unscattered_transmittance, got.transmittance, 1e-15);
    let (r, a, d) = (1.0f64 / 36.0, 10.0f64, 0.2);
    for ((z, printed), got) in depths.iter().zip(&got.fluence) {
        near(&format!("fluence at {z}"), *got, *printed, 1e-9);
        let exact =
            (1.0 - r) * ((-a * z).exp() + r * (-a * (2.0 * d - z)).exp()) / (1.0 - r * r * (-2.0 * a * d).exp());
        near(&format!("fluence at {z}"), *got, exact, 1e-13);
    }
    for thickness in [0.2, INF] {
        let matched = in_air(vec![layer(1.0, (10.0, 0.0, 0.0, thickness))]);
        for (z, phi) in at.iter().zip(wide_beam(&matched, &at).unwrap().values.fluence) {
            near(&format!("matched, at {z}"), phi, (-a * z).exp(), 1e-14);
        }
    }
}

/// Deep down the fluence falls by one exponential, whatever the index outside.
#[test]
fn the_deep_fluence_falls_at_the_asymptotic_rate() {
    for n in [1.0, 1.37] {
        let stack = in_air(vec![layer(n, (0.1, 100.0, 0.9, INF))]);
        let phi = wide_beam(&stack, &[5.0, 6.0]).unwrap().values.fluence;
        near("rate", (phi[0] / phi[1]).ln(), value("deep", "rate_per_cm"), 6e-6);
    }
}

/// `fresnel_and_boundary.csv`: normal and diffuse reflectance and the critical angle of a boundary with air.
#[test]
fn boundary_with_air() {
    let mut seen = 0;
    for line in include_str!("physics/fresnel_and_boundary.csv").lines().skip(1) {
        let v: Vec<f64> = line.split(',').map(|c| c.parse().unwrap()).collect();
        let n = v[0];
        near("normal", fresnel::reflectance_normal(1.0, n), v[1], 6e-7);
        near("critical", fresnel::critical_cosine(n, 1.0).acos().to_degrees(), v[2], 6e-5);
        let diffuse = |from: f64, to: f64| {
            let steps = 200_000;
            let cosine = |i: u32| (f64::from(i) + 0.5) / f64::from(steps);
            (0..steps).map(|i| 2.0 * cosine(i) * fresnel::reflectance(from, to, cosine(i))).sum::<f64>()
                / f64::from(steps)
        };
        near("diffuse from inside", diffuse(n, 1.0), v[3], 2e-6);
        near("diffuse from outside", diffuse(1.0, n), v[7], 2e-6);
        seen += 1;
    }
    assert_eq!(seen, 5);
}

/// The stated error holds against a solution of four times the order, also for strongly forward scattering.
#[test]
fn the_stated_error_covers_the_distance_from_a_much_finer_solution() {
    let at = [0.0, 0.005, 0.02, 0.1];
    for (n, mus, g) in
        [(1.0, 100.0, 0.9), (1.4, 100.0, 0.9), (1.4, 300.0, 0.98), (1.4, 1000.0, 0.995), (1.4, 50.0, -0.8)]
    {
        let stack = in_air(vec![layer(n, (1.0, mus, g, 0.1)), layer(1.37, (0.3, 100.0, 0.8, 0.2))]);
        let Solution { values, error } = wide_beam(&stack, &at).unwrap();
        let fine = wide_beam_at(&stack, &at, 4 * ORDER).unwrap();
        near("Rd", values.diffuse_reflectance, fine.diffuse_reflectance, error.diffuse_reflectance);
        near("T", values.transmittance, fine.transmittance, error.transmittance);
        for (i, e) in error.absorbed.iter().enumerate() {
            near(&format!("g {g}, layer {}", i + 1), values.absorbed[i], fine.absorbed[i], *e);
        }
        for (i, e) in error.fluence.iter().enumerate() {
            near(&format!("g {g}, fluence at {}", at[i]), values.fluence[i], fine.fluence[i], *e);
            assert!(*e < 1e-3 * fine.fluence[i], "g {g}: {e}");
        }
    }
}
