//! A whole session at the chair, by keys alone, and its log checked figure by figure.

use super::hand::{BLACK, Done, F2, F3, F4, F5, Hand, Shown, lines, only_session, run, run_json, sample};
use super::pty::{Chair, Ended};
use fadewright::coverage::{Outline, Pattern};
use fadewright::units::{Overlap, SpotDiameter};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::f64::consts::PI;

const LOWERED: Shown = ["1064", "6 ns", "4", "2.7", "0.339", "5"];
const GREEN: Shown = ["755", "750 ps", "3", "2", "0.141", "5"];
/// The device's counter before the first pulse.
const BASELINE: u64 = 120_000;

/// How many pulses the train counted, which only its clock knows.
struct Fired {
    train: u64,
}

#[test]
fn a_session_of_two_zones_from_the_first_check_to_the_saved_log() -> Done {
    let home = tempfile::tempdir().unwrap();
    let mut hand = Hand::treat(home.path(), "two-zone-band")?;
    signs_in(&mut hand)?;
    reads_back(&mut hand)?;
    hand.time_out()?;
    let fired = first_zone(&mut hand)?;
    second_zone(&mut hand)?;
    closes(&mut hand)?;
    assert_eq!(hand.chair.wait_exit()?, Ended::Code(0));

    let (id, journal) = only_session(home.path());
    let log = run_json(home.path(), &["log", &id, "--json"]);
    check_totals(&log, &fired);
    check_first_zone(&log["zones"][0], &fired);
    check_second_zone(&log["zones"][1]);
    check_advice(&log);
    check_words(&log);
    check_against_raw_lines(&log, &lines(&journal));
    let told = run(home.path(), &["log", &id]);
    assert!(told.status.success());
    check_log_for_a_person(&String::from_utf8(told.stdout).unwrap(), &fired);
    let report = run_json(home.path(), &["verify", &id, "--json"]);
    assert_eq!((&report["ok"], &report["problems"]), (&json!(true), &json!([])));
    assert_eq!(run_json(home.path(), &["verify", "--json"])["ok"], true, "the day book agrees");
    Ok(())
}

// ---- At the chair ----

/// Two sessions of one client: what was too much in the first is said in the second, with a lower start.
#[test]
fn what_last_time_asks_for_is_said_at_the_chair() -> Done {
    let home = tempfile::tempdir().unwrap();
    let mut hand = Hand::treat(home.path(), "two-zone-band")?;
    hand.begin_a_pass()?;
    hand.pulses(3)?;
    hand.key('r');
    hand.choose("What does the skin show?", 'l')?;
    hand.wait_for("A blister")?;
    hand.leave()?;
    assert_eq!(hand.chair.wait_exit()?, Ended::Code(0));

    let mut hand = Hand::start(home.path(), &["treat", &sample("two-zone-band"), "--new"]);
    hand.sign_in()?;
    hand.wait_for("last time")?;
    let words = |hand: &Hand| hand.chair.screen().split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words(&hand).contains("3 J/cm2 at 4 mm, 3 pulses; blister. Start with 2.7 J/cm2 at 4 mm"),
        "{}",
        words(&hand)
    );
    hand.chair.send(F4);
    hand.wait_for("LOWER")?;
    assert!(words(&hand).contains("blister on"), "{}", words(&hand));
    hand.answer("LOWER", 'a', |chair| chair.screen().contains("SETTINGS"))?;
    hand.wait_for("2.7 J/cm2")?;
    let advice = words(&hand);
    hand.chair.send(F4);
    hand.leave()?;
    assert!(advice.contains("2.7 J/cm2 (plan 3"), "{advice}");
    Ok(())
}

/// A key file with a mistake leaves the standard keys, and says so; a good one gives others, and the texts name them.
#[test]
fn keys_of_ones_own_are_taken_and_a_bad_file_is_told_on_screen() -> Done {
    let home = tempfile::tempdir().unwrap();
    let file = home.path().join("own.toml");
    let write = |does: &str| {
        let row = format!("[[key]]\nwhere = \"treat\"\ndoes = \"{does}\"\nkeys = [\"g\"]\n");
        std::fs::write(&file, format!("kind = \"fadewright keys\"\nschema = 1\n{row}")).unwrap();
    };
    let plan = sample("two-zone-band");
    let start =
        |home: &std::path::Path| Hand::start(home, &["treat", &plan, "--new", "--keys", file.to_str().unwrap()]);
    write("start-pas");
    let mut hand = start(home.path());
    hand.wait_for("standard keys:")?;
    assert!(hand.chair.screen().contains("start-pas"), "{}", hand.chair.framed());
    hand.leave()?;
    write("start-pass");
    let mut hand = start(home.path());
    hand.sign_in()?;
    hand.read_back(BLACK)?;
    hand.time_out()?;
    hand.wait_for("not started: g")?;
    hand.key('g');
    hand.fill("Device counter", "")?;
    hand.wait_for("running")?;
    hand.leave()
}

