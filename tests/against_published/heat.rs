//! Heat and stress against closed forms, an independent solver and published figures.

use super::csv;
use fadewright::physics::heat::{
    DIFFUSIVITY_M2_S, Definition, GRUNEISEN, Material, SPEED_OF_SOUND_M_S, Shape, TwoMaterials, confinement, gruneisen,
    pressure_factor, slab_cooling, sphere, thermoelastic_pressure_pa, transit_s,
};
use fadewright::units::{GranuleDiameter, PulseDuration};

fn near(got: f64, wanted: f64, share: f64, what: &str) {
    assert!((got / wanted - 1.0).abs() <= share, "{what}: {got} against {wanted}");
}

/// `trt.csv`: relaxation times with a diffusivity of 1.3e-7 m2/s; the exact ones from the roots of the cooling of an
/// evenly heated sphere (scipy). Commonly printed: vessels of 10 and 100 um 48 us and about 5 ms.
#[test]
fn relaxation_times_follow_their_formulas() {
    let mut seen = 0;
    for line in include_str!("trt.csv").lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let number = |i: usize| cells[i].parse::<f64>().unwrap();
        let shape = match cells[1] {
            "sphere" => Shape::Sphere,
            "cyl" => Shape::Cylinder,
            _ => Shape::Plane,
        };
        let of = |definition: Definition, shape| {
            definition.relaxation_s(shape, number(2), DIFFUSIVITY_M2_S.nominal).unwrap()
        };
        near(of(Definition::AndersonParrish, Shape::Sphere), number(3), 1e-5, line);
        near(of(Definition::Altshuler, Shape::Sphere), number(4), 1e-5, line);
        near(of(Definition::Sixteenth, shape), number(5), 1e-5, line);
        near(of(Definition::AndersonParrish, Shape::Cylinder), number(5), 1e-5, line);
        near(of(Definition::Altshuler, Shape::Plane), number(6), 1e-5, line);
        near(of(Definition::Quarter, shape), number(7), 1e-5, line);
        if shape == Shape::Sphere {
            near(of(Definition::CentreHalf, shape), number(8), 1e-5, line);
            near(of(Definition::MeanHalf, shape), number(9), 1e-5, line);
        }
        seen += 1;
    }
    assert_eq!(seen, 15);
    assert_eq!(Definition::MeanHalf.divisor(Shape::Plane), None);
}

/// Each exact definition is a half of the solution that it names: `1 - exp(-1/4Fo)` for a cylinder, `erf(1/2 sqrt Fo)` for
/// a slab, Carslaw and Jaeger's for a sphere, half a Gaussian's peak at Fo 0.587401/4 (radius `d/2` as unit).
#[test]
fn definitions_are_the_halves_that_they_name() {
    let fourier = |definition: Definition, shape| 4.0 / definition.divisor(shape).unwrap();
    let sphere_half = sphere::after_flash(0.0, fourier(Definition::CentreHalf, Shape::Sphere));
    near(sphere_half, 0.5, 1e-8, "sphere, centre");
    near(sphere::mean_after_flash(fourier(Definition::MeanHalf, Shape::Sphere)), 0.5, 1e-8, "sphere, mean");
    let cylinder = fourier(Definition::CentreHalf, Shape::Cylinder);
    near(1.0 - (-0.25 / cylinder).exp(), 0.5, 1e-8, "cylinder");
    let d = 1e-4;
    let plane = fourier(Definition::CentreHalf, Shape::Plane) * (d / 2.0) * (d / 2.0) / 1.3e-7;
    // Half a slab at an insulated surface is a slab of twice the thickness.
    near(slab_cooling(0.0, d / 2.0, plane, 1.3e-7), 0.5, 1e-6, "plane");
    // A Gaussian of 1/e radius 1 keeps (1 + 4 Fo)^(-n/2) of its peak, n being the dimensions it spreads in.
    for (shape, n, tolerance) in [(Shape::Sphere, 3.0, 0.01), (Shape::Cylinder, 2.0, 1e-9), (Shape::Plane, 1.0, 1e-9)] {
        let fo = fourier(Definition::AndersonParrish, shape);
        near((1.0 + 4.0 * fo).powf(-n / 2.0), 0.5, tolerance, "Gaussian");
    }
}

/// `sphere_cooling_same_properties.csv`: Carslaw and Jaeger, section 10.3, evaluated with scipy.
#[test]
fn a_sphere_in_its_own_material_cools_as_the_textbook_says() {
    let rows = csv(include_str!("sphere_cooling_same_properties.csv"));
    assert_eq!(rows.len(), 13);
    for row in rows {
        let f = row[0];
        for (x, wanted) in [(0.0, row[1]), (0.5, row[2]), (1.0, row[3]), (2.0, row[4])] {
            let got = sphere::after_flash(x, f);
            assert!((got - wanted).abs() < 2e-10, "{x} {f}: {got} against {wanted}");
        }
        assert!((sphere::mean_after_flash(f) - row[5]).abs() < 1e-9, "{f}");
    }
}

