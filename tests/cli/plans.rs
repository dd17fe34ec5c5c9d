//! `plan check`, `plan show`, `plan new`, and what `treat` refuses before it takes the terminal.

use super::{home, run, sample};

const KEYS: [&str; 5] = ["column", "field", "file", "line", "message"];

#[test]
fn without_a_terminal_treat_and_the_start_screen_say_so() {
    let home = home();
    for args in [vec!["treat", &sample("two-zone-band.toml")], vec![]] {
        let run = run(home.path(), &args);
        assert_eq!(run.code, 2);
        assert_eq!(run.out, "");
        assert!(run.err.starts_with("fadewright: there is no terminal to draw on"), "{}", run.err);
        assert!(run.err.contains("terminal window"), "what to do: {}", run.err);
    }
    let journals = crate::architecture::source::files(home.path());
    assert!(journals.is_empty(), "nothing was begun: {journals:?}");
}

#[test]
fn a_plan_in_order_passes_its_check() {
    let home = home();
    let plan = sample("two-zone-band.toml");
    let told = run(home.path(), &["plan", "check", &plan]);
    assert_eq!(told.code, 0);
    assert!(told.out.contains("the plan is in order"), "{}", told.out);
    let json = run(home.path(), &["plan", "check", &plan, "--json"]).json();
    assert_eq!(json["ok"], true);
    assert_eq!(json["problems"], serde_json::json!([]));
}

/// A copy of a sample with two mistakes that the reader sees.
fn misspelt(home: &std::path::Path) -> String {
    let text = std::fs::read_to_string(sample("two-zone-band.toml")).unwrap();
    let path = home.join("bad.toml");
    let bad = text.replacen("fluence = ", "fluense = ", 1).replacen("\"III\"", "\"IX\"", 1);
    std::fs::write(&path, bad).unwrap();
    path.display().to_string()
}

#[test]
fn a_bad_plan_fails_its_check_with_a_place_for_each_mistake() {
    let home = home();
    let plan = misspelt(home.path());
    let told = run(home.path(), &["plan", "check", &plan, "--json"]);
    assert_eq!(told.code, 1);
    let json = told.json();
    assert_eq!(json["ok"], false);
    let problems = json["problems"].as_array().unwrap();
    assert!(problems.len() >= 2, "several mistakes in one go: {problems:?}");
    for problem in problems {
        let keys: Vec<&str> = problem.as_object().unwrap().keys().map(String::as_str).collect();
        assert!(KEYS.iter().all(|key| keys.contains(key)), "{keys:?}");
        assert_eq!(problem["file"], plan);
        assert!(problem["line"].as_u64().unwrap() > 1 && problem["column"].as_u64().unwrap() > 0, "{problem}");
    }
    let human = run(home.path(), &["plan", "check", &plan]);
    assert_eq!(human.code, 1);
    assert!(human.out.contains(":13:") && human.out.contains("problems"), "{}", human.out);
}

#[test]
fn treat_refuses_a_bad_plan_with_its_places() {
    let home = home();
    let told = run(home.path(), &["treat", &misspelt(home.path())]);
    assert_eq!((told.code, told.out.as_str()), (2, ""));
    assert!(told.err.contains("bad.toml:13:") && told.err.contains("fluense"), "{}", told.err);
    let missing = run(home.path(), &["treat", "no-such-plan.toml"]);
    assert_eq!(missing.code, 2);
    assert!(missing.err.contains("no-such-plan.toml") && missing.err.contains("no such file"), "{}", missing.err);
}

#[test]
fn a_setting_above_the_ceiling_is_refused_by_both() {
    let home = home();
    let text = std::fs::read_to_string(sample("two-zone-band.toml")).unwrap();
    let path = home.path().join("high.toml");
    std::fs::write(&path, text.replace("\"3.0 J/cm2\"", "\"7.0 J/cm2\"")).unwrap();
    let plan = path.display().to_string();
    let check = run(home.path(), &["plan", "check", &plan, "--json"]);
    assert_eq!(check.code, 1);
    assert!(check.out.contains("5 J/cm2"), "the ceiling at 4 mm: {}", check.out);
    assert_eq!(run(home.path(), &["treat", &plan]).code, 2);
}

#[test]
fn a_new_plan_is_written_once_and_fails_until_it_is_filled_in() {
    let home = home();
    let path = home.path().join("new.toml").display().to_string();
    assert_eq!(run(home.path(), &["plan", "new", &path]).code, 0);
    let written = std::fs::read_to_string(&path).unwrap();
    assert_eq!(run(home.path(), &["plan", "check", &path]).code, 1);
    let again = run(home.path(), &["plan", "new", &path]);
    assert_eq!(again.code, 2);
    assert!(again.err.contains("exists already"), "{}", again.err);
    assert_eq!(std::fs::read_to_string(&path).unwrap(), written);
}

#[test]
fn a_plan_is_shown_for_people_and_for_programs() {
    let home = home();
    let plan = sample("two-zone-band.toml");
    let shown = run(home.path(), &["plan", "show", &plan]);
    assert_eq!(shown.code, 0);
    assert!(shown.out.contains("HL-2041") && shown.out.contains("band-green"), "{}", shown.out);
    let json = run(home.path(), &["plan", "show", &plan, "--json"]);
    assert!(json.json().is_object());
    assert!(json.out.contains("_j_cm2") && json.out.contains("_nm") && json.out.contains("_mm2"), "{}", json.out);
}

#[test]
fn a_device_profile_that_does_not_exist_is_named() {
    let home = home();
    let told = run(home.path(), &["plan", "check", &sample("cover-up.toml"), "--device", "gone.toml"]);
    assert_eq!(told.code, 2);
    assert!(told.err.contains("gone.toml"), "{}", told.err);
}

/// The same figures as the lines above them, in plain text for each zone.
#[test]
fn the_charts_of_a_plan_are_plain_text_with_its_bands_and_sizes() {
    let home = home();
    let plan = sample("two-zone-band.toml");
    let told = run(home.path(), &["plan", "show", &plan, "--charts"]);
    assert_eq!(told.code, 0, "{}", told.err);
    assert!(told.out.is_ascii() && told.out.lines().all(|l| l.len() <= 80), "{}", told.out);
    for zone in ["band-black", "band-green"] {
        for picture in ["light in depth", "confinement"] {
            assert!(told.out.contains(&format!("zone {zone}: {picture}\n")), "{zone} {picture}: {}", told.out);
        }
    }
    let drawn = told.out.split("zone band-black: light in depth").nth(1).unwrap();
    for words in ["most ink, 0.5 to 1.5 mm", "^basal", "o in force 3 J/cm2 at 4 mm", "depth, mm"] {
        assert!(drawn.contains(words), "{words}: {drawn}");
    }
    assert!(drawn.contains("thermally confined in granules above 145 nm"), "{drawn}");
    assert!(told.out.contains("come first."), "{}", told.out);
    let bare = run(home.path(), &["plan", "show", &plan]);
    assert!(!bare.out.contains("light in depth"), "{}", bare.out);
    assert_eq!(run(home.path(), &["plan", "show", &plan, "--charts", "--json"]).code, 2);
}
