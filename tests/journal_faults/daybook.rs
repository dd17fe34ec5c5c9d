//! The day book against missing, shortened, exchanged and unlisted files.

use super::{Event, Scene, at, event, id, lines, quiet};
use fadewright::journal::{DataDir, Finding, JournalError, SessionId, Verdict, Writer, daybook, verify_file};
use std::path::Path;

fn session(dir: &DataDir, id: &SessionId, records: u32, close: bool) {
    let mut writer = Writer::create(dir, id, quiet).unwrap();
    daybook::opened(dir, id, at(0)).unwrap();
    for i in 0..records {
        writer.append(at(i), 0, &event(i)).unwrap();
    }
    let (head, count) = (writer.head(), writer.last_seq());
    writer.close().unwrap();
    if close {
        daybook::closed(dir, id, head, count, at(records)).unwrap();
    }
}

fn three() -> (Scene, [SessionId; 3]) {
    let scene = Scene::empty();
    let ids = ["20261123-090000-AAAAAA", "20261124-090000-BBBBBB", "20261201-090000-CCCCCC"].map(id);
    session(&scene.dir, &ids[0], 5, true);
    session(&scene.dir, &ids[1], 4, false);
    session(&scene.dir, &ids[2], 3, true);
    (scene, ids)
}

#[test]
fn open_sessions_are_those_listed_and_not_closed_and_those_not_listed() {
    let (scene, ids) = three();
    let unlisted = id("20261130-120000-DDDDDD");
    Writer::<Event>::create(&scene.dir, &unlisted, quiet).unwrap().close().unwrap();
    let found = scene.dir.open_sessions().unwrap();
    let open: Vec<_> = found.sessions.iter().map(|open| (&open.id, open.opened_at)).collect();
    assert_eq!(open, [(&unlisted, None), (&ids[1], Some(at(0)))]);
    assert!(found.daybook.is_sound());
    let names: Vec<_> = scene.dir.list().unwrap().into_iter().map(|entry| entry.id).collect();
    assert_eq!(names, [ids[2].clone(), unlisted, ids[1].clone(), ids[0].clone()]);
    daybook::opened(&scene.dir, &ids[0], at(99)).unwrap();
    assert_eq!(scene.dir.open_sessions().unwrap().sessions.last().unwrap().id, ids[0], "opened again after closing");
}

#[test]
fn a_thousand_sessions_are_listed_by_name_alone() {
    let scene = Scene::empty();
    for n in 0..1000 {
        let id = id(&format!("2026{:02}{:02}-{:02}0000-000{n:03}", n % 12 + 1, n % 28 + 1, n % 24));
        let path = scene.dir.journal_path(&id);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        // No journal at all: opening one would be seen.
        std::os::unix::fs::symlink("/nowhere", path).unwrap();
    }
    for stray in
        ["2026/11/20261124-224801-7K3M9Q.notes.jsonl", "2026/11/x.jsonl", "2026/11/20250101-000000-AAAAAA.jsonl"]
    {
        std::fs::write(scene.dir.root().join("sessions").join(stray), "").unwrap();
    }
    let list = scene.dir.list().unwrap();
    assert_eq!(list.len(), 1000);
    assert!(list.windows(2).all(|pair| pair[0].id > pair[1].id));
    assert_eq!(scene.dir.open_sessions().unwrap().sessions.len(), 1000);
}

#[test]
fn the_audit_finds_what_a_chain_alone_cannot() {
    let (scene, ids) = three();
    assert_eq!(daybook::audit(&scene.dir).unwrap(), []);
    let path = scene.dir.journal_path(&ids[0]);
    let whole = std::fs::read(&path).unwrap();

    std::fs::write(&path, lines(&whole)[..3].concat()).unwrap();
    assert!(verify_file(&path).unwrap().is_ok(), "the shortened file is sound in itself");
    let shorter = Finding::Shorter { session: ids[0].clone(), closed_with: 5, found: 3 };
    assert_eq!(daybook::audit(&scene.dir).unwrap(), [shorter]);

    std::fs::remove_file(&path).unwrap();
    assert_eq!(daybook::audit(&scene.dir).unwrap(), [Finding::Missing { session: ids[0].clone() }]);

    let mut forged = Writer::create(&scene.dir, &ids[0], quiet).unwrap();
    for i in 0..5 {
        forged.append(at(i), 0, &Event::Pulses { n: 1 }).unwrap();
    }
    forged.close().unwrap();
    assert!(verify_file(&path).unwrap().is_ok(), "the re-written file is sound in itself");
    let differs = Finding::HeadDiffers { session: ids[0].clone(), count: 5 };
    assert_eq!(daybook::audit(&scene.dir).unwrap(), [differs]);

    let mut damaged = whole.clone();
    damaged[100] ^= 1;
    std::fs::write(&path, damaged).unwrap();
    let findings = daybook::audit(&scene.dir).unwrap();
    assert!(matches!(findings[0], Finding::Damaged { .. }) && matches!(findings[1], Finding::Shorter { found: 0, .. }));

    std::fs::write(&path, &whole).unwrap();
    let mut addendum = Writer::<Event>::resume(&path, quiet).unwrap().writer;
    addendum.append(at(9), 0, &event(5)).unwrap();
    addendum.close().unwrap();
    assert_eq!(daybook::audit(&scene.dir).unwrap(), [], "records after closing are allowed");

    let extra = id("20261130-120000-DDDDDD");
    Writer::<Event>::create(&scene.dir, &extra, quiet).unwrap().close().unwrap();
    assert_eq!(daybook::audit(&scene.dir).unwrap(), [Finding::Unlisted { session: extra }]);
    for finding in findings {
        assert!(finding.to_string().contains(ids[0].as_str()), "{finding}");
    }
}

