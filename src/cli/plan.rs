//! `fadewright plan`: checks, shows and starts plan files.

use super::Common;
use super::beside::earlier;
use super::calc::course::PlanCourse;
use super::calc::depth::{CAUTION, question_of};
use super::calc::setting_light::SettingLight;
use super::files::{SetupArgs, data_root, load_device, load_plan, load_protocol};
use super::light::Kept;
use super::output::{CliError, print, print_json};
use crate::advice::{LastTime, last_times};
use crate::device::DeviceProfile;
use crate::journal::DataDir;
use crate::limits::{DepthLight, PlanProblem, Severity, plan_errors, plan_problems};
use crate::plan::{self, Plan};
use crate::protocol::Protocol;
use crate::source::{self, Loaded, Problem, SourceText};
use crate::text::wrapped;
use crate::tui::pictures::confinement::ConfinementPicture;
use crate::tui::pictures::depth::{DepthPicture, Lit};
use crate::tui::pictures::text_of;
use clap::Subcommand;
use serde::Serialize;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// Columns that lines keep within.
const COLUMNS: usize = 80;

/// What can be done with a plan file.
#[derive(Debug, Subcommand)]
pub enum PlanCommand {
    /// Check a plan against the device and the clinic's protocol; every mistake in one go.
    Check {
        /// The plan.
        file: PathBuf,
        /// The files beside it.
        #[command(flatten)]
        setup: SetupArgs,
        /// Print JSON: ok, problems (file, line, column, field, message), warnings.
        #[arg(long)]
        json: bool,
    },
    /// Show a plan with what follows from it: pulses' energy, light at ink and epidermis, confinement, the course.
    Show {
        /// The plan.
        file: PathBuf,
        /// The files beside it.
        #[command(flatten)]
        setup: SetupArgs,
        /// Print JSON; every key names its unit.
        #[arg(long)]
        json: bool,
        /// Below it for each zone, light in depth and confinement as pictures in plain text.
        #[arg(long, conflicts_with = "json")]
        charts: bool,
    },
    /// Write a commented plan to fill in; an existing file is never touched.
    New {
        /// The new file.
        file: PathBuf,
    },
}

#[derive(Debug, Serialize)]
struct Report {
    ok: bool,
    problems: Vec<Problem>,
    warnings: Vec<Problem>,
}

pub(super) fn run(common: &Common, command: &PlanCommand) -> Result<ExitCode, CliError> {
    match command {
        PlanCommand::Check { file, setup, json } => check(file, setup, *json),
        PlanCommand::Show { file, setup, json, charts } => show(common, file, setup, (*json, *charts)),
        PlanCommand::New { file } => {
            source::create_new(file, plan::TEMPLATE)?;
            print(&format!("{} written: fill in its blanks, then: fadewright plan check", file.display()))?;
            Ok(ExitCode::SUCCESS)
        }
    }
}

/// A plan with the estimate of its course and the light of each zone, or why that is not known.
#[derive(Serialize)]
struct Shown<'a> {
    #[serde(flatten)]
    plan: plan::PlanView<'a>,
    #[serde(skip_serializing_if = "Option::is_none")]
    course: Option<PlanCourse>,
    light: Vec<ZoneLight>,
    /// What the last session of this client code suggests, for each zone that it knew.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    last_time: Vec<LastTime>,
}

#[derive(Serialize)]
struct ZoneLight {
    zone: String,
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    light: Option<SettingLight>,
    /// Why no light is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    unknown: Option<String>,
}

fn show(common: &Common, file: &Path, setup: &SetupArgs, (json, charts): (bool, bool)) -> Result<ExitCode, CliError> {
    let plan = load_plan(file)?.value;
    let (device, protocol) = (load_device(setup)?, load_protocol(setup)?);
    let (mut light, mut depths) = (Vec::new(), DepthLight::default());
    for zone in &plan.zones {
        let asked = SettingLight::with_light(&question_of(&plan, zone, &device, &protocol), Kept::Used);
        let (found, unknown) = match asked {
            Ok((found, skin)) => {
                // Without the device's line there is no picture, and that is said in its place.
                depths.rows.extend(DepthLight::of(zone.site, &skin, &device).unwrap_or_default().rows);
                (Some(found), None)
            }
            // A wavelength without tables, or a stop: the plan itself is shown all the same.
            Err(CliError::Bad(why) | CliError::No(why)) => (None, Some(why)),
            Err(e) => return Err(e),
        };
        light.push(ZoneLight { zone: zone.id.to_string(), light: found, unknown });
    }
    let course = PlanCourse::of(&plan);
    let earlier = data_root(common).ok().filter(|root| root.is_dir()).and_then(|root| {
        let dir = DataDir::look_at(&root).ok()?;
        earlier(&dir, &plan.client.code, "")
    });
    let last_time = earlier.map_or_else(Vec::new, |e| last_times(&plan, &device, &protocol, &e));
    if json {
        print_json(&Shown { plan: plan.view(), course, light, last_time })?;
    } else {
        let lines = |i: usize| match light.get(i) {
            Some(ZoneLight { light: Some(light), .. }) => light.lines(),
            Some(ZoneLight { unknown: Some(why), .. }) => vec![format!("light: not known, {why}")],
            _ => Vec::new(),
        };
        let course = course.map(|c| format!("\n{}", c.lines())).unwrap_or_default();
        let last = last_time.iter().flat_map(|l| wrapped(&format!("{}: {}", l.zone, l.words()), COLUMNS));
        let last: String = last.map(|line| format!("\n{line}")).collect();
        let pictures = if charts { charts_of(&plan, &depths, &last_time) } else { String::new() };
        print(&format!("{}{course}{last}\n{pictures}{CAUTION}", plan.lines_with(&lines)))?;
    }
    Ok(ExitCode::SUCCESS)
}

