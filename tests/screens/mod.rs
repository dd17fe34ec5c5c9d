//! Every screen in every state, as it looks, and without what not everybody can see.

mod own_keys;
mod scenes;
mod stage;
mod styles;

use fadewright::tui::start::{Start, StartChoice, StartEntry};
use fadewright::tui::theme::{Depth, Glyphs, Role, Theme, ThemeFile};
use fadewright::words::Word;
use ratatui::buffer::Buffer;
use ratatui::crossterm::event::KeyCode;
use ratatui::layout::Rect;
use ratatui::style::Color;
use scenes::SCENES;
use stage::text;

/// Names of states, to choose those that stand for others.
const PLAIN: &[&str] = &[
    "checks-blocked",
    "settings-mismatch",
    "treat-advice-lower",
    "ask-grade",
    "not-saved",
    "pictures-depth-advised",
    "pictures-confinement",
    "pictures-session",
];

fn start_screen(theme: Theme) -> Start {
    let entry = |text: &str, choice| StartEntry { text: text.to_owned(), choice };
    Start::new(
        vec![
            entry(
                "resume session 20261124-100000-TTTTTT, opened 2026-11-24 10:00",
                StartChoice::Resume("a.jsonl".into()),
            ),
            entry("treat by two-zone-band.toml", StartChoice::Treat("two-zone-band.toml".into())),
        ],
        vec!["A new session: fadewright treat PLAN. A new plan: fadewright plan new FILE.".to_owned()],
        theme,
    )
}

fn start_drawn(theme: Theme, columns: u16, rows: u16) -> String {
    let area = Rect::new(0, 0, columns, rows);
    let mut buffer = Buffer::empty(area);
    start_screen(theme).view(area, &mut buffer);
    text(&buffer)
}

#[test]
fn every_state_at_80x24_100x30_and_160x50() {
    for scene in SCENES {
        let stage = scene.stage();
        for (columns, rows) in [(80, 24), (100, 30), (160, 50)] {
            insta::assert_snapshot!(format!("{}-{columns}x{rows}", scene.name), stage.draw(columns, rows));
        }
    }
}

/// What is proven of a theme's contrast holds on screen only where text and ground of one role stay together.
#[test]
fn every_cell_has_the_two_colours_of_one_role() {
    let pairs = |theme: &Theme| Role::ALL.iter().map(|r| theme.style(*r)).map(|s| (s.fg, s.bg)).collect::<Vec<_>>();
    for name in ["light", "orange"] {
        let theme = Theme::new(&ThemeFile::built_in(name).unwrap(), Depth::True);
        let pairs = pairs(&theme);
        assert!(pairs.iter().all(|(fg, bg)| fg.is_some() && bg.is_some()));
        for scene in SCENES {
            let stage = scene.stage_themed(theme.clone());
            for (columns, rows) in [(80, 24), (160, 50)] {
                for (n, cell) in stage.buffer(columns, rows).content().iter().enumerate() {
                    let at = (n % usize::from(columns), n / usize::from(columns));
                    let pair = (Some(cell.fg), Some(cell.bg));
                    assert!(pairs.contains(&pair), "{name} {} {at:?} {:?}: {pair:?}", scene.name, cell.symbol());
                }
            }
        }
    }
}

/// Sizes at which the treat screen has a map beside its figures.
#[test]
fn the_map_where_there_is_room_for_it() {
    for name in ["treat-not-started", "treat-mid-pass", "treat-beyond-plan", "treat-waiting", "treat-faded"] {
        let scene = SCENES.iter().find(|scene| scene.name == name).unwrap();
        assert!(scene.stage().draw(100, 30).contains("from above"), "{name}");
        let plain = scene.stage_with(Glyphs::Ascii, Depth::None);
        insta::assert_snapshot!(format!("plain-{name}-160x50"), plain.draw(160, 50));
        assert!(!scene.stage().draw(99, 60).contains("from above"), "no room, no map");
    }
}

