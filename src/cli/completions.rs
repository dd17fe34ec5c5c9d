//! `fadewright completions`: for shells and for the manual, from the definitions of the command line itself.

use super::Args;
use super::output::{CliError, print};
use clap::{CommandFactory, ValueEnum};
use clap_complete::Shell;
use std::process::ExitCode;

/// What can be written.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum Kind {
    /// For bash.
    Bash,
    /// For elvish.
    Elvish,
    /// For fish.
    Fish,
    /// For PowerShell.
    Powershell,
    /// For zsh.
    Zsh,
    /// The manual page, as roff.
    Man,
}

/// What `completions` is asked.
#[derive(Debug, clap::Args)]
pub struct CompletionsArgs {
    /// The shell, or man for the manual page.
    kind: Kind,
}

pub(super) fn run(args: &CompletionsArgs) -> Result<ExitCode, CliError> {
    let mut command = Args::command();
    let mut out = Vec::new();
    let shell = match args.kind {
        Kind::Bash => Some(Shell::Bash),
        Kind::Elvish => Some(Shell::Elvish),
        Kind::Fish => Some(Shell::Fish),
        Kind::Powershell => Some(Shell::PowerShell),
        Kind::Zsh => Some(Shell::Zsh),
        Kind::Man => None,
    };
    match shell {
        Some(shell) => clap_complete::generate(shell, &mut command, "fadewright", &mut out),
        None => {
            // Gives the commands their full names.
            command.build();
            pages(&command, &mut out)?;
        }
    }
    print(String::from_utf8_lossy(&out).trim_end())?;
    Ok(ExitCode::SUCCESS)
}

/// The page of the program, and one section for each of its commands.
fn pages(command: &clap::Command, out: &mut Vec<u8>) -> Result<(), CliError> {
    let write = |command: &clap::Command, out: &mut Vec<u8>| clap_mangen::Man::new(command.clone()).render(out);
    let told = |e: std::io::Error| CliError::Bad(e.to_string());
    write(command, out).map_err(told)?;
    for sub in command.get_subcommands() {
        write(sub, out).map_err(told)?;
    }
    Ok(())
}
