//! Themes: what each role looks like.
//!
//! Screens name roles (this is advice to lower, this is an edge), never colours. A theme file gives each role its
//! colours and its weight; a [`Theme`] is that file made ready for what the terminal can show.

mod colour;
mod contrast;
mod file;

pub use colour::{Colour, Depth};
pub use contrast::{FALLBACK_MAIN, Judged, Limit, RoleContrast, best_dim, is_main, judge, judge_at};
pub use file::{KIND, RoleLook, ThemeFile};

use crate::words::{Word, words};

use ratatui::style::{Color, Modifier, Style};

words! {
    /// What a part of the screen means.
    Role, "role" {
        /// Text.
        Ink = "ink",
        /// Text that is there when looked for.
        Quiet = "quiet",
        /// Text that matters most.
        Strong = "strong",
        /// As planned, saved, answered.
        Good = "good",
        /// Advice to wait.
        Wait = "wait",
        /// Advice to lower.
        Lower = "lower",
        /// Advice to stop, and faults that stop the work.
        Stop = "stop",
        /// Advice to check something.
        Check = "check",
        /// For the record.
        Note = "note",
        /// Frames and rules.
        Edge = "edge",
        /// Where text is typed.
        Field = "field",
        /// What is chosen.
        Selected = "selected",
    }
}

/// Which characters may be drawn with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Glyphs {
    /// Lines and blocks.
    #[default]
    Unicode,
    /// Only what every font and every braille display has.
    Ascii,
}

/// The themes that come with the program: name and text.
pub const BUILT_IN: [(&str, &str); 12] = [
    ("default", include_str!("../../../themes/default.toml")),
    ("mono", include_str!("../../../themes/mono.toml")),
    ("dark", include_str!("../../../themes/dark.toml")),
    ("light", include_str!("../../../themes/light.toml")),
    ("blue-orange", include_str!("../../../themes/blue-orange.toml")),
    ("orange", include_str!("../../../themes/orange.toml")),
    ("green-blue", include_str!("../../../themes/green-blue.toml")),
    ("blue-green", include_str!("../../../themes/blue-green.toml")),
    ("grey", include_str!("../../../themes/grey.toml")),
    ("brown", include_str!("../../../themes/brown.toml")),
    ("magenta", include_str!("../../../themes/magenta.toml")),
    ("red", include_str!("../../../themes/red.toml")),
];

/// A theme ready for a terminal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Theme {
    styles: [Style; Role::ALL.len()],
}

impl Theme {
    /// The theme that comes with the program and suits any terminal.
    #[must_use]
    pub fn standard(depth: Depth) -> Self {
        ThemeFile::built_in("default").map_or_else(Self::plain, |file| Self::new(&file, depth))
    }

    /// Makes a theme file ready for what the terminal can show. Without colour it is the monochrome theme, since a
    /// role may differ from another only by its colours.
    #[must_use]
    pub fn new(file: &ThemeFile, depth: Depth) -> Self {
        if depth == Depth::None
            && let Some(mono) = ThemeFile::built_in("mono")
        {
            return Self { styles: styles(&mono, depth) };
        }
        Self { styles: styles(file, depth) }
    }

    fn plain() -> Self {
        Self { styles: [Style::new(); Role::ALL.len()] }
    }

    /// How a role looks.
    #[must_use]
    pub fn style(&self, role: Role) -> Style {
        self.styles.get(role as usize).copied().unwrap_or_default()
    }
}

fn styles(file: &ThemeFile, depth: Depth) -> [Style; Role::ALL.len()] {
    let mut styles = [Style::new(); Role::ALL.len()];
    for (role, slot) in Role::ALL.iter().zip(&mut styles) {
        *slot = style(file.look(*role), depth);
    }
    styles
}

