//! `keys` and `completions`.

use super::{home, run};
use serde_json::Value;
use std::path::Path;

fn file(dir: &Path, text: &str) -> String {
    let path = dir.join("own.toml");
    std::fs::write(&path, format!("kind = \"fadewright keys\"\nschema = 1\n{text}")).unwrap();
    path.to_str().unwrap().to_owned()
}

fn keys_of(told: &Value, place: &str, does: &str) -> Vec<String> {
    let line = told.as_array().unwrap().iter().find(|l| l["where"] == place && l["does"] == does).unwrap();
    line["keys"].as_array().unwrap().iter().map(|k| k.as_str().unwrap().to_owned()).collect()
}

#[test]
fn the_keys_in_force_are_told_for_each_layout_and_for_a_file() {
    let home = home();
    let told = |args: &[&str]| {
        let out = run(home.path(), args);
        assert_eq!(out.code, 0, "{}", out.err);
        out.json()
    };
    assert_eq!(keys_of(&told(&["keys", "--json"]), "treat", "pulse"), ["space", "insert"]);
    assert_eq!(keys_of(&told(&["keys", "--keys", "keypad", "--json"]), "advice", "stop"), ["9"]);
    assert_eq!(keys_of(&told(&["keys", "--keys", "right-hand", "--json"]), "treat", "whitening"), ["h"]);
    let own = file(home.path(), "[[key]]\nwhere = \"treat\"\ndoes = \"pulse\"\nkeys = [\"f12\"]\n");
    assert_eq!(keys_of(&told(&["keys", "--keys", &own, "--json"]), "treat", "pulse"), ["f12"]);
}

#[test]
fn a_bad_file_is_told_with_line_and_field() {
    let home = home();
    let own = file(home.path(), "[[key]]\nwhere = \"treat\"\ndoes = \"pulze\"\nkeys = [\"f12\"]\n");
    let out = run(home.path(), &["keys", "--keys", &own]);
    assert_eq!(out.code, 2);
    let told = out.err;
    assert!(told.contains("own.toml:5:8") && told.contains("key[1].does") && told.contains("pulse"), "{told}");
    let out = run(home.path(), &["keys", "--keys", "third-hand"]);
    assert_eq!(out.code, 2);
    assert!(out.err.contains("left-hand, right-hand, keypad"));
}

#[test]
fn completions_and_the_manual_name_every_command() {
    let home = home();
    for kind in ["bash", "elvish", "fish", "powershell", "zsh", "man"] {
        let out = run(home.path(), &["completions", kind]);
        assert_eq!(out.code, 0, "{kind}");
        let text = out.out;
        for command in ["treat", "resume", "plan", "calc", "log", "verify", "theme", "keys", "completions"] {
            assert!(text.contains(command), "{kind} lacks {command}");
        }
        assert!(text.contains("anaesthetic") || kind == "man", "{kind}");
    }
    assert_eq!(run(home.path(), &["completions", "csh"]).code, 2);
}
