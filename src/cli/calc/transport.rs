//! `calc transport`: light in the layers of a file.

use super::given::{by, form, number, word};
use super::layers;
use crate::cli::light::all_cores;
use crate::cli::output::{CliError, answer};
use crate::cli::progress::Progress;
use crate::clock::SystemClock;
use crate::physics::Stack;
use crate::physics::transport::adding::wide_beam;
use crate::physics::transport::montecarlo::{Ending, Goal, MAX_PHOTONS, Outcome, Request, run as follow};
use crate::physics::transport::{Beam, Measured, TransportError};
use crate::source::read_file;
use crate::units::{WaitingTime, trimmed};
use crate::words::BeamProfile;
use clap::{Args, ValueEnum};
use serde::Serialize;
use std::fmt::Write as _;
use std::path::PathBuf;
use std::process::ExitCode;

/// What `calc transport` is asked.
#[derive(Debug, Args)]
pub struct TransportArgs {
    /// The layers: a TOML file with n_above, n_below and, from the top, [[layer]] with n, mua_per_cm, mus_per_cm, g
    /// and thickness_cm (inf for a last layer without an end).
    #[arg(long, value_name = "FILE")]
    layers: PathBuf,
    /// How to compute: photons followed one by one, or layers added deterministically, which takes the beam for
    /// wide.
    #[arg(long, value_enum, default_value_t = Method::Montecarlo)]
    method: Method,
    /// Follow so many photons (1e6 may be written).
    #[arg(long, value_name = "N", value_parser = by(count), conflicts_with = "precision")]
    photons: Option<u64>,
    /// Follow photons until the relative standard error of the diffuse reflectance, and of each fluence asked for, is
    /// this small [default: 0.005].
    #[arg(long, value_name = "P", allow_hyphen_values = true, value_parser = number())]
    precision: Option<f64>,
    /// Seed of the random numbers: the same seed gives the same figures, whatever the number of threads.
    #[arg(long, value_name = "S", default_value_t = 1)]
    seed: u64,
    /// Threads [default: all cores].
    #[arg(long, value_name = "T", value_parser = clap::value_parser!(u16).range(1..=1024))]
    threads: Option<u16>,
    /// Stop after this time with what is done; Ctrl-C does the same.
    #[arg(long, value_name = "TIME", default_value = "60 s", value_parser = form::<WaitingTime>())]
    time_limit: WaitingTime,
    /// Depths in cm at which fluence is wanted, from the top.
    #[arg(long, value_name = "Z,..", value_delimiter = ',', allow_hyphen_values = true, value_parser = number())]
    depths_cm: Vec<f64>,
    /// Spots in mm for those depths; without them, a beam much wider than the light spreads.
    #[arg(
        long,
        value_name = "D,..",
        value_delimiter = ',',
        allow_hyphen_values = true,
        requires = "depths_cm",
        value_parser = number(),
    )]
    spots_mm: Vec<f64>,
    /// Profile of the spots: flat, or gaussian with its 1/e2 diameter, fluence being per unit of its peak.
    #[arg(long, value_name = "PROFILE", default_value = "flat", value_parser = word::<BeamProfile>())]
    profile: BeamProfile,
    /// Print JSON; every key names its unit.
    #[arg(long)]
    json: bool,
}

/// Methods of computing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Method {
    /// Photons followed one by one.
    Montecarlo,
    /// Layers added deterministically, for a wide beam.
    AddingDoubling,
}

/// A count that may be written as 1e6.
fn count(text: &str) -> Result<u64, String> {
    let whole = || format!("a whole number from 1 to {MAX_PHOTONS:e}, such as 1000000 or 1e6");
    let number: f64 = text.parse().map_err(|_| whole())?;
    if (1.0..=MAX_PHOTONS as f64).contains(&number) && number.fract() <= 0.0 { Ok(number as u64) } else { Err(whole()) }
}

/// Fluence at a depth under a spot.
#[derive(Debug, Clone, Copy, Serialize)]
struct Dose {
    /// None for a wide beam.
    spot_mm: Option<f64>,
    depth_cm: f64,
    fluence_per_incident: f64,
    se: Option<f64>,
}

/// What only photons that are followed have.
#[derive(Debug, Serialize)]
struct Walk {
    photons: u64,
    events: u64,
    seed: u64,
    photons_per_s: f64,
    events_per_s: f64,
}

