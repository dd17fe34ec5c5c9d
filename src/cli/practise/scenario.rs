//! Which plan, and what lies behind it.

use super::PractiseArgs;
use crate::cli::Common;
use crate::cli::files::{load_device, load_plan, load_protocol, open_practice_dir};
use crate::cli::output::{CliError, print, print_json};
use crate::cli::plan::limit_errors;
use crate::cli::sessions::read_session;
use crate::device::DeviceProfile;
use crate::journal::{DataDir, SessionId};
use crate::plan::Plan;
use crate::practice::{course_name, next_session};
use crate::protocol::Protocol;
use crate::scenario::{HiddenCase, PracticeRun, SHIPPED, check_against, load, shipped, unheard};
use crate::session::{Earlier, Opened, State};
use crate::source::{Loaded, Problems, nearest, read_file};
use crate::text::shown;
use crate::units::trimmed;
use crate::words::Word;
use chrono::{DateTime, FixedOffset, NaiveDate};
use serde::Serialize;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

/// What is going to be practised.
pub(in crate::cli) struct Chosen {
    /// The plan.
    pub plan: Plan,
    /// The device.
    pub device: DeviceProfile,
    /// The protocol.
    pub protocol: Protocol,
    /// The run.
    pub run: PracticeRun,
    /// When it begins: weeks from now for a later session of a course.
    pub from: DateTime<FixedOffset>,
    /// What the session before tells, in a course.
    pub earlier: Option<Earlier>,
    /// What somebody should know before it begins.
    pub notices: Vec<String>,
}

impl Chosen {
    /// What its session begins with.
    pub fn opened(self, session: &SessionId) -> Opened {
        Opened {
            session: session.to_string(),
            // Whatever reads the journal sees that nobody was treated.
            program: format!("fadewright {} PRACTICE", env!("CARGO_PKG_VERSION")),
            date: self.from.date_naive(),
            plan: self.plan,
            device: self.device,
            protocol: self.protocol,
            practice: Some(Box::new(self.run)),
        }
    }
}

/// Chooses by the arguments; `now` is when a first session begins.
pub(in crate::cli) fn choose(
    common: &Common,
    args: &PractiseArgs,
    scenario: &str,
    now: DateTime<FixedOffset>,
) -> Result<Chosen, CliError> {
    let (device, protocol) = (load_device(&args.setup)?, load_protocol(&args.setup)?);
    let (name, plan, case) = find(args, scenario)?;
    let mut notices = Vec::new();
    if let Some(case) = &case {
        if let Some(problems) = Problems::of(check_against(case, &plan.value)) {
            return Err(problems.into());
        }
        let unheard = unheard(case, &protocol);
        if args.case.is_some()
            && let Some(problems) = Problems::of(unheard)
        {
            return Err(problems.into());
        } else if !case_is_heard(case, &protocol) {
            notices.push("this protocol does not ask all that the client would answer".to_owned());
        }
    } else {
        notices.push(format!("no hidden case for {}: usual skin answers", shown(&name)));
    }
    if let Some(problems) = Problems::of(limit_errors(&plan, &device, &protocol)) {
        return Err(problems.into());
    }
    let seed = match args.seed {
        Some(seed) => seed,
        None => drawn_seed()?,
    };
    let mut run = PracticeRun::new(name.clone(), case.map_or_else(HiddenCase::plain, |c| c.value), seed);
    run.speed = args.speed;
    run.demonstration = args.demonstrate;
    run.trainee.clone_from(&args.trainee);
    let first = Chosen { plan: plan.value, device, protocol, run, from: now, earlier: None, notices };
    if args.course { in_course(common, args, first, now) } else { Ok(first) }
}

fn case_is_heard(case: &Loaded<HiddenCase>, protocol: &Protocol) -> bool {
    unheard(case, protocol).is_empty()
}

/// A small number, so that it can be told and typed again.
fn drawn_seed() -> Result<u64, CliError> {
    let mut bytes = [0_u8; 4];
    getrandom::fill(&mut bytes)
        .map_err(|e| CliError::Bad(format!("the machine gives no random number: {e}; use --seed")))?;
    Ok(u64::from(u32::from_le_bytes(bytes)) % 1_000_000)
}

type Found = (String, Loaded<Plan>, Option<Loaded<HiddenCase>>);

