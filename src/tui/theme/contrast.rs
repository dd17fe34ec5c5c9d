//! Whether a theme can be read through eyewear.

use super::colour::Depth;
use super::file::RoleLook;
use super::{Role, ThemeFile};
use crate::sight::{Contrast, Srgb, View};
use crate::words::Word;

/// The least contrast of a role's text.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit {
    /// For an eye adapted to the eyewear.
    pub adapted: f64,
    /// For one that is not; none where nothing is asked, or where not even white on black would keep it.
    pub dim: Option<f64>,
}

impl Limit {
    /// 7 to 1 for the main text, the advice's levels included, and 4.5 to 1 for the rest: levels AAA and AA of WCAG 2.x
    /// for text, here asked behind the eyewear. The 3 to 1 for an eye that has not adapted is our own proposal for text
    /// that must not be missed.
    #[must_use]
    pub const fn of(role: Role) -> Self {
        match role {
            Role::Ink | Role::Strong | Role::Stop | Role::Lower | Role::Wait | Role::Check | Role::Note => {
                Self { adapted: 7.0, dim: Some(3.0) }
            }
            Role::Quiet | Role::Good | Role::Edge | Role::Field | Role::Selected => Self { adapted: 4.5, dim: None },
        }
    }
}

/// A role's two colours through eyewear.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RoleContrast {
    /// The colour of the characters.
    pub text: Srgb,
    /// The colour behind them. Reversal exchanges the two and leaves the contrast.
    pub ground: Srgb,
    /// Luminance of the text behind the eyewear, as a share of the screen's white without it.
    pub text_luminance: f64,
    /// Luminance of the ground, alike.
    pub ground_luminance: f64,
    /// The contrast through the eyewear.
    pub through: Contrast,
    /// The contrast without it.
    pub without: f64,
    /// What is asked.
    pub limit: Limit,
}

impl RoleContrast {
    /// True when the contrast through the eyewear is what is asked.
    #[must_use]
    pub fn is_kept(&self) -> bool {
        self.through.adapted >= self.limit.adapted && self.limit.dim.is_none_or(|dim| self.through.dim >= dim)
    }
}

/// What is known of a role.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Judged {
    /// Its contrast.
    Contrast(RoleContrast),
    /// Nothing, and why.
    Not(&'static str),
}

/// The contrast that main text should keep in 16 colours, as xterm shows them: level AA of WCAG 2.x, since the palette
/// has few shades and its user may choose others.
pub const FALLBACK_MAIN: f64 = 4.5;

/// True for the roles of the main text, the advice's levels included.
#[must_use]
pub fn is_main(role: Role) -> bool {
    Limit::of(role).dim.is_some()
}

/// The most that any theme can give an eye that has not adapted: white on black through the eyewear.
#[must_use]
pub fn best_dim(through: &View) -> f64 {
    through.contrast(Srgb([255; 3]), Srgb([0; 3])).dim
}

/// Judges every role of a theme by its full colours, as terminals of 256 or more colours show them; shades that the
/// terminal's user chooses are not judged. `without` is the same display without eyewear.
#[must_use]
pub fn judge(theme: &ThemeFile, through: &View, without: &View) -> Vec<(Role, Judged)> {
    judge_by(theme, through, without, |look| Some((look.fg.known()?, look.bg.known()?)))
}

/// The same by what is left of its colours at a depth, with xterm's shades for the 16 standard ones.
#[must_use]
pub fn judge_at(theme: &ThemeFile, depth: Depth, through: &View, without: &View) -> Vec<(Role, Judged)> {
    judge_by(theme, through, without, |look| {
        let sixteen = depth == Depth::Sixteen;
        let fg = look.fg16.filter(|_| sixteen).unwrap_or(look.fg);
        let bg = look.bg16.filter(|_| sixteen).unwrap_or(look.bg);
        Some((fg.xterm_shade(depth)?, bg.xterm_shade(depth)?))
    })
}

fn judge_by(
    theme: &ThemeFile,
    through: &View,
    without: &View,
    colours: impl Fn(&RoleLook) -> Option<([u8; 3], [u8; 3])>,
) -> Vec<(Role, Judged)> {
    let best = best_dim(through);
    let one = |role: Role| {
        let look = theme.look(role);
        let Some((fg, bg)) = colours(&look) else {
            return Judged::Not("the terminal's own colours");
        };
        if look.dim {
            return Judged::Not("each terminal dims in its own way");
        }
        let (fg, bg) = (Srgb(fg), Srgb(bg));
        let (text, ground) = if look.reverse { (bg, fg) } else { (fg, bg) };
        let limit = Limit::of(role);
        Judged::Contrast(RoleContrast {
            text,
            ground,
            text_luminance: through.luminance(text),
            ground_luminance: through.luminance(ground),
            through: through.contrast(text, ground),
            without: without.contrast(text, ground).adapted,
            // What no colours can reach is not asked of a theme; whoever checks is told so.
            limit: Limit { dim: limit.dim.filter(|dim| best >= *dim), ..limit },
        })
    };
    Role::ALL.iter().map(|role| (*role, one(*role))).collect()
}

