//! Markings that are read, refused and judged. Styles: DGUV Information 203-042 (2018), annex 8, and the optical
//! density style of ANSI Z136.7.

use super::*;
use crate::physics::hazard::{Beam, EditionChoice, ScaleRule, Train, assess};
use crate::physics::hazard::{Source, marking::LineNeed};
use crate::units::{ExposureTime, Wavelength};
use proptest::prelude::*;

fn read(text: &str) -> Marking {
    text.parse().unwrap_or_else(|e| panic!("{text}: {e}"))
}
fn refused(text: &str) -> String {
    text.parse::<Marking>().map(|m| m.to_string()).unwrap_err().to_string()
}

#[test]
fn densities_are_read_in_either_order_and_spelling() {
    let two = "190-534 OD 7, 800-1100 OD 5, VLT 30 %";
    for text in [
        "OD 7+ @ 190-534 nm, OD 5+ @ 800-1100 nm, VLT 30 %",
        "OD 7+ @ 190–534 nm; OD 5+ @ 800–1100 nm; VLT 30%",
        "190-534 OD 7+; 800 - 1100 nm: OD5+ / 30 % VLT",
        "od7 190..534 nm | od >= 5 (800 to 1100)\nVLT: 30",
        "190nm-534nm OD 7 800nm–1100nm OD 5 VLT30%",
        "OD 7+ 190-534 OD 5+ 800-1100 VLT 30",
    ] {
        assert_eq!(read(text).to_string(), two, "{text}");
    }
    assert_eq!(read("1064 nm OD 6.5+, OD 4 @ 532").to_string(), "1064 OD 6.5, 532 OD 4");
    assert_eq!(read("EN ISO 19818-1:2021 755 OD 7 RC 3 CE 0196").to_string(), "755 OD 7, RC 3");
}

#[test]
fn scale_numbers_are_read_with_modes_in_front_or_behind() {
    for (text, same) in [
        ("900 - 1070 D LB7 + IR LB8 + M LB8Y", "900-1070 D LB7 + I LB8 + R LB8 + M LB8Y"),
        ("755 DIRM LB6", "755 D LB6 + I LB6 + R LB6 + M LB6"),
        ("740-1070 D LB6 + IRM LB7 X S CE", "740-1070 D LB6 + I LB7 + R LB7 + M LB7"),
        ("D LB6 + IRM LB7 @ 740-1070", "740-1070 D LB6 + I LB7 + R LB7 + M LB7"),
        ("1064 R L8", "1064 R LB8"),
        ("IR 315–532 LB6", "315-532 I LB6 + R LB6"),
        ("IR 315-532 LB6 DM 800-1100 LB 5 y", "315-532 I LB6 + R LB6, 800-1100 D LB5Y + M LB5Y"),
        ("1064 OD 9 D LB5+R LB8", "1064 OD 9 D LB5 + R LB8"),
        ("650 RB2", "650 RB2"),
        (
            "610 - 640 D LB4 + IR LB5 / 900 - 1070 D LB7 + IR LB8 + M LB8Y / 9000 - 11000 D LB3 + IR LB4 / X S CE",
            "610-640 D LB4 + I LB5 + R LB5, 900-1070 D LB7 + I LB8 + R LB8 + M LB8Y, 9000-11000 D LB3 + I LB4 + R LB4",
        ),
    ] {
        assert_eq!(read(text).to_string(), same, "{text}");
        assert_eq!(read(same), Marking { ignored: Vec::new(), ..read(text) }, "what is shown reads back");
    }
}

#[test]
fn marks_that_say_nothing_about_protection_are_kept_apart() {
    assert_eq!(read("1064 D LB5 + R LB8 HL S CE 0196").ignored, ["HL", "S", "CE 196"]);
    assert_eq!(read("532 OD 7, EN 207:2017, ANSI Z136.7").ignored, ["EN 207 2017", "ANSI", "Z 136.7"]);
}

