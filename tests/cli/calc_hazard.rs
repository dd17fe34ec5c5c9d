//! `calc hazard`: what scripts and people get.

use super::{Run, home, run};
use serde_json::Value;

const LASER: [&str; 8] = ["--wavelength-nm", "755", "--pulse", "750ps", "--energy-j", "0.2", "--beam-mm", "3"];

fn hazard(more: &[&str]) -> Run {
    let mut args = vec!["calc", "hazard"];
    args.extend(LASER);
    args.extend(["--divergence-mrad", "5"]);
    args.extend(more);
    run(home().path(), &args)
}

fn near(value: &Value, wanted: f64) -> bool {
    (value.as_f64().unwrap() / wanted - 1.0).abs() < 1e-3
}

/// Section 9 of the trade's facts: 755 nm, 750 ps, 0.2 J, 3 mm, 5 mrad by the limits of 2014.
#[test]
fn a_single_pulse_gives_every_key_that_scripts_rely_on() {
    let told = hazard(&["--edition", "2014", "--json"]);
    assert_eq!(told.code, 0, "{}", told.err);
    let json = told.json();
    assert!(near(&json["mpe_eye_j_cm2"], 2.5765e-7) && near(&json["mpe_eye_train_j_cm2"], 2.5765e-7));
    assert!(near(&json["mpe_skin_j_cm2"], 1.9324e-2) && near(&json["mpe_skin_train_j_cm2"], 1.9324e-2));
    assert!(near(&json["od_7mm"], 6.3047) && near(&json["od_beam"], 7.0407));
    assert!(near(&json["nohd_m"], 1987.71) && near(&json["diffuse_m"], 4.9708));
    assert_eq!((&json["edition"], &json["lb_needed"]), (&"2014".into(), &"M LB9".into()));
    assert_eq!(
        (&json["lb_pulse"], &json["lb_pulse_mode"], &json["lb_average"]),
        (&9.into(), &"M".into(), &Value::Null)
    );
    assert_eq!((&json["eyewear"], &json["od_average_power"]), (&Value::Null, &Value::Null));
    // A rate of 0 is a single pulse too.
    assert_eq!(hazard(&["--edition", "2014", "--rate-hz", "0", "--json"]).json(), json);
}

#[test]
fn a_train_is_judged_by_the_stricter_edition_unless_one_is_named() {
    let train = ["--rate-hz", "10", "--exposure", "10s", "--json"];
    let json = hazard(&train).json();
    assert!(near(&json["mpe_eye_train_j_cm2"], 1.5764e-7), "{json}");
    assert_eq!((&json["edition"], &json["edition_asked"]), (&"2007".into(), &"stricter".into()));
    assert_eq!((&json["edition_single_pulse"], &json["eye_rule"]), (&"2014".into(), &"multiple-pulses".into()));
    assert_eq!((&json["lb_needed"], &json["pulses"]), (&"D LB5 + M LB9".into(), &100.0.into()));
    assert_eq!(json["by_edition"].as_array().unwrap().len(), 2);
    let new = hazard(&[train.as_slice(), &["--edition", "2014"]].concat()).json();
    assert!(near(&new["mpe_eye_train_j_cm2"], 2.5765e-7), "{new}");
    assert_eq!(new["edition"], "2014");
    let old = hazard(&[train.as_slice(), &["--edition", "2007"]].concat()).json();
    assert!(near(&old["mpe_eye_j_cm2"], 4.9849e-7) && near(&old["mpe_eye_train_j_cm2"], 1.5764e-7));
}

#[test]
fn eyewear_that_protects_ends_with_0_and_eyewear_that_does_not_with_1() {
    let train = ["--rate-hz", "10", "--json", "--eyewear"];
    let good = hazard(&[train.as_slice(), &["740-1070 D LB5 + M LB9 X S CE"]].concat());
    assert_eq!((good.code, &good.json()["eyewear"]["protects"]), (0, &true.into()));
    assert_eq!(good.json()["eyewear"]["ignored"], serde_json::json!(["X", "S", "CE"]));
    let weak = hazard(&[train.as_slice(), &["OD 5+ @ 740-1070 nm, VLT 30 %"]].concat());
    assert_eq!((weak.code, &weak.json()["eyewear"]["protects"]), (1, &false.into()));
    assert_eq!(weak.json()["eyewear"]["reasons"], serde_json::json!(["Marked OD 5 at 755 nm, 7.3 needed."]));
    let told = hazard(&["--rate-hz", "10", "--eyewear", "OD 5+ @ 740-1070 nm"]);
    assert_eq!(told.code, 1);
    assert!(told.out.contains("DOES NOT PROTECT") && told.out.contains("Marked OD 5 at 755 nm, 7.3 needed."));
}

