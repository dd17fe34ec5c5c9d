//! Damaged files: every damage is named, and none is mended but the trace of a cut-off write.

use super::{Event, Scene, at, event, id, lines, quiet};
use fadewright::journal::{JournalError, Recovery, Verdict, Writer, read, verify_file};
use std::path::Path;

const N: u32 = 14;

/// A new file each time: file systems flush one that is cut to nothing and written again, which costs a hundredfold.
fn rewrite(path: &Path, bytes: &[u8]) {
    std::fs::remove_file(path).unwrap();
    std::fs::write(path, bytes).unwrap();
}

/// Writes the bytes, reads them back and makes sure that reading left them alone.
fn judge(path: &Path, bytes: &[u8]) -> (u32, Verdict) {
    rewrite(path, bytes);
    let back = read::<Event>(path).unwrap();
    for (n, record) in (0..).zip(&back.records) {
        assert_eq!((record.seq, &record.event), (u64::from(n) + 1, &event(n)), "a record was changed unnoticed");
    }
    assert_eq!(std::fs::read(path).unwrap(), bytes);
    (u32::try_from(back.records.len()).unwrap(), back.verdict)
}

/// Resuming must refuse and leave the file and its directory as they are.
fn refused(path: &Path) -> Verdict {
    let before = (std::fs::read(path).unwrap(), super::tree(path.parent().unwrap()));
    let Err(JournalError::Damaged { verdict, .. }) = Writer::<Event>::resume(path, quiet) else {
        panic!("a damaged journal was taken up again");
    };
    assert_eq!(before, (std::fs::read(path).unwrap(), super::tree(path.parent().unwrap())));
    verdict
}

#[test]
fn a_whole_session_reads_back_as_it_was_written() {
    let scene = Scene::with(N);
    let (records, verdict) = judge(&scene.path, &scene.bytes());
    assert_eq!(records, N);
    assert!(verdict.is_sound(), "{verdict}");
    let inside = scene.path.strip_prefix(scene.temp.path().canonicalize().unwrap()).unwrap();
    assert_eq!(inside, Path::new("data/sessions/2026/11/20261124-224801-7K3M9Q.jsonl"));
    let back = read::<Event>(&scene.path).unwrap();
    assert_eq!((back.records[3].at, back.records[3].mono_ms, back.id), (at(3), 3000, scene.id.clone()));
    let report = verify_file(&scene.path).unwrap();
    assert!(report.is_ok());
    assert_eq!((report.records, report.first_at, report.last_at), (u64::from(N), Some(at(0)), Some(at(N - 1))));
    assert_eq!(Verdict::Clean { head: report.head.unwrap() }, verdict);
}

#[test]
fn a_cut_at_any_byte_keeps_all_whole_records_and_the_session_goes_on() {
    let scene = Scene::with(N);
    let whole = scene.bytes();
    for cut in 0..whole.len() {
        let bytes = &whole[..cut];
        let (records, verdict) = judge(&scene.path, bytes);
        let ends = u32::try_from(bytes.iter().filter(|&&b| b == b'\n').count()).unwrap();
        let tail = bytes.len() - bytes.iter().rposition(|&b| b == b'\n').map_or(0, |at| at + 1);
        let lacks_only_its_end = whole[cut] == b'\n';
        match &verdict {
            Verdict::Empty => assert_eq!(cut, 0),
            Verdict::Clean { .. } => assert_eq!(tail, 0),
            Verdict::Unterminated { .. } => assert!(lacks_only_its_end),
            Verdict::TornTail { offset, bytes } => {
                assert_eq!((*offset, *bytes), ((cut - tail) as u64, tail as u64));
                assert!(tail > 0 && !lacks_only_its_end);
            }
            other => panic!("cut at {cut}: {other}"),
        }
        assert_eq!(records, ends + u32::from(lacks_only_its_end), "cut at {cut}");
        // Reading is tried at every cut, going on at each kind of cut and at a spread of the others.
        let edge = tail <= 1 || lacks_only_its_end || whole.get(cut + 1) == Some(&b'\n');
        if !edge && cut % 41 != 0 {
            continue;
        }
        let resumed = Writer::<Event>::resume(&scene.path, quiet).unwrap();
        assert_eq!(resumed.records.len(), records as usize);
        if let Recovery::TornTail { kept_as, bytes: kept, .. } = &resumed.recovery {
            assert_eq!(std::fs::read(kept_as).unwrap(), bytes[cut - tail..]);
            assert_eq!(*kept, tail as u64);
            std::fs::remove_file(kept_as).unwrap();
        }
        resumed.writer.close().unwrap();
        let again = Writer::<Event>::resume(&scene.path, quiet).unwrap();
        assert_eq!(again.recovery, if records == 0 { Recovery::Empty } else { Recovery::Clean });
        let mut writer = again.writer;
        for i in records..records + 3 {
            writer.append(at(i), 0, &event(i)).unwrap();
        }
        writer.close().unwrap();
        let (after, verdict) = judge(&scene.path, &scene.bytes());
        assert_eq!(after, records + 3, "cut at {cut}");
        assert!(verdict.is_sound());
    }
}

