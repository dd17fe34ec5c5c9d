//! What is kept of a session against its log, and the quick reader against the careful one.

use super::{Course, QUIET, put, session};
use crate::cli::home;
use fadewright::journal::{read, skim};
use fadewright::review::{AdviceFate, Gatherer, Kept, RecordState, client_course, event_of, statistics, summarise};
use fadewright::session::{Event, Response, Stamp};

pub fn kept(events: &[(Stamp, Event)]) -> Kept {
    let mut gatherer = Gatherer::default();
    for (stamp, event) in events {
        assert!(gatherer.take(*stamp, event.clone()));
    }
    gatherer.finish(RecordState::Sound, None).unwrap()
}

#[test]
fn a_line_has_the_figures_of_the_log() {
    for course in [Course::Quiet, Course::Declined, Course::Blister, Course::Open] {
        let bench = session("CL-1", QUIET, course);
        let (kept, log) = (kept(bench.events()), summarise(bench.events()).unwrap());
        let planned: u64 = log.zones.iter().map(|z| u64::from(z.planned_passes) * z.planned_pulses_per_pass).sum();
        let off = kept.row.planned_even_pulses as f64 / planned as f64;
        assert!((0.7..=1.1).contains(&off), "{off}: without an edge a pass takes about as many");
        assert_eq!(kept.row.pulses, log.pulses);
        assert_eq!(kept.row.events, log.events);
        assert_eq!(kept.row.outcome.map(|o| o.to_string()), log.outcome);
        assert_eq!(kept.row.operator_code.as_deref(), Some("OP-1"));
        assert_eq!(kept.advice.len(), log.advice.len());
        assert_eq!(kept.exposures.iter().map(|e| e.pulses).sum::<u64>(), log.pulses);
        assert_eq!(kept.responses().count(), log.zones.iter().map(|z| z.responses.len()).sum::<usize>());
    }
}

#[test]
fn a_response_belongs_to_the_setting_it_was_seen_at() {
    use fadewright::session::Command;
    let mut bench = crate::fixture::Bench::new();
    bench.start(0);
    bench.see(Response::Redness, Some(1));
    bench.fire(10);
    bench.see(Response::Whitening, Some(1));
    let low = fadewright::plan::Setting {
        fluence: fadewright::units::Fluence::new(2.0).unwrap(),
        ..bench.state().zones[0].target
    };
    let high = bench.state().zones[0].target;
    bench.run(Command::ChangeSetting { zone: bench.zone_id(0), to: low, reason: "lower".to_owned() });
    bench.read_back(0);
    bench.fire(5);
    bench.see(Response::Purpura, Some(1));
    let kept = kept(bench.events());
    let of = |setting| kept.exposures.iter().find(|e| e.setting == setting).unwrap();
    assert_eq!((of(high).pulses, of(high).responses.as_slice()), (10, [Response::Whitening].as_slice()));
    assert_eq!((of(low).pulses, of(low).responses.as_slice()), (5, [Response::Purpura].as_slice()));
    assert_eq!(kept.unexposed, [Response::Redness], "seen before any pulse");
}

#[test]
fn statistics_count_each_zone_at_one_setting_once() {
    let all: Vec<Kept> = [Course::Quiet, Course::Declined, Course::Declined, Course::Blister]
        .map(|course| kept(session("CL-1", QUIET, course).events()))
        .into();
    let s = statistics(&all, false);
    assert_eq!((s.sessions, s.exposures, s.left_out_damaged), (4, 4, 0));
    let [group] = s.groups.as_slice() else { panic!("{:?}", s.groups) };
    let seen = |kind| group.responses.iter().find(|r| r.response == kind).map_or(0, |r| r.seen);
    assert_eq!((seen(Response::PinpointBleeding), seen(Response::Blister)), (2, 1));
    let declined = s.advice_by_rule.iter().map(|a| a.declined).sum::<u64>();
    let by_hand = all.iter().flat_map(|k| &k.advice).filter(|a| a.answer == AdviceFate::Declined).count() as u64;
    assert!(declined == by_hand && declined >= 2);
    // Three seconds pass before each answer.
    let bleeding = s.advice_by_rule.iter().find(|a| a.rule.as_deref() == Some("pinpoint-bleeding")).unwrap();
    assert_eq!((bleeding.raised, bleeding.answer_median_s), (2, Some(3.0)));
    let mut damaged = all.clone();
    damaged[3].row.record = RecordState::Damaged;
    let s = statistics(&damaged, false);
    assert_eq!((s.sessions, s.left_out_damaged), (3, 1));
    assert!(s.responses.iter().all(|r| r.response != Response::Blister));
    // Practice is never among treatments.
    damaged[0].row.practice = Some("first-script".to_owned());
    assert_eq!((statistics(&damaged, false).sessions, statistics(&damaged, true).sessions), (2, 1));
}

#[test]
fn a_course_tells_the_weeks_between_sessions() {
    let mut all: Vec<Kept> = (0..3).map(|_| kept(session("CL-1", QUIET, Course::Quiet).events())).collect();
    for (k, date) in all.iter_mut().zip(["2026-11-24", "2026-08-04", "2026-09-29"]) {
        k.row.date = Some(date.parse().unwrap());
    }
    let course = client_course("cl-1", &all).unwrap();
    let weeks: Vec<_> = course.sessions.iter().map(|s| s.interval_weeks).collect();
    assert_eq!(weeks, [None, Some(8.0), Some(8.0)]);
    assert!(client_course("CL-9", &all).is_none());
}

#[test]
fn the_quick_reader_reads_what_the_careful_one_reads_and_believes_no_changed_byte() {
    let home = home();
    let bench = session("CL-1", QUIET, Course::Declined);
    let path = put(&home.path().join("data"), QUIET, &bench);
    let careful = read::<Event>(&path).unwrap();
    let mut quick = Vec::new();
    let mut buffer = Vec::new();
    let found = skim(&path, &mut buffer, |r| {
        quick.push((r.seq, r.at, r.mono_ms, event_of(&r.event).unwrap()));
        true
    });
    let found = found.unwrap().unwrap();
    let expected: Vec<_> = careful.records.iter().map(|r| (r.seq, r.at, r.mono_ms, r.event.clone())).collect();
    assert!(quick == expected && found.records == quick.len() as u64);
    assert_eq!(careful.verdict, fadewright::journal::Verdict::Clean { head: found.head });
    assert_eq!(careful.notes, found.notes);
    let bytes = std::fs::read(&path).unwrap();
    // Every byte of the last lines, and every hundredth of the rest; and a cut at each of these places.
    let places = (0..bytes.len()).filter(|i| i % 100 == 0 || i + 1500 > bytes.len());
    for at in places {
        let mut changed = bytes.clone();
        changed[at] ^= 1;
        std::fs::write(&path, &changed).unwrap();
        assert!(skim(&path, &mut buffer, |_| true).unwrap().is_none(), "byte {at} was changed");
        std::fs::write(&path, &bytes[..at]).unwrap();
        let whole = skim(&path, &mut buffer, |_| true).unwrap();
        assert!(whole.is_none() || bytes[..at].ends_with(b"}\n"), "cut at {at}");
    }
}
