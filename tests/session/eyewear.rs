//! The eyewear that is worn, against what the device can emit.
//!
//! The fixture's device: 1064 nm, 6 ns and 755 nm, 750 ps, both with up to 8 J/cm2 at 3 mm and 20 Hz. By the limits of
//! 2007 (5e-2 J/m2 and 4.985e-3 J/m2, 200 pulses in 10 s) that asks for log10(8e4 / 1.3296e-2) = 6.78 and
//! log10(8e4 / 1.3256e-3) = 7.78; by EN 207 over 5 s for D LB6 (1.6e6 W/m2) with R LB8 (log10(8e4 * 100^0.25 / 5) + 3 =
//! 7.70) or M LB10 (log10(8e4 * 100^0.25 / 1.5) + 4 = 9.23).

use crate::fixture::{Bench, opened, plan, setting};
use fadewright::device::BeamProfile;
use fadewright::protocol::{CheckPhase, Computation, Eyewear};
use fadewright::session::*;
use fadewright::units::{Fluence, PulseDuration, RepetitionRate};

const ITEM: &str = "eyewear-worn";

fn worn(value: &str) -> Command {
    Command::CheckValue { item: ITEM.to_owned(), value: value.to_owned() }
}

/// Signed in, with this zone read back.
fn bench(zone: usize) -> Bench {
    let mut bench = Bench::new();
    bench.answer_all(CheckPhase::SignIn);
    bench.read_back(zone);
    bench
}

fn found(bench: &Bench) -> (Verdict, String) {
    bench.state().checks[ITEM].computed.clone().unwrap()
}

fn status(bench: &Bench) -> ItemStatus {
    bench.state().items(CheckPhase::TimeOut).find(|(i, _)| i.id == ITEM).unwrap().1
}

#[test]
fn a_marking_that_is_enough_lets_pass_and_one_that_is_not_refuses_with_the_figures() {
    let mut bench = bench(0);
    bench.run(worn("OD 6.7 @ 1064 nm"));
    assert_eq!(
        found(&bench),
        (Verdict::HardStop, "Eyewear as typed DOES NOT PROTECT. Marked OD 6.7 at 1064 nm, 6.8 needed.".to_owned())
    );
    assert_eq!(status(&bench), ItemStatus::HardStop);
    assert_eq!(bench.refused(Command::StartPass { zone: bench.zone_id(0) }).id, "gate.hard-stop");
    let over = Command::CheckOverride {
        item: ITEM.to_owned(),
        by: "SUP-1".to_owned(),
        role: "supervisor".to_owned(),
        reason: "brief".to_owned(),
    };
    assert_eq!(bench.refused(over).id, "check.hard-stop");
    // Other eyewear is put on.
    bench.run(worn("OD 6.8 @ 1064 nm, VLT 30 %"));
    let text = "Eyewear as typed protects. Marked OD 6.8 at 1064 nm, 6.8 needed.";
    assert_eq!((found(&bench), status(&bench)), ((Verdict::Pass, text.to_owned()), ItemStatus::Done));
    assert_eq!(bench.state().deviations.len(), 1, "the pair that did not protect stays in the record");
    bench.answer_all(CheckPhase::TimeOut);
    bench.run(Command::StartPass { zone: bench.zone_id(0) });
}

#[test]
fn scale_numbers_are_judged_for_the_average_and_for_the_pulse() {
    let mut bench = bench(1);
    bench.run(worn("740-1070 D LB6 + IR LB8 + M LB9"));
    let (verdict, text) = found(&bench);
    assert_eq!(verdict, Verdict::HardStop);
    assert!(text.ends_with("M is marked LB9 at 755 nm, LB10 needed."), "{text}");
    bench.run(worn("740-1070 D LB6 + M LB10"));
    assert_eq!(found(&bench).0, Verdict::Pass);
    bench.run(worn("740-1070 D LB6 + M LB10Y"));
    assert!(found(&bench).1.contains("was not tested at 25 Hz and below; this beam has 1 Hz."), "{}", found(&bench).1);
}

