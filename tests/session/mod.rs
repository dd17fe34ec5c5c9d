//! The session core by example.

mod eyewear;

use crate::fixture::{Bench, plan};
use fadewright::plan::Medicine;
use fadewright::protocol::CheckPhase;
use fadewright::session::*;

#[test]
fn the_gates_stand_in_order_and_say_what_to_do() {
    let mut bench = Bench::new();
    let zone = bench.zone_id(0);
    let start = |b: &mut Bench| b.refused(Command::StartPass { zone: zone.clone() });
    assert_eq!(start(&mut bench).id, "gate.checks");
    assert_eq!(bench.refused(Command::CheckYes { item: "eyewear-worn".to_owned() }).id, "check.order");
    bench.answer_all(CheckPhase::SignIn);
    assert_eq!(start(&mut bench).id, "gate.read-back");
    bench.read_back(0);
    let refusal = start(&mut bench);
    assert_eq!(refusal.id, "gate.checks");
    assert!(refusal.message.contains("time-out"), "{refusal}");
    bench.answer_all(CheckPhase::TimeOut);
    bench.run(Command::StartPass { zone });
    bench.fire(1);
}

#[test]
fn a_no_blocks_until_it_is_overridden_and_stays_in_the_record() {
    let mut bench = Bench::new();
    assert_eq!(bench.refused(Command::CheckNo { item: "consent".to_owned(), why: " ".to_owned() }).id, "check.reason");
    bench.answer_all(CheckPhase::SignIn);
    bench.run(Command::CheckNo { item: "consent".to_owned(), why: "form missing".to_owned() });
    assert_eq!(bench.state().items_in_the_way(CheckPhase::SignIn), 1);
    let over = |by: &str| Command::CheckOverride {
        item: "consent".to_owned(),
        by: by.to_owned(),
        role: "supervisor".to_owned(),
        reason: "signed on paper".to_owned(),
    };
    assert_eq!(bench.refused(over("")).id, "check.reason");
    bench.run(over("SUP-2"));
    assert_eq!(bench.state().items_in_the_way(CheckPhase::SignIn), 0);
    assert_eq!(bench.state().deviations.len(), 2, "the no and the override both stay");
}

#[test]
fn a_hard_stop_cannot_be_overridden_and_closes_as_refused() {
    let mut p = plan();
    p.history.medicines = vec![Medicine::Gold];
    let mut bench = Bench::with(p);
    bench.answer_all(CheckPhase::SignIn);
    let over = Command::CheckOverride {
        item: "gold".to_owned(),
        by: "SUP-2".to_owned(),
        role: "supervisor".to_owned(),
        reason: "long ago".to_owned(),
    };
    assert_eq!(bench.refused(over).id, "check.hard-stop");
    bench.read_back(0);
    assert_eq!(bench.refused(Command::StartPass { zone: bench.zone_id(0) }).id, "gate.hard-stop");
    bench.run(Command::Close { outcome: SessionOutcome::Refused, note: String::new() });
    assert_eq!(bench.state().closed.as_ref().unwrap().outcome, SessionOutcome::Refused);
    assert_eq!(bench.refused(Command::Note { text: "late".to_owned() }).id, "session.closed");
}

#[test]
fn a_mismatch_shows_both_values_and_blocks() {
    let mut bench = Bench::new();
    bench.answer_all(CheckPhase::SignIn);
    bench.answer_all(CheckPhase::TimeOut);
    let mut displayed = bench.displayed(0);
    displayed.setting.spot = fadewright::units::SpotDiameter::new(3.0).unwrap();
    bench.run(Command::ReadBack { zone: bench.zone_id(0), displayed });
    let found = &bench.state().zones[0].mismatch;
    let spot = found.iter().find(|d| d.what == "spot").unwrap();
    assert_eq!((spot.wanted.as_str(), spot.shown.as_str()), ("4 mm", "3 mm"));
    // 3 J/cm2 over 3 mm would be 0.212 J; the display says 0.377 J.
    assert!(found.iter().any(|d| d.what.starts_with("energy") && d.wanted.contains("0.212 J")), "{found:?}");
    assert_eq!(bench.refused(Command::StartPass { zone: bench.zone_id(0) }).id, "gate.read-back");
    bench.read_back(0);
    bench.run(Command::StartPass { zone: bench.zone_id(0) });
}

