//! `calc course`: how many sessions a tattoo may take.

use super::given::{by, word};
use crate::cli::files::{SetupArgs, load_plan, load_protocol};
use crate::cli::output::{CliError, answer};
use crate::course::{CAVEATS, Caveat, ColourClass, CourseInputs, Estimate, InkAmount, PLAN_CAVEAT, SessionsLeft};
use crate::plan::{BodySite, FitzpatrickType, Plan, Scarring};
use crate::protocol::Protocol;
use crate::text::{shown, wrapped};
use crate::units::trimmed;
use crate::words::Word;
use clap::Args;
use serde::Serialize;
use std::path::PathBuf;
use std::process::ExitCode;

const COLUMNS: usize = 80;
const CAUTION: &str = "An estimate to talk about, no promise. What the skin shows, the clinic's protocol and the \
                       device's manual come first.";

/// What `calc course` is asked.
#[derive(Debug, Args)]
pub struct CourseArgs {
    /// A plan: all its zones are taken as one tattoo.
    #[arg(conflicts_with_all = ["skin", "site", "colours", "amount", "scarring", "layered"])]
    plan: Option<PathBuf>,
    /// Clinic protocol, for the interval [default: protocol.toml in the config directory, else the embedded one].
    #[arg(long, value_name = "FILE")]
    protocol: Option<PathBuf>,
    /// Fitzpatrick skin type, I to VI or 1 to 6.
    #[arg(
        long,
        value_name = "TYPE",
        allow_hyphen_values = true,
        required_unless_present = "plan",
        value_parser = by(skin_type),
    )]
    skin: Option<FitzpatrickType>,
    /// Body site: head-neck, upper-trunk, lower-trunk, proximal-extremity or distal-extremity.
    #[arg(long, value_name = "SITE", required_unless_present = "plan", value_parser = word::<BodySite>())]
    site: Option<BodySite>,
    /// Ink colours: black, black-and-red, black-red-and-others or many.
    #[arg(long, value_name = "CLASS", required_unless_present = "plan", value_parser = word::<ColourClass>())]
    colours: Option<ColourClass>,
    /// Amount of ink: amateur, minimal, moderate or significant.
    #[arg(long, value_name = "AMOUNT", required_unless_present = "plan", value_parser = word::<InkAmount>())]
    amount: Option<InkAmount>,
    /// Scar or tissue change: none, minimal, moderate or significant.
    #[arg(long, value_name = "LEVEL", required_unless_present = "plan", value_parser = word::<Scarring>())]
    scarring: Option<Scarring>,
    /// A tattoo over a tattoo: yes or no.
    #[arg(long, value_name = "YES|NO", required_unless_present = "plan", value_parser = by(yes_or_no))]
    layered: Option<bool>,
    /// Print JSON.
    #[arg(long)]
    json: bool,
}

fn skin_type(text: &str) -> Result<FitzpatrickType, String> {
    let by_number = || {
        let number: usize = text.parse().ok()?;
        FitzpatrickType::ALL.get(number.checked_sub(1)?).copied()
    };
    let unknown = || format!("'{text}' is no skin type; one of: {}, or 1 to 6", FitzpatrickType::WORDS.join(", "));
    FitzpatrickType::from_word(text).or_else(by_number).ok_or_else(unknown)
}

fn yes_or_no(text: &str) -> Result<bool, String> {
    match text {
        "yes" => Ok(true),
        "no" => Ok(false),
        _ => Err(format!("'{text}' is neither yes nor no")),
    }
}

#[derive(Debug, Serialize)]
struct Report {
    #[serde(flatten)]
    inputs: CourseInputs,
    #[serde(flatten)]
    estimate: Estimate,
    #[serde(flatten)]
    progress: Option<CourseSoFar>,
    next_interval_weeks: f64,
    next_interval_source: String,
    caveats: Vec<Caveat>,
}

/// How far a plan's course has come.
#[derive(Debug, Serialize)]
struct CourseSoFar {
    sessions_done: u16,
    sessions_left: SessionsLeft,
}

/// The estimate of a plan with what was done, for `plan show`.
#[derive(Debug, Serialize)]
pub(in crate::cli) struct PlanCourse {
    #[serde(flatten)]
    estimate: Estimate,
    #[serde(flatten)]
    so_far: CourseSoFar,
}

impl PlanCourse {
    /// None for a plan without zones.
    pub(in crate::cli) fn of(plan: &Plan) -> Option<Self> {
        let estimate = CourseInputs::of_plan(plan)?.estimate();
        Some(Self { so_far: CourseSoFar::of(plan, &estimate), estimate })
    }

