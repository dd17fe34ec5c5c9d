//! Mistakes in device profiles and clinic protocols.

use fadewright::device::{self, DeviceProfile};
use fadewright::protocol::{self, Protocol};
use fadewright::source::{Loaded, Problems, SourceText};
use serde::Serialize;

/// Spoils a good text by replacing the first `from`, and compares what is said with `expected`.
fn spoilt<T: std::fmt::Debug>(
    good: &str,
    load: fn(&SourceText) -> Result<Loaded<T>, Problems>,
    (from, to, expected): (&str, &str, &str),
) {
    let at = good.find(from).unwrap_or_else(|| panic!("{from} is not in the file"));
    let problems = load(&SourceText::new("a.toml", good.replacen(from, to, 1))).expect_err(to);
    let said: Vec<String> = problems.list().iter().map(|p| format!("{}: {}", p.field, p.message)).collect();
    assert_eq!(said, [expected], "{to}");
    // Told on the spoilt lines, or at the table around them.
    let last = good[..at + from.len()].matches('\n').count() + 1 + to.matches('\n').count();
    assert!((1..=last).contains(&problems.list()[0].line), "{problems}");
}

#[test]
fn a_contradictory_device_profile_is_refused() {
    let ends = |from, to, expected| spoilt(device::EMBEDDED_TEXT, device::load, (from, to, expected));
    ends("digits = 7", "digits = 13", "counter.digits: 13 is outside 2 to 12");
    ends("name = \"Room 2, two platforms\"", "", "name: missing; write name = \"...\"");
    ends(
        "shows_energy",
        "show_energy",
        "show_energy: unknown key 'show_energy'; did you mean 'shows_energy'? \
         Allowed: kind, schema, name, source, shows_energy, counter, line",
    );
    ends(
        "\"532 nm\"",
        "\"1064.5 nm\"",
        "line[2].wavelength: another line has 1064.5 nm already; give it all pulse durations of that wavelength",
    );
    ends("[\"6 ns\"]", "[]", "line[1].pulse_durations: 0 entries stand here; 1 to 16 are allowed");
    ends("[\"6 ns\"]", "[\"6 ns\", \"6 ns\"]", "line[1].pulse_durations: 6 ns stands there twice");
    ends(
        "\"2 Hz\", \"3 Hz\"",
        "\"3 Hz\", \"2.5 Hz\"",
        "line[1].rates: 2.5 Hz stands after 3 Hz; list them lowest first, each once",
    );
    ends(
        "\"2 Hz\", \"3 Hz\"",
        "\"2 Hz\", \"2 Hz\", \"3 Hz\"",
        "line[1].rates: 2 Hz stands after 2 Hz; list them lowest first, each once",
    );
    ends(
        "spot = \"4 mm\"",
        "spot = \"3 mm\"",
        "line[1].spots: spot 3 (3 mm) is not larger than the one before it; list spots smallest first, each once",
    );
    ends("min = \"2.0 J/cm2\"", "min = \"13 J/cm2\"", "line[1].spots[1].min: min 13 J/cm2 is above max 12 J/cm2");
    ends(
        "step = \"0.2 J/cm2\"",
        "step = \"0 J/cm2\"",
        "line[1].spots[1].step: fluence 0 J/cm2 is outside 0.001 to 100 J/cm2",
    );
    ends(
        "step = \"0.2 J/cm2\"",
        "step = \"11 J/cm2\"",
        "line[1].spots[1].step: a step of 11 J/cm2 leads from min 2 J/cm2 beyond max 12 J/cm2",
    );
    ends(
        "energy_max = \"1 J\"",
        "energy_max = \"0.3 J\"",
        "line[1].energy_max: 0.3 J is less than the lowest fluence of the 8 mm spot needs; correct one of the two",
    );
    ends(
        "\"flat\"",
        "\"top-hat\"",
        "line[1].beam_profile: 'top-hat' is not a known beam profile; allowed: flat, gaussian",
    );
}

#[test]
fn a_spot_with_one_fluence_and_a_device_without_a_line() {
    let one = device::EMBEDDED_TEXT.replacen("min = \"2.0 J/cm2\"", "min = \"12 J/cm2\"", 1);
    assert!(device::load(&SourceText::new("a.toml", one)).is_ok());
    let none = device::EMBEDDED_TEXT.split("[[line]]").next().unwrap();
    let told = device::load(&SourceText::new("a.toml", none)).unwrap_err().to_string();
    assert!(told.ends_with("line: missing; begin each entry with [[line]]"), "{told}");
}

