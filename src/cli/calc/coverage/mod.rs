//! `calc coverage`: what the pulses over a zone leave bare, cover once, and cover more often.

mod lines;
mod more;
mod points;
mod report;
mod zone;

use super::given::{by, form, number, word};
use crate::cli::output::{CliError, answer};
use crate::coverage::hand::RUNS_MAX;
use crate::coverage::lattice::SPOTS_MAX;
use crate::coverage::{LatticeKind, Shape};
use crate::units::{Fluence, Overlap, PulseEnergy, QuantityError, RepetitionRate, SpotDiameter, WaitingTime};
use crate::words::BeamProfile;
use clap::{ArgGroup, Args};
use std::path::PathBuf;
use std::process::ExitCode;

/// What `--help` says beside the flags.
pub(super) const ABOUT: &str = "\
Zones lie flat around the origin, their middle at 0,0; x runs to the right, y up, in mm. Overlap is linear: \
1 - pitch / spot diameter, where pitch is the distance between the middles of neighbouring spots. Pulses are flat-top \
discs as wide as the spot, and every area is exact for them. --overlap fits an even pass to the zone, whose pitch is \
the planned one or a little less; --at takes the pulses as they landed; --pulses tells which overlap so many pulses \
would have, fired evenly, the zone's edge reckoned in. The dose of a place is in multiples of the nominal fluence, \
one pulse's energy over the area of its spot, taken on a fine grid.

A file of places has x_mm,y_mm a line; a header line, blank lines and comments from '#' on are left out. In a polygon \
a blank line between two places begins a further ring: the first is the outline, each further one a hole.

It explains; it sets nothing. The device's manual and the clinic's protocol come first.";

fn shape(text: &str) -> Result<Shape, String> {
    text.parse().map_err(|e: crate::coverage::ShapeTextError| e.to_string())
}

/// What `calc coverage` is asked.
#[derive(Debug, Args)]
#[command(
    group(ArgGroup::new("zone").required(true).args(["shape", "polygon"])),
    group(ArgGroup::new("pass").required(true).args(["overlap", "at", "pulses"])),
)]
pub struct CoverageArgs {
    /// The zone in mm: "rect 40x25", "ellipse 30x20" or "stroke 62x9" (length with its round ends, width); placed, as in
    /// "rect 40x25 at 10,-5 turn 30"; several put together or taken away, as in "rect 40x25 + ellipse 9x9 at 20,0 -
    /// ellipse 5x5", whose curves become chords that stray by 0.0001 mm at most.
    #[arg(long, value_name = "SHAPE", allow_hyphen_values = true, value_parser = by(shape))]
    shape: Option<Shape>,
    /// The zone as a file of corners.
    #[arg(long, value_name = "FILE")]
    polygon: Option<PathBuf>,
    /// Diameter of the spot in mm.
    #[arg(long, value_name = "MM", allow_hyphen_values = true, value_parser = form::<SpotDiameter>())]
    spot_mm: SpotDiameter,
    /// An even pass with this linear overlap: a share from 0 to 0.9, or per cent with the sign, such as "10 %".
    #[arg(long, value_name = "SHARE", allow_hyphen_values = true, value_parser = by(overlap))]
    overlap: Option<Overlap>,
    /// How the spots of the even pass lie: hex or square [default: hex].
    #[arg(long, value_name = "LATTICE", conflicts_with_all = ["at", "pulses"], value_parser = word::<LatticeKind>())]
    lattice: Option<LatticeKind>,
    /// Where the pulses landed: a file of places.
    #[arg(long, value_name = "FILE")]
    at: Option<PathBuf>,
    /// So many pulses, fired evenly: the overlap they imply.
    #[arg(long, value_name = "N", allow_hyphen_values = true, value_parser = by(pulses))]
    pulses: Option<u64>,
    /// Profile of the beam for the dose map: flat or gaussian, whose spot is its 1/e2 diameter [default: flat].
    #[arg(long, value_name = "PROFILE", conflicts_with = "pulses", value_parser = word::<BeamProfile>())]
    profile: Option<BeamProfile>,
    /// Which share of the zone gets more than so many times the nominal fluence [default: 1.5].
    #[arg(long, value_name = "K", conflicts_with = "pulses", allow_hyphen_values = true, value_parser = by(multiple))]
    above: Option<f64>,
    #[command(flatten)]
    hand: HandArgs,
    /// Repetition rate in Hz; for the time from the first pulse to the last.
    #[arg(long, value_name = "HZ", allow_hyphen_values = true, value_parser = form::<RepetitionRate>())]
    rate_hz: Option<RepetitionRate>,
    /// Energy limit of a pulse in J; with --fluence-j-cm2, for the largest spot that it fills.
    #[arg(
        long,
        value_name = "J",
        requires = "fluence_j_cm2",
        allow_hyphen_values = true,
        value_parser = form::<PulseEnergy>(),
    )]
    energy_j: Option<PulseEnergy>,
    /// Fluence in J/cm2, averaged over the spot; with --energy-j.
    #[arg(
        long,
        value_name = "J/CM2",
        requires = "energy_j",
        allow_hyphen_values = true,
        value_parser = form::<Fluence>(),
    )]
    fluence_j_cm2: Option<Fluence>,
    /// Print JSON; every key names its unit, shares have none.
    #[arg(long)]
    json: bool,
}

