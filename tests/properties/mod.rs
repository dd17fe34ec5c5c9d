//! Random command sequences against the session core.

mod anaesthetic;
mod coverage;
mod hazard;
mod light;
mod photons;

use crate::fixture::{self, Bench};
use fadewright::limits::setting_problems;
use fadewright::plan::DisplayedSetting;
use fadewright::session::*;
use proptest::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use std::time::Duration;

const ITEMS: [&str; 7] = ["operator", "consent", "lesion", "photographs", "eyewear-worn", "shields", "aftercare"];

/// A step of a random session. Values are indices, so that any sequence is a session.
#[derive(Debug, Clone)]
enum Step {
    Yes(usize),
    No(usize),
    Na(usize),
    Value(usize),
    Override(usize),
    ReadBack(usize, bool),
    Change(usize, f64),
    StartPass(usize),
    Fire(u64, PulseSource),
    StartTrain,
    StopTrain,
    Counter(u64, Option<CounterConfirm>),
    TakeDevice,
    Correct(u64),
    TakeBack,
    Undo,
    See(usize, u8),
    Faded(usize),
    Advice(u8),
    Pause,
    Unpause,
    EndPass(bool),
    EndZone(usize, bool),
    Close(bool),
    Interrupt,
    Resume,
    Wait(u64),
}

fn step() -> impl Strategy<Value = Step> {
    let confirm = prop_oneof![
        4 => Just(None),
        1 => Just(Some(CounterConfirm::Jump)),
        1 => Just(Some(CounterConfirm::RolledOver)),
        1 => Just(Some(CounterConfirm::Restarted)),
    ];
    let source = prop_oneof![Just(PulseSource::Key), Just(PulseSource::Typed)];
    prop_oneof![
        6 => (0usize..7).prop_map(Step::Yes),
        1 => (0usize..7).prop_map(Step::No),
        1 => (0usize..7).prop_map(Step::Na),
        3 => (0usize..21).prop_map(Step::Value),
        1 => (0usize..7).prop_map(Step::Override),
        5 => (0usize..2, prop::bool::weighted(0.85)).prop_map(|(z, good)| Step::ReadBack(z, good)),
        1 => (0usize..2, 0.5f64..9.0).prop_map(|(z, f)| Step::Change(z, f)),
        5 => (0usize..2).prop_map(Step::StartPass),
        12 => (0u64..60, source).prop_map(|(n, s)| Step::Fire(n, s)),
        2 => Just(Step::StartTrain),
        2 => Just(Step::StopTrain),
        3 => (0u64..3000, confirm).prop_map(|(r, c)| Step::Counter(r, c)),
        1 => Just(Step::TakeDevice),
        2 => (0u64..60).prop_map(Step::Correct),
        1 => Just(Step::TakeBack),
        4 => Just(Step::Undo),
        4 => (0usize..Response::ALL_LEN, 0u8..5).prop_map(|(k, g)| Step::See(k, g)),
        1 => (0usize..2).prop_map(Step::Faded),
        3 => (0u8..3).prop_map(Step::Advice),
        1 => Just(Step::Pause),
        1 => Just(Step::Unpause),
        2 => any::<bool>().prop_map(Step::EndPass),
        1 => (0usize..2, any::<bool>()).prop_map(|(z, r)| Step::EndZone(z, r)),
        1 => any::<bool>().prop_map(Step::Close),
        1 => Just(Step::Interrupt),
        1 => Just(Step::Resume),
        4 => (0u64..40).prop_map(Step::Wait),
    ]
}

trait AllLen {
    const ALL_LEN: usize;
}
impl AllLen for Response {
    const ALL_LEN: usize = <Response as fadewright::words::Word>::ALL.len();
}

fn item(i: usize) -> String {
    ITEMS[i % ITEMS.len()].to_owned()
}

/// Values that are typed; of eyewear the first is refused, the second protects and the third does not.
fn worn(i: usize) -> &'static str {
    ["OP-7", "pair A", "OD 2 @ 700-1100"][i % 3]
}

