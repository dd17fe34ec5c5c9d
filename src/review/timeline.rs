//! The session as a list of lines, one for each event that a person wants to see.

use crate::plan::Setting;
use crate::session::{AdviceAnswer, Answer, CounterReadingKind, Event, PulseSource, Stamp, TrainEnd, Verdict};
use crate::text::shown;
use crate::words::Word;
use serde::Serialize;

/// One line of the timeline.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct TimelineEntry {
    /// Sequence number.
    pub seq: u64,
    /// Wall time, RFC 3339.
    pub at: String,
    /// What happened.
    pub text: String,
}

/// The timeline of a session. Runs of single pulses become one line.
#[must_use]
pub fn timeline(events: &[(Stamp, Event)]) -> Vec<TimelineEntry> {
    let mut out: Vec<TimelineEntry> = Vec::new();
    let mut run: Option<(u64, PulseSource)> = None;
    for (stamp, event) in events {
        if let Event::PulsesFired { zone, pass, n, source } = event {
            let joined = match &mut run {
                Some((so_far, s)) if s == source && matches!(source, PulseSource::Key | PulseSource::Train) => {
                    *so_far += n;
                    *so_far
                }
                _ => {
                    run = Some((*n, *source));
                    out.push(TimelineEntry { seq: stamp.seq, at: stamp.at.to_rfc3339(), text: String::new() });
                    *n
                }
            };
            if let Some(last) = out.last_mut() {
                let plural = if joined == 1 { "" } else { "s" };
                last.text = format!("{zone} pass {pass}: {joined} pulse{plural} {}", counted(*source));
            }
            continue;
        }
        if let Some(text) = describe(event) {
            run = None;
            out.push(TimelineEntry { seq: stamp.seq, at: stamp.at.to_rfc3339(), text });
        }
    }
    out
}

fn counted(source: PulseSource) -> &'static str {
    match source {
        PulseSource::Key => "by key",
        PulseSource::Train => "by train",
        PulseSource::Typed => "typed in",
        PulseSource::Counter => "by the device's counter",
        PulseSource::Line => "by the pulse line",
    }
}

fn change(from: &Setting, to: &Setting) -> String {
    format!("{} -> {}", from.line(), to.line())
}

