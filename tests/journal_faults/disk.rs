//! Disks that are slow or fail: nothing is called saved that is not, and nothing is lost with a file.

use super::doubles::{Call, FakeFile, Plan};
use super::{Event, Scene, at, event, lines, quiet};
use fadewright::journal::{Ack, DataDir, JournalError, Writer, read, verify_file};
use std::path::Path;
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

const N: u32 = 9;
const SOON: Duration = Duration::from_secs(20);

fn on(file: &FakeFile, notes: &FakeFile) -> (Writer<Event>, Receiver<Ack>) {
    let (sender, acks) = channel();
    let id = super::id("20261124-224801-7K3M9Q");
    let report = move |ack| drop(sender.send(ack));
    (Writer::with_file(&id, Box::new(file.clone()), Box::new(notes.clone()), report).unwrap(), acks)
}

/// Runs a session in which each event is waited for, so that each is one write.
fn run(plan: Plan, notes: Plan) -> (FakeFile, FakeFile, Vec<Ack>, Result<(), JournalError>) {
    let (file, notes) = (FakeFile::new(plan), FakeFile::new(notes));
    let (mut writer, acks) = on(&file, &notes);
    for i in 0..N {
        assert_eq!(writer.append(at(i), 0, &event(i)).unwrap(), u64::from(i) + 1);
        let _ = writer.wait_saved(SOON);
    }
    let closed = writer.close();
    (file, notes, acks.iter().collect(), closed)
}

/// What a program finds that starts on a disk which holds these bytes.
fn recovered(journal: &[u8], notes: &[u8]) -> u64 {
    let scene = Scene::with(0);
    std::fs::write(&scene.path, journal).unwrap();
    std::fs::write(scene.path.with_extension("notes.jsonl"), notes).unwrap();
    let resumed = Writer::<Event>::resume(&scene.path, quiet).unwrap();
    let count = resumed.records.len();
    for (i, record) in (0..).zip(&resumed.records) {
        assert_eq!(record.event, event(i));
    }
    resumed.writer.close().unwrap();
    count as u64
}

/// The law of every failing run; returns the last acknowledged event.
fn law(what: &str, (file, notes, acks, closed): &(FakeFile, FakeFile, Vec<Ack>, Result<(), JournalError>)) -> u64 {
    let acked = acks.iter().filter_map(|ack| if let Ack::Saved { upto_seq } = ack { Some(*upto_seq) } else { None });
    let acked = acked.max().unwrap_or(0);
    let (disk, notes) = (file.disk.lock().unwrap(), notes.disk.lock().unwrap());
    let failures: Vec<_> = acks.iter().filter(|ack| matches!(ack, Ack::Failed { .. })).collect();
    if let Some(Ack::Failed { since_seq, .. }) = failures.first() {
        assert_eq!(*since_seq, acked + 1, "{what}");
        assert_eq!(failures.len(), 1, "{what}: said once");
        assert!(matches!(acks.last(), Some(Ack::Failed { .. })), "{what}: nothing after an error");
        assert!(matches!(closed, Err(JournalError::Unsaved { since_seq: since, .. }) if since == since_seq), "{what}");
    } else {
        assert_eq!(acked, u64::from(N), "{what}");
        assert!(closed.is_ok());
    }
    // One event was under way at most, since each was waited for.
    for (state, journal) in [("power cut", &disk.synced), ("kill", &disk.written)] {
        let found = recovered(journal, &notes.written);
        assert!((acked..=acked + 1).contains(&found), "{what}, {state}: {acked} acknowledged, {found} found");
    }
    acked
}

#[test]
fn each_call_failing_in_turn_loses_nothing_acknowledged_and_is_not_tried_again() {
    type Make = fn(usize) -> (Plan, Plan);
    let plans: [(&str, Make); 6] = [
        ("append", |n| (Plan { append: Some((n, 0)), ..Plan::default() }, Plan::default())),
        ("short append", |n| (Plan { append: Some((n, 100)), ..Plan::default() }, Plan::default())),
        ("sync", |n| (Plan { sync: Some(n), ..Plan::default() }, Plan::default())),
        ("check", |n| (Plan { check: Some(n), ..Plan::default() }, Plan::default())),
        ("notes append", |n| (Plan::default(), Plan { append: Some((n, 9)), ..Plan::default() })),
        ("notes sync", |n| (Plan::default(), Plan { sync: Some(n), ..Plan::default() })),
    ];
    for (what, plan) in plans {
        let mut failing_runs = 0;
        for n in 1.. {
            let (journal, notes) = plan(n);
            let outcome = run(journal, notes);
            let acked = law(&format!("{what} {n}"), &outcome);
            if outcome.3.is_ok() {
                break;
            }
            failing_runs += 1;
            let disk = outcome.0.disk.lock().unwrap();
            let syncs = disk.count(|call| *call == Call::Sync);
            let appends = disk.count(|call| matches!(call, Call::Append(_)));
            assert!(syncs <= appends && appends as u64 <= acked + 1, "{what} {n}: tried again");
        }
        let texts = (0..N).filter(|&i| matches!(event(i), Event::Note { .. })).count();
        assert_eq!(failing_runs, if what.starts_with("notes") { texts } else { N as usize }, "{what}");
    }
}

