//! `calc heat`.

use super::given::{form, word};
use crate::cli::output::{CliError, answer};
use crate::physics::carbon;
use crate::physics::heat::{
    Confinement, DIFFUSIVITY_M2_S, Definition, Material, SPEED_OF_SOUND_M_S, TwoMaterials, confinement, side_by_side,
};
use crate::text::wrapped;
use crate::units::{GranuleDiameter, PulseDuration, Wavelength, trimmed};
use clap::Args;
use serde::Serialize;
use std::process::ExitCode;

/// What `calc heat` is asked.
#[derive(Debug, Args)]
pub struct HeatArgs {
    /// Diameter of the granule, or of a clump that acts as one, in nm.
    #[arg(long, value_name = "NM", allow_hyphen_values = true, value_parser = form::<GranuleDiameter>())]
    granule_nm: GranuleDiameter,
    /// Pulse duration with its unit, such as 750ps or 6ns.
    #[arg(long, value_name = "TIME", allow_hyphen_values = true, value_parser = form::<PulseDuration>())]
    pulse: PulseDuration,
    /// What relaxation time means: anderson-parrish, altshuler, centre-half, mean-half, sixteenth or quarter.
    #[arg(long, value_name = "WORD", default_value = "anderson-parrish", value_parser = word::<Definition>())]
    definition: Definition,
    /// Wavelength in nm: adds the heating of a carbon granule for each J/cm2 around it.
    #[arg(long, value_name = "NM", allow_hyphen_values = true, value_parser = form::<Wavelength>())]
    wavelength_nm: Option<Wavelength>,
    /// Print JSON; every key names its unit.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Serialize)]
struct Report {
    granule_nm: f64,
    pulse_s: f64,
    relaxation_s: f64,
    relaxation_low_s: f64,
    relaxation_high_s: f64,
    relaxation_definition: String,
    diffusivity_m2_s: f64,
    transit_s: f64,
    transit_low_s: f64,
    transit_high_s: f64,
    speed_of_sound_m_s: f64,
    thermally_confined: bool,
    stress_confined: bool,
    /// Highest temperatures against those without loss, a granule with the heat of skin.
    peak_temperature_mean_share: f64,
    peak_temperature_centre_share: f64,
    /// The same of carbon black in water; none where it is not computed.
    peak_temperature_mean_carbon_black_share: Option<f64>,
    /// Highest pressure against that of a flash.
    peak_pressure_share: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    carbon: Option<Carbon>,
    side_by_side: Vec<Row>,
    #[serde(skip)]
    verdict: Confinement,
}

/// Heating of a carbon granule by light.
#[derive(Debug, Serialize)]
struct Carbon {
    wavelength_nm: f64,
    heating_k_per_j_cm2: Option<f64>,
    heating_low_k_per_j_cm2: Option<f64>,
    heating_high_k_per_j_cm2: Option<f64>,
    /// What was left out, or why there is no figure.
    note: String,
}

#[derive(Debug, Serialize)]
struct Row {
    granule_nm: f64,
    pulse_s: f64,
    thermally_confined: bool,
    stress_confined: bool,
    peak_temperature_mean_share: f64,
    peak_pressure_share: f64,
}

pub(super) fn run(args: &HeatArgs) -> Result<ExitCode, CliError> {
    answer(&report(args), args.json, lines)?;
    Ok(ExitCode::SUCCESS)
}

fn report(args: &HeatArgs) -> Report {
    let (granule, pulse, definition) = (args.granule_nm, args.pulse, args.definition);
    let verdict = confinement(granule, pulse, definition);
    let carbon_black = carbon_black_share(granule, pulse);
    Report {
        granule_nm: granule.nm(),
        pulse_s: pulse.seconds(),
        relaxation_s: verdict.relaxation_s.nominal,
        relaxation_low_s: verdict.relaxation_s.low,
        relaxation_high_s: verdict.relaxation_s.high,
        relaxation_definition: definition.explained().to_owned(),
        diffusivity_m2_s: DIFFUSIVITY_M2_S.nominal,
        transit_s: verdict.transit_s.nominal,
        transit_low_s: verdict.transit_s.low,
        transit_high_s: verdict.transit_s.high,
        speed_of_sound_m_s: SPEED_OF_SOUND_M_S.nominal,
        thermally_confined: verdict.thermally_confined,
        stress_confined: verdict.stress_confined,
        peak_temperature_mean_share: verdict.mean_factor,
        peak_temperature_centre_share: verdict.centre_factor,
        peak_temperature_mean_carbon_black_share: carbon_black,
        peak_pressure_share: verdict.pressure_factor,
        carbon: args.wavelength_nm.map(|w| heating(granule, w, carbon_black)),
        side_by_side: side_by_side(definition)
            .into_iter()
            .map(|(granule, pulse, c)| Row {
                granule_nm: granule.nm(),
                pulse_s: pulse.seconds(),
                thermally_confined: c.thermally_confined,
                stress_confined: c.stress_confined,
                peak_temperature_mean_share: c.mean_factor,
                peak_pressure_share: c.pressure_factor,
            })
            .collect(),
        verdict,
    }
}

fn carbon_black_share(granule: GranuleDiameter, pulse: PulseDuration) -> Option<f64> {
    let radius_m = granule.nm() * 0.5e-9;
    let fourier = Material::CARBON_BLACK.diffusivity_m2_s() * pulse.seconds() / (radius_m * radius_m);
    TwoMaterials::new(Material::CARBON_BLACK, Material::WATER).and_then(|t| t.mean_at_end_of_pulse(fourier)).ok()
}

fn heating(granule: GranuleDiameter, wavelength: Wavelength, share: Option<f64>) -> Carbon {
    let heating = carbon::heating_k_per_j_cm2(granule.nm(), wavelength)
        .map(|e| share.map(|share| e.map(|k| k * share)))
        .map_err(|e| e.to_string());
    let (heating, note) = match heating {
        Ok(Some(heating)) => (Some(heating), "linear, with losses during the pulse, without phase change".to_owned()),
        Ok(None) => (None, "the loss during so long or short a pulse is not computed".to_owned()),
        Err(e) => (None, e),
    };
    Carbon {
        wavelength_nm: wavelength.nm(),
        heating_k_per_j_cm2: heating.map(|e| e.nominal),
        heating_low_k_per_j_cm2: heating.map(|e| e.low),
        heating_high_k_per_j_cm2: heating.map(|e| e.high),
        note,
    }
}

/// A time, readable in any unit.
fn time(seconds: f64) -> String {
    PulseDuration::new(seconds).map_or_else(|_| format!("{seconds:.2e} s"), |t| t.to_string())
}

/// Three digits of a share, or how small it is.
fn share(value: f64) -> String {
    if value < 0.001 { format!("{value:.0e}") } else { trimmed(value, 3) }
}

fn lines(r: &Report) -> String {
    let yes = |b| if b { "yes" } else { "no" };
    let mut out = format!(
        "Granule {} nm, pulse {}\n\
         Confined         {}\n\
         Relaxation time  {} ({} to {})\n\
         \x20                {}\n\
         Sound transit    {} at {} m/s ({} to {})\n\
         Heat confined    {}: the pulse is {} the relaxation time\n\
         Stress confined  {}: the pulse is {} the transit time\n",
        trimmed(r.granule_nm, 1),
        time(r.pulse_s),
        r.verdict.words(),
        time(r.relaxation_s),
        time(r.relaxation_low_s),
        time(r.relaxation_high_s),
        wrapped(&r.relaxation_definition, 62).join("\n                 "),
        time(r.transit_s),
        trimmed(r.speed_of_sound_m_s, 0),
        time(r.transit_low_s),
        time(r.transit_high_s),
        yes(r.thermally_confined),
        if r.thermally_confined { "at most" } else { "longer than" },
        yes(r.stress_confined),
        if r.stress_confined { "shorter than" } else { "not shorter than" },
    );
    let black = r
        .peak_temperature_mean_carbon_black_share
        .map_or_else(String::new, |s| format!("\n                 {} for carbon black in water", share(s)));
    out += &format!(
        "Peak heat        {} of that without loss (centre {}){black}\n\
         Peak pressure    {} of that of a flash of the same energy\n",
        share(r.peak_temperature_mean_share),
        share(r.peak_temperature_centre_share),
        share(r.peak_pressure_share),
    );
    if let Some(c) = &r.carbon {
        out += &match (c.heating_k_per_j_cm2, c.heating_low_k_per_j_cm2, c.heating_high_k_per_j_cm2) {
            (Some(k), Some(low), Some(high)) => format!(
                "Carbon heating   {k:.1e} K for each J/cm2 at {} nm ({low:.1e} to {high:.1e})\n\
                 \x20                {}\n",
                trimmed(c.wavelength_nm, 1),
                c.note
            ),
            _ => wrapped(&format!("No carbon heating: {}", c.note), 78).join("\n") + "\n",
        };
    }
    out + &table(&r.side_by_side)
        + "\nA rule of thumb, linear, without phase change: it explains, it sets nothing.\n\
           The device's manual and the clinic's protocol come first.\n"
}

/// Granules down, pulses across: what is confined, and the mean peak of heat.
fn table(rows: &[Row]) -> String {
    let mut out = "\nSide by side: what is confined, and peak heat of that without loss\n\n granule".to_owned();
    let first = rows.first().map_or(0.0, |r| r.granule_nm);
    let same = |a: f64, b: f64| (a - b).abs() < 1e-9;
    for row in rows.iter().take_while(|r| same(r.granule_nm, first)) {
        out += &format!("{:>17}", time(row.pulse_s));
    }
    let mut granule = f64::NAN;
    for row in rows {
        if !same(row.granule_nm, granule) {
            granule = row.granule_nm;
            out += &format!("\n{:>8}", format!("{} nm", trimmed(granule, 0)));
        }
        let word = match (row.thermally_confined, row.stress_confined) {
            (true, true) => "heat+stress",
            (true, false) => "heat",
            (false, true) => "stress",
            (false, false) => "-",
        };
        out += &format!("{:>12} {:>4}", word, format!("{:.2}", row.peak_temperature_mean_share));
    }
    out + "\n"
}