fn style(look: RoleLook, depth: Depth) -> Style {
    let mut modifier = Modifier::empty();
    for (on, what) in [
        (look.bold, Modifier::BOLD),
        (look.reverse, Modifier::REVERSED),
        (look.underline, Modifier::UNDERLINED),
        (look.dim, Modifier::DIM),
    ] {
        modifier.set(what, on);
    }
    let pick = |colour: Colour, fallback: Option<Colour>| match (depth, fallback) {
        (Depth::Sixteen, Some(fallback)) => fallback.shown(depth),
        _ => colour.shown(depth),
    };
    let mut style = Style::new().add_modifier(modifier);
    style.fg = Some(pick(look.fg, look.fg16)).filter(|colour| *colour != Color::Reset);
    style.bg = Some(pick(look.bg, look.bg16)).filter(|colour| *colour != Color::Reset);
    style
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::SourceText;

    const LEVELS: [Role; 5] = [Role::Stop, Role::Lower, Role::Wait, Role::Check, Role::Note];

    #[test]
    fn every_shipped_theme_is_whole_and_known_by_its_own_name() {
        for (name, text) in BUILT_IN {
            let file = ThemeFile::load(&SourceText::new(name, text)).unwrap();
            assert_eq!(file.name, name);
            assert!(!file.about.is_empty());
        }
        assert!(ThemeFile::built_in("nothing").is_none());
    }

    /// What is seen through the eyewear of a plan picks a theme: there is one for each.
    #[test]
    fn every_eyewear_has_a_theme_made_for_it() {
        for tint in crate::sight::Tint::ALL {
            let made =
                BUILT_IN.iter().filter_map(|(name, _)| ThemeFile::built_in(name)).find(|t| t.made_for() == Some(*tint));
            assert!(made.is_some(), "{tint}");
        }
    }

    #[test]
    fn each_style_belongs_to_its_role() {
        let theme = Theme::standard(Depth::True);
        assert_eq!(theme.style(Role::Ink), Style::new());
        assert_eq!(theme.style(Role::Selected), Style::new().add_modifier(Modifier::REVERSED));
        assert_eq!(theme.style(Role::Stop).bg, Some(Color::Red));
        for (n, role) in Role::ALL.iter().copied().enumerate() {
            assert_eq!(role as usize, n);
        }
    }

    #[test]
    fn levels_of_advice_differ_at_every_depth() {
        for (name, text) in BUILT_IN {
            let file = ThemeFile::load(&SourceText::new(name, text)).unwrap();
            for depth in [Depth::True, Depth::Indexed, Depth::Sixteen, Depth::None] {
                let theme = Theme::new(&file, depth);
                for (n, a) in LEVELS.into_iter().enumerate() {
                    assert_ne!(theme.style(a), theme.style(Role::Ink), "{name} {depth:?} {a:?}");
                    for b in LEVELS.into_iter().skip(n + 1) {
                        assert_ne!(theme.style(a), theme.style(b), "{name} {depth:?} {a:?} {b:?}");
                    }
                }
            }
        }
    }

    #[test]
    fn without_colour_there_is_none() {
        let theme = Theme::standard(Depth::None);
        for role in Role::ALL.iter().copied() {
            assert_eq!((theme.style(role).fg, theme.style(role).bg), (None, None));
        }
    }

    #[test]
    fn a_colour_never_stands_on_an_unknown_ground() {
        // On a light and on a dark terminal alike: who names one of the two colours must name the other.
        for (name, text) in BUILT_IN {
            let file = ThemeFile::load(&SourceText::new(name, text)).unwrap();
            for role in Role::ALL.iter().copied() {
                let look = file.look(role);
                assert_eq!(look.fg == Colour::Default, look.bg == Colour::Default, "{name} {role:?}");
            }
        }
    }

    /// The themes whose colours are their own.
    fn explicit() -> impl Iterator<Item = ThemeFile> {
        let whole = |file: &ThemeFile| Role::ALL.iter().all(|role| file.look(*role).fg.known().is_some());
        BUILT_IN.iter().filter_map(|(name, _)| ThemeFile::built_in(name)).filter(move |file| whole(file))
    }

    #[test]
    fn themes_with_their_own_colours_tell_levels_apart_without_them_and_name_fallbacks() {
        assert_eq!(explicit().count(), BUILT_IN.len() - 2, "all but default and mono");
        for file in explicit() {
            for (n, a) in LEVELS.into_iter().enumerate() {
                for b in LEVELS.into_iter().skip(n + 1) {
                    let weight = |role| style(file.look(role), Depth::None).add_modifier;
                    assert_ne!(weight(a), weight(b), "{} {a} {b}", file.name);
                }
            }
            for role in Role::ALL.iter().copied() {
                let look = file.look(role);
                assert!(look.fg16.is_some() && look.bg16.is_some(), "{} {role}", file.name);
                assert_ne!(look.fg16, look.bg16, "{} {role}", file.name);
            }
        }
    }

    /// What is proven of a colour holds on a terminal of 256 colours only where it is one of them.
    #[test]
    fn shipped_colours_are_the_same_in_256_colours() {
        for file in explicit() {
            for role in Role::ALL.iter().copied() {
                for colour in [file.look(role).fg, file.look(role).bg] {
                    let Color::Indexed(n) = colour.shown(Depth::Indexed) else { panic!("{} {role}", file.name) };
                    assert_eq!(Colour::Indexed(n).known(), colour.known(), "{} {role}", file.name);
                }
            }
        }
    }

    #[test]
    fn sixteen_colours_use_the_fallback_that_the_theme_names() {
        let text = BUILT_IN[0].1.replace(
            "good = { fg = \"black\", bg = \"green\" }",
            "good = { fg = \"#102030\", bg = \"#40c080\", fg16 = \"bright-white\" }",
        );
        let file = ThemeFile::load(&SourceText::new("own", &*text)).unwrap();
        assert_eq!(Theme::new(&file, Depth::True).style(Role::Good).fg, Some(Color::Rgb(0x10, 0x20, 0x30)));
        assert_eq!(Theme::new(&file, Depth::Sixteen).style(Role::Good).fg, Some(Color::White));
        assert!(matches!(Theme::new(&file, Depth::Indexed).style(Role::Good).bg, Some(Color::Indexed(_))));
    }
}
