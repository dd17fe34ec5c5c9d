//! Photons in layers against published values and an independent deterministic method.
//!
//! `physics/rt_reference.csv`, `physics/fluence_depth.csv`: an own solver of the radiative transfer equation in one
//! dimension (discrete ordinates, matrix exponential, doubling; converged to 2e-6), which agrees with the published
//! values it repeats: S1 is van de Hulst's slab (*Multiple Light Scattering* II, 1980: 0.09739 and 0.66096), S6
//! Giovanelli's half-space (Optica Acta 2:153, 1955: 0.2600 in all), M3 the three layers of Wang and Jacques (1992/95:
//! 0.2375 and 0.0965). PythonicDISORT 1.8 agrees with it to 1e-7 where indices match.
//! `physics/spot_*.csv`: another Monte Carlo program in double precision with another generator, 1 to 1.5 million
//! photons.
//!
//! Statistics: seeds are fixed, so a run either always passes or always fails. The margin is five standard errors,
//! which a right program with another seed would exceed in one of about 1.7 million comparisons (two-sided normal; the
//! errors come from 64 batches, which makes it about one in 200,000), plus the reference's own error. About 360 values
//! are compared.
//! FADEWRIGHT_TEST_PHOTONS=1e7 compares more sharply.

use fadewright::physics::transport::montecarlo::{Goal, Outcome, Request, run};
use fadewright::physics::transport::{Beam, Measured};
use fadewright::physics::{Layer, Stack};

const MARGIN: f64 = 5.0;

fn photons(usual: u64) -> u64 {
    std::env::var("FADEWRIGHT_TEST_PHOTONS").ok().map_or(usual, |n| n.parse::<f64>().unwrap() as u64)
}

fn follow(stack: &Stack, n: u64, depths_cm: &[f64]) -> Outcome {
    let threads = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let goal = Goal::Photons(photons(n));
    run(&Request { stack, goal, seed: 20, threads, depths_cm, targets: &[] }, &()).unwrap()
}

/// One row of the reference: the case's id, its layers, and specular, diffuse, total reflectance, transmittance.
pub fn rows() -> Vec<(String, Stack, [f64; 4])> {
    let text = include_str!("physics/rt_reference.csv");
    let row = |line: &str| {
        let (before, rest) = line.split_once('"').unwrap();
        let (layers, after) = rest.split_once('"').unwrap();
        let before: Vec<&str> = before.split(',').collect();
        let n: f64 = before[1].parse().unwrap();
        let glass = before[2].contains("glass");
        let layer = |text: &str| {
            let v: Vec<f64> = text.trim_matches([' ', '(', ')']).split(',').map(|v| v.parse().unwrap()).collect();
            Layer { n, mua_per_cm: v[0], mus_per_cm: v[1], g: v[2], thickness_cm: v[3] }
        };
        let mut layers: Vec<Layer> = layers.split(';').map(layer).collect();
        if glass {
            let slide = Layer { n: 1.5, mua_per_cm: 0.0, mus_per_cm: 0.0, g: 0.0, thickness_cm: 0.1 };
            layers.insert(0, slide);
            layers.push(slide);
        }
        let v: Vec<f64> = after.split(',').skip(1).take(4).map(|v| v.parse().unwrap()).collect();
        (before[0].to_owned(), Stack::new(1.0, 1.0, layers).unwrap(), [v[0], v[1], v[2], v[3]])
    };
    text.lines().skip(1).map(row).collect()
}

/// Depth and fluence of a case.
pub fn fluences(case: &str) -> Vec<(f64, f64)> {
    let short = case.split('_').next().unwrap();
    let lines = include_str!("physics/fluence_depth.csv").lines().skip(1);
    lines
        .map(|line| line.split(',').collect::<Vec<_>>())
        .filter(|v| v[0].split('_').next() == Some(short))
        .map(|v| (v[1].parse().unwrap(), v[2].parse().unwrap()))
        .collect()
}

/// How many standard errors a value lies off, once the reference's own error is taken away.
fn off(what: &str, got: Measured, wanted: f64, reference_error: f64) -> f64 {
    let error = got.standard_error.unwrap().max(1e-9);
    let sigmas = ((got.value - wanted).abs() - reference_error).max(0.0) / error;
    println!("{what:<34} {:.6} +- {error:.6}, wanted {wanted:.6}: {sigmas:.2}", got.value);
    sigmas
}

