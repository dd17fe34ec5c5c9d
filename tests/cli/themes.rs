//! `theme`.

use super::{Run, home, run};
use std::path::Path;

const ALL: [&str; 12] = [
    "default",
    "mono",
    "dark",
    "light",
    "blue-orange",
    "orange",
    "green-blue",
    "blue-green",
    "grey",
    "brown",
    "magenta",
    "red",
];

fn theme(args: &[&str]) -> Run {
    run(home().path(), &[&["theme"], args].concat())
}

fn written(dir: &Path, name: &str, text: &str) -> String {
    let path = dir.join(name);
    std::fs::write(&path, text).unwrap();
    path.to_str().unwrap().to_owned()
}

#[test]
fn the_list_tells_what_each_theme_is_made_for() {
    let out = theme(&["list"]).out;
    for (name, made_for) in [("default", "-"), ("mono", "-"), ("dark", "clear"), ("orange", "orange"), ("grey", "grey")]
    {
        let line = out.lines().find(|l| l.split_whitespace().next() == Some(name)).unwrap_or_else(|| panic!("{out}"));
        assert_eq!(line.split_whitespace().nth(1), Some(made_for), "{line}");
    }
    assert_eq!(out.lines().count(), 1 + ALL.len());
    assert!(out.lines().all(|l| l.chars().count() <= 80), "{out}");
}

#[test]
fn every_theme_can_be_shown_and_the_shown_text_checks_as_the_theme_does() {
    let home = home();
    for name in ALL {
        let text = theme(&["show", name]).out;
        let path = written(home.path(), "own.toml", &text);
        let [own, shipped] = [&path, name].map(|t| theme(&["check", t, "--json"]));
        assert_eq!((own.code, shipped.code), (0, 0), "{name}: {}", own.err);
        assert_eq!(own.json(), shipped.json());
    }
}

#[test]
fn all_shipped_themes_keep_their_contrast_on_both_screens() {
    let result = theme(&["check", "--json"]);
    assert_eq!(result.code, 0, "{}{}", result.out, result.err);
    let json = result.json();
    assert_eq!(json["kept"], true);
    let themes = json["themes"].as_array().unwrap();
    assert_eq!(themes.len(), 2 * ALL.len());
    for (n, t) in themes.iter().enumerate() {
        assert_eq!((t["theme"].as_str(), t["display"].as_str()), (Some(ALL[n / 2]), Some(["srgb", "led"][n % 2])));
        let (roles, not) = (t["roles"].as_array().unwrap(), t["not_judged"].as_array().unwrap());
        assert_eq!(roles.len() + not.len(), 12);
        assert_eq!(t["kept"].is_null(), n < 4, "default and mono: {t}");
        for r in roles {
            let f = |key: &str| r[key].as_f64().unwrap_or_else(|| panic!("{key} in {r}"));
            assert!(f("contrast_adapted_ratio") >= f("limit_adapted_ratio"), "{t}");
            assert!(f("contrast_dim_ratio") <= f("contrast_without_ratio") + 1e-9, "{r}");
            let (bright, dark) = (f("text_luminance_share"), f("ground_luminance_share"));
            let dim = (bright.max(dark) + 0.05) / (bright.min(dark) + 0.05);
            assert!((dim - f("contrast_dim_ratio")).abs() < 1e-9, "{r}");
        }
    }
    let words = theme(&["check"]).out;
    assert!(words.lines().all(|l| l.chars().count() <= 80), "{words}");
    assert!(words.contains("the terminal's own colours: not judged"), "{words}");
}

#[test]
fn a_role_that_is_lost_behind_the_eyewear_is_told_and_ends_with_1() {
    let home = home();
    let text = theme(&["show", "orange"]).out.replace("ink = { fg = \"#eeeeee\"", "ink = { fg = \"#5f87ff\"");
    let own = written(home.path(), "own.toml", &text);
    let result = theme(&["check", &own, "--display", "led"]);
    assert_eq!((result.code, result.err.as_str()), (1, ""), "{}", result.out);
    let missed: Vec<&str> = result.out.lines().filter(|l| l.ends_with("MISSED")).collect();
    assert!(missed.len() == 1 && missed[0].starts_with("ink "), "{}", result.out);
    assert!(result.out.lines().all(|l| l.chars().count() <= 80), "{}", result.out);
    let bare = theme(&["check", &own, "--display", "led", "--eyewear", "clear", "--json"]);
    assert_eq!(bare.json()["themes"][0]["eyewear"], "clear");
    let ink = &bare.json()["themes"][0]["roles"][0];
    assert_eq!(
        (ink["role"].as_str(), ink["text_srgb"].as_str(), ink["kept"].as_bool()),
        (Some("ink"), Some("#5f87ff"), Some(false))
    );
}

