//! Every rule: what raises it, what just does not, what clears it, and that a LOWER alone escalates.

use crate::fixture::{Bench, date, item, opened, plan, setting};
use fadewright::advice::RULES;
use fadewright::plan::*;
use fadewright::protocol::{CheckKind, CheckPhase, Computation, RuleName};
use fadewright::session::*;
use fadewright::units::SpotDiameter;
use fadewright::words::Word;
use std::collections::BTreeSet;

struct Case {
    rule: &'static str,
    level: Level,
    /// A session, and what raises the rule in it.
    raise: fn() -> Bench,
    /// Something close to it that does not.
    not: fn() -> Bench,
    /// What clears it; none for a rule that waits for its answer.
    clears: Option<fn(&mut Bench)>,
}

/// In the first pass of the first zone, whitening noted.
fn treating(p: Plan) -> Bench {
    let mut b = Bench::with(p);
    b.start(0);
    b.see(Response::Whitening, Some(2));
    b.fire(12);
    b
}

fn seen(kind: Response, grade: Option<u8>) -> Bench {
    let mut b = treating(plan());
    b.see(kind, grade);
    b
}

fn calm() -> Bench {
    seen(Response::Redness, None)
}

fn at_755() -> Plan {
    let mut p = plan();
    p.zones.reverse();
    p
}

fn at_532() -> Bench {
    let mut o = opened(plan());
    let mut line = o.device.lines[0].clone();
    line.wavelength = fadewright::units::Wavelength::new(532.0).unwrap();
    o.device.lines.push(line);
    let mut ceiling = o.protocol.ceilings[0].clone();
    ceiling.wavelength = fadewright::units::Wavelength::new(532.0).unwrap();
    o.protocol.ceilings.push(ceiling);
    o.protocol.eyewear[0].ranges[0].from = fadewright::units::Wavelength::new(500.0).unwrap();
    o.plan.zones[0].setting = setting(532.0, 6e-9, 4.0, 2.0, 5.0);
    o.plan.zones[0].inks = vec![InkColour::Red];
    let mut b = Bench::opened(o);
    b.start(0);
    b.see(Response::Whitening, Some(2));
    b.fire(12);
    b
}

fn accept(b: &mut Bench) {
    let advice = b.state().open_advice()[0].id;
    b.run(Command::AnswerAdvice { advice, answer: AdviceAnswer::Accepted });
}

/// Bled and lowered so many times.
fn lowered(times: usize) -> Bench {
    let mut b = treating(plan());
    for _ in 0..times {
        b.see(Response::PinpointBleeding, None);
        accept(&mut b);
        b.read_back(0);
        b.fire(5);
    }
    b
}

fn pains(grades: &[u8]) -> Bench {
    let mut b = treating(plan());
    for g in grades {
        b.see(Response::Pain, Some(*g));
    }
    b
}

/// The first pass without a word about whitening.
fn unseen(pulses: u64, seconds: u64) -> Bench {
    let mut b = Bench::new();
    b.start(0);
    b.fire(pulses);
    b.wait(seconds);
    b
}

fn whitens(b: &mut Bench) {
    b.see(Response::Whitening, Some(1));
}

fn planned(b: &Bench) -> u64 {
    b.state().zones[0].planned_per_pass(&b.state().opened.plan.zones[0])
}

/// A pass fired so far beyond its plan, in per cent of it.
fn fired_percent(percent: u64) -> Bench {
    let mut b = treating(plan());
    let n = planned(&b) * percent / 100;
    b.fire(n.saturating_sub(12));
    b
}

fn end_pass(b: &mut Bench) {
    b.run(Command::EndPass { explanation: Some("known".to_owned()) });
}

fn next_pass(b: &mut Bench, wait: u64, faded: bool) {
    end_pass(b);
    let zone = b.zone_id(0);
    if faded {
        b.run(Command::WhiteningFaded { zone: zone.clone() });
    }
    b.wait(wait);
    b.run(Command::StartPass { zone });
}

fn passes(n: usize) -> Bench {
    let mut b = fired_percent(100);
    for _ in 1..n {
        let white = b.state().zones[0].is_white();
        next_pass(&mut b, 1300, white);
        let n = planned(&b);
        b.fire(n);
    }
    b
}

