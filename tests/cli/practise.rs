//! `practise` without a terminal, `debrief`, and what each kind of bad input gets.

use super::{home, run, sample};
use serde_json::Value;

fn play(home: &std::path::Path, more: &[&str]) -> Value {
    let mut args = vec!["practise"];
    args.extend_from_slice(more);
    args.extend_from_slice(&["--demonstrate", "--headless", "--json"]);
    let told = run(home, &args);
    assert_eq!(told.code, 0, "{more:?}: {}", told.err);
    serde_json::from_str(&told.out).unwrap()
}

#[test]
fn a_demonstration_is_logged_debriefed_and_kept_apart_from_treatments() {
    let home = home();
    let out = play(home.path(), &["bold-start", "--seed", "3"]);
    assert_eq!((&out["log"]["practice"], &out["log"]["record_sound"]), (&"bold-start".into(), &true.into()));
    assert_eq!((&out["debrief"]["kind"], &out["debrief"]["seed"]), (&"PRACTICE".into(), &3.into()));
    let id = out["log"]["session"].as_str().unwrap();
    let text = run(home.path(), &["debrief", id]);
    assert!(text.out.starts_with("PRACTICE debrief") && text.out.contains("TRY NEXT"), "{}", text.out);
    assert!(text.out.lines().all(|l| l.chars().count() <= 80));
    assert!(run(home.path(), &["log", id]).out.contains("nobody was treated"));
    // No look at treatments sees it.
    let all = run(home.path(), &["verify", "--json"]).json();
    assert_eq!(all["sessions"].as_array().unwrap().len(), 0, "{all}");
    // The same seed, the same skin: the figures agree but for ids and times.
    let again = play(home.path(), &["bold-start", "--seed", "3"]);
    assert_eq!(again["debrief"]["zones"], out["debrief"]["zones"]);
    assert_eq!(again["debrief"]["score"], out["debrief"]["score"]);
    let other = play(home.path(), &["bold-start", "--seed", "4"]);
    assert_ne!(other["debrief"]["zones"], out["debrief"]["zones"]);
}

#[test]
fn a_course_plays_its_sessions_and_comes_to_an_end() {
    let home = home();
    let out = play(home.path(), &["first-script", "--course", "--seed", "2"]);
    let sessions = out.as_array().unwrap();
    assert_eq!(sessions.len(), 5);
    let left: Vec<f64> =
        sessions.iter().map(|s| s["debrief"]["zones"][0]["ink_left_percent"].as_f64().unwrap()).collect();
    assert!(left.windows(2).all(|w| w[1] < w[0]), "{left:?}");
    assert_eq!(sessions[4]["debrief"]["course_session"], 5);
    let over =
        run(home.path(), &["practise", "first-script", "--course", "--seed", "2", "--demonstrate", "--headless"]);
    assert_eq!(over.code, 1);
    assert!(over.err.contains("come to its end after 5 sessions"), "{}", over.err);
}

#[test]
fn progress_counts_what_a_trainee_played_and_no_demonstration() {
    let home = home();
    play(home.path(), &["first-script", "--seed", "1"]);
    let none = run(home.path(), &["practise", "--progress", "--json"]).json();
    assert_eq!(none, serde_json::json!([]));
    assert!(run(home.path(), &["practise", "--progress"]).out.contains("no run was closed yet"));
}

#[test]
fn the_list_names_every_scenario_with_its_aim() {
    let home = home();
    let list = run(home.path(), &["practise", "--list", "--json"]).json();
    let list = list.as_array().unwrap();
    assert!(list.len() >= 8);
    for l in list {
        for key in ["scenario", "grade", "title", "aim", "course_sessions"] {
            assert!(!l[key].is_null(), "{key}");
        }
        assert!(run(home.path(), &["practise", "--list"]).out.contains(l["scenario"].as_str().unwrap()));
    }
}

#[test]
fn a_plan_of_ones_own_meets_usual_skin_or_its_own_case() {
    let home = home();
    let plan = home.path().join("mine.toml");
    std::fs::copy(sample("first-script.toml"), &plan).unwrap();
    let plan = plan.to_str().unwrap();
    let usual = play(home.path(), &[plan, "--seed", "1"]);
    assert_eq!(usual["debrief"]["hidden"][0], "nothing: the plan told all there was");
    let case = home.path().join("case.toml");
    let text = include_str!("../../sample-plans/cases/first-script.toml");
    std::fs::write(&case, text.replace("grade =", "device_delivers = 1.3\ngrade =")).unwrap();
    let own = play(home.path(), &[plan, "--case", case.to_str().unwrap(), "--seed", "1"]);
    assert!(own["debrief"]["hidden"][0].as_str().unwrap().contains("+30 %"), "{}", own["debrief"]["hidden"]);
    std::fs::write(&case, text.replace("\"script\"", "\"sleeve\"")).unwrap();
    let told = run(home.path(), &["practise", plan, "--case", case.to_str().unwrap(), "--demonstrate", "--headless"]);
    assert_eq!(told.code, 2);
    assert!(told.err.contains("case.toml:") && told.err.contains("no zone 'sleeve'"), "{}", told.err);
}

#[test]
fn bad_input_is_told_in_words() {
    let home = home();
    for (args, says) in [
        (&["practise", "first-script", "--seed", "abc"][..], "a seed is a whole number"),
        (&["practise", "first-script", "--seed", "-1"], "seed"),
        (&["practise", "first-script", "--speed", "0"], "a number from 1"),
        (&["practise", "first-script", "--speed", "nan"], "a number from 1"),
        (&["practise", "first-script", "--trainee", "Jane Doe"], "never a name"),
        (&["practise", "frist-script", "--demonstrate", "--headless"], "did you mean 'first-script'"),
        (&["practise", "no/such.toml", "--demonstrate", "--headless"], "no/such.toml"),
        (&["practise", "--demonstrate", "--headless"], "needs a scenario"),
        (&["practise", "first-script", "--headless"], "--demonstrate"),
        (&["practise", "first-script", "--json"], "--json goes with"),
        (&["practise", "first-script", "--case", "x.toml", "--demonstrate", "--headless"], "is a shipped scenario"),
        (&["debrief", "nothing"], "no session"),
    ] {
        let told = run(home.path(), args);
        assert_eq!(told.code, 2, "{args:?}: {}", told.err);
        assert!(told.err.contains(says), "{args:?}: {}", told.err);
    }
}
