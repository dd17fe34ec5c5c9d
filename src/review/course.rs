//! One client code over its sessions.

use super::row::{Exposure, Kept, RecordState};
use crate::session::SessionOutcome;
use crate::text::shown;
use crate::units::trimmed;
use crate::words::Word;
use chrono::NaiveDate;
use serde::Serialize;

/// A client's sessions, oldest first.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ClientCourse {
    /// Client code.
    pub client_code: String,
    /// Its sessions.
    pub sessions: Vec<CourseSession>,
}

/// One session of a course.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CourseSession {
    /// Session id.
    pub session: String,
    /// Date.
    pub date: Option<NaiveDate>,
    /// Weeks since the session before in which a pulse was fired; none for the first.
    pub interval_weeks: Option<f64>,
    /// Pulses.
    pub pulses: u64,
    /// Zones by setting.
    pub settings: Vec<Exposure>,
    /// Adverse responses.
    pub adverse: u32,
    /// How it ended.
    pub outcome: Option<SessionOutcome>,
    /// How its journal stands.
    pub record: RecordState,
}

/// The course of a client code; PRACTICE is left out. None when the code has no session.
#[must_use]
pub fn client_course<'a>(client: &str, sessions: impl IntoIterator<Item = &'a Kept>) -> Option<ClientCourse> {
    let ours = |k: &&Kept| {
        k.row.practice.is_none() && k.row.client_code.as_ref().is_some_and(|c| c.eq_ignore_ascii_case(client))
    };
    let mut kept: Vec<&Kept> = sessions.into_iter().filter(ours).collect();
    kept.sort_by(|a, b| (a.row.date, &a.row.session).cmp(&(b.row.date, &b.row.session)));
    let client_code = kept.first()?.row.client_code.clone()?;
    let mut last: Option<NaiveDate> = None;
    let mut out = Vec::new();
    for k in kept {
        let row = &k.row;
        let weeks = |from: NaiveDate, to: NaiveDate| (to - from).num_days() as f64 / 7.0;
        out.push(CourseSession {
            session: row.session.clone(),
            date: row.date,
            interval_weeks: last.zip(row.date).map(|(from, to)| weeks(from, to)),
            pulses: row.pulses,
            settings: k.exposures.clone(),
            adverse: row.adverse,
            outcome: row.outcome,
            record: row.record,
        });
        if row.pulses > 0 {
            last = row.date.or(last);
        }
    }
    Some(ClientCourse { client_code, sessions: out })
}

impl ClientCourse {
    /// The course in lines of at most so many columns.
    #[must_use]
    pub fn lines(&self, columns: usize) -> Vec<String> {
        let mut out = Vec::new();
        let mut say = |indent: usize, text: &str| out.extend(crate::text::indented(text, indent, columns));
        let n = self.sessions.len();
        say(0, &format!("COURSE of {}: {n} session{}", shown(&self.client_code), if n == 1 { "" } else { "s" }));
        for (i, s) in self.sessions.iter().enumerate() {
            let date = s.date.map_or_else(|| "-".to_owned(), |d| d.to_string());
            let after =
                s.interval_weeks.map(|w| format!(", {} weeks after the last", trimmed(w, 1))).unwrap_or_default();
            let end = s.outcome.map_or("NOT CLOSED", Word::word);
            say(0, &format!("{}. {date}{after}: {} pulses, {end}  ({})", i + 1, s.pulses, shown(&s.session)));
            if s.record == RecordState::Damaged {
                say(3, "! its journal is damaged: figures up to the damage");
            }
            for e in &s.settings {
                say(3, &format!("{}: {}: {} pulses", shown(&e.zone), e.setting.line(), e.pulses));
                if !e.responses.is_empty() {
                    say(5, &format!("seen: {}", responses(e)));
                }
            }
        }
        out
    }
}

/// `whitening 3 times, blister`.
fn responses(e: &Exposure) -> String {
    let mut kinds: Vec<(crate::session::Response, u32)> = Vec::new();
    for kind in &e.responses {
        match kinds.iter_mut().find(|(k, _)| k == kind) {
            Some((_, n)) => *n += 1,
            None => kinds.push((*kind, 1)),
        }
    }
    let words = kinds.into_iter().map(|(kind, n)| match n {
        1 => kind.spoken(),
        n => format!("{} {n} times", kind.spoken()),
    });
    words.collect::<Vec<_>>().join(", ")
}