#[test]
fn another_wavelength_asks_for_the_eyewear_again() {
    let mut bench = Bench::new();
    bench.start(0);
    bench.fire(3);
    bench.run(Command::EndPass { explanation: None });
    bench.read_back(1);
    let refusal = bench.refused(Command::StartPass { zone: bench.zone_id(1) });
    assert_eq!(refusal.id, "gate.checks");
    bench.run(Command::CheckValue { item: "eyewear-worn".to_owned(), value: "pair A".to_owned() });
    bench.run(Command::StartPass { zone: bench.zone_id(1) });
}

#[test]
fn a_train_counts_by_rate_and_time() {
    let mut bench = Bench::new();
    bench.start(0);
    bench.run(Command::StartTrain);
    assert_eq!(bench.refused(Command::Fire { n: 1, source: PulseSource::Key }).id, "train.running");
    for _ in 0..4 {
        bench.clock.advance(std::time::Duration::from_millis(500));
        bench.recorder.tick().unwrap();
    }
    bench.run(Command::StopTrain);
    // 5 Hz for 2 s: pulses at 0.0, 0.2, ... 2.0 s.
    assert_eq!(bench.state().total_pulses(), 11);
    // The bursts are one entry to correct.
    bench.run(Command::CorrectLast { to: 10 });
    assert_eq!(bench.state().total_pulses(), 10);
    bench.run(Command::Undo);
    assert_eq!(bench.state().total_pulses(), 0);
}

#[test]
fn a_train_does_not_count_while_the_machine_slept() {
    let mut bench = Bench::new();
    bench.start(0);
    bench.run(Command::StartTrain);
    bench.wait(1);
    bench.wait(600);
    assert!(bench.state().train.is_none());
    assert_eq!(bench.state().total_pulses(), 6, "1 s at 5 Hz, not ten minutes");
}

fn counter(bench: &mut Bench, reading: u64) {
    bench.run(Command::ReadCounter { reading, confirm: None });
}

#[test]
fn the_devices_counter_counts_by_difference() {
    let mut bench = Bench::new();
    bench.start(0);
    counter(&mut bench, 120_400);
    assert_eq!(bench.state().total_pulses(), 0, "the first reading is where counting begins");
    bench.wait(20);
    counter(&mut bench, 120_452);
    assert_eq!(bench.state().total_pulses(), 52);
    bench.run(Command::EndPass { explanation: None });
    let pass = &bench.state().zones[0].passes[0];
    assert_eq!((pass.counted, pass.device), (52, Some(52)));
}

#[test]
fn a_lower_reading_a_jump_and_a_roll_over_are_asked_back() {
    let mut bench = Bench::new();
    bench.start(0);
    counter(&mut bench, 999_990);
    bench.wait(10);
    let lower = bench.refused(Command::ReadCounter { reading: 20, confirm: None });
    assert_eq!(lower.ask, Some(Ask::CounterLower { before: 999_990, if_rolled_over: Some(30) }));
    bench.run(Command::ReadCounter { reading: 20, confirm: Some(CounterConfirm::RolledOver) });
    assert_eq!(bench.state().total_pulses(), 30);
    let jump = bench.refused(Command::ReadCounter { reading: 5_000, confirm: None });
    assert!(matches!(jump.ask, Some(Ask::CounterJump { difference: 4_980, .. })), "{jump:?}");
    assert_eq!(bench.state().total_pulses(), 30);
    let restarted = bench.refused(Command::ReadCounter { reading: 3, confirm: None });
    assert_eq!(restarted.ask, Some(Ask::CounterLower { before: 20, if_rolled_over: None }));
    bench.run(Command::ReadCounter { reading: 3, confirm: Some(CounterConfirm::Restarted) });
    assert_eq!(bench.state().total_pulses(), 30);
    bench.wait(10);
    counter(&mut bench, 10);
    assert_eq!(bench.state().total_pulses(), 37);
    assert_eq!(bench.refused(Command::ReadCounter { reading: 1_000_000, confirm: None }).id, "counter.digits");
}

#[test]
fn counted_and_device_figures_are_reconciled_at_the_end_of_the_pass() {
    let mut bench = Bench::new();
    bench.start(0);
    counter(&mut bench, 1_000);
    bench.see(Response::Whitening, Some(2));
    for _ in 0..100 {
        bench.run(Command::Fire { n: 1, source: PulseSource::Key });
    }
    bench.wait(30);
    counter(&mut bench, 1_104);
    // 2 % of 104 is 2.08: a difference of 4 must be explained.
    let refusal = bench.refused(Command::EndPass { explanation: None });
    assert_eq!(refusal.ask, Some(Ask::ExplainDifference { counted: 100, device: 104 }));
    bench.run(Command::EndPass { explanation: Some("four pulses into the test card".to_owned()) });
    let pass = &bench.state().zones[0].passes[0];
    assert_eq!((pass.counted, pass.device), (100, Some(104)));
    assert!(pass.explanation.is_some());
}