#[test]
fn a_damaged_day_book_is_told_and_takes_no_entry_while_sessions_go_on() {
    let (scene, ids) = three();
    let path = scene.dir.daybook_path();
    let whole = std::fs::read(&path).unwrap();
    let mut damaged = whole.clone();
    damaged[40] ^= 1;
    std::fs::write(&path, &damaged).unwrap();
    let entry = daybook::opened(&scene.dir, &ids[1], at(7));
    assert!(matches!(entry, Err(JournalError::Damaged { .. })));
    assert_eq!(std::fs::read(&path).unwrap(), damaged);
    assert!(matches!(
        daybook::audit(&scene.dir).unwrap()[0],
        Finding::DayBook { verdict: Verdict::Corrupt { line: 1, .. } }
    ));
    let found = scene.dir.open_sessions().unwrap();
    assert_eq!(found.sessions.len(), 3, "nothing is hidden by it");
    assert!(!found.daybook.is_sound());

    for cut in whole.len() - 300..whole.len() {
        std::fs::write(&path, &whole[..cut]).unwrap();
        if cut % 60 == 0 || cut + 1 == whole.len() {
            daybook::opened(&scene.dir, &ids[1], at(8)).unwrap();
            assert!(scene.dir.open_sessions().unwrap().daybook.is_sound(), "{cut}");
        } else {
            assert!(scene.dir.open_sessions().unwrap().daybook.allows_appending(), "{cut}");
        }
    }
    std::fs::write(&path, scene_line(&scene, &ids[0])).unwrap();
    let borrowed = scene.dir.open_sessions().unwrap().daybook;
    assert!(matches!(borrowed, Verdict::FrontReplaced { .. }), "a session's chain is no day book: {borrowed}");
}

fn scene_line(scene: &Scene, id: &SessionId) -> Vec<u8> {
    lines(&std::fs::read(scene.dir.journal_path(id)).unwrap())[0].clone()
}

#[test]
fn programs_that_share_a_day_book_take_turns() {
    let scene = Scene::empty();
    std::thread::scope(|scope| {
        for thread in 0..4 {
            let dir = scene.dir.clone();
            scope.spawn(move || {
                for n in 0..6 {
                    daybook::opened(&dir, &id(&format!("20261124-1{thread}0{n}00-AAAAAA")), at(n)).unwrap();
                }
            });
        }
    });
    let text = std::fs::read_to_string(scene.dir.daybook_path()).unwrap();
    assert_eq!(text.lines().count(), 24);
    let findings = daybook::audit(&scene.dir).unwrap();
    assert!(findings.len() == 24 && findings.iter().all(|f| matches!(f, Finding::Missing { .. })), "{findings:?}");
    assert!(!Path::new(&scene.path).exists());
}

#[test]
fn a_session_that_was_continued_elsewhere_is_offered_there_and_nowhere_else() {
    let (scene, ids) = three();
    let elsewhere = tempfile::tempdir().unwrap();
    let moved = elsewhere.path().join(ids[1].file_name());
    daybook::continued(&scene.dir, &ids[1], &moved, at(50)).unwrap();
    let open = scene.dir.open_sessions().unwrap().sessions;
    // Also while that file is not there: the one it left lacks its later events.
    assert_eq!(open.iter().map(|s| s.path.clone()).collect::<Vec<_>>(), [moved]);
    assert_eq!(daybook::audit(&scene.dir).unwrap(), vec![], "the file it left is whole as far as it goes");
}