#[test]
fn every_flipped_bit_is_noticed_and_none_leads_to_a_repair() {
    let scene = Scene::with(N);
    let mut bytes = scene.bytes();
    for at in 0..bytes.len() {
        let line = 1 + bytes[..at].iter().filter(|&&b| b == b'\n').count() as u64;
        for bit in 0..8 {
            bytes[at] ^= 1 << bit;
            let (records, verdict) = judge(&scene.path, &bytes);
            assert!(!verdict.allows_appending(), "byte {at} bit {bit}: {verdict}");
            assert!(verdict.line().unwrap() <= line && u64::from(records) < line, "byte {at} bit {bit}: {verdict}");
            if at % 97 == 0 || at + 1 == bytes.len() {
                assert_eq!(refused(&scene.path), verdict);
            }
            bytes[at] ^= 1 << bit;
        }
    }
}

#[test]
fn the_verdict_tells_where_the_damage_is() {
    let scene = Scene::with(N);
    let whole = scene.bytes();
    let all = lines(&whole);
    let start = |line: usize| all[..line].iter().map(Vec::len).sum::<usize>();
    let mut bytes = whole.clone();
    bytes[start(4) + 60] ^= 1;
    let (records, verdict) = judge(&scene.path, &bytes);
    assert_eq!(records, 4);
    let expected = Verdict::Corrupt { line: 5, offset: start(4) as u64, reason: "does not match its own hash".into() };
    assert_eq!(verdict, expected);
    let mut bytes = whole.clone();
    bytes[start(13) + 60] ^= 1;
    let (_, verdict) = judge(&scene.path, &bytes);
    assert!(matches!(verdict, Verdict::CorruptTail { line: 14, .. }), "{verdict}");
    assert_eq!(refused(&scene.path), verdict);
}

#[test]
fn zeroed_sectors_are_never_taken_for_records() {
    let scene = Scene::with(N);
    let whole = scene.bytes();
    for start in (0..whole.len()).step_by(512) {
        let end = (start + 512).min(whole.len());
        let mut bytes = whole.clone();
        bytes[start..end].fill(0);
        let (_, verdict) = judge(&scene.path, &bytes);
        if end == whole.len() {
            assert!(matches!(verdict, Verdict::TornTail { .. }), "zeroed tail: {verdict}");
        } else {
            assert!(!verdict.allows_appending(), "zeroed {start}..{end}: {verdict}");
        }
        let mut bytes = whole.clone();
        bytes[start..].fill(0);
        let (_, verdict) = judge(&scene.path, &bytes);
        assert!(matches!(verdict, Verdict::TornTail { .. }), "zeroed from {start}: {verdict}");
    }
}

#[test]
fn zeros_behind_a_whole_record_cost_only_the_zeros() {
    let scene = Scene::with(N);
    let mut bytes = scene.bytes();
    let end = bytes.len() - 1;
    bytes[end] = 0;
    bytes.extend([0; 700]);
    let (records, verdict) = judge(&scene.path, &bytes);
    assert_eq!((records, verdict), (N, Verdict::TornTail { offset: end as u64, bytes: 701 }));
    let resumed = Writer::<Event>::resume(&scene.path, quiet).unwrap();
    assert!(matches!(resumed.recovery, Recovery::TornTail { bytes: 701, .. }), "{:?}", resumed.recovery);
    assert_eq!(resumed.records.len(), N as usize);
    resumed.writer.close().unwrap();
    assert!(verify_file(&scene.path).unwrap().is_ok());
}

