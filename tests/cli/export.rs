//! `export`: what each format says of a session, what is refused, and how files are written.

use super::{Run, home, run};
use crate::fixture::{Bench, HOSTILE, eventful, eventful_and_closed, plan};
use fadewright::report::aftercare::{self, Certainty};
use fadewright::report::{SessionRecord, Standing};
use fadewright::session::{Response, SessionOutcome};
use fadewright::words::{BodySite, FitzpatrickType};
use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::{Path, PathBuf};

const ID: &str = "20261124-100000-TTTTTT";

fn closed(home: &Path) -> PathBuf {
    eventful_and_closed().journal(&home.join("data"))
}

fn export(home: &Path, format: &str, more: &[&str]) -> Run {
    run(home, &[&["export", ID, "--as", format], more].concat())
}

/// Damages the journal in its last line but two; answers with the number of that line, from 1.
fn damage(path: &Path) -> usize {
    let mut bytes = std::fs::read(path).unwrap();
    let ends: Vec<usize> = bytes.iter().enumerate().filter(|(_, b)| **b == b'\n').map(|(i, _)| i).collect();
    let line = ends.len() - 2;
    bytes[ends[line - 2] + 31] ^= 1;
    std::fs::write(path, bytes).unwrap();
    line
}

/// A session of practice by the model operator.
fn practised(home: &Path) -> String {
    let told = run(home, &["practise", "bold-start", "--demonstrate", "--headless", "--seed", "7", "--json"]);
    assert_eq!(told.code, 0, "{}", told.err);
    told.json()["log"]["session"].as_str().unwrap().to_owned()
}

#[test]
fn the_page_holds_the_record_and_nothing_that_runs_or_is_fetched() {
    let home = home();
    let path = closed(home.path());
    let told = export(home.path(), "html", &[]);
    assert_eq!((told.code, told.err.as_str()), (0, ""));
    let head = std::fs::read_to_string(path).unwrap().lines().last().unwrap().to_owned();
    let hash = run(home.path(), &["verify", ID, "--json"]).json()["sessions"][0]["head"].as_str().unwrap().to_owned();
    assert!(head.contains(&hash));
    for words in [
        "<html lang=\"en-GB\">",
        "TT-1001",
        "Fitzpatrick",
        "test protocol",
        &hash,
        "pinpoint bleeding",
        "OVERRIDE",
        "LOWER",
        "STOP",
        "cream 5 g on 50 cm2",
        "Not certified as a medical device",
        concat!("fadewright ", env!("CARGO_PKG_VERSION")),
        "<title id=\"zone-0-title\">Zone band from above: the planned pattern of one pass</title>",
        "where pulses fell is not recorded",
        "aria-labelledby=\"pulses-title pulses-description\"",
    ] {
        assert!(told.out.contains(words), "{words}");
    }
    assert!(!told.out.contains("NOT CLOSED") && !told.out.contains("PRACTICE") && !told.out.contains("DAMAGED"));
    // The hostile text is there, as text: nothing of it is markup.
    assert!(told.out.contains("=1+1&lt;/td&gt;&lt;script&gt;alert(&quot;x&quot;)&lt;/script&gt;&amp;amp;"));
    for never in
        ["<script", "<link", "<img", "<iframe", "javascript:", "@import", "url(", "href=", "src=", "\u{202e}", "\u{1b}"]
    {
        assert!(!told.out.contains(never), "{never}");
    }
    let fetched: Vec<_> = told.out.match_indices("http").map(|(i, _)| &told.out[i..i + 26]).collect();
    assert!(
        fetched.iter().all(|f| f.starts_with("http://www.w3.org/2000/svg") || f.starts_with("http-equiv")),
        "{fetched:?}"
    );
}

#[test]
fn a_session_that_is_not_closed_says_so_everywhere() {
    let home = home();
    eventful().journal(&home.path().join("data"));
    for (format, more) in [
        ("html", &[][..]),
        ("csv", &["--table", "sessions"]),
        ("aftercare", &[]),
        ("aftercare-html", &[]),
        ("ics", &[]),
        ("fhir", &[]),
    ] {
        let told = export(home.path(), format, more);
        assert_eq!(told.code, 0, "{format}: {}", told.err);
        assert!(told.out.contains("NOT CLOSED"), "{format}: {}", told.out);
    }
    let bundle = export(home.path(), "fhir", &[]).json();
    assert_eq!(bundle["meta"]["tag"][0]["display"], "NOT CLOSED");
}

