//! `calc hazard`.

use super::given::{form, number, word};
use crate::cli::output::{CliError, answer};
use crate::physics::hazard::marking::{Judgement, LineNeed, Marking};
use crate::physics::hazard::{
    Beam, Edition, EditionChoice, Hazard, HazardError, ScaleRule, Source, Train, assess, rounded_up,
};
use crate::text::{shown, wrapped};
use crate::units::{AngularSubtense, ExposureTime, Wavelength, trimmed};
use crate::words::{BeamProfile, Word};
use clap::Args;
use serde::Serialize;
use std::process::ExitCode;

/// J/m2 to J/cm2.
const PER_CM2: f64 = 1e-4;
const COLUMNS: usize = 80;
const CAUTION: &str = "The standards themselves, the laser protection adviser and the local rules decide. At work in \
                       the EU the limits of 2007 are the law (2006/25/EC), whichever edition is stricter.";

/// What `calc hazard` is asked.
#[derive(Debug, Args)]
pub struct HazardArgs {
    /// Wavelength in nm, 400 to 1400.
    #[arg(long, value_name = "NM", value_parser = form::<Wavelength>())]
    wavelength_nm: Wavelength,
    /// Pulse duration with its unit, such as 750ps.
    #[arg(long, value_name = "TIME", value_parser = form::<ExposureTime>(), required_unless_present = "power_w")]
    pulse: Option<ExposureTime>,
    /// Energy of one pulse in J.
    #[arg(
        long,
        value_name = "J",
        required_unless_present = "power_w",
        allow_hyphen_values = true,
        value_parser = number(),
    )]
    energy_j: Option<f64>,
    /// Power of a continuous beam in W, instead of pulse and energy.
    #[arg(long, value_name = "W", conflicts_with_all = ["pulse", "energy_j", "rate_hz"])]
    power_w: Option<f64>,
    /// Repetition rate in Hz; 0 is a single pulse.
    #[arg(long, value_name = "HZ", default_value_t = 0.0, allow_hyphen_values = true, value_parser = number())]
    rate_hz: f64,
    /// How long someone is exposed, with its unit.
    #[arg(long, value_name = "TIME", default_value = "10s", value_parser = form::<ExposureTime>())]
    exposure: ExposureTime,
    /// Beam diameter in mm at 1/e of the peak; of an even beam its whole diameter.
    #[arg(long, value_name = "MM", allow_hyphen_values = true, value_parser = number())]
    beam_mm: f64,
    /// Full divergence in mrad at 1/e; after a focus that of the beam behind it. 0 is a beam that does not spread.
    #[arg(long, value_name = "MRAD", allow_hyphen_values = true, value_parser = number())]
    divergence_mrad: f64,
    /// Shape of the beam: for "gaussian", diameter and divergence are those at 1/e2 and are converted.
    #[arg(long, value_name = "SHAPE", default_value = "flat", value_parser = word::<BeamProfile>())]
    beam_profile: BeamProfile,
    /// Limits: the 2007 family, the 2013/2014 family, or the lower of both.
    #[arg(long, value_name = "2007|2014|stricter", default_value = "stricter", value_parser = word::<EditionChoice>())]
    edition: EditionChoice,
    /// Angle under which the source is seen, in mrad; up to 1.5 it is a point, as any laser beam looked into.
    #[arg(long, value_name = "MRAD", default_value = "0", value_parser = form::<AngularSubtense>())]
    alpha_mrad: AngularSubtense,
    /// Share of the light that a matt surface scatters, for the diffuse distance.
    #[arg(long, value_name = "0..1", default_value_t = 1.0, allow_hyphen_values = true, value_parser = number())]
    reflectance: f64,
    /// Seconds over which EN 207 counts pulses: 5 since 2017, 10 in older practice.
    #[arg(long, value_name = "S", default_value = "5", value_parser = ["5", "10"])]
    lb_base_s: String,
    /// Multiply the average irradiance by the spot factor of EN 207 (d^1.7, d up to 15 mm).
    #[arg(long)]
    lb_spot_factor: bool,
    /// Marking of a pair of eyewear, as printed, to be judged: exit code 1 when it does not protect.
    #[arg(long, value_name = "MARKING")]
    eyewear: Option<String>,
    /// Print JSON; every key names its unit.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Serialize)]
struct EyeReport {
    edition: Edition,
    mpe_eye_j_cm2: f64,
    mpe_eye_train_j_cm2: f64,
    rule: &'static str,
    c_p: f64,
    c_e: f64,
}

#[derive(Debug, Serialize)]
struct EyewearReport {
    marking: String,
    read_as: String,
    ignored: Vec<String>,
    protects: bool,
    reasons: Vec<String>,
    warnings: Vec<String>,
}

