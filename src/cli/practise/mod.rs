//! `fadewright practise`: simulated skin instead of a person.

mod headless;
mod progress;
mod scenario;

use super::Common;
use super::files::SetupArgs;
use super::output::CliError;
use crate::plan::ClientCode;
use clap::Args;
use std::path::PathBuf;
use std::process::ExitCode;

pub(super) use progress::progress;
pub(super) use scenario::{Chosen, choose};

/// Arguments of `practise`.
#[derive(Debug, Args)]
pub struct PractiseArgs {
    /// A shipped scenario (see --list), or a plan file. None: choose on screen.
    #[arg(value_name = "SCENARIO|PLAN")]
    pub(super) scenario: Option<String>,
    /// Hidden case behind a plan file [default: cases/NAME.toml beside the plan, else usual skin].
    #[arg(long, value_name = "FILE")]
    case: Option<PathBuf>,
    #[command(flatten)]
    pub(super) setup: SetupArgs,
    /// Seed of all chance: the same seed and the same acts give the same skin [default: drawn, and told].
    #[arg(long, value_name = "N", value_parser = seed, allow_negative_numbers = true)]
    seed: Option<u64>,
    /// How many times faster than life time runs, 1 to 600.
    #[arg(long, value_name = "X", default_value = "1", value_parser = speed, allow_negative_numbers = true)]
    pub(super) speed: f64,
    /// Let the model operator play, by the protocol and the advice.
    #[arg(long)]
    pub(super) demonstrate: bool,
    /// Without a terminal: play at once and print the log and the debrief; only with --demonstrate.
    #[arg(long, requires = "demonstrate")]
    headless: bool,
    /// Play the next session of a course: the same client weeks later, as the last session left the skin.
    #[arg(long)]
    pub(super) course: bool,
    /// Who practises, as a code such as TR-04; runs and progress are told apart by it.
    #[arg(long, value_name = "CODE", value_parser = trainee)]
    pub(super) trainee: Option<ClientCode>,
    /// List the shipped scenarios.
    #[arg(long, conflicts_with_all = ["scenario", "demonstrate", "course", "case"])]
    list: bool,
    /// Tell what came of earlier runs: best, last and trend of each scenario.
    #[arg(long, conflicts_with_all = ["list", "demonstrate", "course", "case", "seed"])]
    progress: bool,
    /// Print JSON, with --headless, --list or --progress.
    #[arg(long)]
    json: bool,
}

impl PractiseArgs {
    /// What the start screen begins: a first run, at life's pace.
    pub(super) fn plain(setup: &SetupArgs) -> Self {
        Self {
            scenario: None,
            case: None,
            setup: setup.clone(),
            seed: None,
            speed: 1.0,
            demonstrate: false,
            headless: false,
            course: false,
            trainee: None,
            list: false,
            progress: false,
            json: false,
        }
    }
}

fn seed(text: &str) -> Result<u64, String> {
    text.parse().map_err(|_| "a seed is a whole number, 0 to 18446744073709551615, such as 7".to_owned())
}

fn speed(text: &str) -> Result<f64, String> {
    let number = text.parse::<f64>().ok().filter(|n| (1.0..=600.0).contains(n));
    number.ok_or_else(|| "a number from 1 (as in life) to 600".to_owned())
}

fn trainee(text: &str) -> Result<ClientCode, String> {
    text.parse().map_err(|_| {
        "a code: 3 to 16 capital letters, digits and hyphens with at least one digit, never a name".to_owned()
    })
}

pub(super) fn run(common: &Common, args: &PractiseArgs) -> Result<ExitCode, CliError> {
    if args.list {
        return scenario::list(args.json);
    }
    if args.progress {
        return progress::run(common, args);
    }
    if args.json && !args.headless {
        return Err(CliError::Bad("--json goes with --headless, --list or --progress".to_owned()));
    }
    if args.headless {
        return headless::run(common, args);
    }
    super::treat::practise(common, args)
}
