//! `calc course`, and the estimate in `plan show`.

use super::{Run, home, run, sample};

const EYEBROW: [&str; 12] = [
    "--skin",
    "III",
    "--site",
    "head-neck",
    "--colours",
    "black",
    "--amount",
    "amateur",
    "--scarring",
    "none",
    "--layered",
    "no",
];

fn course(args: &[&str]) -> Run {
    run(home().path(), &[&["calc", "course"], args].concat())
}

#[test]
fn flags_give_the_score_the_spread_and_what_is_known_against_it() {
    let result = course(&[&EYEBROW[..], &["--json"]].concat());
    assert_eq!(result.code, 0, "{}", result.err);
    let json = result.json();
    assert_eq!(json["score"], 6);
    assert_eq!((json["expected_sessions"].as_f64(), json["spread_sessions"].as_f64()), (Some(6.0), Some(2.5)));
    assert_eq!(
        json["points"],
        serde_json::json!({
            "skin_type": 3, "body_site": 1, "ink_colours": 1, "ink_amount": 1, "scarring": 0, "layering": 0
        })
    );
    assert_eq!(json["next_interval_weeks"].as_f64(), Some(6.0), "light skin");
    assert!(json.get("sessions_left").is_none(), "nothing is known of earlier sessions");
    let caveats = json["caveats"].as_array().unwrap();
    assert!(caveats.len() >= 5 && caveats.iter().all(|c| c["text"].is_string() && c["source"].is_string()));
    let text = course(&EYEBROW).out;
    assert!(text.lines().all(|l| l.chars().count() <= 80), "{text}");
    for words in ["6 sessions, give or take 2.5", "picosecond", "0.757", "5.09", "smoking", "no promise"] {
        assert!(text.contains(words), "{words} in {text}");
    }
}

#[test]
fn a_skin_type_is_taken_as_a_number_too_and_sets_the_interval() {
    let with = |skin: &str| {
        let mut args = EYEBROW;
        args[1] = skin;
        course(&[&args[..], &["--json"]].concat()).json()
    };
    assert_eq!(with("3"), with("III"));
    assert_eq!((with("6")["score"].as_u64(), with("VI")["score"].as_u64()), (Some(9), Some(9)));
    assert_eq!(with("4")["next_interval_weeks"].as_f64(), Some(8.0), "dark skin");
}

#[test]
fn a_plan_is_taken_as_one_tattoo_with_its_sessions() {
    // Skin III (3), distal (5), black, green and light blue (4), moderate (3), no scar, one layer.
    let json = course(&[&sample("two-zone-band.toml"), "--json"]).json();
    assert_eq!((json["score"].as_u64(), json["colours"].as_str()), (Some(15), Some("many")));
    assert_eq!(json["sessions_done"], 0);
    let repeat = course(&[&sample("repeat-session.toml"), "--json"]).json();
    let (score, done) = (repeat["score"].as_f64().unwrap(), repeat["sessions_done"].as_f64().unwrap());
    assert!(done > 0.0);
    assert_eq!(repeat["sessions_left"]["low"].as_f64(), Some((score - 2.5 - done).max(0.0)));
    assert_eq!(repeat["sessions_left"]["high"].as_f64(), Some((score + 2.5 - done).max(0.0)));
    let text = course(&[&sample("repeat-session.toml")]).out;
    assert!(text.contains(" done, ") && text.contains("zone with the most points"), "{text}");
}

#[test]
fn the_hardest_zone_counts_and_the_colours_of_all() {
    let home = home();
    let plan = std::fs::read_to_string(sample("two-zone-band.toml")).unwrap();
    // The first zone over a scar and an older tattoo, the second amateur and sparse, in red beside the black.
    let plan = plan.replacen("scarring = \"none\"", "scarring = \"moderate\"", 1);
    let plan = plan.replacen("layered = false", "layered = true", 1);
    let (first, second) = plan.rsplit_once("[[zone]]").unwrap();
    let second = second.replace("inks = [\"green\", \"light-blue\"]", "inks = [\"red\"]");
    let second = second.replace("origin = \"professional\"", "origin = \"amateur\"");
    let file = home.path().join("plan.toml");
    std::fs::write(&file, format!("{first}[[zone]]{second}")).unwrap();
    let result = run(home.path(), &["calc", "course", file.to_str().unwrap(), "--json"]);
    assert_eq!(result.code, 0, "{}", result.err);
    assert_eq!(
        result.json()["points"],
        serde_json::json!({
            "skin_type": 3, "body_site": 5, "ink_colours": 2, "ink_amount": 3, "scarring": 3, "layering": 2
        })
    );
}

#[test]
fn a_shown_plan_tells_its_course() {
    let home = home();
    let plan = sample("two-zone-band.toml");
    let shown = run(home.path(), &["plan", "show", &plan]).out;
    assert!(shown.contains("course   15 sessions, give or take 2.5; 0 done, 12.5 to 17.5 left"), "{shown}");
    assert!(shown.lines().all(|l| l.chars().count() <= 80), "{shown}");
    let json = run(home.path(), &["plan", "show", &plan, "--json"]).json();
    assert_eq!((json["course"]["score"].as_u64(), json["course"]["sessions_done"].as_u64()), (Some(15), Some(0)));
}

#[test]
fn what_is_missing_or_wrong_is_named() {
    let plan = sample("two-zone-band.toml");
    let without = |flag: &str| {
        let at = EYEBROW.iter().position(|a| *a == flag).unwrap();
        let mut args = EYEBROW.to_vec();
        args.drain(at..at + 2);
        args
    };
    for flag in ["--skin", "--site", "--colours", "--amount", "--scarring", "--layered"] {
        let result = course(&without(flag));
        assert_eq!((result.code, result.out.as_str()), (2, ""), "{flag}");
        assert!(result.err.contains("not provided") && result.err.contains(flag), "{}", result.err);
        // A plan says all of it: with a flag beside it nobody could tell which counts.
        let at = EYEBROW.iter().position(|a| *a == flag).unwrap();
        let both = course(&[plan.as_str(), flag, EYEBROW[at + 1]]);
        assert_eq!(both.code, 2, "{flag}");
        assert!(both.err.contains("cannot be used with"), "{}", both.err);
    }
    let missing = course(&[]);
    assert_eq!(missing.code, 2);
    assert!(["--skin", "--site", "--layered"].iter().all(|f| missing.err.contains(f)), "{}", missing.err);
    for (flag, value, wanted) in [
        ("--skin", "0", "--skin: '0' is no skin type"),
        ("--skin", "7", "or 1 to 6"),
        ("--skin", "-1", "--skin"),
        ("--site", "nose", "--site: 'nose' is no site"),
        ("--colours", "blue", "black-red-and-others"),
        ("--amount", "much", "--amount: 'much' is no amount of ink; one of: amateur"),
        ("--scarring", "some", "--scarring"),
        ("--layered", "maybe", "--layered: 'maybe' is neither yes nor no"),
        ("--layered", "\u{1b}[31m", "␛[31m"),
    ] {
        let at = EYEBROW.iter().position(|a| *a == flag).unwrap();
        let mut args = EYEBROW.to_vec();
        args[at + 1] = value;
        let result = course(&args);
        assert_eq!((result.code, result.out.as_str()), (2, ""), "{flag} {value}");
        assert!(result.err.contains(wanted) && !result.err.contains('\u{1b}'), "{}", result.err);
    }
    assert_eq!(course(&["gone.toml"]).code, 2);
}