    /// Two lines of at most 80 columns.
    pub(in crate::cli) fn lines(&self) -> String {
        format!(
            "course   {}; {}\n         by the Kirby-Desai scale: too high for picosecond and multi-pass work\n",
            sessions(&self.estimate),
            self.so_far.words()
        )
    }
}

impl CourseSoFar {
    fn of(plan: &Plan, estimate: &Estimate) -> Self {
        let sessions_done = plan.history.earlier_sessions;
        Self { sessions_done, sessions_left: estimate.left_after(sessions_done) }
    }

    fn words(&self) -> String {
        let SessionsLeft { low, high } = self.sessions_left;
        format!("{} done, {} to {} left", self.sessions_done, trimmed(low, 1), trimmed(high, 1))
    }
}

fn sessions(estimate: &Estimate) -> String {
    format!(
        "{} sessions, give or take {}",
        trimmed(estimate.expected_sessions, 1),
        trimmed(estimate.spread_sessions, 1)
    )
}

pub(super) fn run(args: &CourseArgs) -> Result<ExitCode, CliError> {
    let protocol = load_protocol(&SetupArgs { device: None, protocol: args.protocol.clone() })?;
    let report = match &args.plan {
        Some(file) => {
            let plan = load_plan(file)?.value;
            let inputs =
                CourseInputs::of_plan(&plan).ok_or_else(|| CliError::Bad("the plan has no zone".to_owned()))?;
            let so_far = CourseSoFar::of(&plan, &inputs.estimate());
            report(inputs, Some(so_far), &protocol)
        }
        None => {
            let inputs = asked(args).ok_or_else(|| CliError::Bad("a plan or all six flags are wanted".to_owned()))?;
            report(inputs, None, &protocol)
        }
    };
    answer(&report, args.json, lines)?;
    Ok(ExitCode::SUCCESS)
}

/// The flags as inputs; none without those that clap asks for where there is no plan.
fn asked(args: &CourseArgs) -> Option<CourseInputs> {
    Some(CourseInputs {
        skin: args.skin?,
        site: args.site?,
        colours: args.colours?,
        amount: args.amount?,
        scarring: args.scarring?,
        layered: args.layered?,
    })
}

fn report(inputs: CourseInputs, progress: Option<CourseSoFar>, protocol: &Protocol) -> Report {
    let interval = protocol.thresholds.interval_advised(inputs.skin);
    let of_plan = progress.is_some().then_some(PLAN_CAVEAT);
    Report {
        inputs,
        estimate: inputs.estimate(),
        progress,
        next_interval_weeks: interval.value.seconds() / SECONDS_PER_WEEK,
        next_interval_source: interval.source.clone(),
        caveats: CAVEATS.into_iter().chain(of_plan).collect(),
    }
}

const SECONDS_PER_WEEK: f64 = 604_800.0;

fn lines(r: &Report) -> String {
    let (i, p) = (&r.inputs, &r.estimate.points);
    let layered = if i.layered { "yes" } else { "no" };
    let mut out = String::new();
    for (what, word, points) in [
        ("Skin type", i.skin.word(), p.skin_type),
        ("Body site", i.site.word(), p.body_site),
        ("Ink colours", i.colours.word(), p.ink_colours),
        ("Amount of ink", i.amount.word(), p.ink_amount),
        ("Scarring", i.scarring.word(), p.scarring),
        ("Over a tattoo", layered, p.layering),
    ] {
        out += &format!("{what:<15}{word:<22}{points:>2}\n");
    }
    out += &format!("{:<15}{:<22}{:>2}\n\n", "Score", "Kirby-Desai", r.estimate.score);
    out += &format!("{:<15}{}\n", "Estimate", sessions(&r.estimate));
    if let Some(progress) = &r.progress {
        out += &format!("{:<15}{}\n", "So far", progress.words());
    }
    let interval = format!(
        "at least {} weeks between sessions for this skin type ({})",
        trimmed(r.next_interval_weeks, 1),
        shown(&r.next_interval_source)
    );
    for (n, line) in wrapped(&interval, COLUMNS - 15).iter().enumerate() {
        out += &format!("{:<15}{line}\n", if n == 0 { "Interval" } else { "" });
    }
    out.push('\n');
    for caveat in &r.caveats {
        for (n, line) in wrapped(&format!("{} [{}]", caveat.text, caveat.source), COLUMNS - 2).iter().enumerate() {
            out += &format!("{}{line}\n", if n == 0 { "- " } else { "  " });
        }
    }
    out.push('\n');
    for line in wrapped(CAUTION, COLUMNS) {
        out += &format!("{line}\n");
    }
    out
}
