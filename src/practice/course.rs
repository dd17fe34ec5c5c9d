//! Several sessions of one simulated client, weeks apart: what each begins with follows from the one before.

use crate::plan::Plan;
use crate::scenario::{PracticeRun, ZoneLeft};
use crate::session::State;
use chrono::NaiveDate;

/// What a course has come to.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    /// Plan of the next session.
    pub plan: Plan,
    /// Its run.
    pub run: PracticeRun,
    /// Date of the next session.
    pub date: NaiveDate,
}

/// Name of a course: sessions that share it are one client's.
#[must_use]
pub fn course_name(scenario: &str, seed: u64) -> String {
    format!("{scenario}-{seed}")
}

/// The session after a closed one; none after the last of the course, and none while the one before is open. A zone
/// starts with the setting that it ended with, as the chart of a real client would suggest; to raise it as the ink thins
/// is for whoever treats.
#[must_use]
pub fn next_session(before: &State) -> Option<Course> {
    let run = before.opened.practice.as_deref()?;
    let left: Vec<ZoneLeft> = before.practice.left.clone()?;
    if run.session >= run.case.sessions {
        return None;
    }
    let date = before.opened.date + chrono::Duration::weeks(i64::from(run.case.weeks_between));
    let mut plan = before.opened.plan.clone();
    if before.total_pulses() > 0 {
        plan.history.earlier_sessions = plan.history.earlier_sessions.saturating_add(1);
        plan.history.last_session = Some(before.opened.date);
    }
    for (zone, z) in plan.zones.iter_mut().zip(&before.zones) {
        zone.setting = z.target;
    }
    let run = PracticeRun { session: run.session + 1, carried: left, ..run.clone() };
    Some(Course { plan, run, date })
}