#[test]
fn a_contradictory_protocol_is_refused() {
    let ends = |from, to, expected| spoilt(protocol::EMBEDDED_TEXT, protocol::load, (from, to, expected));
    ends("value = \"10 %\"", "value = \"0 %\"", "thresholds.lower_step.value: 0 % is outside 1 to 50 %");
    ends(
        "value = \"10 %\"",
        "value = 10",
        "thresholds.lower_step.value: 10 has no unit; write it in quotes with its unit, like value = \"5 %\"",
    );
    ends(
        "value = 20, confidence = \"clinic\", ",
        "value = 20, ",
        "thresholds.whitening_expected_pulses.confidence: missing; \
         write confidence = \"primary\", \"secondary\", \"common-practice\" or \"clinic\"",
    );
    ends(
        "value = \"6 weeks\"",
        "value = \"3 weeks\"",
        "thresholds.interval_light: 3 weeks is shorter than interval_min, 4 weeks; \
         the advised interval cannot be below the shortest",
    );
    ends(
        "fluence_max = \"10 J/cm2\"",
        "fluence_max = \"200 J/cm2\"",
        "ceiling[1].fluence_max: fluence 200 J/cm2 is outside 0.001 to 100 J/cm2",
    );
    ends(
        "skin = [\"IV\"]",
        "skin = [\"III\", \"IV\"]",
        "ceiling[4].skin: the case 1064 nm nanosecond, all spots, skin type III is used twice; each may stand there once",
    );
    ends("skin = [\"IV\"]", "skin = []", "ceiling[4].skin: 0 entries stand here; 1 to 6 are allowed");
    let marking = "marking = \"OD 8+ @ 720-800 nm, OD 8+ @ 1000-1100 nm, VLT 45 %\"";
    for (written, told) in [
        (
            "ranges = [{ from = \"536 nm\", to = \"535 nm\", optical_density = 8 }]",
            "eyewear[2].ranges[1].from: from 536 nm is above to 535 nm",
        ),
        (
            "ranges = [{ from = \"530 nm\", to = \"535 nm\", optical_density = 13 }]",
            "eyewear[2].ranges[1].optical_density: 13 is outside 0 to 12",
        ),
        ("", "eyewear[2].marking: missing; write marking = \"OD 7+ @ 190-534 nm, OD 6+ @ 740-1070 nm, VLT 30 %\""),
        (
            "marking = \"goggles 720-800\"",
            "eyewear[2].marking: 720-800 nm stands without an OD or LB number; \
             write it as printed, like 'OD 7+ @ 190-534 nm' or '740-1070 D LB6 + IRM LB8'",
        ),
        (
            "marking = \"532 OD 7\"\nranges = [{ from = \"530 nm\", to = \"535 nm\", optical_density = 7 }]",
            "eyewear[2].marking: a pair has its marking or its ranges, not both; take one of the two out",
        ),
    ] {
        ends(marking, written, told);
    }
    ends(
        "Pair B, near infrared",
        "Pair A, visible and near infrared",
        "eyewear[2].name: the name 'Pair A, visible and near infrared' is used twice; each may stand there once",
    );
}

#[test]
fn a_contradictory_checklist_is_refused() {
    let ends = |from, to, expected| spoilt(protocol::EMBEDDED_TEXT, protocol::load, (from, to, expected));
    ends(
        "id = \"identity\"",
        "id = \"operator\"",
        "check[2].id: the item id 'operator' is used twice; each may stand there once",
    );
    ends(
        "id = \"identity\"",
        "id = \"Identity\"",
        "check[2].id: 'Identity' is not an id: 1 to 32 small letters, digits and hyphens, starting with a letter",
    );
    ends(
        "computation = \"gold\"\n",
        "",
        "check[12].computation: missing; a computed item names what is computed, such as computation = \"gold\"",
    );
    ends(
        "kind = \"value\"",
        "kind = \"value\"\ncomputation = \"age\"",
        "check[1].computation: only an item of kind \"computed\" has a computation; correct the kind or take it out",
    );
    ends(
        "blocking = true\nhard_stop",
        "blocking = false\nhard_stop",
        "check[4].hard_stop: a hard stop also blocks; write blocking = true",
    );
    ends(
        "hard_stop = true",
        "hard_stop = true\nnot_applicable = true",
        "check[4].not_applicable: a hard stop cannot be answered 'not applicable'; take one of the two out",
    );
    ends(
        "kind = \"value\"",
        "kind = \"value\"\nhard_stop = true",
        "check[1].hard_stop: an item that takes a value has no bad answer, so it cannot be a hard stop",
    );
    ends(
        "computation = \"interval\"",
        "computation = \"interval\"\nnot_applicable = true",
        "check[15].not_applicable: a computed item is answered by the program; take this line out",
    );
    ends(
        "computation = \"interval\"",
        "computation = \"moon\"",
        "check[15].computation: 'moon' is not a known computation; \
         allowed: gold, interval, eyewear, test-spot, tan, age, conditions, medicines, settings, ink-match",
    );
}

#[test]
fn a_threshold_that_is_left_out_is_named_and_never_filled_in() {
    let good = protocol::EMBEDDED_TEXT;
    let section = good.split("[thresholds]").nth(1).unwrap().split("# ---").next().unwrap();
    let lines: Vec<&str> = section.lines().filter(|l| l.contains(" = {")).collect();
    assert_eq!(lines.len(), 27);
    for line in lines {
        let key = line.split(" = ").next().unwrap();
        let told = protocol::load(&SourceText::new("a.toml", good.replace(line, ""))).unwrap_err().to_string();
        assert!(told.contains(&format!(": thresholds.{key}: missing; write {key} = {{ value = ")), "{told}");
        assert_eq!(told.lines().count(), 1, "{told}");
    }
}

#[test]
fn a_phase_without_an_item_is_missed() {
    let text = protocol::EMBEDDED_TEXT.replace("phase = \"sign-out\"", "phase = \"time-out\"");
    let told = protocol::load(&SourceText::new("a.toml", text)).unwrap_err().to_string();
    assert!(told.ends_with("check: no item of the phase 'sign-out'; each phase asks at least one"), "{told}");
}

/// A session embeds what it was opened with: what was loaded must come back from JSON as it was.
#[test]
fn what_was_loaded_survives_the_journal() {
    fn same<T: Serialize + for<'a> serde::Deserialize<'a> + PartialEq + std::fmt::Debug>(value: &T) {
        let json = serde_json::to_string(value).unwrap();
        assert_eq!(&serde_json::from_str::<T>(&json).unwrap(), value);
    }
    same(&DeviceProfile::embedded().unwrap());
    same(&Protocol::embedded().unwrap());
    same(&super::load(&super::good()).unwrap());
}