/// One event in words; none for those that only matter to the program.
#[must_use]
pub fn describe(event: &Event) -> Option<String> {
    Some(match event {
        Event::SessionOpened(o) => match &o.practice {
            None => format!("session {} opened, client {}", shown(&o.session), o.plan.client.code),
            Some(run) => format!(
                "PRACTICE session {} opened: scenario {}, seed {}, simulated skin",
                shown(&o.session),
                shown(&run.scenario),
                run.seed
            ),
        },
        Event::SkinShowed { sign } if sign.grade == 0 => {
            format!("PRACTICE skin, {} pass {}: {} gone", sign.zone, sign.pass, sign.kind.spoken())
        }
        Event::SkinShowed { sign } => {
            format!("PRACTICE skin, {} pass {}: {} {}", sign.zone, sign.pass, sign.kind.spoken(), sign.grade)
        }
        Event::SkinLeft { zones } => {
            let each = zones.iter().map(|z| format!("{} {:.0} % ink left", z.zone, 100.0 * z.ink_left));
            format!("PRACTICE skin after the session: {}", each.collect::<Vec<_>>().join(", "))
        }
        Event::SessionResumed { recovery, .. } => format!("resumed after being cut off; journal: {}", shown(recovery)),
        Event::JournalContinued { reason, unsaved_from } => {
            format!("recording continued in another file from event {unsaved_from}: {}", shown(reason))
        }
        Event::ClockStepped { by_ms } => format!("wall clock stepped by {by_ms} ms"),
        Event::CheckComputed { item, verdict, text } => {
            let word = match verdict {
                Verdict::Pass => return None,
                Verdict::Warn => "warning",
                Verdict::Block => "blocks",
                Verdict::HardStop => "REFUSES TREATMENT",
            };
            format!("check {}: {word}: {}", shown(item), shown(text))
        }
        Event::CheckAnswered { item, answer } => match answer {
            Answer::Yes => format!("check {}: yes", shown(item)),
            Answer::NotApplicable => format!("check {}: not applicable", shown(item)),
            Answer::No { why } => format!("check {}: NO: {why}", shown(item)),
            Answer::Value { value } => format!("check {}: {value}", shown(item)),
        },
        Event::EyewearJudged { item, worn, verdict, finding } => {
            let refuses = if *verdict == Verdict::Pass { "" } else { "REFUSES TREATMENT: " };
            format!("check {}: {worn}: {refuses}{}", shown(item), shown(finding))
        }
        Event::CheckOverridden { item, by, role, reason } => {
            format!("check {}: OVERRIDDEN by {by} ({role}): {reason}", shown(item))
        }
        Event::SettingConfirmed { zone, displayed } => {
            format!("{zone}: read back {}", displayed.setting.line())
        }
        Event::SettingMismatched { zone, differences, .. } => {
            let list: Vec<_> = differences
                .iter()
                .map(|d| format!("{}: wanted {}, shown {}", shown(&d.what), shown(&d.wanted), shown(&d.shown)))
                .collect();
            format!("{zone}: read-back MISMATCH: {}", list.join("; "))
        }
        Event::SettingChanged { zone, from, to, advice, reason } => {
            let why = match (advice, reason) {
                (Some(id), _) => format!("advice {id}"),
                (None, Some(reason)) => reason.to_string(),
                (None, None) => "no reason recorded".to_owned(),
            };
            format!("{zone}: setting changed {} ({why})", change(from, to))
        }
        Event::PassStarted { zone, pass } => format!("{zone}: pass {pass} began"),
        Event::PulsesFired { zone, pass, n, source } => format!("{zone} pass {pass}: {n} pulses {}", counted(*source)),
        Event::PulsesCorrected { of, from, to, cause } => format!("entry {of} corrected from {from} to {to} ({cause})"),
        Event::EntryVoided { of } => format!("entry {of} taken back"),
        Event::TrainStarted { zone, pass, rate_hz } => format!("{zone} pass {pass}: train at {rate_hz} Hz began"),
        Event::TrainStopped { cause: TrainEnd::Operator } => "train ended".to_owned(),
        Event::TrainStopped { cause } => format!("train ended ({cause})"),
        Event::CounterRead { reading, difference, kind } => match (difference, kind) {
            (Some(d), CounterReadingKind::Difference) => format!("device counter {reading} (+{d})"),
            (Some(d), kind) => format!("device counter {reading} (+{d}, {kind})"),
            (None, kind) => format!("device counter {reading} ({kind})"),
        },
        Event::ResponseSeen { zone, pass, kind, grade, note } => {
            let grade = grade.map(|g| format!(" {g}")).unwrap_or_default();
            let note = note.as_ref().map(|n| format!(": {n}")).unwrap_or_default();
            format!("{zone} pass {pass}: {}{grade}{note}", kind.spoken())
        }
        Event::ResponseNoted { of, note } => format!("remark on entry {of}: {note}"),
        Event::WhiteningFaded { zone } => format!("{zone}: whitening faded"),
        Event::AdviceRaised(a) => format!("{}: {}. {}", a.level, shown(&a.seen), shown(&a.action)),
        Event::AdviceEscalated { advice, to, why } => format!("advice {advice} is now {to}: {}", shown(why)),
        Event::AdviceAnswered { advice, answer } => match answer {
            AdviceAnswer::Accepted => format!("advice {advice} accepted"),
            AdviceAnswer::Alternative => format!("advice {advice}: its alternative chosen"),
            AdviceAnswer::Declined { reason } => format!("advice {advice} DECLINED: {reason}"),
            AdviceAnswer::Stopped => format!("advice {advice}: stopped"),
        },
        Event::AdviceCleared { advice, why } => format!("advice {advice} cleared: {}", shown(why)),
        Event::NoteAdded { text } => format!("note: {text}"),
        Event::Paused => "paused".to_owned(),
        Event::Resumed => "resumed".to_owned(),
        Event::PassEnded { zone, pass, counted, device, explanation } => {
            let device = device.map_or_else(|| "device counter not read".to_owned(), |d| format!("device {d}"));
            let why = explanation.as_ref().map(|e| format!("; {e}")).unwrap_or_default();
            format!("{zone}: pass {pass} ended, counted {counted}, {device}{why}")
        }
        Event::ZoneEnded { zone, outcome, reason } => {
            let why = reason.as_ref().map(|r| format!(": {r}")).unwrap_or_default();
            format!("{zone}: {outcome}{why}")
        }
        Event::Interrupted { cause } => format!("interrupted: {}", shown(cause)),
        Event::SessionClosed { outcome, note, .. } => {
            let note = note.as_ref().map(|n| format!(": {n}")).unwrap_or_default();
            format!("session closed, {outcome}{note}")
        }
        Event::LightReckoned { .. } => return None,
        Event::AnaestheticGiven { dose, verdict, finding, .. } => {
            let word = if *verdict == Verdict::Pass { "" } else { "BLOCKS: " };
            format!("anaesthetic given, {}: {word}{}", dose.words(), shown(finding))
        }
        Event::EarlierFound { earlier } => format!(
            "{} earlier sessions of this client code; the last {} on {}",
            earlier.sessions,
            shown(&earlier.session),
            earlier.date
        ),
        Event::FollowUpAdded(found) => format!("follow-up of {}: {}", found.date, found.words()),
        Event::Unknown => "an event of a later version".to_owned(),
    })
}
