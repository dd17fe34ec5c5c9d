//! Reads theme files, and tells every mistake in one of them with its place.

use super::Role;
use super::colour::{Colour, NAMES};
use crate::text::shown;
use std::fmt;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeString, DeTable, DeValue};

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
    looks: [RoleLook; Role::ALL.len()],
}

/// One mistake in a theme file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ThemeProblem {
    /// The file, as it was named to us.
    pub file: String,
    /// The line, from 1.
    pub line: usize,
    /// The column in characters, from 1.
    pub column: usize,
    /// The field, such as `roles.stop.fg`.
    pub field: String,
    /// What is wrong and what would be right.
    pub message: String,
}

impl fmt::Display for ThemeProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { file, line, column, field, message } = self;
        write!(f, "{file}:{line}:{column}: ")?;
        if !field.is_empty() {
            write!(f, "{field}: ")?;
        }
        f.write_str(message)
    }
}

impl std::error::Error for ThemeProblem {}

const TOP: [&str; 3] = ["name", "about", "roles"];
const LOOK: [&str; 8] = ["fg", "bg", "fg16", "bg16", "bold", "reverse", "underline", "dim"];

impl ThemeFile {
    /// A theme that comes with the program.
    #[must_use]
    pub fn built_in(name: &str) -> Option<Self> {
        super::BUILT_IN.iter().find(|(known, _)| *known == name).and_then(|(name, text)| Self::parse(name, text).ok())
    }

    /// Reads a theme; `file` names it in the problems.
    ///
    /// # Errors
    /// Every mistake that was found, in the order of the file.
    pub fn parse(file: &str, text: &str) -> Result<Self, Vec<ThemeProblem>> {
        let mut reader = Reader { file, text, problems: Vec::new() };
        let theme = reader.theme();
        reader.problems.sort_by_key(|problem| (problem.line, problem.column));
        if reader.problems.is_empty() { Ok(theme) } else { Err(reader.problems) }
    }

    /// How it draws a role.
    #[must_use]
    pub fn look(&self, role: Role) -> RoleLook {
        self.looks.get(role as usize).copied().unwrap_or_default()
    }
}

struct Reader<'a> {
    file: &'a str,
    text: &'a str,
    problems: Vec<ThemeProblem>,
}

type Entry<'t, 'i> = (&'t Spanned<DeString<'i>>, &'t Spanned<DeValue<'i>>);

