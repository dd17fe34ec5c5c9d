//! What a LOWER proposes: reachable, within every limit, never more light to the epidermis, and the same for the same
//! history.

use crate::fixture::{Bench, opened, plan, setting};
use fadewright::advice::evaluate;
use fadewright::clock::{Clock, Now};
use fadewright::device::SpotLadder;
use fadewright::limits::{LightRow, LightTable, dose_change, setting_problems};
use fadewright::plan::*;
use fadewright::session::*;
use fadewright::units::{Fluence, SpotDiameter};
use fadewright::words::Word;
use proptest::prelude::*;
use proptest::test_runner::{TestCaseError, TestRunner};
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};

fn bled(at: Setting) -> Bench {
    let mut p = plan();
    p.zones[0].setting = at;
    let mut b = Bench::with(p).lit();
    b.start(0);
    b.see(Response::Whitening, Some(1));
    b.fire(5);
    b.see(Response::PinpointBleeding, None);
    b
}

fn top(b: &Bench) -> &AdviceEntry {
    b.state().open_advice()[0]
}

#[test]
fn a_lower_fluence_says_what_ink_and_epidermis_get_less() {
    let b = bled(setting(1064.0, 6e-9, 4.0, 3.0, 5.0));
    // 2.6 / 3.0: whatever the skin, light is proportional to fluence.
    assert!(
        top(&b)
            .advice
            .action
            .starts_with("Lower from 3 J/cm2 at 4 mm to 2.6 J/cm2 at 4 mm: -13 % at ink and epidermis. ")
    );
}

#[test]
fn where_the_ink_would_get_too_little_a_larger_spot_is_offered_and_can_be_chosen() {
    // Fixture light: ink 0.5 + 0.05 mm, epidermis 1.1 + 0.02 mm. At 4 mm 2.0 J/cm2 bring 1.4 to the ink, below the
    // floor of 2; at 6 mm 1.4 / 0.8 = 1.75, floored to 1.7: ink 1.36 (-3 %), epidermis 2.074 against 2.36 (-12 %).
    let mut b = bled(setting(1064.0, 6e-9, 4.0, 2.0, 5.0));
    let advice = top(&b).advice.clone();
    assert_eq!(advice.to, Some(setting(1064.0, 6e-9, 4.0, 1.8, 5.0)));
    assert_eq!(advice.alternative, Some(setting(1064.0, 6e-9, 6.0, 1.7, 5.0)));
    assert!(
        advice.action.contains("l takes 1.7 J/cm2 at 6 mm instead: ink -3 %, epidermis -12 %"),
        "{}",
        advice.action
    );
    let id = top(&b).id;
    b.run(Command::AnswerAdvice { advice: id, answer: AdviceAnswer::Alternative });
    let z = &b.state().zones[0];
    assert_eq!(Some(z.target), advice.alternative);
    assert_eq!((z.confirmed, z.lowerings), (None, 1));
    assert_eq!(b.refused(Command::Fire { n: 1, source: PulseSource::Key }).id, "gate.read-back");
    b.read_back(0);
    b.fire(1);
}

#[test]
fn without_light_and_above_the_floor_no_other_spot_is_offered() {
    let mut p = plan();
    p.zones[0].setting = setting(1064.0, 6e-9, 4.0, 2.0, 5.0);
    let mut b = Bench::with(p);
    b.start(0);
    b.fire(5);
    b.see(Response::PinpointBleeding, None);
    assert_eq!(top(&b).advice.alternative, None);
    let id = top(&b).id;
    let refusal = b.refused(Command::AnswerAdvice { advice: id, answer: AdviceAnswer::Alternative });
    assert_eq!(refusal.id, "advice.no-alternative");
    assert!(top(&b).is_open());

    // 4.6 at 4 mm bring 3.2 to the ink, 4.0 of the lowered setting still 2.8.
    let b = bled(setting(1064.0, 6e-9, 4.0, 4.6, 5.0));
    assert_eq!(top(&b).advice.alternative, None);
}

#[test]
fn a_proposal_that_would_raise_by_now_changes_nothing() {
    let mut b = bled(setting(1064.0, 6e-9, 4.0, 3.0, 5.0));
    let (zone, to) = (b.zone_id(0), setting(1064.0, 6e-9, 4.0, 2.0, 5.0));
    b.run(Command::ChangeSetting { zone, to, reason: "far lower at once".to_owned() });
    let id = top(&b).id;
    b.run(Command::AnswerAdvice { advice: id, answer: AdviceAnswer::Accepted });
    assert_eq!(b.state().zones[0].target, to);
}