fn white_and_beyond(n: u64) -> Bench {
    let mut b = treating(plan());
    let all = planned(&b) + n - 12;
    b.fire(all);
    b
}

fn last_session(day: &str) -> Bench {
    let mut p = plan();
    p.history.earlier_sessions = 1;
    p.history.last_session = Some(date(day));
    let mut o = opened(p);
    // A short interval blocks at sign-in; someone overrode it.
    o.protocol.thresholds.interval_min_s.value = fadewright::units::WaitingTime::new(604_800.0).unwrap();
    let mut b = Bench::opened(o);
    if b.state().checks["interval"].computed.as_ref().unwrap().0 != Verdict::Pass {
        b.run(Command::CheckYes { item: "interval".to_owned() });
    }
    b.start(0);
    b.see(Response::Whitening, Some(2));
    b.fire(1);
    b
}

fn resumed_after(seconds: u64) -> Bench {
    let mut b = treating(plan());
    b.clock.advance(std::time::Duration::from_secs(seconds));
    b.run(Command::Resume { recovery: "clean".to_owned(), program: "test".to_owned() });
    b
}

fn changed(to: Setting) -> Bench {
    let mut b = treating(plan());
    let zone = b.zone_id(0);
    b.run(Command::ChangeSetting { zone, to, reason: "tried".to_owned() });
    b
}

fn lower_fluence() -> Setting {
    setting(1064.0, 6e-9, 4.0, 2.6, 5.0)
}

fn mismatched(times: u32) -> Bench {
    let mut b = Bench::new();
    b.answer_all(CheckPhase::SignIn);
    for _ in 0..times {
        let mut displayed = b.displayed(0);
        displayed.setting.fluence = fadewright::units::Fluence::new(2.0).unwrap();
        let zone = b.zone_id(0);
        b.run(Command::ReadBack { zone, displayed });
    }
    b
}

fn raised_after(lowerings: usize) -> Bench {
    let mut b = lowered(lowerings);
    let mut to = b.state().zones[0].target;
    to.fluence = fadewright::units::Fluence::new(to.fluence.j_cm2() + 0.2).unwrap();
    let zone = b.zone_id(0);
    b.run(Command::ChangeSetting { zone, to, reason: "too little".to_owned() });
    b
}

fn skin(of: FitzpatrickType) -> Bench {
    let mut p = at_755();
    p.client.skin = of;
    treating(p)
}

fn inks(colour: InkColour, at: Plan) -> Bench {
    let mut p = at;
    p.zones[0].inks = vec![colour];
    treating(p)
}

fn earlier(response: Response, fluence: f64) -> Bench {
    let mut b = Bench::new();
    let zone = EarlierZone {
        zone: b.zone_id(0),
        setting: setting(1064.0, 6e-9, 4.0, fluence, 5.0),
        pulses: 120,
        responses: vec![Response::Whitening, response],
    };
    b.run(Command::NoteEarlier {
        earlier: Box::new(Earlier {
            sessions: 1,
            session: "20260901-100000-TTTTTT".to_owned(),
            date: date("2026-09-01"),
            outcome: Some(SessionOutcome::Completed),
            zones: vec![zone],
        }),
    });
    b
}

fn history(condition: Condition) -> Bench {
    let mut p = plan();
    p.history.conditions = vec![condition];
    treating(p)
}

fn anticoagulated(kind: Response) -> Bench {
    let mut p = plan();
    p.history.medicines = vec![Medicine::Anticoagulant];
    let mut b = treating(p);
    b.see(kind, None);
    b
}

fn no_to(item: &str) -> Bench {
    let mut b = treating(plan());
    b.run(Command::CheckNo { item: item.to_owned(), why: "taken off".to_owned() });
    b
}

fn counter_read(second: u64, confirm: Option<CounterConfirm>) -> Bench {
    let mut b = Bench::new();
    b.answer_all(CheckPhase::SignIn);
    b.run(Command::ReadCounter { reading: 5000, confirm: None });
    b.start(0);
    b.see(Response::Whitening, Some(2));
    b.fire(100);
    b.clock.advance(std::time::Duration::from_secs(120));
    b.run(Command::ReadCounter { reading: second, confirm });
    b
}

