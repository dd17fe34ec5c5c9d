//! `fadewright log`: a session for a person, or with `--json` for a program.

use super::Common;
use super::follow_up::beside;
use super::output::{CliError, print, print_json};
use super::sessions::{find, read_session};
use super::signatures::{SignOff, sign_offs};
use crate::journal::Verdict;
use crate::review::{FollowUpLine, Summary, TimelineEntry, ZoneLine, follow_ups, summarise, timeline};
use crate::session::State;
use crate::text::shown;
use crate::tui::pictures::session::SessionPicture;
use crate::tui::pictures::text_of;
use crate::units::trimmed;
use clap::Args;
use serde::Serialize;
use std::process::ExitCode;

/// Arguments of `log`.
#[derive(Debug, Args)]
pub struct LogArgs {
    /// Session id, its beginning, or a journal file.
    session: String,
    /// Print JSON; every key names its unit.
    #[arg(long)]
    json: bool,
    /// Print the session over time as a picture in plain text instead: pulses a minute, and what happened when.
    #[arg(long, conflicts_with = "json")]
    chart: bool,
}

/// What `log` prints.
#[derive(Debug, Serialize)]
pub struct Log {
    /// The figures.
    #[serde(flatten)]
    pub summary: Summary,
    /// The state of the journal.
    pub record: Verdict,
    /// True when the journal and its follow-ups are sound.
    pub record_sound: bool,
    /// What was seen after the session was closed.
    pub follow_ups: Vec<FollowUpLine>,
    /// The state of the follow-ups' own chain; none where there are none.
    pub follow_ups_record: Option<Verdict>,
    /// What the statements beside the journal say; whether they are signed rightly, `verify` tells.
    pub sign_offs: Vec<SignOff>,
    /// What happened, in order.
    pub timeline: Vec<TimelineEntry>,
}

pub(super) fn run(common: &Common, args: &LogArgs) -> Result<ExitCode, CliError> {
    let path = find(common, &args.session)?;
    let (back, events) = read_session(&path)?;
    if args.chart
        && let Some(state) = State::replay(events.iter().map(|(s, e)| (*s, e)))
    {
        let practice = if state.opened.practice.is_some() { "PRACTICE session" } else { "Session" };
        let id = shown(&state.opened.session);
        print(&format!("{practice} {id}\n  record: {}\n{}", back.verdict, text_of(&SessionPicture::whole(&state))))?;
        return Ok(if back.verdict.is_sound() { ExitCode::SUCCESS } else { ExitCode::from(1) });
    }
    let Some(summary) = summarise(&events) else {
        return Err(CliError::No(format!("{}: {}; nothing of the session can be read", path.display(), back.verdict)));
    };
    let head = match back.verdict {
        Verdict::Clean { head } => Some(head),
        _ => None,
    };
    let after = beside(&path, head)?;
    let log = Log {
        summary,
        record_sound: back.verdict.is_sound() && after.as_ref().is_none_or(|a| a.report.is_ok()),
        follow_ups: after.iter().flat_map(|a| follow_ups(&a.events).map(|(_, line)| line)).collect(),
        follow_ups_record: after.map(|a| a.report.verdict),
        sign_offs: sign_offs(&path, &back.id)?,
        timeline: timeline(&events),
        record: back.verdict,
    };
    if args.json {
        print_json(&log)?;
    } else {
        print(&render(&log))?;
    }
    Ok(if log.record_sound { ExitCode::SUCCESS } else { ExitCode::from(1) })
}

/// `2026-11-24T10:22:31+00:00` as `10:22:31`.
fn time(at: &str) -> &str {
    at.split_once('T').and_then(|(_, t)| t.get(..8)).unwrap_or(at)
}

fn minute(at: &str) -> String {
    at.get(..16).unwrap_or(at).replace('T', " ")
}