#[test]
fn lines_doubled_dropped_swapped_or_borrowed_are_noticed() {
    let scene = Scene::with(N);
    let all = lines(&scene.bytes());
    let n = all.len();
    let other = Scene::empty();
    let other_id = id("20261124-224801-7K3M9R");
    let mut writer = Writer::create(&other.dir, &other_id, quiet).unwrap();
    for i in 0..N {
        writer.append(at(i), u64::from(i) * 1000, &event(i)).unwrap();
    }
    writer.close().unwrap();
    let foreign = lines(&std::fs::read(other.dir.journal_path(&other_id)).unwrap());
    for i in 0..n {
        let mut doubled = all.clone();
        doubled.insert(i, all[i].clone());
        let (records, verdict) = judge(&scene.path, &doubled.concat());
        assert!(records as usize == i + 1 && !verdict.allows_appending(), "doubled {i}: {verdict}");
        assert_eq!(verdict.line(), Some(i as u64 + 2));

        let mut dropped = all.clone();
        dropped.remove(i);
        let (records, verdict) = judge(&scene.path, &dropped.concat());
        if i == 0 {
            assert!(matches!(verdict, Verdict::FrontReplaced { .. }), "{verdict}");
        } else if i + 1 == n {
            // The chain alone cannot know of a last line; the day book does.
            assert!(verdict.is_sound());
        } else {
            assert!(matches!(verdict, Verdict::Corrupt { .. } | Verdict::CorruptTail { .. }), "dropped {i}: {verdict}");
        }
        assert_eq!(records as usize, i);

        let mut spliced = all.clone();
        spliced[i].clone_from(&foreign[i]);
        let (records, verdict) = judge(&scene.path, &spliced.concat());
        assert!(records as usize == i && !verdict.allows_appending(), "spliced {i}: {verdict}");
        assert_eq!(matches!(verdict, Verdict::FrontReplaced { .. }), i == 0);

        for j in i + 1..n {
            let mut swapped = all.clone();
            swapped.swap(i, j);
            let (records, verdict) = judge(&scene.path, &swapped.concat());
            assert!(records as usize == i && !verdict.allows_appending(), "swapped {i} {j}: {verdict}");
        }
    }
    let (_, verdict) = judge(&scene.path, &foreign.concat());
    assert!(matches!(verdict, Verdict::FrontReplaced { .. }), "{verdict}");
    assert_eq!(refused(&scene.path), verdict);
}

#[test]
fn a_file_saved_by_another_program_is_told_as_such() {
    let scene = Scene::with(N);
    let text = String::from_utf8(scene.bytes()).unwrap();
    let first: serde_json::Value = serde_json::from_str(text.lines().next().unwrap()).unwrap();
    let utf16: Vec<u8> = [0xFF, 0xFE].into_iter().chain(text.encode_utf16().flat_map(u16::to_le_bytes)).collect();
    for (what, bytes) in [
        ("byte-order mark", format!("\u{feff}{text}").into_bytes()),
        ("UTF-16", utf16),
        ("CRLF", text.replace('\n', "\r\n").into_bytes()),
        ("sorted keys", text.replace(text.lines().next().unwrap(), &first.to_string()).into_bytes()),
        ("spaces", text.replace("\"seq\":", "\"seq\": ").into_bytes()),
        ("pretty", serde_json::to_string_pretty(&first).unwrap().into_bytes()),
    ] {
        let (records, verdict) = judge(&scene.path, &bytes);
        assert!(matches!(verdict, Verdict::EditedElsewhere { line: 1, offset: 0, .. }), "{what}: {verdict}");
        assert_eq!(records, 0);
        assert_eq!(refused(&scene.path), verdict);
        assert!(verdict.to_string().contains("another program"), "{verdict}");
    }
    let mixed = text.replacen("\"}\n", "\"}\r\n", 3);
    let (_, verdict) = judge(&scene.path, mixed.as_bytes());
    assert!(matches!(verdict, Verdict::EditedElsewhere { line: 1, .. }), "{verdict}");
}