/// A dose typed at sign-in, so many minutes before the first pulse.
fn dosed(dose: &str, minutes: u64) -> Bench {
    let mut o = opened(plan());
    o.protocol.checklist.push(item("anaesthetic", CheckPhase::SignIn, CheckKind::Anaesthetic, None, true));
    let mut b = Bench::opened(o);
    b.answer_all(CheckPhase::SignIn);
    b.run(Command::CheckValue { item: "anaesthetic".to_owned(), value: dose.to_owned() });
    b.wait(minutes * 60);
    b
}

fn dosed_and_begun(dose: &str, minutes: u64) -> Bench {
    let mut b = dosed(dose, minutes);
    b.start(0);
    b.see(Response::Whitening, Some(2));
    b
}

fn train_with_gap(seconds: u64) -> Bench {
    let mut b = treating(plan());
    b.run(Command::StartTrain);
    b.clock.advance(std::time::Duration::from_secs(seconds));
    b.recorder.tick().unwrap();
    b
}

const fn waits(rule: &'static str, level: Level, raise: fn() -> Bench, not: fn() -> Bench) -> Case {
    Case { rule, level, raise, not, clears: None }
}

const fn clears(
    rule: &'static str,
    level: Level,
    raise: fn() -> Bench,
    not: fn() -> Bench,
    by: fn(&mut Bench),
) -> Case {
    Case { rule, level, raise, not, clears: Some(by) }
}

use Level::{Check, Lower, Note, Stop, Wait};

