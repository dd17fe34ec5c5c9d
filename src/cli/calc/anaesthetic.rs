//! `calc anaesthetic`: limits of local anaesthetics, and doses against them.

use super::given::{by, form};
use crate::anaesthetic::{
    Age, CREAM_ONSET_MIN, CREAM_PAINFUL_G_PER_10_CM2, CREAM_PAINFUL_MIN, Circumstances, CreamStage, Dose, Finding,
    Judgement, Limits, MG_PER_ML_AND_PERCENT, Share, Warning, judge, limits, warnings,
};
use crate::cli::files::load_plan;
use crate::cli::output::{CliError, answer};
use crate::text::wrapped;
use crate::units::{BodyWeight, CreamMass, DrugMass, SkinArea, SolutionVolume, Strength, TimeOnSkin, trimmed};
use clap::Args;
use serde::Serialize;
use std::path::PathBuf;
use std::process::ExitCode;

const COLUMNS: usize = 80;

/// What `calc anaesthetic` is asked.
#[derive(Debug, Args)]
pub struct AnaestheticArgs {
    /// A plan: its client's age, weight, conditions and medicines.
    #[arg(conflicts_with_all = ["age_years", "age_months", "weight_kg"])]
    plan: Option<PathBuf>,
    /// Age in completed years, 0 to 120.
    #[arg(
        long,
        value_name = "YEARS",
        allow_hyphen_values = true,
        required_unless_present = "plan",
        value_parser = by(years),
    )]
    age_years: Option<u16>,
    /// Completed months beside the years, 0 to 11; below a year without them the youngest infant is assumed.
    #[arg(long, value_name = "MONTHS", allow_hyphen_values = true, requires = "age_years", value_parser = by(months))]
    age_months: Option<u16>,
    /// Body weight in kg.
    #[arg(
        long,
        value_name = "KG",
        allow_hyphen_values = true,
        required_unless_present = "plan",
        value_parser = form::<BodyWeight>(),
    )]
    weight_kg: Option<BodyWeight>,
    /// Cream of lidocaine 2.5 % and prilocaine 2.5 % in g.
    #[arg(
        long,
        value_name = "G",
        allow_hyphen_values = true,
        requires = "area_cm2",
        requires = "minutes",
        value_parser = form::<CreamMass>(),
    )]
    cream_g: Option<CreamMass>,
    /// Skin under the cream in cm2.
    #[arg(
        long,
        value_name = "CM2",
        allow_hyphen_values = true,
        requires = "cream_g",
        value_parser = form::<SkinArea>(),
    )]
    area_cm2: Option<SkinArea>,
    /// Minutes since the cream was applied, or that it will stay.
    #[arg(
        long,
        value_name = "MIN",
        allow_hyphen_values = true,
        requires = "cream_g",
        value_parser = form::<TimeOnSkin>(),
    )]
    minutes: Option<TimeOnSkin>,
    /// Infiltrated lidocaine in mg.
    #[arg(
        long,
        value_name = "MG",
        allow_hyphen_values = true,
        conflicts_with_all = ["percent", "ml"],
        value_parser = form::<DrugMass>(),
    )]
    lidocaine_mg: Option<DrugMass>,
    /// Strength of the lidocaine in per cent, with --ml instead of --lidocaine-mg.
    #[arg(
        long,
        value_name = "PERCENT",
        allow_hyphen_values = true,
        requires = "ml",
        value_parser = form::<Strength>(),
    )]
    percent: Option<Strength>,
    /// Volume of the lidocaine in mL.
    #[arg(
        long,
        value_name = "ML",
        allow_hyphen_values = true,
        requires = "percent",
        value_parser = form::<SolutionVolume>(),
    )]
    ml: Option<SolutionVolume>,
    /// The infiltrated lidocaine holds epinephrine.
    #[arg(long)]
    epinephrine: bool,
    /// Print JSON; every key names its unit.
    #[arg(long)]
    json: bool,
}

fn whole(text: &str) -> Result<u16, String> {
    text.parse().map_err(|_| format!("'{text}' is not a whole number of 0 or more"))
}

fn years(text: &str) -> Result<u16, String> {
    let years = whole(text)?;
    Age::new(years, 0).map_err(|e| e.to_string())?;
    Ok(years)
}

fn months(text: &str) -> Result<u16, String> {
    let months = whole(text)?;
    Age::new(0, months).map_err(|e| e.to_string())?;
    Ok(months)
}