#[test]
fn a_damaged_journal_is_exported_only_as_such() {
    let home = home();
    let path = closed(home.path());
    let line = format!("line {}", damage(&path));
    for format in ["html", "csv", "fhir", "aftercare", "aftercare-html", "ics"] {
        let table: &[&str] = if format == "csv" { &["--table", "checks"] } else { &[] };
        let told = export(home.path(), format, table);
        assert_eq!((told.code, told.out.as_str()), (1, ""), "{format}");
        assert!(told.err.contains(&line) && told.err.contains("--partial"), "{format}: {}", told.err);
        let partial = export(home.path(), format, &[table, &["--partial"]].concat());
        assert_eq!(partial.code, 0, "{format}: {}", partial.err);
        assert!(partial.out.contains("DAMAGED"), "{format}: {}", partial.out);
        if format == "csv" {
            assert!(partial.out.lines().skip(1).all(|row| row.contains("DAMAGED")), "{}", partial.out);
        }
    }
    // No hash vouches for what is left.
    assert!(!export(home.path(), "fhir", &["--partial"]).out.contains("SHA-256"));
}

#[test]
fn an_altered_text_is_damage_and_an_erased_one_is_not() {
    let home = home();
    let path = closed(home.path());
    let notes = path.with_extension("notes.jsonl");
    let texts = std::fs::read_to_string(&notes).unwrap();
    std::fs::write(&notes, texts.replacen("alert", "alerT", 1)).unwrap();
    let told = export(home.path(), "html", &[]);
    assert_eq!(told.code, 1);
    assert!(told.err.contains("free texts are not what was recorded"), "{}", told.err);
    std::fs::write(&notes, "").unwrap();
    let told = export(home.path(), "html", &[]);
    assert_eq!(told.code, 0, "{}", told.err);
    assert!(told.out.contains("free texts were erased") && told.out.contains("(text erased)"));
}

#[test]
fn practice_is_marked_or_refused_and_all_leaves_it_out() {
    let home = home();
    let id = practised(home.path());
    for format in ["fhir", "ics", "aftercare", "aftercare-html"] {
        let told = run(home.path(), &["export", &id, "--as", format]);
        assert_eq!((told.code, told.out.as_str()), (1, ""), "{format}");
        assert!(told.err.contains("PRACTICE"), "{}", told.err);
    }
    let page = run(home.path(), &["export", &id, "--as", "html"]).out;
    assert!(
        page.contains("<title>PRACTICE: ") && page.contains("aria-hidden=\"true\">PRACTICE - "),
        "the line on each sheet"
    );
    for table in ["sessions", "zones", "passes", "responses", "checks"] {
        let rows = run(home.path(), &["export", &id, "--as", "csv", "--table", table]).out;
        assert!(
            rows.lines().count() > 1 && rows.lines().skip(1).all(|row| row.contains(",PRACTICE,")),
            "{table}: {rows}"
        );
    }
    closed(home.path());
    let all = run(home.path(), &["export", "--all", "--as", "csv", "--table", "sessions"]);
    assert_eq!(all.code, 0, "{}", all.err);
    assert!(all.out.contains(ID) && !all.out.contains("PRACTICE") && !all.out.contains(&id), "{}", all.out);
    // Practice that was put among the treatments is left out all the same.
    let practice =
        home.path().join("data/practice/sessions").join(&id[..4]).join(&id[4..6]).join(format!("{id}.jsonl"));
    let among = home.path().join("data/sessions").join(&id[..4]).join(&id[4..6]);
    std::fs::create_dir_all(&among).unwrap();
    std::fs::copy(&practice, among.join(format!("{id}.jsonl"))).unwrap();
    std::fs::copy(practice.with_extension("notes.jsonl"), among.join(format!("{id}.notes.jsonl"))).unwrap();
    let all = run(home.path(), &["export", "--all", "--as", "csv", "--table", "sessions"]);
    assert!(!all.out.contains(&id) && all.err.contains("1 of practice left out"), "{} {}", all.out, all.err);
}