/// A random clinic: device ladders, ceilings, light that need not be sensible.
#[derive(Debug, Clone)]
struct Clinic {
    ladders: Vec<(f64, f64, f64, usize)>,
    light: Vec<(f64, f64)>,
    known_light: bool,
    /// A larger spot brings more to the ink, as in skin; else any light at all.
    as_in_skin: bool,
    ceilings: [f64; 2],
    floor: f64,
    at: (usize, usize),
    step: f64,
}

fn clinic() -> impl Strategy<Value = Clinic> {
    let ladder = (2.0f64..10.0, 0.2f64..2.0, 0.05f64..0.7, 1usize..30);
    let ladders = proptest::collection::vec(ladder, 1..5);
    let light = proptest::collection::vec((0.2f64..1.5, 0.8f64..2.5), 5);
    (
        ladders,
        light,
        (proptest::bool::weighted(0.8), proptest::bool::weighted(0.7)),
        [0.5f64..12.0, 0.5f64..12.0],
        0.1f64..4.0,
        (0usize..5, 0usize..30),
        1.0f64..45.0,
    )
        .prop_map(|(ladders, light, (known_light, as_in_skin), ceilings, floor, at, step)| Clinic {
            ladders,
            light,
            known_light,
            as_in_skin,
            ceilings,
            floor,
            at,
            step,
        })
}

/// A session of that clinic, unless its plan lies outside its own limits.
fn session(c: &Clinic) -> Option<(Bench, LightTable)> {
    let mut o = opened(plan());
    let round = |x: f64| (x * 100.0).round() / 100.0;
    let mut spots: Vec<SpotLadder> = Vec::new();
    for (mm, min, step, rungs) in &c.ladders {
        let (mm, min, step) = (mm.round(), round(*min), round(*step));
        if spots.iter().all(|s| (s.spot.mm() - mm).abs() > 0.5) {
            let max = (min + step * *rungs as f64).min(12.0);
            spots.push(SpotLadder {
                spot: SpotDiameter::new(mm).unwrap(),
                min: Fluence::new(min).unwrap(),
                max: Fluence::new(max).unwrap(),
                step: Fluence::new(step).unwrap(),
            });
        }
    }
    spots.sort_by(|a, b| a.spot.partial_cmp(&b.spot).unwrap());
    let ladder = spots[c.at.0 % spots.len()];
    o.device.lines[0].spots.clone_from(&spots);
    o.device.lines[0].energy_max = fadewright::units::PulseEnergy::new(9.0).unwrap();
    let mut with_spot = o.protocol.ceilings[0].clone();
    o.protocol.ceilings[0].fluence_max = Fluence::new(c.ceilings[0]).unwrap();
    with_spot.spot_from = Some(SpotDiameter::new(5.0).unwrap());
    with_spot.fluence_max = Fluence::new(c.ceilings[1]).unwrap();
    o.protocol.ceilings.push(with_spot);
    o.protocol.thresholds.lower_step_percent.value = fadewright::units::Percent::new(c.step).unwrap();
    o.protocol.thresholds.rules.ink_floor_nanosecond_j_cm2.value = Fluence::new(c.floor).unwrap();
    let fluence = ladder.floor(ladder.min.j_cm2() + ladder.step.j_cm2() * c.at.1 as f64)?;
    o.plan.zones[0].setting = Setting { spot: ladder.spot, fluence, ..o.plan.zones[0].setting };
    o.plan.zones.truncate(1);
    let at = o.plan.zones[0].setting;
    if !setting_problems(&at, o.plan.client.skin, &o.device, &o.protocol).is_empty() || open(&o).is_err() {
        return None;
    }
    let rows = spots.iter().zip(&c.light).map(|(s, (ink, epidermis))| LightRow {
        site: o.plan.zones[0].site,
        wavelength: at.wavelength,
        spot: s.spot,
        ink: if c.as_in_skin { 0.3 + 0.07 * s.spot.mm() } else { *ink },
        epidermis: if c.as_in_skin { 1.1 + 0.01 * s.spot.mm() } else { *epidermis },
    });
    let table = LightTable { rows: rows.collect() };
    let mut bench = Bench::opened(o);
    if c.known_light {
        bench.run(Command::NoteLight { table: table.clone() });
    }
    Some((bench, table))
}