const HEAD: &str = "kind = \"fadewright eyewear\"\nschema = 1\nname = \"ours\"\nabout = \"from the data sheet\"\n\n[transmission_by_nm]\n";

fn eyewear(share: &str) -> String {
    (38..=78).fold(HEAD.to_owned(), |text, n| text + &format!("{n}0 = {share}\n"))
}

#[test]
fn a_clinic_s_own_eyewear_is_read_and_used() {
    let home = home();
    let own = written(home.path(), "ours.toml", &eyewear("0.25"));
    let result = theme(&["check", "dark", "--eyewear", &own, "--display", "srgb", "--json"]);
    assert_eq!(result.code, 0, "{}", result.err);
    let t = &result.json()["themes"][0];
    assert_eq!((t["eyewear"].as_str(), t["display"].as_str()), (Some("ours"), Some("srgb")));
    assert!((t["eyewear_vlt_share"].as_f64().unwrap() - 0.25).abs() < 1e-9);
    // Grey glass leaves the adapted contrast as it is without.
    for r in t["roles"].as_array().unwrap() {
        let difference = r["contrast_adapted_ratio"].as_f64().unwrap() - r["contrast_without_ratio"].as_f64().unwrap();
        assert!(difference.abs() < 1e-9, "{r}");
    }
    // So dark that an eye which has not adapted sees nothing any more.
    let black = written(home.path(), "black.toml", &eyewear("0.02"));
    let result = theme(&["check", "dark", "--eyewear", &black]);
    // No colours could: that is told, and not held against the theme.
    assert_eq!(result.code, 0);
    assert!(result.out.contains("white on black at 1.4 to 1 at best"), "{}", result.out);
    assert!(result.out.contains("leaves 2 % of daylight") && result.out.contains("room needs more light"));
    assert!(!theme(&["check", "dark"]).out.contains("room needs more light"));
}

#[test]
fn bad_eyewear_is_told_with_its_line_and_field() {
    let home = home();
    let whole = eyewear("0.5");
    for (from, to, wanted) in [
        ("550 = 0.5\n", "", "transmission_by_nm.550: missing"),
        ("550 = 0.5\n", "550 = 1.2\n", "ours.toml:24:7: transmission_by_nm.550: 1.2 is outside 0 to 1"),
        ("550 = 0.5\n", "550 = 0.5\n550 = 0.4\n", "ours.toml:25:1: this key stands twice"),
        ("550 = 0.5\n", "550 = 0.5\n555 = 0.4\n", "ours.toml:25:1: transmission_by_nm.555: unknown key"),
        ("550 = 0.5\n", "550 = \"half\"\n", "ours.toml:24:7: transmission_by_nm.550: 'half' stands here"),
        ("fadewright eyewear", "fadewright theme", "ours.toml:1:8: kind"),
        ("schema = 1", "schema = 2", "newer than 1"),
    ] {
        assert!(whole.contains(from));
        let own = written(home.path(), "ours.toml", &whole.replacen(from, to, 1));
        let result = theme(&["check", "dark", "--eyewear", &own]);
        assert_eq!((result.code, result.out.as_str()), (2, ""), "{wanted}: {}", result.err);
        assert!(result.err.contains(wanted), "{wanted} in {}", result.err);
    }
}

#[test]
fn a_bad_theme_is_told_with_its_line_and_field() {
    let home = home();
    let whole = theme(&["show", "dark"]).out;
    let line = |what: &str| 1 + whole.lines().position(|l| l.starts_with(what)).unwrap();
    for (from, to, wanted) in [
        ("stop = {", "stpo = {", format!("own.toml:{}:1: roles.stpo: unknown key", line("stop"))),
        ("#ffafaf", "#ffafag", format!("own.toml:{}:15: roles.stop.fg: '#ffafag' is not a colour", line("stop"))),
        (
            "made_for = \"clear\"",
            "made_for = \"claer\"",
            format!("own.toml:{}:12: made_for: 'claer'", line("made_for")),
        ),
        ("about = ", "about = \"x\"\nabout = ", format!("own.toml:{}:1: this key stands twice", line("about") + 1)),
    ] {
        assert!(whole.contains(from), "{from}");
        let own = written(home.path(), "own.toml", &whole.replacen(from, to, 1));
        let result = theme(&["check", &own]);
        assert_eq!((result.code, result.out.as_str()), (2, ""), "{wanted}: {}", result.err);
        assert!(result.err.contains(&wanted), "{wanted} in {}", result.err);
    }
}

