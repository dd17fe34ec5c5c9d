//! Each screen in three themes: the same text, and how each run of its cells looks.

use super::scenes::SCENES;
use super::stage::text;
use fadewright::tui::theme::{Depth, Role, Theme, ThemeFile};
use fadewright::words::Word;
use ratatui::buffer::{Buffer, Cell};
use ratatui::style::{Color, Modifier};
use std::fmt::Write as _;

/// Every screen, every level of advice, a question, the help and each picture.
const SHOWN: [&str; 21] = [
    "checks-open",
    "checks-blocked",
    "checks-eyewear-asked",
    "settings-open",
    "settings-mismatch",
    "treat-not-started",
    "treat-mid-pass",
    "treat-white",
    "treat-advice-lower",
    "treat-advice-stop",
    "treat-advice-check",
    "treat-advice-wait",
    "ask-grade",
    "help-treat",
    "not-saved",
    "close-open",
    "close-closed",
    "pictures-depth-advised",
    "pictures-confinement",
    "pictures-session",
    "pictures-zone",
];

type Look = (Color, Color, Modifier);

fn look(cell: &Cell) -> Look {
    (cell.fg, cell.bg, cell.modifier)
}

/// A theme with what it gives each role, on the ground of plain text.
fn looks(theme: &Theme) -> Vec<(Role, Look)> {
    let role = |role: &Role| {
        let mut cell = Cell::default();
        cell.set_style(theme.style(Role::Ink)).set_style(theme.style(*role));
        (*role, look(&cell))
    };
    Role::ALL.iter().map(role).collect()
}

fn colour(colour: Color) -> String {
    match colour {
        Color::Reset => "own".to_owned(),
        Color::Rgb(r, g, b) => format!("#{r:02x}{g:02x}{b:02x}"),
        named => named.to_string().to_lowercase(),
    }
}

/// One line for each look, by a letter in the order in which they are met, then one for each row with more than one of
/// them: its runs as letter and length, the last of plain text left out.
fn styles(buffer: &Buffer, theme: &Theme) -> (String, String) {
    let (mut known, mut rows): (Vec<Look>, String) = (vec![looks(theme)[0].1], String::new());
    let columns = usize::from(buffer.area.width);
    for (y, row) in buffer.content().chunks(columns).enumerate() {
        let mut runs: Vec<(usize, usize)> = Vec::new();
        for cell in row {
            let at = known.iter().position(|l| *l == look(cell)).unwrap_or_else(|| {
                known.push(look(cell));
                known.len() - 1
            });
            match runs.last_mut() {
                Some((before, length)) if *before == at => *length += 1,
                _ => runs.push((at, 1)),
            }
        }
        if runs.last().is_some_and(|(at, _)| *at == 0) {
            runs.pop();
        }
        if !runs.is_empty() {
            let runs: Vec<String> = runs.iter().map(|(at, length)| format!("{}{length}", letter(*at))).collect();
            writeln!(rows, "{y:>2} {}", runs.join(" ")).unwrap();
        }
    }
    let mut legend = String::new();
    for (n, (fg, bg, modifier)) in known.iter().enumerate() {
        let names: Vec<&str> =
            looks(theme).iter().filter(|(_, l)| *l == (*fg, *bg, *modifier)).map(|(r, _)| r.word()).collect();
        let names = if names.is_empty() { "of several roles".to_owned() } else { names.join(" or ") };
        let mut line = format!("{} {names}: {} on {}", letter(n), colour(*fg), colour(*bg));
        for (name, _) in modifier.iter_names() {
            line += &format!(" {}", name.to_lowercase());
        }
        writeln!(legend, "{line}").unwrap();
    }
    (legend, rows)
}

fn letter(n: usize) -> char {
    char::from(b'a' + u8::try_from(n).unwrap())
}

#[test]
fn each_screen_has_the_same_text_in_three_themes_and_the_looks_of_its_roles() {
    let file = |name: &str| ThemeFile::built_in(name).unwrap();
    let themes = [
        ("default", Theme::new(&file("default"), Depth::Sixteen)),
        ("light", Theme::new(&file("light"), Depth::True)),
        ("mono", Theme::new(&file("mono"), Depth::Sixteen)),
    ];
    for name in SHOWN {
        let scene = SCENES.iter().find(|scene| scene.name == name).unwrap();
        let stages = themes.clone().map(|(theme, look)| (theme, look.clone(), scene.stage_themed(look)));
        for (columns, rows) in [(80, 24), (100, 30), (160, 50)] {
            let (mut out, mut first): (String, Option<(String, String)>) = (String::new(), None);
            for (theme_name, theme, stage) in &stages {
                let buffer = stage.buffer(columns, rows);
                let (legend, runs) = styles(&buffer, theme);
                let drawn = text(&buffer);
                let same = first.get_or_insert_with(|| (drawn.clone(), runs.clone()));
                assert_eq!(drawn, same.0, "{name} {theme_name}");
                let runs = if *theme_name != "default" && runs == same.1 { "rows as above\n".to_owned() } else { runs };
                write!(out, "{theme_name}\n{legend}{runs}\n").unwrap();
            }
            insta::assert_snapshot!(format!("styles-{name}-{columns}x{rows}"), out);
        }
    }
}