/// The far view, from the smallest window that it needs.
#[test]
fn the_far_view_keeps_what_is_read_from_two_metres() {
    let states: [(&str, &[&str]); 6] = [
        ("treat-not-started", &["band-black", "not started", "saved"]),
        ("treat-mid-pass", &["pass 1 of 2", "CHECK: No whitening", "a accept"]),
        ("treat-advice-lower", &["LOWER: Pinpoint bleeding", "from 3 J/cm2 at 4 mm to 2.7 J/cm2", "saved"]),
        ("treat-advice-stop", &["STOP: A blister", "saved"]),
        ("treat-white", &["WHITE for 1:05 min", "running"]),
        ("treat-waiting", &["before the next pass"]),
    ];
    for (name, words) in states {
        let scene = SCENES.iter().find(|scene| scene.name == name).unwrap();
        let mut stage = scene.stage();
        stage.press(KeyCode::F(6));
        for (columns, rows) in [(60, 18), (80, 24), (160, 50)] {
            let drawn = stage.draw(columns, rows);
            let flat = drawn.split_whitespace().collect::<Vec<_>>().join(" ");
            for word in words {
                assert!(flat.contains(word), "{name} at {columns}x{rows}: {word:?}\n{drawn}");
            }
            assert!(drawn.lines().filter(|l| l.contains('█') || l.contains('▀')).count() >= 4, "{drawn}");
            insta::assert_snapshot!(format!("far-{name}-{columns}x{rows}"), drawn);
        }
        assert!(stage.draw(59, 18).contains("needed 60 x 18"));
        // A window too small for the screen has it without being asked, and questions stand over it.
        let head = |drawn: String| drawn.lines().take(12).map(str::to_owned).collect::<Vec<_>>();
        assert_eq!(head(scene.stage().draw(60, 18)), head(stage.draw(60, 18)));
        stage.keys("v");
        assert!(stage.draw(60, 18).contains("10 the worst"), "{}", stage.draw(60, 18));
        stage.press(KeyCode::Esc);
        // Every key of the treat screen works on, and the same key leads back.
        stage.press(KeyCode::F(6));
        assert!(stage.draw(80, 24).contains(" TREAT "), "{name}");
    }
    let scene = SCENES.iter().find(|scene| scene.name == "treat-advice-lower").unwrap();
    let mut plain = scene.stage_with(Glyphs::Ascii, Depth::None);
    plain.press(KeyCode::F(6));
    let drawn = plain.draw(60, 18);
    assert!(drawn.is_ascii() && drawn.contains("LOWER"), "{drawn}");
    insta::assert_snapshot!("far-plain-treat-advice-lower-60x18", drawn);
}

/// Whoever looks at pictures goes on counting and sees the count and the advice; the same key and Esc lead back.
#[test]
fn pictures_hide_neither_the_count_nor_the_advice_and_lead_back() {
    let running = || SCENES.iter().find(|s| s.name == "treat-running").unwrap().stage();
    let mut stage = running();
    let pulses = |stage: &stage::Stage| stage.chair.state().total_pulses();
    let before = pulses(&stage);
    for n in 0..4 {
        stage.press(KeyCode::F(8));
        let drawn = stage.draw(80, 24);
        assert!(drawn.contains("PICTURES") && drawn.contains(&format!("{}/4", n + 1)), "{drawn}");
        stage.pulses(1);
        assert_eq!(pulses(&stage), before + n + 1);
        assert!(stage.draw(80, 24).contains(&format!("{}/175 band-black pass 1", before + n + 1)), "{drawn}");
    }
    // Letters of the treat screen mean nothing here.
    stage.keys("bwu");
    assert_eq!(pulses(&stage), before + 4);
    assert!(stage.chair.state().latest_response().is_none() && stage.draw(80, 24).contains("PICTURES"));
    stage.press(KeyCode::F(8));
    assert!(stage.draw(80, 24).contains(" TREAT "), "after the last picture back");
    stage.keys("b");
    stage.press(KeyCode::F(8));
    for picture in 0..4 {
        for (columns, rows) in [(80, 24), (160, 50)] {
            let drawn = stage.draw(columns, rows);
            assert!(drawn.contains("!! LOWER: Lower"), "{picture}: {drawn}");
        }
        stage.press(KeyCode::Right);
    }
    stage.press(KeyCode::F(8));
    stage.press(KeyCode::Left);
    assert!(stage.draw(80, 24).contains(" TREAT "), "before the first picture back");
    stage.press(KeyCode::F(8));
    stage.press(KeyCode::Esc);
    assert!(stage.draw(80, 24).contains(" TREAT "));
    // From the read-back the pulse key counts nothing, and Esc leads there again.
    let mut stage = SCENES.iter().find(|s| s.name == "settings-open").unwrap().stage();
    stage.press(KeyCode::F(8));
    stage.pulses(2);
    assert!(stage.draw(80, 24).contains("0 pulses, no pass running") && pulses(&stage) == 0);
    stage.press(KeyCode::Esc);
    assert!(stage.draw(80, 24).contains(" SETTINGS "));
}