/// A dose with what it uses up.
#[derive(Debug, Serialize)]
struct Used {
    #[serde(flatten)]
    share: Share,
    lidocaine_in_it_mg: f64,
    prilocaine_in_it_mg: f64,
}

#[derive(Debug, Serialize)]
struct Report {
    age_years: u16,
    age_months: u16,
    weight_kg: f64,
    cream_row: &'static str,
    cream_max_g: f64,
    cream_max_area_cm2: f64,
    cream_max_time_h: f64,
    cream_onset_min: f64,
    /// For adults alone, as the next.
    #[serde(skip_serializing_if = "Option::is_none")]
    cream_painful_min: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    cream_painful_g_per_10_cm2: Option<f64>,
    lidocaine_max_mg: f64,
    lidocaine_epinephrine_max_mg: f64,
    shares: Vec<Used>,
    sum_of_limits: f64,
    within_limits: bool,
    findings: Vec<Finding>,
    warnings: Vec<Warning>,
    sources: Vec<String>,
}

pub(super) fn run(args: &AnaestheticArgs) -> Result<ExitCode, CliError> {
    let (age, weight, known) = person(args)?;
    let limits = limits(age, weight);
    let doses = doses(args)?;
    let report = report(&limits, judge(&limits, &doses), warnings(age, known));
    answer(&report, args.json, lines)?;
    Ok(if report.within_limits { ExitCode::SUCCESS } else { ExitCode::from(1) })
}

fn person(args: &AnaestheticArgs) -> Result<(Age, BodyWeight, Circumstances), CliError> {
    let age = |years, months| Age::new(years, months).map_err(|e| CliError::Bad(e.to_string()));
    if let Some(file) = &args.plan {
        let plan = load_plan(file)?.value;
        let client = &plan.client;
        return Ok((age(client.age_years.into(), 0)?, client.weight, Circumstances::of(&plan.history)));
    }
    match (args.age_years, args.weight_kg) {
        (Some(years), Some(weight)) => {
            Ok((age(years, args.age_months.unwrap_or(0))?, weight, Circumstances::default()))
        }
        // Clap has asked for them.
        _ => Err(CliError::Bad("a plan, or --age-years and --weight-kg, are wanted".to_owned())),
    }
}

fn doses(args: &AnaestheticArgs) -> Result<Vec<Dose>, CliError> {
    let mut doses = Vec::new();
    if let (Some(mass), Some(area), Some(time)) = (args.cream_g, args.area_cm2, args.minutes) {
        doses.push(Dose::Cream { mass, area, time });
    }
    let epinephrine = args.epinephrine;
    match (args.lidocaine_mg, args.percent, args.ml) {
        (Some(mass), ..) => doses.push(Dose::Lidocaine { mass, epinephrine }),
        (None, Some(strength), Some(volume)) => {
            let dose = Dose::solution(strength, volume, epinephrine);
            doses.push(dose.map_err(|e| CliError::Bad(format!("--percent and --ml: {e}")))?);
        }
        _ if epinephrine => {
            return Err(CliError::Bad(
                "--epinephrine: of what? give the lidocaine with --lidocaine-mg, or with --percent and --ml".to_owned(),
            ));
        }
        _ => {}
    }
    Ok(doses)
}

fn report(limits: &Limits, judged: Judgement, warnings: Vec<Warning>) -> Report {
    let adult = limits.age.is_adult();
    let used = |share: Share| Used {
        lidocaine_in_it_mg: share.dose.lidocaine_mg(),
        prilocaine_in_it_mg: share.dose.prilocaine_mg(),
        share,
    };
    Report {
        age_years: limits.age.years(),
        age_months: limits.age.in_months() % 12,
        weight_kg: limits.weight.kg(),
        cream_row: limits.cream.who,
        cream_max_g: limits.cream.max_g,
        cream_max_area_cm2: limits.cream.max_area_cm2,
        cream_max_time_h: limits.cream.max_time_h,
        cream_onset_min: CREAM_ONSET_MIN.value,
        cream_painful_min: adult.then_some(CREAM_PAINFUL_MIN.value),
        cream_painful_g_per_10_cm2: adult.then_some(CREAM_PAINFUL_G_PER_10_CM2.value),
        lidocaine_max_mg: limits.lidocaine_mg,
        lidocaine_epinephrine_max_mg: limits.lidocaine_epinephrine_mg,
        shares: judged.shares.into_iter().map(used).collect(),
        sum_of_limits: judged.sum_of_limits,
        within_limits: judged.within_limits,
        findings: judged.findings,
        warnings,
        sources: limits.counted().iter().map(ToString::to_string).collect(),
    }
}