#[test]
fn what_is_no_marking_is_refused_with_what_is_wrong() {
    for (text, what) in [
        ("", "no wavelength"),
        ("hello", "no wavelength"),
        ("OD 7+", "OD 7 stands without its wavelengths"),
        ("190-534", "190-534 nm stands without an OD or LB number"),
        ("190-534, OD 7", "190-534 nm stands without"),
        ("OD 7 @ 190-534, 800-1100", "800-1100 nm stands without"),
        ("532 1064 OD 7", "two ranges follow each other"),
        ("534-190 OD 7", "runs backwards"),
        ("190- OD 7", "has no end"),
        ("OD @ 532", "532"),
        ("532 OD 25", "OD 25 is not above 0"),
        ("532 OD 0", "OD 0 is not above 0"),
        ("5 OD 7", "5 is no wavelength"),
        ("532 OD 6,5", "5 is no wavelength"),
        ("532 OD < 7", "'<'"),
        ("532 not OD 7", "'NOT' parts a range"),
        ("532 OD 7 OD 6", "two OD numbers"),
        ("1064 LB7", "no mode letter"),
        ("1064 D", "mode letters D have no LB number"),
        ("1064 D LB11", "LB needs a whole number from 1 to 10"),
        ("1064 D LB6.5", "LB needs a whole number"),
        ("1064 D LB0", "LB needs a whole number"),
        ("1064 D LB", "LB needs a whole number"),
        ("1064 D LB6 + D LB7", "two numbers for mode D"),
        ("1064 D LB6 +", "nothing follows a '+'"),
        ("1064 D LB6 + 1100 R LB7", "joins modes"),
        ("1064 R LB8YX", "'YX' is glued"),
        ("1064 DD LB6", "'DD' parts a range"),
        ("532 OD 7, VLT 130 %", "above 100"),
        ("532 OD 7, 30 %", "without VLT"),
        ("+ 532 OD 7", "joins nothing"),
        ("1.064 um OD 7", "is no wavelength"),
        ("NaN OD 7", "stands without its wavelengths"),
        ("🕶 532 OD 7", "has no place"),
    ] {
        let message = refused(text);
        assert!(message.contains(what), "{text}: {message}");
        assert!(message.contains("write it as printed"), "{message}");
    }
    assert!(refused(&"9".repeat(500)).contains("is no number"));
}

/// 755 nm, 750 ps, 0.2 J on 3 mm at 10 Hz: OD 7.3 by the stricter edition, D LB5 + M LB9.
fn picosecond() -> LineNeed {
    need(755.0, "750 ps", 0.2, 3.0, 10.0)
}

fn need(nm: f64, pulse: &str, energy: f64, mm: f64, hz: f64) -> LineNeed {
    let train = Train::repeated(pulse.parse().unwrap(), hz, ExposureTime::new(10.0).unwrap()).unwrap();
    let beam = Beam::new(mm, 5.0).unwrap();
    let source = Source::new(Wavelength::new(nm).unwrap(), energy, train, beam).unwrap();
    LineNeed::of(&source, &assess(&source, EditionChoice::Stricter, 1.0, ScaleRule::default()))
}

#[track_caller]
fn fails(text: &str, need: &LineNeed, reasons: &[&str]) {
    let judged = read(text).judge(need);
    assert!(!judged.protects, "{text}: {judged:?}");
    assert_eq!(judged.reasons, reasons, "{text}");
}

#[test]
fn densities_are_judged_by_closed_ranges() {
    let need = picosecond();
    assert_eq!(need.od_shown(), "7.3");
    let judged = read("OD 7.3 @ 750-755, VLT 25 %").judge(&need);
    assert!(judged.protects && judged.warnings.is_empty(), "{judged:?}");
    assert_eq!(judged.reasons, ["Marked OD 7.3 at 755 nm, 7.3 needed."]);
    fails("740-800 OD 7.29", &need, &["Marked OD 7.2 at 755 nm, 7.3 needed."]);
    fails("740-754 OD 9, 756-800 OD 9", &need, &["755 nm lies in none of the marked ranges (740-754, 756-800 nm)."]);
    assert!(read("755 OD 8").judge(&need).protects);
    // Each range is a promise: the higher counts.
    assert!(read("OD 5 @ 700-800, OD 8 @ 750-760").judge(&need).protects);
}