#[test]
fn text_that_is_no_marking_is_refused_and_changes_nothing() {
    let mut bench = bench(0);
    let before = bench.state().clone();
    for text in ["brown ones", "OD 7", "0", "2", "1064 nm", "y"] {
        let refusal = bench.refused(worn(text));
        assert_eq!(refusal.id, "eyewear.marking", "{text}");
        assert!(refusal.to_string().contains("type it as printed"), "{text}: {refusal}");
    }
    assert_eq!(bench.refused(worn("  ")).id, "check.reason");
    assert_eq!(bench.refused(Command::CheckYes { item: ITEM.to_owned() }).id, "check.kind");
    assert_eq!(bench.refused(Command::CheckNotApplicable { item: ITEM.to_owned() }).id, "check.kind");
    assert_eq!(*bench.state(), before);
}

#[test]
fn a_listed_pair_is_named_by_number_name_or_a_word_that_no_other_has() {
    let mut o = opened(plan());
    let pair = |name: &str, printed: &str| Eyewear {
        name: name.to_owned(),
        printed: Some(printed.to_owned()),
        ranges: Vec::new(),
        tint: None,
    };
    o.protocol.eyewear = vec![
        pair("Pair A, old", "OD 5 @ 1064"),
        pair("Pair B, near infrared", "OD 8 @ 700-1100"),
        pair("Visor", "532 OD 7"),
    ];
    let mut bench = Bench::opened(o);
    bench.answer_all(CheckPhase::SignIn);
    bench.read_back(0);
    for (text, who, verdict) in [
        ("1", "Pair A, old DOES NOT PROTECT. Marked OD 5 at 1064 nm, 6.8 needed.", Verdict::HardStop),
        ("2", "Pair B, near infrared protects.", Verdict::Pass),
        ("pair b", "Pair B, near infrared protects.", Verdict::Pass),
        ("B", "Pair B, near infrared protects.", Verdict::Pass),
        ("PAIR B, NEAR INFRARED", "Pair B, near infrared protects.", Verdict::Pass),
        ("a", "Pair A, old DOES NOT PROTECT.", Verdict::HardStop),
        ("visor", "Visor DOES NOT PROTECT. 1064 nm lies in none of the marked ranges (532 nm).", Verdict::HardStop),
    ] {
        bench.run(worn(text));
        let (got, said) = found(&bench);
        assert!(got == verdict && said.starts_with(who), "{text}: {got:?} {said}");
    }
    // "pair" is a word of two names, "4" is none of three.
    for text in ["pair", "4"] {
        assert_eq!(bench.refused(worn(text)).id, "eyewear.marking", "{text}");
    }
}

#[test]
fn before_the_first_read_back_every_planned_wavelength_counts() {
    let mut bench = Bench::new();
    bench.answer_all(CheckPhase::SignIn);
    bench.run(worn("OD 8 @ 1064"));
    assert!(found(&bench).1.contains("755 nm lies in none"), "{}", found(&bench).1);
    bench.run(worn("OD 8 @ 700-1100"));
    assert_eq!(found(&bench).0, Verdict::Pass);
    bench.read_back(0);
    assert_eq!(status(&bench), ItemStatus::Done);
    // Another wavelength: asked again, and the finding before it is gone.
    bench.read_back(1);
    assert_eq!(status(&bench), ItemStatus::Open);
    assert_eq!(bench.state().checks[ITEM].computed, None);
}

#[test]
fn a_no_takes_the_place_of_a_finding() {
    let mut bench = bench(0);
    bench.run(worn("pair A"));
    bench.run(Command::CheckNo { item: ITEM.to_owned(), why: "the client took them off".to_owned() });
    assert_eq!((status(&bench), bench.state().checks[ITEM].computed.clone()), (ItemStatus::Blocked, None));
    bench.run(worn("pair A"));
    assert_eq!(status(&bench), ItemStatus::Done);
}

fn eyewear_of(o: &Opened) -> (Verdict, String) {
    let found = checks::compute(Computation::Eyewear, o);
    (found.verdict, found.text)
}

