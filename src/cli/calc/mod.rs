//! `fadewright calc`: the physics and the figures behind the numbers, for a person and with `--json` for a program.

mod anaesthetic;
mod beam;
pub(super) mod course;
mod coverage;
pub(super) mod depth;
pub(super) mod given;
mod hazard;
mod heat;
mod layers;
pub mod setting_light;
mod transport;

use super::EXIT_CODES;
use super::output::CliError;
use clap::Subcommand;
use std::process::ExitCode;

/// What can be computed.
#[derive(Debug, Subcommand)]
pub enum CalcCommand {
    /// Light in layers that a file describes: reflectance, transmittance, absorption, fluence at depth.
    #[command(after_help = EXIT_CODES)]
    Transport(transport::TransportArgs),
    /// Light at the ink and at the skin's pigment, for a plan's zones or for a setting.
    #[command(after_help = EXIT_CODES)]
    Depth(depth::DepthArgs),
    /// How fast a granule of ink cools, and whether a pulse is short enough to confine heat and stress.
    #[command(after_help = EXIT_CODES)]
    Heat(heat::HeatArgs),
    /// Energy, fluence, peak and power of a beam.
    #[command(after_help = EXIT_CODES)]
    Beam(beam::BeamArgs),
    /// Exposure limits of eye and skin, hazard distances, and the eyewear that is needed.
    #[command(after_help = EXIT_CODES)]
    Hazard(hazard::HazardArgs),
    /// How many sessions a tattoo may take, by the Kirby-Desai scale.
    #[command(after_help = EXIT_CODES)]
    Course(course::CourseArgs),
    /// How much local anaesthetic a person may get, and doses against that.
    #[command(after_help = EXIT_CODES)]
    Anaesthetic(anaesthetic::AnaestheticArgs),
    /// What the pulses over a zone leave bare, cover once, and cover more often.
    #[command(long_about = coverage::ABOUT, after_help = EXIT_CODES)]
    Coverage(Box<coverage::CoverageArgs>),
}

pub(super) fn run(command: &CalcCommand) -> Result<ExitCode, CliError> {
    match command {
        CalcCommand::Transport(a) => transport::run(a),
        CalcCommand::Depth(a) => depth::run(a),
        CalcCommand::Heat(a) => heat::run(a),
        CalcCommand::Beam(a) => beam::run(a),
        CalcCommand::Hazard(a) => hazard::run(a),
        CalcCommand::Course(a) => course::run(a),
        CalcCommand::Anaesthetic(a) => anaesthetic::run(a),
        CalcCommand::Coverage(a) => coverage::run(a),
    }
}
