//! Care for the terminal: storms of new sizes, wide and joined characters, few bytes for a pulse.

use super::hand::{Done, Hand, sample};
use super::pty::{Chair, Key};
use std::path::Path;
use std::thread::sleep;
use std::time::Duration;

fn hand_at(home: &Path, args: &[&str], cols: u16, rows: u16) -> Hand {
    Hand { chair: Chair::start_in(home, args, &[], cols, rows) }
}

/// Sizes from 1x1 to 200x60, the same in every run (constants of a linear congruence: Numerical Recipes, 3rd ed. 7.1).
fn sizes(n: usize) -> Vec<(u16, u16)> {
    let mut seed: u32 = 20_261_125;
    let mut next = |most: u32| {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        u16::try_from(1 + (seed >> 8) % most).unwrap()
    };
    let mut sizes: Vec<_> = (2..n).map(|_| (next(200), next(60))).collect();
    sizes.extend([(1, 1), (200, 60)]);
    sizes
}

#[test]
fn a_storm_of_sizes_loses_no_key_and_leaves_the_right_screen() -> Done {
    const PULSES: u64 = 50;
    let home = tempfile::tempdir().unwrap();
    let mut hand = Hand::treat(home.path(), "two-zone-band")?;
    hand.begin_a_pass()?;
    hand.pulses(3)?;
    for (i, (cols, rows)) in sizes(100).into_iter().enumerate() {
        hand.chair.resize(cols, rows);
        if i % 2 == 0 {
            hand.key(' ');
        }
        sleep(Duration::from_millis(8));
    }
    hand.chair.resize(80, 24);
    hand.wait_count(3 + PULSES)?;
    hand.chair.wait_quiet(Duration::from_millis(200));
    // All of it drawn anew is the same: nothing of the storm was left.
    let left = hand.chair.screen();
    hand.chair.send_key(Key::Ctrl('l'));
    hand.chair.wait_quiet(Duration::from_millis(200));
    // The clocks go on.
    let still = |screen: &str| screen.lines().filter(|l| !l.contains(" for ")).map(str::to_owned).collect::<Vec<_>>();
    assert_eq!(still(&left), still(&hand.chair.screen()));
    assert!(left.contains("of 175 planned") && left.contains("space pulse"), "{left}");
    hand.pulses(1)?;
    hand.leave()
}

/// Chinese and Japanese, a family joined by zero-width joiners, an accent on its own, a flag.
const WIDE: &str = "前腕の帯 👩\u{200d}👩\u{200d}👧 e\u{301}tude 🇩🇪 한국";

/// The column of a character's cell in a row, each time it stands there.
fn columns_of(hand: &Hand, row: u16, wanted: &str) -> Vec<u16> {
    hand.chair.with_screen(|screen| {
        let cols = screen.size().1.get();
        (0..cols).filter(|col| screen.cell(row, *col).is_some_and(|cell| cell.contents() == wanted)).collect()
    })
}

/// Header and rule reach from edge to edge, and the header ends in whether all is saved.
fn assert_whole(hand: &Hand, cols: u16, rows: u16) -> Done {
    hand.chair.wait_until("a whole header", |chair| {
        chair.with_screen(|screen| {
            let text = |row: u16, from: u16| screen.contents_between(row, from, row, cols);
            text(0, cols - 7).trim_end() == "saved" && text(1, 0) == "─".repeat(usize::from(cols))
        })
    })?;
    let lines = hand.chair.screen().lines().count();
    assert!(lines <= usize::from(rows), "{}", hand.chair.framed());
    Ok(())
}

