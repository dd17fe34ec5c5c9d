//! `calc beam`.

use crate::cli::output::CliError;
use clap::Args;
use std::process::ExitCode;

/// What `calc beam` is asked.
#[derive(Debug, Args)]
pub struct BeamArgs {
    /// Print JSON; every key names its unit.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &BeamArgs) -> Result<ExitCode, CliError> {
    let _ = args.json;
    Err(CliError::Bad("not built yet".to_owned()))
}