/// The eyewear that protects at the plan's wavelengths picks the theme, unless one was asked for; a key goes on.
#[test]
fn the_eyewear_of_the_plan_picks_the_theme() -> Done {
    let home = tempfile::tempdir().unwrap();
    let first_script = sample("first-script");
    let mut hand = Hand::start(home.path(), &["treat", &first_script]);
    hand.wait_for("CHECKS")?;
    // The embedded protocol's first pair that protects at 1064 nm is tinted orange; the next theme is the one after.
    hand.chair.send("\x1b[18~");
    hand.wait_for("theme green-blue")?;
    hand.leave()?;
    let mut hand = Hand::start(home.path(), &["treat", &first_script, "--new", "--theme", "dark"]);
    hand.wait_for("CHECKS")?;
    hand.chair.send("\x1b[18~");
    hand.wait_for("theme light")?;
    hand.leave()?;
    // Each further tint of the protocol's first pair picks its own: the next one tells which it was.
    for (tint, next) in [("brown", "theme magenta"), ("magenta", "theme red"), ("red", "theme default")] {
        let text = include_str!("../../src/protocol/default.toml");
        let own = home.path().join("protocol.toml");
        std::fs::write(&own, text.replace("tint = \"orange\"", &format!("tint = \"{tint}\""))).unwrap();
        let own = own.to_str().unwrap();
        let mut hand = Hand::start(home.path(), &["treat", &first_script, "--new", "--protocol", own]);
        hand.wait_for("CHECKS")?;
        hand.chair.send("\x1b[18~");
        hand.wait_for(next)?;
        hand.leave()?;
    }
    Ok(())
}

/// Light in the client's skin is followed beside the session, and then a LOWER can speak of another spot.
#[test]
fn light_in_this_skin_is_worked_out_beside_the_session() -> Done {
    let home = tempfile::tempdir().unwrap();
    let mut hand = Hand::treat(home.path(), "two-zone-band")?;
    hand.sign_in()?;
    let (_, journal) = only_session(home.path());
    let found = || lines(&journal).into_iter().find(|l| l["event"]["type"] == "light-reckoned");
    // Two wavelengths; a machine that does much else takes its time.
    hand.chair.wait_at_most(std::time::Duration::from_secs(120), "the light", |_| found().is_some())?;
    let rows = found().unwrap()["event"]["table"]["rows"].as_array().unwrap().clone();
    let of = |nm: f64, mm: f64| {
        let fits = |r: &&Value| r["wavelength_nm"] == nm && r["spot_mm"] == mm;
        let row = rows.iter().find(fits).unwrap();
        (row["ink"].as_f64().unwrap(), row["epidermis"].as_f64().unwrap())
    };
    for nm in [1064.0, 755.0] {
        let ((ink, epidermis), (deeper, _)) = (of(nm, 3.0), of(nm, 5.0));
        assert!(ink > 0.05 && ink < epidermis && epidermis < 5.0 && deeper > ink, "{nm}: {rows:?}");
    }
    hand.chair.send(F4);
    hand.leave()
}

fn signs_in(hand: &mut Hand) -> Done {
    hand.at_item("Code of the operator")?;
    hand.key('v');
    hand.fill("enter take", "OP-7")?;
    for statement in [
        "Code, site and written",
        "Health, medicines",
        "No suspicious",
        "No gunpowder",
        "Skin at the site",
        "at least 8 weeks",
    ] {
        hand.at_item(statement)?;
        hand.key('y');
    }
    hand.at_item("The last session healed")?;
    hand.key('n');
    hand.fill("Why not?", "a small pale patch")?;
    hand.at_item("Photographs are taken")?;
    hand.key('y');
    hand.at_item("Sessions needed")?;
    hand.key('y');
    hand.at_item("Anaesthetic")?;
    hand.press('a', "SETTINGS")
}