#[test]
fn a_disk_that_fills_at_any_byte_leaves_whole_records_and_a_torn_end() {
    let (file, ..) = run(Plan::default(), Plan::default());
    let whole = file.disk.lock().unwrap().written.len();
    for capacity in (0..whole).step_by(89) {
        let outcome = run(Plan { capacity: Some(capacity), ..Plan::default() }, Plan::default());
        law(&format!("capacity {capacity}"), &outcome);
        assert!(outcome.3.is_err());
    }
}

#[test]
fn each_record_is_written_then_synced_then_checked_then_acknowledged() {
    let (file, notes, acks, _) = run(Plan::default(), Plan::default());
    let disk = file.disk.lock().unwrap();
    let mut length = 0;
    for (calls, line) in disk.calls.chunks(3).zip(lines(&disk.written)) {
        length += line.len() as u64;
        assert_eq!(calls, [Call::Append(line.len()), Call::Sync, Call::Check(length)]);
    }
    let saved: Vec<_> = (1..=u64::from(N)).map(|upto_seq| Ack::Saved { upto_seq }).collect();
    assert_eq!(acks, saved);
    assert!(!notes.disk.lock().unwrap().calls.is_empty());
}

#[test]
fn a_slow_disk_never_holds_up_the_caller() {
    let file = FakeFile::new(Plan { sync_takes: Duration::from_millis(500), ..Plan::default() });
    let (mut writer, acks) = on(&file, &FakeFile::default());
    for i in 0..100 {
        writer.append(at(i), 0, &Event::Pulses { n: i }).unwrap();
    }
    // All hundred are handed over while the first sync is still under way.
    assert_eq!((writer.last_seq(), writer.saved_upto(), writer.failure()), (100, 0, None));
    assert!(!writer.wait_saved(Duration::ZERO));
    assert!(writer.wait_saved(SOON));
    writer.close().unwrap();
    let acks: Vec<_> = acks.iter().collect();
    assert_eq!(acks.last(), Some(&Ack::Saved { upto_seq: 100 }));
    assert!(acks.len() <= 3, "what waits is written in one go: {acks:?}");
}

#[test]
fn after_a_failure_the_session_goes_on_in_another_directory() {
    let file = FakeFile::new(Plan { sync: Some(4), ..Plan::default() });
    let (mut writer, acks) = on(&file, &FakeFile::default());
    for i in 0..N {
        writer.append(at(i), 0, &event(i)).unwrap();
        let _ = writer.wait_saved(SOON);
    }
    assert_eq!(writer.failure(), Some((4, "planned sync error".to_owned())));
    assert_eq!((writer.saved_upto(), writer.last_seq()), (3, u64::from(N)));
    let before = file.disk.lock().unwrap().calls.len();

    let elsewhere = tempfile::tempdir().unwrap();
    assert!(writer.continue_in(&elsewhere.path().join("absent")).is_err());
    assert!(writer.failure().is_some(), "a failed try changes nothing");
    let path = writer.continue_in(elsewhere.path()).unwrap();
    assert_eq!((writer.failure(), writer.saved_upto(), writer.path()), (None, u64::from(N), path.as_path()));
    for i in N..N + 5 {
        writer.append(at(i), 0, &event(i)).unwrap();
    }
    writer.close().unwrap();

    let continued = std::fs::read(&path).unwrap();
    let old = file.disk.lock().unwrap();
    assert!(continued.starts_with(&old.written), "byte for byte what was there, and more");
    assert_eq!(old.calls.len(), before, "the old file is left alone");
    let report = verify_file(&path).unwrap();
    assert!(report.is_ok(), "{report:?}");
    assert_eq!((report.records, report.notes.joined, report.notes.erased), (u64::from(N) + 5, 3, 0));
    let back = read::<Event>(&path).unwrap();
    assert!((0..).zip(&back.records).all(|(i, record)| record.event == event(i)));
    let last = acks.iter().last();
    assert_eq!(last, Some(Ack::Saved { upto_seq: u64::from(N) + 5 }));
}

