//! The list as the program prints it, from journals that are sound, damaged, altered, linked and practised.

use super::{BLISTER, Course, DAMAGED, DECLINED, OPEN, QUIET, put, session, stocked};
use crate::cli::{home, run};
use fadewright::journal::DataDir;
use serde_json::Value;
use std::path::{Path, PathBuf};

fn sessions(home: &Path, args: &[&str]) -> Vec<Value> {
    let told = run(home, &[&["review", "--json"], args].concat());
    assert_eq!(told.code, 0, "{}", told.err);
    told.json()["sessions"].as_array().unwrap().clone()
}

fn ids(home: &Path, args: &[&str]) -> Vec<String> {
    sessions(home, args).iter().map(|s| s["session"].as_str().unwrap().to_owned()).collect()
}

fn index(home: &Path) -> PathBuf {
    let dir = home.join(".cache/fadewright/review");
    std::fs::read_dir(dir).unwrap().next().unwrap().unwrap().path()
}

#[test]
fn what_departs_most_from_what_is_wanted_stands_first() {
    let home = home();
    stocked(&home.path().join("data"));
    assert_eq!(ids(home.path(), &[]), [DAMAGED, DECLINED, BLISTER, OPEN, QUIET]);
    assert_eq!(ids(home.path(), &["--sort", "newest"]), [QUIET, DECLINED, BLISTER, OPEN, DAMAGED]);
    assert_eq!(ids(home.path(), &["--sort", "oldest"])[0], DAMAGED);
    let all = sessions(home.path(), &[]);
    let of = |id: &str| all.iter().find(|s| s["session"] == id).unwrap().clone();
    assert_eq!((&of(DAMAGED)["record"], &of(QUIET)["record"]), (&"damaged".into(), &"sound".into()));
    assert!(of(DAMAGED)["record_text"].as_str().unwrap().contains("line "));
    assert_eq!(of(DAMAGED)["client_code"], "CL-4", "what stands before the damage is told");
    assert_eq!((&of(OPEN)["outcome"], &of(QUIET)["outcome"]), (&Value::Null, &"completed".into()));
    assert!(of(DECLINED)["declined"].as_u64().unwrap() >= 1 && of(BLISTER)["adverse"] == 1);
    assert_eq!((&of(QUIET)["pulses"], &of(QUIET)["operator_code"]), (&30.into(), &"OP-1".into()));
    let text = run(home.path(), &["review"]);
    assert!(text.out.starts_with("5 sessions\n") && text.out.contains("DAMAGED: damaged: line"), "{}", text.out);
    assert!(text.out.contains("NOT CLOSED"));
}

#[test]
fn filters_leave_what_they_say() {
    let home = home();
    stocked(&home.path().join("data"));
    let cases: [(&[&str], &[&str]); 10] = [
        (&["--client", "cl-1"], &[DECLINED, QUIET]),
        (&["--damaged"], &[DAMAGED]),
        (&["--level", "stop"], &[BLISTER]),
        (&["--search", "cl-1 completed"], &[DECLINED, QUIET]),
        (&["--operator", "OP-2"], &[]),
        (&["--wavelength-nm", "1064"], &[DAMAGED, DECLINED, BLISTER, OPEN, QUIET]),
        (&["--wavelength-nm", "532"], &[]),
        (&["--skin", "VI"], &[]),
        (&["--to", "2026-01-01"], &[]),
        (&["--practice"], &[]),
    ];
    for (args, wanted) in cases {
        assert_eq!(ids(home.path(), args), wanted, "{args:?}");
    }
    let signature = DataDir::look_at(&home.path().join("data")).unwrap().journal_path(&QUIET.parse().unwrap());
    std::fs::write(signature.with_extension("jh.sig"), "x").unwrap();
    assert!(!ids(home.path(), &["--unsigned"]).contains(&QUIET.to_owned()));
    for wrong in [["--level", "loud"], ["--skin", "VII"], ["--sort", "size"], ["--from", "yesterday"]] {
        assert_eq!(run(home.path(), &[&["review"], &wrong[..]].concat()).code, 2, "{wrong:?}");
    }
}

#[test]
fn the_index_is_only_ever_as_good_as_the_journals() {
    let home = home();
    let data = home.path().join("data");
    stocked(&data);
    let first = run(home.path(), &["review", "--json"]).out;
    assert_eq!(run(home.path(), &["review", "--json"]).out, first, "from the index");
    let path = index(home.path());
    let text = std::fs::read_to_string(&path).unwrap();
    // Deleted, cut, altered and replaced by something else: the journals are read again.
    let altered = text.replace("\"pulses\":30", "\"pulses\":31");
    assert_ne!(altered, text);
    for wrong in [None, Some(&text[..text.len() / 2]), Some(&altered), Some("nonsense"), Some("")] {
        match wrong {
            None => std::fs::remove_file(&path).unwrap(),
            Some(wrong) => std::fs::write(&path, wrong).unwrap(),
        }
        assert_eq!(run(home.path(), &["review", "--json"]).out, first, "{wrong:?}");
        assert_eq!(run(home.path(), &["review", "--json"]).out, first);
    }
    // A journal that changes is read again, and one that goes is gone.
    let dir = DataDir::look_at(&data).unwrap();
    let journal = dir.journal_path(&QUIET.parse().unwrap());
    let mut bytes = std::fs::read(&journal).unwrap();
    let last = bytes.len() - 100;
    bytes[last] ^= 1;
    let before = std::fs::metadata(&journal).unwrap().modified().unwrap();
    std::fs::write(&journal, &bytes).unwrap();
    // Setting the time back does not hide it.
    std::fs::File::options().write(true).open(&journal).unwrap().set_modified(before).unwrap();
    assert_eq!(ids(home.path(), &["--damaged"]), [QUIET, DAMAGED]);
    std::fs::remove_file(&journal).unwrap();
    assert_eq!(ids(home.path(), &[]).len(), 4);
    put(&data, "20261125-100000-FFFFFF", &session("CL-5", "20261125-100000-FFFFFF", Course::Quiet));
    assert_eq!(ids(home.path(), &["--client", "CL-5"]).len(), 1);
    // Free texts that were erased are not kept elsewhere.
    let notes = dir.journal_path(&DECLINED.parse().unwrap()).with_extension("notes.jsonl");
    std::fs::remove_file(notes).unwrap();
    let all = sessions(home.path(), &["--client", "CL-1"]);
    assert_eq!(all[0]["operator_code"], "(text erased)");
}

