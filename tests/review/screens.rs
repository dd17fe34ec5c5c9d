//! The supervisor's screens at three sizes, in monochrome and in ASCII, and what their keys do.

use super::figures::kept;
use super::{BLISTER, Course, DECLINED, OPEN, QUIET, session};
use fadewright::clock::{Clock, FakeClock};
use fadewright::journal::{Digest, Verdict};
use fadewright::practice::debrief::Debrief;
use fadewright::review::{Filter, Kept, Progress, Run, SortKey, progress, review_session};
use fadewright::session::State;
use fadewright::tui::events::Stamped;
use fadewright::tui::review::{Library, Opened, Review};
use fadewright::tui::theme::{Depth, Glyphs, Theme};
use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{Event, KeyCode, KeyEvent, KeyModifiers};
use ratatui::layout::Rect;

const ALL: [(&str, &str, Course, &str); 4] = [
    (QUIET, "CL-1", Course::Quiet, "2026-11-24"),
    (DECLINED, "CL-1", Course::Declined, "2026-09-22"),
    (BLISTER, "CL-2", Course::Blister, "2026-11-22"),
    (OPEN, "CL-3", Course::Open, "2026-11-21"),
];

struct Shelf;

fn dated(client: &str, id: &str, course: Course, date: &str) -> Kept {
    let mut kept = kept(session(client, id, course).events());
    kept.row.date = Some(date.parse().unwrap());
    kept
}

impl Library for Shelf {
    fn session(&self, id: &str) -> Result<Opened, String> {
        let (id, client, course, _) = *ALL.iter().find(|s| s.0 == id).ok_or("there is no such session")?;
        let bench = session(client, id, course);
        let head = Digest::of(&[id.as_bytes()]);
        let review = review_session(bench.events(), Verdict::Clean { head }).unwrap();
        let state = State::replay(bench.events().iter().map(|(s, e)| (*s, e))).unwrap();
        Ok(Opened { review, state })
    }
    fn debrief(&self, _: &str) -> Result<Debrief, String> {
        Err("no session of practice".to_owned())
    }
    fn list(&self, practice: bool) -> Result<(Vec<Kept>, Vec<String>), String> {
        let mut all: Vec<Kept> = ALL.iter().map(|(id, client, c, date)| dated(client, id, *c, date)).collect();
        if practice {
            all.truncate(1);
            all[0].row.practice = Some("first-script".to_owned());
        }
        Ok((all, Vec::new()))
    }
    fn progress(&self) -> Result<Vec<Progress>, String> {
        let run = |score| Run { scenario: "first-script".to_owned(), trainee: Some("TR-04".to_owned()), score };
        Ok(progress([run(70), run(80), run(93)]))
    }
}

fn screens(glyphs: Glyphs, depth: Depth) -> Review {
    let mut review =
        Review::new(Box::new(Shelf), Filter::default(), SortKey::Deviations, Theme::standard(depth), glyphs);
    let (kept, problems) = Shelf.list(false).unwrap();
    review.set(kept, problems);
    review
}

fn press(review: &mut Review, code: KeyCode) {
    let at = FakeClock::at(crate::fixture::origin()).now();
    review.update(&Stamped { what: Event::Key(KeyEvent::new(code, KeyModifiers::NONE)), at_ms: at.mono_ms });
}

fn keys(review: &mut Review, text: &str) {
    text.chars().for_each(|c| press(review, KeyCode::Char(c)));
}

fn buffer(review: &Review, columns: u16, rows: u16) -> Buffer {
    let area = Rect::new(0, 0, columns, rows);
    let mut buffer = Buffer::empty(area);
    review.view(area, &mut buffer);
    buffer
}

fn draw(review: &Review, columns: u16, rows: u16) -> String {
    let buffer = buffer(review, columns, rows);
    let line = |y| (0..columns).map(|x| buffer[(x, y)].symbol().to_owned()).collect::<String>().trim_end().to_owned();
    (0..rows).map(line).collect::<Vec<_>>().join("\n")
}

type Scene = (&'static str, &'static str, &'static [&'static str]);

/// Name, keys, and words that must stand there. `>` is Tab, `!` is Enter, `v` is Down.
const SCENES: [Scene; 10] = [
    ("list", "", &["NOT CLOSED", "CL-2", "STOP", "stopped", "declined"]),
    ("list-find", "/cl-1", &["find: cl-1", "2 of 4"]),
    ("list-practice", "p", &["PRACTICE", "1 of 1"]),
    ("session", "!", &["ZONES", "plan against done", "DECLINED", "band"]),
    ("session-picture", "!>", &["pulses a minute", "30 pulses"]),
    ("session-charts", "!>>", &["fluence, J/cm2", "overlap so far"]),
    ("session-timeline", "!>>>", &["session", "opened", "whitening"]),
    ("course", "c", &["COURSE of CL-1", "9 weeks after the last"]),
    ("statistics", "s", &["STATISTICS", "Wilson", "whitening"]),
    ("progress", "g", &["TR-04", "best 93", "+11.5 points a run"]),
];