#[derive(Debug, Serialize)]
struct Report {
    wavelength_nm: f64,
    pulse_s: f64,
    energy_j: f64,
    rate_hz: f64,
    exposure_s: f64,
    pulses: f64,
    beam_1e_mm: f64,
    divergence_1e_mrad: f64,
    edition_asked: EditionChoice,
    edition: Edition,
    edition_single_pulse: Edition,
    mpe_eye_j_cm2: f64,
    mpe_skin_j_cm2: f64,
    mpe_eye_train_j_cm2: f64,
    mpe_skin_train_j_cm2: f64,
    eye_rule: &'static str,
    skin_rule: &'static str,
    by_edition: Vec<EyeReport>,
    od_7mm: f64,
    od_beam: f64,
    od_average_power: Option<f64>,
    od_needed: f64,
    /// None for a beam that does not spread: JSON has no infinity.
    nohd_m: Option<f64>,
    nohd_text: String,
    diffuse_m: f64,
    diffuse_extended_m: f64,
    skin_distance_m: Option<f64>,
    skin_diffuse_m: f64,
    reflectance: f64,
    lb_needed: String,
    lb_average: Option<u32>,
    lb_pulse: Option<u32>,
    lb_pulse_mode: Option<&'static str>,
    lb_average_exact: Option<f64>,
    lb_pulse_exact: Option<f64>,
    lb_base_s: f64,
    lb_pulses_counted: f64,
    eyewear: Option<EyewearReport>,
    caution: &'static str,
}

fn bad(error: &HazardError) -> CliError {
    CliError::Bad(error.to_string())
}

fn source(args: &HazardArgs) -> Result<Source, HazardError> {
    let (train, energy_j) = match (args.power_w, args.pulse) {
        (None, Some(pulse)) => {
            (Train::repeated(pulse, args.rate_hz, args.exposure)?, args.energy_j.unwrap_or(f64::NAN))
        }
        (power, _) => (Train::single(args.exposure), power.unwrap_or(f64::NAN) * args.exposure.seconds()),
    };
    let beam = match args.beam_profile {
        BeamProfile::Gaussian => Beam::gaussian(args.beam_mm, args.divergence_mrad)?,
        BeamProfile::Flat => Beam::new(args.beam_mm, args.divergence_mrad)?,
    };
    Ok(Source::new(args.wavelength_nm, energy_j, train, beam)?.seen_under(args.alpha_mrad))
}

pub(super) fn run(args: &HazardArgs) -> Result<ExitCode, CliError> {
    let source = source(args).map_err(|e| bad(&e))?;
    if !(0.0..=1.0).contains(&args.reflectance) {
        return Err(CliError::Bad(format!("reflectance {} is outside 0 to 1", args.reflectance)));
    }
    let rule = ScaleRule { base_s: if args.lb_base_s == "10" { 10.0 } else { 5.0 }, spot_factor: args.lb_spot_factor };
    let hazard = assess(&source, args.edition, args.reflectance, rule);
    let eyewear = match &args.eyewear {
        None => None,
        Some(text) => {
            let marking: Marking =
                text.parse().map_err(|e| CliError::Bad(format!("the marking of the eyewear: {e}")))?;
            let judged = marking.judge(&LineNeed::of(&source, &hazard));
            Some(eyewear_report(text, &marking, judged))
        }
    };
    let protects = eyewear.as_ref().is_none_or(|e| e.protects);
    let report = report(args, &source, &hazard, rule, eyewear);
    answer(&report, args.json, rendered)?;
    Ok(if protects { ExitCode::SUCCESS } else { ExitCode::from(1) })
}

fn eyewear_report(text: &str, marking: &Marking, judged: Judgement) -> EyewearReport {
    EyewearReport {
        marking: text.to_owned(),
        read_as: marking.to_string(),
        ignored: marking.ignored.clone(),
        protects: judged.protects,
        reasons: judged.reasons,
        warnings: judged.warnings,
    }
}

fn report(
    args: &HazardArgs,
    source: &Source,
    hazard: &Hazard,
    rule: ScaleRule,
    eyewear: Option<EyewearReport>,
) -> Report {
    let finite = |m: f64| m.is_finite().then_some(m);
    Report {
        wavelength_nm: source.wavelength.nm(),
        pulse_s: source.train.pulse().seconds(),
        energy_j: source.energy_j(),
        rate_hz: source.train.rate_hz(),
        exposure_s: source.train.exposure().seconds(),
        pulses: source.train.pulses(),
        beam_1e_mm: source.beam.diameter_m() * 1e3,
        divergence_1e_mrad: source.beam.divergence_rad() * 1e3,
        edition_asked: args.edition,
        edition: hazard.governing.edition,
        edition_single_pulse: hazard.single.edition,
        mpe_eye_j_cm2: hazard.single.single_j_m2 * PER_CM2,
        mpe_skin_j_cm2: hazard.skin_single_j_m2 * PER_CM2,
        mpe_eye_train_j_cm2: hazard.governing.train.j_m2 * PER_CM2,
        mpe_skin_train_j_cm2: hazard.skin_train.j_m2 * PER_CM2,
        eye_rule: hazard.governing.train.rule.word(),
        skin_rule: hazard.skin_train.rule.word(),
        by_edition: hazard
            .eye
            .iter()
            .map(|e| EyeReport {
                edition: e.edition,
                mpe_eye_j_cm2: e.single_j_m2 * PER_CM2,
                mpe_eye_train_j_cm2: e.train.j_m2 * PER_CM2,
                rule: e.train.rule.word(),
                c_p: e.c_p,
                c_e: e.c_e,
            })
            .collect(),
        od_7mm: hazard.od_7mm,
        od_beam: hazard.od_beam,
        od_average_power: hazard.od_average,
        od_needed: rounded_up(hazard.od_needed()),
        nohd_m: finite(hazard.nohd_m),
        nohd_text: metres(hazard.nohd_m),
        diffuse_m: hazard.diffuse_m,
        diffuse_extended_m: hazard.diffuse_extended_m,
        skin_distance_m: finite(hazard.skin_distance_m),
        skin_diffuse_m: hazard.skin_diffuse_m,
        reflectance: args.reflectance,
        lb_needed: hazard.scale.to_string(),
        lb_average: hazard.scale.average.map(|n| n.number),
        lb_pulse: hazard.scale.pulsed.map(|(_, n)| n.number),
        lb_pulse_mode: hazard.scale.pulsed.map(|(mode, _)| mode.word()),
        lb_average_exact: hazard.scale.average.map(|n| n.exact),
        lb_pulse_exact: hazard.scale.pulsed.map(|(_, n)| n.exact),
        lb_base_s: rule.base_s,
        lb_pulses_counted: hazard.scale.pulses,
        eyewear,
        caution: CAUTION,
    }
}

