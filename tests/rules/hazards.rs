//! The hazard table: each use error, what catches it, and the test that proves it.

use fadewright::protocol::{Protocol, RuleName};
use fadewright::words::Word;
use serde::Deserialize;
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

#[derive(Deserialize)]
struct Table {
    hazard: Vec<Hazard>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Hazard {
    error: String,
    cause: String,
    caught_by: Vec<String>,
    tests: Vec<String>,
}

fn table() -> Vec<Hazard> {
    toml::from_str::<Table>(include_str!("hazards.toml")).unwrap().hazard
}

fn under(root: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(root)
}

fn sources(dir: &Path, into: &mut String) {
    for entry in fs::read_dir(dir).unwrap().map(|e| e.unwrap().path()) {
        if entry.is_dir() {
            sources(&entry, into);
        } else if entry.extension().is_some_and(|e| e == "rs") {
            into.push_str(&fs::read_to_string(entry).unwrap());
        }
    }
}

/// True when `a::b::name` is a test: a function of that name, marked as a test, in the file of module `a::b`.
fn is_test(path: &str) -> bool {
    let Some((module, name)) = path.rsplit_once("::") else { return false };
    let below = module.replace("::", "/");
    let files = [under(&format!("tests/{below}.rs")), under(&format!("tests/{below}/mod.rs"))];
    let text = files.iter().find_map(|f| fs::read_to_string(f).ok()).unwrap_or_default();
    text.contains(&format!("#[test]\nfn {name}("))
}

#[test]
fn every_name_in_it_exists() {
    let checks: BTreeSet<String> = Protocol::embedded().unwrap().checklist.into_iter().map(|i| i.id).collect();
    let mut code = String::new();
    sources(&under("src"), &mut code);
    let screens = ["checks", "settings", "treat", "close", "start"];
    for row in table() {
        assert!(!row.cause.is_empty() && !row.tests.is_empty() && !row.caught_by.is_empty(), "{}", row.error);
        for by in &row.caught_by {
            let known = match by.split_once(':').unwrap_or_default() {
                ("rule", name) => RuleName::from_word(name).is_some(),
                ("check", id) => checks.contains(id),
                ("refusal", id) => code.contains(&format!("\"{id}\"")),
                ("screen", name) => screens.contains(&name),
                _ => false,
            };
            assert!(known, "{}: there is no {by}", row.error);
        }
        for test in &row.tests {
            assert!(is_test(test), "{}: there is no test {test}", row.error);
        }
    }
}

#[test]
fn every_rule_and_every_check_that_can_refuse_has_a_row() {
    let named: BTreeSet<String> = table().into_iter().flat_map(|row| row.caught_by).collect();
    for rule in RuleName::WORDS {
        assert!(named.contains(&format!("rule:{rule}")), "no hazard names the rule {rule}");
    }
    for item in Protocol::embedded().unwrap().checklist.iter().filter(|i| i.hard_stop) {
        assert!(named.contains(&format!("check:{}", item.id)), "no hazard names the check {}", item.id);
    }
}

#[test]
fn no_error_is_told_twice_and_a_name_that_is_none_is_found() {
    let errors: Vec<String> = table().into_iter().map(|row| row.error).collect();
    assert_eq!(errors.len(), errors.iter().collect::<BTreeSet<_>>().len());
    assert!(is_test("rules::hazards::every_name_in_it_exists") && !is_test("rules::hazards::nothing_like_it"));
}