/// The energy first typed is not that of the fluence over the spot.
fn reads_back(hand: &mut Hand) -> Done {
    let mut wrong = BLACK;
    wrong[4] = "0.9";
    hand.read_back(wrong)?;
    hand.wait_for("DIFFERS")?;
    let screen = hand.chair.screen().split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(screen.contains("wanted 0.377 J") && screen.contains("device shows 0.9 J"), "{screen}");
    hand.read_back(BLACK)?;
    hand.wait_for("time-out")
}

fn first_zone(hand: &mut Hand) -> Result<Fired, String> {
    hand.key('n');
    hand.fill("Device counter", &BASELINE.to_string())?;
    hand.wait_for("running")?;
    hand.pulses(12)?;
    hand.key('w');
    hand.choose("How strong?", '2')?;
    hand.pulses(48)?;
    // A typed number that is put right, and one pulse too many that is taken back.
    hand.chair.send("4");
    hand.fill("Count pulses", "0")?;
    hand.wait_count(100)?;
    hand.key('k');
    hand.wait_for("Correct the last entry")?;
    hand.fill("Correct the last entry", "38")?;
    hand.wait_count(98)?;
    hand.pulses(1)?;
    hand.key('u');
    hand.wait_count(98)?;
    // Bleeding: the lowering is followed, and the lower setting read back before the next pulse.
    hand.key('b');
    hand.answer("LOWER", 'a', |chair| chair.screen().contains("SETTINGS"))?;
    hand.read_back(LOWERED)?;
    hand.wait_for("TREAT")?;
    hand.pulses(22)?;
    let train = train(hand, 120)?;
    let so_far = 120 + train;
    hand.key('c');
    hand.counter(BASELINE + so_far, &format!("counter {}, counted since 0", BASELINE + so_far))?;
    hand.pulses(10)?;
    // The device counted six more, which is more than the protocol lets pass without a word.
    hand.key('e');
    hand.counter(BASELINE + so_far + 16, "Count and device differ")?;
    hand.choose("Count and device differ", 'k')?;
    hand.fill("The figures differ", "six test shots into the stop")?;
    hand.wait_for("not started")?;

    // The second pass begins too soon; the skin splatters, and the advice is declined with a reason.
    hand.key('f');
    hand.wait_for("faded after")?;
    hand.key('n');
    hand.answer("WAIT", 'a', |chair| !chair.screen().contains("a accept"))?;
    hand.pulses(45)?;
    hand.key('r');
    hand.choose("What does the skin show?", 'k')?;
    hand.answer("Tissue splatter", 'd', |chair| chair.screen().contains("Decline: why?"))?;
    hand.fill("Decline: why?", "spacer had slipped, now seated")?;
    hand.pulses(55)?;
    hand.key('e');
    hand.counter(BASELINE + so_far + 116, "all planned passes")?;
    Ok(Fired { train })
}

/// Lets a train run and gives what it counted.
fn train(hand: &mut Hand, before: u64) -> Result<u64, String> {
    hand.press('t', "TRAIN RUNNING")?;
    hand.chair.wait_until("some pulses of the train", |chair| {
        super::hand::count_on(&chair.screen()).is_some_and(|n| n >= before + 5)
    })?;
    hand.press('t', "train off")?;
    let after = hand.count().ok_or("no count on screen")?;
    hand.wait_count(after)?;
    Ok(after - before)
}

/// Another wavelength: what depends on it is asked again.
fn second_zone(hand: &mut Hand) -> Done {
    hand.press(']', "band-green")?;
    hand.chair.send(F3);
    hand.read_back(GREEN)?;
    hand.at_item("Everyone, client included")?;
    assert!(hand.chair.screen().contains("time-out 7 of 9"), "{}", hand.chair.framed());
    hand.eyewear()?;
    hand.at_item("Pre-use check of the laser")?;
    hand.press('y', "TREAT")?;
    hand.press('n', "running")?;
    hand.pulses(10)?;
    hand.key('w');
    hand.choose("How strong?", '1')?;
    hand.pulses(110)?;
    let reading = last_reading(&hand.chair)? + 120;
    hand.key('e');
    hand.counter(reading, "not started")?;
    hand.key('z');
    hand.fill("End the zone", "client asked to stop")?;
    hand.wait_for("zone done")
}

fn last_reading(chair: &Chair) -> Result<u64, String> {
    let screen = chair.screen();
    let (_, after) = screen.split_once("counter ").ok_or("no counter on screen")?;
    after.split(|c: char| !c.is_ascii_digit()).next().and_then(|n| n.parse().ok()).ok_or("no reading".to_owned())
}