fn command(bench: &Bench, step: &Step) -> Option<Command> {
    let zone = |z: &usize| bench.zone_id(*z);
    Some(match step {
        Step::Yes(i) => Command::CheckYes { item: item(*i) },
        Step::No(i) => Command::CheckNo { item: item(*i), why: "seen".to_owned() },
        Step::Na(i) => Command::CheckNotApplicable { item: item(*i) },
        Step::Value(i) => Command::CheckValue { item: item(*i), value: worn(i / ITEMS.len()).to_owned() },
        Step::Override(i) => Command::CheckOverride {
            item: item(*i),
            by: "SUP-1".to_owned(),
            role: "supervisor".to_owned(),
            reason: "known".to_owned(),
        },
        Step::ReadBack(z, good) => {
            let mut displayed: DisplayedSetting = bench.displayed(*z);
            if !good {
                displayed.energy_j = displayed.energy_j.map(|e| e * 1.5);
            }
            Command::ReadBack { zone: zone(z), displayed }
        }
        Step::Change(z, f) => {
            let mut to = bench.state().zones[*z].target;
            to.fluence = fadewright::units::Fluence::new((f * 5.0).round() / 5.0).unwrap_or(to.fluence);
            Command::ChangeSetting { zone: zone(z), to, reason: "trial".to_owned() }
        }
        Step::StartPass(z) => Command::StartPass { zone: zone(z) },
        Step::Fire(n, source) => Command::Fire { n: *n, source: *source },
        Step::StartTrain => Command::StartTrain,
        Step::StopTrain => Command::StopTrain,
        Step::Counter(reading, confirm) => Command::ReadCounter { reading: *reading, confirm: *confirm },
        Step::TakeDevice => Command::TakeDeviceFigure,
        Step::Correct(to) => Command::CorrectLast { to: *to },
        Step::TakeBack => Command::TakeBackHeldKey,
        Step::Undo => Command::Undo,
        Step::See(k, g) => Command::See {
            kind: <Response as fadewright::words::Word>::ALL[*k],
            grade: (*g > 0).then_some(*g),
            note: String::new(),
        },
        Step::Faded(z) => Command::WhiteningFaded { zone: zone(z) },
        Step::Advice(how) => {
            let advice = bench.state().open_advice().first()?.id;
            let answer = match how {
                0 => AdviceAnswer::Accepted,
                1 => AdviceAnswer::Declined { reason: FreeText::new("known").unwrap() },
                _ => AdviceAnswer::Stopped,
            };
            Command::AnswerAdvice { advice, answer }
        }
        Step::Pause => Command::Pause,
        Step::Unpause => Command::Unpause,
        Step::EndPass(why) => Command::EndPass { explanation: why.then(|| "misread".to_owned()) },
        Step::EndZone(z, why) => Command::EndZone { zone: zone(z), reason: why.then(|| "enough".to_owned()) },
        Step::Close(done) => Command::Close {
            outcome: if *done { SessionOutcome::Completed } else { SessionOutcome::Stopped },
            note: String::new(),
        },
        Step::Interrupt => Command::Interrupt { cause: "test".to_owned() },
        Step::Resume => Command::Resume { recovery: "clean".to_owned(), program: "test".to_owned() },
        Step::Wait(_) => return None,
    })
}

fn play(steps: &[Step], mut after: impl FnMut(&Bench)) -> Bench {
    let mut bench = Bench::new();
    for step in steps {
        if let Step::Wait(s) = step {
            bench.clock.advance(Duration::from_millis(s * 97));
            bench.recorder.tick().unwrap();
        }
        if let Some(command) = command(&bench, step) {
            let _ = bench.recorder.command(command);
        }
        after(&bench);
    }
    bench
}

