//! `register`: who, when, by whom, with what, what went wrong; nothing hidden, nothing that could do harm.

use super::closed::{DATE, ID, closed, decline_all, flip, in_the_past, open, practice, write};
use super::{home, run};
use crate::fixture::Bench;
use fadewright::journal::{DataDir, daybook};
use fadewright::review::register::cell;
use fadewright::session::{Command, Response};
use std::path::Path;

const OTHER: &str = "20240301-110000-TTTTTT";

fn register(home: &Path, more: &[&str]) -> super::Run {
    run(home, &[&["register", "--from", DATE, "--to", "2024-03-31"], more].concat())
}

/// An independent reader of RFC 4180: every row ends in CRLF, quotation marks are doubled within quoted cells.
fn read_csv(text: &str) -> Vec<Vec<String>> {
    let (mut rows, mut row, mut cell) = (Vec::new(), Vec::new(), String::new());
    let mut chars = text.chars().peekable();
    let mut quoted = false;
    while let Some(c) = chars.next() {
        match c {
            '"' if quoted && chars.peek() == Some(&'"') => {
                chars.next();
                cell.push('"');
            }
            '"' if quoted => quoted = false,
            '"' if cell.is_empty() => quoted = true,
            '"' => panic!("a quotation mark within a bare cell: {cell}"),
            ',' if !quoted => row.push(std::mem::take(&mut cell)),
            '\r' if !quoted => {
                assert_eq!(chars.next(), Some('\n'));
                row.push(std::mem::take(&mut cell));
                rows.push(std::mem::take(&mut row));
            }
            '\n' if !quoted => panic!("a bare line feed"),
            c => cell.push(c),
        }
    }
    assert!(!quoted && row.is_empty() && cell.is_empty(), "the last row is not ended");
    rows
}

/// A session whose notes were written to do harm.
fn hostile() -> Bench {
    let mut bench = Bench::new();
    bench.start(0);
    bench.fire(20);
    for note in [
        "=HYPERLINK(\"evil\")",
        "\u{1b}[2J, \"quoted\"\r\nnew line",
        "<script>alert('x')</script><img src=x onerror=y>",
        "\u{202e}@SUM(1)",
    ] {
        bench.run(Command::See { kind: Response::Blister, grade: Some(1), note: note.to_owned() });
        decline_all(&mut bench);
    }
    bench.run(Command::EndPass { explanation: None });
    for zone in [0, 1] {
        let zone = bench.zone_id(zone);
        bench.run(Command::EndZone { zone, reason: Some("=1+1".to_owned()) });
    }
    bench
}

#[test]
fn the_register_tells_who_when_by_whom_with_what_and_what_went_wrong() {
    let home = home();
    closed(home.path());
    let seen = ["follow-up", ID, "--seen-by", "OP-2", "--date", "2024-04-12", "--pigment", "lighter", "--note", "edge"];
    assert_eq!(run(home.path(), &seen).code, 0);
    let json = register(home.path(), &["--json"]).json();
    let entry = &json["sessions"][0];
    assert_eq!(entry["client_code"], "TT-1001");
    assert_eq!(entry["operator"], "OP-1");
    assert_eq!(entry["standing"], "closed");
    assert!(entry["opened_at"].as_str().unwrap().starts_with("2024-03-01T10:00:00"));
    let exposure = &entry["zones"][0]["exposures"][0];
    for (name, value) in [
        ("pass", 1.0),
        ("pulses", 100.0),
        ("wavelength_nm", 1064.0),
        ("spot_mm", 4.0),
        ("fluence_j_cm2", 3.0),
        ("rate_hz", 5.0),
    ] {
        assert_eq!(exposure[name].as_f64(), Some(value), "{name}: {exposure}");
    }
    assert!((exposure["pulse_duration_s"].as_f64().unwrap() / 6e-9 - 1.0).abs() < 1e-9, "{exposure}");
    let adverse = entry["adverse"].to_string();
    for words in
        ["pinpoint bleeding 1, band pass 1, pulse 100", "follow-up 2024-04-12, seen by OP-2: pigment lighter: edge"]
    {
        assert!(adverse.contains(words), "{words}: {adverse}");
    }
    assert!(!adverse.contains("whitening"), "the expected answer of skin is nothing adverse: {adverse}");
    let text = register(home.path(), &[]);
    assert_eq!(text.code, 0);
    assert!(text.out.lines().all(|l| l.chars().count() <= 80), "{}", text.out);
    for words in
        ["client TT-1001, operator OP-1", "pass 1: 1064 nm, 6 ns, 4 mm, 3 J/cm2, 5 Hz: 100 pulses", "! pinpoint"]
    {
        assert!(text.out.contains(words), "{words}: {}", text.out);
    }
    // Both ends count, and nothing beyond them.
    for (from, to, n) in [(DATE, DATE, 1), ("2024-02-01", "2024-02-29", 0), ("2024-03-02", "2024-12-31", 0)] {
        let json = run(home.path(), &["register", "--from", from, "--to", to, "--json"]).json();
        assert_eq!(json["sessions"].as_array().unwrap().len(), n, "{from} {to}");
    }
    assert_eq!(run(home.path(), &["register", "--from", "2024-03-02", "--to", DATE]).code, 2);
    assert_eq!(run(home.path(), &["register", "--from", "March", "--to", DATE]).code, 2);
}