fn closes(hand: &mut Hand) -> Done {
    hand.chair.send(F2);
    hand.at_item("Pulses and passes are recorded")?;
    for _ in 0..9 {
        hand.key('y');
    }
    hand.wait_for("CLOSE")?;
    hand.key('m');
    hand.fill("No names", "cooled for ten minutes")?;
    hand.chair.send(F5);
    hand.key('c');
    hand.choose("How did it end?", 't')?;
    hand.choose("Close for good?", 'y')?;
    hand.fill("Closing note", "review in two weeks")?;
    hand.wait_for("SESSION CLOSED")?;
    hand.key('q');
    Ok(())
}

// ---- The log ----

fn near(value: &Value, expected: f64) {
    let value = value.as_f64().unwrap();
    assert!((value - expected).abs() < 1e-9 * expected.abs().max(1.0), "{value} is not {expected}");
}

/// The even pass over a rectangle with 10 % overlap.
fn even_pass(width: f64, height: f64, spot: f64) -> Pattern {
    let spot = SpotDiameter::new(spot).unwrap();
    Pattern::of(Outline::rectangle(width, height), spot, Overlap::new(10.0).unwrap())
}

/// Overlap of a count: n = (A + e p) / (sqrt(3)/2 p^2), the edge's e from the planned count, overlap = 1 - p / spot.
fn overlap(area: f64, planned: u64, n: u64, spot: f64) -> f64 {
    let (cell, pitch) = (3f64.sqrt() / 2.0, 0.9 * spot);
    let edge = (planned as f64 * cell * pitch * pitch - area) / pitch;
    let half = edge / (2.0 * cell * n as f64);
    100.0 * (1.0 - (half + (half * half + area / (cell * n as f64)).sqrt()) / spot)
}

fn check_totals(log: &Value, fired: &Fired) {
    assert_eq!(log["pulses"], 350 + fired.train);
    let passes = log["zones"].as_array().unwrap().iter().flat_map(|zone| zone["passes"].as_array().unwrap());
    assert_eq!(passes.map(|pass| pass["pulses_by_key"].as_u64().unwrap()).sum::<u64>(), 312);
    assert_eq!(log["outcome"], "completed");
    assert_eq!(log["record_sound"], true);
    assert_eq!(log["client_code"], "HL-2041");
    assert_eq!(log["closing_note"], "review in two weeks");
    assert_eq!(log["notes"], json!(["cooled for ten minutes"]));
    let opened: chrono::DateTime<chrono::FixedOffset> = log["opened_at"].as_str().unwrap().parse().unwrap();
    let earliest = opened.date_naive() + chrono::Duration::weeks(6);
    assert_eq!(log["next_earliest"], earliest.to_string(), "six weeks for skin type III");
}

fn setting(line: &Value) -> (f64, f64, u64) {
    let number = |key: &str| line[key].as_f64().unwrap();
    near(&line["energy_j"], number("fluence_j_cm2") * PI * (number("spot_mm") / 10.0).powi(2) / 4.0);
    (number("fluence_j_cm2"), number("spot_mm"), line["pulses"].as_u64().unwrap())
}

fn check_first_zone(zone: &Value, fired: &Fired) {
    assert_eq!((&zone["zone"], &zone["planned_passes"]), (&json!("band-black"), &json!(2)));
    let even = even_pass(48.0, 38.0, 4.0);
    // 163 without the edge: 1824 mm2 / (0.866 x 3.6 mm^2).
    assert_eq!(zone["planned_pulses_per_pass"], even.pulses());
    assert!((163..=190).contains(&even.pulses()), "{}", even.pulses());
    let first = &zone["passes"][0];
    let counted = 130 + fired.train;
    assert_eq!(first["counted"], counted);
    assert_eq!(first["device_counter"], counted + 6);
    assert_eq!(first["explanation"], "six test shots into the stop");
    assert_eq!(
        [&first["pulses_by_key"], &first["pulses_typed"], &first["pulses_by_train"], &first["pulses_by_counter"]],
        [&json!(92), &json!(38), &json!(fired.train), &json!(0)]
    );
    let settings: Vec<_> = first["settings"].as_array().unwrap().iter().map(setting).collect();
    assert_eq!(settings, [(3.0, 4.0, 98), (2.7, 4.0, 32 + fired.train)]);
    near(&first["overlap_percent"], overlap(1824.0, even.pulses(), counted, 4.0));
    let second = &zone["passes"][1];
    assert_eq!((&second["counted"], &second["device_counter"]), (&json!(100), &json!(100)));
    assert_eq!(second["explanation"], Value::Null);
    assert_eq!(second["settings"].as_array().unwrap().iter().map(setting).collect::<Vec<_>>(), [(2.7, 4.0, 100)]);
    assert_eq!(zone["passes"].as_array().unwrap().len(), 2);
    assert_eq!(zone["pulses"], counted + 100);
    near(&zone["mean_pulses_per_point"], (counted + 100) as f64 * even.share_in_zone() * PI * 4.0 / 1824.0);
    assert_eq!(
        responses(zone),
        [("whitening", Some(2), 1, 12), ("pinpoint-bleeding", None, 1, 98), ("splatter", None, 2, 45)]
    );
}

