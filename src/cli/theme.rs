//! `fadewright theme`: which themes there are, and choosing one.

use super::Common;
use super::output::{CliError, print};
use crate::tui::theme::{BUILT_IN, Depth, Theme, ThemeFile};
use clap::Subcommand;
use std::process::ExitCode;

/// What can be asked of the themes.
#[derive(Debug, Subcommand)]
pub enum ThemeCommand {
    /// List the shipped themes.
    List,
    /// Print a shipped theme, to start one's own from.
    Show {
        /// Its name.
        name: String,
    },
}

pub(super) fn run(_: &Common, command: &ThemeCommand) -> Result<ExitCode, CliError> {
    match command {
        ThemeCommand::List => {
            let lines: Vec<String> = BUILT_IN
                .iter()
                .filter_map(|(name, _)| ThemeFile::built_in(name).map(|t| format!("{name:<12} {}", t.about)))
                .collect();
            print(&lines.join("\n"))?;
        }
        ThemeCommand::Show { name } => {
            let text = BUILT_IN.iter().find(|(n, _)| n == name).map(|(_, text)| *text);
            print(text.ok_or_else(|| unknown(name))?)?;
        }
    }
    Ok(ExitCode::SUCCESS)
}

fn unknown(name: &str) -> CliError {
    let names: Vec<_> = BUILT_IN.iter().map(|(n, _)| *n).collect();
    CliError::Bad(format!("no theme '{}'; shipped: {}; or name a file", crate::text::shown(name), names.join(", ")))
}

/// The theme asked for, fit for this terminal.
pub(super) fn choose(common: &Common) -> Result<Theme, CliError> {
    let var = |name: &str| std::env::var(name).ok();
    let depth = Depth::detect(var("NO_COLOR").as_deref(), var("COLORTERM").as_deref(), var("TERM").as_deref());
    let Some(wanted) = &common.theme else { return Ok(Theme::standard(depth)) };
    if let Some(file) = ThemeFile::built_in(wanted) {
        return Ok(Theme::new(&file, depth));
    }
    let path = std::path::Path::new(wanted);
    if !path.is_file() {
        return Err(unknown(wanted));
    }
    let file = ThemeFile::load(&crate::source::read_file(path)?)?;
    Ok(Theme::new(&file, depth))
}