#[test]
fn tables_are_written_together_and_hold_numbers_and_harmless_text() {
    let home = home();
    closed(home.path());
    let dir = home.path().join("tables");
    let out = dir.display().to_string();
    let told = export(home.path(), "csv", &["--out", &out]);
    assert_eq!(told.code, 0, "{}", told.err);
    let mut names: Vec<_> =
        std::fs::read_dir(&dir).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    assert_eq!(names, ["advice.csv", "checks.csv", "passes.csv", "responses.csv", "sessions.csv", "zones.csv"]);
    let read = |name: &str| std::fs::read_to_string(dir.join(name)).unwrap();
    let passes = read("passes.csv");
    let rows: Vec<&str> = passes.split_terminator("\r\n").collect();
    assert!(rows[0].starts_with("session,marks,zone,pass,counted_pulses,"), "{}", rows[0]);
    assert_eq!(rows.len(), 3, "one row a setting: {passes}");
    assert!(rows[1].contains(",1064,6e-9,4,3,5,0.376991,30,"), "{}", rows[1]);
    assert!(rows[2].contains(",1064,6e-9,4,2.6,5,") && rows[2].contains(",20,"), "{}", rows[2]);
    let sessions = read("sessions.csv");
    assert!(sessions.contains("\"'=1+1</td><script>alert(\"\"x\"\")"), "{sessions}");
    for text in ["sessions.csv", "zones.csv", "passes.csv", "responses.csv", "advice.csv", "checks.csv"].map(read) {
        assert!(!text.contains(",=") && !text.contains(",\"=") && !text.contains(['\u{1b}', '\u{202e}']), "{text}");
    }
    let again = export(home.path(), "csv", &["--out", &out]);
    assert_eq!(again.code, 2);
    assert!(again.err.contains("--force"), "{}", again.err);
    assert_eq!(export(home.path(), "csv", &["--out", &out, "--force"]).code, 0);
    assert_eq!(export(home.path(), "csv", &[]).code, 2, "csv is several tables");
}

#[test]
fn files_are_private_and_never_replaced_unasked_and_links_are_not_followed() {
    let home = home();
    closed(home.path());
    let file = home.path().join("report.html");
    let out = file.display().to_string();
    assert_eq!(export(home.path(), "html", &["--out", &out]).code, 0);
    assert_eq!(std::fs::metadata(&file).unwrap().permissions().mode() & 0o777, 0o600);
    let again = export(home.path(), "html", &["--out", &out]);
    assert_eq!(again.code, 2);
    assert!(again.err.contains("is there already"), "{}", again.err);
    std::fs::write(&file, "old").unwrap();
    std::fs::set_permissions(&file, std::fs::Permissions::from_mode(0o644)).unwrap();
    assert_eq!(export(home.path(), "html", &["--out", &out, "--force"]).code, 0);
    assert!(std::fs::read_to_string(&file).unwrap().starts_with("<!DOCTYPE html>"));
    assert_eq!(std::fs::metadata(&file).unwrap().permissions().mode() & 0o777, 0o600);
    let (target, link) = (home.path().join("target.txt"), home.path().join("link.html"));
    std::fs::write(&target, "mine").unwrap();
    symlink(&target, &link).unwrap();
    let dangling = home.path().join("dangling.html");
    symlink(home.path().join("nowhere"), &dangling).unwrap();
    for (link, more) in [(&link, &[][..]), (&link, &["--force"]), (&dangling, &[]), (&dangling, &["--force"])] {
        let out = link.display().to_string();
        let told = export(home.path(), "html", &[&["--out", &out], more].concat());
        assert_eq!(told.code, 2, "{out} {more:?}");
        assert!(told.err.contains("is a link"), "{}", told.err);
    }
    assert_eq!(std::fs::read_to_string(&target).unwrap(), "mine");
    assert!(!home.path().join("nowhere").exists());
    let (elsewhere, linked) = (home.path().join("elsewhere"), home.path().join("linked"));
    std::fs::create_dir(&elsewhere).unwrap();
    symlink(&elsewhere, &linked).unwrap();
    assert_eq!(export(home.path(), "csv", &["--out", &linked.display().to_string()]).code, 2);
    assert_eq!(std::fs::read_dir(&elsewhere).unwrap().count(), 0);
    // A directory takes the file under the session's own name.
    assert_eq!(export(home.path(), "ics", &["--out", &elsewhere.display().to_string()]).code, 0);
    assert!(elsewhere.join(format!("{ID}.ics")).is_file());
    let nowhere = home.path().join("no/such/report.html").display().to_string();
    let told = export(home.path(), "html", &["--out", &nowhere]);
    assert_eq!(told.code, 2);
    assert!(told.err.contains("cannot create the file"), "{}", told.err);
}