impl Reader<'_> {
    fn problem(&mut self, span: Range<usize>, field: &str, message: String) {
        let before = self.text.get(..span.start.min(self.text.len())).unwrap_or(self.text);
        let line = before.matches('\n').count() + 1;
        let column = before.rsplit('\n').next().unwrap_or_default().chars().count() + 1;
        let (field, message) = (shown(field), shown(&message));
        self.problems.push(ThemeProblem { file: self.file.to_owned(), line, column, field, message });
    }

    fn theme(&mut self) -> ThemeFile {
        let mut theme = ThemeFile { name: String::new(), about: String::new(), looks: Default::default() };
        let (table, mistakes) = DeTable::parse_recoverable(self.text);
        for mistake in mistakes {
            self.problem(mistake.span().unwrap_or(0..0), "", mistake.message().to_owned());
        }
        if !self.problems.is_empty() {
            return theme;
        }
        for (key, value) in table.get_ref() {
            match key.get_ref().as_ref() {
                "name" => theme.name = self.text(value, "name"),
                "about" => theme.about = self.text(value, "about"),
                "roles" => theme.looks = self.roles(value),
                _ => self.unknown("", (key, value), &TOP),
            }
        }
        for key in TOP {
            if table.get_ref().get(key).is_none() {
                self.problem(0..0, key, format!("`{key}` is missing"));
            }
        }
        theme
    }

    fn text(&mut self, value: &Spanned<DeValue<'_>>, field: &str) -> String {
        match value.get_ref().as_str() {
            Some(text) if !text.is_empty() => shown(text),
            _ => {
                self.problem(value.span(), field, "a text in quotes is expected".to_owned());
                String::new()
            }
        }
    }

    fn roles(&mut self, value: &Spanned<DeValue<'_>>) -> [RoleLook; Role::ALL.len()] {
        let Some(table) = value.get_ref().as_table() else {
            self.problem(value.span(), "roles", "a table of roles is expected".to_owned());
            return Default::default();
        };
        for entry in table {
            if !Role::ALL.iter().any(|role| role.name() == entry.0.get_ref().as_ref()) {
                self.unknown("roles.", entry, &Role::ALL.map(Role::name));
            }
        }
        Role::ALL.map(|role| match table.get(role.name()) {
            Some(value) => self.look(value, &format!("roles.{}", role.name())),
            None => {
                self.problem(value.span(), &format!("roles.{}", role.name()), "this role is missing".to_owned());
                RoleLook::default()
            }
        })
    }

    fn look(&mut self, value: &Spanned<DeValue<'_>>, field: &str) -> RoleLook {
        let mut look = RoleLook::default();
        let Some(table) = value.get_ref().as_table() else {
            let message = "a table is expected, such as { fg = \"black\", bg = \"yellow\", bold = true }";
            self.problem(value.span(), field, message.to_owned());
            return look;
        };
        for entry @ (key, value) in table {
            let key = key.get_ref().as_ref();
            let field = format!("{field}.{key}");
            match key {
                "fg" => look.fg = self.colour(value, &field).unwrap_or_default(),
                "bg" => look.bg = self.colour(value, &field).unwrap_or_default(),
                "fg16" => look.fg16 = self.standard(value, &field),
                "bg16" => look.bg16 = self.standard(value, &field),
                "bold" => look.bold = self.flag(value, &field),
                "reverse" => look.reverse = self.flag(value, &field),
                "underline" => look.underline = self.flag(value, &field),
                "dim" => look.dim = self.flag(value, &field),
                _ => self.unknown(field.strip_suffix(key).unwrap_or_default(), entry, &LOOK),
            }
        }
        look
    }

    fn colour(&mut self, value: &Spanned<DeValue<'_>>, field: &str) -> Option<Colour> {
        const EXPECTED: &str = "write \"#rrggbb\", one of the 16 colour names, a number from 0 to 255, or \"default\"";
        let colour = match value.get_ref() {
            DeValue::String(text) => {
                let colour = Colour::named(text);
                if colour.is_none() {
                    let near =
                        nearest(text, &NAMES).map(|near| format!(" (nearest known: {near})")).unwrap_or_default();
                    self.problem(value.span(), field, format!("`{text}` is not a colour{near}: {EXPECTED}"));
                    return None;
                }
                colour
            }
            DeValue::Integer(number) => u8::from_str_radix(number.as_str(), number.radix()).ok().map(Colour::Indexed),
            _ => None,
        };
        if colour.is_none() {
            self.problem(value.span(), field, format!("this is not a colour: {EXPECTED}"));
        }
        colour
    }

    fn standard(&mut self, value: &Spanned<DeValue<'_>>, field: &str) -> Option<Colour> {
        let colour = self.colour(value, field)?;
        if matches!(colour, Colour::Standard(_) | Colour::Default) {
            return Some(colour);
        }
        self.problem(value.span(), field, "one of the 16 colour names or \"default\" is expected".to_owned());
        None
    }

    fn flag(&mut self, value: &Spanned<DeValue<'_>>, field: &str) -> bool {
        value.get_ref().as_bool().unwrap_or_else(|| {
            self.problem(value.span(), field, "true or false is expected".to_owned());
            false
        })
    }

    fn unknown(&mut self, prefix: &str, (key, _): Entry<'_, '_>, known: &[&str]) {
        let name = key.get_ref();
        let near = nearest(name, known).map(|near| format!("; nearest known: {near}")).unwrap_or_default();
        let message = format!("`{name}` is not known here{near} (known: {})", known.join(", "));
        self.problem(key.span(), &format!("{prefix}{name}"), message);
    }
}