#[test]
fn what_was_added_behind_is_told_from_what_was_cut_off() {
    let scene = Scene::with(N);
    let whole = scene.bytes();
    let with = |extra: &[u8]| [&whole, extra].concat();
    let deep = [vec![b'['; 200_000], b"\n".to_vec()].concat();
    for (what, bytes, torn) in [
        ("garbage", with(b"\xff\xfe garbage"), true),
        ("zeros", with(&[0; 4096]), true),
        ("10 MiB without a line end", with(&vec![b'x'; 10 << 20]), true),
        ("a garbage line", with(b"garbage\n"), false),
        ("an empty line", with(b"\n"), false),
        ("a line of zeros", with(&[&[0; 4096][..], b"\n"].concat()), false),
        ("10 MiB with a line end", with(&[&vec![b'x'; 10 << 20][..], b"\n"].concat()), false),
        ("deep nesting", with(&deep), false),
        ("huge numbers", with(b"{\"seq\":1e999,\"at\":99999999999999999999}\n"), false),
        ("a lone surrogate", with(b"{\"seq\":\"\\ud800\"}\n"), false),
    ] {
        let (records, verdict) = judge(&scene.path, &bytes);
        assert_eq!(records, N, "{what}");
        let offset = whole.len() as u64;
        if torn {
            assert_eq!(verdict, Verdict::TornTail { offset, bytes: bytes.len() as u64 - offset }, "{what}");
            let resumed = Writer::<Event>::resume(&scene.path, quiet).unwrap();
            let Recovery::TornTail { kept_as, .. } = resumed.recovery else { panic!("{what}") };
            assert_eq!(std::fs::read(&kept_as).unwrap(), bytes[whole.len()..], "{what}");
            resumed.writer.close().unwrap();
            assert_eq!(scene.bytes(), whole, "{what}");
        } else {
            assert!(
                matches!(verdict, Verdict::CorruptTail { line: 15, offset: o, .. } if o == offset),
                "{what}: {verdict}"
            );
            assert_eq!(refused(&scene.path), verdict);
        }
    }
}

#[test]
fn a_forged_line_with_its_own_right_hash_does_not_fit() {
    let scene = Scene::with(N);
    let mut all = lines(&scene.bytes());
    let rehash = |line: &[u8], from: &str, to: &str| {
        let text = String::from_utf8(line.to_vec()).unwrap();
        let body = text.split_once(",\"hash\":\"").unwrap().0.replace(from, to);
        let hash = fadewright::journal::Digest::of(&[body.as_bytes()]);
        format!("{body},\"hash\":\"{hash}\"}}\n").into_bytes()
    };
    let kept = all[5].clone();
    for (from, to) in [("\"n\":5", "\"n\":6"), ("\"seq\":6", "\"seq\":7"), ("\"mono_ms\":5000", "\"mono_ms\":5001")] {
        all[5] = rehash(&kept, from, to);
        assert_ne!(all[5], kept);
        let (_, verdict) = judge_records(&scene.path, &all.concat());
        let at_line = if from.starts_with("\"seq") { 6 } else { 7 };
        assert!(matches!(verdict, Verdict::Corrupt { line, .. } if line == at_line), "{from}: {verdict}");
    }
    // Doubled keys: the bytes decide, and a doubled envelope key is no record.
    all[5] = rehash(&kept, "\"seq\":6,", "\"seq\":6,\"seq\":6,");
    let (_, verdict) = judge_records(&scene.path, &all.concat());
    assert!(matches!(verdict, Verdict::Corrupt { line: 6, .. }), "{verdict}");
}

fn judge_records(path: &Path, bytes: &[u8]) -> (usize, Verdict) {
    std::fs::write(path, bytes).unwrap();
    let back = read::<Event>(path).unwrap();
    (back.records.len(), back.verdict)
}