/// Milligrams with the volume of a solution of 1 % that holds them, rounded down.
fn with_volume(mg: f64) -> String {
    let ml = (mg / MG_PER_ML_AND_PERCENT * 100.0 + 1e-6).floor() / 100.0;
    format!("{} mg: {} mL of 1 %", trimmed(mg, 1), trimmed(ml, 2))
}

/// Per cent, rounded up: a share must not read smaller than it is.
fn percent(share: f64) -> String {
    format!("{} %", trimmed((1000.0 * share - 1e-6).ceil() / 10.0, 1))
}

/// Paragraphs below a heading, each with its sign.
fn paragraphs<'a>(out: &mut String, heading: &str, texts: impl Iterator<Item = (&'a str, String)>) {
    for (n, (sign, text)) in texts.enumerate() {
        if n == 0 {
            *out += &format!("\n{heading}\n");
        }
        for (m, line) in wrapped(&text, COLUMNS - 4).iter().enumerate() {
            *out += &format!("  {} {line}\n", if m == 0 { sign } else { " " });
        }
    }
}

fn dose_line(used: &Used) -> String {
    let share = percent(used.share.share);
    match used.share.dose {
        Dose::Cream { mass, area, time } => {
            let stage = match used.share.stage {
                Some(CreamStage::RemoveNow) => "REMOVE NOW",
                Some(CreamStage::Working) => "working",
                _ => "not working yet",
            };
            format!(
                "Cream {mass} on {area} for {time}: {share} of its limit, {stage}; {} mg lidocaine and as much prilocaine",
                trimmed(used.lidocaine_in_it_mg, 1)
            )
        }
        Dose::Lidocaine { mass, epinephrine } => {
            format!("Lidocaine {mass}{}: {share} of its limit", if epinephrine { " with epinephrine" } else { "" })
        }
    }
}

fn lines(r: &Report) -> String {
    let months = if r.age_years < 2 { format!(" {} months", r.age_months) } else { String::new() };
    let mut out = format!(
        "Person            {} years{months}, {} kg\n\
         Cream             at most {} g on {} cm2 for {} h ({})\n\
         \x20                 works after {} min\n",
        r.age_years,
        trimmed(r.weight_kg, 2),
        trimmed(r.cream_max_g, 1),
        trimmed(r.cream_max_area_cm2, 1),
        trimmed(r.cream_max_time_h, 1),
        r.cream_row,
        trimmed(r.cream_onset_min, 0),
    );
    if let (Some(minutes), Some(grams)) = (r.cream_painful_min, r.cream_painful_g_per_10_cm2) {
        out += &format!(
            "\x20                 a painful procedure: {} g on each 10 cm2, at least {} min\n",
            trimmed(grams, 1),
            trimmed(minutes, 0)
        );
    }
    out += &format!(
        "Lidocaine         at most {}\n  + epinephrine   at most {}\n",
        with_volume(r.lidocaine_max_mg),
        with_volume(r.lidocaine_epinephrine_max_mg)
    );
    out += "Each where it is the only one; together their shares are added.\n";
    paragraphs(&mut out, "Doses", r.shares.iter().map(|u| ("-", dose_line(u))));
    if !r.shares.is_empty() {
        let verdict = match (r.within_limits, r.warnings.iter().any(|w| w.concerns)) {
            (false, _) => "OVER A LIMIT",
            (true, false) => "within the limits",
            (true, true) => "within the limits; mind what is marked !",
        };
        out += &format!("  = {} of the limit: {verdict}\n", percent(r.sum_of_limits));
    }
    paragraphs(&mut out, "Over a limit", r.findings.iter().map(|f| ("!", f.text.clone())));
    let known =
        |w: &Warning| if w.concerns { ("!", format!("THIS PERSON: {}", w.text)) } else { ("-", w.text.to_owned()) };
    paragraphs(&mut out, "To mind", r.warnings.iter().map(known));
    paragraphs(&mut out, "Sources", r.sources.iter().map(|s| ("-", s.clone())));
    out
}
