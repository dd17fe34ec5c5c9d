//! One session as a supervisor reads it.

use super::charts::{Series, charts};
use super::summary::{Summary, ZoneLine, summarise};
use super::timeline::{TimelineEntry, timeline};
use crate::journal::Verdict;
use crate::session::{Event, Stamp};
use crate::text::{fitted, indented, shown, wrapped};
use crate::units::trimmed;
use serde::Serialize;

/// A session with all that is known of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SessionReview {
    /// The figures.
    #[serde(flatten)]
    pub summary: Summary,
    /// The state of the journal.
    pub record: Verdict,
    /// True when the journal is sound.
    pub record_sound: bool,
    /// Fluence, pulse rate and overlap over session time.
    pub charts: Vec<Series>,
    /// What happened, in order.
    pub timeline: Vec<TimelineEntry>,
}

/// The review of a session; none when the events do not begin with its opening.
#[must_use]
pub fn review_session(events: &[(Stamp, Event)], record: Verdict) -> Option<SessionReview> {
    let summary = summarise(events)?;
    let record_sound = record.is_sound();
    Some(SessionReview { summary, record, record_sound, charts: charts(events), timeline: timeline(events) })
}

struct Sheet {
    columns: usize,
    out: Vec<String>,
}

impl Sheet {
    fn say(&mut self, indent: usize, text: &str) {
        self.out.extend(indented(text, indent, self.columns));
    }
}

/// `2026-11-24T10:22:31+00:00` as `10:22:31`.
fn time(at: &str) -> &str {
    at.split_once('T').and_then(|(_, t)| t.get(..8)).unwrap_or(at)
}

impl SessionReview {
    /// What the session was, its zones plan against done, what departed from what is wanted, and the notes.
    #[must_use]
    pub fn overview(&self, columns: usize) -> Vec<String> {
        let s = &self.summary;
        let mut sheet = Sheet { columns, out: Vec::new() };
        if let Some(scenario) = &s.practice {
            sheet.say(0, &format!("PRACTICE on simulated skin, scenario {scenario}: nobody was treated"));
        }
        sheet.say(0, &format!("SESSION {}  client {}, skin type {}", s.session, s.client_code, s.skin_type));
        sheet.say(1, &format!("plan \"{}\", device \"{}\", protocol \"{}\"", s.plan_title, s.device, s.protocol));
        let minute = |at: &str| at.get(..16).unwrap_or(at).replace('T', " ");
        let closed = match (&s.closed_at, &s.outcome) {
            (Some(at), Some(outcome)) => format!("closed {}: {outcome}", minute(at)),
            _ => "NOT CLOSED".to_owned(),
        };
        sheet.say(1, &format!("opened {}, {closed}; {} pulses", minute(&s.opened_at), s.pulses));
        let mark = if self.record_sound { "" } else { "! " };
        sheet.say(1, &format!("{mark}record: {}, {} events", self.record, s.events));
        if let Some(date) = &s.next_earliest {
            sheet.say(1, &format!("next session not before {date}"));
        }
        sheet.say(0, "ZONES  plan against done");
        for line in zone_table(&s.zones, columns) {
            sheet.out.push(line);
        }
        self.deviations(&mut sheet);
        sheet.say(0, &format!("NOTES ({})", s.notes.len() + usize::from(s.closing_note.is_some())));
        for note in s.notes.iter().chain(&s.closing_note) {
            sheet.say(1, note);
        }
        sheet.out
    }

    fn deviations(&self, sheet: &mut Sheet) {
        let s = &self.summary;
        let declined: Vec<_> = s.advice.iter().filter(|a| a.answer == "declined" || a.answer == "open").collect();
        sheet.say(0, &format!("ADVICE DECLINED OR UNANSWERED ({} of {})", declined.len(), s.advice.len()));
        for a in declined {
            let zone = a.zone.as_ref().map(|z| format!(" {z}")).unwrap_or_default();
            let reason = a.reason.as_ref().map(|r| format!(": {r}")).unwrap_or_default();
            sheet.say(1, &format!("! {} {} ({}){zone}: {}", time(&a.at), a.final_level, a.rule, a.seen));
            sheet.say(5, &format!("{}{reason}; {} pulses while open", a.answer.to_uppercase(), a.pulses_while_open));
        }
        sheet.say(0, &format!("ANSWERS OF NO, AND OVERRIDES ({})", s.deviations.len()));
        for d in &s.deviations {
            sheet.say(1, &format!("! {d}"));
        }
        let refused: Vec<_> = s.checks.iter().filter(|c| c.status == "hard-stop" || c.status == "blocked").collect();
        if !refused.is_empty() {
            sheet.say(0, &format!("CHECKS THAT REFUSE OR BLOCK ({})", refused.len()));
            for c in refused {
                sheet.say(1, &format!("! {} ({}): {}", c.item, c.status, c.answer));
            }
        }
    }

    /// The charts, one below the other.
    #[must_use]
    pub fn chart_lines(&self, columns: usize, rows: usize) -> Vec<String> {
        let each = (rows / self.charts.len().max(1)).saturating_sub(3).clamp(3, 12);
        self.charts.iter().flat_map(|c| c.drawn(columns, each)).collect()
    }

    /// What happened, a line each.
    #[must_use]
    pub fn timeline_lines(&self, columns: usize) -> Vec<String> {
        let mut out = Vec::new();
        for entry in &self.timeline {
            let room = columns.saturating_sub(16).max(20);
            for (n, line) in wrapped(&entry.text, room).into_iter().enumerate() {
                let head = if n == 0 { format!("{} {:>5}", time(&entry.at), entry.seq) } else { String::new() };
                out.push(format!(" {head:<14} {line}"));
            }
        }
        out
    }
}

/// A row for each zone and setting: what was planned and what was done.
fn zone_table(zones: &[ZoneLine], columns: usize) -> Vec<String> {
    let mut out = vec![fitted(" zone             passes  pulses        per point  responses and end", columns)];
    for z in zones {
        let planned = u64::from(z.planned_passes).saturating_mul(z.planned_pulses_per_pass);
        let ended = z.passes.iter().filter(|p| p.duration_s.is_some()).count();
        let mut kinds: Vec<String> = Vec::new();
        for r in &z.responses {
            let word = r.response.replace('-', " ");
            if !kinds.contains(&word) {
                kinds.push(word);
            }
        }
        let end = z.outcome.clone().unwrap_or_else(|| "OPEN".to_owned());
        out.push(fitted(
            &format!(
                " {:<16} {:>2} of {} {:>6} of {:<6} {:<9} {}; {end}",
                fitted(&z.zone, 16),
                ended,
                z.planned_passes,
                z.pulses,
                planned,
                trimmed(z.mean_pulses_per_point, 2),
                if kinds.is_empty() { "none noted".to_owned() } else { kinds.join(", ") },
            ),
            columns,
        ));
        out.push(fitted(&format!("   planned {}", z.planned.setting.line()), columns));
        for p in &z.passes {
            for s in &p.settings {
                let changed = if s.setting == z.planned.setting { "as planned" } else { "CHANGED" };
                let line =
                    format!("   pass {} {}: {} pulses, {changed}", p.pass, s.setting.line(), s.pulses.unwrap_or(0));
                out.push(fitted(&line, columns));
            }
        }
        if let Some(why) = &z.outcome_reason {
            out.push(fitted(&format!("   {}", shown(why)), columns));
        }
    }
    out
}