/// The pictures of each zone: light in depth, beside the start that last time suggests, and confinement.
fn charts_of(plan: &Plan, depths: &DepthLight, last_time: &[LastTime]) -> String {
    let mut out = String::new();
    for zone in &plan.zones {
        let lit = |setting: plan::Setting| Some(Lit { setting, light: depths.row(zone.site, &setting)? });
        let start = last_time.iter().find(|l| l.zone == zone.id).and_then(|l| l.start);
        let other = start.filter(|s| *s != zone.setting).and_then(lit).map(|lit| ("after last time", lit));
        out += &format!("\nzone {}: light in depth\n", zone.id);
        out += &match lit(zone.setting) {
            Some(now) => text_of(&DepthPicture { now, other }),
            None => "no light is known for this setting and device\n".to_owned(),
        };
        out += &format!("\nzone {}: confinement\n", zone.id);
        out += &text_of(&ConfinementPicture { pulse: zone.setting.pulse_duration });
    }
    out + "\n"
}

/// What forbids a plan, each placed in its file.
pub(super) fn limit_errors(loaded: &Loaded<Plan>, device: &DeviceProfile, protocol: &Protocol) -> Vec<Problem> {
    let errors = plan_errors(&loaded.value, device, protocol);
    errors.iter().map(|p| loaded.places.problem(&p.field, &p.message)).collect()
}

/// What the device or the protocol does not allow in a plan, each placed in the plan's file: first what forbids
/// treatment, then what someone should look at.
#[must_use]
pub fn limit_problems(
    loaded: &Loaded<Plan>,
    device: &DeviceProfile,
    protocol: &Protocol,
) -> (Vec<Problem>, Vec<Problem>) {
    let (errors, warnings): (Vec<_>, Vec<_>) =
        plan_problems(&loaded.value, device, protocol).into_iter().partition(|p| p.severity == Severity::Error);
    let placed = |list: Vec<PlanProblem>| list.iter().map(|p| loaded.places.problem(&p.field, &p.message)).collect();
    (placed(errors), placed(warnings))
}

fn check(file: &Path, setup: &SetupArgs, json: bool) -> Result<ExitCode, CliError> {
    let device = load_device(setup)?;
    let protocol = load_protocol(setup)?;
    let (mut report, mut unreadable) = (Report { ok: false, problems: Vec::new(), warnings: Vec::new() }, false);
    match source::read_file(file) {
        Err(problems) => {
            report.problems = problems.list().to_vec();
            unreadable = true;
        }
        Ok(text) => report = judge(&text, &device, &protocol),
    }
    // A wrong plan is an answer; a file that is none is bad input.
    let code = match (report.ok, unreadable) {
        (true, _) => ExitCode::SUCCESS,
        (false, false) => ExitCode::from(1),
        (false, true) => ExitCode::from(2),
    };
    if json {
        print_json(&report)?;
        return Ok(code);
    }
    print(&rendered(&report, file))?;
    Ok(code)
}

fn judge(text: &SourceText, device: &DeviceProfile, protocol: &Protocol) -> Report {
    match plan::load(text) {
        Err(problems) => Report { ok: false, problems: problems.list().to_vec(), warnings: Vec::new() },
        Ok(loaded) => {
            let (problems, warnings) = limit_problems(&loaded, device, protocol);
            Report { ok: problems.is_empty(), problems, warnings }
        }
    }
}

fn rendered(report: &Report, file: &Path) -> String {
    let mut text: String = report.problems.iter().map(Problem::explained).collect();
    for warning in &report.warnings {
        text.push_str(&format!("warning: {}", warning.explained()));
    }
    text.push_str(&match report.problems.len() {
        0 => format!("{}: the plan is in order\n", file.display()),
        1 => format!("{}: 1 problem\n", file.display()),
        n => format!("{}: {n} problems\n", file.display()),
    });
    text
}