const CASES: &[Case] = &[
    waits("systemic-signs", Stop, || seen(Response::Systemic, None), calm),
    waits("wheals", Stop, || seen(Response::Wheals, None), calm),
    waits("epidermal-separation", Stop, || seen(Response::Separation, None), calm),
    waits("blister", Stop, || seen(Response::Blister, None), calm),
    waits("darkening", Stop, || seen(Response::Darkening, None), calm),
    waits("sparks-or-pits", Stop, || seen(Response::Sparks, None), calm),
    waits("blue-grey", Stop, || seen(Response::BlueGrey, None), calm),
    waits("pinpoint-bleeding", Lower, || seen(Response::PinpointBleeding, None), calm),
    waits(
        "bleeding-after-lowering",
        Lower,
        || with(lowered(1), |b| b.see(Response::PinpointBleeding, None)),
        || lowered(1),
    ),
    waits(
        "bleeding-persists",
        Stop,
        || with(lowered(2), |b| b.see(Response::PinpointBleeding, None)),
        || with(lowered(1), |b| b.see(Response::PinpointBleeding, None)),
    ),
    waits(
        "bleeding-off-spacer",
        Check,
        || with(seen(Response::OffSpacer, None), |b| b.see(Response::PinpointBleeding, None)),
        // Bled before the spacer was lost.
        || with(seen(Response::PinpointBleeding, None), |b| b.see(Response::OffSpacer, None)),
    ),
    waits("off-spacer", Check, || seen(Response::OffSpacer, None), calm),
    waits("tissue-splatter", Lower, || seen(Response::Splatter, None), calm),
    waits("wet-surface", Lower, || seen(Response::WetSurface, None), calm),
    waits(
        "wide-purpura-532",
        Lower,
        || with(at_532(), |b| b.see(Response::Purpura, None)),
        || seen(Response::Purpura, None),
    ),
    waits(
        "wide-purpura",
        Check,
        || seen(Response::Purpura, None),
        || with(at_532(), |b| b.see(Response::Purpura, None)),
    ),
    waits("whitening-fierce", Lower, || seen(Response::Whitening, Some(3)), || seen(Response::Whitening, Some(2))),
    waits("marked-swelling", Wait, || seen(Response::Swelling, Some(3)), || seen(Response::Swelling, Some(2))),
    waits("pain-severe", Wait, || pains(&[8]), || pains(&[7])),
    waits("pain-rising", Wait, || pains(&[2, 4, 5]), || pains(&[4, 5, 5])),
    clears("no-whitening", Check, || unseen(20, 0), || unseen(19, 0), whitens),
    clears("no-whitening-after-wait", Check, || unseen(10, 600), || unseen(10, 599), whitens),
    waits(
        "no-response-later-pass",
        Note,
        || with(passes(2), |b| b.see(Response::NoResponse, None)),
        || seen(Response::NoResponse, None),
    ),
    waits("overlap-beyond-plan", Lower, || fired_percent(118), || fired_percent(105)),
    clears("pulses-far-beyond-plan", Wait, || fired_percent(151), || fired_percent(145), end_pass),
    waits("pulses-on-one-place", Wait, || seen(Response::Stacked, None), calm),
    clears(
        "counters-apart",
        Check,
        || counter_read(5120, None),
        || counter_read(5101, None),
        |b| {
            b.run(Command::TakeDeviceFigure);
        },
    ),
    clears("pass-beyond-plan", Check, || passes(3), || passes(2), end_pass),
    waits("pass-sparse", Note, || with(fired_percent(69), end_pass), || with(fired_percent(71), end_pass)),
    clears(
        "pass-too-soon",
        Wait,
        || with(treating(plan()), |b| next_pass(b, 600, true)),
        || with(treating(plan()), |b| next_pass(b, 1200, true)),
        |b| b.wait(601),
    ),
    clears(
        "whitening-masks-target",
        Wait,
        || white_and_beyond(10),
        || white_and_beyond(9),
        |b| {
            let zone = b.zone_id(0);
            b.run(Command::WhiteningFaded { zone });
        },
    ),
    waits("interval-short", Check, || last_session("2026-10-20"), || last_session("2026-10-13")),
    clears(
        "anaesthetic-not-working",
        Check,
        || dosed_and_begun("cream 10 g 100 cm2 20 min", 30),
        || dosed_and_begun("cream 10 g 100 cm2 20 min", 40),
        end_pass,
    ),
    waits(
        "anaesthetic-too-long",
        Wait,
        || dosed("cream 10 g 100 cm2 299 min", 1),
        || dosed("cream 10 g 100 cm2 298 min", 1),
    ),
    // An adult of 70 kg: 300 mg plain.
    clears(
        "anaesthetic-limit",
        Wait,
        || dosed("lidocaine 301 mg", 0),
        || dosed("lidocaine 239 mg", 0),
        |b| b.run(Command::CheckNotApplicable { item: "anaesthetic".to_owned() }),
    ),
    waits(
        "session-long",
        Check,
        || with(treating(plan()), |b| b.wait(3600)),
        || with(treating(plan()), |b| b.wait(3599)),
    ),
    waits("resumed-after-break", Check, || resumed_after(600), || resumed_after(598)),
    clears(
        "setting-not-read-back",
        Wait,
        || with(changed(lower_fluence()), |b| b.wait(20)),
        || with(changed(lower_fluence()), |b| b.wait(19)),
        |b| b.read_back(0),
    ),
    clears("read-back-failing", Check, || mismatched(3), || mismatched(2), |b| b.read_back(0)),
    waits("not-comparable", Check, || changed(setting(1064.0, 6e-9, 6.0, 1.5, 5.0)), || changed(lower_fluence())),
    clears(
        "raised-after-lowering",
        Check,
        || raised_after(1),
        || raised_after(0),
        |b| {
            let (zone, to) = (b.zone_id(0), setting(1064.0, 6e-9, 4.0, 2.0, 5.0));
            b.run(Command::ChangeSetting { zone, to, reason: "back".to_owned() });
        },
    ),
    waits(
        "near-ceiling",
        Note,
        || {
            let mut p = plan();
            // The device ends at 5 J/cm2, below the ceiling of 6.
            p.zones[0].setting.fluence = fadewright::units::Fluence::new(4.8).unwrap();
            treating(p)
        },
        calm,
    ),
    clears(
        "wavelength-poor",
        Check,
        || inks(InkColour::Red, plan()),
        || inks(InkColour::Black, plan()),
        |b| {
            let zone = b.zone_id(0);
            let to = setting(755.0, 7.5e-10, 3.0, 2.0, 5.0);
            b.run(Command::ChangeSetting { zone, to, reason: "other ink".to_owned() });
        },
    ),
    clears(
        "dark-skin-wavelength",
        Check,
        || skin(FitzpatrickType::IV),
        || skin(FitzpatrickType::III),
        |b| {
            let zone = b.zone_id(0);
            let to = setting(1064.0, 6e-9, 3.0, 2.0, 5.0);
            b.run(Command::ChangeSetting { zone, to, reason: "dark skin".to_owned() });
        },
    ),
    clears(
        "above-last-session",
        Lower,
        || with(earlier(Response::Blister, 3.0), |b| b.start(0)),
        || with(earlier(Response::Blister, 3.2), |b| b.start(0)),
        |b| {
            let (zone, to) = (b.zone_id(0), lower_fluence());
            b.run(Command::ChangeSetting { zone, to, reason: "less than last time".to_owned() });
        },
    ),
    clears("may-darken", Check, || inks(InkColour::White, tested(plan())), || inks(InkColour::Black, plan()), end_pass),
    waits(
        "keloid-without-test",
        Check,
        || history(Condition::Keloid),
        || {
            let mut p = tested(plan());
            p.history.conditions = vec![Condition::Keloid];
            treating(p)
        },
    ),
    waits(
        "anticoagulant-bleeding",
        Note,
        || anticoagulated(Response::PinpointBleeding),
        || anticoagulated(Response::Redness),
    ),
    waits(
        "light-sensitive-epilepsy",
        Note,
        || history(Condition::EpilepsyLightSensitive),
        || history(Condition::Herpes),
    ),
    clears(
        "condition-withdrawn",
        Wait,
        || no_to("eyewear-worn"),
        // Before the first pulse it is only a checklist.
        || {
            with(Bench::new(), |b| {
                b.answer_all(CheckPhase::SignIn);
                b.read_back(0);
                b.run(Command::CheckNo { item: "shields".to_owned(), why: "not here yet".to_owned() });
            })
        },
        |b| b.run(Command::CheckValue { item: "eyewear-worn".to_owned(), value: "pair A".to_owned() }),
    ),
    waits("counter-restarted", Check, || counter_read(7, Some(CounterConfirm::Restarted)), || counter_read(5100, None)),
    waits("train-cut", Check, || train_with_gap(30), || train_with_gap(1)),
];

