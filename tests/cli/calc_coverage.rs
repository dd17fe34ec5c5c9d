//! `calc coverage`: what scripts and people get.

use super::{Run, home, run};
use serde_json::Value;
use std::f64::consts::PI;
use std::fs;
use tempfile::TempDir;

const RECT: [&str; 4] = ["--shape", "rect 40x25", "--spot-mm", "3"];

fn coverage(args: &[&str]) -> Run {
    run(home().path(), &[&["calc", "coverage"], args].concat())
}

/// The answer for a rectangle of 40 mm by 25 mm and a spot of 3 mm.
fn rect(more: &[&str]) -> Value {
    let told = coverage(&[&RECT, more, &["--json"]].concat());
    assert_eq!(told.code, 0, "{more:?}: {}", told.err);
    told.json()
}

fn file(text: impl AsRef<[u8]>) -> (TempDir, String) {
    let dir = home();
    let path = dir.path().join("places.csv");
    fs::write(&path, text).unwrap();
    let name = path.to_str().unwrap().to_owned();
    (dir, name)
}

/// The answer for pulses that landed as a file says.
fn landed(text: impl AsRef<[u8]>) -> Value {
    let (_dir, name) = file(text);
    rect(&["--at", &name])
}

fn polygon(text: impl AsRef<[u8]>, more: &[&str]) -> Run {
    let (_dir, name) = file(text);
    coverage(&[&["--polygon", &name, "--spot-mm", "3", "--json"], more].concat())
}

fn number(json: &Value, key: &str) -> f64 {
    json[key].as_f64().unwrap_or_else(|| panic!("{key} in {json}"))
}

#[track_caller]
fn near(json: &Value, key: &str, wanted: f64) {
    let got = number(json, key);
    assert!((got - wanted).abs() < 1e-6 * wanted.abs().max(1.0), "{key}: {got}, wanted {wanted}");
}

#[test]
fn an_even_pass_gives_every_key_that_scripts_rely_on() {
    let json = rect(&["--overlap", "0.1"]);
    near(&json, "area_mm2", 1000.0);
    near(&json, "perimeter_mm", 130.0);
    assert_eq!(json["bounds_mm"], serde_json::json!([-20.0, -12.5, 20.0, 12.5]));
    let parts = ["bare_mm2", "once_mm2", "twice_mm2", "thrice_or_more_mm2"].map(|key| number(&json, key));
    assert!((parts.iter().sum::<f64>() - 1000.0).abs() < 1e-6, "{json}");
    assert_eq!((&json["lattice"], &json["overlap"]), (&"hex".into(), &0.1.into()));
    // Two circles of radius 1 whose middles are 1.8 apart share 2 acos(0.9) - 0.9 sqrt(4 - 1.8^2).
    near(&json, "overlap_area", (2.0 * 0.9f64.acos() - 0.9 * (4.0f64 - 3.24).sqrt()) / PI);
    near(&json, "even_pulses", 1000.0 / (3f64.sqrt() / 2.0 * 2.7 * 2.7));
    near(&json, "gapless_overlap", 1.0 - 3f64.sqrt() / 2.0);
    assert!(number(&json, "pitch_mm") <= 2.7 + 1e-9 && number(&json, "row_pitch_mm") < 2.7 && json["rows"] == 11);
    assert!(number(&json, "pulses") >= number(&json, "even_pulses") && number(&json, "pulses_outside") < 10.0);
    // What fell in the zone once, twice, ... and beside it, is all the light; none of it thrice here.
    let spots = number(&json, "pulses") * PI * 2.25;
    assert!((parts[1] + 2.0 * parts[2] + number(&json, "spill_mm2") - spots).abs() < 1e-6, "{json}");
    assert!(parts[3] < 1e-9 && number(&json, "union_mm2") > parts[1] + parts[2]);
    near(&json, "random_bare_mm2", 1000.0 * (-spots / 1000.0).exp());
    for key in ["time_s", "rate_hz", "largest_spot_mm", "implied_overlap", "mean_pulses_per_point"] {
        assert!(json.get(key).is_none(), "{key} was not asked for: {json}");
    }
}

