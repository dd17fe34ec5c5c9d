//! Reads theme files with the one reader for all files, so that every mistake is told with its place.

use super::Role;
use super::colour::Colour;
use crate::sight::Tint;
use crate::source::{self, FileKind, Problems, SourceText, Table};
use crate::text::shown;
use crate::words::Word;

/// What a theme file says it is.
pub const KIND: FileKind = FileKind { kind: "fadewright theme", schema: 1 };

/// How a theme draws a role.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct RoleLook {
    /// The colour of the characters.
    pub fg: Colour,
    /// The colour behind them.
    pub bg: Colour,
    /// What to use for `fg` with 16 colours, instead of the nearest.
    pub fg16: Option<Colour>,
    /// What to use for `bg` with 16 colours, instead of the nearest.
    pub bg16: Option<Colour>,
    /// Heavier.
    pub bold: bool,
    /// The two colours exchanged.
    pub reverse: bool,
    /// Underlined.
    pub underline: bool,
    /// Fainter.
    pub dim: bool,
}

/// A theme as its file says it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ThemeFile {
    /// Its name.
    pub name: String,
    /// What it is for, in a few words.
    pub about: String,
    made_for: Option<Tint>,
    looks: [RoleLook; Role::ALL.len()],
}

impl ThemeFile {
    /// A theme that comes with the program.
    #[must_use]
    pub fn built_in(name: &str) -> Option<Self> {
        let (name, text) = super::BUILT_IN.iter().find(|(known, _)| *known == name)?;
        Self::load(&SourceText::new(*name, *text)).ok()
    }

    /// Reads a theme.
    ///
    /// # Errors
    /// Every mistake of the file.
    pub fn load(source: &SourceText) -> Result<Self, Problems> {
        let loaded = source::read(source, KIND, |file| {
            let name = file.text("name", 40);
            let about = file.text("about", 120);
            // A wrong word is taken down by the table.
            let made_for = file.optional_word("made_for");
            let looks = file.table("roles", |roles| {
                let mut looks = [RoleLook::default(); Role::ALL.len()];
                let mut whole = true;
                for (role, slot) in Role::ALL.iter().zip(&mut looks) {
                    match roles.table(role.word(), |t| Some(look(t))) {
                        Some(found) => *slot = found,
                        None => whole = false,
                    }
                }
                whole.then_some(looks)
            });
            Some(Self { name: shown(&name?), about: shown(&about?), made_for, looks: looks? })
        })?;
        Ok(loaded.value)
    }

    /// The eyewear it is made to be seen through; none when the file names none.
    #[must_use]
    pub const fn made_for(&self) -> Option<Tint> {
        self.made_for
    }

    /// How it draws a role.
    #[must_use]
    pub fn look(&self, role: Role) -> RoleLook {
        self.looks.get(role as usize).copied().unwrap_or_default()
    }
}

/// A wrong value is taken down by the table, so that what stands in for it is never used.
fn look(t: &mut Table<'_>) -> RoleLook {
    let mut colour = |key| t.optional_value(key).and_then(|v| v.name::<Colour>("a colour in quotes"));
    let (fg, bg, fg16, bg16) = (colour("fg"), colour("bg"), colour("fg16"), colour("bg16"));
    for (key, colour) in [("fg16", fg16), ("bg16", bg16)] {
        if matches!(colour, Some(Colour::Indexed(_) | Colour::Rgb(..))) {
            t.problem(key, "one of the 16 colour names or \"default\" is wanted here");
        }
    }
    let mut flag = |key| t.optional_boolean(key, false).unwrap_or_default();
    RoleLook {
        fg: fg.unwrap_or_default(),
        bg: bg.unwrap_or_default(),
        fg16,
        bg16,
        bold: flag("bold"),
        reverse: flag("reverse"),
        underline: flag("underline"),
        dim: flag("dim"),
    }
}

#[cfg(test)]
mod tests {
    use super::super::BUILT_IN;
    use super::*;
    use proptest::prelude::*;

    fn told(text: &str) -> Vec<String> {
        let problems = ThemeFile::load(&SourceText::new("own.toml", text)).unwrap_err();
        problems.list().iter().map(ToString::to_string).collect()
    }

    fn changed(from: &str, to: &str) -> String {
        let text = BUILT_IN[0].1;
        assert!(text.contains(from), "{from}");
        text.replace(from, to)
    }

    #[test]
    fn every_shipped_theme_loads() {
        for (name, text) in BUILT_IN {
            let theme = ThemeFile::load(&SourceText::new(name, text)).unwrap_or_else(|e| panic!("{}", e.explained()));
            assert_eq!(theme.name, name);
        }
    }

    #[test]
    fn a_wrong_colour_is_told_with_its_place_and_the_nearest_name() {
        let told = told(&changed("bg = \"red\"", "bg = \"rde\""));
        assert_eq!(told.len(), 1, "{told:?}");
        assert!(
            told[0].starts_with("own.toml:17:36: roles.stop.bg: 'rde' is not a colour; did you mean 'red'?"),
            "{told:?}"
        );
    }

    #[test]
    fn unknown_and_missing_names_are_told() {
        let all = told(&changed("lower = { ", "lowre = { "));
        assert!(all.iter().any(|l| l.contains("roles.lowre") && l.contains("lower")), "{all:?}");
        let all = told(&changed("lower = { fg = \"black\", bg = \"yellow\", bold = true }\n", ""));
        assert!(all.iter().any(|l| l.contains("roles.lower") && l.contains("missing")), "{all:?}");
        let all = told(&changed("reverse = true", "revers = true"));
        assert!(all[0].contains("roles.selected.revers") && all[0].contains("reverse"), "{all:?}");
    }

    #[test]
    fn several_mistakes_are_told_at_once() {
        let text = changed("bg = \"cyan\"", "bg = \"cyan\", bg16 = \"#ffffff\"")
            .replace("bold = true }\ngood", "bold = 1 }\ngood");
        let all = told(&text);
        assert_eq!(all.len(), 2, "{all:?}");
        assert!(all[0].contains("roles.strong.bold"), "{all:?}");
        assert!(all[1].contains("roles.wait.bg16: one of the 16 colour names"), "{all:?}");
    }

    #[test]
    fn an_index_is_a_colour() {
        let text = changed("ink = {}", "ink = { fg = \"208\" }");
        let file = ThemeFile::load(&SourceText::new("own", text)).unwrap();
        assert_eq!(file.look(Role::Ink).fg, Colour::Indexed(208));
    }

    #[test]
    fn what_it_is_made_for_may_be_left_out_but_not_be_unknown() {
        assert_eq!(ThemeFile::built_in("default").unwrap().made_for(), None);
        assert_eq!(ThemeFile::built_in("orange").unwrap().made_for(), Some(Tint::Orange));
        let all = told(&changed("name = \"default\"\n", "name = \"own\"\nmade_for = \"ornge\"\n"));
        assert_eq!(all.len(), 1, "{all:?}");
        assert!(all[0].starts_with("own.toml:8:12: made_for: 'ornge' is not a known eyewear"), "{all:?}");
        assert!(all[0].contains("orange"), "{all:?}");
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn any_text_is_read_or_refused(text in "\\PC*|[a-z={}\\[\\]\".\\n #0-9]{0,80}") {
            let _ = ThemeFile::load(&SourceText::new("any", text));
        }
    }
}
