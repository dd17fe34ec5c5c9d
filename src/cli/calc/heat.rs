//! `calc heat`.

use crate::cli::output::CliError;
use clap::Args;
use std::process::ExitCode;

/// What `calc heat` is asked.
#[derive(Debug, Args)]
pub struct HeatArgs {
    /// Print JSON; every key names its unit.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &HeatArgs) -> Result<ExitCode, CliError> {
    let _ = args.json;
    Err(CliError::Bad("not built yet".to_owned()))
}
