//! Disks that take nothing, sessions that are held, plans that are refused.

use super::hand::{
    Done, F4, F5, F9, Hand, count_on, frames, last_event, lines, only_session, run, run_json, sample, says_saved,
};
use super::pty::{Chair, Ended, Home, Key};
use rustix::process::{Pid, Resource, Rlimit, geteuid, prlimit};
use std::io::Write;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

/// A small disk of its own, where the system lets us make one.
struct SmallDisk(PathBuf);

impl SmallDisk {
    fn mount(at: &Path) -> Option<Self> {
        std::fs::create_dir_all(at).unwrap();
        let told = Command::new("mount").args(["-t", "tmpfs", "-o", "size=6m,mode=0700", "tmpfs"]).arg(at).output();
        match told {
            Ok(told) if told.status.success() => Some(Self(at.to_owned())),
            told => {
                // Past the test harness, which keeps what a passing test prints to itself.
                let words = format!("NOT TESTED on a disk of its own: mounting one was refused: {told:?}\n");
                std::io::stderr().write_all(words.as_bytes()).unwrap();
                None
            }
        }
    }

    /// Leaves no room at all.
    fn fill(&self) {
        let mut size = 6 << 20;
        let filler = self.0.join("filler");
        while size > 0 {
            let mut bytes = std::fs::read(&filler).unwrap_or_default();
            bytes.resize(bytes.len() + size, b'x');
            if std::fs::write(&filler, &bytes).is_err() {
                size /= 2;
            }
        }
        assert!(std::fs::write(self.0.join("more"), [b'x'; 4096]).is_err(), "the disk is full");
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        // Lazily, since a program that failed a test may still hold it.
        let _ = Command::new("umount").arg("-l").arg(&self.0).status();
    }
}

/// Starts fadewright where it must refuse before the first pulse, and gives what it says.
fn refused_at_start(home: &Path, program: &str, args: &[&str]) -> Result<String, String> {
    let mut chair = Chair::start_program_in(Home::Shared(home.to_owned()), program, args, &[], 120, 24);
    assert_eq!(chair.wait_exit()?, Ended::Code(2), "{}", chair.framed());
    assert_eq!(chair.count_raw("\x1b[?1049h"), 0, "no screen is taken");
    Ok(chair.screen().split_whitespace().collect::<Vec<_>>().join(" "))
}

#[test]
fn a_directory_that_may_not_be_written_to_is_told_before_the_first_pulse() -> Done {
    let home = tempfile::tempdir().unwrap();
    // What an ordinary user may read but not write.
    let plan = home.path().join("plan.toml");
    std::fs::copy(sample("two-zone-band"), &plan).unwrap();
    let binary = home.path().join("fadewright");
    std::fs::copy(env!("CARGO_BIN_EXE_fadewright"), &binary).unwrap();
    let data = home.path().join("data");
    std::fs::create_dir(&data).unwrap();
    let mode = |path: &Path, mode| std::fs::set_permissions(path, PermissionsExt::from_mode(mode)).unwrap();
    mode(&plan, 0o644);
    mode(&data, 0o555);
    mode(home.path(), 0o755);
    let (binary, plan) = (binary.to_str().unwrap(), plan.to_str().unwrap());
    let told = if geteuid().is_root() {
        // Root may write anywhere; somebody else starts it.
        let user = ["--reuid=65534", "--regid=65534", "--clear-groups", binary, "treat", plan];
        refused_at_start(home.path(), "setpriv", &user)?
    } else {
        refused_at_start(home.path(), binary, &["treat", plan])?
    };
    mode(&data, 0o755);
    assert!(told.contains("data") && told.contains("permission") && told.contains("--data-dir"), "{told}");
    Ok(())
}

#[test]
fn a_data_directory_that_is_a_file_is_told_before_the_first_pulse() -> Done {
    let home = tempfile::tempdir().unwrap();
    std::fs::write(home.path().join("data"), "a file").unwrap();
    let plan = sample("two-zone-band");
    let told = refused_at_start(home.path(), env!("CARGO_BIN_EXE_fadewright"), &["treat", &plan])?;
    assert!(told.contains("is not a directory") && told.contains("--data-dir"), "{told}");
    Ok(())
}