/// The standard errors of a deterministic solution are its own estimate of how far it may be off.
#[derive(Debug, Serialize)]
struct Report {
    method: &'static str,
    complete: bool,
    ending: &'static str,
    specular_reflectance: f64,
    diffuse_reflectance: f64,
    diffuse_reflectance_se: Option<f64>,
    transmittance: f64,
    transmittance_se: Option<f64>,
    absorbed: Vec<f64>,
    absorbed_se: Vec<Option<f64>>,
    #[serde(flatten)]
    walk: Option<Walk>,
    seconds: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    depth_dose: Option<Vec<Dose>>,
}

pub(super) fn run(args: &TransportArgs) -> Result<ExitCode, CliError> {
    let stack = layers::load(&read_file(&args.layers)?)?;
    let report = match args.method {
        Method::Montecarlo => montecarlo(args, &stack)?,
        Method::AddingDoubling => adding_doubling(args, &stack)?,
    };
    answer(&report, args.json, |r| in_words(r, args))?;
    Ok(if report.complete { ExitCode::SUCCESS } else { ExitCode::from(1) })
}

fn montecarlo(args: &TransportArgs, stack: &Stack) -> Result<Report, CliError> {
    let beams: Vec<(Option<f64>, Beam)> = if args.spots_mm.is_empty() {
        vec![(None, Beam::Wide)]
    } else {
        args.spots_mm.iter().map(|mm| (Some(*mm), Beam::of(args.profile, *mm / 10.0))).collect()
    };
    let targets: Vec<(Beam, f64)> =
        beams.iter().flat_map(|(_, beam)| args.depths_cm.iter().map(|depth| (*beam, *depth))).collect();
    let goal = match args.photons {
        Some(n) => Goal::Photons(n),
        None => Goal::Precision { relative: args.precision.unwrap_or(0.005), at_most: MAX_PHOTONS },
    };
    let request = Request {
        stack,
        goal,
        seed: args.seed,
        threads: args.threads.map_or_else(all_cores, usize::from),
        depths_cm: &args.depths_cm,
        targets: &targets,
    };
    let progress = Progress::start(args.time_limit, "photons");
    let outcome = follow(&request, &progress).map_err(|e| match e {
        TransportError::NothingDone => CliError::No(e.to_string()),
        e => CliError::Bad(e.to_string()),
    })?;
    let (seconds, stopped) = (progress.seconds(), progress.stopped_by());
    drop(progress);
    let doses = outcome.pencil.as_ref().map(|pencil| {
        let each = beams.iter().flat_map(|(spot_mm, beam)| args.depths_cm.iter().map(move |d| (*spot_mm, *beam, *d)));
        each.map(|(spot_mm, beam, depth_cm)| {
            let m = pencil.fluence(beam, depth_cm)?;
            Ok(Dose { spot_mm, depth_cm, fluence_per_incident: m.value, se: m.standard_error })
        })
        .collect::<Result<Vec<Dose>, _>>()
    });
    let doses = doses.transpose().map_err(|e: TransportError| CliError::Bad(e.to_string()))?;
    Ok(report(&outcome, args.seed, seconds, stopped, doses))
}

fn adding_doubling(args: &TransportArgs, stack: &Stack) -> Result<Report, CliError> {
    let only_photons = [
        (!args.spots_mm.is_empty(), "--spots-mm", "the beam is taken for wide"),
        (args.photons.is_some(), "--photons", "no photon is followed"),
        (args.precision.is_some(), "--precision", "the solution has no statistical error"),
    ];
    if let Some((_, flag, why)) = only_photons.iter().find(|(given, ..)| *given) {
        return Err(CliError::Bad(format!(
            "{flag}: with --method adding-doubling {why}; leave it out, or use montecarlo"
        )));
    }
    let clock = SystemClock::new();
    let solution = wide_beam(stack, &args.depths_cm).map_err(|e| CliError::Bad(e.to_string()))?;
    let (v, e) = (solution.values, solution.error);
    let doses = args.depths_cm.iter().zip(v.fluence.iter().zip(&e.fluence));
    let doses = doses.map(|(depth_cm, (value, error))| Dose {
        spot_mm: None,
        depth_cm: *depth_cm,
        fluence_per_incident: *value,
        se: Some(*error),
    });
    Ok(Report {
        method: "adding-doubling",
        complete: true,
        ending: "complete",
        specular_reflectance: v.specular_reflectance,
        diffuse_reflectance: v.diffuse_reflectance,
        diffuse_reflectance_se: Some(e.diffuse_reflectance),
        transmittance: v.transmittance,
        transmittance_se: Some(e.transmittance),
        absorbed: v.absorbed,
        absorbed_se: e.absorbed.into_iter().map(Some).collect(),
        walk: None,
        seconds: clock.elapsed().as_secs_f64(),
        depth_dose: (!args.depths_cm.is_empty()).then(|| doses.collect()),
    })
}