#[test]
fn reflectance_transmittance_and_fluence_agree_with_the_deterministic_reference() {
    let (mut worst, mut compared) = (Vec::new(), 0);
    for (case, stack, [specular, diffuse, _, transmittance]) in rows() {
        // The half-space cases take longest and are not the sharpest.
        let n = if stack.thickness_cm() > 1.0 { 60_000 } else { 250_000 };
        let fluences = fluences(&case);
        let depths: Vec<f64> = fluences.iter().map(|(z, _)| *z).collect();
        let outcome = follow(&stack, n, &depths);
        assert!((outcome.specular_reflectance - specular).abs() < 1e-6, "{case}: {}", outcome.specular_reflectance);
        assert!((outcome.total() - 1.0).abs() < 1e-12, "{case}: {}", outcome.total());
        let mut check = |what: &str, got: Measured, wanted: f64, error: f64| {
            compared += 1;
            if off(&format!("{case} {what}"), got, wanted, error) > MARGIN {
                worst.push(format!("{case} {what}: {got:?}, wanted {wanted}"));
            }
        };
        check("reflectance", outcome.diffuse_reflectance, diffuse, 3e-6);
        check("transmittance", outcome.transmittance, transmittance, 3e-6);
        for (depth, fluence) in &fluences {
            // The direct beam alone is counted without noise; a part in 2^22 is lost at each plane.
            let got = outcome.pencil.as_ref().unwrap().fluence(Beam::Wide, *depth).unwrap();
            check(&format!("fluence at {depth}"), got, *fluence, 2e-5 * fluence.max(1.0));
        }
    }
    assert!(worst.is_empty(), "{worst:#?}");
    assert!(compared >= 100, "{compared}");
}

/// Case N1: three layers of different refractive index. Two other Monte Carlo programs: diffuse reflectance
/// 0.38569 +- 0.00011, transmittance 0.06765 +- 0.00005, absorbed 0.1950, 0.2494, 0.0722.
#[test]
fn layers_of_different_refractive_index_agree_with_two_other_programs() {
    let layer = |n, mua_per_cm, mus_per_cm, g, thickness_cm| Layer { n, mua_per_cm, mus_per_cm, g, thickness_cm };
    let layers =
        vec![layer(1.42, 5.0, 200.0, 0.85, 0.01), layer(1.37, 0.5, 150.0, 0.85, 0.2), layer(1.44, 0.3, 50.0, 0.8, 0.3)];
    let outcome = follow(&Stack::new(1.0, 1.0, layers).unwrap(), 250_000, &[]);
    assert!((outcome.specular_reflectance - 0.030_121).abs() < 1e-6);
    assert!(off("N1 reflectance", outcome.diffuse_reflectance, 0.385_69, 5.0 * 0.000_11) < MARGIN);
    assert!(off("N1 transmittance", outcome.transmittance, 0.067_65, 5.0 * 0.000_05) < MARGIN);
    for (got, wanted) in outcome.absorbed.iter().zip([0.1950, 0.2494, 0.0722]) {
        assert!(off("N1 absorbed", *got, wanted, 0.000_25) < MARGIN);
    }
}

/// Beer and Lambert as an exact limit: without scattering and with equal indices fluence is exp(-mua z). With n = 1.4
/// both faces reflect: values of the closed form, physics facts 1e.
#[test]
fn pure_absorbers_follow_beer_and_lambert() {
    let layer = |n| Layer { n, mua_per_cm: 10.0, mus_per_cm: 0.0, g: 0.0, thickness_cm: 0.2 };
    let depths = [0.0, 0.05, 0.1, 0.2];
    let fluence = |o: &Outcome, z| o.pencil.as_ref().unwrap().fluence(Beam::Flat { diameter_cm: 0.1 }, z).unwrap();
    let matched = follow(&Stack::new(1.0, 1.0, vec![layer(1.0)]).unwrap(), 200_000, &depths);
    for z in depths {
        assert!(off("matched", fluence(&matched, z), (-10.0 * z).exp(), 1e-6) < MARGIN);
    }
    assert!(off("matched", matched.transmittance, (-2.0f64).exp(), 0.0) < MARGIN);
    assert_eq!(matched.diffuse_reflectance.value, 0.0);
    let faces = follow(&Stack::new(1.0, 1.0, vec![layer(1.4)]).unwrap(), 200_000, &depths);
    for (z, wanted) in depths.into_iter().zip([0.972_730_605, 0.590_506_447, 0.359_010_200, 0.135_232_769]) {
        assert!(off("n 1.4", fluence(&faces, z), wanted, 1e-6) < MARGIN);
    }
    assert!(off("n 1.4", faces.transmittance, 0.127_922_890, 0.0) < MARGIN);
    assert!(off("n 1.4", faces.diffuse_reflectance, 0.000_480_902, 0.0) < MARGIN);
}