#[test]
fn a_full_disk_is_told_before_the_first_pulse() -> Done {
    let home = tempfile::tempdir().unwrap();
    let plan = sample("two-zone-band");
    let binary = env!("CARGO_BIN_EXE_fadewright");
    // Without a disk of one's own: no file may grow beyond nothing.
    let limited = ["-c", "ulimit -f 0; exec \"$0\" \"$@\"", binary, "treat", &plan];
    let told = refused_at_start(home.path(), "sh", &limited)?;
    assert!(told.contains("data") && told.contains("--data-dir"), "{told}");
    let home = tempfile::tempdir().unwrap();
    if let Some(disk) = SmallDisk::mount(&home.path().join("data")) {
        disk.fill();
        let told = refused_at_start(home.path(), binary, &["treat", &plan])?;
        assert!(told.contains("full") && told.contains("--data-dir"), "{told}");
        assert!(super::hand::journals(home.path()).is_empty(), "no empty session is left behind");
    }
    Ok(())
}

/// More than a block of the disk takes.
const NOTES: usize = 16;
const NOTE: &str = "three hundred characters of a note, because a block of the disk holds four thousand and ninety-six \
bytes, and a note that still has a place in the last one is no trouble to anybody; so this one goes on and on, as notes \
do at the end of a long day, until there is no more to be said about the block";

/// How the journal's disk begins to fail in the middle of a session.
enum Fault {
    /// The file may not grow any further.
    Limit,
    /// The disk fills up.
    FullDisk(SmallDisk),
}

/// The largest size that a running program's files may have.
fn limit_file_size(chair: &Chair, bytes: Option<u64>) {
    let new = Rlimit { current: bytes, maximum: None };
    prlimit(Pid::from_raw(chair.pid()), Resource::Fsize, new).expect("a limit for our own child");
}

fn is_time(text: &str) -> bool {
    let text: Vec<char> = text.chars().take(8).collect();
    text.len() == 8 && text.iter().enumerate().all(|(i, c)| if i % 3 == 2 { *c == ':' } else { c.is_ascii_digit() })
}

/// Runs a session into a failing disk; what it shows from then on is looked at frame by frame.
fn runs_into(home: &Path, fault: &Fault) -> Result<Hand, String> {
    let mut hand = Hand::treat(home, "two-zone-band")?;
    hand.begin_a_pass()?;
    hand.pulses(7)?;
    let (_, journal) = only_session(home);
    match fault {
        Fault::Limit => limit_file_size(&hand.chair, Some(std::fs::metadata(&journal).unwrap().len() + 100)),
        Fault::FullDisk(disk) => {
            disk.fill();
            // The space that was set aside for the pulses still takes them. Notes have none beyond their last block.
            hand.pulses(1)?;
            hand.key('u');
            hand.wait_count(7)?;
        }
    }
    let before = frames(&hand.chair.raw()).len();
    if let Fault::FullDisk(_) = fault {
        for _ in 0..NOTES {
            hand.key('m');
            hand.fill("No names", NOTE)?;
        }
    }
    hand.key(' ');
    hand.wait_for("NOT SAVED since")?;
    for _ in 0..20 {
        hand.key(' ');
        std::thread::sleep(Duration::from_millis(5));
    }
    hand.chair.wait_until("all 28 on screen", |chair| count_on(&chair.screen()) == Some(28))?;
    hand.chair.wait_quiet(Duration::from_millis(100));
    let screen = hand.chair.screen();
    let since = screen.split_once("NOT SAVED since ").ok_or("since when")?.1;
    assert!(is_time(since), "{screen}");
    assert!(screen.contains("F9"), "{screen}");
    for frame in frames(&hand.chair.raw()).iter().skip(before) {
        assert!(!says_saved(frame) || count_on(frame).is_none_or(|n| n <= 7), "shown as saved:\n{frame}");
    }
    let on_disk: Vec<_> = lines(&journal).into_iter().filter(|l| l["event"]["type"] == "pulses-fired").collect();
    assert!(on_disk.len() < 28, "the disk did fail");
    Ok(hand)
}