/// A distance to three figures.
fn metres(m: f64) -> String {
    match m {
        m if m.is_infinite() => "no end: the beam does not spread".to_owned(),
        m if m <= 0.0 => "0 m".to_owned(),
        m if m >= 100.0 => format!("{m:.0} m"),
        m => format!("{} m", trimmed(m, if m < 1.0 { 3 } else { 2 })),
    }
}

fn rendered(r: &Report) -> String {
    let pulse = ExposureTime::new(r.pulse_s).map_or_else(|_| String::new(), |t| t.to_string());
    let exposure = ExposureTime::new(r.exposure_s).map_or_else(|_| String::new(), |t| t.to_string());
    let how_often = match r.pulses {
        n if n > 1.0 => format!("{} Hz for {exposure}: {n} pulses", trimmed(r.rate_hz, 3)),
        _ => "one exposure".to_owned(),
    };
    let mut lines = vec![
        format!("{} nm, {pulse}, {} J, {how_often}", trimmed(r.wavelength_nm, 1), trimmed(r.energy_j, 6)),
        format!(
            "beam {} mm, divergence {} mrad (both at 1/e)",
            trimmed(r.beam_1e_mm, 3),
            trimmed(r.divergence_1e_mrad, 3)
        ),
        String::new(),
    ];
    for e in &r.by_edition {
        lines.push(format!(
            "eye limit, {}     {:.3e} J/cm2 for one pulse, {:.3e} for each",
            e.edition, e.mpe_eye_j_cm2, e.mpe_eye_train_j_cm2
        ));
    }
    lines.push(format!(
        "skin limit          {:.3e} J/cm2 for one pulse, {:.3e} for each",
        r.mpe_skin_j_cm2, r.mpe_skin_train_j_cm2
    ));
    lines.push(format!("the eye goes by     {}: {} ({} rule)", r.edition, r.edition.standards(), spoken(r.eye_rule)));
    let average = r.od_average_power.map_or_else(String::new, |od| format!(", average power {od:.2}"));
    lines.push(format!(
        "optical density     {} needed (7 mm {:.2}, beam {:.2}{average})",
        trimmed(r.od_needed, 1),
        r.od_7mm,
        r.od_beam
    ));
    let end = if r.lb_average.max(r.lb_pulse) > Some(10) { "; the scale ends at LB10" } else { "" };
    lines.push(format!("EN 207              {} (pulses counted over {} s){end}", r.lb_needed, r.lb_base_s));
    lines.push(format!("eye, direct beam    {}", r.nohd_text));
    lines.push(format!(
        "eye, matt surface   {} as a point, {} as a spot",
        metres(r.diffuse_m),
        metres(r.diffuse_extended_m)
    ));
    lines.push(format!(
        "skin                {} in the beam, {} from a matt surface",
        r.skin_distance_m.map_or_else(|| metres(f64::INFINITY), metres),
        metres(r.skin_diffuse_m)
    ));
    if let Some(e) = &r.eyewear {
        lines.push(String::new());
        let verdict = if e.protects { "PROTECTS" } else { "DOES NOT PROTECT" };
        lines.extend(wrapped(&format!("eyewear, read as {}: {verdict}", shown(&e.read_as)), COLUMNS));
        let ignored =
            if e.ignored.is_empty() { None } else { Some(format!("Not judged: {}.", shown(&e.ignored.join(" ")))) };
        for sentence in e.reasons.iter().chain(&e.warnings).cloned().chain(ignored) {
            lines.extend(wrapped(&sentence, COLUMNS - 2).into_iter().map(|l| format!("  {l}")));
        }
    }
    lines.push(String::new());
    lines.extend(wrapped(CAUTION, COLUMNS));
    lines.join("\n") + "\n"
}

fn spoken(word: &str) -> String {
    word.replace('-', " ")
}