/// Fluence on the axis under flat and Gaussian spots of 1 to 20 mm at six depths. The other program's own error is
/// taken as 1 %, and 2 % for the 1 mm spot from 2 mm down, as its authors say.
#[test]
fn fluence_under_spots_of_all_sizes_agrees_with_another_program() {
    let tables =
        [(0.5, 134.0, include_str!("physics/spot_SP1064.csv")), (0.5, 220.0, include_str!("physics/spot_SP755.csv"))];
    let mut compared = 0;
    for (mua_per_cm, mus_per_cm, table) in tables {
        let layer = Layer { n: 1.4, mua_per_cm, mus_per_cm, g: 0.9, thickness_cm: f64::INFINITY };
        let stack = Stack::new(1.0, 1.0, vec![layer]).unwrap();
        let mut lines = table.lines();
        let beams: Vec<Option<Beam>> = lines.next().unwrap().split(',').map(beam_of).collect();
        let rows: Vec<Vec<f64>> = lines.map(|l| l.split(',').skip(1).map(|v| v.parse().unwrap()).collect()).collect();
        let depths: Vec<f64> = rows.iter().map(|r| r[0]).collect();
        let outcome = follow(&stack, 150_000, &depths);
        for row in &rows {
            for (beam, wanted) in beams.iter().skip(1).zip(row) {
                let Some(beam) = *beam else { continue };
                let got = outcome.pencil.as_ref().unwrap().fluence(beam, row[0]).unwrap();
                let narrow = matches!(beam, Beam::Flat { diameter_cm } if diameter_cm < 0.15);
                let theirs = if beam == Beam::Wide {
                    1e-4
                } else if narrow && row[0] >= 0.2 {
                    0.02
                } else {
                    0.01
                };
                let what = format!("mus {mus_per_cm} {beam:?} at {}", row[0]);
                assert!(off(&what, got, *wanted, theirs * wanted) < MARGIN, "{what}: {got:?}, wanted {wanted}");
                compared += 1;
            }
        }
    }
    assert!(compared >= 150, "{compared}");
}

/// The same program's figures for skin-like layers at 532 nm and, in two layers, at 694 nm: flat spots of 1, 3, 5 and
/// 10 mm, and the deterministic value of a wide beam.
#[test]
fn fluence_in_skin_at_532_and_694_nm_agrees_with_another_program() {
    let layer = |mua_per_cm, mus_per_cm, thickness_cm| Layer { n: 1.4, mua_per_cm, mus_per_cm, g: 0.9, thickness_cm };
    let green = vec![layer(1.0, 396.0, f64::INFINITY)];
    let red = vec![layer(5.0, 489.0, 0.008), layer(0.6, 264.0, 1.2)];
    let rows: [(&[Layer], f64, [f64; 5]); 4] = [
        (&green, 0.05, [1.134, 2.719, 3.133, 3.270, 3.273]),
        (&green, 0.1, [0.338, 1.331, 1.727, 1.885, 1.892]),
        (&green, 0.2, [0.052, 0.315, 0.508, 0.626, 0.631]),
        (&red, 0.1, [0.347, 1.460, 2.044, 2.420, 2.470]),
    ];
    for (layers, depth, wanted) in rows {
        let outcome = follow(&Stack::new(1.0, 1.0, layers.to_vec()).unwrap(), 150_000, &[depth]);
        let pencil = outcome.pencil.unwrap();
        for (mm, wanted) in [1.0, 3.0, 5.0, 10.0].into_iter().zip(wanted) {
            let got = pencil.fluence(Beam::Flat { diameter_cm: mm / 10.0 }, depth).unwrap();
            let theirs = if mm < 1.5 && depth >= 0.2 { 0.02 } else { 0.01 };
            assert!(
                off(&format!("{mm} mm at {depth}"), got, wanted, theirs * wanted) < MARGIN,
                "{mm} {depth}: {got:?}"
            );
        }
        let wide = pencil.fluence(Beam::Wide, depth).unwrap();
        assert!(off(&format!("wide at {depth}"), wide, wanted[4], 6e-4) < MARGIN, "{depth}: {wide:?}");
    }
}

/// The beam of a column's heading; the deterministic value is that of a wide beam.
fn beam_of(heading: &str) -> Option<Beam> {
    let mm = |text: &str| text.parse::<f64>().unwrap() / 10.0;
    if heading.starts_with("deterministic") {
        return Some(Beam::Wide);
    }
    if let Some(d) = heading.strip_prefix("flat_D").and_then(|h| h.strip_suffix("mm")) {
        return Some(Beam::Flat { diameter_cm: mm(d) });
    }
    let d = heading.strip_prefix("gauss_1e2_D")?.strip_suffix("mm_peak1")?;
    Some(Beam::Gaussian { diameter_cm: mm(d) })
}