#[test]
fn overlap_is_a_share_or_per_cent_with_the_sign() {
    let share = rect(&["--overlap", "0.25"]);
    assert!(number(&share, "bare_mm2") < 1e-6, "no gaps from 13.4 % on: {share}");
    for written in ["25 %", "25%", "0,25", " 0.25 ", "25,0 %"] {
        assert_eq!(rect(&["--overlap", written]), share, "{written}");
    }
    assert_eq!(rect(&["--overlap", "0"])["overlap"], 0.0);
    assert_eq!(rect(&["--overlap", "0.9"])["overlap"], 0.9);
    assert_eq!(rect(&["--overlap", "0.25", "--lattice", "hex"]), share);
}

#[test]
fn a_square_lattice_has_rows_a_pitch_apart_and_larger_cells() {
    let json = rect(&["--overlap", "0.1", "--lattice", "square"]);
    assert_eq!(json["lattice"], "square");
    near(&json, "even_pulses", 1000.0 / (2.7 * 2.7));
    near(&json, "gapless_overlap", 1.0 - 0.5f64.sqrt());
    // Discs of a square lattice leave 1 - pi d^2/4p^2 + 4 half lenses bare; more than a hexagonal one.
    assert!(number(&json, "endless_bare_share") > 10.0 * number(&rect(&["--overlap", "0.1"]), "endless_bare_share"));
}

#[test]
fn one_row_has_no_row_pitch() {
    let told = coverage(&["--shape", "stroke 30x2", "--spot-mm", "3", "--overlap", "0.3", "--json"]);
    let json = told.json();
    assert!(json["rows"] == 1 && json.get("row_pitch_mm").is_none(), "{json}");
}

/// Two circles of radius 1.5 mm, 1.5 mm apart, share 2 r^2 acos(d/2r) - d/2 sqrt(4 r^2 - d^2).
#[test]
fn pulses_count_where_they_landed() {
    let lens = 2.0 * 2.25 * 0.5f64.acos() - 0.75 * (9.0f64 - 2.25).sqrt();
    let one = PI * 2.25;
    // Two that overlap, one on the edge, one on the edge's outer side, one far away.
    let json = landed("0,0\n1.5,0\n20,0\n100,0\n");
    // A middle on the very edge may count either way.
    assert!(json["pulses"] == 4 && (1.0..=2.0).contains(&number(&json, "pulses_outside")), "{json}");
    near(&json, "twice_mm2", lens);
    near(&json, "once_mm2", 2.0 * (one - lens) + one / 2.0);
    near(&json, "bare_mm2", 1000.0 - 2.0 * one + lens - one / 2.0);
    near(&json, "union_mm2", 4.0 * one - lens);
    near(&json, "spill_mm2", 1.5 * one);
    assert!(number(&json, "implied_overlap") < 0.0, "four spots do not touch: {json}");
    for key in ["lattice", "overlap", "overlap_area", "pitch_mm", "rows", "even_pulses"] {
        assert!(json.get(key).is_none(), "{key} is of an even pass: {json}");
    }
    // Three on one place.
    near(&landed("0,0\n0,0\n0,0\n"), "thrice_or_more_mm2", one);
}

#[test]
fn files_of_places_come_from_any_editor() {
    let plain = landed("0,0\n1.5,0\n");
    for text in [
        "x_mm,y_mm\r\n0,0\r\n1.5,0\r\n",
        "\u{feff}x_mm,y_mm\n0,0\n1.5,0",
        "# by the scanner\n\n 0 , 0 \n\n\n1.5,0 # second\n",
        "\u{feff}X_MM, Y_MM\r\n\r\n0.0,-0\r\n+15e-1,0\r\n\r\n",
    ] {
        assert_eq!(landed(text), plain, "{text:?}");
    }
}

#[test]
fn a_spot_larger_than_the_zone_may_have_landed_but_makes_no_pass() {
    let (_dir, name) = file("0,0\n");
    let small = ["--shape", "rect 2x2", "--spot-mm", "5"];
    let json = coverage(&[&small[..], &["--at", &name, "--json"]].concat()).json();
    near(&json, "once_mm2", 4.0);
    near(&json, "spill_mm2", PI * 6.25 - 4.0);
    assert!(json.get("implied_overlap").is_none(), "{json}");
    for pass in [["--overlap", "0.1"], ["--pulses", "5"]] {
        let told = coverage(&[&small[..], &pass].concat());
        assert_eq!((told.code, told.out.as_str()), (2, ""));
        assert!(told.err.contains("--spot-mm: a spot of 5 mm has 19.635 mm2, the zone only 4.000"), "{}", told.err);
    }
}