#[test]
fn all_makes_a_file_for_each_session_and_names_those_it_refuses() {
    let home = home();
    let path = closed(home.path());
    let second = path.with_file_name("20261123-090000-AAAAAA.jsonl");
    std::fs::write(&second, "not a journal\n").unwrap();
    let dir = home.path().join("out");
    let out = dir.display().to_string();
    let told = run(home.path(), &["export", "--all", "--as", "html", "--out", &out]);
    assert_eq!(told.code, 1, "{}", told.err);
    assert!(
        told.err.contains("20261123-090000-AAAAAA") && told.err.contains("1 of 2 sessions exported"),
        "{}",
        told.err
    );
    let made: Vec<_> = std::fs::read_dir(&dir).unwrap().map(|e| e.unwrap().file_name()).collect();
    assert_eq!(made, [format!("{ID}.html").as_str()]);
    for args in [
        &["export", "--all", "--as", "html"][..],
        &["export", ID, "--all", "--as", "html"],
        &["export", "--as", "html"],
    ] {
        assert_eq!(run(home.path(), args).code, 2, "{args:?}");
    }
}

#[test]
fn the_aftercare_sheet_follows_what_was_seen_and_never_tells_to_open_a_blister() {
    let home = home();
    closed(home.path());
    let text = export(home.path(), "aftercare", &[]).out;
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in [
        "Client TT-1001, session of 2026-11-24",
        "Follow your clinic's instructions",
        "A blister was seen. Leave it whole",
        "Small points of bleeding were seen",
        "numbing cream",
        "swelling lasts longer than 3 days",
        "Usual advice: call the emergency number",
        "Not before 2027-01-05",
        "Telephone of the clinic",
    ] {
        assert!(flat.contains(words), "{words}: {text}");
    }
    for never in
        ["ink turned darker", "skin type (", "lanc", "prick", "punctur", "needle", "burst", "pop ", "On the face"]
    {
        assert!(!flat.to_lowercase().contains(&never.to_lowercase()), "{never}: {text}");
    }
    assert!(text.lines().all(|l| l.chars().count() <= 72), "{text}");
    let page = export(home.path(), "aftercare-html", &[]).out;
    assert!(page.contains("lang=\"en-GB\"") && page.contains("A blister was seen. Leave it whole"), "{page}");
    assert!(!page.contains("<script") && !page.contains('\u{202e}'));
}

#[test]
fn the_sheet_speaks_of_darkening_wheals_dark_skin_and_the_face_only_where_they_matter() {
    let home = home();
    let mut plan = plan();
    plan.client.skin = FitzpatrickType::V;
    plan.zones[0].site = BodySite::HeadNeck;
    let mut bench = Bench::with(plan);
    bench.start(0);
    bench.fire(10);
    bench.see(Response::Darkening, None);
    bench.see(Response::Wheals, None);
    bench.see(Response::Separation, None);
    bench.journal(&home.path().join("data"));
    let told = export(home.path(), "aftercare", &[]);
    let flat = told.out.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in [
        "Some ink turned darker",
        "reacted as in an allergy",
        "Usual advice: the surface of the skin came loose",
        "with your skin type (V)",
        "On the face and neck",
        "Usual advice: this matters more for you",
        "ask for a visit",
        "(not settled: the session is not closed)",
    ] {
        assert!(flat.contains(words), "{words}: {}", told.out);
    }
    assert!(!flat.contains("numbing") && !flat.contains("A blister was seen"), "{}", told.out);
}