#[test]
fn names_that_are_none_are_refused_with_those_that_are() {
    for (args, wanted) in [
        (&["check", "nothing"][..], "no theme 'nothing'; shipped: default, mono"),
        (&["check", "dark", "--eyewear", "pink"], "no eyewear 'pink'; shipped: orange, green-blue"),
        (&["check", "dark", "--display", "tube"], "one of: srgb, led"),
        (&["show", "\u{1b}[31m"], "␛[31m"),
    ] {
        let result = theme(args);
        assert_eq!((result.code, result.out.as_str()), (2, ""), "{args:?}");
        assert!(result.err.contains(wanted) && !result.err.contains('\u{1b}'), "{args:?}: {}", result.err);
    }
}

/// The clinic's own theme, `theme.toml` in the config directory, is listed and checked with the shipped ones; a broken
/// one is told with its place, and ends with 2.
#[test]
fn the_clinic_s_own_theme_is_listed_and_checked() {
    let home = home();
    let dir = home.path().join("config/fadewright");
    std::fs::create_dir_all(&dir).unwrap();
    let text = theme(&["show", "dark"]).out.replace("name = \"dark\"", "name = \"ours\"");
    written(&dir, "theme.toml", &text);
    let list = run(home.path(), &["theme", "list"]);
    assert_eq!((list.code, list.err.as_str()), (0, ""));
    assert!(list.out.lines().last().unwrap().starts_with("ours "), "{}", list.out);
    let check = run(home.path(), &["theme", "check"]);
    assert!(check.code == 0 && check.out.contains("\nours "), "{}", check.out);
    written(&dir, "theme.toml", &text.replace("edge = {", "egde = {"));
    for args in [["theme", "list"], ["theme", "check"]] {
        let told = run(home.path(), &args);
        assert_eq!(told.code, 2, "{args:?}");
        assert!(told.err.contains("theme.toml:") && told.err.contains("roles.egde: unknown key"), "{}", told.err);
    }
    // Shipped ones are shown and checked by name all the same.
    assert_eq!(run(home.path(), &["theme", "show", "dark"]).code, 0);
    assert_eq!(run(home.path(), &["theme", "check", "dark"]).code, 0);
}

/// What is left in 256 and in 16 colours is printed with the palette's name, and in JSON with each role's shades.
#[test]
fn fallbacks_are_told_with_the_palette_they_are_reckoned_by() {
    let told = theme(&["check", "brown", "--display", "led"]);
    for words in ["In 256 colours, xterm's palette:", "In 16 colours, xterm's palette:", "(4.5 asked)"] {
        assert!(told.out.contains(words), "{words}: {}", told.out);
    }
    let json = theme(&["check", "brown", "--display", "led", "--json"]).json();
    let fallbacks = json["themes"][0]["fallbacks"].as_array().unwrap();
    assert_eq!((fallbacks[0]["colours"].as_u64(), fallbacks[1]["colours"].as_u64()), (Some(256), Some(16)));
    assert_eq!(fallbacks[1]["palette"], "xterm");
    let stop = fallbacks[1]["roles"].as_array().unwrap().iter().find(|r| r["role"] == "stop").unwrap();
    // Reversed: black on xterm's yellow.
    assert_eq!((stop["text_srgb"].as_str(), stop["ground_srgb"].as_str()), (Some("#000000"), Some("#cdcd00")));
    assert_eq!(stop["kept"], true);
    // A fallback that is lost does not fail the check, but it is named.
    let home = home();
    let text = theme(&["show", "brown"]).out.replace("fg16 = \"yellow\"", "fg16 = \"blue\"");
    let own = written(home.path(), "own.toml", &text);
    let told = theme(&["check", &own, "--display", "led"]);
    assert!(told.code == 0 && told.out.contains("MISSED: stop 1."), "{}", told.out);
}