#[test]
fn a_disk_that_fails_in_mid_session_is_told_and_counting_goes_on() -> Done {
    let home = tempfile::tempdir().unwrap();
    let mut hand = runs_into(home.path(), &Fault::Limit)?;
    // Left like this, the program says what is missing where, and its exit code says so too.
    hand.leave()?;
    assert_eq!(hand.chair.wait_exit()?, Ended::Code(1));
    let words = hand.chair.screen().split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("NOT ALL SAVED"), "{words}");
    // What was saved before can be taken up again.
    let mut again = Hand::start(home.path(), &[]);
    again.wait_for("resume session")?;
    again.chair.send_key(Key::Enter);
    again.wait_for("TREAT")?;
    again.wait_count(7)
}

fn continues_elsewhere(home: &Path, fault: &Fault) -> Done {
    let mut hand = runs_into(home, fault)?;
    let elsewhere = tempfile::tempdir().unwrap();
    hand.chair.send(F9);
    hand.wait_for("Go on in another directory")?;
    // A place that takes nothing either changes nothing.
    hand.chair.send("/nowhere/at/all");
    hand.chair.send_key(Key::Enter);
    hand.wait_for("no such directory")?;
    hand.chair.send_key(Key::Ctrl('u'));
    // It stands for another disk, which has no such limit.
    if matches!(fault, Fault::Limit) {
        limit_file_size(&hand.chair, None);
    }
    hand.fill("Go on in another directory", elsewhere.path().to_str().unwrap())?;
    hand.wait_for("recording goes on in")?;
    hand.wait_count(28)?;
    hand.wait_gone("NOT SAVED")?;
    hand.pulses(5)?;
    hand.key('e');
    hand.wait_for("not started")?;
    hand.leave()?;
    assert_eq!(hand.chair.wait_exit()?, Ended::Code(0));
    let words = hand.chair.screen().replace('\n', "");
    assert!(words.contains("it was recorded in"), "{words}");

    let (id, old) = only_session(home);
    let new = elsewhere.path().join(format!("{id}.jsonl"));
    let path = new.to_str().unwrap();
    assert_eq!(run_json(home, &["verify", path, "--json"])["ok"], true);
    let log = run_json(home, &["log", path, "--json"]);
    assert_eq!((log["pulses"].as_u64(), log["record_sound"].as_bool()), (Some(33), Some(true)));
    let mut again = Hand::start(home, &["--data-dir", elsewhere.path().to_str().unwrap(), "resume", path]);
    again.wait_for("TREAT")?;
    again.wait_for("resumed; journal")?;
    again.leave()?;
    assert_eq!(again.chair.wait_exit()?, Ended::Code(0));
    assert_eq!(run_json(home, &["verify", path, "--json"])["ok"], true);
    let (old, new) = (lines(&old), lines(&new));
    assert_eq!(new[..old.len()], old, "all that the old file holds");
    let moved = new.iter().position(|line| line["event"]["type"] == "journal-continued").expect("it is told");
    let unsaved_from = new[moved]["event"]["unsaved_from"].as_u64().unwrap();
    assert!(unsaved_from <= old.len() as u64 + 1, "no event is said to be saved that is not in the old file");
    if let Fault::FullDisk(_) = fault {
        assert_eq!(log["notes"], serde_json::Value::from(vec![NOTE; NOTES]));
    }
    Ok(())
}

#[test]
fn recording_goes_on_in_another_directory_when_a_file_cannot_grow() -> Done {
    let home = tempfile::tempdir().unwrap();
    continues_elsewhere(home.path(), &Fault::Limit)
}

