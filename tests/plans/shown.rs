//! What `plan show` says, and the template of `plan new`.

use super::{good, load};
use fadewright::cli::plan::{json_plan, new_plan, open_plan, plan_template, render_plan};
use fadewright::plan::{
    self, BodySite, Condition, Density, FitzpatrickType, InkColour, InkOrigin, Medicine, Scarring, Tan, TestSpotResult,
};
use fadewright::source::{self, SourceText};
use fadewright::words::Word;
use unicode_width::UnicodeWidthStr;

#[test]
fn a_plan_is_shown_for_a_person() {
    insta::assert_snapshot!(render_plan(&load(&good()).unwrap()), @r"
    plan     Two-colour band, two passes
    client   HL-2041, 34 years, 72 kg, skin type III
    history  first session
             medicines: none
             conditions: none
             allergies: nickel
             tan at the site: none

    zone 1   band-black: left forearm, outer side, edge of the band
             (distal-extremity)
             rectangle 48 mm x 38 mm, 1824 mm2
             ink: black; moderate density, professional, one layer, scarring none
             1064 nm, 6 ns, 4 mm, 3 J/cm2, 5 Hz: 0.377 J per pulse
             overlap 10 %, 2 passes; next pass 20 min after the pass before, and
             whitening faded

    zone 2   band-green: left forearm, outer side, middle of the band
             (distal-extremity)
             rectangle 42 mm x 26 mm, 1092 mm2
             ink: green, light-blue; moderate density, professional, one layer,
             scarring none
             755 nm, 750 ps, 3 mm, 2 J/cm2, 5 Hz: 0.141 J per pulse
             overlap 10 %, 2 passes; next pass 20 min after the pass before, and
             whitening faded
    ");
}

#[test]
fn what_is_long_is_wrapped_to_a_terminal() {
    let text = good().replace("allergies = [\"nickel\"]", &format!("allergies = [{}]", "\"rubber 漢字\", ".repeat(20)));
    let shown = render_plan(&load(&text).unwrap());
    assert!(shown.lines().all(|l| l.width() <= 80), "{shown}");
    assert_eq!(shown.matches("rubber").count(), 20);
}

#[test]
fn a_plan_for_a_program_names_the_unit_of_every_number() {
    let plan = load(&good()).unwrap();
    let json = serde_json::to_value(json_plan(&plan)).unwrap();
    let zone = &json["zones"][0];
    assert_eq!(zone["area_mm2"], 1824.0);
    // E = F pi d^2 / 4: 3 J/cm2 at 4 mm is 0.377 J.
    assert!((zone["pulse_energy_j"].as_f64().unwrap() - 0.376_991).abs() < 1e-6);
    assert_eq!((zone["pulse_class"].as_str(), zone["passes"].as_u64()), (Some("nanosecond"), Some(2)));
    assert_eq!(json["client"]["weight_kg"], 72.0);
    assert_eq!(zone["pass_spacing"]["wait_s"], 1200.0);
    let units = ["_mm", "_mm2", "_nm", "_s", "_hz", "_j", "_j_cm2", "_kg", "_percent", "_years"];
    let counts = ["passes", "earlier_sessions"];
    let mut open = vec![(String::new(), &json)];
    let mut numbers = 0;
    while let Some((key, value)) = open.pop() {
        match value {
            serde_json::Value::Object(map) => open.extend(map.iter().map(|(k, v)| (k.clone(), v))),
            serde_json::Value::Array(list) => open.extend(list.iter().map(|v| (key.clone(), v))),
            serde_json::Value::Number(_) => {
                numbers += 1;
                assert!(units.iter().any(|u| key.ends_with(u)) || counts.contains(&key.as_str()), "{key}");
            }
            _ => {}
        }
    }
    assert!(numbers >= 20, "{numbers}");
}

#[test]
fn the_template_names_every_blank_and_passes_once_filled() {
    let problems = plan::load(&SourceText::new("new.toml", plan_template())).unwrap_err();
    let blanks: usize = plan_template().lines().map(|l| l.split('#').next().unwrap().matches("\"?\"").count()).sum();
    assert_eq!(problems.list().len(), blanks, "{problems}");
    assert!(problems.list().iter().all(|p| p.message.starts_with("still blank") && !p.field.is_empty()), "{problems}");
    let mut text = plan_template().to_owned();
    for (key, value) in [
        ("title", "\"Black script\""),
        ("code", "\"HL-2041\""),
        ("age", "34"),
        ("weight", "\"72 kg\""),
        ("skin", "\"II\""),
        ("earlier_sessions", "0"),
        ("medicines", "[]"),
        ("conditions", "[]"),
        ("allergies", "[]"),
        ("tan", "\"none\""),
        ("id", "\"script\""),
        ("place", "\"wrist\""),
        ("site", "\"distal-extremity\""),
        ("shape", "{ kind = \"rectangle\", width = \"4 cm\", height = \"9 mm\" }"),
        ("inks", "[\"black\"]"),
        ("density", "\"minimal\""),
        ("layered", "false"),
        ("scarring", "\"none\""),
        ("origin", "\"amateur\""),
        ("wavelength", "\"1064 nm\""),
        ("pulse_duration", "\"6 ns\""),
        ("spot", "\"4 mm\""),
        ("fluence", "\"2.5 J/cm2\""),
        ("rate", "\"2 Hz\""),
        ("overlap", "\"10 %\""),
        ("passes", "1"),
        ("pass_spacing", "\"20 min\""),
    ] {
        let line = text.lines().find(|l| l.starts_with(&format!("{key} = "))).unwrap().to_owned();
        text = text.replacen(&line, &format!("{key} = {value}"), 1);
    }
    plan::load(&SourceText::new("new.toml", text)).unwrap_or_else(|e| panic!("{}", e.explained()));
}

/// The comments of the template list the words that are allowed; a word that is added must be listed there too.
#[test]
fn the_template_lists_every_word() {
    let lists = [
        BodySite::WORDS,
        Condition::WORDS,
        Density::WORDS,
        FitzpatrickType::WORDS,
        InkColour::WORDS,
        InkOrigin::WORDS,
        Medicine::WORDS,
        Scarring::WORDS,
        Tan::WORDS,
        TestSpotResult::WORDS,
    ];
    for word in lists.into_iter().flatten() {
        assert!(plan_template().contains(&format!("\"{word}\"")), "{word}");
    }
}

#[test]
fn a_new_plan_is_written_once_and_read_back() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("mine.toml");
    new_plan(&path).unwrap();
    assert!(new_plan(&path).is_err());
    assert_eq!(source::read_file(&path).unwrap().text(), plan_template());
    let told = open_plan(&path).unwrap_err().to_string();
    assert!(told.contains("mine.toml:9:9: title: still blank; write a text in quotes"), "{told}");
}