#[test]
fn what_is_not_closed_damaged_or_missing_stands_in_it_and_practice_never_does() {
    let listed = |home: &Path| {
        let told = register(home, &["--json"]);
        let json = told.json();
        let all = json["sessions"].as_array().unwrap().iter();
        (told.code, all.map(|e| e["standing"].as_str().unwrap().to_owned()).collect::<Vec<_>>())
    };
    let one = home();
    open(one.path());
    assert_eq!(listed(one.path()), (0, vec!["not-closed".to_owned()]));
    assert!(register(one.path(), &[]).out.contains("NOT CLOSED"));
    for at in [40, 9000] {
        let two = home();
        let journal = closed(two.path());
        flip(&journal, at);
        assert_eq!(listed(two.path()), (1, vec!["damaged".to_owned()]), "byte {at}");
        for form in ["text", "csv", "html"] {
            assert!(register(two.path(), &["--as", form]).out.to_lowercase().contains("damaged"), "{form}");
        }
    }
    let three = home();
    let journal = closed(three.path());
    let dir = DataDir::open(three.path().join("data")).unwrap();
    daybook::opened(&dir, &ID.parse().unwrap(), crate::fixture::origin()).unwrap();
    std::fs::remove_file(journal).unwrap();
    assert_eq!(listed(three.path()), (1, vec!["missing".to_owned()]));
    let four = home();
    practice(four.path());
    assert_eq!(listed(four.path()), (0, vec![]));
}

#[test]
fn hostile_notes_steer_no_terminal_no_spreadsheet_and_no_browser() {
    let home = home();
    let mut bench = hostile();
    decline_all(&mut bench);
    write(home.path(), OTHER, &in_the_past(&bench, OTHER));
    closed(home.path());
    let text = register(home.path(), &[]).out;
    assert!(!text.chars().any(|c| (c.is_control() && c != '\n') || c == '\u{202e}'), "{text:?}");

    let rows = read_csv(&register(home.path(), &["--as", "csv"]).out);
    assert_eq!(rows[0][0], "session");
    assert!(rows.iter().all(|r| r.len() == rows[0].len()), "{rows:?}");
    let of = |id: &str| rows.iter().filter(|r| r[0] == id).count();
    assert_eq!((of(ID), of(OTHER)), (2, 2), "a row for the pass, one for the zone without a pulse");
    let column = |name: &str| rows[0].iter().position(|c| c == name).unwrap();
    let other = rows.iter().find(|r| r[0] == OTHER).unwrap();
    assert_eq!(other[column("fluence_j_cm2")].parse(), Ok(3.0));
    assert!(other[column("adverse")].contains("\"quoted\""), "{other:?}");
    for c in rows.iter().flatten() {
        assert!(!c.trim_start().starts_with(['=', '+', '-', '@', '\t', '\r']), "{c}");
    }

    let page = register(home.path(), &["--as", "html"]).out;
    for harm in ["<script", "<img", "http:", "https:", "//", "javascript:"] {
        assert!(!page.to_lowercase().contains(harm), "{harm}");
    }
    assert!(page.contains("&lt;script&gt;alert(&#39;x&#39;)"), "the words are shown");
    assert!(page.contains("default-src 'none'"));
    // Every tag is one of ours, and none has an attribute that acts.
    let tags: Vec<&str> = page.split('<').skip(1).map(|t| t.split('>').next().unwrap()).collect();
    for tag in tags {
        let name = tag.trim_start_matches('/').split_whitespace().next().unwrap();
        let known = [
            "!DOCTYPE", "html", "head", "meta", "title", "style", "body", "h1", "p", "table", "thead", "tbody", "tr",
            "th", "td", "ul", "li", "br", "span",
        ];
        assert!(known.contains(&name), "{tag}");
        assert!(!tag.contains(" on"), "{tag}");
    }
}

#[test]
fn a_cell_begins_no_formula_and_reads_back() {
    for text in ["=1+1", "+1", "-1", "@x", "\t=1", "\r=1", "  =1", "\0=1", "＝1", "＋1", "－1", "＠x"] {
        let row = format!("{}\r\n", cell(text));
        assert_eq!(read_csv(&row), vec![vec![format!("'{text}")]], "{text:?}");
    }
    for text in ["", "plain", "a,b", "a \"b\"", "two\r\nlines", " spaced ", "1-2", "x=y"] {
        assert_eq!(read_csv(&format!("{}\r\n", cell(text))), vec![vec![text.to_owned()]], "{text:?}");
    }
}

#[test]
fn it_is_written_to_a_new_file_alone() {
    use std::os::unix::fs::PermissionsExt;
    let home = home();
    closed(home.path());
    let out = home.path().join("march.csv");
    let args = ["--as", "csv", "--out", out.to_str().unwrap()];
    assert_eq!(register(home.path(), &args).code, 0);
    assert_eq!(out.metadata().unwrap().permissions().mode() & 0o777, 0o600);
    let written = std::fs::read_to_string(&out).unwrap();
    assert_eq!(written, register(home.path(), &["--as", "csv"]).out);
    let again = register(home.path(), &args);
    assert_eq!(again.code, 2);
    assert!(again.err.contains("not written over"), "{}", again.err);
    assert_eq!(std::fs::read_to_string(&out).unwrap(), written);
}