fn with(mut b: Bench, play: impl FnOnce(&mut Bench)) -> Bench {
    play(&mut b);
    b
}

fn tested(mut p: Plan) -> Plan {
    p.zones[0].test_spot = Some(TestSpot { date: date("2026-09-01"), result: TestSpotResult::Clear });
    p
}

fn of<'a>(b: &'a Bench, rule: &str) -> Vec<&'a AdviceEntry> {
    b.state().advice.iter().filter(|a| a.advice.rule == rule).collect()
}

#[test]
fn the_table_has_every_rule_once() {
    let cases: Vec<&str> = CASES.iter().map(|c| c.rule).collect();
    let distinct: BTreeSet<&str> = cases.iter().copied().collect();
    assert_eq!(cases.len(), distinct.len());
    let rules: BTreeSet<&str> = RULES.iter().map(|r| r.id.word()).collect();
    assert_eq!(distinct, rules);
    assert_eq!(rules, RuleName::WORDS.iter().copied().collect());
    assert!(rules.len() >= 35);
    for rule in RULES {
        assert!(!rule.source.is_empty() && !rule.why.is_empty(), "{}", rule.id);
        assert_eq!(CASES.iter().find(|c| c.rule == rule.id.word()).unwrap().level, rule.level, "{}", rule.id);
    }
}

#[test]
fn each_is_raised_once_for_its_evidence() {
    for case in CASES {
        let mut b = (case.raise)();
        let first = of(&b, case.rule);
        assert_eq!(first.len(), 1, "{}: {:#?}", case.rule, b.state().advice);
        assert_eq!(first[0].level, case.level, "{}", case.rule);
        assert!(!first[0].advice.seen.is_empty() && !first[0].advice.action.is_empty());
        b.wait(1);
        assert_eq!(of(&b, case.rule).len(), 1, "{} again", case.rule);
    }
}

#[test]
fn each_keeps_quiet_where_its_condition_just_does_not_hold() {
    for case in CASES {
        let b = (case.not)();
        assert!(of(&b, case.rule).is_empty(), "{}: {:#?}", case.rule, of(&b, case.rule));
    }
}

