//! Every mistake is told with its file, line, column and field, and all of a file in one go.
//!
//! Beside each file of `invalid/` stands a text with the exact lines that must be said about it.

use super::{files, good, load, mistake};
use fadewright::plan;
use fadewright::source::{Problem, SourceText};

#[test]
fn every_invalid_plan_is_told_its_mistakes_word_for_word() {
    let paths = files("tests/plans/invalid");
    assert!(paths.len() >= 14);
    for path in paths {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let text = SourceText::new(name.clone(), std::fs::read_to_string(&path).unwrap());
        let said = plan::load(&text).expect_err(&name).to_string();
        let expected = std::fs::read_to_string(path.with_extension("txt")).unwrap_or_default();
        assert_eq!(said, expected.trim_end(), "\n--- said about {name}:\n{said}\n---");
    }
}

#[test]
fn a_mistake_is_shown_under_its_line() {
    let spoilt = good().replace("\"1064 nm\"", "1064");
    let problems = load(&spoilt).unwrap_err();
    assert_eq!(
        problems.explained(),
        "a.toml:34:14: zone[1].setting.wavelength: 1064 has no unit; write it in quotes with its unit, like \
         wavelength = \"755 nm\"\n    34 | wavelength = 1064\n       |              ^^^^\n"
    );
}

#[test]
fn columns_count_characters_and_the_mark_stands_under_what_is_seen() {
    let spoilt = good().replace("inks = [\"black\"]", "inks = [\"漢字\u{200b}\", \"blak\"]");
    let problems = load(&spoilt).unwrap_err();
    let last = problems.list().last().unwrap();
    assert_eq!(last.to_string().split(": ").next(), Some("a.toml:27:16"));
    assert_eq!(
        last.explained().split_once('\n').unwrap().1,
        "    27 | inks = [\"漢字⟨U+200B⟩\", \"blak\"]\n       |                         ^^^^^^\n"
    );
}

#[test]
fn a_long_line_is_cut_around_the_mistake() {
    let spoilt = good().replacen("passes = 2\n", &format!("passes = 9 # {}\n", "x".repeat(100_000)), 1);
    let explained = load(&spoilt).unwrap_err().explained();
    assert!(explained.lines().all(|l| l.chars().count() < 200), "{explained}");
    assert!(explained.contains("| passes = 9 # xxx") && explained.contains("x…\n"), "{explained}");
}

#[test]
fn a_mistake_found_later_is_placed_by_its_field() {
    let source = SourceText::new("a.toml", good());
    let places = plan::load(&source).unwrap().places;
    let problem = places.problem(&plan::zone_field(1, "setting.fluence"), "2 J/cm2 is above the ceiling");
    assert_eq!(problem.to_string(), "a.toml:58:11: zone[2].setting.fluence: 2 J/cm2 is above the ceiling");
    assert!(problem.explained().contains("fluence = \"2.0 J/cm2\"\n"));
    // What is not in the file is placed at the table around it, and at the file's start when there is none.
    assert_eq!(places.of("zone[2].test_spot.date"), places.of("zone[2]"));
    assert_eq!((places.of("zone[2]").line, places.of("no.such[7].field").line), (43, 1));
}

#[test]
fn a_problem_for_a_program_has_the_five_keys_scripts_rely_on() {
    let problems = load(&good().replacen("passes = 2", "passes = 0", 1)).unwrap_err();
    assert_eq!(
        serde_json::to_string(&problems).unwrap(),
        r#"[{"file":"a.toml","line":40,"column":10,"field":"zone[1].setting.passes","message":"0 is outside 1 to 6"}]"#
    );
    let whole = Problem::of_file("b.toml", "gone");
    assert_eq!((whole.to_string().as_str(), whole.line), ("b.toml: gone", 0));
}

#[test]
fn every_key_of_a_plan_is_missed_when_it_is_taken_out() {
    let good = good();
    for line in good.lines().filter(|l| l.contains(" = ")) {
        let key = line.split(" = ").next().unwrap();
        let told = mistake(&good.replacen(&format!("{line}\n"), "", 1));
        assert!(told.contains(&format!("{key}: missing; ")), "{told}");
    }
}

#[test]
fn more_mistakes_than_anyone_reads_are_counted() {
    let unknown: String = (0..500).map(|i| format!("strange-{i} = 1\n")).collect();
    let problems = load(&format!("{unknown}{}", good())).unwrap_err();
    assert_eq!(problems.list().len(), 101);
    assert!(problems.to_string().ends_with("and 400 more mistakes, not listed"), "{problems}");
}
