//! Taking a session up again after a cut: the same answer however often the mending itself is cut off.

use super::{Event, FreeText, Scene, at, event, lines, quiet};
use fadewright::journal::{JournalError, Recovery, Verdict, Writer, read, verify_file};
use std::path::PathBuf;

const N: u32 = 6;

/// A session whose seventh record was cut off after 100 bytes; the cut bytes and where they begin.
fn torn() -> (Scene, Vec<u8>, u64) {
    let scene = Scene::with(N + 1);
    let bytes = scene.bytes();
    let offset = bytes.len() - lines(&bytes)[N as usize].len();
    std::fs::write(&scene.path, &bytes[..offset + 100]).unwrap();
    (scene, bytes[offset..offset + 100].to_vec(), offset as u64)
}

fn aside(scene: &Scene, offset: u64, suffix: &str) -> PathBuf {
    let mut name = scene.path.as_os_str().to_owned();
    name.push(format!(".torn-{offset}{suffix}"));
    name.into()
}

#[test]
fn a_torn_end_is_kept_beside_the_file_and_told() {
    let (scene, tail, offset) = torn();
    let resumed = Writer::<Event>::resume(&scene.path, quiet).unwrap();
    let sha256 = fadewright::journal::Digest::of(&[&tail]);
    let kept_as = aside(&scene, offset, "");
    assert_eq!(std::fs::read(&kept_as).unwrap(), tail);
    assert_eq!(resumed.recovery, Recovery::TornTail { bytes: 100, offset, sha256, kept_as });
    assert_eq!(resumed.records.len(), N as usize);
    assert_eq!((resumed.writer.last_seq(), resumed.writer.saved_upto()), (N.into(), N.into()));
}

#[test]
fn mending_that_was_cut_off_itself_is_taken_up_at_any_point() {
    // The states that a cut-off mending can leave: its copy begun, its copy whole, its end cut, its line ended.
    for copied in [0, 1, 99, 100] {
        let (scene, tail, offset) = torn();
        std::fs::write(aside(&scene, offset, ""), &tail[..copied]).unwrap();
        let resumed = Writer::<Event>::resume(&scene.path, quiet).unwrap();
        let Recovery::TornTail { kept_as, .. } = &resumed.recovery else { panic!("{:?}", resumed.recovery) };
        assert_eq!(*kept_as, aside(&scene, offset, if copied == 100 { "" } else { "-2" }));
        assert_eq!(std::fs::read(kept_as).unwrap(), tail);
        drop(resumed);
        let again = Writer::<Event>::resume(&scene.path, quiet).unwrap();
        assert_eq!((again.recovery, again.records.len()), (Recovery::Clean, N as usize));
    }
}

#[test]
fn tears_at_the_same_place_are_all_kept() {
    let (scene, first, offset) = torn();
    let whole = std::fs::read(&scene.path).unwrap()[..offset as usize].to_vec();
    drop(Writer::<Event>::resume(&scene.path, quiet).unwrap());
    std::fs::write(&scene.path, [&whole, &b"another"[..]].concat()).unwrap();
    drop(Writer::<Event>::resume(&scene.path, quiet).unwrap());
    assert_eq!(std::fs::read(aside(&scene, offset, "")).unwrap(), first);
    assert_eq!(std::fs::read(aside(&scene, offset, "-2")).unwrap(), b"another");
    assert_eq!(scene.bytes(), whole);
}

#[test]
fn a_last_record_without_its_line_end_is_kept_and_ended() {
    let scene = Scene::with(N);
    let whole = scene.bytes();
    std::fs::write(&scene.path, &whole[..whole.len() - 1]).unwrap();
    assert!(matches!(read::<Event>(&scene.path).unwrap().verdict, Verdict::Unterminated { .. }));
    let resumed = Writer::<Event>::resume(&scene.path, quiet).unwrap();
    assert_eq!((&resumed.recovery, resumed.records.len()), (&Recovery::Unterminated, N as usize));
    assert_eq!(scene.bytes(), whole);
}