#[test]
fn recording_goes_on_in_another_directory_when_the_disk_is_full() -> Done {
    let home = tempfile::tempdir().unwrap();
    match SmallDisk::mount(&home.path().join("data")) {
        Some(disk) => continues_elsewhere(home.path(), &Fault::FullDisk(disk)),
        // Told by the mount; the same way out is tested with a file that cannot grow.
        None => Ok(()),
    }
}

#[test]
fn a_session_that_is_held_is_not_taken_up_twice() -> Done {
    let home = tempfile::tempdir().unwrap();
    let mut first = Hand::treat(home.path(), "two-zone-band")?;
    first.begin_a_pass()?;
    first.pulses(2)?;
    let mut second = Hand::start(home.path(), &[]);
    second.wait_for("resume session")?;
    second.chair.send_key(Key::Enter);
    assert_eq!(second.chair.wait_exit()?, Ended::Code(75), "{}", second.chair.framed());
    let (id, journal) = only_session(home.path());
    let words = second.chair.screen().replace('\n', "");
    assert!(words.contains(&id) && words.contains("another"), "{words}");
    assert!(!second.chair.with_screen(vt100::Screen::alternate_screen), "its screen is given back");
    first.pulses(3)?;
    first.leave()?;
    assert_eq!(first.chair.wait_exit()?, Ended::Code(0));
    assert!(!lines(&journal).iter().any(|l| l["event"]["type"] == "session-resumed"), "the second left no trace");
    assert_eq!(run_json(home.path(), &["log", &id, "--json"])["pulses"], 5);
    Ok(())
}

#[test]
fn a_plan_that_its_checks_refuse_cannot_be_treated_and_closes_as_refused() -> Done {
    let home = tempfile::tempdir().unwrap();
    let mut hand = Hand::treat(home.path(), "refused-gold")?;
    hand.wait_for("REFUSED")?;
    hand.wait_for("gold therapy in the history")?;
    // No override, and no way round it.
    hand.press('o', "cannot be overridden")?;
    hand.chair.send(F4);
    hand.wait_for("TREAT")?;
    hand.press('n', "refuses treatment")?;
    hand.key(' ');
    hand.wait_for("no pass is running")?;
    assert_eq!(hand.count(), Some(0));
    hand.chair.send(F5);
    hand.wait_for("CLOSE")?;
    // Nor can it be closed as anything else.
    hand.key('c');
    hand.choose("How did it end?", 't')?;
    hand.choose("Close for good?", 'y')?;
    hand.wait_for("Closing note")?;
    hand.chair.send_key(Key::Enter);
    hand.wait_for("no pulse was fired")?;
    hand.chair.send_key(Key::Esc);
    hand.wait_gone("Closing note")?;
    hand.key('c');
    hand.choose("How did it end?", 'r')?;
    hand.choose("Close for good?", 'y')?;
    hand.fill("Closing note", "referred to the dermatologist")?;
    hand.wait_for("SESSION CLOSED")?;
    hand.key('q');
    assert_eq!(hand.chair.wait_exit()?, Ended::Code(0));

    let (id, journal) = only_session(home.path());
    assert_eq!(last_event(&journal)["type"], "session-closed");
    let log = run_json(home.path(), &["log", &id, "--json"]);
    assert_eq!((log["pulses"].as_u64(), log["outcome"].as_str()), (Some(0), Some("refused-by-checks")));
    assert_eq!(log["next_earliest"], serde_json::Value::Null);
    assert_eq!(log["closing_note"], "referred to the dermatologist");
    let gold = log["checks"].as_array().unwrap().iter().find(|c| c["item"] == "gold").unwrap();
    assert_eq!(gold["status"], "hard-stop");
    let told = run(home.path(), &["log", &id]);
    assert!(String::from_utf8(told.stdout).unwrap().contains("refused-by-checks"));
    // A closed session is not offered again.
    let mut again = Hand::start(home.path(), &[]);
    again.wait_for("PRACTISE first-script")?;
    assert!(!again.chair.screen().contains("resume session"), "{}", again.chair.screen());
    again.key('q');
    assert_eq!(again.chair.wait_exit()?, Ended::Code(0));
    Ok(())
}

