//! `calc depth` and the light in `plan show`.

use super::{home, run, sample};
use std::path::Path;

const ASKED: [&str; 14] = [
    "calc",
    "depth",
    "--wavelength-nm",
    "1064",
    "--skin",
    "III",
    "--site",
    "distal-extremity",
    "--spot-mm",
    "3",
    "--fluence-j-cm2",
    "3",
    "--pulse",
    "6ns",
];

fn number(json: &serde_json::Value, keys: &[&str]) -> f64 {
    keys.iter().fold(json, |v, key| &v[key]).as_f64().unwrap_or_else(|| panic!("{keys:?} in {json}"))
}

fn kept(home: &Path) -> usize {
    let dir = home.join(".cache/fadewright/light");
    std::fs::read_dir(dir).map_or(0, Iterator::count)
}

#[test]
fn light_is_computed_once_and_kept_to_the_last_digit() {
    let home = home();
    let first = run(home.path(), &[&ASKED[..], &["--json"]].concat());
    assert_eq!(first.code, 0, "{}", first.err);
    assert_eq!(kept(home.path()), 4, "one a case of the skin");
    assert_eq!(first.out, run(home.path(), &[&ASKED[..], &["--json"]].concat()).out);
    assert_eq!(first.out, run(home.path(), &[&ASKED[..], &["--json", "--fresh"]].concat()).out);
    let json = first.json();
    let ink = number(&json, &["ink_j_cm2", "nominal"]);
    assert!(number(&json, &["ink_j_cm2", "low"]) < ink && ink < number(&json, &["ink_j_cm2", "high"]));
    assert!(number(&json, &["ink_j_cm2", "standard_error"]) < 0.015 * ink);
    assert!(number(&json, &["basal_j_cm2", "nominal"]) > ink && number(&json, &["epidermis_rise_k", "nominal"]) > 0.0);
    let spots = json["spots"].as_array().unwrap();
    let doses: Vec<f64> = spots.iter().map(|s| number(s, &["ink_j_cm2", "nominal"])).collect();
    assert!(spots.len() >= 6 && doses.windows(2).all(|w| w[0] < w[1]), "{doses:?}");
    assert_eq!(json["confinement"].as_array().unwrap().len(), 5);
    // A spoilt file is not believed.
    for entry in std::fs::read_dir(home.path().join(".cache/fadewright/light")).unwrap() {
        let path = entry.unwrap().path();
        let mut bytes = std::fs::read(&path).unwrap();
        let middle = bytes.len() / 2;
        bytes[middle] ^= 0x40;
        std::fs::write(&path, bytes).unwrap();
    }
    assert_eq!(first.out, run(home.path(), &[&ASKED[..], &["--json"]].concat()).out);
}

#[test]
fn a_cache_that_cannot_be_written_costs_nothing_but_time() {
    let home = home();
    std::fs::write(home.path().join(".cache"), "in the way").unwrap();
    let result = run(home.path(), &ASKED);
    assert_eq!(result.code, 0, "{}", result.err);
    assert!(result.out.contains("middle of the ink") && result.out.contains("come first"));
    assert!(result.out.lines().all(|l| l.chars().count() <= 80), "{}", result.out);
}

#[test]
fn what_no_table_holds_is_refused() {
    let home = home();
    let asked = |changes: &[(&str, &str)]| {
        let mut args: Vec<&str> = ASKED.to_vec();
        for (flag, value) in changes {
            let at = args.iter().position(|a| a == flag).unwrap();
            args[at + 1] = value;
        }
        run(home.path(), &args)
    };
    for (flag, value, words) in [
        ("--wavelength-nm", "1200", "1100"),
        ("--wavelength-nm", "300", "400"),
        ("--wavelength-nm", "green", "--wavelength-nm"),
        ("--skin", "VII", "skin type"),
        ("--site", "knee", "one of"),
        ("--spot-mm", "-3", "--spot-mm"),
        ("--spot-mm", "90", "--spot-mm"),
        ("--fluence-j-cm2", "nan", "--fluence-j-cm2"),
        ("--pulse", "6", "unit"),
    ] {
        let result = asked(&[(flag, value)]);
        assert_eq!((result.code, result.out.as_str()), (2, ""), "{flag} {value}");
        assert!(result.err.contains(words), "{flag} {value}: {}", result.err);
    }
    assert_eq!(run(home.path(), &["calc", "depth"]).code, 2);
    assert_eq!(kept(home.path()), 0);
}

#[test]
fn a_plan_shows_light_and_confinement_for_each_zone_and_proposes_nothing_above_a_limit() {
    let home = home();
    let plan = sample("two-zone-band.toml");
    let shown = run(home.path(), &["plan", "show", &plan]);
    assert_eq!(shown.code, 0, "{}", shown.err);
    assert_eq!(shown.out.matches("middle of the ink").count(), 2);
    assert!(shown.out.contains("over the limit, 1.9 J/cm2") && shown.out.contains("confines neither"));
    assert!(shown.out.lines().all(|l| l.chars().count() <= 80), "{}", shown.out);
    let json = run(home.path(), &["plan", "show", &plan, "--json"]).json();
    let light = json["light"].as_array().unwrap();
    assert_eq!((light.len(), light[1]["profile"].as_str()), (2, Some("gaussian")));
    for spot in light.iter().flat_map(|l| l["spots"].as_array().unwrap()) {
        let same = number(spot, &["same_ink_fluence_j_cm2", "nominal"]);
        let within = spot["limit_j_cm2"].as_f64().is_some_and(|limit| same <= limit * (1.0 + 1e-9));
        assert_eq!(spot["same_ink_within_limit"].as_bool(), Some(within), "{spot}");
    }
    // The command for depth alone says the same of the plan.
    let depth = run(home.path(), &["calc", "depth", &plan, "--json"]).json();
    assert_eq!(depth[0]["ink_j_cm2"], light[0]["ink_j_cm2"]);
    let text = run(home.path(), &["calc", "depth", &plan]);
    assert!(text.code == 0 && text.out.contains("zone band-green"), "{}", text.err);
}

#[test]
fn a_plan_whose_wavelength_has_no_table_is_shown_all_the_same() {
    let home = home();
    let text = std::fs::read_to_string(sample("first-script.toml")).unwrap();
    let plan = home.path().join("plan.toml");
    std::fs::write(&plan, text.replace("\"1064 nm\"", "\"1320 nm\"")).unwrap();
    let shown = run(home.path(), &["plan", "show", plan.to_str().unwrap()]);
    assert_eq!(shown.code, 0, "{}", shown.err);
    assert!(shown.out.contains("light: not known") && shown.out.contains("1320 nm"), "{}", shown.out);
}