#[test]
fn what_cannot_be_judged_is_bad_input_and_says_why() {
    for (more, why) in [
        (["--eyewear", "green ones"].as_slice(), "no wavelength with an OD or LB number"),
        (&["--edition", "2020"], "one of: 2007, 2014, stricter"),
        (&["--rate-hz", "1e12"], "rate"),
        (&["--exposure", "10"], "has no unit"),
        (&["--exposure", "100 ps", "--rate-hz", "10"], "shorter than one pulse"),
        (&["--reflectance", "1.5"], "reflectance 1.5 is outside 0 to 1"),
        (&["--reflectance", "NaN"], "reflectance NaN"),
        (&["--power-w", "1"], "cannot be used with"),
        (&["--eyewear", "532 OD 7\u{1b}[2J"], "has no place in a marking"),
    ] {
        let told = hazard(more);
        assert_eq!((told.code, told.out.as_str()), (2, ""), "{more:?}");
        assert!(told.err.contains(why) && !told.err.contains('\u{1b}'), "{more:?}: {}", told.err);
    }
    for (flag, value) in [("--energy-j", "-1"), ("--beam-mm", "NaN"), ("--wavelength-nm", "10600"), ("--energy-j", "0")]
    {
        let mut args = vec!["calc", "hazard", "--divergence-mrad", "5"];
        args.extend(LASER.chunks(2).filter(|pair| pair[0] != flag).flatten());
        let value = format!("{flag}={value}");
        args.push(&value);
        let told = run(home().path(), &args);
        assert_eq!((told.code, told.out.as_str()), (2, ""), "{value}");
        assert!(told.err.contains("outside"), "{value}: {}", told.err);
    }
}

#[test]
fn a_beam_that_does_not_spread_has_no_end_and_json_says_null() {
    let mut args = vec!["calc", "hazard", "--divergence-mrad", "0", "--json"];
    args.extend(LASER);
    let json = run(home().path(), &args).json();
    assert_eq!(json["nohd_m"], Value::Null);
    assert!(json["nohd_text"].as_str().unwrap().contains("does not spread"));
}

/// IEC 60825-1: a continuous 1 W beam at 532 nm for 0.25 s through 7 mm needs OD 3.0089.
#[test]
fn a_continuous_beam_is_given_by_its_power() {
    let args = ["calc", "hazard", "--wavelength-nm", "532", "--power-w", "1", "--exposure", "250 ms", "--beam-mm", "2"];
    let told = run(home().path(), &[args.as_slice(), &["--divergence-mrad", "1", "--json"]].concat());
    assert!(near(&told.json()["od_7mm"], 3.0089), "{}", told.out);
    assert_eq!(told.json()["energy_j"], 0.25);
}

#[test]
fn data_sheet_values_of_a_gaussian_beam_are_converted() {
    let flat = hazard(&["--json"]).json();
    let gaussian = hazard(&["--json", "--beam-profile", "gaussian"]).json();
    assert!(near(&gaussian["beam_1e_mm"], 3.0 / 2f64.sqrt()));
    let more = gaussian["od_beam"].as_f64().unwrap() - flat["od_beam"].as_f64().unwrap();
    assert!((more - 2f64.log10()).abs() < 1e-9, "the peak is twice the average");
}

#[test]
fn the_text_for_people_fits_80_columns_and_ends_with_who_decides() {
    let told = hazard(&["--rate-hz", "10", "--eyewear", "740-1070 D LB4 + IR LB7 + M LB8Y, 515-535 D LB6 + IRM LB7"]);
    assert!(told.out.lines().all(|l| l.chars().count() <= 80), "{}", told.out);
    let end = told.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(end.ends_with("(2006/25/EC), whichever edition is stricter."), "{end}");
    assert!(end.contains("the laser protection adviser and the local rules decide"));
    for words in ["755 nm, 750 ps", "100 pulses", "D LB5 + M LB9", "optical density", "2541 m"] {
        assert!(told.out.contains(words), "{words}: {}", told.out);
    }
}
