//! The README's queries, run by DuckDB over a folder of journals, against the program's own figures.

use super::fleet;
use serde_json::Value;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};

const PROGRAM: &str = "duckdb";
/// Sessions: two of each pattern.
const SESSIONS: usize = 24;

/// The README's `sql` blocks, in order, over this data directory.
fn queries(data: &Path) -> Vec<String> {
    let readme = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/README.md")).unwrap();
    let blocks = readme.split("```sql\n").skip(1).filter_map(|rest| rest.split_once("```")).map(|(block, _)| block);
    blocks.map(|block| block.replace("'DATA/", &format!("'{}/", data.display()))).collect()
}

fn ask(view: &str, query: &str) -> Vec<Value> {
    let mut child = Command::new(PROGRAM)
        .arg("-json")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap_or_else(|e| panic!("{PROGRAM} is missing: install it, these tests need it ({e})"));
    child.stdin.take().unwrap().write_all(format!("{view}\n{query}\n").as_bytes()).unwrap();
    let out = child.wait_with_output().unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    serde_json::from_slice(&out.stdout).unwrap_or_else(|e| panic!("{e}: {}", String::from_utf8_lossy(&out.stdout)))
}

fn statistics(home: &Path, data: &Path) -> Value {
    let out = Command::new(env!("CARGO_BIN_EXE_fadewright"))
        .args(["review", "--statistics", "--json"])
        .env_clear()
        .env("HOME", home)
        .env("FADEWRIGHT_DATA", data)
        .stdin(Stdio::null())
        .output()
        .unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    serde_json::from_slice(&out.stdout).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().or_else(|| value.as_str().and_then(|s| s.parse().ok())).unwrap_or_else(|| panic!("{value}"))
}

#[test]
fn the_readme_s_queries_give_the_program_s_figures() {
    let home = tempfile::tempdir().unwrap();
    let data = home.path().join("data");
    fleet::make(&data, 0, SESSIONS, 300).unwrap();
    let queries = queries(&data);
    let [view, responses, advice, totals] = queries.as_slice() else { panic!("{} queries", queries.len()) };
    let ours = statistics(home.path(), &data);

    let theirs = ask(view, responses);
    let of_ours = ours["responses"].as_array().unwrap();
    assert!(theirs.len() == of_ours.len() && theirs.len() >= 4, "{theirs:?}");
    for row in &theirs {
        let same = of_ours.iter().find(|r| r["response"] == row["response"]).unwrap_or_else(|| panic!("{row}"));
        for key in ["noted", "sessions"] {
            assert!((number(&row[key]) - number(&same[key])).abs() < 0.5, "{key}: {row} and {same}");
        }
    }

    let theirs = ask(view, advice);
    let of_ours = ours["advice_by_rule"].as_array().unwrap();
    assert!(theirs.len() == of_ours.len() && !theirs.is_empty(), "{theirs:?}");
    for row in &theirs {
        let same = of_ours.iter().find(|a| a["rule"] == row["rule"]).unwrap_or_else(|| panic!("{row}"));
        for key in ["raised", "accepted", "declined"] {
            assert!((number(&row[key]) - number(&same[key])).abs() < 0.5, "{key}: {row} and {same}");
        }
        let medians = (&row["answer_median_s"], &same["answer_median_s"]);
        assert_eq!(medians.0.is_null(), medians.1.is_null(), "{row} and {same}");
        if !medians.0.is_null() {
            assert!((number(medians.0) - number(medians.1)).abs() < 1e-9, "{row} and {same}");
        }
    }
    assert!(theirs.iter().map(|r| number(&r["declined"])).sum::<f64>() > 0.5, "something was declined: {theirs:?}");

    let [totals] = ask(view, totals).try_into().unwrap();
    assert!((number(&totals["sessions"]) - SESSIONS as f64).abs() < 0.5);
    assert!((number(&totals["sessions"]) - number(&ours["sessions"])).abs() < 0.5);
    assert!((number(&totals["closed"]) - number(&ours["sessions"]) + number(&ours["not_closed"])).abs() < 0.5);
    // Every pass of these sessions was ended.
    assert!((number(&totals["pulses_of_ended_passes"]) - number(&ours["pulses"])).abs() < 0.5);
}