#[test]
fn wide_and_joined_characters_stay_in_their_cells() -> Done {
    let text = std::fs::read_to_string(sample("two-zone-band")).unwrap();
    let text = text
        .replace("Two-colour band, two passes", &format!("{WIDE} {WIDE} {WIDE}"))
        .replace("left forearm, outer side, edge of the band", &format!("{WIDE} {WIDE}"));
    for (cols, rows) in [(80, 24), (101, 31), (160, 50)] {
        let home = tempfile::tempdir().unwrap();
        let plan = home.path().join("wide.toml");
        std::fs::write(&plan, &text).unwrap();
        let mut hand = hand_at(home.path(), &["treat", plan.to_str().unwrap()], cols, rows);
        hand.wait_for("CHECKS")?;
        assert_whole(&hand, cols, rows)?;
        // An operator's code in a field that is shorter than it.
        hand.at_item("Code of the operator")?;
        hand.key('v');
        hand.wait_for("enter take")?;
        hand.chair.send(WIDE);
        hand.wait_for("한국")?;
        hand.chair.wait_quiet(Duration::from_millis(50));
        let framed: Vec<_> = (0..rows).map(|row| columns_of(&hand, row, "║")).filter(|at| !at.is_empty()).collect();
        assert!(framed.len() >= 4 && framed.iter().all(|at| at.len() == 2 && at == &framed[0]), "{framed:?}");
        hand.chair.send_key(Key::Enter);
        hand.wait_gone("enter take")?;
        for _ in 0..9 {
            hand.key('y');
        }
        hand.key('a');
        hand.wait_for("SETTINGS")?;
        hand.wait_for("前腕の帯")?;
        assert_whole(&hand, cols, rows)?;
        hand.read_back(super::hand::BLACK)?;
        hand.time_out()?;
        hand.key('n');
        hand.fill("Device counter", "")?;
        hand.wait_for("running")?;
        hand.pulses(2)?;
        hand.key('m');
        hand.fill("No names", &format!("{WIDE} {WIDE}"))?;
        hand.key('b');
        hand.wait_for("LOWER")?;
        assert_whole(&hand, cols, rows)?;
        // The note, on the last screen: each of its characters in a cell or two of its own.
        hand.chair.send(super::hand::F5);
        hand.wait_for("CLOSE")?;
        // Its last characters: a frame may come in pieces.
        hand.wait_for("🇩🇪 한국")?;
        hand.chair.wait_quiet(Duration::from_millis(50));
        assert_whole(&hand, cols, rows)?;
        let screen = hand.chair.screen();
        let note = screen.lines().find(|l| l.trim_start().starts_with("note ")).ok_or("no note on screen")?;
        assert!(note.contains("前腕の帯 👩⟨U+200D⟩👩⟨U+200D⟩👧 e\u{301}tude 🇩🇪 한국"), "{note}");
        assert!(unicode_width::UnicodeWidthStr::width(note) <= usize::from(cols), "{note}");
        // Drawn anew it is the same: no half of a wide character was left behind.
        let before = hand.chair.screen();
        hand.chair.send_key(Key::Ctrl('l'));
        hand.chair.wait_quiet(Duration::from_millis(200));
        assert_eq!(before, hand.chair.screen());
        hand.leave()?;
        hand.chair.wait_exit()?;
    }
    Ok(())
}

#[test]
fn a_pulse_costs_few_bytes() -> Done {
    const MOST: usize = 2_048;
    for (cols, rows) in [(80, 24), (160, 50)] {
        let home = tempfile::tempdir().unwrap();
        let mut hand = hand_at(home.path(), &["treat", &sample("two-zone-band")], cols, rows);
        hand.wait_for("CHECKS")?;
        hand.begin_a_pass()?;
        hand.pulses(8)?;
        // Over a change of ten, where two of the large digits are others.
        for n in 9..=21 {
            hand.chair.wait_quiet(Duration::from_millis(100));
            let before = hand.chair.raw().len();
            hand.key(' ');
            hand.wait_count(n)?;
            hand.chair.wait_quiet(Duration::from_millis(100));
            let written = hand.chair.raw().len() - before;
            assert!(written > 0 && written < MOST, "{written} bytes for pulse {n} at {cols}x{rows}");
        }
        hand.leave()?;
    }
    Ok(())
}