fn check_second_zone(zone: &Value) {
    let even = even_pass(42.0, 26.0, 3.0);
    // 173 without the edge: 1092 mm2 / (0.866 x 2.7 mm^2).
    assert_eq!(zone["planned_pulses_per_pass"], even.pulses());
    assert!((173..=200).contains(&even.pulses()), "{}", even.pulses());
    let pass = &zone["passes"][0];
    assert_eq!((&pass["counted"], &pass["device_counter"]), (&json!(120), &json!(120)));
    assert_eq!(pass["settings"].as_array().unwrap().iter().map(setting).collect::<Vec<_>>(), [(2.0, 3.0, 120)]);
    near(&pass["settings"][0]["wavelength_nm"], 755.0);
    near(&pass["overlap_percent"], overlap(1092.0, even.pulses(), 120, 3.0));
    assert_eq!(zone["passes"].as_array().unwrap().len(), 1);
    assert_eq!((&zone["outcome"], &zone["outcome_reason"]), (&json!("done"), &json!("client asked to stop")));
    assert_eq!(responses(zone), [("whitening", Some(1), 1, 10)]);
}

fn responses(zone: &Value) -> Vec<(&str, Option<u64>, u64, u64)> {
    let line = |r: &'_ Value| (r["grade"].as_u64(), r["pass"].as_u64().unwrap(), r["pulse"].as_u64().unwrap());
    let all = zone["responses"].as_array().unwrap();
    all.iter().map(|r| (r["response"].as_str().unwrap(), line(r))).map(|(k, (g, p, n))| (k, g, p, n)).collect()
}

fn check_advice(log: &Value) {
    let advice = log["advice"].as_array().unwrap();
    let of = |a: &'_ Value, key: &str| a[key].as_str().unwrap_or_default().to_owned();
    let seen: Vec<_> =
        advice.iter().map(|a| (of(a, "rule"), of(a, "level"), of(a, "answer"), of(a, "reason"))).collect();
    let expected = [
        ("pinpoint-bleeding", "LOWER", "accepted", ""),
        ("counters-apart", "CHECK", "cleared", "the pass has ended"),
        ("pass-too-soon", "WAIT", "accepted", ""),
        ("tissue-splatter", "LOWER", "declined", "spacer had slipped, now seated"),
        ("pass-sparse", "NOTE", "recorded", ""),
        ("pass-sparse", "NOTE", "recorded", ""),
    ];
    let expected = expected.map(|(a, b, c, d)| (a.to_owned(), b.to_owned(), c.to_owned(), d.to_owned()));
    assert_eq!(seen, expected);
    near(&advice[0]["from_fluence_j_cm2"], 3.0);
    near(&advice[0]["to_fluence_j_cm2"], 2.7);
    near(&advice[3]["from_fluence_j_cm2"], 2.7);
    near(&advice[3]["to_fluence_j_cm2"], 2.4);
    assert_eq!(advice[5]["zone"], "band-green");
    for a in &advice[..4] {
        assert_eq!((&a["zone"], &a["pulses_while_open"]), (&json!("band-black"), &json!(0)), "{a}");
        assert!(a["answer"] == "cleared" || a["at"].as_str() <= a["answered_at"].as_str(), "{a}");
    }
    assert_eq!(advice.iter().map(|a| a["pass"].as_u64().unwrap()).collect::<Vec<_>>(), [1, 1, 2, 2, 2, 1]);
}

