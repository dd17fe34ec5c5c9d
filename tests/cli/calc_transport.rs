//! `calc transport`: the keys and figures that scripts rely on, and what bad input gets.

use super::{Run, home, run};
use rustix::process::{Pid, Signal, kill_process};
use std::process::{Command, Stdio};
use std::time::Duration;
use tempfile::TempDir;

/// Three layers, case M3 of `against_published`: diffuse reflectance 0.237857, transmittance 0.096048.
const THREE: &str = "n_above = 1.0\nn_below = 1.0\n\
    [[layer]]\nn = 1.37\nmua_per_cm = 1\nmus_per_cm = 100\ng = 0.9\nthickness_cm = 0.1\n\
    [[layer]]\nn = 1.37\nmua_per_cm = 1.0\nmus_per_cm = 10.0\ng = 0\nthickness_cm = 0.1\n\
    [[layer]]\nn = 1.37\nmua_per_cm = 2.0\nmus_per_cm = 10.0\ng = 0.7\nthickness_cm = 0.2\n";

struct Bench {
    home: TempDir,
    file: String,
}

fn with(layers: &str) -> Bench {
    let home = home();
    let file = home.path().join("layers.toml");
    std::fs::write(&file, layers).unwrap();
    Bench { file: file.to_str().unwrap().to_owned(), home }
}

impl Bench {
    fn transport(&self, args: &[&str]) -> Run {
        run(self.home.path(), &[&["calc", "transport", "--layers", &self.file], args].concat())
    }
}

fn number(json: &serde_json::Value, key: &str) -> f64 {
    json[key].as_f64().unwrap_or_else(|| panic!("{key} in {json}"))
}

#[test]
fn every_promised_key_is_there_and_near_its_value() {
    let result = with(THREE).transport(&["--photons", "100000", "--seed", "3", "--json"]);
    assert_eq!(result.code, 0, "{}", result.err);
    let json = result.json();
    let (reflectance, error) = (number(&json, "diffuse_reflectance"), number(&json, "diffuse_reflectance_se"));
    assert!(error > 0.0 && error < 0.003 && (reflectance - 0.237_857).abs() < 5.0 * error, "{json}");
    let (transmittance, error) = (number(&json, "transmittance"), number(&json, "transmittance_se"));
    assert!(error > 0.0 && (transmittance - 0.096_048).abs() < 5.0 * error, "{json}");
    assert!((number(&json, "specular_reflectance") - 0.024_372_9).abs() < 1e-6);
    let absorbed: f64 = json["absorbed"].as_array().unwrap().iter().map(|a| a.as_f64().unwrap()).sum();
    assert_eq!(json["absorbed"].as_array().unwrap().len(), 3);
    assert!((reflectance + transmittance + number(&json, "specular_reflectance") + absorbed - 1.0).abs() < 1e-12);
    assert_eq!((json["photons"].as_u64(), json["complete"].as_bool()), (Some(100_000), Some(true)));
    assert!(number(&json, "photons_per_s") > 0.0 && json.get("depth_dose").is_none());
}

#[test]
fn threads_change_nothing_and_the_seed_does() {
    let bench = with(THREE);
    let figures = |args: &[&str]| {
        let all = [&["--photons", "20000", "--depths-cm", "0.05,0.1", "--spots-mm", "2,4", "--json"], args].concat();
        let json = bench.transport(&all).json();
        ["diffuse_reflectance", "diffuse_reflectance_se", "transmittance", "absorbed", "depth_dose", "events"]
            .map(|key| json[key].to_string())
    };
    let one = figures(&["--threads", "1"]);
    assert_eq!(one, figures(&["--threads", "2"]));
    assert_eq!(one, figures(&["--threads", "7"]));
    assert_ne!(one, figures(&["--seed", "2"]));
}