/// Emergency signs and the care of loose skin are known from memory alone (the fact sheet marks them so).
#[test]
fn what_is_known_from_memory_alone_is_called_usual_advice() {
    let bench = eventful_and_closed();
    let standing = Standing { verdict: fadewright::journal::Verdict::Empty, erased: 0, altered: 0, not_understood: 0 };
    let record = SessionRecord::of(bench.events(), standing, "test", bench.state().opened_at).unwrap();
    let sheet = aftercare::sheet(&record).unwrap();
    let items: Vec<_> = sheet.sections.iter().flat_map(|s| &s.items).collect();
    assert!(items.iter().any(|i| i.certainty == Certainty::Usual));
    for item in items {
        assert_eq!(item.said().starts_with("Usual advice: "), item.certainty == Certainty::Usual, "{}", item.said());
        assert!(!item.source.is_empty(), "{}", item.text);
    }
    let urgent = sheet.sections.iter().find(|s| s.heading.contains("emergency")).unwrap();
    assert!(urgent.items.iter().all(|i| i.certainty == Certainty::Usual));
}

/// The picture against the plan: as many spots as the pattern has pulses, each of the spot's size on the picture's scale.
#[test]
fn the_zone_map_draws_the_planned_pattern_to_scale() {
    let home = home();
    closed(home.path());
    let page = export(home.path(), "html", &[]).out;
    let planned =
        run(home.path(), &["log", ID, "--json"]).json()["zones"][0]["planned_pulses_per_pass"].as_u64().unwrap();
    let map = page.split("id=\"zone-0-title\"").nth(1).unwrap().split("</svg>").next().unwrap();
    let attribute = |tag: &str, name: &str| -> f64 {
        tag.split(&format!(" {name}=\"")).nth(1).unwrap().split('"').next().unwrap().parse().unwrap()
    };
    let spots: Vec<&str> = map.match_indices("<circle class=\"spot\"").map(|(i, _)| &map[i..]).collect();
    assert_eq!(spots.len() as u64, planned);
    // The zone is 40 mm wide and 30 mm high, the spot 4 mm: the edge is ten radii by seven and a half, twice over.
    let radius = attribute(spots[0], "r");
    let edges: Vec<f64> = map
        .match_indices(" d=\"M")
        .flat_map(|(i, d)| map[i + d.len()..].split('"').next().unwrap().split(['L', ' ']))
        .map(|v| v.parse().unwrap())
        .collect();
    let span = |from: usize| {
        let all = || edges.iter().skip(from).step_by(2).copied();
        all().fold(f64::MIN, f64::max) - all().fold(f64::MAX, f64::min)
    };
    assert!(
        (span(0) / radius - 20.0).abs() < 0.02 && (span(1) / radius - 15.0).abs() < 0.02,
        "{} {}",
        span(0),
        span(1)
    );
    let centres: Vec<(f64, f64)> = spots.iter().map(|s| (attribute(s, "cx"), attribute(s, "cy"))).collect();
    assert!(centres.windows(2).all(|w| (w[0].0 - w[1].0).hypot(w[0].1 - w[1].1) < 2.2 * radius), "firing order jumps");
}

#[test]
fn a_session_without_a_pulse_has_no_aftercare_and_no_next_date() {
    let home = home();
    let mut bench = Bench::new();
    bench.run(fadewright::session::Command::Close {
        outcome: SessionOutcome::NotTreated,
        note: "the client did not come".to_owned(),
    });
    bench.journal(&home.path().join("data"));
    for format in ["aftercare", "aftercare-html", "ics"] {
        let told = export(home.path(), format, &[]);
        assert_eq!(told.code, 1, "{format}");
        assert!(told.err.contains("no pulse was fired"), "{}", told.err);
    }
    let bundle = export(home.path(), "fhir", &[]).json();
    let procedures = resources(&bundle, "Procedure");
    assert!(procedures.len() == 3 && procedures.iter().all(|p| p["status"] == "not-done"), "{procedures:?}");
}