#[test]
fn each_clears_by_its_condition_or_waits_for_its_answer() {
    for case in CASES {
        let mut b = (case.raise)();
        let id = of(&b, case.rule)[0].id;
        match case.clears {
            Some(by) => {
                by(&mut b);
                let status = &of(&b, case.rule)[0].status;
                assert!(matches!(status, AdviceStatus::Cleared(_)), "{}: {status:?}", case.rule);
            }
            None if case.level == Note => assert_eq!(of(&b, case.rule)[0].status, AdviceStatus::Recorded),
            None => {
                assert!(of(&b, case.rule)[0].is_open(), "{}", case.rule);
                let reason = FreeText::new("looked at").unwrap();
                b.run(Command::AnswerAdvice { advice: id, answer: AdviceAnswer::Declined { reason } });
                b.wait(1);
                let all = of(&b, case.rule);
                assert!(all.len() == 1 && !all[0].is_open(), "{} came back without new evidence", case.rule);
            }
        }
    }
}

#[test]
fn a_lower_left_unanswered_becomes_stop_and_nothing_else_does() {
    for case in CASES.iter().filter(|c| c.level != Stop) {
        let mut b = (case.raise)();
        for _ in 0..10 {
            // A gate may be shut: then nothing is fired, and nothing escalates.
            drop(b.recorder.command(Command::Fire { n: 1, source: PulseSource::Key }));
        }
        let entry = of(&b, case.rule)[0];
        let expected = if case.level == Lower && entry.pulses_since >= 10 { Stop } else { case.level };
        assert_eq!(entry.level, expected, "{}", case.rule);
        assert!(case.level != Lower || entry.level == Stop, "{}: no pulse could be fired", case.rule);
    }
}

#[test]
fn what_was_seen_once_raises_one_advice() {
    for case in CASES {
        let b = (case.raise)();
        let mut entries = BTreeSet::new();
        for a in b.state().advice.iter().filter(|a| a.advice.evidence.starts_with("entry ")) {
            assert!(entries.insert(a.advice.evidence.clone()), "{}: {:#?}", case.rule, b.state().advice);
        }
    }
}

#[test]
fn a_poor_wavelength_that_was_told_at_sign_in_is_only_noted() {
    let mut o = opened(plan());
    o.plan.zones[0].inks = vec![InkColour::Red];
    let told = item("ink-match", CheckPhase::SignIn, CheckKind::Computed, Some(Computation::InkMatch), false);
    o.protocol.checklist.insert(4, told);
    let mut b = Bench::opened(o);
    b.run(Command::CheckYes { item: "ink-match".to_owned() });
    b.start(0);
    assert_eq!(of(&b, "wavelength-poor")[0].level, Note);
}

#[test]
fn the_better_wavelength_is_named_where_the_device_has_it() {
    let mut p = plan();
    p.zones[0].inks = vec![InkColour::Green];
    let b = treating(p);
    assert!(of(&b, "wavelength-poor")[0].advice.action.contains("755 nm of this device suits it better"));
}

#[test]
fn no_whitening_speaks_of_one_step_up_only_below_the_ceiling_and_never_proposes_it() {
    let b = unseen(10, 600);
    let a = of(&b, "no-whitening-after-wait")[0];
    assert!(a.advice.action.contains("one step, to 3.2 J/cm2") && a.advice.to.is_none(), "{}", a.advice.action);
    let mut p = plan();
    p.zones[0].setting.spot = SpotDiameter::new(6.0).unwrap();
    p.zones[0].setting.fluence = fadewright::units::Fluence::new(2.2).unwrap();
    let mut b = Bench::with(p);
    b.start(0);
    b.fire(10);
    b.wait(600);
    let a = of(&b, "no-whitening-after-wait")[0];
    assert!(a.advice.action.contains("no step is left"), "{}", a.advice.action);
}

#[test]
fn a_clinic_may_make_a_rule_more_urgent_and_never_less() {
    for (at_least, expected) in [(Stop, Stop), (Note, Lower)] {
        let mut o = opened(plan());
        let rule = RuleName::WhiteningFierce;
        o.protocol.rules = vec![fadewright::protocol::RuleChoice { rule, at_least, reason: "decided".to_owned() }];
        let mut b = Bench::opened(o);
        b.start(0);
        b.see(Response::Whitening, Some(3));
        assert_eq!(of(&b, "whitening-fierce")[0].level, expected);
    }
}