fn nearest<'k>(name: &str, known: &[&'k str]) -> Option<&'k str> {
    known
        .iter()
        .map(|known| (strsim::damerau_levenshtein(name, known), *known))
        .min()
        .filter(|(distance, _)| *distance <= 2)
        .map(|(_, known)| known)
}

#[cfg(test)]
mod tests {
    use super::super::BUILT_IN;
    use super::*;
    use proptest::prelude::*;

    fn told(text: &str) -> Vec<String> {
        ThemeFile::parse("own.toml", text).unwrap_err().iter().map(ThemeProblem::to_string).collect()
    }

    fn changed(from: &str, to: &str) -> String {
        let text = BUILT_IN[0].1;
        assert!(text.contains(from), "{from}");
        text.replace(from, to)
    }

    #[test]
    fn a_wrong_colour_is_told_with_its_place_and_the_nearest_name() {
        let told = told(&changed("bg = \"red\"", "bg = \"rde\""));
        assert_eq!(
            told,
            [
                "own.toml:14:36: roles.stop.bg: `rde` is not a colour (nearest known: red): write \"#rrggbb\", one of the \
              16 colour names, a number from 0 to 255, or \"default\""
            ]
        );
    }

    #[test]
    fn unknown_and_missing_names_are_told() {
        let told = told(&changed("lower = { ", "lowre = { blod = true, "));
        assert_eq!(told.len(), 2, "{told:?}");
        assert!(told[0].contains("roles.lower: this role is missing"), "{}", told[0]);
        assert!(told[1].starts_with("own.toml:13:1: roles.lowre: `lowre` is not known here; nearest known: lower"));
        let told = super::tests::told(&changed("reverse = true", "revers = true"));
        assert!(told[0].starts_with("own.toml:19:14: roles.selected.revers: `revers`"), "{}", told[0]);
        assert!(told[0].contains("nearest known: reverse"), "{}", told[0]);
    }

    #[test]
    fn several_mistakes_are_told_at_once_in_order() {
        let text =
            changed("bold = true }\ngood", "bold = 1 }\ngood").replace("dim = true }\nstrong", "fg = 256 }\nstrong");
        let told = told(&text);
        assert_eq!(told.len(), 2, "{told:?}");
        assert!(told[0].contains("roles.quiet.fg: this is not a colour"), "{}", told[0]);
        assert!(told[1].contains("roles.strong.bold: true or false is expected"), "{}", told[1]);
    }

    #[test]
    fn broken_toml_and_wrong_shapes_are_told() {
        assert!(told("name = ")[0].starts_with("own.toml:1:"));
        assert!(told("").iter().any(|line| line.contains("`roles` is missing")));
        assert!(told("name = 3\nabout = \"x\"\nroles = []")[0].contains("own.toml:1:8: name: a text in quotes"));
        assert!(told(&changed("ink = {}", "ink = \"red\""))[0].contains("roles.ink: a table is expected"));
        let told = told(&changed("bg = \"cyan\"", "bg = \"cyan\", bg16 = \"#ffffff\""));
        assert!(told[0].contains("roles.wait.bg16: one of the 16 colour names"), "{}", told[0]);
    }

    #[test]
    fn the_column_counts_characters_and_nothing_told_can_steer_a_terminal() {
        let told = told("name = \"x\"\nabout = \"grün\" # µ\n\"\\u001b[2J\" = 1\n[roles]\n");
        assert!(told.iter().all(|line| !line.contains('\u{1b}')), "{told:?}");
        assert!(told.iter().any(|line| line.starts_with("own.toml:3:1: ")), "{told:?}");
    }

    #[test]
    fn an_index_is_a_number() {
        let file = ThemeFile::parse("own", &changed("ink = {}", "ink = { fg = 208, bg = 0x10 }")).unwrap();
        assert_eq!(file.look(Role::Ink).fg, Colour::Indexed(208));
        assert_eq!(file.look(Role::Ink).bg, Colour::Indexed(16));
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn any_text_is_read_or_refused(text in "\\PC*|[a-z={}\\[\\]\".\\n #0-9]{0,80}") {
            let _ = ThemeFile::parse("any", &text);
        }
    }
}