#[test]
fn the_calendar_entry_holds_a_date_and_nothing_private() {
    let home = home();
    closed(home.path());
    let entry = export(home.path(), "ics", &[]).out;
    assert!(entry.contains("DTSTART;VALUE=DATE:20270105\r\n") && entry.contains("TT-1001"), "{entry}");
    let bare = export(home.path(), "ics", &["--no-code"]).out;
    assert!(!bare.contains("TT-1001"), "{bare}");
    for private in [ID, "band", "forearm", "laser", "tattoo"] {
        assert!(!entry.contains(private) && !bare.contains(private), "{private}: {entry}");
    }
    assert!(entry.split_terminator("\r\n").all(|l| l.len() <= 75 && !l.contains(['\r', '\n'])));
    assert_eq!(export(home.path(), "html", &["--no-code"]).code, 2);
}

fn resources<'a>(bundle: &'a serde_json::Value, kind: &str) -> Vec<&'a serde_json::Value> {
    let entries = bundle["entry"].as_array().unwrap().iter().map(|e| &e["resource"]);
    entries.filter(|r| r["resourceType"] == kind).collect()
}

#[test]
fn the_bundle_holds_the_session_s_figures_and_every_reference_leads_somewhere() {
    let home = home();
    closed(home.path());
    let bundle = export(home.path(), "fhir", &[]).json();
    assert_eq!((&bundle["resourceType"], &bundle["type"]), (&"Bundle".into(), &"collection".into()));
    let settings: Vec<_> = resources(&bundle, "Observation")
        .into_iter()
        .filter(|o| o["code"]["text"] == "laser setting and pulses of a pass")
        .collect();
    assert_eq!(settings.len(), 2, "3 J/cm2, then what was accepted");
    let figure = |o: &serde_json::Value, what: &str| {
        let found = o["component"].as_array().unwrap().iter().find(|c| c["code"]["text"] == what).unwrap();
        (found["valueQuantity"]["value"].as_f64().unwrap(), found["valueQuantity"]["code"].as_str().unwrap().to_owned())
    };
    for (what, value, code) in [
        ("fluence", 3.0, "J/cm2"),
        ("pulse duration", 6.0, "ns"),
        ("wavelength", 1064.0, "nm"),
        ("spot diameter", 4.0, "mm"),
        ("repetition rate", 5.0, "Hz"),
        ("pulses", 30.0, "{pulses}"),
    ] {
        let (found, unit) = figure(settings[0], what);
        assert!((found - value).abs() < 1e-9 && unit == code, "{what}: {found} {unit}");
    }
    let adverse = resources(&bundle, "AdverseEvent");
    assert_eq!(adverse.len(), 2, "bleeding and blister, not the whitening: {adverse:?}");
    let patient = resources(&bundle, "Patient");
    let keys: Vec<_> = patient[0].as_object().unwrap().keys().collect();
    assert_eq!(keys, ["id", "identifier", "resourceType"]);
    let hash = run(home.path(), &["verify", ID, "--json"]).json()["sessions"][0]["head"].clone();
    let provenance = resources(&bundle, "Provenance");
    assert_eq!(provenance[0]["entity"][0]["what"]["identifier"]["value"], hash);
    assert_eq!(provenance[0]["agent"][0]["who"]["identifier"]["value"], "OP-1");
    // References.
    let known: Vec<String> =
        bundle["entry"].as_array().unwrap().iter().map(|e| e["fullUrl"].as_str().unwrap().to_owned()).collect();
    let text = bundle.to_string();
    let mut led = 0;
    for (i, _) in text.match_indices("\"reference\":\"") {
        let rest = &text[i + 13..];
        let to = &rest[..rest.find('"').unwrap()];
        assert!(known.iter().any(|k| k == to), "{to} leads nowhere");
        led += 1;
    }
    assert!(led > 20, "{led}");
    let mut once = known.clone();
    once.sort();
    once.dedup();
    assert_eq!(once.len(), known.len());
    assert!(!text.contains('\u{202e}') && text.contains("alert("), "hostile text is text");
}

#[test]
fn the_eventful_session_is_what_it_says() {
    let bench = eventful_and_closed();
    let kinds: Vec<_> = bench.state().zones[0].responses.iter().map(|r| r.kind).collect();
    assert_eq!(kinds, [Response::Whitening, Response::PinpointBleeding, Response::Blister]);
    assert!(bench.state().closed.is_some() && bench.state().deviations.iter().any(|d| d.overridden));
    assert_eq!(bench.state().opened.plan.title, HOSTILE);
}
