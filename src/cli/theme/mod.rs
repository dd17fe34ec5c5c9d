//! `fadewright theme`: which themes there are, choosing one, and whether it can be read through eyewear.

mod check;
mod choice;

pub(super) use choice::{choose, for_session};

use super::output::{CliError, print};
use super::{Common, EXIT_CODES};
use crate::tui::theme::{BUILT_IN, Depth, ThemeFile};
use clap::Subcommand;
use std::process::ExitCode;

/// What can be asked of the themes.
#[derive(Debug, Subcommand)]
pub enum ThemeCommand {
    /// List the shipped themes and the clinic's own, and the eyewear that each is made for.
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
            // The clinic's own comes last; what is wrong with it is told where one looks for it.
            if let Some(own) = choice::own()? {
                print(&line(&own))?;
            }
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

/// How many colours the terminal shows.
fn depth() -> Depth {
    let var = |name: &str| std::env::var(name).ok();
    Depth::detect(var("NO_COLOR").as_deref(), var("COLORTERM").as_deref(), var("TERM").as_deref())
}