#[test]
fn depth_dose_lists_every_spot_at_every_depth() {
    let bench = with(THREE);
    let args = ["--photons", "50000", "--depths-cm", "0.05,0.1", "--spots-mm", "2,4", "--json"];
    let json = bench.transport(&args).json();
    let doses = json["depth_dose"].as_array().unwrap();
    let places: Vec<_> = doses.iter().map(|d| (number(d, "spot_mm"), number(d, "depth_cm"))).collect();
    assert_eq!(places, [(2.0, 0.05), (2.0, 0.1), (4.0, 0.05), (4.0, 0.1)]);
    assert!(doses.iter().all(|d| number(d, "se") > 0.0 && number(d, "se") < 0.1 * number(d, "fluence_per_incident")));
    assert!(number(&doses[2], "fluence_per_incident") > number(&doses[0], "fluence_per_incident"));
    // Without a spot the beam is wide: 2.70172 and 2.13169 (deterministic reference).
    let wide = bench.transport(&["--photons", "50000", "--depths-cm", "0.05,0.1", "--json"]).json();
    for (dose, wanted) in wide["depth_dose"].as_array().unwrap().iter().zip([2.701_72, 2.131_69]) {
        assert!(dose["spot_mm"].is_null());
        assert!((number(dose, "fluence_per_incident") - wanted).abs() < 5.0 * number(dose, "se"), "{dose}");
    }
    // A Gaussian spot's light falls off from the axis, so less of it gathers there than under a flat one.
    let gaussian = bench.transport(&[&args[..], &["--profile", "gaussian"]].concat()).json();
    for (g, flat) in gaussian["depth_dose"].as_array().unwrap().iter().zip(doses) {
        assert!(number(g, "fluence_per_incident") < number(flat, "fluence_per_incident"));
    }
}

#[test]
fn a_precision_is_reached_or_said_not_to_be() {
    let bench = with(THREE);
    let json = bench.transport(&["--precision", "0.01", "--depths-cm", "0.1", "--spots-mm", "4", "--json"]).json();
    let dose = &json["depth_dose"][0];
    assert!(number(dose, "se") <= 0.01 * number(dose, "fluence_per_incident") && json["complete"] == true);
    let args = ["--precision", "0.00001", "--time-limit", "1 s"];
    let late = bench.transport(&[&args[..], &["--json"]].concat());
    assert_eq!((late.code, late.json()["complete"].as_bool()), (1, Some(false)));
    assert_eq!(late.json()["ending"], "time limit");
    assert!(number(&late.json(), "diffuse_reflectance_se") > 0.0);
    let told = bench.transport(&args);
    assert!(told.code == 1 && told.out.contains("NOT COMPLETE (time limit)"), "{}", told.out);
}

#[test]
fn more_photons_than_there_is_time_for_give_an_honest_part() {
    let result = with(THREE).transport(&["--photons", "1e12", "--time-limit", "1 s", "--json"]);
    let json = result.json();
    assert_eq!((result.code, json["complete"].as_bool()), (1, Some(false)));
    let photons = json["photons"].as_u64().unwrap();
    assert!(photons > 0 && photons < 1_000_000_000_000);
    assert!((number(&json, "diffuse_reflectance") - 0.237_857).abs() < 6.0 * number(&json, "diffuse_reflectance_se"));
}

/// Ctrl-C is SIGINT: the part that is done is told as such, and its figures hold.
#[test]
fn an_interrupted_run_tells_what_is_done() {
    let bench = with(THREE);
    let child = Command::new(env!("CARGO_BIN_EXE_fadewright"))
        .args(["calc", "transport", "--layers", &bench.file, "--photons", "1e12", "--time-limit", "5 min", "--json"])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    // A signal before the program listens for it would end it without a word; it listens long before this.
    std::thread::sleep(Duration::from_secs(2));
    kill_process(Pid::from_child(&child), Signal::INT).unwrap();
    let output = child.wait_with_output().unwrap();
    let json: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!((output.status.code(), json["ending"].as_str()), (Some(1), Some("interrupted")), "{json}");
    assert!(json["complete"] == false && json["photons"].as_u64().unwrap() > 0);
    assert!((number(&json, "diffuse_reflectance") - 0.237_857).abs() < 6.0 * number(&json, "diffuse_reflectance_se"));
}

#[test]
fn both_methods_agree() {
    let bench = with(THREE);
    let args = ["--depths-cm", "0.05,0.1", "--json"];
    let exact = bench.transport(&[&["--method", "adding-doubling"], &args[..]].concat());
    assert_eq!(exact.code, 0, "{}", exact.err);
    let (exact, drawn) = (exact.json(), bench.transport(&[&["--photons", "100000"], &args[..]].concat()).json());
    for key in ["diffuse_reflectance", "transmittance"] {
        let error = number(&drawn, &format!("{key}_se"));
        assert!((number(&exact, key) - number(&drawn, key)).abs() < 5.0 * error, "{key}");
    }
    for (a, b) in exact["depth_dose"].as_array().unwrap().iter().zip(drawn["depth_dose"].as_array().unwrap()) {
        let off = number(a, "fluence_per_incident") - number(b, "fluence_per_incident");
        assert!(off.abs() < 5.0 * number(b, "se"), "{a} {b}");
    }
    assert!((number(&exact, "diffuse_reflectance") - 0.237_857).abs() < 1e-4);
    let spots = bench.transport(&["--method", "adding-doubling", "--depths-cm", "0.1", "--spots-mm", "2"]);
    assert!(spots.code == 2 && spots.err.contains("wide"), "{}", spots.err);
}

