//! The journal in a process of its own: killed, given no file size, given no umask.

use super::{Event, at, event, id, quiet};
use fadewright::journal::{Ack, DataDir, Writer, daybook, read, verify_file};
use std::io::{BufRead, BufReader, Read, Write};
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::time::Duration;

const TASK: &str = "FADEWRIGHT_TEST_TASK";
const DIR: &str = "FADEWRIGHT_TEST_DIR";
const SESSION: &str = "20261124-224801-7K3M9Q";
const SOON: Duration = Duration::from_secs(20);

fn say(ack: Ack) {
    let line = match ack {
        Ack::Saved { upto_seq } => format!("saved {upto_seq}\n"),
        Ack::Failed { since_seq, error } => format!("failed {since_seq} {error}\n"),
    };
    let mut out = std::io::stdout().lock();
    let _ = out.write_all(line.as_bytes()).and_then(|()| out.flush());
}

/// What the other tests here run as a process.
#[test]
#[ignore = "run as a process of its own by the tests beside it"]
fn child() {
    // The harness leaves its own line unfinished.
    std::io::stdout().lock().write_all(b"\n").unwrap();
    let dir = DataDir::open(std::env::var_os(DIR).unwrap()).unwrap();
    let path = dir.journal_path(&id(SESSION));
    let mut writer = match path.exists() {
        true => Writer::<Event>::resume(&path, say).unwrap().writer,
        false => Writer::create(&dir, &id(SESSION), say).unwrap(),
    };
    let first = u32::try_from(writer.last_seq()).unwrap();
    match std::env::var(TASK).unwrap().as_str() {
        "until stopped" => {
            for i in first.. {
                writer.append(at(i), 0, &event(i)).unwrap();
                if !writer.wait_saved(SOON) {
                    break;
                }
            }
            assert!(writer.close().is_err());
        }
        "everything once" => {
            daybook::opened(&dir, &id(SESSION), at(0)).unwrap();
            for i in 0..8 {
                writer.append(at(i), 0, &event(i)).unwrap();
            }
            assert!(writer.wait_saved(SOON));
            let elsewhere = dir.root().join("elsewhere");
            private_dir(&elsewhere);
            writer.continue_in(&elsewhere).unwrap();
            writer.append(at(8), 0, &event(8)).unwrap();
            writer.close().unwrap();
            let mut file = std::fs::File::options().append(true).open(&path).unwrap();
            file.write_all(b"torn").unwrap();
            drop(file);
            let resumed = Writer::<Event>::resume(&path, quiet).unwrap();
            resumed.writer.close().unwrap();
        }
        other => panic!("no such task: {other}"),
    }
}

fn private_dir(path: &Path) {
    use std::os::unix::fs::DirBuilderExt;
    std::fs::DirBuilder::new().mode(0o700).create(path).unwrap();
}

/// Starts the task above under a shell's setting.
fn start(setting: &str, task: &str, dir: &Path) -> Child {
    Command::new("sh")
        .args(["-c", &format!("{setting} exec \"$0\" \"$@\"")])
        .arg(std::env::current_exe().unwrap())
        .args(["--exact", "journal_faults::process::child", "--ignored", "--nocapture", "--test-threads=1"])
        .envs([(TASK, task.as_ref()), (DIR, dir.as_os_str())])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

fn finished(output: &Output) -> String {
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(output.status.success(), "{:?}\n{text}\n{}", output.status, String::from_utf8_lossy(&output.stderr));
    assert!(text.contains("1 passed"), "{text}");
    text
}

fn last(text: &str, word: &str) -> Option<u64> {
    let whole = text.rsplit_once('\n').map_or("", |(whole, _)| whole);
    whole.lines().rev().find_map(|line| line.strip_prefix(word)?.split(' ').next()?.parse().ok())
}

#[test]
fn nothing_shown_as_saved_is_lost_when_the_process_is_killed() {
    let temp = tempfile::tempdir().unwrap();
    let dir = temp.path().join("data");
    let path = dir.join("sessions/2026/11").join(format!("{SESSION}.jsonl"));
    let mut before = 0;
    let mut grew = 0;
    for round in 0_u64..30 {
        let mut child = start("", "until stopped", &dir);
        let mut out = BufReader::new(child.stdout.take().unwrap());
        let mut text = String::new();
        if round % 3 > 0 {
            // Once some records are saved: between and within writes.
            while text.matches("saved").count() < round as usize % 5 + 1 && out.read_line(&mut text).unwrap() > 0 {}
            std::thread::sleep(Duration::from_micros(round * 137 % 3_000));
        } else {
            // At any moment from the very start on: while opening or resuming too.
            std::thread::sleep(Duration::from_micros(round * round * 137 % 23_000));
        }
        child.kill().unwrap();
        out.read_to_string(&mut text).unwrap();
        child.wait().unwrap();
        assert!(!text.contains("failed"), "{text}");
        if !path.exists() {
            assert_eq!(last(&text, "saved "), None);
            continue;
        }
        let back = read::<Event>(&path).unwrap();
        assert!(back.verdict.allows_appending(), "round {round}: {}", back.verdict);
        let recovered = back.records.len() as u64;
        let acked = last(&text, "saved ").unwrap_or(before);
        assert!((acked..=acked + 1).contains(&recovered), "round {round}: {acked} acknowledged, {recovered} found");
        for (i, record) in (0..).zip(&back.records) {
            assert_eq!(record.event, event(i), "round {round}");
        }
        grew += usize::from(recovered > before);
        before = recovered;
    }
    assert!(grew >= 20, "every round that waited for records added some: {grew}");
}

#[test]
fn a_file_size_limit_is_an_error_and_not_the_end() {
    let temp = tempfile::tempdir().unwrap();
    let dir = temp.path().join("data");
    let output = start("ulimit -f 24;", "until stopped", &dir).wait_with_output().unwrap();
    let text = finished(&output);
    let (saved, failed) = (last(&text, "saved ").unwrap(), last(&text, "failed ").unwrap());
    assert_eq!(failed, saved + 1);
    assert!(saved > 10, "{text}");
    let path = DataDir::open(&dir).unwrap().journal_path(&id(SESSION));
    let resumed = Writer::<Event>::resume(&path, quiet).unwrap();
    assert_eq!(resumed.records.len() as u64, saved);
    resumed.writer.close().unwrap();
    assert!(verify_file(&path).unwrap().is_ok());
}

#[test]
fn modes_do_not_depend_on_the_umask() {
    let temp = tempfile::tempdir().unwrap();
    let dir = temp.path().join("data");
    finished(&start("umask 000;", "everything once", &dir).wait_with_output().unwrap());
    let tree = super::tree(&dir);
    let names: Vec<_> = tree.iter().map(|path| path.file_name().unwrap().to_string_lossy()).collect();
    for part in ["daybook", ".notes.jsonl", ".torn-", "elsewhere", "sessions", "2026", "11"] {
        assert!(names.iter().any(|name| name.contains(part)), "{part} is not among {names:?}");
    }
    for path in tree.iter().chain([&dir]) {
        let mode = path.symlink_metadata().unwrap().permissions().mode() & 0o777;
        assert_eq!(mode, if path.is_dir() { 0o700 } else { 0o600 }, "{}", path.display());
    }
}
