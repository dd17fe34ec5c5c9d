//! `follow-up`: what is recorded beside a closed journal, what is refused, and what the other commands tell of it.

use super::closed::{DATE, ID, closed, flip, open, practice, today};
use super::{Run, home, run};
use chrono::Days;
use fadewright::journal::{JournalError, Verdict, read, read_follow_ups};
use fadewright::session::{Event, FollowUp};
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};

const GOOD: [&str; 6] = ["--seen-by", "OP-2", "--date", "2024-04-12", "--healing", "good"];

fn follow_up(home: &Path, more: &[&str]) -> Run {
    run(home, &[&["follow-up", ID], more].concat())
}

fn chain(journal: &Path) -> PathBuf {
    journal.with_extension("followup.jsonl")
}

fn recorded(journal: &Path) -> (Vec<FollowUp>, Verdict) {
    let Verdict::Clean { head } = read::<Event>(journal).unwrap().verdict else { panic!("not sound") };
    let found = read_follow_ups::<Event>(journal, head).unwrap().unwrap();
    let added = found.records.into_iter().map(|r| match r.event {
        Event::FollowUpAdded(f) => *f,
        other => panic!("{other:?}"),
    });
    (added.collect(), found.report.verdict)
}

#[test]
fn a_follow_up_goes_into_a_chain_of_its_own_and_never_touches_the_journal() {
    let home = home();
    let journal = closed(home.path());
    let before = std::fs::read(&journal).unwrap();
    let photo = home.path().join("arm.jpg");
    std::fs::write(&photo, "abc").unwrap();
    let told = follow_up(
        home.path(),
        &[
            "--seen-by",
            "OP-2",
            "--date",
            "2024-04-12",
            "--healing",
            "slow",
            "--blister",
            "--pigment",
            "lighter",
            "--scar",
            "hypertrophic",
            "--clearance-percent",
            "30",
            "--note",
            "edge still pink",
            "--photo",
            photo.to_str().unwrap(),
            "--json",
        ],
    );
    assert_eq!((told.code, told.err.as_str()), (0, ""));
    let json = told.json();
    assert_eq!((&json["saved"], &json["adverse"], &json["follow_up"]), (&true.into(), &true.into(), &1.into()));
    // FIPS 180-4's own example, "abc".
    let abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    assert_eq!(json["photos"], serde_json::json!([{ "name": "arm.jpg", "sha256": abc }]));
    assert_eq!(std::fs::read(&journal).unwrap(), before);
    for file in [chain(&journal), journal.with_extension("followup.notes.jsonl")] {
        assert_eq!(file.metadata().unwrap().permissions().mode() & 0o777, 0o600, "{}", file.display());
    }
    let lines = std::fs::read_to_string(chain(&journal)).unwrap();
    for outside in ["edge still pink", "arm.jpg", "OP-2"] {
        assert!(!lines.contains(outside), "{outside} is in the chain");
    }
    assert!(lines.contains(abc) && lines.contains(r#""type":"follow-up-added""#), "{lines}");

    assert_eq!(follow_up(home.path(), &GOOD).code, 0);
    let log = run(home.path(), &["log", ID, "--json"]).json();
    assert_eq!(log["follow_ups"][0]["note"], "edge still pink");
    assert_eq!(log["follow_ups"][0]["clearance_percent"], 30);
    assert_eq!(log["follow_ups"][1]["healing"], "good");
    assert_eq!(log["follow_ups"][1]["adverse"], false);
    let human = run(home.path(), &["log", ID]).out;
    assert!(human.contains("! 2024-04-12 seen by OP-2: healing slow, blister, pigment lighter"), "{human}");
    let verified = run(home.path(), &["verify", ID]);
    assert_eq!(verified.code, 0);
    assert!(verified.out.contains("2 follow-ups: sound"), "{}", verified.out);
    assert_eq!(run(home.path(), &["verify"]).err, "", "the day book's audit takes no offence at the new files");
}

#[test]
fn texts_can_be_erased_and_the_chain_still_verifies() {
    let home = home();
    let journal = closed(home.path());
    assert_eq!(follow_up(home.path(), &[&GOOD[..], &["--note", "moved to Bergen"]].concat()).code, 0);
    std::fs::remove_file(journal.with_extension("followup.notes.jsonl")).unwrap();
    assert_eq!(run(home.path(), &["verify", ID]).code, 0);
    let log = run(home.path(), &["log", ID]).out;
    assert!(log.contains("(text erased)") && !log.contains("Bergen"), "{log}");
}

#[test]
fn what_may_not_be_followed_up_is_refused_with_what_to_do() {
    for (made, code, words) in [
        (open as fn(&Path) -> PathBuf, 1, "is not closed; take it up with fadewright resume"),
        (practice, 1, "PRACTICE session on simulated skin: nobody was treated"),
    ] {
        let home = home();
        let journal = made(home.path());
        let told = follow_up(home.path(), &GOOD);
        assert_eq!(told.code, code, "{}", told.err);
        assert!(told.err.contains(words), "{}", told.err);
        assert!(!chain(&journal).exists(), "a refusal makes no file");
    }
    let home = home();
    let journal = closed(home.path());
    flip(&journal, 400);
    let told = follow_up(home.path(), &GOOD);
    assert_eq!(told.code, 1);
    assert!(told.err.contains("damaged") && told.err.contains("backup"), "{}", told.err);
    assert!(!chain(&journal).exists());
}

#[test]
fn days_ranges_and_words_are_held_to() {
    let home = home();
    let journal = closed(home.path());
    let tomorrow = today().checked_add_days(Days::new(1)).unwrap().to_string();
    let bad = |args: &[&str], words: &str| {
        let told = follow_up(home.path(), args);
        assert_eq!(told.code, 2, "{args:?}: {}{}", told.out, told.err);
        assert!(told.err.contains(words), "{args:?}: {}", told.err);
    };
    let seen = |date: &str, more: &[&str]| -> Vec<String> {
        ["--seen-by", "OP-2", "--date", date].iter().chain(more).map(|s| (*s).to_owned()).collect()
    };
    let bad_seen = |date: &str, more: &[&str], words: &str| {
        let args = seen(date, more);
        bad(&args.iter().map(String::as_str).collect::<Vec<_>>(), words);
    };
    bad_seen("2024-02-29", &["--blister"], "2024-02-29 is before the session, which was on 2024-03-01");
    bad_seen(&tomorrow, &["--blister"], "is not yet there");
    bad_seen("2024-02-30", &["--blister"], "is no day");
    bad_seen("2024-04-12", &[], "nothing was found");
    bad_seen("2024-04-12", &["--clearance-percent", "101"], "0 to 100");
    bad_seen("2024-04-12", &["--clearance-percent", "-1"], "0 to 100");
    bad_seen("2024-04-12", &["--healing", "fine"], "one of: good, slow, crusted, weeping, infected");
    bad_seen("2024-04-12", &["--scar", "big"], "one of: none, texture");
    bad_seen("2024-04-12", &["--photo", "/nowhere/x.jpg"], "--photo /nowhere/x.jpg");
    bad_seen("2024-04-12", &["--photo", home.path().to_str().unwrap()], "is no plain file");
    bad_seen("2024-04-12", &["--note", &"x".repeat(2001)], "longer than 2000");
    bad(&["--seen-by", "Anna Berg", "--date", "2024-04-12", "--blister"], "never a name");
    let photo = home.path().join("a.jpg");
    std::fs::write(&photo, "").unwrap();
    bad_seen("2024-04-12", &["--photo", photo.to_str().unwrap()], "is empty");
    std::fs::write(&photo, "x").unwrap();
    let photo = photo.to_str().unwrap();
    bad_seen("2024-04-12", &["--photo", photo, "--photo", photo], "the same photo is named twice");
    assert!(!chain(&journal).exists(), "a refusal makes no file");
    // The ends of what is allowed.
    let args = seen(DATE, &["--clearance-percent", "0"]);
    assert_eq!(follow_up(home.path(), &args.iter().map(String::as_str).collect::<Vec<_>>()).code, 0);
    let args = seen(&today().to_string(), &["--clearance-percent", "100"]);
    assert_eq!(follow_up(home.path(), &args.iter().map(String::as_str).collect::<Vec<_>>()).code, 0);
}

#[test]
fn the_same_follow_up_twice_is_recorded_once_also_by_two_programs_at_once() {
    let home = home();
    let journal = closed(home.path());
    let ends: Vec<i32> = std::thread::scope(|scope| {
        let started: Vec<_> = (0..6).map(|_| scope.spawn(|| follow_up(home.path(), &GOOD).code)).collect();
        started.into_iter().map(|t| t.join().unwrap()).collect()
    });
    assert_eq!(ends.iter().filter(|c| **c == 0).count(), 1, "{ends:?}");
    assert_eq!(ends.iter().filter(|c| **c == 1).count(), 5, "{ends:?}");
    let again = follow_up(home.path(), &GOOD);
    assert!(again.err.contains("recorded already, as follow-up 1"), "{}", again.err);
    // Different ones at once are all there, in one sound chain.
    std::thread::scope(|scope| {
        for n in 0..6 {
            let (home, note) = (home.path(), format!("look {n}"));
            scope.spawn(move || assert_eq!(follow_up(home, &[&GOOD[..], &["--note", &note]].concat()).code, 0));
        }
    });
    let (all, verdict) = recorded(&journal);
    assert!(verdict.is_sound(), "{verdict}");
    assert_eq!(all.len(), 7);
    for n in 0..6 {
        let note = format!("look {n}");
        assert!(all.iter().any(|f| f.note.as_ref().and_then(|t| t.text()) == Some(&note)), "{note}");
    }
}

#[test]
fn a_cut_off_end_is_set_aside_and_other_damage_refuses() {
    let home = home();
    let journal = closed(home.path());
    assert_eq!(follow_up(home.path(), &GOOD).code, 0);
    let first = std::fs::read(chain(&journal)).unwrap();
    assert_eq!(follow_up(home.path(), &[&GOOD[..], &["--note", "two"]].concat()).code, 0);
    let both = std::fs::read(chain(&journal)).unwrap();
    for cut in [first.len() + 1, first.len() + 40, both.len() - 2] {
        std::fs::write(chain(&journal), &both[..cut]).unwrap();
        let verified = run(home.path(), &["verify", ID]);
        assert_eq!(verified.code, 1, "{cut}");
        assert!(verified.out.contains("the follow-ups are cut off while writing"), "{}", verified.out);
        let told = follow_up(home.path(), &[&GOOD[..], &["--note", "two"]].concat());
        assert_eq!(told.code, 0, "{}", told.err);
        assert!(told.out.contains("set aside"), "{}", told.out);
        let (all, verdict) = recorded(&journal);
        assert!(verdict.is_sound() && all.len() == 2, "{cut}: {verdict}");
        assert_eq!(all[1].note.as_ref().and_then(|t| t.text()), Some("two"));
    }
    flip(&chain(&journal), 30);
    let told = follow_up(home.path(), &[&GOOD[..], &["--note", "three"]].concat());
    assert_eq!(told.code, 1, "{}", told.out);
    assert!(told.err.contains("damaged"), "{}", told.err);
    assert_eq!(run(home.path(), &["log", ID]).code, 1);
    assert_eq!(run(home.path(), &["verify", ID]).code, 1);
}

#[test]
fn follow_ups_belong_to_one_journal_and_to_its_last_record() {
    let (one, other) = (home(), home());
    let (a, b) = (closed(one.path()), open(other.path()));
    assert_eq!(follow_up(one.path(), &GOOD).code, 0);
    // The other has the same id but another end.
    std::fs::copy(chain(&a), chain(&b)).unwrap();
    let verified = run(other.path(), &["verify", ID]);
    assert_eq!(verified.code, 1);
    assert!(verified.out.contains("the follow-ups are damaged: the first line does not follow"), "{}", verified.out);
}

#[test]
fn a_planted_link_is_not_followed() {
    let home = home();
    let journal = closed(home.path());
    let canary = home.path().join("canary");
    std::fs::write(&canary, "tweet\n").unwrap();
    std::os::unix::fs::symlink(&canary, chain(&journal)).unwrap();
    let told = follow_up(home.path(), &GOOD);
    assert_eq!(told.code, 2);
    assert!(told.err.contains("is a link"), "{}", told.err);
    assert_eq!(std::fs::read_to_string(&canary).unwrap(), "tweet\n");
    let head = "0".repeat(64).parse().unwrap();
    assert!(matches!(read_follow_ups::<Event>(&journal, head), Err(JournalError::NotPlain { .. })));
}