/// Reads the journal alone, with none of the program's own state: was everything in order when pulses were counted?
fn judge(events: &[(Stamp, Event)]) -> Result<(), String> {
    let mut good: BTreeSet<String> = BTreeSet::new();
    let mut confirmed: BTreeMap<String, fadewright::plan::Setting> = BTreeMap::new();
    let mut running: Option<(String, u8)> = None;
    let mut last_wavelength: Option<f64> = None;
    let needed = ["operator", "consent", "lesion", "eyewear-worn", "shields"];
    for (stamp, event) in events {
        match event {
            Event::CheckAnswered { item, answer: Answer::No { .. } } => {
                good.remove(item);
            }
            Event::CheckAnswered { item, .. } => {
                good.insert(item.clone());
            }
            Event::EyewearJudged { item, worn, verdict, .. } => {
                if (worn.text() == Some("pair A")) != (*verdict == Verdict::Pass) {
                    return Err(format!("{}: {worn:?} was judged {verdict:?}", stamp.seq));
                }
                if *verdict == Verdict::Pass {
                    good.insert(item.clone());
                } else {
                    good.remove(item);
                }
            }
            Event::CheckOverridden { item, .. } => {
                if item == "lesion" {
                    return Err(format!("{}: a hard stop was overridden", stamp.seq));
                }
                good.insert(item.clone());
            }
            Event::SettingConfirmed { zone, displayed } => {
                // The device has one setting at a time.
                confirmed.retain(|_, setting| *setting == displayed.setting);
                confirmed.insert(zone.to_string(), displayed.setting);
                let nm = displayed.setting.wavelength.nm();
                if last_wavelength.is_some_and(|w| w != nm) {
                    good.remove("eyewear-worn");
                }
                last_wavelength = Some(nm);
            }
            Event::SettingChanged { zone, .. } | Event::SettingMismatched { zone, .. } => {
                confirmed.remove(zone.as_str());
            }
            Event::PassStarted { zone, pass } => running = Some((zone.to_string(), *pass)),
            Event::PassEnded { .. } => running = None,
            Event::PulsesFired { zone, pass, n, .. } => {
                if running != Some((zone.to_string(), *pass)) {
                    return Err(format!("{}: pulses outside their pass", stamp.seq));
                }
                if *n == 0 {
                    return Err(format!("{}: an entry of no pulses", stamp.seq));
                }
                if let Some(missing) = needed.iter().find(|i| !good.contains(**i)) {
                    return Err(format!("{}: pulses before '{missing}' was answered", stamp.seq));
                }
                if !confirmed.contains_key(zone.as_str()) {
                    return Err(format!("{}: pulses before the read-back of {zone}", stamp.seq));
                }
            }
            _ => {}
        }
    }
    Ok(())
}

/// Pulses by a second book-keeping that only adds and takes away numbers.
fn tally(events: &[(Stamp, Event)]) -> BTreeMap<String, i64> {
    let mut totals: BTreeMap<String, i64> = BTreeMap::new();
    // Entry -> (zone, pulses); the bursts of a train and the pulses of a reading join the entry before them.
    let mut entries: BTreeMap<u64, (String, i64)> = BTreeMap::new();
    let mut order: Vec<u64> = Vec::new();
    let mut train_entry: Option<u64> = None;
    let mut reading: Option<u64> = None;
    let mut zone_now = String::new();
    for (stamp, event) in events {
        let mut keep_reading = false;
        match event {
            Event::PassStarted { zone, .. } => {
                zone_now = zone.to_string();
                order.clear();
                train_entry = None;
            }
            Event::TrainStarted { .. } => train_entry = None,
            Event::CounterRead { .. } => {
                reading = Some(stamp.seq);
                keep_reading = true;
                order.push(stamp.seq);
                entries.insert(stamp.seq, (zone_now.clone(), 0));
            }
            Event::PulsesFired { zone, n, source, .. } => {
                let n = *n as i64;
                *totals.entry(zone.to_string()).or_default() += n;
                let joins = match source {
                    PulseSource::Train => train_entry.filter(|e| order.last() == Some(e)),
                    PulseSource::Counter => reading,
                    _ => None,
                };
                match joins {
                    Some(entry) => entries.get_mut(&entry).unwrap().1 += n,
                    None => {
                        entries.insert(stamp.seq, (zone.to_string(), n));
                        order.push(stamp.seq);
                        if *source == PulseSource::Train {
                            train_entry = Some(stamp.seq);
                        }
                    }
                }
            }
            Event::PulsesCorrected { of, from, to, .. } => {
                if let Some((zone, n)) = entries.get_mut(of) {
                    *n += *to as i64 - *from as i64;
                    *totals.entry(zone.clone()).or_default() += *to as i64 - *from as i64;
                }
            }
            Event::EntryVoided { of } => {
                if let Some((zone, n)) = entries.remove(of) {
                    *totals.entry(zone).or_default() -= n;
                }
                order.retain(|e| e != of);
            }
            Event::ResponseSeen { .. } | Event::WhiteningFaded { .. } => order.push(stamp.seq),
            _ => {}
        }
        if !keep_reading {
            reading = reading.filter(|_| matches!(event, Event::PulsesFired { .. }));
        }
    }
    totals
}