#[test]
fn the_computed_item_names_need_and_pair_or_refuses_with_the_reasons() {
    let mut o = opened(plan());
    assert_eq!(
        eyewear_of(&o),
        (
            Verdict::Pass,
            "1064 nm needs OD 6.8 (EN 207: D LB6 + R LB8): wear \"pair A\"; \
             755 nm needs OD 7.8 (EN 207: D LB6 + M LB10): wear \"pair A\""
                .to_owned()
        )
    );
    o.protocol.eyewear[0].ranges[0].optical_density = 7;
    assert_eq!(
        eyewear_of(&o),
        (
            Verdict::HardStop,
            "755 nm needs OD 7.8 (EN 207: D LB6 + M LB10); no pair of the clinic protects: \
             pair A: Marked OD 7 at 755 nm, 7.8 needed.; \
             1064 nm needs OD 6.8 (EN 207: D LB6 + R LB8): wear \"pair A\""
                .to_owned()
        )
    );
}

/// The need is the device's, not the plan's: a lower setting does not lower it.
#[test]
fn the_need_is_that_of_the_strongest_output_of_the_line() {
    let need = |change: fn(&mut Opened)| {
        let mut o = opened(plan());
        o.plan.zones.truncate(1);
        change(&mut o);
        eyewear_of(&o).1.split(" (").next().unwrap().to_owned()
    };
    assert_eq!(need(|_| {}), "1064 nm needs OD 6.8");
    assert_eq!(need(|o| o.plan.zones[0].setting = setting(1064.0, 6e-9, 6.0, 0.6, 1.0)), "1064 nm needs OD 6.8");
    // 30 J/cm2 on 3 mm would take 2.1 J; the line has 0.8 J: 0.8 J over 3 mm are 1.13e5 J/m2.
    assert_eq!(need(|o| o.device.lines[0].spots[0].max = Fluence::new(30.0).unwrap()), "1064 nm needs OD 7");
    // A Gaussian beam has twice the average at its peak: 0.3 more.
    assert_eq!(need(|o| o.device.lines[0].beam_profile = BeamProfile::Gaussian), "1064 nm needs OD 7.1");
    // The highest of the listed rates: 1 Hz alone leaves 10 pulses, and the newer edition is then the stricter.
    assert_eq!(need(|o| o.device.lines[0].rates = vec![RepetitionRate::new(1.0).unwrap()]), "1064 nm needs OD 6.7");
    let two = |o: &mut Opened| o.device.lines[0].pulse_durations.push(PulseDuration::new(3e-10).unwrap());
    let mut o = opened(plan());
    two(&mut o);
    let text = eyewear_of(&o).1;
    assert!(
        text.starts_with("1064 nm needs OD 6.8 (EN 207: D LB6 + R LB8) and OD 7.2 (EN 207: D LB6 + M LB10)"),
        "{text}"
    );
}

#[test]
fn a_line_that_the_device_has_not_is_never_protected() {
    let mut o = opened(plan());
    o.device.lines.remove(1);
    let (verdict, text) = eyewear_of(&o);
    assert_eq!(verdict, Verdict::HardStop);
    assert!(text.starts_with("755 nm is no line of the device"), "{text}");
}

/// A journal of before, whose protocol lists ranges and asks for yes, reads as it did; the event of now reads back.
#[test]
fn older_protocols_and_the_new_event_read() {
    let old = r#"{"name":"Pair A","ranges":[{"from_nm":515.0,"to_nm":535.0,"optical_density":8}]}"#;
    let pair: Eyewear = serde_json::from_str(old).unwrap();
    assert_eq!(pair.marking().unwrap().to_string(), "515-535 OD 8");
    assert_eq!(serde_json::to_string(&pair).unwrap(), old);
    let mut bench = bench(0);
    bench.run(worn("pair A"));
    let event = &bench.events().last().unwrap().1;
    let text = serde_json::to_string(event).unwrap();
    assert!(
        text.starts_with(
            r#"{"type":"eyewear-judged","item":"eyewear-worn","worn":{"free_text":"pair A"},"verdict":"pass","#
        ),
        "{text}"
    );
    assert_eq!(serde_json::from_str::<Event>(&text).unwrap(), *event);
}
