//! `calc depth`.

use crate::cli::output::CliError;
use clap::Args;
use std::process::ExitCode;

/// What `calc depth` is asked.
#[derive(Debug, Args)]
pub struct DepthArgs {
    /// Print JSON; every key names its unit.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &DepthArgs) -> Result<ExitCode, CliError> {
    let _ = args.json;
    Err(CliError::Bad("not built yet".to_owned()))
}