#[test]
fn near_the_anaesthetics_limit_is_a_check_and_only_beyond_it_a_wait() {
    let b = dosed("lidocaine 240 mg", 0);
    assert_eq!(of(&b, "anaesthetic-limit")[0].level, Check);
    // A second source is added to the first: 150 of 300 and 30 g of 60 g of cream.
    let mut b = dosed("lidocaine 151 mg", 0);
    assert!(of(&b, "anaesthetic-limit").is_empty());
    b.run(Command::CheckValue { item: "anaesthetic".to_owned(), value: "cream 30 g 200 cm2".to_owned() });
    let a = of(&b, "anaesthetic-limit")[0];
    assert_eq!(a.level, Wait);
    assert!(a.advice.seen.contains("101 % of the limit in 2 dose(s)"), "{}", a.advice.seen);
    let check = b.state().opened.protocol.checklist.iter().find(|i| i.id == "anaesthetic").unwrap();
    assert_eq!(b.state().item_status(check), ItemStatus::Blocked);
    let refusal = b.refused(Command::CheckValue { item: "anaesthetic".to_owned(), value: "some cream".to_owned() });
    assert_eq!(refusal.id, "anaesthetic.dose");
    // The prescriber may take it on, with name, role and reason.
    b.run(Command::CheckOverride {
        item: "anaesthetic".to_owned(),
        by: "DR-2".to_owned(),
        role: "prescriber".to_owned(),
        reason: "cream was taken off early".to_owned(),
    });
    let check = b.state().opened.protocol.checklist.iter().find(|i| i.id == "anaesthetic").unwrap();
    assert_eq!(b.state().item_status(check), ItemStatus::Overridden);
    assert!(b.state().deviations.iter().any(|d| d.overridden && d.text.contains("prescriber")));
}

#[test]
fn cream_stops_counting_at_the_first_pulse_and_nobody_with_methaemoglobinaemia_passes_with_it() {
    let mut b = dosed_and_begun("cream 10 g 100 cm2 50 min", 20);
    b.fire(5);
    b.wait(36_000);
    let a = b.state().anaesthesia(b.state().last_ms()).unwrap();
    assert!((a.cream.unwrap().1 - 70.0).abs() < 0.01, "{:?}", a.cream);

    let mut p = plan();
    p.history.conditions = vec![Condition::Methaemoglobinaemia];
    let b = Bench::with(p);
    let dose = fadewright::session::dose("cream 5 g 50 cm2").unwrap();
    let (verdict, finding) = b.state().judge_dose(dose);
    assert!(verdict == Verdict::Block && finding.contains("no prilocaine"), "{finding}");
    assert_eq!(b.state().judge_dose(fadewright::session::dose("lidocaine 50 mg").unwrap()).0, Verdict::Pass);
}

/// A setting lowered for another reason does not make the first bleeding a second one.
#[test]
fn only_a_lowering_for_bleeding_makes_the_next_bleeding_a_second_one() {
    let mut b = treating(plan());
    b.see(Response::Splatter, None);
    accept(&mut b);
    b.read_back(0);
    b.fire(5);
    b.see(Response::PinpointBleeding, None);
    assert_eq!(of(&b, "pinpoint-bleeding").len(), 1);
    assert!(of(&b, "bleeding-after-lowering").is_empty());
}

/// Another wavelength than last time is not comparable: no LOWER rests on its fluence.
#[test]
fn another_wavelength_than_last_time_is_not_compared() {
    let mut b = Bench::new();
    let zones = vec![EarlierZone {
        zone: b.zone_id(0),
        setting: setting(755.0, 7.5e-10, 3.0, 2.0, 5.0),
        pulses: 90,
        responses: vec![Response::Blister],
    }];
    let session = "20260901-100000-TTTTTT".to_owned();
    let earlier = Earlier { sessions: 1, session, date: date("2026-09-01"), outcome: None, zones };
    b.run(Command::NoteEarlier { earlier: Box::new(earlier) });
    assert!(of(&b, "above-last-session").is_empty());
}
