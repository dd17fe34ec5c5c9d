//! Sizes, forgotten files, the top level, and what the documents promise.

use super::source::{code_only, files, reached, rust_files, text, tokens, top};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

const LINES_MAX: usize = 600;

const TOP_LEVEL: [&str; 9] =
    ["Cargo.toml", "Cargo.lock", "README.md", "DEVELOPERS.md", "LICENSE", "src", "themes", "tests", "sample-plans"];

/// What the two commands of the README must be.
const SAMPLE_COMMAND: &str = "cargo run --release -- treat ";
const TEST_COMMAND: &str = "cargo test --locked";

fn relative(path: &Path) -> String {
    path.strip_prefix(top()).unwrap_or(path).to_string_lossy().into_owned()
}

fn too_long(source: &str) -> bool {
    source.lines().count() > LINES_MAX
}

#[test]
fn no_source_file_is_long() {
    let long: Vec<_> = rust_files("src").iter().filter(|p| too_long(&text(p))).map(|p| relative(p)).collect();
    assert!(long.is_empty(), "over {LINES_MAX} lines, split it: {long:?}");
    assert!(too_long(&"x\n".repeat(LINES_MAX + 1)) && !too_long(&"x\n".repeat(LINES_MAX)));
}

/// Files that no `mod` line leads to: they are never compiled.
fn forgotten(dir: &str, roots: &[&str]) -> Vec<String> {
    let known: BTreeSet<PathBuf> = roots.iter().flat_map(|root| reached(&top().join(root))).collect();
    rust_files(dir).iter().filter(|path| !known.contains(*path)).map(|path| relative(path)).collect()
}

#[test]
fn no_file_is_forgotten() {
    let manifest = text(&top().join("Cargo.toml"));
    let roots: Vec<&str> = manifest.lines().filter_map(|l| l.strip_prefix("path = \"")?.strip_suffix('"')).collect();
    assert!(roots.contains(&"tests/main.rs"));
    assert_eq!(forgotten("src", &["src/lib.rs", "src/main.rs"]), [""; 0]);
    assert_eq!(forgotten("tests", &roots), [""; 0]);
    // The check can fail: without its root a file is forgotten.
    assert!(forgotten("src", &["src/lib.rs"]).contains(&"src/main.rs".to_owned()));
}

fn strangers<'a>(names: impl Iterator<Item = &'a str>) -> Vec<&'a str> {
    // `target` is cargo's, names with a dot are tools' settings.
    names.filter(|n| !n.starts_with('.') && *n != "target" && !TOP_LEVEL.contains(n)).collect()
}

#[test]
fn the_top_level_holds_only_what_belongs_there() {
    let found: Vec<String> = std::fs::read_dir(top())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    assert_eq!(strangers(found.iter().map(String::as_str)), [""; 0]);
    for name in TOP_LEVEL {
        assert!(found.iter().any(|f| f == name), "{name} is missing");
    }
    assert_eq!(strangers(["src", "benches", ".ci", "target"].into_iter()), ["benches"]);
}

/// The ids of the rules in a rule file.
fn rule_ids(source: &str) -> Vec<&str> {
    source.lines().filter_map(|line| line.strip_prefix("    id: RuleName::")?.strip_suffix(',')).collect()
}

/// That each rule has its tests is what `tests/rules/table.rs` sees to.
#[test]
fn every_rule_that_is_written_is_in_the_table() {
    let mut ids = BTreeSet::new();
    for path in rust_files("src/advice/rules") {
        let source = text(&path);
        let found = rule_ids(&source);
        let statics = tokens(&code_only(&source)).windows(3).filter(|w| w[0] == "static" && w[2] == ":").count();
        let here = usize::from(path.ends_with("mod.rs"));
        assert_eq!(found.len() + here, statics, "{}: write each rule's id on a line of its own", relative(&path));
        for id in found {
            assert!(ids.insert(id.to_owned()), "{id} twice");
        }
    }
    let table: BTreeSet<_> = fadewright::advice::RULES.iter().map(|r| format!("{:?}", r.id)).collect();
    assert_eq!(ids, table);
}

/// Lines of the README that are commands, in order: those in its `sh` blocks.
fn commands(readme: &str) -> Vec<&str> {
    let mut inside = false;
    let mut found = Vec::new();
    for line in readme.lines() {
        match line {
            "```sh" => inside = true,
            "```" => inside = false,
            command if inside => found.push(command),
            _ => {}
        }
    }
    found
}

#[test]
fn the_readme_begins_with_the_job_and_its_two_commands() {
    let readme = text(&top().join("README.md"));
    let commands = commands(&readme);
    let [sample, tests, ..] = commands.as_slice() else { panic!("two commands first, not {commands:?}") };
    let plan = sample.strip_prefix(SAMPLE_COMMAND).unwrap_or_else(|| panic!("{sample} does not treat a plan"));
    assert!(top().join(plan).is_file(), "{plan} does not exist");
    assert_eq!(*tests, TEST_COMMAND);
    let paragraphs: Vec<_> = readme.split("\n\n").collect();
    assert!(paragraphs[0].starts_with("# ") && paragraphs[1].len() > 200, "one paragraph states the job");
    assert!(paragraphs[2].contains(SAMPLE_COMMAND) || paragraphs[3].contains(SAMPLE_COMMAND));
}

/// Keys of the program that the README's table does not name.
fn unnamed_keys(readme: &str) -> Vec<String> {
    let named = readme.to_lowercase();
    let keys = fadewright::tui::keys::table();
    let chords: BTreeSet<String> = keys.bindings().iter().map(|row| row.chord.to_string()).collect();
    chords.into_iter().filter(|chord| !named.contains(&format!("`{chord}`"))).collect()
}

#[test]
fn the_readme_names_every_key() {
    let readme = text(&top().join("README.md"));
    assert_eq!(unnamed_keys(&readme), [""; 0]);
    assert_eq!(unnamed_keys(&readme.replace("`F9`", "F9")), ["f9"]);
}

#[test]
fn ci_runs_the_readme_s_test_command() {
    let script = text(&top().join(".ci/run"));
    let runs = |command: &str| script.lines().any(|line| line.trim() == command);
    assert!(runs(TEST_COMMAND), ".ci/run does not run: {TEST_COMMAND}");
    assert!(runs("set -euo pipefail"));
    assert!(!runs("cargo test"));
}

/// Where a machine keeps people's files; a path below it is true on one machine alone. In parts, so that this file
/// does not hold them itself.
const MACHINE_PATHS: [[&str; 2]; 5] = [["/ho", "me/"], ["/Us", "ers/"], ["/ro", "ot/"], ["/wo", "rk/"], ["/t", "mp/"]];

fn machine_paths(text: &str) -> Vec<String> {
    MACHINE_PATHS.iter().map(|parts| parts.concat()).filter(|path| text.contains(path)).collect()
}

#[test]
fn no_file_holds_a_path_of_one_machine() {
    let mut looked = 0;
    for name in TOP_LEVEL.into_iter().chain([".ci", ".clippy.toml", ".rustfmt.toml", ".editorconfig", ".gitignore"]) {
        let path = top().join(name);
        for file in if path.is_dir() { files(&path) } else { vec![path] } {
            let Ok(text) = std::fs::read_to_string(&file) else { continue };
            looked += 1;
            assert_eq!(machine_paths(&text), [""; 0], "in {}", relative(&file));
        }
    }
    assert!(looked > 150, "only {looked} files");
    assert_eq!(machine_paths(&format!("see {}", ["/ho", "me/someone"].concat())).len(), 1);
}
