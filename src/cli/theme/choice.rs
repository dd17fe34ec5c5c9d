//! Which theme a session takes. A wrong theme stops nobody from treating: another one is taken, and that is said.

use super::super::Common;
use super::super::files::in_config_dir;
use super::super::output::CliError;
use super::{depth, find};
use crate::session::Opened;
use crate::session::checks::likely_worn;
use crate::source::{Problems, read_file};
use crate::tui::theme::{BUILT_IN, Theme, ThemeFile};

/// The name of the clinic's own theme in the config directory.
const OWN: &str = "theme.toml";

/// The clinic's own theme, where there is one.
///
/// # Errors
/// Every mistake of the file.
pub(super) fn own() -> Result<Option<ThemeFile>, Problems> {
    in_config_dir(OWN).map(|path| ThemeFile::load(&read_file(&path)?)).transpose()
}

/// The theme asked for, and whether it is a shipped one; none where none was asked for.
fn asked(common: &Common) -> Result<Option<(ThemeFile, bool)>, CliError> {
    match &common.theme {
        Some(wanted) => Ok(Some((find(wanted)?, ThemeFile::built_in(wanted).is_some()))),
        None => Ok(own()?.map(|file| (file, false))),
    }
}

/// What is wrong, in one line.
fn in_a_line(error: &CliError) -> String {
    match error {
        CliError::Problems(problems) => {
            let list = problems.list();
            let first = list.first().map(ToString::to_string).unwrap_or_default();
            match list.len() {
                0 | 1 => first,
                n => format!("{first} ({} more)", n - 1),
            }
        }
        CliError::Bad(why) | CliError::No(why) | CliError::Held(why) => why.clone(),
        CliError::PipeClosed => "the file ended".to_owned(),
    }
}

/// The themes of a session.
pub(in crate::cli) struct Chosen {
    /// By name, to change among.
    pub(in crate::cli) themes: Vec<(String, Theme)>,
    /// The place of the first.
    pub(in crate::cli) at: usize,
    /// Why it is not the one that was asked for.
    pub(in crate::cli) problem: Option<String>,
}

/// The themes of a session, the first being the one asked for; else, where the clinic says what is seen through the
/// eyewear that protects at the plan's wavelengths, one made for that; else the standard one.
pub(in crate::cli) fn for_session(common: &Common, opened: &Opened) -> Chosen {
    let depth = depth();
    let files: Vec<ThemeFile> = BUILT_IN.iter().filter_map(|(name, _)| ThemeFile::built_in(name)).collect();
    let mut themes: Vec<(String, Theme)> = files.iter().map(|f| (f.name.clone(), Theme::new(f, depth))).collect();
    let (asked, wrong) = match asked(common) {
        Ok(asked) => (asked, None),
        Err(e) => (None, Some(in_a_line(&e))),
    };
    let tint = likely_worn(opened).and_then(|pair| pair.tint);
    let at = match (asked, tint) {
        (Some((file, shipped)), _) => {
            let known = themes.iter().position(|(name, _)| shipped && *name == file.name);
            known.unwrap_or_else(|| {
                themes.push((file.name.clone(), Theme::new(&file, depth)));
                themes.len() - 1
            })
        }
        (None, Some(tint)) => files.iter().position(|f| f.made_for() == Some(tint)).unwrap_or(0),
        (None, None) => 0,
    };
    let taken = themes.get(at).map(|(name, _)| name.clone()).unwrap_or_default();
    Chosen { themes, at, problem: wrong.map(|why| format!("theme {taken} instead of yours: {why}")) }
}

/// The theme of the start screen, fit for this terminal, and why it is not the one asked for.
pub(in crate::cli) fn choose(common: &Common) -> (Theme, Option<String>) {
    let depth = depth();
    match asked(common) {
        Ok(Some((file, _))) => (Theme::new(&file, depth), None),
        Ok(None) => (Theme::standard(depth), None),
        Err(e) => (Theme::standard(depth), Some(format!("the default theme instead of yours: {}", in_a_line(&e)))),
    }
}