#[test]
fn links_are_not_followed_and_nothing_steers_the_terminal() {
    let home = home();
    let data = home.path().join("data");
    stocked(&data);
    let dir = DataDir::look_at(&data).unwrap();
    let (real, link) = ("20261124-100000-AAAAAA", "20261124-110000-LLLLLL".replace('L', "K"));
    let link_path = dir.journal_path(&link.parse().unwrap());
    std::os::unix::fs::symlink(dir.journal_path(&real.parse().unwrap()), &link_path).unwrap();
    let all = sessions(home.path(), &["--damaged"]);
    let found = all.iter().find(|s| s["session"] == link).unwrap();
    assert!(found["record_text"].as_str().unwrap().contains("not followed"), "{found}");
    assert_eq!(found["client_code"], Value::Null);
    for args in [vec!["review"], vec!["review", DECLINED], vec!["review", "--statistics"]] {
        let told = run(home.path(), &args);
        assert!(told.code == 0 && !told.out.contains('\u{1b}'), "{args:?}: {}", told.out);
    }
    assert!(run(home.path(), &["review", DECLINED]).out.contains("seen␛[2J before"));
}

#[test]
fn one_session_its_course_and_the_statistics_have_json_twins() {
    let home = home();
    stocked(&home.path().join("data"));
    let told = run(home.path(), &["review", DECLINED, "--json"]).json();
    for key in ["zones", "advice", "deviations", "notes", "charts", "timeline", "record", "record_sound", "pulses"] {
        assert!(told.get(key).is_some(), "{key}");
    }
    let damaged = run(home.path(), &["review", DAMAGED]);
    assert!(damaged.code == 1 && damaged.out.contains("! record: damaged"), "{}", damaged.out);
    let text = run(home.path(), &["review", DECLINED]).out;
    for words in ["ZONES", "ADVICE DECLINED", "DECLINED: seen", "fluence, J/cm2", "TIMELINE"] {
        assert!(text.contains(words), "{words}: {text}");
    }
    let course = run(home.path(), &["review", "--course", "CL-1", "--json"]).json();
    assert_eq!((&course["client_code"], course["sessions"].as_array().unwrap().len()), (&"CL-1".into(), 2));
    assert_eq!(run(home.path(), &["review", "--course", "CL-77"]).code, 1);
    let s = run(home.path(), &["review", "--statistics", "--json"]).json();
    assert_eq!((&s["sessions"], &s["left_out_damaged"], &s["practice"]), (&4.into(), &1.into(), &false.into()));
    assert_eq!(
        (&s["groups"][0]["responses"][0]["response"], &s["groups"][0]["exposures"]),
        (&"redness".into(), &4.into())
    );
    // Noted before the first pulse, whitening belongs to no setting; it counts among what was seen in sessions.
    let seen = s["responses"].as_array().unwrap().iter().find(|r| r["response"] == "whitening").unwrap();
    assert_eq!((&seen["sessions"], &seen["share_of_sessions"]), (&4.into(), &1.0.into()));
    assert!(run(home.path(), &["review", "--statistics"]).out.contains("Wilson"));
}

#[test]
fn practice_is_listed_only_when_asked_for_and_always_marked() {
    let home = home();
    stocked(&home.path().join("data"));
    let played = run(home.path(), &["practise", "first-script", "--demonstrate", "--headless", "--seed", "3"]);
    assert_eq!(played.code, 0, "{}", played.err);
    assert_eq!(ids(home.path(), &[]).len(), 5);
    let practice = sessions(home.path(), &["--practice"]);
    assert_eq!((practice.len(), &practice[0]["practice"]), (1, &"first-script".into()));
    let text = run(home.path(), &["review", "--practice"]).out;
    assert!(text.contains("PRACTICE first-script"), "{text}");
    let id = practice[0]["session"].as_str().unwrap();
    assert!(run(home.path(), &["review", id]).out.contains("nobody was treated"));
    assert_eq!(run(home.path(), &["review", "--statistics", "--json"]).json()["sessions"], 4);
    let of_practice = run(home.path(), &["review", "--statistics", "--practice", "--json"]).json();
    assert_eq!((&of_practice["sessions"], &of_practice["practice"]), (&1.into(), &true.into()));
    // A demonstration is no trainee's run.
    assert!(run(home.path(), &["review", "--progress", "--json"]).json().as_array().unwrap().is_empty());
}

#[test]
fn nothing_recorded_yet_is_an_empty_list_and_makes_no_directory() {
    let home = home();
    assert!(ids(home.path(), &[]).is_empty());
    assert!(run(home.path(), &["review"]).out.starts_with("0 sessions"));
    assert!(!home.path().join("data").exists());
}
