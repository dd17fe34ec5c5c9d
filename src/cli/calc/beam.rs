//! `calc beam`.

use super::given::{form, word};
use crate::cli::output::{CliError, answer};
use crate::physics::beam::{Beam, PulseShape};
use crate::units::{Fluence, PulseDuration, PulseEnergy, RepetitionRate, SpotDiameter, trimmed};
use crate::words::BeamProfile;
use clap::Args;
use serde::Serialize;
use std::process::ExitCode;

/// What `calc beam` is asked.
#[derive(Debug, Args)]
pub struct BeamArgs {
    /// Energy of one pulse in J; this or --fluence-j-cm2.
    #[arg(long, value_name = "J", allow_hyphen_values = true, value_parser = form::<PulseEnergy>())]
    energy_j: Option<PulseEnergy>,
    /// Fluence in J/cm2, averaged over the spot.
    #[arg(long, alias = "fluence", value_name = "J/CM2", allow_hyphen_values = true, value_parser = form::<Fluence>())]
    fluence_j_cm2: Option<Fluence>,
    /// Diameter of the spot in mm; of a Gaussian beam the 1/e2 diameter.
    #[arg(long, value_name = "MM", allow_hyphen_values = true, value_parser = form::<SpotDiameter>())]
    spot_mm: SpotDiameter,
    /// Profile of the beam: flat or gaussian.
    #[arg(long, value_name = "PROFILE", default_value = "flat", value_parser = word::<BeamProfile>())]
    profile: BeamProfile,
    /// Pulse duration with its unit, such as 750ps; for the peak power.
    #[arg(long, value_name = "TIME", allow_hyphen_values = true, value_parser = form::<PulseDuration>())]
    pulse: Option<PulseDuration>,
    /// Repetition rate in Hz; for the average power.
    #[arg(long, value_name = "HZ", allow_hyphen_values = true, value_parser = form::<RepetitionRate>())]
    rate_hz: Option<RepetitionRate>,
    /// Print JSON; every key names its unit.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Serialize)]
struct Report {
    profile: BeamProfile,
    spot_mm: f64,
    fwhm_mm: f64,
    energy_j: f64,
    /// Share of the energy inside the spot.
    energy_inside_spot: f64,
    fluence_j_cm2: f64,
    peak_fluence_j_cm2: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    pulse_s: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    peak_power_w: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    peak_power_gaussian_pulse_w: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    peak_irradiance_w_cm2: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    rate_hz: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    average_power_w: Option<f64>,
}

pub(super) fn run(args: &BeamArgs) -> Result<ExitCode, CliError> {
    let report = report(args)?;
    answer(&report, args.json, lines)?;
    Ok(ExitCode::SUCCESS)
}

fn report(args: &BeamArgs) -> Result<Report, CliError> {
    let (spot, profile) = (args.spot_mm, args.profile);
    let beam = match (args.energy_j, args.fluence_j_cm2) {
        (Some(energy), None) => Beam::from_energy(energy.joules(), spot, profile),
        (None, Some(fluence)) => {
            let beam = Beam::from_fluence(fluence.j_cm2(), spot, profile);
            PulseEnergy::new(beam.energy_j()).map_err(|e| {
                CliError::Bad(format!(
                    "--fluence-j-cm2: {fluence} over a spot of {spot} takes more than a laser gives: {e}"
                ))
            })?;
            beam
        }
        (Some(_), Some(_)) => {
            return Err(CliError::Bad("--energy-j and --fluence-j-cm2 say the same: give one of them".to_owned()));
        }
        (None, None) => {
            return Err(CliError::Bad("the pulse's energy is missing: give --energy-j or --fluence-j-cm2".to_owned()));
        }
    };
    let (pulse, rate) = (args.pulse, args.rate_hz);
    Ok(Report {
        profile,
        spot_mm: spot.mm(),
        fwhm_mm: beam.fwhm_mm(),
        energy_j: beam.energy_j(),
        energy_inside_spot: beam.energy_inside_spot(),
        fluence_j_cm2: beam.fluence_j_cm2(),
        peak_fluence_j_cm2: beam.peak_fluence_j_cm2(),
        pulse_s: pulse.map(PulseDuration::seconds),
        peak_power_w: pulse.map(|t| beam.peak_power_w(t, PulseShape::Square)),
        peak_power_gaussian_pulse_w: pulse.map(|t| beam.peak_power_w(t, PulseShape::Gaussian)),
        peak_irradiance_w_cm2: pulse.map(|t| beam.peak_irradiance_w_cm2(t, PulseShape::Square)),
        rate_hz: rate.map(RepetitionRate::hz),
        average_power_w: rate.map(|f| beam.average_power_w(f)),
    })
}

/// A value with a prefix that leaves one to three digits before the point.
fn scaled(value: f64, unit: &str) -> String {
    let (factor, prefix) = match value {
        v if v >= 1e12 => (1e-12, "T"),
        v if v >= 1e9 => (1e-9, "G"),
        v if v >= 1e6 => (1e-6, "M"),
        v if v >= 1e3 => (1e-3, "k"),
        v if v >= 1.0 => (1.0, ""),
        v if v >= 1e-3 => (1e3, "m"),
        _ => (1e6, "u"),
    };
    format!("{} {prefix}{unit}", trimmed(value * factor, 3))
}

fn lines(r: &Report) -> String {
    let mut out = format!(
        "Energy         {} in a {} mm spot, {}\n\
         Fluence        {} J/cm2 averaged over the spot\n\
         Peak fluence   {} J/cm2 in the centre\n",
        scaled(r.energy_j, "J"),
        trimmed(r.spot_mm, 2),
        r.profile,
        trimmed(r.fluence_j_cm2, 4),
        trimmed(r.peak_fluence_j_cm2, 4),
    );
    if r.profile == BeamProfile::Gaussian {
        out += &format!(
            "Gaussian       the spot is the 1/e2 diameter and holds {} % of the energy;\n\
             \x20              full width at half maximum {} mm\n",
            trimmed(100.0 * r.energy_inside_spot, 1),
            trimmed(r.fwhm_mm, 3)
        );
    }
    if let (Some(power), Some(gaussian), Some(irradiance)) =
        (r.peak_power_w, r.peak_power_gaussian_pulse_w, r.peak_irradiance_w_cm2)
    {
        out += &format!(
            "Peak power     {}, {} in the centre: energy over duration,\n\
             \x20              as of a square pulse; {} for a Gaussian pulse\n",
            scaled(power, "W"),
            scaled(irradiance, "W/cm2"),
            scaled(gaussian, "W")
        );
    }
    if let (Some(power), Some(rate)) = (r.average_power_w, r.rate_hz) {
        out += &format!("Average power  {} at {} Hz\n", scaled(power, "W"), trimmed(rate, 2));
    }
    out
}