/// Light that comes while the picture is open is drawn without a key.
#[test]
fn light_shows_when_it_arrives() {
    let mut stage = SCENES.iter().find(|s| s.name == "pictures-following").unwrap().stage();
    assert!(stage.draw(80, 24).contains("following light"));
    stage.chair.take_light(fadewright::limits::DepthLight::default());
    assert!(stage.draw(80, 24).contains("no light is known for this setting"));
    let lit = SCENES.iter().find(|s| s.name == "pictures-depth").unwrap().stage();
    assert!(lit.draw(80, 24).contains("most ink"));
}

/// A session of 5,000 events is drawn from a bounded number of spans, each pulse in the column of its time.
#[test]
fn a_long_session_is_drawn_from_few_spans_and_each_pulse_in_its_column() {
    use crate::fixture::Bench;
    use fadewright::session::{Command, PulseSource, SPANS_MAX};
    use fadewright::tui::pictures::session::SessionPicture;
    use fadewright::tui::widgets::time_lanes::{GUTTER, TimeLanes};

    let mut bench = Bench::new();
    bench.start(0);
    for n in 0..5_000u64 {
        bench.clock.advance(std::time::Duration::from_secs(if n == 2_500 { 3_600 } else { 1 }));
        bench.run(Command::Fire { n: 1, source: PulseSource::Key });
    }
    bench.run(Command::Pause);
    let state = bench.state();
    assert!(bench.events().len() > 5_000 && state.trace.spans().len() <= SPANS_MAX);
    let theme = Theme::standard(Depth::None);
    let lanes = TimeLanes::new(&state.trace, state.opened_at, state.last_ms(), &theme);
    for columns in [72u16, 152, 300] {
        let shown = lanes.columns(columns);
        let sum: f64 = shown.iter().map(|c| c.pulses).sum();
        assert!((sum - 5_000.0).abs() < 1e-6, "{sum}");
        // Half were fired before an hour in which nothing was: by its middle, 2,500 are counted.
        let middle = usize::from(lanes.column(2_500_000 + 1_800_000, columns));
        let first: f64 = shown.iter().take(middle).map(|c| c.pulses).sum();
        assert!((first - 2_500.0).abs() < 1e-6 && shown[middle].pulses.abs() < 1e-9, "{first}");
    }
    let area = Rect::new(0, 0, 80, 20);
    let mut buffer = Buffer::empty(area);
    let picture = SessionPicture::whole(state);
    fadewright::tui::pictures::render(&picture, area, &mut buffer, &theme, Glyphs::Ascii);
    let drawn = text(&buffer);
    let bars: Vec<&str> = drawn.lines().filter(|l| l.contains('#')).collect();
    let quiet = usize::from(GUTTER + lanes.column(4_300_000, 80 - GUTTER));
    assert!(!bars.is_empty() && bars.iter().all(|l| l.chars().nth(quiet).is_none_or(|c| c == ' ')), "{drawn}");
    let work = drawn.lines().find(|l| l.starts_with("work")).unwrap();
    assert_eq!(work.trim_end().chars().last(), Some('p'), "{drawn}");
    assert!(drawn.contains("5000 pulses in"), "{drawn}");
}

#[test]
fn a_bell_rings_once_for_what_is_new_and_silenced_only_for_stop() {
    let in_a_pass = || SCENES.iter().find(|s| s.name == "treat-running").unwrap().stage();
    let mut stage = in_a_pass();
    assert!(!stage.chair.bell_due());
    stage.keys("b");
    assert!(stage.chair.bell_due() && !stage.chair.bell_due(), "once");
    stage.pulses(10);
    assert!(stage.chair.bell_due(), "LOWER became STOP");
    let mut stage = in_a_pass();
    stage.keys("sb");
    assert!(!stage.chair.bell_due(), "silenced");
    stage.keys("rl");
    assert!(stage.chair.bell_due(), "a STOP always rings");
}

/// The figures of each screen's help, scrolled to.
#[test]
fn the_help_of_each_screen_tells_its_figures_with_their_sources() {
    for (name, words) in [
        ("help-checks", "US labels by age and weight"),
        ("help-settings", "energy = fluence x pi x spot^2 / 4"),
        ("help-treat", "overlap = 1 - pitch / spot"),
        ("help-close", "Bencini PL et al."),
        ("help-pictures", "Anderson RR, Parrish JA, Science 1983;220:524-527"),
    ] {
        let scene = SCENES.iter().find(|scene| scene.name == name).unwrap();
        let mut stage = scene.stage();
        let mut all = stage.draw(80, 24);
        for _ in 0..6 {
            stage.press(KeyCode::PageDown);
            all.push_str(&stage.draw(80, 24));
        }
        let flat = all.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(flat.contains(words) && flat.contains("local law come first"), "{name}: {all}");
    }
}