#[test]
fn a_count_implies_an_overlap_and_no_areas() {
    let planned = number(&rect(&["--overlap", "0.1"]), "pulses") as u64;
    let json = rect(&["--pulses", &planned.to_string(), "--rate-hz", "5"]);
    near(&json, "implied_overlap", 0.1);
    near(&json, "time_s", (planned as f64 - 1.0) / 5.0);
    assert!(number(&json, "mean_pulses_per_point") > 1.0 && number(&json, "mean_pulses_per_point") < 1.3, "{json}");
    for key in ["bare_mm2", "once_mm2", "union_mm2", "spill_mm2", "pulses_outside", "overlap"] {
        assert!(json.get(key).is_none(), "{key} depends on where they fall: {json}");
    }
    let more = number(&rect(&["--pulses", "1000"]), "implied_overlap");
    assert!(more > 0.5 && number(&rect(&["--pulses", "1"]), "implied_overlap") < 0.0);
}

/// 0.3 J over a spot of 4 mm is 2.387324 J/cm2, averaged over the spot.
#[test]
fn energy_and_fluence_give_the_largest_spot() {
    let json = rect(&["--overlap", "0.1", "--energy-j", "0.3", "--fluence-j-cm2", "2.387324146"]);
    near(&json, "largest_spot_mm", 4.0);
}

#[test]
fn the_dose_is_told_in_multiples_of_the_nominal_fluence() {
    let dose = |more: &[&str]| rect(&[&["--overlap", "0.1"], more].concat())["dose"].clone();
    let (flat, all) = (dose(&[]), rect(&["--overlap", "0.1"]));
    assert_eq!((&flat["profile"], &flat["above"]), (&"flat".into(), &1.5.into()));
    // What landed in the zone over its area, and the exact share that two pulses hit.
    let landed = number(&all, "once_mm2") + 2.0 * number(&all, "twice_mm2");
    assert!((number(&flat, "mean") - landed / 1000.0).abs() < 6e-3, "{flat}");
    assert!((number(&flat, "share_above") - number(&all, "twice_mm2") / 1000.0).abs() < 6e-3, "{flat}");
    assert!((number(&flat, "median") - 1.0).abs() < 1e-6 && (number(&flat, "peak") - 2.0).abs() < 1e-6, "{flat}");
    assert!((number(&dose(&["--above", "0.5"]), "share_above") - 0.988).abs() < 6e-3);
    // A Gaussian pulse has twice the average in its centre, and its neighbours' tails besides.
    let gaussian = dose(&["--profile", "gaussian"]);
    assert!(number(&gaussian, "peak") > 2.0 && number(&gaussian, "peak") < 2.3, "{gaussian}");
    assert!(rect(&["--pulses", "9"]).get("dose").is_none());
}

#[test]
fn an_unsteady_hand_is_tried_with_a_seed() {
    let hand = |more: &[&str]| rect(&[&["--overlap", "0.1"], more].concat())["hand"].clone();
    assert!(hand(&[]).is_null());
    let jitter = hand(&["--jitter-mm", "0.5", "--runs", "20"]);
    assert_eq!((&jitter["runs"], &jitter["seed"], &jitter["miss"]), (&20.into(), &1.into(), &0.0.into()));
    assert_eq!(jitter, hand(&["--jitter-mm", "0.5", "--runs", "20", "--seed", "1"]));
    assert_ne!(jitter, hand(&["--jitter-mm", "0.5", "--runs", "20", "--seed", "2"]));
    assert!(number(&jitter, "bare_mm2") > 12.0 && number(&jitter, "bare_se_mm2") > 0.0, "{jitter}");
    near(&hand(&["--miss", "1", "--runs", "2"]), "bare_mm2", 1000.0);
    let twice = hand(&["--double", "1", "--runs", "2"]);
    assert!(number(&twice, "once_mm2") < 1e-6 && number(&twice, "twice_mm2") > 800.0, "{twice}");
    assert_eq!(number(&twice, "pulses"), 2.0 * number(&rect(&["--overlap", "0.1"]), "pulses"));
}

