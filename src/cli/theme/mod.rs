//! `fadewright theme`: which themes there are, choosing one, and whether it can be read through eyewear.

mod check;

use super::output::{CliError, print};
use super::{Common, EXIT_CODES};
use crate::session::Opened;
use crate::session::checks::likely_worn;
use crate::tui::theme::{BUILT_IN, Depth, Theme, ThemeFile};
use clap::Subcommand;
use std::process::ExitCode;

/// What can be asked of the themes.
#[derive(Debug, Subcommand)]
pub enum ThemeCommand {
    /// List the shipped themes and the eyewear that each is made for.
    List,
    /// Print a shipped theme, to start one's own from.
    Show {
        /// Its name.
        name: String,
    },
    /// Check whether a theme can be read through laser eyewear.
    #[command(long_about = check::ABOUT, after_help = EXIT_CODES)]
    Check(check::CheckArgs),
}

pub(super) fn run(_: &Common, command: &ThemeCommand) -> Result<ExitCode, CliError> {
    match command {
        ThemeCommand::List => {
            let line = |t: &ThemeFile| {
                let made_for = t.made_for().map_or_else(|| "-".to_owned(), |tint| tint.to_string());
                format!("{:<12} {:<12} {}", t.name, made_for, t.about)
            };
            let themes = BUILT_IN.iter().filter_map(|(name, _)| ThemeFile::built_in(name));
            let lines: Vec<String> = themes.map(|t| line(&t)).collect();
            print(&format!("{:<12} {:<12} about\n{}", "theme", "made for", lines.join("\n")))?;
        }
        ThemeCommand::Show { name } => {
            let text = BUILT_IN.iter().find(|(n, _)| n == name).map(|(_, text)| *text);
            print(text.ok_or_else(|| unknown(name))?)?;
        }
        ThemeCommand::Check(args) => return check::run(args),
    }
    Ok(ExitCode::SUCCESS)
}

fn unknown(name: &str) -> CliError {
    let names: Vec<_> = BUILT_IN.iter().map(|(n, _)| *n).collect();
    CliError::Bad(format!("no theme '{}'; shipped: {}; or name a file", crate::text::shown(name), names.join(", ")))
}

/// A shipped theme by its name, or one's own by its file.
fn find(wanted: &str) -> Result<ThemeFile, CliError> {
    if let Some(file) = ThemeFile::built_in(wanted) {
        return Ok(file);
    }
    let path = std::path::Path::new(wanted);
    if !path.is_file() {
        return Err(unknown(wanted));
    }
    Ok(ThemeFile::load(&crate::source::read_file(path)?)?)
}

/// The themes of a session, with the place of the first: the one asked for; else, where the clinic says what is seen
/// through the eyewear that protects at the plan's wavelengths, one made for that; else the standard one.
pub(super) fn for_session(common: &Common, opened: &Opened) -> Result<(Vec<(String, Theme)>, usize), CliError> {
    let depth = depth();
    let files: Vec<ThemeFile> = BUILT_IN.iter().filter_map(|(name, _)| ThemeFile::built_in(name)).collect();
    let mut themes: Vec<(String, Theme)> = files.iter().map(|f| (f.name.clone(), Theme::new(f, depth))).collect();
    let tint = likely_worn(opened).and_then(|pair| pair.tint);
    let at = match (&common.theme, tint) {
        (Some(wanted), _) => {
            let file = find(wanted)?;
            themes
                .iter()
                .position(|(name, _)| *name == file.name && ThemeFile::built_in(wanted).is_some())
                .unwrap_or_else(|| {
                    themes.push((file.name.clone(), Theme::new(&file, depth)));
                    themes.len() - 1
                })
        }
        (None, Some(tint)) => files.iter().position(|f| f.made_for() == Some(tint)).unwrap_or(0),
        (None, None) => 0,
    };
    Ok((themes, at))
}

/// How many colours the terminal shows.
fn depth() -> Depth {
    let var = |name: &str| std::env::var(name).ok();
    Depth::detect(var("NO_COLOR").as_deref(), var("COLORTERM").as_deref(), var("TERM").as_deref())
}

/// The theme asked for, fit for this terminal.
pub(super) fn choose(common: &Common) -> Result<Theme, CliError> {
    let depth = depth();
    match &common.theme {
        Some(wanted) => Ok(Theme::new(&find(wanted)?, depth)),
        None => Ok(Theme::standard(depth)),
    }
}