/// A theme is there to be read by. A wrong one is told, with its place, and another is taken: nobody stands before a
/// program that does not start.
#[test]
fn a_broken_theme_stops_no_treatment_and_is_told_with_its_place() -> Done {
    let whole = include_str!("../../themes/dark.toml");
    let broken = |from: &str, to: &str| {
        assert!(whole.contains(from), "{from}");
        whole.replacen(from, to, 1)
    };
    let line = |what: &str| 1 + whole.lines().position(|l| l.starts_with(what)).unwrap();
    let (stop, name) = (line("stop = "), line("name = "));
    for (text, told) in [
        (broken("stop = {", "stpo = {"), format!("{stop}:1: roles.stpo: unknown key")),
        (broken("#ffafaf", "#ffafag"), format!("{stop}:15: roles.stop.fg: '#ffafag' is not a colour")),
        (
            broken("name = \"dark\"", "name = \"dark\"\nname = \"dark\""),
            format!("{}:1: this key stands twice", name + 1),
        ),
        (broken("fadewright theme", "fadewright plan"), "kind".to_owned()),
        ("not a theme at all".to_owned(), "own.toml:1:".to_owned()),
    ] {
        let home = tempfile::tempdir().unwrap();
        let own = home.path().join("own.toml");
        std::fs::write(&own, &text).unwrap();
        let own = own.to_str().unwrap();
        let mut hand = Hand::start(home.path(), &["treat", &sample("two-zone-band"), "--theme", own]);
        let flat = |screen: String| screen.split_whitespace().collect::<Vec<_>>().join("");
        let wanted = told.split_whitespace().collect::<String>();
        hand.chair.wait_until("the mistake's place", |chair| flat(chair.screen()).contains(&wanted))?;
        hand.wait_for("CHECKS")?;
        assert!(hand.chair.screen().contains("instead of yours"), "{}", hand.chair.screen());
        hand.leave()?;
        // The same file is refused where it is looked at.
        let told = run(home.path(), &["theme", "check", own]);
        assert_eq!(told.status.code(), Some(2));
    }
    Ok(())
}

/// The same for the clinic's own theme in the config directory, a name that is none, and the start screen.
#[test]
fn a_broken_theme_of_the_clinic_and_an_unknown_one_stop_nobody() -> Done {
    let home = tempfile::tempdir().unwrap();
    let dir = home.path().join("config/fadewright");
    std::fs::create_dir_all(&dir).unwrap();
    let whole = include_str!("../../themes/dark.toml");
    let own = dir.join("theme.toml");
    std::fs::write(&own, whole.replace("name = \"dark\"", "name = \"ours\"")).unwrap();
    let mut hand = Hand::start(home.path(), &["treat", &sample("two-zone-band")]);
    hand.wait_for("CHECKS")?;
    assert!(!hand.chair.screen().contains("instead of yours"), "{}", hand.chair.screen());
    // It stands last: the next one is the first again.
    hand.chair.send("\x1b[18~");
    hand.wait_for("theme default")?;
    hand.leave()?;
    std::fs::write(&own, whole.replace("quiet = {", "qiuet = {")).unwrap();
    let mut hand = Hand::start(home.path(), &["treat", &sample("two-zone-band"), "--new"]);
    hand.wait_for("instead of yours")?;
    hand.wait_for("CHECKS")?;
    hand.leave()?;
    // The start screen says it too.
    let mut hand = Hand::start(home.path(), &[]);
    hand.wait_for("the default theme instead of yours")?;
    hand.chair.send("q");
    assert_eq!(hand.chair.wait_exit()?, Ended::Code(0));
    let mut hand = Hand::start(home.path(), &["treat", &sample("two-zone-band"), "--new", "--theme", "nothing"]);
    hand.wait_for("no theme 'nothing'")?;
    hand.wait_for("CHECKS")?;
    hand.leave()
}