#[test]
fn a_polygon_may_have_holes_either_way_round_and_closed_or_not() {
    let open = "0,0\n40,0\n40,30\n0,30\n\n10,10\n20,10\n20,20\n10,20\n";
    let json = polygon(open, &["--overlap", "0.2"]).json();
    near(&json, "area_mm2", 1100.0);
    near(&json, "perimeter_mm", 180.0);
    assert_eq!(json["bounds_mm"], serde_json::json!([0.0, 0.0, 40.0, 30.0]));
    for text in [
        "x_mm,y_mm\n0,30\n40,30\n40,0\n0,0\n\n\n10,10\n20,10\n20,20\n10,20\n",
        "0,0\n40,0\n40,30\n0,30\n0,0\n# the hole\n\n10,20\n20,20\n20,10\n10,10\n10,20\n",
    ] {
        let other = polygon(text, &["--overlap", "0.2"]).json();
        near(&other, "area_mm2", 1100.0);
        near(&other, "perimeter_mm", 180.0);
        assert_eq!(other["pulses"], json["pulses"], "{text}");
    }
    // A rectangle as a polygon is that rectangle.
    let same = polygon("-20,-12.5\n20,-12.5\n20,12.5\n-20,12.5\n", &["--overlap", "0.1"]).json();
    assert_eq!(same, rect(&["--overlap", "0.1"]));
}

#[test]
fn polygons_that_enclose_nothing_are_refused() {
    for text in ["0,0\n1,1\n", "0,0\n", "0,0\n10,0\n20,0\n", "0,0\n9,0\n9,9\n\n1,1\n2,2\n"] {
        let told = polygon(text, &["--overlap", "0.1"]);
        assert_eq!((told.code, told.out.as_str()), (2, ""), "{text:?}");
        assert!(told.err.contains("places.csv"), "{}", told.err);
    }
}