fn scene(keys_of: &str, glyphs: Glyphs, depth: Depth) -> Review {
    let mut review = screens(glyphs, depth);
    for c in keys_of.chars() {
        press(
            &mut review,
            match c {
                '>' => KeyCode::Tab,
                '!' => KeyCode::Enter,
                'v' => KeyCode::Down,
                c => KeyCode::Char(c),
            },
        );
    }
    review
}

#[test]
fn every_screen_at_80x24_100x30_and_160x50() {
    for (name, keys, words) in SCENES {
        let review = scene(keys, Glyphs::Unicode, Depth::Sixteen);
        for (columns, rows) in [(80, 24), (100, 30), (160, 50)] {
            let drawn = draw(&review, columns, rows);
            let flat = drawn.split_whitespace().collect::<Vec<_>>().join(" ");
            // A small window scrolls: there the first of them must be in sight.
            let in_sight = if rows >= 50 { words.len() } else { 1 };
            for word in words.iter().take(in_sight) {
                assert!(flat.contains(word), "{name} at {columns}x{rows}: {word}\n{drawn}");
            }
            insta::assert_snapshot!(format!("{name}-{columns}x{rows}"), drawn);
        }
    }
}

#[test]
fn without_colour_and_beyond_ascii_nothing_is_drawn_and_no_word_is_lost() {
    for (name, keys, words) in SCENES {
        let review = scene(keys, Glyphs::Ascii, Depth::None);
        let cells = buffer(&review, 80, 24);
        assert!(cells.content.iter().all(|c| c.symbol().is_ascii()), "{name}");
        let reset = ratatui::style::Color::Reset;
        assert!(cells.content.iter().all(|c| c.fg == reset && c.bg == reset), "{name}");
        let flat = draw(&review, 80, 24).split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.first().is_some_and(|w| flat.contains(w)), "{name}: {flat}");
    }
    insta::assert_snapshot!("plain-list", draw(&screens(Glyphs::Ascii, Depth::None), 80, 24));
    for (columns, rows) in [(0, 0), (1, 1), (79, 23), (40, 10)] {
        drop(buffer(&screens(Glyphs::Unicode, Depth::None), columns, rows));
    }
}

#[test]
fn typing_narrows_the_list_and_escape_leads_back_step_by_step() {
    let mut review = screens(Glyphs::Unicode, Depth::None);
    keys(&mut review, "/client:CL-2");
    assert!(draw(&review, 80, 24).contains("1 of 4 (client CL-2)"));
    press(&mut review, KeyCode::Enter);
    press(&mut review, KeyCode::Enter);
    assert!(draw(&review, 80, 24).contains(BLISTER));
    press(&mut review, KeyCode::Esc);
    assert!(draw(&review, 80, 24).contains("find: client:CL-2"));
    keys(&mut review, "/");
    press(&mut review, KeyCode::Esc);
    assert!(draw(&review, 80, 24).contains("4 of 4"));
    // A treatment has no debrief, and that is said.
    keys(&mut review, "b");
    assert!(draw(&review, 80, 24).contains("has no debrief"));
    keys(&mut review, "?");
    assert!(draw(&review, 80, 24).contains("Type what is to be found"));
    press(&mut review, KeyCode::Char('z'));
    assert!(!review.is_finished());
    press(&mut review, KeyCode::Esc);
    assert!(review.is_finished());
}

/// A session's code is never sent to the terminal as it is.
#[test]
fn what_a_journal_holds_cannot_steer_the_terminal() {
    let mut review = screens(Glyphs::Unicode, Depth::None);
    let (mut kept, _) = Shelf.list(false).unwrap();
    kept[0].row.operator_code = Some("\u{1b}[2J\u{202e}".to_owned());
    kept[0].row.record_text = Some("\u{1b}]0;x\u{7}".to_owned());
    review.set(kept, vec!["\u{1b}c".to_owned()]);
    for columns in [80, 160] {
        let cells = buffer(&review, columns, 24);
        assert!(cells.content.iter().all(|c| !c.symbol().contains(|c: char| c.is_control() || c == '\u{202e}')));
    }
}
