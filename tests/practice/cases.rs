//! Case files: the shipped ones, and what bad ones get.

use fadewright::plan;
use fadewright::protocol::Protocol;
use fadewright::scenario::{Grade, SHIPPED, check_against, load, unheard};
use fadewright::source::SourceText;
use fadewright::words::Word;

#[test]
fn the_shipped_scenarios_are_whole_graded_and_asked_by_the_protocol() {
    assert!(SHIPPED.len() >= 8);
    let protocol = Protocol::embedded().unwrap();
    let mut grades = Vec::new();
    for s in SHIPPED {
        let (_, case) = s.read().unwrap();
        assert!(unheard(&case, &protocol).is_empty(), "{}", s.name);
        assert!(case.value.aim.len() > 20 && case.value.lesson.len() > 40, "{}", s.name);
        grades.push(case.value.grade);
    }
    for grade in Grade::ALL {
        assert!(grades.contains(grade), "{grade}");
    }
    assert!(grades.first() == Some(&Grade::FirstDay) && grades.last() == Some(&Grade::Expert));
    // The files on disk are all among them.
    let dir = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-plans/cases");
    for entry in std::fs::read_dir(dir).unwrap() {
        let stem = entry.unwrap().path().file_stem().unwrap().to_string_lossy().into_owned();
        assert!(SHIPPED.iter().any(|s| s.name == stem), "{stem} is not shipped");
    }
}

const GOOD: &str = r#"
kind = "fadewright case"
schema = 1
title = "t"
aim = "a"
grade = "expert"
lesson = "l"
[[zone]]
id = "script"
ink_depth = "1 mm"
density = "moderate"
inks = ["black"]
"#;

fn problems(text: &str) -> Vec<String> {
    match load(&SourceText::new("case.toml", text)) {
        Err(p) => p.list().iter().map(|p| format!("{}:{} {}: {}", p.line, p.column, p.field, p.message)).collect(),
        Ok(case) => {
            let plan = include_str!("../../sample-plans/first-script.toml");
            let plan = plan::load(&SourceText::new("plan", plan)).unwrap().value;
            let mut found = check_against(&case, &plan);
            found.extend(unheard(&case, &Protocol::embedded().unwrap()));
            found.iter().map(|p| format!("{}:{} {}: {}", p.line, p.column, p.field, p.message)).collect()
        }
    }
}

#[test]
fn a_case_that_contradicts_its_plan_is_told_with_line_and_field() {
    assert_eq!(problems(GOOD), Vec::<String>::new());
    let with = |more: &str| problems(&format!("{GOOD}{more}"));
    let before = |more: &str| problems(&GOOD.replace("[[zone]]", &format!("{more}\n[[zone]]")));
    for (found, says) in [
        (problems(&GOOD.replace("\"script\"", "\"sleeve\"")), "zone[1].id: the plan has no zone 'sleeve'"),
        (problems(&GOOD.replace("1 mm", "9 mm")), "0.25 mm to 3 mm"),
        (problems(&GOOD.replace("[\"black\"]", "[]")), "inks"),
        (problems(&GOOD.replace("[\"black\"]", "[\"glitter\"]")), "inks"),
        (problems(&GOOD.replace("expert", "hard")), "grade"),
        (with("metal = \"lead\"\n"), "metal"),
        (with("granule_nm = 1e9\n"), "out of range"),
        (with("granule_nm = nan\n"), "granule_nm"),
        (before("true_skin = \"II\""), "the plan says type II already"),
        (before("device_delivers = 3"), "device_delivers"),
        (before("fragility = -1"), "fragility"),
        (before("withheld = [\"gold\"]"), "cannot be found"),
        (before("withheld = []"), "withheld"),
        (before("sessions = 99"), "sessions"),
        (before("[[answer]]\nitem = \"nobody-asks\"\nsays = \"x\"\nholds = true"), "no item 'nobody-asks'"),
        (before("[[incident]]\nkind = \"off-spacer\"\nzone = \"leg\"\nfrom_pulse = 3"), "no zone 'leg'"),
        (before("[[incident]]\nkind = \"fire\"\nzone = \"script\"\nfrom_pulse = 3"), "kind"),
        (before("[[shown_at_first]]\nzone = \"arm\"\nfluence = \"2 J/cm2\""), "no zone 'arm'"),
        (before("[hand]\njitter_mm = 60"), "jitter_mm"),
        (before("colour = \"x\""), "unknown key"),
        (with("[[zone]]\nid = \"script\"\nink_depth = \"1 mm\"\ndensity = \"minimal\"\ninks = [\"red\"]\n"), "twice"),
    ] {
        assert!(found.iter().any(|p| p.contains(says)), "wanted {says}: {found:?}");
        assert!(found.iter().all(|p| !p.starts_with("0:")), "no place: {found:?}");
    }
}