#[test]
fn a_sound_session_can_move_too_and_nothing_is_written_over() {
    let scene = Scene::empty();
    let mut writer = scene.writer();
    for i in 0..N {
        writer.append(at(i), 0, &event(i)).unwrap();
    }
    assert!(writer.wait_saved(SOON));
    let same = writer.continue_in(scene.path.parent().unwrap());
    assert!(matches!(same, Err(JournalError::Exists { .. })));
    let elsewhere = scene.temp.path().join("stick");
    std::fs::create_dir(&elsewhere).unwrap();
    // The notes' name is taken: the journal made so far must not stay behind.
    let notes = elsewhere.join("20261124-224801-7K3M9Q.notes.jsonl");
    std::fs::write(&notes, "someone's").unwrap();
    assert!(matches!(writer.continue_in(&elsewhere), Err(JournalError::Exists { .. })));
    assert_eq!((super::tree(&elsewhere), std::fs::read(&notes).unwrap()), (vec![notes.clone()], b"someone's".to_vec()));
    std::fs::remove_file(&notes).unwrap();
    let old = scene.bytes();
    let path = writer.continue_in(&elsewhere).unwrap();
    writer.append(at(N), 0, &event(N)).unwrap();
    writer.close().unwrap();
    assert_eq!(scene.bytes(), old);
    assert_eq!(verify_file(&path).unwrap().records, u64::from(N) + 1);
    let resumed = Writer::<Event>::resume(&path, quiet).unwrap();
    assert_eq!(resumed.records.len(), N as usize + 1);
}

#[test]
fn a_file_changed_underneath_is_noticed_at_the_next_append() {
    type Change = fn(&Path);
    let changes: [(&str, Change); 6] = [
        ("removed", |path| std::fs::remove_file(path).unwrap()),
        ("renamed", |path| std::fs::rename(path, path.with_extension("bak")).unwrap()),
        ("replaced", |path| {
            let copy = path.with_extension("copy");
            std::fs::copy(path, &copy).unwrap();
            std::fs::rename(copy, path).unwrap();
        }),
        ("cut", |path| std::fs::File::options().write(true).open(path).unwrap().set_len(10).unwrap()),
        ("added to", |path| {
            let mut file = std::fs::File::options().append(true).open(path).unwrap();
            std::io::Write::write_all(&mut file, b"x").unwrap();
        }),
        ("directory gone", |path| std::fs::remove_dir_all(path.parent().unwrap()).unwrap()),
    ];
    for (what, change) in changes {
        let scene = Scene::empty();
        let mut writer = scene.writer();
        writer.append(at(0), 0, &event(0)).unwrap();
        assert!(writer.wait_saved(SOON));
        change(&scene.path);
        writer.append(at(1), 0, &event(1)).unwrap();
        assert!(!writer.wait_saved(SOON), "{what}");
        assert_eq!(writer.failure().unwrap().0, 2, "{what}");
        let elsewhere = scene.temp.path().join("elsewhere");
        std::fs::create_dir(&elsewhere).unwrap();
        let path = writer.continue_in(&elsewhere).unwrap();
        writer.close().unwrap();
        assert_eq!(verify_file(&path).unwrap().records, 2, "{what}");
    }
}

#[test]
fn a_writing_thread_that_dies_is_told_and_not_waited_for() {
    struct Dying;
    impl fadewright::journal::JournalFile for Dying {
        fn append(&mut self, _: &[u8]) -> std::io::Result<()> {
            std::panic::resume_unwind(Box::new("planned"))
        }
        fn sync_data(&mut self) -> std::io::Result<()> {
            Ok(())
        }
        fn check(&mut self, _: u64) -> std::io::Result<()> {
            Ok(())
        }
    }
    let id = super::id("20261124-224801-7K3M9Q");
    let mut writer = Writer::<Event>::with_file(&id, Box::new(Dying), Box::new(Dying), quiet).unwrap();
    writer.append(at(0), 0, &Event::Pulses { n: 1 }).unwrap();
    assert!(!writer.wait_saved(SOON));
    assert_eq!(writer.failure().unwrap().0, 1);
    assert!(matches!(writer.close(), Err(JournalError::Unsaved { since_seq: 1, .. })));
}

#[test]
fn an_event_that_is_no_line_is_refused_and_takes_no_number() {
    let scene = Scene::empty();
    let mut writer = scene.writer();
    let long = Event::Seen { what: "x".repeat(fadewright::journal::MAX_LINE), grade: None };
    assert!(matches!(writer.append(at(0), 0, &long), Err(JournalError::Event { .. })));
    assert_eq!(writer.append(at(0), 0, &event(0)).unwrap(), 1);
    writer.close().unwrap();
    let mut writer = Writer::<serde_json::Value>::resume(&scene.path, quiet).unwrap().writer;
    let deep = (0..120).fold(serde_json::Value::Null, |inner, _| serde_json::json!([inner]));
    assert!(matches!(writer.append(at(1), 0, &deep), Err(JournalError::Event { .. })));
    let fine = (0..90).fold(serde_json::Value::Null, |inner, _| serde_json::json!([inner]));
    assert_eq!(writer.append(at(1), 0, &fine).unwrap(), 2);
    writer.close().unwrap();
    assert_eq!(read::<serde_json::Value>(&scene.path).unwrap().records[1].event, fine);
}

#[test]
fn space_set_aside_is_given_back_at_the_end() {
    use std::os::unix::fs::MetadataExt;
    let scene = Scene::with(N);
    let data = std::fs::metadata(&scene.path).unwrap();
    assert!(data.blocks() * 512 < data.size() + 64 * 1024, "{} blocks for {} bytes", data.blocks(), data.size());
    assert!(DataDir::open(scene.dir.root()).is_ok());
}