/// What undo must bring back: everything but the clock, the history of advice and what can be undone next.
fn figures(state: &State) -> (Vec<ZoneState>, CounterState, Option<usize>) {
    (state.zones.clone(), state.counter, state.active)
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: ProptestConfig::default().cases.max(400),
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn no_sequence_fires_before_checks_read_back_and_time_out(steps in prop::collection::vec(step(), 1..160)) {
        let bench = play(&steps, |_| {});
        prop_assert_eq!(judge(bench.events()), Ok(()));
    }

    #[test]
    fn replaying_the_journal_gives_the_identical_state(steps in prop::collection::vec(step(), 1..120)) {
        let bench = play(&steps, |_| {});
        let replayed = State::replay(bench.events().iter().map(|(s, e)| (*s, e))).unwrap();
        prop_assert!(replayed == *bench.state(), "replay differs");
        // And through the JSON of the journal.
        let again: Vec<(Stamp, Event)> = bench.events().iter().map(|(s, e)| {
            (*s, serde_json::from_str(&serde_json::to_string(e).unwrap()).unwrap())
        }).collect();
        let reread = State::replay(again.iter().map(|(s, e)| (*s, e))).unwrap();
        prop_assert!(reread == *bench.state(), "replay through JSON differs");
    }

    #[test]
    fn pulses_never_go_below_zero_and_add_up(steps in prop::collection::vec(step(), 1..160)) {
        let bench = play(&steps, |b| {
            for z in &b.state().zones {
                for p in &z.passes {
                    let by = p.by_source;
                    assert_eq!(by.key + by.train + by.typed + by.counter, p.counted, "ways of counting add up");
                    assert_eq!(p.settings.iter().map(|(_, n)| n).sum::<u64>(), p.counted, "settings add up");
                }
            }
            let spans = b.state().trace.spans();
            assert_eq!(spans.iter().map(|s| s.pulses).sum::<u64>(), b.state().total_pulses(), "spans add up");
        });
        let totals = tally(bench.events());
        for (plan, z) in bench.state().opened.plan.zones.iter().zip(&bench.state().zones) {
            let expected = totals.get(plan.id.as_str()).copied().unwrap_or(0);
            prop_assert!(expected >= 0);
            prop_assert_eq!(z.total() as i64, expected, "zone {}", plan.id);
        }
    }

    #[test]
    fn undo_restores_the_earlier_state(
        steps in prop::collection::vec(step(), 40..120), n in 1u64..50, kind in 0usize..Response::ALL_LEN,
    ) {
        let mut bench = Bench::new();
        bench.start(0);
        for s in &steps {
            if let Some(c) = command(&bench, s) { let _ = bench.recorder.command(c); }
        }
        let _ = bench.recorder.command(Command::StopTrain);
        let before = figures(bench.state());
        let kind = <Response as fadewright::words::Word>::ALL[kind];
        let wishes = [
            Command::Fire { n, source: PulseSource::Key },
            Command::See { kind, grade: Some(2), note: String::new() },
            Command::WhiteningFaded { zone: bench.zone_id(0) },
            Command::ReadCounter { reading: bench.state().counter.last.unwrap_or(0) + n, confirm: Some(CounterConfirm::Jump) },
        ];
        for wish in wishes {
            let undoable = bench.state().active.is_some();
            if bench.recorder.command(wish).is_ok() && undoable {
                bench.run(Command::Undo);
                let after = figures(bench.state());
                prop_assert!(after == before, "{:?}\n{:?}", after.0, before.0);
            }
        }
    }

    #[test]
    fn no_setting_or_proposal_is_off_the_ladder_or_above_a_ceiling(steps in prop::collection::vec(step(), 1..160)) {
        let o = fixture::opened(fixture::plan());
        let bench = play(&steps, |_| {});
        let allowed = |s: &fadewright::plan::Setting| setting_problems(s, o.plan.client.skin, &o.device, &o.protocol);
        for (_, e) in bench.events() {
            match e {
                Event::SettingChanged { to, from, advice, .. } => {
                    prop_assert_eq!(allowed(to), vec![]);
                    if advice.is_some() { prop_assert!(to.fluence < from.fluence, "advice never raises"); }
                }
                Event::AdviceRaised(a) => if let (Some(from), Some(to)) = (a.from, a.to) {
                    prop_assert_eq!(allowed(&to), vec![]);
                    prop_assert!(to.fluence < from.fluence);
                },
                _ => {}
            }
        }
    }
}