/// `sphere_cooling_two_material.csv`: Goldenberg and Tranter 1952 by `scipy.integrate.quad`; the means by an independent
/// finite-volume solver, which is good to four digits.
#[test]
fn a_sphere_in_another_material_cools_as_an_independent_solver_says() {
    let mut seen = 0;
    for line in include_str!("sphere_cooling_two_material.csv").lines().skip(1) {
        let number = |i: usize| line.split(',').nth(i).unwrap().parse::<f64>().unwrap();
        let core = Material { conductivity_w_m_k: number(2), heat_capacity_j_m3_k: number(3) };
        let medium = Material { conductivity_w_m_k: number(4), heat_capacity_j_m3_k: number(5) };
        let solution = TwoMaterials::new(core, medium).unwrap();
        let fourier = number(6) * core.diffusivity_m2_s() / medium.diffusivity_m2_s();
        near(fourier, number(7), 1e-6, line);
        for (x, wanted) in [(0.0, number(8)), (0.5, number(9)), (1.0, number(10))] {
            let got = solution.after_flash(x, fourier).unwrap();
            assert!((got - wanted).abs() < 1e-6, "{x} {line}: {got}");
        }
        let mean = solution.mean_after_flash(fourier).unwrap();
        assert!((mean - number(11)).abs() < 1e-4, "{line}: {mean}");
        seen += 1;
    }
    assert_eq!(seen, 12);
    for (ours, conductivity, capacity) in [
        (Material::CARBON_BLACK, 0.2, 1_278_000.0),
        (Material::GRAPHITE, 120.0, 1_597_500.0),
        (Material::WATER, 0.623, 4_148_754.0),
        (Material::DERMIS, 0.37, 3_760_619.0),
    ] {
        near(ours.conductivity_w_m_k, conductivity, 1e-6, "conductivity");
        near(ours.heat_capacity_j_m3_k, capacity, 1e-6, "heat capacity");
    }
}

/// `epidermis_cooling.csv`: a slab of 60 um at an insulated surface, 1.3e-7 m2/s, evaluated with scipy.
#[test]
fn the_epidermis_cools_as_a_slab() {
    let rows = csv(include_str!("epidermis_cooling.csv"));
    assert_eq!(rows.len(), 7);
    let d = 60e-6;
    for row in rows {
        for (depth, wanted) in [(0.0, row[1]), (d, row[2]), (2.0 * d, row[3]), (5.0 * d, row[4])] {
            assert!((slab_cooling(depth, d, row[0], 1.3e-7) - wanted).abs() < 1e-8, "{depth} {row:?}");
        }
    }
}

/// `stress_confinement.csv`: diameter over the speed of sound.
#[test]
fn sound_takes_diameter_over_speed() {
    let rows = csv(include_str!("stress_confinement.csv"));
    assert_eq!(rows.len(), 7);
    for row in rows {
        near(transit_s(row[0] * 1e-9, SPEED_OF_SOUND_M_S.nominal) * 1e12, row[1], 1e-4, "in tissue");
        near(transit_s(row[0] * 1e-9, 3000.0) * 1e12, row[3], 1e-4, "in carbon");
    }
}

/// Keiser G, Biophotonics, example 10.12: absorption 0.1 /cm, 12 mJ/cm2, 4.0 J/(cm3 K), expansion 4e-4 /K,
/// compressibility 5e-10 /Pa: 0.30 mK and 240 Pa.
#[test]
fn the_textbook_pressure_comes_out() {
    let coefficient = gruneisen(4e-4, 5e-10, 4.0e6);
    near(thermoelastic_pressure_pa(coefficient, 0.1, 0.012), 240.0, 1e-9, "pressure");
    near(coefficient, GRUNEISEN.nominal, 1e-9, "the coefficient, which is that of water at 37 C");
}

/// Square pulses against a flash: values for the pulse in times of sound through the radius, and for granules with 1500
/// m/s (derived, evaluated independently).
#[test]
fn a_longer_pulse_makes_less_pressure() {
    for (x, wanted) in [(0.5, 0.75), (1.0, 0.5), (2.0, 0.25), (5.0, 0.1), (10.0, 0.05)] {
        near(pressure_factor(2.0, x, 1.0), wanted, 1e-12, "factor");
    }
    for (nm, pairs) in [
        (100.0, [(35e-12, 0.476), (300e-12, 0.0556), (750e-12, 0.0222), (5e-9, 0.0033)]),
        (300.0, [(35e-12, 0.825), (300e-12, 0.167), (750e-12, 0.0667), (5e-9, 0.010)]),
        (1000.0, [(35e-12, 0.948), (300e-12, 0.550), (750e-12, 0.222), (5e-9, 0.033)]),
    ] {
        for (pulse, wanted) in pairs {
            near(pressure_factor(nm * 1e-9, pulse, 1500.0), wanted, 0.011, "factor");
        }
    }
}

/// Zhigilei LV, Garrison BJ, Appl Surf Sci 1998;127-129:142: a particle of 100 nm breaks by pressure at 15 ps and by heat at
/// 300 ps. So the first is confined in stress and the second in heat only.
#[test]
fn fifteen_and_three_hundred_picoseconds_differ_on_a_hundred_nanometres() {
    let of = |seconds: f64| {
        let pulse = PulseDuration::new(seconds).unwrap();
        confinement(GranuleDiameter::new(100.0).unwrap(), pulse, Definition::AndersonParrish)
    };
    assert_eq!((of(15e-12).words(), of(300e-12).words()), ("heat and stress", "heat only"));
}