/// The log for a person.
#[must_use]
pub fn render(log: &Log) -> String {
    let s = &log.summary;
    let mut out = String::new();
    let mut line = |text: String| {
        out.push_str(&text);
        out.push('\n');
    };
    match &s.practice {
        None => line(format!("Session {}", s.session)),
        Some(scenario) => {
            line(format!("PRACTICE session {}: scenario {scenario}", s.session));
            line("  PRACTICE on simulated skin: nobody was treated".to_owned());
        }
    }
    line(format!("  client {}, skin type {}, plan \"{}\"", s.client_code, s.skin_type, s.plan_title));
    line(format!("  device \"{}\", protocol \"{}\", {}", s.device, s.protocol, s.program));
    let closed = match (&s.closed_at, &s.outcome) {
        (Some(at), Some(outcome)) => format!("closed {}: {outcome}", minute(at)),
        _ => "NOT CLOSED".to_owned(),
    };
    line(format!("  opened {}, {closed}", minute(&s.opened_at)));
    line(format!("  record: {}, {} events", log.record, s.events));
    line(format!("  pulses: {}", s.pulses));
    if let Some(date) = &s.next_earliest {
        line(format!("  next session not before {date}"));
    }
    line(String::new());
    line("Zones".to_owned());
    for zone in &s.zones {
        for text in zone_lines(zone) {
            line(text);
        }
    }
    line(String::new());
    line(format!("Advice ({})", s.advice.len()));
    for a in &s.advice {
        let place = match (&a.zone, a.pass) {
            (Some(zone), Some(pass)) => format!(" {zone} pass {pass}"),
            (Some(zone), None) => format!(" {zone}"),
            _ => String::new(),
        };
        let level =
            if a.level == a.final_level { a.level.clone() } else { format!("{} -> {}", a.level, a.final_level) };
        line(format!("  {} {level} ({}){place}: {}", time(&a.at), a.rule, a.seen));
        line(format!("      {}", a.action));
        let reason = a.reason.as_ref().map(|r| format!(": {r}")).unwrap_or_default();
        let when = a.answered_at.as_ref().map(|at| format!(" at {}", time(at))).unwrap_or_default();
        line(format!("      {}{when}{reason}; {} pulses while open", a.answer.to_uppercase(), a.pulses_while_open));
    }
    if !s.deviations.is_empty() {
        line(String::new());
        line("Answers of no, and overrides".to_owned());
        for d in &s.deviations {
            line(format!("  ! {d}"));
        }
    }
    let warned: Vec<_> = s.checks.iter().filter(|c| c.status == "hard-stop" || c.status == "blocked").collect();
    if !warned.is_empty() {
        line(String::new());
        line("Checks that refuse or block".to_owned());
        for c in warned {
            line(format!("  ! {} ({}): {}", c.item, c.status, c.answer));
        }
    }
    if !s.notes.is_empty() || s.closing_note.is_some() {
        line(String::new());
        line("Notes".to_owned());
        for note in s.notes.iter().chain(&s.closing_note) {
            line(format!("  {note}"));
        }
    }
    if let Some(record) = &log.follow_ups_record {
        line(String::new());
        line(format!("Follow-ups ({}), record: {record}", log.follow_ups.len()));
        for f in &log.follow_ups {
            for text in follow_up_lines(f) {
                line(text);
            }
        }
    }
    if !log.sign_offs.is_empty() {
        line(String::new());
        line("Sign-off as it is stated (fadewright verify checks the signatures)".to_owned());
        for s in &log.sign_offs {
            let signed = if s.signed { "" } else { ": NOT SIGNED YET" };
            line(format!("  {} {} {} {}{signed}", s.signature, s.signer, s.meaning, minute(&s.at)));
        }
    }
    line(String::new());
    line("Timeline".to_owned());
    for entry in &log.timeline {
        line(format!("  {} {:>5}  {}", time(&entry.at), entry.seq, entry.text));
    }
    out
}

fn follow_up_lines(f: &FollowUpLine) -> Vec<String> {
    let sign = if f.adverse { "!" } else { " " };
    let mut lines = vec![format!("  {sign} {} seen by {}: {}", f.date, f.seen_by, f.findings)];
    lines.extend(f.note.iter().map(|note| format!("      {note}")));
    lines.extend(f.photos.iter().map(|p| format!("      photo {}, SHA-256 {}", p.name, p.sha256)));
    lines
}

fn zone_lines(zone: &ZoneLine) -> Vec<String> {
    // Below zero the spots do not touch.
    let percent =
        |p: Option<f64>| p.filter(|p| *p >= 0.0).map_or_else(|| "-".to_owned(), |p| format!("{} %", trimmed(p, 1)));
    let mut lines = vec![format!(
        "  {} ({}), {} mm2: {} pulses; planned {} x {} at {} % overlap; {} pulses per point",
        zone.zone,
        zone.place,
        trimmed(zone.area_mm2, 1),
        zone.pulses,
        zone.planned_passes,
        zone.planned_pulses_per_pass,
        trimmed(zone.planned_overlap_percent, 1),
        trimmed(zone.mean_pulses_per_point, 2)
    )];
    for p in &zone.passes {
        let device = p.device_counter.map_or_else(|| "not read".to_owned(), |d| d.to_string());
        let why = p.explanation.as_ref().map(|e| format!(" ({e})")).unwrap_or_default();
        lines.push(format!(
            "    pass {}: counted {}, device counter {device}{why}, overlap {}",
            p.pass,
            p.counted,
            percent(p.overlap_percent)
        ));
        for s in &p.settings {
            lines.push(format!("      {}: {} pulses", s.setting.line(), s.pulses.unwrap_or(0)));
        }
    }
    for r in &zone.responses {
        let grade = r.grade.map(|g| format!(" {g}")).unwrap_or_default();
        let note = r.note.as_ref().map(|n| format!(": {n}")).unwrap_or_default();
        lines.push(format!(
            "    {} {}{grade} at pulse {} of pass {}{note}",
            time(&r.at),
            r.response.replace('-', " "),
            r.pulse,
            r.pass
        ));
    }
    if let Some(outcome) = &zone.outcome {
        let why = zone.outcome_reason.as_ref().map(|r| format!(": {r}")).unwrap_or_default();
        lines.push(format!("    {outcome}{why}"));
    }
    lines
}