#[test]
fn scale_numbers_are_judged_for_both_modes_and_for_their_density() {
    let need = picosecond();
    assert_eq!(need.scale.to_string(), "D LB5 + M LB9");
    let judged = read("740-1070 D LB5 + M LB9").judge(&need);
    assert!(judged.protects);
    assert_eq!(
        judged.reasons,
        [
            "Marked M LB9 (OD 9) at 755 nm, 7.3 needed.",
            "D is marked LB5 at 755 nm, LB5 needed.",
            "M is marked LB9 at 755 nm, LB9 needed."
        ]
    );
    fails("740-1070 D LB4 + M LB9", &need, &["D is marked LB4 at 755 nm, LB5 needed."]);
    fails("740-1070 D LB6 + M LB8", &need, &["M is marked LB8 at 755 nm, LB9 needed."]);
    fails("740-1070 M LB9", &need, &["No mode D is marked at 755 nm; the average power asks for D LB5."]);
    fails("740-1070 DIR LB9", &need, &["No mode M is marked at 755 nm; pulses of 750 ps ask for M LB9."]);
    // A density does not stand in for the load that a scale number says the filter withstands.
    fails("740-1070 OD 9 D LB6 + M LB8", &need, &["M is marked LB8 at 755 nm, LB9 needed."]);
    fails("650-800 RB2", &need, &["RB marks at 755 nm are for alignment and never count as protection."]);
}

#[test]
fn a_y_counts_for_nothing_at_low_rates() {
    let y = "740-1070 D LB6 + M LB9Y";
    fails(y, &picosecond(), &["M LB9Y at 755 nm was not tested at 25 Hz and below; this beam has 10 Hz."]);
    let at = |hz: f64| read(y).judge(&need(755.0, "750 ps", 0.01, 3.0, hz)).protects;
    assert_eq!([at(0.0), at(25.0), at(25.1), at(40.0)], [false, false, true, true]);
    assert!(read("740-1070 D LB6 + M LB9, 755 M LB10Y").judge(&picosecond()).protects, "another range without it");
}

#[test]
fn a_need_beyond_the_scale_is_met_by_no_number() {
    let strong = need(1064.0, "10 ps", 100.0, 2.0, 10.0);
    let judged = read("1064 DIRM LB10").judge(&strong);
    assert!(!judged.protects && judged.reasons.iter().any(|r| r.contains("the scale ends at LB10")), "{judged:?}");
}

#[test]
fn a_dark_or_unknown_transmittance_is_a_warning() {
    let warned = |text: &str| read(text).judge(&picosecond()).warnings.join(" ");
    assert!(warned("755 OD 8").contains("not marked"));
    assert!(warned("755 OD 8, VLT 19 %").contains("19 % of the visible light"));
    assert_eq!(warned("755 OD 8, VLT 20 %"), "");
    assert!(warned("755 OD 8 RC 4, VLT 20 %").contains("category 4 was not judged"));
}

#[test]
fn a_very_long_text_is_read_in_one_pass() {
    let many = "190-534 OD 7, ".repeat(20_000);
    assert_eq!(read(&many).bands.len(), 20_000);
    let joined = format!("1064 {}", "D LB5 + ".repeat(20_000));
    assert!(refused(&joined).contains("nothing follows"));
    assert!(refused(&"OD 7 ".repeat(20_000)).contains("without its wavelengths"));
    assert!(refused(&"x".repeat(200_000)).contains("no wavelength"));
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
    #[test]
    fn any_text_is_read_or_refused(text in "\\PC{0,60}") {
        let _ = text.parse::<Marking>();
    }

    /// Words of markings in any order.
    #[test]
    fn any_words_are_read_or_refused_and_what_is_read_reads_back(
        words in prop::collection::vec(prop::sample::select(vec![
            "OD", "7", "7+", "190-534", "755", "nm", "-", "+", "D", "IRM", "LB8", "LB9Y", "LB", "@", ",", "/", "VLT",
            "30", "%", "RB2", "RC", "CE", "EN", "207:2017", "S", "..", "0", "1e9", "L6", "Y",
        ]), 0..12)
    ) {
        if let Ok(marking) = words.join(" ").parse::<Marking>() {
            let again: Marking = marking.to_string().parse().unwrap();
            prop_assert_eq!(&again.bands, &marking.bands);
            prop_assert_eq!(again.vlt_percent, marking.vlt_percent);
            prop_assert!(marking.bands.iter().all(|b| b.from_nm <= b.to_nm));
        }
    }

    /// Nothing outside the marked ranges is ever protected.
    #[test]
    fn only_a_marked_wavelength_is_protected(from in 400.0f64..1300.0, width in 0.0f64..100.0, nm in 400.0f64..1400.0) {
        let text = format!("{:.1}-{:.1} OD 12 DIRM LB10", from, from + width);
        let marking = read(&text);
        let band = &marking.bands[0];
        let judged = marking.judge(&need(nm, "10 ns", 0.1, 6.0, 10.0));
        prop_assert_eq!(judged.protects, band.from_nm <= nm && nm <= band.to_nm);
    }
}
