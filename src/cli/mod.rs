//! The command line: one file a subcommand, human text and `--json` from the same value.
//!
//! The help of each command ends with the exit codes.

mod announcer;
pub mod beside;
mod calc;
mod completions;
mod debrief;
mod export;
mod face;
pub mod files;
pub mod follow_up;
mod keys;
mod light;
pub mod log;
pub mod output;
mod passphrase;
pub mod plan;
pub mod practise;
mod progress;
mod pulse_input;
pub mod register;
pub mod review;
mod sessions;
pub mod sign;
mod signatures;
pub mod theme;
pub mod treat;
pub mod verify;

use crate::tui::pace::BOUNCE_MAX_MS;
use clap::{Parser, Subcommand};
use output::{CliError, print_error};
use std::path::PathBuf;
use std::process::ExitCode;

/// What every help ends with.
const EXIT_CODES: &str = "\
Exit codes:
  0    done
  1    the answer is no: a failed check, a damaged journal, a session that is not all saved
  2    usage or bad input, no terminal, or a place that cannot be written to
  75   another program holds the session
  128+ ended by a signal: 128 and its number";

/// A terminal companion for laser tattoo-removal sessions.
///
/// An aid for trained, licensed people. The device's manual, the clinic's protocol and local law come first. Not
/// certified as a medical device.
#[derive(Debug, Parser)]
#[command(name = "fadewright", version, max_term_width = 100, after_help = EXIT_CODES)]
pub struct Args {
    /// Directory of the session journals [default: the platform's data directory].
    #[arg(long, global = true, env = "FADEWRIGHT_DATA", value_name = "DIR")]
    data_dir: Option<PathBuf>,
    /// Theme: a shipped name (see `theme list`) or a file.
    #[arg(long, global = true, env = "FADEWRIGHT_THEME", value_name = "NAME|FILE")]
    theme: Option<String>,
    /// Keys: a layout (standard, left-hand, right-hand, keypad) or a file [default: keys.toml in the config directory].
    #[arg(long, global = true, env = "FADEWRIGHT_KEYS", value_name = "LAYOUT|FILE")]
    keys: Option<String>,
    /// Read pulses from a serial device or a pipe, one line for each: `pulse` or `p`.
    #[arg(long, global = true, env = "FADEWRIGHT_PULSE_INPUT", value_name = "PATH")]
    pulse_input: Option<PathBuf>,
    /// Take presses of the pulse key closer than this for one: for a foot switch whose contact bounces, 0 to 40 ms.
    #[arg(long, global = true, value_name = "MS", default_value_t = 0, value_parser = clap::value_parser!(u64).range(0..=BOUNCE_MAX_MS))]
    bounce_ms: u64,
    /// Draw with plain ASCII characters only.
    #[arg(long, global = true)]
    ascii: bool,
    /// A session in lines, for screen readers and braille displays: nothing is drawn, a line is typed for each key.
    #[arg(long, global = true)]
    plain: bool,
    #[command(subcommand)]
    command: Option<Sub>,
}

#[derive(Debug, Subcommand)]
enum Sub {
    /// Treat by a plan: checks, settings read-back, passes, close.
    #[command(after_help = EXIT_CODES)]
    Treat(treat::TreatArgs),
    /// Take up a session that was cut off, by its id or its journal file.
    #[command(after_help = EXIT_CODES)]
    Resume(treat::ResumeArgs),
    /// Practise on simulated skin: the same screens, and a debrief.
    #[command(after_help = EXIT_CODES)]
    Practise(practise::PractiseArgs),
    /// What a session of practice was worth, decision by decision.
    #[command(after_help = EXIT_CODES)]
    Debrief(debrief::DebriefArgs),
    /// Check, show or start a plan file.
    #[command(subcommand, after_help = EXIT_CODES)]
    Plan(plan::PlanCommand),
    /// Compute light, heat, beam and hazard.
    #[command(subcommand, after_help = EXIT_CODES)]
    Calc(calc::CalcCommand),
    /// Print a session for a person, or with --json for a program.
    #[command(after_help = EXIT_CODES)]
    Log(log::LogArgs),
    /// Look over all sessions: what departs from what is wanted first.
    #[command(after_help = EXIT_CODES)]
    Review(review::ReviewArgs),
    /// Record what was seen when the client of a closed session came back.
    #[command(name = "follow-up", after_help = EXIT_CODES)]
    FollowUp(follow_up::FollowUpArgs),
    /// Print the treatment register of some days, as text, CSV or HTML.
    #[command(after_help = EXIT_CODES)]
    Register(register::RegisterArgs),
    /// Sign a closed session with an OpenSSH key.
    #[command(after_help = EXIT_CODES)]
    Sign(sign::SignArgs),
    /// Check the chain of session journals, their follow-ups and signatures.
    #[command(after_help = EXIT_CODES)]
    Verify(verify::VerifyArgs),
    /// Give a session to others: page, tables, aftercare sheet, calendar entry, FHIR.
    #[command(after_help = EXIT_CODES)]
    Export(export::ExportArgs),
    /// The themes.
    #[command(subcommand, after_help = EXIT_CODES)]
    Theme(theme::ThemeCommand),
    /// The keys in force, by the place where they hold.
    #[command(after_help = EXIT_CODES)]
    Keys(keys::KeysArgs),
    /// Print completions for a shell, or the manual page, from the same definitions as this help.
    #[command(after_help = EXIT_CODES)]
    Completions(completions::CompletionsArgs),
}

/// What every subcommand may need.
#[derive(Clone)]
struct Common {
    data_dir: Option<PathBuf>,
    theme: Option<String>,
    keys: Option<String>,
    pulse_input: Option<PathBuf>,
    ascii: bool,
    plain: bool,
    bounce_ms: u64,
}

/// Runs the program.
#[must_use]
pub fn run(args: Args) -> ExitCode {
    let common = Common {
        data_dir: args.data_dir,
        theme: args.theme,
        keys: args.keys,
        pulse_input: args.pulse_input,
        ascii: args.ascii,
        bounce_ms: args.bounce_ms,
        plain: args.plain,
    };
    let result = match args.command {
        None => treat::start(&common),
        Some(Sub::Treat(a)) => treat::treat(&common, &a),
        Some(Sub::Resume(a)) => treat::resume(&common, &a),
        Some(Sub::Practise(a)) => practise::run(&common, &a),
        Some(Sub::Debrief(a)) => debrief::run(&common, &a),
        Some(Sub::Plan(c)) => plan::run(&common, &c),
        Some(Sub::Calc(c)) => calc::run(&c),
        Some(Sub::Log(a)) => log::run(&common, &a),
        Some(Sub::FollowUp(a)) => follow_up::run(&common, &a),
        Some(Sub::Register(a)) => register::run(&common, &a),
        Some(Sub::Sign(a)) => sign::run(&common, &a),
        Some(Sub::Review(a)) => review::run(&common, &a),
        Some(Sub::Verify(a)) => verify::run(&common, &a),
        Some(Sub::Export(a)) => export::run(&common, &a),
        Some(Sub::Theme(c)) => theme::run(&common, &c),
        Some(Sub::Keys(a)) => keys::run(&common, &a),
        Some(Sub::Completions(a)) => completions::run(&a),
    };
    match result {
        Ok(code) => code,
        // The reader of a pipe went away: it has what it wanted.
        Err(CliError::PipeClosed) => ExitCode::SUCCESS,
        Err(e) => {
            print_error(&e);
            e.exit_code()
        }
    }
}