#[test]
fn a_session_goes_on_exactly_where_it_was_left() {
    let once = Scene::with(12);
    let parts = Scene::with(5);
    let Ok(resumed) = Writer::<Event>::resume(&parts.path, quiet) else { panic!() };
    let mut writer = resumed.writer;
    for i in 5..12 {
        writer.append(at(i), u64::from(i) * 1000, &event(i)).unwrap();
    }
    let (head, count) = (writer.head(), writer.last_seq());
    writer.close().unwrap();
    let back = read::<Event>(&parts.path).unwrap();
    assert_eq!(back.records, read::<Event>(&once.path).unwrap().records);
    assert_eq!((back.verdict, count), (Verdict::Clean { head }, 12));
}

#[test]
fn one_writer_holds_a_session_and_readers_are_free() {
    let scene = Scene::empty();
    let mut writer = scene.writer();
    writer.append(at(0), 0, &event(0)).unwrap();
    assert!(writer.wait_saved(std::time::Duration::from_secs(20)));
    let second = Writer::<Event>::resume(&scene.path, quiet);
    assert!(matches!(second, Err(JournalError::HeldElsewhere { .. })));
    assert!(matches!(Writer::<Event>::create(&scene.dir, &scene.id, quiet), Err(JournalError::Exists { .. })));
    assert_eq!(read::<Event>(&scene.path).unwrap().records.len(), 1);
    writer.append(at(1), 0, &event(1)).unwrap();
    writer.close().unwrap();
    let third = Writer::<Event>::resume(&scene.path, quiet).unwrap();
    assert_eq!(third.records.len(), 2);
}

#[test]
fn events_and_fields_of_a_later_version_survive_reading_and_checking() {
    let scene = Scene::with(3);
    let mut writer = Writer::<serde_json::Value>::resume(&scene.path, quiet).unwrap().writer;
    let unknown = serde_json::json!({"kind": "cooling_started", "target_c": -5, "why": {"free_text": "hot day"}});
    let extended = serde_json::json!({"kind": "pulses", "n": 4, "beam": [1.0, 2.5]});
    writer.append(at(3), 0, &unknown).unwrap();
    writer.append(at(4), 0, &extended).unwrap();
    writer.close().unwrap();

    let back = read::<Event>(&scene.path).unwrap();
    assert!(back.verdict.is_sound());
    assert_eq!(back.records.iter().map(|record| record.seq).collect::<Vec<_>>(), [1, 2, 3, 5]);
    assert_eq!(back.records[3].event, Event::Pulses { n: 4 });
    let [other] = back.not_understood.as_slice() else { panic!("{:?}", back.not_understood) };
    assert_eq!((other.seq, other.at), (4, at(3)));
    assert_eq!(serde_json::from_str::<serde_json::Value>(&other.event).unwrap(), unknown);
    assert!(other.reason.contains("cooling_started"), "{}", other.reason);
    assert!(verify_file(&scene.path).unwrap().is_ok());

    let before = scene.bytes();
    let Err(error) = Writer::<Event>::resume(&scene.path, quiet) else { panic!("went on from an unknown state") };
    assert!(matches!(error, JournalError::NotUnderstood { line: 4, .. }), "{error}");
    assert_eq!(scene.bytes(), before);
}

