//! Parses the arguments, dispatches, and turns the outcome into an exit code: nothing else.

use clap::Parser;
use fadewright::cli::{Args, run};
use std::process::ExitCode;

fn main() -> ExitCode {
    run(Args::parse())
}