#[test]
fn the_devices_figure_can_be_taken_instead() {
    let mut bench = Bench::new();
    bench.start(0);
    counter(&mut bench, 1_000);
    bench.see(Response::Whitening, Some(2));
    bench.fire(50);
    bench.wait(30);
    counter(&mut bench, 1_047);
    bench.run(Command::TakeDeviceFigure);
    assert_eq!(bench.state().total_pulses(), 47);
    bench.run(Command::EndPass { explanation: None });
    assert_eq!(bench.state().zones[0].passes[0].device, Some(47));
}

#[test]
fn a_session_that_is_cut_off_and_resumed_keeps_its_waits() {
    let mut bench = Bench::new();
    bench.start(0);
    bench.see(Response::Whitening, Some(2));
    bench.fire(100);
    bench.run(Command::EndPass { explanation: None });
    bench.run(Command::WhiteningFaded { zone: bench.zone_id(0) });
    bench.wait(60);
    bench.run(Command::Interrupt { cause: "SIGTERM".to_owned() });
    let before = bench.state().last_ms();
    // Another process: its monotonic clock starts at zero, the wall clock went on for ten minutes.
    let mut state = bench.state().clone();
    let at = state.last.at + chrono::Duration::minutes(10);
    state.apply(
        Stamp { seq: state.last.seq + 1, at, mono_ms: 5 },
        &Event::SessionResumed { recovery: "clean".to_owned(), program: "test".to_owned() },
    );
    assert_eq!(state.last_ms(), before + 600_000);
    let now = fadewright::clock::Now { wall: at, mono_ms: 1_005 };
    assert_eq!(state.session_ms(now), before + 601_000);
}

#[test]
fn closing_asks_for_what_is_missing_and_names_the_next_date() {
    let mut bench = Bench::new();
    bench.start(0);
    bench.see(Response::Whitening, Some(2));
    bench.fire(100);
    let close = || Command::Close { outcome: SessionOutcome::Completed, note: String::new() };
    assert_eq!(bench.refused(close()).id, "pass.running");
    bench.run(Command::EndPass { explanation: None });
    assert_eq!(bench.refused(close()).id, "close.sign-out");
    bench.answer_all(CheckPhase::SignOut);
    assert_eq!(bench.refused(close()).id, "close.zones");
    for zone in [0, 1] {
        let zone = bench.zone_id(zone);
        assert_eq!(bench.refused(Command::EndZone { zone: zone.clone(), reason: None }).id, "zone.reason");
        bench.run(Command::EndZone { zone, reason: Some("enough for today".to_owned()) });
    }
    bench.run(close());
    let closed = bench.state().closed.as_ref().unwrap();
    // Six weeks for skin type III.
    assert_eq!(closed.next_earliest.unwrap().to_string(), "2027-01-05");
    assert_eq!(bench.state().zones[1].outcome, Some(ZoneOutcome::Skipped));
}

#[test]
fn an_event_of_a_later_version_is_kept_and_changes_nothing() {
    let event: Event = serde_json::from_str(r#"{"type":"moon-phase-noted","phase":"full"}"#).unwrap();
    assert_eq!(event, Event::Unknown);
}

#[test]
fn a_remark_belongs_to_the_latest_response_and_to_the_record() {
    let mut bench = Bench::new();
    let remark = |text: &str| Command::NoteResponse { text: text.to_owned() };
    assert_eq!(bench.refused(remark("late")).id, "response.none");
    bench.start(0);
    bench.fire(3);
    bench.see(Response::PinpointBleeding, None);
    assert_eq!(bench.refused(remark("  ")).id, "note.empty");
    bench.run(remark("one vessel at the edge"));
    let response = &bench.state().zones[0].responses[0];
    assert_eq!(response.note.as_ref().and_then(FreeText::text), Some("one vessel at the edge"));
}

#[test]
fn reading_back_one_zone_ends_the_read_back_of_another_setting() {
    let mut bench = Bench::new();
    bench.answer_all(CheckPhase::SignIn);
    bench.read_back(0);
    bench.read_back(1);
    bench.answer_all(CheckPhase::TimeOut);
    let refusal = bench.refused(Command::StartPass { zone: bench.zone_id(0) });
    assert_eq!(refusal.id, "gate.read-back", "the device shows the other zone's setting");
    bench.run(Command::StartPass { zone: bench.zone_id(1) });
}