#[test]
fn free_text_stays_out_of_the_chain_and_can_go_without_breaking_it() {
    let scene = Scene::empty();
    let mut writer = scene.writer();
    let note = |text: &str| Event::Note { text: FreeText::new(text) };
    writer.append(at(0), 0, &event(0)).unwrap();
    writer.append(at(1), 0, &note("zebra crossing")).unwrap();
    writer.append(at(2), 0, &note("zebra crossing")).unwrap();
    writer.close().unwrap();
    let chained = String::from_utf8(scene.bytes()).unwrap();
    assert!(!chained.contains("zebra"), "{chained}");
    let hashes: Vec<_> =
        chained.lines().filter_map(|line| line.split_once("note_hash\":\"")).map(|(_, h)| h.get(..64)).collect();
    assert!(hashes.len() == 2 && hashes[0] != hashes[1], "the same text must not be recognisable by its hash");

    let notes_path = scene.path.with_extension("notes.jsonl");
    let notes = std::fs::read_to_string(&notes_path).unwrap();
    let first = notes.lines().next().unwrap();
    let json: serde_json::Value = serde_json::from_str(first).unwrap();
    assert_eq!((&json["note"], &json["text"]), (&"2.1".into(), &"zebra crossing".into()));

    std::fs::write(&notes_path, notes.replacen("zebra", "tiger", 1)).unwrap();
    let report = verify_file(&scene.path).unwrap();
    assert!(report.verdict.is_sound() && !report.is_ok());
    assert_eq!((report.notes.joined, report.notes.altered, report.notes.erased), (1, 1, 0));
    let back = read::<Event>(&scene.path).unwrap();
    assert_eq!(back.records[1].event, Event::Note { text: FreeText::Altered { free_text_altered: true } });

    std::fs::write(&notes_path, notes.replace(first, "")).unwrap();
    let report = verify_file(&scene.path).unwrap();
    assert!(report.is_ok(), "an erased text is no damage");
    assert_eq!((report.notes.joined, report.notes.altered, report.notes.erased), (1, 0, 1));
    let back = read::<Event>(&scene.path).unwrap();
    assert_eq!(back.records[1].event, Event::Note { text: FreeText::Erased { free_text_erased: true } });
    assert_eq!(back.records[2].event, note("zebra crossing"));

    std::fs::remove_file(&notes_path).unwrap();
    let Ok(resumed) = Writer::<Event>::resume(&scene.path, quiet) else { panic!() };
    let mut writer = resumed.writer;
    writer.append(at(3), 0, &note("after")).unwrap();
    writer.close().unwrap();
    assert_eq!(read::<Event>(&scene.path).unwrap().records[3].event, note("after"));
}

#[test]
fn a_torn_note_does_not_take_the_next_one_with_it() {
    let scene = Scene::with(4);
    let notes_path = scene.path.with_extension("notes.jsonl");
    let notes = std::fs::read(&notes_path).unwrap();
    for cut in 0..notes.len() {
        std::fs::write(&notes_path, [&notes, &notes[..cut]].concat()).unwrap();
        let Ok(resumed) = Writer::<Event>::resume(&scene.path, quiet) else { panic!("{cut}") };
        assert_eq!(resumed.records[3].event, event(3), "{cut}");
        if cut % 40 == 1 {
            let mut writer = resumed.writer;
            let seq = writer.append(at(9), 0, &event(7)).unwrap();
            writer.close().unwrap();
            let back = read::<Event>(&scene.path).unwrap();
            assert_eq!(back.records[seq as usize - 1].event, event(7), "{cut}");
            let whole = lines(&scene.bytes())[..4].concat();
            std::fs::write(&scene.path, whole).unwrap();
        }
    }
}

/// The chain is checked by nothing but a shell and `sha256sum`.
#[test]
fn stock_tools_confirm_the_chain() {
    const SCRIPT: &str = r#"
        prev=$(printf 'fadewright/journal/v1\000%s' "$1" | sha256sum | cut -c1-64)
        while IFS= read -r line; do
            body=${line%,\"hash\":\"*}
            hash=${line##*,\"hash\":\"}
            hash=${hash%\"\}}
            [ "$(printf %s "$body" | sha256sum | cut -c1-64)" = "$hash" ] || exit 1
            case $body in *",\"prev\":\"$prev\"") ;; *) exit 2 ;; esac
            prev=$hash
        done < "$2"
        echo "$prev""#;
    let confirm = |scene: &Scene| {
        let shell =
            std::process::Command::new("sh").args(["-c", SCRIPT, "sh", scene.id.as_str()]).arg(&scene.path).output();
        let output = shell.unwrap();
        (output.status.code(), String::from_utf8(output.stdout).unwrap().trim().to_owned())
    };
    let scene = Scene::with(12);
    let head = verify_file(&scene.path).unwrap().head.unwrap();
    assert_eq!(confirm(&scene), (Some(0), head.to_string()));
    let text = String::from_utf8(scene.bytes()).unwrap();
    std::fs::write(&scene.path, text.replacen("whitening", "whitenin9", 1)).unwrap();
    assert_eq!(confirm(&scene).0, Some(1));
    let mut all = lines(text.as_bytes());
    all.remove(4);
    std::fs::write(&scene.path, all.concat()).unwrap();
    assert_eq!(confirm(&scene).0, Some(2));
}
