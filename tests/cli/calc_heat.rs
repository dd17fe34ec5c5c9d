//! `calc heat`.

use super::{Run, home, run};

fn heat(args: &[&str]) -> Run {
    run(home().path(), &[&["calc", "heat"], args].concat())
}

#[test]
fn a_granule_of_a_hundred_nanometres_keeps_heat_but_not_stress_in_750_ps() {
    let result = heat(&["--granule-nm", "100", "--pulse", "750ps", "--json"]);
    assert_eq!(result.code, 0, "{}", result.err);
    let json = result.json();
    // 1e-14 m2 / (27 x 1.3e-7 m2/s), and 100 nm at 1500 m/s.
    assert!((json["relaxation_s"].as_f64().unwrap() / 2.849e-9 - 1.0).abs() < 1e-4, "{json}");
    assert!((json["transit_s"].as_f64().unwrap() / 66.667e-12 - 1.0).abs() < 1e-4, "{json}");
    assert_eq!((json["thermally_confined"].as_bool(), json["stress_confined"].as_bool()), (Some(true), Some(false)));
    assert!(json["relaxation_definition"].as_str().unwrap().starts_with("d^2/(27 kappa)"));
    assert_eq!(json["speed_of_sound_m_s"], 1500.0);
    assert!((json["peak_pressure_share"].as_f64().unwrap() - 0.0222).abs() < 1e-4);
    let rows = json["side_by_side"].as_array().unwrap();
    assert_eq!(rows.len(), 20);
    let of = |granule: f64, pulse: f64| {
        let near =
            |key: &str, wanted: f64, row: &serde_json::Value| (row[key].as_f64().unwrap() / wanted - 1.0).abs() < 1e-9;
        rows.iter().find(|r| near("granule_nm", granule, r) && near("pulse_s", pulse, r)).unwrap()
    };
    assert_eq!(of(1000.0, 300e-12)["stress_confined"], true);
    assert_eq!(of(40.0, 6e-9)["thermally_confined"], false);
}

#[test]
fn the_definition_is_named_and_changes_the_time() {
    let of = |word: &str| {
        let json = heat(&["--granule-nm", "100", "--pulse", "6ns", "--definition", word, "--json"]).json();
        (json["relaxation_s"].as_f64().unwrap(), json["relaxation_definition"].as_str().unwrap().to_owned())
    };
    let all = ["quarter", "sixteenth", "centre-half", "altshuler", "anderson-parrish", "mean-half"].map(of);
    assert!(all.windows(2).all(|w| w[0].0 > w[1].0 && w[0].1 != w[1].1), "{all:?}");
}

/// Carbon of 100 nm at 1064 nm without loss takes 6.1e4 K for each J/cm2 (Mie theory): with loss it is less.
#[test]
fn a_wavelength_adds_the_heating_of_carbon_or_says_why_not() {
    let of = |nm: &str, wavelength: &str, pulse: &str| {
        let result = heat(&["--granule-nm", nm, "--pulse", pulse, "--wavelength-nm", wavelength, "--json"]);
        assert_eq!(result.code, 0, "{}", result.err);
        result.json()["carbon"].clone()
    };
    let short = of("100", "1064", "1ps")["heating_k_per_j_cm2"].as_f64().unwrap();
    assert!(short < 60_845.0 && short > 0.95 * 60_845.0, "{short}");
    let long = of("100", "1064", "6ns")["heating_k_per_j_cm2"].as_f64().unwrap();
    assert!(long < 0.5 * short, "{long}");
    let none = of("4000", "1064", "6ns");
    assert!(
        none["heating_k_per_j_cm2"].is_null() && none["note"].as_str().unwrap().contains("20 to 1000 nm"),
        "{none}"
    );
}

#[test]
fn the_text_fits_the_screen_and_says_what_it_is() {
    for args in [
        &["--granule-nm", "100", "--pulse", "750ps", "--wavelength-nm", "1064"][..],
        &["--granule-nm", "4000", "--pulse", "1ms", "--wavelength-nm", "1064"],
        &["--granule-nm", "1", "--pulse", "100fs", "--definition", "centre-half"],
        &["--granule-nm", "100 um", "--pulse", "1 s"],
    ] {
        let result = heat(args);
        assert_eq!(result.code, 0, "{args:?}: {}", result.err);
        assert!(result.out.lines().all(|l| l.chars().count() <= 80), "{}", result.out);
        for words in ["Relaxation time", "Sound transit", "1500 m/s", "it sets nothing", "clinic's protocol come first"]
        {
            assert!(result.out.contains(words), "{words} in {}", result.out);
        }
        assert!(!result.out.contains("NaN") && !result.out.contains("inf"), "{}", result.out);
    }
}

#[test]
fn wrong_input_is_refused_with_the_flag_and_what_to_do() {
    for (args, wanted) in [
        (
            &["--granule-nm", "0", "--pulse", "750ps"][..],
            "--granule-nm: granule diameter 0 nm is outside 1 to 100000 nm",
        ),
        (&["--granule-nm", "-5", "--pulse", "750ps"], "--granule-nm"),
        (&["--granule-nm", "nan", "--pulse", "750ps"], "--granule-nm"),
        (&["--granule-nm", "1e300", "--pulse", "750ps"], "--granule-nm"),
        (&["--granule-nm", "big", "--pulse", "750ps"], "write it like '100 nm'"),
        (&["--granule-nm", "100", "--pulse", "750"], "has no unit"),
        (&["--granule-nm", "100", "--pulse", "-1 ns"], "--pulse: pulse duration"),
        (&["--granule-nm", "100", "--pulse", "NaN s"], "--pulse"),
        (&["--granule-nm", "100", "--pulse", "2 s"], "--pulse"),
        (&["--granule-nm", "100", "--pulse", "750 mm"], "'mm' is not a unit of pulse duration"),
        (&["--granule-nm", "100", "--pulse", "1ns", "--definition", "mine"], "one of: anderson-parrish, altshuler"),
        (&["--granule-nm", "100", "--pulse", "1ns", "--wavelength-nm", "20"], "--wavelength-nm"),
    ] {
        let result = heat(args);
        assert_eq!((result.code, result.out.as_str()), (2, ""), "{args:?}: {}", result.err);
        assert!(result.err.contains(wanted) && !result.err.contains("panicked"), "{args:?}: {}", result.err);
    }
    assert_eq!(heat(&["--pulse", "1ns"]).code, 2);
}
