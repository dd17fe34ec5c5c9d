//! Practice in a real terminal, in lines, and taken up again.

use super::hand::{F3, F4, Hand, journals, lines, run, run_json};
use super::lines::{Done, Lines};
use super::pty::{Chair, Ended};
use std::path::{Path, PathBuf};
use std::time::Duration;

const F10: &str = "\x1b[21~";
/// A demonstration takes seconds even beside other tests.
const PATIENCE: Duration = Duration::from_secs(60);

/// The practice journals of a home.
fn practice(home: &Path) -> Vec<PathBuf> {
    let root = home.join("data/practice/sessions");
    let inside = |dir: &Path| -> Vec<PathBuf> {
        std::fs::read_dir(dir).map(|list| list.map(|e| e.unwrap().path()).collect()).unwrap_or_default()
    };
    let mut found: Vec<PathBuf> = inside(&root).iter().flat_map(|y| inside(y)).flat_map(|m| inside(&m)).collect();
    found.retain(|p| p.extension().is_some_and(|e| e == "jsonl") && !p.to_string_lossy().contains(".notes."));
    found
}

fn id_of(journal: &Path) -> String {
    journal.file_stem().unwrap().to_string_lossy().into_owned()
}

/// Signs in, reads back what the first line says that the device shows, and begins the pass of `bold-start`.
fn begins(hand: &mut Hand) -> Done {
    hand.wait_for("PRACTICE CHECKS")?;
    hand.wait_for("a teaching model")?;
    hand.wait_for("seed 3")?;
    hand.sign_in()?;
    hand.read_back(["1064", "6 ns", "4", "5.0", "0.628", "5"])?;
    hand.time_out()?;
    hand.key('n');
    hand.fill("Device counter", "")?;
    hand.wait_for("running")
}

#[test]
fn skin_answers_on_screen_is_left_and_taken_up_again() -> Done {
    let home = tempfile::tempdir().unwrap();
    let mut hand = Hand::start(home.path(), &["practise", "bold-start", "--seed", "3"]);
    begins(&mut hand)?;
    assert!(hand.chair.screen().contains("PRACTICE TREAT"));
    assert!(hand.chair.screen().contains("device counter 48210 | skin: nothing yet"), "{}", hand.chair.screen());
    for n in 1..=6 {
        hand.key(' ');
        hand.wait_count(n)?;
    }
    hand.wait_for("device counter 48216")?;
    hand.wait_for("whitening")?;
    let skin = |hand: &Hand| -> String {
        let screen = hand.chair.screen();
        screen.lines().nth(1).unwrap_or_default().split('|').nth(1).unwrap_or_default().trim().to_owned()
    };
    let seen = skin(&hand);
    // What is seen raises nothing until it is noted.
    assert!(hand.chair.screen().contains("nothing flagged"), "{}", hand.chair.screen());
    hand.key('b');
    hand.wait_for("LOWER")?;
    hand.leave()?;
    assert_eq!(hand.chair.wait_exit()?, Ended::Code(0));
    assert!(hand.chair.screen().contains("PRACTICE session"), "{}", hand.chair.screen());

    assert!(journals(home.path()).is_empty(), "nobody was treated");
    let [journal] = practice(home.path()).try_into().unwrap();
    let id = id_of(&journal);
    let mut hand = Hand::start(home.path(), &["resume", &id]);
    hand.wait_for("PRACTICE TREAT")?;
    hand.wait_for("device counter 48216")?;
    assert_eq!((hand.count(), skin(&hand)), (Some(6), seen));
    // Time can be let pass; a treatment's cannot.
    hand.chair.send(F10);
    hand.wait_for("a minute passed")?;
    hand.leave()?;
    assert_eq!(hand.chair.wait_exit()?, Ended::Code(0));
    // A run that was left is judged as far as it went, and its log says what it is.
    let debrief = run_json(home.path(), &["debrief", &id, "--json"]);
    assert_eq!((&debrief["kind"], &debrief["closed"]), (&"PRACTICE".into(), &false.into()));
    assert_eq!(debrief["zones"][0]["pulses"], 6);
    let log = String::from_utf8(run(home.path(), &["log", &id]).stdout).unwrap();
    assert!(log.starts_with("PRACTICE session"), "{log}");
    assert_eq!(run_json(home.path(), &["log", &id, "--json"])["practice"], "bold-start");
    assert_eq!(run_json(home.path(), &["verify", &id, "--json"])["ok"], true);
    Ok(())
}