#[test]
fn wrong_flags_are_refused_by_name() {
    let overlap = ["--overlap", "0.1"];
    for (args, wanted) in [
        (&["--spot-mm", "3", "--overlap", "0.1"][..], "--shape"),
        (&["--shape", "rect 4x4", "--polygon", "f", "--spot-mm", "3", "--overlap", "0.1"], "cannot be used with"),
        (&RECT, "--overlap"),
        (&[&RECT[..], &overlap, &["--pulses", "3"]].concat(), "cannot be used with"),
        (&[&RECT[..], &overlap, &["--at", "f"]].concat(), "cannot be used with"),
        (&[&RECT[..], &["--at", "f", "--pulses", "3"]].concat(), "cannot be used with"),
        (&["--shape", "rect 4x4", "--overlap", "0.1"], "--spot-mm"),
        (&[&RECT[..], &["--overlap", "10"]].concat(), "--overlap: overlap 10 is outside 0 to 0.9; write 0.1 or '10 %'"),
        (&[&RECT[..], &["--overlap", "-0.1"]].concat(), "--overlap: overlap -0.1 is outside 0 to 0.9"),
        (&[&RECT[..], &["--overlap", "nan"]].concat(), "--overlap: overlap nan is outside"),
        (&[&RECT[..], &["--overlap", "0.91"]].concat(), "write 0.1 or '10 %'"),
        (&[&RECT[..], &["--overlap", "95 %"]].concat(), "--overlap: overlap 95 % is outside 0 to 90 %"),
        (&[&RECT[..], &["--overlap", "much"]].concat(), "--overlap"),
        (&[&RECT[..], &["--overlap", "1\u{1b}[2J"]].concat(), "␛[2J"),
        (&[&RECT[..], &overlap, &["--lattice", "round"]].concat(), "one of: hex, square"),
        (&[&RECT[..], &["--pulses", "3", "--lattice", "hex"]].concat(), "--lattice"),
        (&[&RECT[..], &["--pulses", "0"]].concat(), "--pulses: '0' is not a whole number from 1 to 1000000"),
        (&[&RECT[..], &["--pulses", "-3"]].concat(), "--pulses"),
        (&[&RECT[..], &["--pulses", "2.5"]].concat(), "--pulses"),
        (&[&RECT[..], &["--pulses", "1000001"]].concat(), "--pulses"),
        (&["--shape", "rect 40x25", "--spot-mm", "0", "--overlap", "0.1"], "--spot-mm: spot 0 mm is outside"),
        (&["--shape", "rect 40x25", "--spot-mm", "nan", "--overlap", "0.1"], "--spot-mm"),
        (&["--shape", "rect 0x25", "--spot-mm", "3", "--overlap", "0.1"], "--shape"),
        (&["--shape", "rect NaNx25", "--spot-mm", "3", "--overlap", "0.1"], "--shape"),
        (&["--shape", "blob 4x4", "--spot-mm", "3", "--overlap", "0.1"], "--shape"),
        (&["--shape", "rect \u{1b}[31mx4", "--spot-mm", "3", "--overlap", "0.1"], "␛[31m"),
        (&["--shape", "rect 2000x2000", "--spot-mm", "1", "--overlap", "0.5"], "at most 1000000"),
        (&[&RECT[..], &overlap, &["--jitter-mm", "51"]].concat(), "--jitter-mm: jitter of 51 mm: from 0 to 50"),
        (&[&RECT[..], &overlap, &["--jitter-mm", "nan"]].concat(), "--jitter-mm"),
        (&[&RECT[..], &overlap, &["--miss", "1.5"]].concat(), "--miss: miss of 1.5"),
        (&[&RECT[..], &overlap, &["--double", "-1"]].concat(), "--double"),
        (&[&RECT[..], &overlap, &["--miss", "0.6", "--double", "0.6"]].concat(), "--miss, --double"),
        (&[&RECT[..], &overlap, &["--seed", "3"]].concat(), "--jitter-mm"),
        (&[&RECT[..], &overlap, &["--miss", "0", "--runs", "0"]].concat(), "--runs"),
        (&[&RECT[..], &overlap, &["--miss", "0", "--seed", "x"]].concat(), "--seed"),
        (&[&RECT[..], &["--pulses", "3", "--miss", "0.1"]].concat(), "cannot be used with"),
        (&[&RECT[..], &overlap, &["--above", "nan"]].concat(), "--above"),
        (&[&RECT[..], &overlap, &["--profile", "round"]].concat(), "one of: flat, gaussian"),
        (&[&RECT[..], &overlap, &["--rate-hz", "0"]].concat(), "--rate-hz"),
        (&[&RECT[..], &overlap, &["--energy-j", "1"]].concat(), "--fluence-j-cm2"),
        (&[&RECT[..], &overlap, &["--fluence-j-cm2", "1"]].concat(), "--energy-j"),
        (&[&RECT[..], &overlap, &["--energy-j", "0", "--fluence-j-cm2", "1"]].concat(), "--energy-j: energy 0 J"),
    ] {
        let told = coverage(args);
        assert_eq!((told.code, told.out.as_str()), (2, ""), "{args:?}: {}", told.err);
        assert!(told.err.contains(wanted), "{args:?}: {}", told.err);
        assert!(!told.err.contains("panicked") && !told.err.contains('\u{1b}'), "{}", told.err);
    }
}

#[test]
fn wrong_files_are_refused_with_line_and_what_stood_there() {
    for (text, wanted) in [
        (&b"0,0\n1;2\n"[..], "places.csv:2:1: '1;2' is no place; write x_mm,y_mm"),
        (b"0,0\n\nnan,1\n", "places.csv:3:1: 'nan,1' lies outside"),
        (b"0,0\n1,1e300\n", "places.csv:2:1: '1,1e300' lies outside"),
        (b"x_in,y_in\n1,1\n", "places.csv:1:1: 'x_in,y_in' is no place"),
        (b"0,0\n\x1b[31m,1\n", "places.csv:2:1: '\u{241b}[31m,1'"),
        (b"0,0\n1,2\xff\n", "places.csv:2:4: bytes that are not UTF-8"),
        (b"0,0\n1,\x00\n", "places.csv:2:3: a zero byte"),
        (b"\xff\xfe0\x00", "UTF-16"),
        (b"", "no place stands in it"),
        (b"x_mm,y_mm\n# none\n", "no place stands in it"),
    ] {
        let (_dir, name) = file(text);
        for flags in [&["--shape", "rect 9x9", "--at", &name][..], &["--polygon", &name, "--overlap", "0.1"]] {
            let told = coverage(&[flags, &["--spot-mm", "3"]].concat());
            assert_eq!((told.code, told.out.as_str()), (2, ""), "{text:?}: {}", told.err);
            assert!(told.err.contains(wanted), "{wanted}: {}", told.err);
            assert!(!told.err.contains('\u{1b}'), "{}", told.err);
        }
    }
    let dir = home();
    for (path, wanted) in [(dir.path().join("none.csv"), "no such file"), (dir.path().to_owned(), "directory")] {
        let told = coverage(&[&RECT[..], &["--at", path.to_str().unwrap()]].concat());
        assert!(told.code == 2 && told.err.contains(wanted), "{}", told.err);
    }
}