fn check_words(log: &Value) {
    assert_eq!(log["deviations"], json!(["healing: answered no: a small pale patch"]));
    for check in log["checks"].as_array().unwrap() {
        let expected = if check["item"] == "healing" { "noted" } else { "done" };
        assert_eq!(check["status"], expected, "{check}");
    }
    let timeline: Vec<_> = log["timeline"].as_array().unwrap().iter().map(|e| e["text"].as_str().unwrap()).collect();
    let has = |part: &str| timeline.iter().filter(|text| text.contains(part)).count();
    assert_eq!(has("corrected from 40 to 38 (operator)"), 1, "{timeline:#?}");
    assert_eq!(has("taken back"), 1);
    assert_eq!(has("read-back MISMATCH: energy against fluence x spot area: wanted 0.377 J"), 1);
    assert_eq!(
        has("check eyewear-worn: 1: Pair A, visible and near infrared protects."),
        2,
        "asked again at the second wavelength"
    );
    assert_eq!(has("train at 5 Hz began"), 1);
    assert_eq!(has("whitening faded"), 1);
}

/// Counts the pulses once more from the lines alone, by zone, pass and fluence.
fn check_against_raw_lines(log: &Value, lines: &[Value]) {
    let mut fluence: BTreeMap<String, f64> = BTreeMap::new();
    let mut entries: BTreeMap<u64, (String, u64, f64, u64)> = BTreeMap::new();
    let text = |v: &Value| v.as_str().unwrap().to_owned();
    let mut before = None;
    for (number, line) in (1..).zip(lines) {
        assert_eq!(line["seq"], number);
        assert!(before.is_none() || before == Some(text(&line["prev"])), "line {number} follows another");
        before = Some(text(&line["hash"]));
        let event = &line["event"];
        match event["type"].as_str().unwrap() {
            "session-opened" => {
                for zone in event["plan"]["zones"].as_array().unwrap() {
                    fluence.insert(text(&zone["id"]), zone["setting"]["fluence_j_cm2"].as_f64().unwrap());
                }
            }
            "setting-changed" => {
                fluence.insert(text(&event["zone"]), event["to"]["fluence_j_cm2"].as_f64().unwrap());
            }
            "pulses-fired" => {
                let zone = text(&event["zone"]);
                let set = fluence[&zone];
                entries.insert(number, (zone, event["pass"].as_u64().unwrap(), set, event["n"].as_u64().unwrap()));
            }
            "pulses-corrected" => {
                let entry = entries.get_mut(&event["of"].as_u64().unwrap()).unwrap();
                assert_eq!(event["from"], entry.3);
                entry.3 = event["to"].as_u64().unwrap();
            }
            "entry-voided" => drop(entries.remove(&event["of"].as_u64().unwrap())),
            _ => {}
        }
    }
    // In tenths of J/cm2, so that they can be compared as whole numbers.
    let tenths = |f: f64| (f * 10.0).round() as u64;
    let mut counted: BTreeMap<(String, u64, u64), u64> = BTreeMap::new();
    for (zone, pass, set, n) in entries.into_values() {
        *counted.entry((zone, pass, tenths(set))).or_default() += n;
    }
    let mut logged = BTreeMap::new();
    for zone in log["zones"].as_array().unwrap() {
        for pass in zone["passes"].as_array().unwrap() {
            for line in pass["settings"].as_array().unwrap() {
                let (set, _, n) = setting(line);
                logged.insert((text(&zone["zone"]), pass["pass"].as_u64().unwrap(), tenths(set)), n);
            }
        }
    }
    assert_eq!(counted, logged);
    assert_eq!(counted.values().sum::<u64>(), log["pulses"].as_u64().unwrap());
    assert_eq!(lines.len() as u64, log["events"].as_u64().unwrap());
}

fn check_log_for_a_person(told: &str, fired: &Fired) {
    let counted = 130 + fired.train;
    for part in [
        format!("pulses: {}", 350 + fired.train),
        format!("pass 1: counted {counted}, device counter {} (six test shots into the stop)", counted + 6),
        "1064 nm, 6 ns, 4 mm, 3 J/cm2, 5 Hz: 98 pulses".to_owned(),
        format!("1064 nm, 6 ns, 4 mm, 2.7 J/cm2, 5 Hz: {} pulses", 32 + fired.train),
        "pass 2: counted 100, device counter 100".to_owned(),
        "whitening 2 at pulse 12 of pass 1".to_owned(),
        "DECLINED at".to_owned(),
        "spacer had slipped, now seated".to_owned(),
        "healing: answered no: a small pale patch".to_owned(),
        "completed".to_owned(),
    ] {
        assert!(told.contains(&part), "{part:?} is not in\n{told}");
    }
}