#[test]
fn the_start_screen_at_80x24_and_160x50() {
    for (columns, rows) in [(80, 24), (160, 50)] {
        let drawn = start_drawn(Theme::standard(Depth::Sixteen), columns, rows);
        insta::assert_snapshot!(format!("start-{columns}x{rows}"), drawn);
    }
}

/// The words stand on the screen also where there is neither colour nor any sign beyond ASCII.
#[test]
fn every_state_is_said_in_words() {
    let mut missing = Vec::new();
    for scene in SCENES {
        for (glyphs, depth) in [(Glyphs::Unicode, Depth::Sixteen), (Glyphs::Ascii, Depth::None)] {
            let stage = scene.stage_with(glyphs, depth);
            // A sentence may be broken between two lines, and two columns stand side by side: word by word.
            for (columns, rows) in [(80, 24), (160, 50)] {
                let screen = stage.draw(columns, rows);
                let lacks = |words: &&&str| !words.split(' ').all(|word| screen.contains(word));
                let lacking = scene.words.iter().filter(lacks);
                missing.extend(lacking.map(|words| format!("{} at {columns}x{rows}: {words:?}\n{screen}", scene.name)));
            }
        }
    }
    assert!(missing.is_empty(), "{}", missing.join("\n"));
}

#[test]
fn without_colour_and_beyond_ascii_nothing_is_drawn() {
    let mut foreign = Vec::new();
    for scene in SCENES {
        let stage = scene.stage_with(Glyphs::Ascii, Depth::None);
        for (columns, rows) in [(80, 24), (160, 50), (40, 10)] {
            let buffer = stage.buffer(columns, rows);
            let screen = text(&buffer);
            let lines = screen.lines().filter(|line| !line.is_ascii());
            foreign.extend(lines.map(|line| format!("{} at {columns}x{rows}: {line}", scene.name)));
            assert!(
                buffer.content.iter().all(|cell| cell.fg == Color::Reset && cell.bg == Color::Reset),
                "{}",
                scene.name
            );
        }
    }
    assert!(foreign.is_empty(), "{foreign:#?}");
}

#[test]
fn states_in_ascii_and_without_colour() {
    for scene in SCENES.iter().filter(|scene| PLAIN.contains(&scene.name)) {
        let stage = scene.stage_with(Glyphs::Ascii, Depth::None);
        insta::assert_snapshot!(format!("plain-{}", scene.name), stage.draw(80, 24));
    }
}

#[test]
fn a_window_too_small_keeps_the_count_and_the_advice() {
    let scene = SCENES.iter().find(|scene| scene.name == "treat-advice-lower").unwrap();
    let stage = scene.stage();
    for (columns, rows) in [(79, 23), (40, 10), (20, 5)] {
        insta::assert_snapshot!(format!("too-small-{columns}x{rows}"), stage.draw(columns, rows));
    }
}

#[test]
fn no_window_is_too_small_or_too_large_for_any_state() {
    let sizes = [(1, 1), (20, 5), (40, 10), (79, 23), (200, 60), (300, 1), (1, 100), (80, 24)];
    for scene in SCENES {
        let stage = scene.stage();
        for (columns, rows) in sizes {
            stage.draw(columns, rows);
        }
    }
    for (columns, rows) in sizes {
        start_drawn(Theme::standard(Depth::Sixteen), columns, rows);
    }
}

/// At the size that screens are laid out for, nothing that matters is cut off.
#[test]
fn what_matters_is_not_cut_off_at_80x24() {
    let mut cut = Vec::new();
    for scene in SCENES {
        let screen = scene.stage().draw(80, 24);
        for (number, line) in screen.lines().enumerate().filter(|(_, line)| line.trim_end().ends_with('…')) {
            // The plan's title in the header may be, a system's reason in brackets, the lines of what was seen, and
            // statements of the checklist, of which the chosen one stands in full below.
            let listed = line.contains("10:0") || scene.name.starts_with("checks") && line.contains("[ ]");
            if number >= 2 && !listed {
                cut.push(format!("{}: {line}", scene.name));
            }
        }
    }
    assert!(cut.is_empty(), "{cut:#?}");
}