fn report(o: &Outcome, seed: u64, seconds: f64, stopped: Option<&'static str>, doses: Option<Vec<Dose>>) -> Report {
    let per_second = |n: u64| if seconds > 0.0 { n as f64 / seconds } else { 0.0 };
    Report {
        method: "montecarlo",
        complete: o.ending == Ending::Complete,
        ending: match o.ending {
            Ending::Complete => "complete",
            Ending::Imprecise => "precision not reached",
            Ending::Stopped => stopped.unwrap_or("stopped"),
        },
        specular_reflectance: o.specular_reflectance,
        diffuse_reflectance: o.diffuse_reflectance.value,
        diffuse_reflectance_se: o.diffuse_reflectance.standard_error,
        transmittance: o.transmittance.value,
        transmittance_se: o.transmittance.standard_error,
        absorbed: o.absorbed.iter().map(|m| m.value).collect(),
        absorbed_se: o.absorbed.iter().map(|m| m.standard_error).collect(),
        walk: Some(Walk {
            photons: o.photons,
            events: o.events,
            seed,
            photons_per_s: per_second(o.photons),
            events_per_s: per_second(o.events),
        }),
        seconds,
        depth_dose: doses,
    }
}

/// `0.18684 +- 0.00012`.
fn with_error(value: f64, error: Option<f64>) -> String {
    let m = Measured { value, standard_error: error };
    match m.standard_error {
        Some(e) if e >= 5e-6 => format!("{value:.5} +- {e:.5}"),
        Some(e) if e > 0.0 => format!("{value:.8} +- {e:.8}"),
        Some(_) => format!("{value:.5}"),
        None => format!("{value:.5}, error unknown"),
    }
}

fn in_words(r: &Report, args: &TransportArgs) -> String {
    let mut text = String::new();
    let mut line = |what: &str, value: String| {
        let _ = writeln!(text, "{what:<24}{value}");
    };
    line("specular reflectance", format!("{:.5}", r.specular_reflectance));
    line("diffuse reflectance", with_error(r.diffuse_reflectance, r.diffuse_reflectance_se));
    line("transmittance", with_error(r.transmittance, r.transmittance_se));
    for (i, (share, error)) in r.absorbed.iter().zip(&r.absorbed_se).enumerate() {
        line(&format!("absorbed in layer {}", i + 1), with_error(*share, *error));
    }
    if let Some(doses) = &r.depth_dose {
        let per = match args.profile {
            BeamProfile::Gaussian if !args.spots_mm.is_empty() => "incident fluence at the peak",
            _ => "incident fluence",
        };
        let _ = writeln!(text, "\nfluence on the axis per {per}");
        for d in doses {
            let spot = d.spot_mm.map_or_else(|| "wide beam".to_owned(), |mm| format!("{} mm", trimmed(mm, 3)));
            let depth = format!("at {} cm", trimmed(d.depth_cm, 5));
            let _ = writeln!(text, "  {spot:<10}{depth:<14}{}", with_error(d.fluence_per_incident, d.se));
        }
    }
    match &r.walk {
        Some(w) => {
            let _ = writeln!(
                text,
                "\n{} photons, {} interactions in {:.2} s, {:.1} million a second",
                w.photons,
                w.events,
                r.seconds,
                w.events_per_s / 1e6
            );
        }
        None => {
            let _ = writeln!(text, "\nadding-doubling for a wide beam; +- is its own estimate of its error");
        }
    }
    if !r.complete {
        let _ = writeln!(
            text,
            "NOT COMPLETE ({}): the figures hold within the errors shown, which are\nlarger than asked for. More time: --time-limit \"10 min\".",
            r.ending
        );
    }
    text
}