#[test]
fn what_is_too_much_is_refused_before_it_is_reckoned() {
    let told = polygon("0,0\n".repeat(1_000_000), &["--overlap", "0.1"]);
    assert!(told.code == 2 && told.err.contains("places.csv:100001:1: this is place 100001"), "{}", told.err);
    let (_dir, name) = file("0,0\n".repeat(1_000_001));
    let told = coverage(&[&RECT[..], &["--at", &name]].concat());
    assert!(told.code == 2 && told.err.contains("places.csv:1000001:1: this is place 1000001"), "{}", told.err);
    // More than can be compared pair by pair in a reasonable time.
    let close: String = (0..200_000).map(|i| format!("{}e-4,{}e-4\n", i % 447, i / 447)).collect();
    let (_dir, name) = file(close);
    let told = coverage(&[&RECT[..], &["--at", &name]].concat());
    assert!(told.code == 2 && told.err.contains("--at: the 200000 pulses of 3 mm lie so close"), "{}", told.err);
    // A file with a hole of 65 MiB: its length counts, nothing is read.
    let (_dir, name) = file("");
    fs::File::options().write(true).open(&name).unwrap().set_len(65 << 20).unwrap();
    let told = coverage(&[&RECT[..], &["--at", &name]].concat());
    assert!(told.code == 2 && told.err.contains("more than 64 MiB is refused unread"), "{}", told.err);
}

#[test]
fn a_million_pulses_on_one_place_are_counted() {
    let json = landed("1,1\n".repeat(1_000_000));
    near(&json, "thrice_or_more_mm2", PI * 2.25);
    assert_eq!(json["pulses"], 1_000_000);
}

#[test]
fn the_text_fits_80_columns_and_states_its_definition() {
    let (_dir, name) = file("0,0\n1.5,0\n");
    let long = ["--rate-hz", "0.1", "--energy-j", "0.3", "--fluence-j-cm2", "2.5"];
    for (args, words) in [
        (&["--overlap", "0.1"][..], &["1 - pitch / spot diameter", "10 %", "none from 13.4 % on", "Spill"][..]),
        (&["--overlap", "50 %", "--lattice", "square"], &["square", "no gaps of its own"]),
        (&["--at", &name], &["Bare", "would not touch", "Thrice or more"]),
        (&["--overlap", "0.1", "--jitter-mm", "0.5", "--runs", "3"], &["Unsteady hand", "3 passes", "+/-", "Dose"]),
        (&["--pulses", "200"], &["if fired evenly", "pulses on a place", "At random"]),
    ] {
        let told = coverage(&[&RECT[..], args, &long].concat());
        assert_eq!(told.code, 0, "{}", told.err);
        assert!(told.out.lines().all(|l| l.chars().count() <= 80), "{}", told.out);
        for word in
            [words, &["Zone", "at 0.1 Hz", "3.909 mm", "it sets nothing", "clinic's protocol come first"]].concat()
        {
            assert!(told.out.contains(word), "{word} in {}", told.out);
        }
        assert!(!told.out.contains("NaN") && !told.out.contains("inf"), "{}", told.out);
    }
}

#[test]
fn the_help_says_where_shapes_lie_and_how_files_and_overlap_are_read() {
    let help = coverage(&["--help"]).out.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in
        ["around the origin", "0,0", "x_mm,y_mm", "further one a hole", "1 - pitch / spot diameter", "it sets nothing"]
    {
        assert!(help.contains(words), "{words} in {help}");
    }
}