#[cfg(test)]
mod tests {
    use super::super::BUILT_IN;
    use super::*;
    use crate::sight::{Display, Filter, Tint};
    use crate::source::SourceText;

    fn views(tint: Tint, display: Display) -> [View; 2] {
        [Filter::shipped(tint).unwrap(), Filter::none()].map(|filter| View::new(&filter, display))
    }

    #[test]
    fn every_shipped_theme_can_be_read_through_the_eyewear_it_is_made_for() {
        let (mut missed, mut seen) = (Vec::new(), 0);
        for (name, _) in BUILT_IN {
            let theme = ThemeFile::built_in(name).unwrap();
            for display in Display::ALL.iter().copied() {
                let [through, without] = views(theme.made_for().unwrap_or(Tint::Clear), display);
                for (role, judged) in judge(&theme, &through, &without) {
                    match judged {
                        Judged::Not(_) => assert!(["default", "mono"].contains(&name), "{name} {role}"),
                        Judged::Contrast(c) if c.is_kept() => seen += 1,
                        Judged::Contrast(c) => missed.push(format!("{name} {display} {role}: {:?}", c.through)),
                    }
                }
            }
        }
        assert!(missed.is_empty(), "\n{}", missed.join("\n"));
        assert_eq!(seen, (BUILT_IN.len() - 2) * Display::ALL.len() * Role::ALL.len());
    }

    /// Of the shipped eyewear only red is so dark that an eye which has not adapted is asked too much.
    #[test]
    fn only_behind_red_is_too_little_left_for_an_eye_that_has_not_adapted() {
        for tint in Tint::ALL.iter().copied() {
            for display in Display::ALL.iter().copied() {
                let [through, _] = views(tint, display);
                assert_eq!(best_dim(&through) < 3.0, tint == Tint::Red, "{tint} {display}: {}", best_dim(&through));
            }
        }
    }

    /// The fallbacks, with xterm's shades. 256 colours lose nothing; in 16, the main text of every theme keeps 4.5 to 1
    /// through its eyewear.
    #[test]
    fn the_fallbacks_of_shipped_themes_can_be_read_through_their_eyewear() {
        let (mut missed, mut seen) = (Vec::new(), 0);
        for (name, _) in BUILT_IN {
            let theme = ThemeFile::built_in(name).unwrap();
            let own = ["default", "mono"].contains(&name);
            for display in Display::ALL.iter().copied() {
                let [through, without] = views(theme.made_for().unwrap_or(Tint::Clear), display);
                if !own {
                    assert_eq!(judge_at(&theme, Depth::Indexed, &through, &without), judge(&theme, &through, &without));
                }
                for (role, judged) in judge_at(&theme, Depth::Sixteen, &through, &without) {
                    let c = match judged {
                        Judged::Contrast(c) => c,
                        // Of the terminal's own two colours nothing can be said.
                        Judged::Not(_) if own => continue,
                        Judged::Not(why) => panic!("{name} {role}: {why}"),
                    };
                    let limit = if is_main(role) { FALLBACK_MAIN } else { 3.0 };
                    if c.through.adapted < limit {
                        missed.push(format!("{name} {display} {role}: {:.2}", c.through.adapted));
                    }
                    seen += 1;
                }
            }
        }
        assert!(missed.is_empty(), "\n{}", missed.join("\n"));
        // Of the default theme five roles name their colours, of mono none.
        assert_eq!(seen, ((BUILT_IN.len() - 2) * Role::ALL.len() + 5) * Display::ALL.len());
    }

    #[test]
    fn a_theme_for_other_eyewear_is_found_out() {
        // An orange tint takes away what makes a light blue bright.
        let text = BUILT_IN.iter().find(|(name, _)| *name == "orange").unwrap().1;
        let blue = text.replace("ink = { fg = \"#eeeeee\"", "ink = { fg = \"#5f87ff\"");
        assert_ne!(blue, text);
        let theme = ThemeFile::load(&SourceText::new("own", blue)).unwrap();
        let [through, without] = views(Tint::Orange, Display::Led);
        let missed: Vec<_> = judge(&theme, &through, &without)
            .into_iter()
            .filter(|(_, j)| matches!(j, Judged::Contrast(c) if !c.is_kept()))
            .map(|(role, _)| role)
            .collect();
        assert_eq!(missed, [Role::Ink]);
    }

    #[test]
    fn colours_that_the_terminal_chooses_and_dimmed_ones_are_not_judged() {
        let [through, without] = views(Tint::Clear, Display::Srgb);
        for name in ["default", "mono"] {
            let theme = ThemeFile::built_in(name).unwrap();
            for (role, judged) in judge(&theme, &through, &without) {
                assert_eq!(judged, Judged::Not("the terminal's own colours"), "{name} {role}");
            }
        }
        let text = BUILT_IN.iter().find(|(name, _)| *name == "dark").unwrap().1;
        let dimmed =
            text.replace("fg16 = \"white\", bg16 = \"black\" }", "fg16 = \"white\", bg16 = \"black\", dim = true }");
        let theme = ThemeFile::load(&SourceText::new("own", dimmed)).unwrap();
        let judged = judge(&theme, &through, &without);
        assert!(judged.contains(&(Role::Quiet, Judged::Not("each terminal dims in its own way"))));
    }
}