/// One thing that happens; what the session refuses does not.
fn act(b: &mut Bench, what: u8, how: u64) {
    let zone = b.zone_id(0);
    let open = b.state().open_advice().first().map(|a| a.id);
    let answer = |answer| open.map(|advice| Command::AnswerAdvice { advice, answer });
    let kinds = Response::ALL;
    let command = match what {
        0 | 1 => Some(Command::Fire { n: how % 90 + 1, source: PulseSource::Typed }),
        2 | 3 => {
            let kind = kinds[how as usize % kinds.len()];
            let grade = matches!(kind, Response::Pain | Response::Whitening | Response::Swelling);
            Some(Command::See { kind, grade: grade.then_some((how % 3 + 1) as u8), note: String::new() })
        }
        4 => answer(AdviceAnswer::Accepted),
        5 => answer(AdviceAnswer::Alternative),
        6 => answer(AdviceAnswer::Declined { reason: FreeText::new("seen").unwrap() }),
        7 => {
            b.clock.advance(std::time::Duration::from_secs(how % 900));
            b.recorder.tick().unwrap();
            None
        }
        8 => Some(Command::ReadBack { zone, displayed: b.displayed(0) }),
        9 => {
            let ladder = b.state().opened.device.ladder(&b.state().zones[0].target).copied();
            let now = b.state().zones[0].target;
            let next =
                ladder.and_then(|l| if how.is_multiple_of(2) { l.above(now.fluence) } else { l.below(now.fluence) });
            next.map(|fluence| Command::ChangeSetting {
                zone,
                to: Setting { fluence, ..now },
                reason: "own".to_owned(),
            })
        }
        10 => Some(Command::EndPass { explanation: Some("known".to_owned()) }),
        11 => Some(Command::StartPass { zone }),
        _ => Some(Command::WhiteningFaded { zone }),
    };
    if let Some(command) = command {
        drop(b.recorder.command(command));
    }
}

#[test]
fn no_proposal_is_off_the_ladder_above_a_limit_or_harder_on_the_epidermis() {
    const CASES: u32 = 500;
    let config = ProptestConfig { failure_persistence: None, cases: CASES, ..ProptestConfig::default() };
    let histories = proptest::collection::vec((0u8..13, 0u64..10_000), 1..60);
    let [sessions, proposals, alternatives] = [(); 3].map(|()| AtomicUsize::new(0));
    let result = TestRunner::new(config).run(&(clinic(), histories), |(clinic, history)| {
        holds(&clinic, &history, &sessions, &proposals, &alternatives)
    });
    result.unwrap();
    // It would prove nothing if hardly anything were proposed.
    let counted = [sessions, proposals, alternatives].map(AtomicUsize::into_inner);
    assert!(counted[0] > 150 && counted[1] > 150 && counted[2] > 5, "{counted:?} of {CASES}");
}

fn holds(
    clinic: &Clinic,
    history: &[(u8, u64)],
    sessions: &AtomicUsize,
    proposals: &AtomicUsize,
    alternatives: &AtomicUsize,
) -> Result<(), TestCaseError> {
    let Some((mut b, table)) = session(clinic) else { return Ok(()) };
    sessions.fetch_add(1, Relaxed);
    b.start(0);
    for (what, how) in history {
        act(&mut b, *what, *how);
    }
    let (o, site) = (&b.state().opened, b.state().opened.plan.zones[0].site);
    let (skin, ladder) = (o.plan.client.skin, |s: &Setting| o.device.ladder(s).copied());
    for entry in &b.state().advice {
        let from = entry.advice.from;
        alternatives.fetch_add(usize::from(entry.advice.alternative.is_some()), Relaxed);
        for to in [entry.advice.to, entry.advice.alternative].into_iter().flatten() {
            proposals.fetch_add(1, Relaxed);
            let problems = setting_problems(&to, skin, &o.device, &o.protocol);
            prop_assert!(problems.is_empty(), "{problems:?}");
            prop_assert!(ladder(&to).is_some_and(|l| l.holds(to.fluence)));
            let change = dose_change(Some(&table), site, &from.unwrap(), &to).unwrap();
            prop_assert!(change.epidermis_percent < 0.0, "{from:?} {to:?}: {change:?}");
            prop_assert!(clinic.known_light || to.spot == from.unwrap().spot, "a spot nobody knows the light of");
        }
    }
    // Followed advice never brought more light to the epidermis either.
    for (_, event) in b.events() {
        if let Event::SettingChanged { from, to, advice: Some(_), .. } = event {
            prop_assert!(dose_change(Some(&table), site, from, to).unwrap().epidermis_percent < 0.0);
        }
    }
    // The same history gives the same advice: nothing is left to say after replaying it.
    let events: Vec<_> = b.events().to_vec();
    let replayed = State::replay(events.iter().map(|(s, e)| (*s, e))).unwrap();
    prop_assert_eq!(&replayed, b.state());
    let now = Now { mono_ms: replayed.last.mono_ms, ..b.clock.now() };
    prop_assert_eq!(evaluate(&replayed, now), vec![]);
    Ok(())
}