#[test]
fn time_cannot_be_hurried_in_a_treatment() -> Done {
    let home = tempfile::tempdir().unwrap();
    let mut hand = Hand::treat(home.path(), "two-zone-band")?;
    hand.chair.send(F10);
    hand.wait_for("time passes by itself")?;
    assert!(!hand.chair.screen().contains("PRACTICE"));
    Ok(())
}

#[test]
fn a_demonstration_plays_to_its_debrief_and_takes_no_keys() -> Done {
    let home = tempfile::tempdir().unwrap();
    let args = ["practise", "first-script", "--demonstrate", "--speed", "120", "--seed", "1"];
    let mut chair = Chair::start_in(home.path(), &args, &[], 80, 24);
    chair.wait_for("PRACTICE CHECKS")?;
    chair.send("n");
    chair.wait_for("the model operator acts")?;
    chair.wait_at_most(PATIENCE, "the debrief", |c| c.screen().contains("PRACTICE debrief"))?;
    assert!(chair.screen().contains("SCORE"), "{}", chair.screen());
    chair.send("\x1b[F");
    chair.wait_for("TRY NEXT")?;
    chair.send("q");
    assert_eq!(chair.wait_exit()?, Ended::Code(0));
    let [journal] = practice(home.path()).try_into().unwrap();
    let told = lines(&journal);
    assert_eq!(told[0]["event"]["practice"]["demonstration"], true);
    // The key that was pressed out of turn answered nothing.
    assert!(!told.iter().any(|l| l["event"]["answer"]["answer"] == "no"));
    assert_eq!(run_json(home.path(), &["verify", &id_of(&journal), "--json"])["ok"], true);
    Ok(())
}

#[test]
fn a_scenario_is_chosen_on_the_start_screen() -> Done {
    let home = tempfile::tempdir().unwrap();
    let mut hand = Hand::start(home.path(), &[]);
    hand.wait_for("PRACTISE first-script")?;
    hand.chair.send("jjjjj");
    hand.wait_for("> PRACTISE bold-start")?;
    hand.key('o');
    hand.wait_for("PRACTICE CHECKS")?;
    hand.chair.send(F3);
    hand.wait_for("device shows 1064 nm, 6 ns, 4 mm, 5 J/cm2, 5 Hz, 0.628 J")?;
    hand.chair.send(F4);
    hand.wait_for("PRACTICE TREAT")
}

#[test]
fn practice_is_heard_in_lines_too() -> Done {
    let home = tempfile::tempdir().unwrap();
    let args = ["practise", "withheld", "--plain", "--demonstrate", "--speed", "600", "--seed", "1"];
    let lines = Lines::start(home.path(), &args);
    lines.hear("PRACTICE, simulated skin")?;
    lines.hear("PRACTICE debrief")?;
    lines.hear("TRY NEXT")?;
    let mut lines = Lines::start(home.path(), &["practise", "withheld", "--plain", "--seed", "1"]);
    lines.tell("v OP-7", "")?;
    lines.tell("y", "the client says: Mostly. I had gold injections")?;
    Ok(())
}

/// The start screen leads to the supervisor's side as soon as there is a session to look at, and the way back is the
/// shell's.
#[test]
fn the_review_is_reached_from_the_start_screen() -> Done {
    let home = tempfile::tempdir().unwrap();
    let mut hand = Hand::treat(home.path(), "two-zone-band")?;
    hand.leave()?;
    assert_eq!(hand.chair.wait_exit()?, Ended::Code(0));
    let (id, _) = super::hand::only_session(home.path());
    let mut hand = Hand::start(home.path(), &[]);
    hand.wait_for("REVIEW all sessions")?;
    // The session that was left stands above it.
    hand.chair.send("j");
    hand.wait_for("> REVIEW all sessions")?;
    hand.key('o');
    hand.wait_for("HL-2041")?;
    assert!(!hand.chair.screen().contains("PRACTISE first-script"), "{}", hand.chair.screen());
    hand.wait_for(&id)?;
    hand.chair.send("q");
    assert_eq!(hand.chair.wait_exit()?, Ended::Code(0));
    Ok(())
}
