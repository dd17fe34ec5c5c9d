//! Numbers and names of rules in a protocol file.

use fadewright::protocol::{EMBEDDED_TEXT, Protocol, load};
use fadewright::source::SourceText;

fn problems(text: &str) -> Vec<(usize, String, String)> {
    let problems = load(&SourceText::new("own.toml", text)).unwrap_err();
    let shown = serde_json::to_value(problems.list()).unwrap();
    let field = |p: &serde_json::Value, key: &str| p[key].as_str().unwrap_or_default().to_owned();
    let each = shown.as_array().unwrap().iter();
    each.map(|p| (p["line"].as_u64().unwrap_or(0) as usize, field(p, "field"), field(p, "message"))).collect()
}

fn line_of(text: &str, what: &str) -> usize {
    text.lines().position(|l| l.contains(what)).unwrap() + 1
}

#[test]
fn a_floor_above_a_ceiling_is_placed_at_the_ceiling() {
    let text = EMBEDDED_TEXT
        .replace("ink_floor_picosecond = { value = \"1 J/cm2\"", "ink_floor_picosecond = { value = \"2 J/cm2\"");
    let found = problems(&text);
    // Only 532 nm picosecond has a ceiling below 2 J/cm2.
    assert_eq!(found.len(), 1, "{found:?}");
    let (line, field, message) = &found[0];
    assert_eq!(*line, line_of(&text, "fluence_max = \"1.3 J/cm2\""));
    assert!(
        field.ends_with(".fluence_max") && message.contains("below ink_floor_picosecond, 2 J/cm2"),
        "{field} {message}"
    );
}

#[test]
fn an_unknown_rule_is_named_with_the_nearest_one() {
    let rule = "[[rule]]\nrule = \"whitening-firce\"\nat_least = \"STOP\"\nreason = \"decided\"\n\n[[eyewear]]";
    let text = EMBEDDED_TEXT.replacen("[[eyewear]]", rule, 1);
    let found = problems(&text);
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!((found[0].0, found[0].1.as_str()), (line_of(&text, "whitening-firce"), "rule[1].rule"));
    assert!(found[0].2.contains("whitening-fierce"), "{}", found[0].2);
}

#[test]
fn a_rule_named_twice_a_level_that_is_none_and_a_missing_reason_are_told() {
    let rules = "[[rule]]\nrule = \"blister\"\nat_least = \"STOP\"\nreason = \"a\"\n\n\
                 [[rule]]\nrule = \"blister\"\nat_least = \"STOP\"\nreason = \"b\"\n\n\
                 [[rule]]\nrule = \"wheals\"\nat_least = \"LOUD\"\n\n[[eyewear]]";
    let found = problems(&EMBEDDED_TEXT.replacen("[[eyewear]]", rules, 1));
    let fields: Vec<&str> = found.iter().map(|(_, field, _)| field.as_str()).collect();
    for expected in ["rule[2].rule", "rule[3].at_least", "rule[3].reason"] {
        assert!(fields.contains(&expected), "{expected} in {found:?}");
    }
}

#[test]
fn a_rule_made_more_urgent_is_read() {
    let rule = "[[rule]]\nrule = \"whitening-fierce\"\nat_least = \"STOP\"\nreason = \"decided\"\n\n[[eyewear]]";
    let text = EMBEDDED_TEXT.replacen("[[eyewear]]", rule, 1);
    let read = load(&SourceText::new("own.toml", text)).unwrap().value;
    assert_eq!(read.rules.len(), 1);
    assert_eq!(Protocol::embedded().unwrap().rules, vec![]);
}

#[test]
fn a_journal_from_before_these_numbers_reads_with_the_embedded_ones() {
    let protocol = Protocol::embedded().unwrap();
    let mut old = serde_json::to_value(&protocol).unwrap();
    old["thresholds"].as_object_mut().unwrap().remove("rules").unwrap();
    old.as_object_mut().unwrap().remove("rules").unwrap();
    let read: Protocol = serde_json::from_value(old).unwrap();
    assert_eq!(read, protocol);
}