/// The hand that fires the even pass.
#[derive(Debug, Args)]
#[command(
    next_help_heading = "An unsteady hand",
    group(ArgGroup::new("hand").multiple(true).args(["jitter_mm", "miss", "double"]).conflicts_with_all(["at", "pulses"])),
)]
struct HandArgs {
    /// Standard deviation in mm, along each axis, by which pulses of the even pass land off their places, 0 to 50.
    #[arg(long, value_name = "MM", allow_hyphen_values = true, value_parser = number())]
    jitter_mm: Option<f64>,
    /// Probability of missing a place, 0 to 1.
    #[arg(long, value_name = "P", allow_hyphen_values = true, value_parser = number())]
    miss: Option<f64>,
    /// Probability of firing twice, 0 to 1.
    #[arg(long, value_name = "P", allow_hyphen_values = true, value_parser = number())]
    double: Option<f64>,
    /// Seed of the hand's chance: the same seed gives the same figures [default: 1].
    #[arg(long, value_name = "N", requires = "hand", allow_hyphen_values = true, value_parser = by(seed))]
    seed: Option<u64>,
    /// Passes of the hand that are tried, 2 or more [default: 100].
    #[arg(long, value_name = "N", requires = "hand", allow_hyphen_values = true, value_parser = by(runs))]
    runs: Option<u32>,
    /// Longest time for the passes; what is done by then is told, exit code 1. Ctrl-C does the same at once.
    #[arg(long, value_name = "TIME", default_value = "60s", value_parser = form::<WaitingTime>())]
    time_limit: WaitingTime,
}

pub(super) fn run(args: &CoverageArgs) -> Result<ExitCode, CliError> {
    let report = report::of(args)?;
    answer(&report, args.json, lines::of)?;
    Ok(if report.is_complete() { ExitCode::SUCCESS } else { ExitCode::from(1) })
}

/// A share from 0 to 0.9, or per cent with the sign.
fn overlap(text: &str) -> Result<Overlap, String> {
    let Ok(share) = text.trim().replace(',', ".").parse::<f64>() else {
        return text.replace(',', ".").parse().map_err(|e: QuantityError| e.to_string());
    };
    if (0.0..=0.9).contains(&share) {
        return Overlap::new(100.0 * share).map_err(|e| e.to_string());
    }
    let told = "outside 0 to 0.9; write 0.1 or '10 %'";
    Err(format!("overlap {} is {told}", text.trim()))
}

/// A whole number of pulses.
fn pulses(text: &str) -> Result<u64, String> {
    let most = SPOTS_MAX as u64;
    let count = text.trim().parse().ok().filter(|n| (1..=most).contains(n));
    count.ok_or_else(|| format!("'{}' is not a whole number from 1 to {most}", text.trim()))
}

/// A multiple of the nominal fluence.
fn multiple(text: &str) -> Result<f64, String> {
    let k = text.trim().parse().ok().filter(|k| (0.0..=1000.0).contains(k));
    k.ok_or_else(|| format!("'{}' is not a number from 0 to 1000", text.trim()))
}

fn seed(text: &str) -> Result<u64, String> {
    text.trim().parse().map_err(|_| format!("'{}' is not a whole number from 0 to {}", text.trim(), u64::MAX))
}

fn runs(text: &str) -> Result<u32, String> {
    let runs = text.trim().parse().ok().filter(|n| (2..=RUNS_MAX).contains(n));
    runs.ok_or_else(|| format!("'{}' is not a whole number from 2 to {RUNS_MAX}", text.trim()))
}
