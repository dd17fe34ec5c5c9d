//! Exports as libraries of others read them: HTML, FHIR R4 with its units, calendar entries and tables.
//!
//! The Python libraries of `requirements.txt` are looked for in `interop-python` of the target directory, where `.ci/run`
//! puts them.

use super::fixture::eventful_and_closed;
use std::path::{Path, PathBuf};
use std::process::Command;

const ID: &str = "20261124-100000-TTTTTT";

fn libraries() -> PathBuf {
    Path::new(env!("CARGO_TARGET_TMPDIR")).with_file_name("interop-python")
}

/// Reads a file by a library: the mistakes it found.
fn mistakes(what: &str, file: &Path) -> Vec<String> {
    let read = Command::new("python3")
        .arg(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/interop/exports.py"))
        .args([what.as_ref(), file.as_os_str()])
        .env("PYTHONPATH", libraries())
        .env("PYTHONDONTWRITEBYTECODE", "1")
        .output()
        .expect("python3 is needed for these tests");
    let (out, err) = (String::from_utf8_lossy(&read.stdout), String::from_utf8_lossy(&read.stderr));
    let lines: Vec<String> = out.lines().map(str::to_owned).collect();
    // A program that fails for another reason has said so on standard error.
    assert_eq!(
        read.status.code(),
        Some(i32::from(!lines.is_empty())),
        "python3 -m pip install --target {} -r tests/interop/requirements.txt\n{err}",
        libraries().display()
    );
    lines
}

/// An export of the eventful session, in a file.
fn exported(dir: &Path, args: &[&str], name: &str) -> PathBuf {
    let data = dir.join("data");
    if !data.exists() {
        eventful_and_closed().journal(&data);
    }
    let out = Command::new(env!("CARGO_BIN_EXE_fadewright"))
        .args(["--data-dir".as_ref(), data.as_os_str()])
        .args(["export", ID, "--as"])
        .args(args)
        .output()
        .unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let file = dir.join(name);
    std::fs::write(&file, out.stdout).unwrap();
    file
}

/// The same file with one text replaced.
fn changed(file: &Path, from: &str, to: &str) -> PathBuf {
    let text = std::fs::read_to_string(file).unwrap();
    assert!(text.contains(from), "{from}");
    let changed = file.with_extension("changed");
    std::fs::write(&changed, text.replacen(from, to, 1)).unwrap();
    changed
}

fn none() -> Vec<String> {
    Vec::new()
}

#[test]
fn pages_are_html_without_a_parse_error_and_can_be_read_aloud() {
    let dir = tempfile::tempdir().unwrap();
    let report = exported(dir.path(), &["html"], "report.html");
    assert_eq!(mistakes("page", &report), none());
    assert_eq!(mistakes("page", &exported(dir.path(), &["aftercare-html"], "aftercare.html")), none());
    for (from, to) in [
        ("</figure>", ""),
        (" lang=\"en-GB\"", ""),
        ("<h2>Checks", "<h2 onclick=\"x\">Checks"),
        ("scope=\"row\"", ""),
        ("<title id=\"zone-0-title\">", "<title id=\"zone-1-title\">"),
        ("&lt;script&gt;", "<script>"),
        ("&amp;amp;", "&amp"),
    ] {
        assert_ne!(mistakes("page", &changed(&report, from, to)), none(), "{from}");
    }
}

#[test]
fn the_bundle_is_fhir_r4_and_its_units_are_ucum() {
    let dir = tempfile::tempdir().unwrap();
    let bundle = exported(dir.path(), &["fhir"], "bundle.json");
    assert_eq!(mistakes("bundle", &bundle), none());
    for (from, to) in [
        ("\"J/cm2\"", "\"J/cm^2\""),
        ("\"code\": \"J/cm2\"", "\"code\": \"mJ/cm2\""),
        ("\"status\": \"stopped\"", "\"status\": \"halted\""),
        ("\"actuality\": \"actual\"", "\"actual\": true"),
        ("\"recorded\": \"2026", "\"recorded\": \"26"),
        ("\"collection\"", "\"collected\""),
        ("\"resourceType\": \"Provenance\"", "\"resourceType\": \"Origin\""),
    ] {
        // Keys are in order: the unit's own code comes first in its quantity.
        assert_ne!(mistakes("bundle", &changed(&bundle, from, to)), none(), "{from}");
    }
}

#[test]
fn the_calendar_entry_is_read_by_another_program() {
    let dir = tempfile::tempdir().unwrap();
    let entry = exported(dir.path(), &["ics"], "next.ics");
    assert_eq!(mistakes("calendar", &entry), none());
    for (from, to) in [("DTSTART;VALUE=DATE:2027", "DTSTART;VALUE=DATE:x"), ("UID:", "X-UID:"), ("END:VEVENT\r\n", "")]
    {
        assert_ne!(mistakes("calendar", &changed(&entry, from, to)), none(), "{from}");
    }
}

#[test]
fn tables_are_read_by_another_program_cell_by_cell() {
    let dir = tempfile::tempdir().unwrap();
    for table in ["sessions", "zones", "passes", "responses", "advice", "checks"] {
        let file = exported(dir.path(), &["csv", "--table", table], &format!("{table}.csv"));
        assert_eq!(mistakes("table", &file), none(), "{table}");
    }
    let sessions = dir.path().join("sessions.csv");
    assert_ne!(mistakes("table", &changed(&sessions, "\"'=1+1", "\"=1+1")), none());
    assert_ne!(mistakes("table", &changed(&sessions, "\"\"x\"\"", "\"x\"")), none());
}