#[test]
fn bad_layers_are_told_with_their_place() {
    for (from, to, place, words) in [
        ("mua_per_cm = 1\n", "mua_per_cm = -1\n", ":5:", "mua_per_cm"),
        ("mus_per_cm = 100", "mus_per_cm = nan", ":6:", "mus_per_cm"),
        ("mus_per_cm = 100", "mus_per_cm = inf", ":6:", "mus_per_cm"),
        ("g = 0.9", "g = 1.0", ":7:", "above -1 and below 1"),
        ("g = 0.9", "g = -1", ":7:", "above -1 and below 1"),
        ("thickness_cm = 0.1", "thickness_cm = 0", ":8:", "above 0"),
        ("n_above = 1.0\n", "", ":1:", "n_above"),
        ("g = 0.9\n", "", ":3:", "missing"),
        ("[[layer]]\nn = 1.37", "[layer]\nn = 1.37", "", "[[layer]]"),
        ("n = 1.37", "n = 0.5", ":4:", "from 1 to 4"),
    ] {
        let result = with(&THREE.replacen(from, to, 1)).transport(&["--photons", "10"]);
        assert_eq!((result.code, result.out.as_str()), (2, ""), "{to}");
        assert!(
            result.err.contains(place) && result.err.contains(words) && result.err.contains("layers.toml"),
            "{to}: {}",
            result.err
        );
    }
    let none = run(home().path(), &["calc", "transport", "--layers", "/nonexistent/layers.toml"]);
    assert!(none.code == 2 && none.err.contains("layers.toml"), "{}", none.err);
}

#[test]
fn bad_questions_are_refused_without_a_panic() {
    let bench = with(THREE);
    for args in [
        &["--photons", "0"][..],
        &["--photons", "1e13"],
        &["--photons", "1.5"],
        &["--photons", "-3"],
        &["--photons", "nan"],
        &["--photons", "many"],
        &["--precision", "0"],
        &["--precision", "-0.1"],
        &["--precision", "nan"],
        &["--precision", "0.01", "--photons", "10"],
        &["--threads", "0"],
        &["--depths-cm", "0.5"],
        &["--depths-cm", "-0.1"],
        &["--depths-cm", "nan"],
        &["--depths-cm", "inf"],
        &["--depths-cm", ""],
        &["--spots-mm", "2"],
        &["--depths-cm", "0.1", "--spots-mm", "0"],
        &["--depths-cm", "0.1", "--spots-mm", "-2"],
        &["--depths-cm", "0.1", "--spots-mm", "500"],
        &["--depths-cm", "0.1", "--profile", "square"],
        &["--time-limit", "soon"],
        &["--method", "guess"],
        &["--photons", "\u{1b}[31m1"],
        &["--depths-cm", "\u{1b}[31m1"],
        &["--time-limit", "\u{1b}[31m1"],
    ] {
        let result = bench.transport(args);
        assert_eq!(result.code, 2, "{args:?}: {} {}", result.out, result.err);
        assert!(!result.err.contains("panicked") && !result.err.is_empty(), "{args:?}: {}", result.err);
        assert!(!result.err.contains('\u{1b}'), "{args:?} steers the terminal");
    }
}

/// Scattering without absorption in a huge slab: no photon comes to its end in time, and the program does not hang.
#[test]
fn photons_without_an_end_do_not_hang() {
    let layers =
        "n_above = 1\nn_below = 1\n[[layer]]\nn = 1.4\nmua_per_cm = 0\nmus_per_cm = 1e6\ng = 0\nthickness_cm = 1e4\n";
    let result = with(layers).transport(&["--photons", "1e6", "--time-limit", "1 s"]);
    assert!(result.code == 1 && result.err.contains("stopped before"), "{} {}", result.out, result.err);
    let endless = with(&layers.replace("1e4", "inf")).transport(&["--photons", "10"]);
    assert!(endless.code == 2 && endless.err.contains("for ever"), "{}", endless.err);
}

#[test]
fn a_person_reads_eighty_columns() {
    let result = with(THREE).transport(&["--photons", "5000", "--depths-cm", "0.05", "--spots-mm", "2"]);
    assert!(result.out.contains("diffuse reflectance") && result.out.contains("2 mm"), "{}", result.out);
    assert!(result.out.lines().all(|l| l.chars().count() <= 80), "{}", result.out);
}