fn find(args: &PractiseArgs, scenario: &str) -> Result<Found, CliError> {
    let given = Path::new(scenario);
    if let (Some(known), false) = (shipped(scenario), given.is_file()) {
        if args.case.is_some() {
            return Err(CliError::Bad(format!("--case goes with a plan file; '{scenario}' is a shipped scenario")));
        }
        let (plan, case) = known.read()?;
        return Ok((scenario.to_owned(), plan, Some(case)));
    }
    let looks_like_a_path = scenario.contains(std::path::MAIN_SEPARATOR) || scenario.ends_with(".toml");
    if !given.is_file() && !looks_like_a_path {
        let names: Vec<&str> = SHIPPED.iter().map(|s| s.name).collect();
        let meant = nearest(scenario, &names).map(|n| format!(", did you mean '{n}'?")).unwrap_or_default();
        return Err(CliError::Bad(format!(
            "no scenario '{}'{meant}; fadewright practise --list names them, and a plan file may be given as well",
            shown(scenario)
        )));
    }
    let plan = load_plan(given)?;
    let name = given.file_stem().map_or_else(|| "plan".to_owned(), |s| s.to_string_lossy().into_owned());
    let case = match &args.case {
        Some(file) => Some(load(&read_file(file)?)?),
        None => {
            let beside: PathBuf =
                given.parent().unwrap_or_else(|| Path::new("")).join("cases").join(format!("{name}.toml"));
            if beside.is_file() { Some(load(&read_file(&beside)?)?) } else { None }
        }
    };
    Ok((name, plan, case))
}

/// The next session of the course that scenario, seed and trainee name.
fn in_course(
    common: &Common,
    args: &PractiseArgs,
    mut first: Chosen,
    now: DateTime<FixedOffset>,
) -> Result<Chosen, CliError> {
    if args.seed.is_none() {
        // A course has to be found again.
        first.run.seed = 1;
    }
    let who = args.trainee.as_ref().map(|t| format!("-{t}")).unwrap_or_default();
    let how = if args.demonstrate { "-demonstration" } else { "" };
    let name = format!("{}{who}{how}", course_name(&first.run.scenario, first.run.seed));
    first.run.course = Some(name.clone());
    let dir = open_practice_dir(common)?;
    let sessions = course_sessions(&dir, &name)?;
    let Some(last) = sessions.last() else { return Ok(first) };
    let done = sessions.len();
    if last.closed.is_none() {
        return Err(CliError::Bad(format!(
            "session {done} of this course was left open: fadewright resume {}",
            last.opened.session
        )));
    }
    let Some(next) = next_session(last) else {
        return Err(CliError::No(format!(
            "the course of {} has come to its end after {done} sessions; begin another with --seed",
            shown(&first.run.scenario)
        )));
    };
    let earlier = (last.total_pulses() > 0).then(|| {
        let fired = sessions.iter().filter(|s| s.total_pulses() > 0).count();
        Earlier::of(u32::try_from(fired).unwrap_or(u32::MAX), &last.opened.session, last)
    });
    // The date of the session before and the interval decide, unless real time has gone further.
    let from = on_date(now, next.date.max(now.date_naive()));
    let run = PracticeRun { speed: args.speed, ..next.run };
    Ok(Chosen { plan: next.plan, run, from, earlier, ..first })
}

fn on_date(now: DateTime<FixedOffset>, date: NaiveDate) -> DateTime<FixedOffset> {
    now + chrono::Duration::days((date - now.date_naive()).num_days())
}

/// The sessions of a course, in order.
pub(super) fn course_sessions(dir: &DataDir, course: &str) -> Result<Vec<State>, CliError> {
    let mut found: Vec<State> = Vec::new();
    for entry in dir.list()? {
        // A damaged run is no part of a course.
        let Ok((_, events)) = read_session(&entry.path) else { continue };
        let state = State::replay(events.iter().map(|(s, e)| (*s, e)));
        found.extend(
            state.filter(|s| s.opened.practice.as_ref().is_some_and(|run| run.course.as_deref() == Some(course))),
        );
    }
    found.sort_by_key(|s| s.opened.practice.as_ref().map(|run| run.session));
    Ok(found)
}

/// A scenario as it is listed.
#[derive(Debug, Serialize)]
struct Listed {
    scenario: &'static str,
    grade: String,
    title: String,
    aim: String,
    plan: String,
    course_sessions: u8,
}

pub(super) fn list(json: bool) -> Result<ExitCode, CliError> {
    let mut listed = Vec::new();
    for s in SHIPPED {
        let (plan, case) = s.read()?;
        listed.push(Listed {
            scenario: s.name,
            grade: case.value.grade.spoken(),
            title: case.value.title,
            aim: case.value.aim,
            plan: plan.value.title,
            course_sessions: case.value.sessions,
        });
    }
    if json {
        print_json(&listed)?;
    } else {
        let mut text = "PRACTICE scenarios: simulated skin, nobody is treated\n".to_owned();
        for l in &listed {
            let course = if l.course_sessions > 1 {
                format!("; a course of {} sessions", trimmed(f64::from(l.course_sessions), 0))
            } else {
                String::new()
            };
            text.push_str(&format!("\n{:<18} {} ({})\n", l.scenario, l.title, l.grade));
            let what = format!("teaches {}{course}", l.aim);
            for line in crate::text::wrapped(&what, 60) {
                text.push_str(&format!("{:<18} {line}\n", ""));
            }
        }
        print(&text)?;
    }
    Ok(ExitCode::SUCCESS)
}
