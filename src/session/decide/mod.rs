//! Deciding: a command against the state and the clock gives events, or a refusal that says what to do next.

mod advice;
mod checks;
mod closing;
mod passes;
mod pulses;
mod settings;

use super::checks as checklist;
use super::command::{Command, Refusal};
use super::event::{Event, Opened, TrainEnd};
use super::state::State;
use super::{FreeText, event::Response};
use crate::clock::Now;
use crate::limits::plan_errors;
use crate::protocol::CheckKind;

/// The events that follow a session's opening: the computed checks.
///
/// # Errors
/// A [`Refusal`] when a planned setting is not on the device or above a ceiling: such a plan is never begun.
pub fn open(opened: &Opened) -> Result<Vec<Event>, Refusal> {
    let problems = plan_errors(&opened.plan, &opened.device, &opened.protocol);
    if let Some(p) = problems.first() {
        return Err(Refusal::new(
            "plan.outside-limits",
            format!("{}: {}", p.field, p.message),
            "correct the plan file",
        ));
    }
    let computed = opened.protocol.checklist.iter().filter(|i| i.kind == CheckKind::Computed).filter_map(|i| {
        let c = checklist::compute(i.computation?, opened);
        Some(Event::CheckComputed { item: i.id.clone(), verdict: c.verdict, text: c.text })
    });
    Ok(computed.collect())
}

/// Decides on a command.
///
/// # Errors
/// A [`Refusal`] with a stable id, the reason and what to do next. The state is not changed either way.
pub fn decide(state: &State, command: Command, now: Now) -> Result<Vec<Event>, Refusal> {
    let shell = matches!(
        command,
        Command::Resume { .. } | Command::Continue { .. } | Command::ClockStep { .. } | Command::Interrupt { .. }
    );
    if state.closed.is_some() && !shell {
        return Err(Refusal::new("session.closed", "this session is closed", "begin a new one for further treatment"));
    }
    let train_end = |cause| state.train.map(|_| Event::TrainStopped { cause });
    match command {
        Command::CheckYes { .. }
        | Command::CheckNo { .. }
        | Command::CheckNotApplicable { .. }
        | Command::CheckValue { .. }
        | Command::CheckOverride { .. } => checks::answer(state, command),
        Command::ReadBack { zone, displayed } => settings::read_back(state, zone, displayed),
        Command::ChangeSetting { zone, to, reason } => settings::change(state, zone, to, &reason),
        Command::StartPass { zone } => passes::start(state, zone),
        Command::Fire { n, source } => pulses::fire(state, n, source),
        Command::StartTrain => pulses::start_train(state),
        Command::TrainTick => Ok(pulses::train_tick(state, now)),
        Command::StopTrain => pulses::stop_train(state, now),
        Command::ReadCounter { reading, confirm } => pulses::read_counter(state, reading, confirm, now),
        Command::TakeDeviceFigure => pulses::take_device_figure(state),
        Command::CorrectLast { to } => pulses::correct_last(state, to),
        Command::TakeBackHeldKey => pulses::take_back_held_key(state),
        Command::Undo => pulses::undo(state),
        Command::See { kind, grade, note } => see(state, kind, grade, &note),
        Command::NoteResponse { text } => {
            let response = state.latest_response().ok_or_else(|| {
                Refusal::new("response.none", "no response was noted yet", "note what the skin shows first")
            })?;
            let note = FreeText::new(&text)
                .ok_or_else(|| Refusal::new("note.empty", "the remark is empty", "type it, or leave with Esc"))?;
            Ok(vec![Event::ResponseNoted { of: response.seq, note }])
        }
        Command::WhiteningFaded { zone } => passes::faded(state, zone),
        Command::AnswerAdvice { advice, answer } => advice::answer(state, advice, answer, now),
        Command::Note { text } => {
            let text = FreeText::new(&text)
                .ok_or_else(|| Refusal::new("note.empty", "the note is empty", "type it, or leave with Esc"))?;
            Ok(vec![Event::NoteAdded { text }])
        }
        Command::Pause => {
            if state.paused {
                return Err(Refusal::new("pause.already", "counting is paused already", "go on with the pause key"));
            }
            let mut events = if state.train.is_some() { pulses::stop_train(state, now)? } else { Vec::new() };
            events.push(Event::Paused);
            Ok(events)
        }
        Command::Unpause => {
            if !state.paused {
                return Err(Refusal::new("pause.not", "counting is not paused", "nothing to do"));
            }
            Ok(vec![Event::Resumed])
        }
        Command::EndPass { explanation } => passes::end(state, explanation, now),
        Command::EndZone { zone, reason } => passes::end_zone(state, zone, reason),
        Command::Close { outcome, note } => closing::close(state, outcome, &note),
        Command::Interrupt { cause } => {
            let mut events: Vec<_> = train_end(TrainEnd::Interrupted).into_iter().collect();
            events.push(Event::Interrupted { cause });
            Ok(events)
        }
        Command::Resume { recovery, program } => Ok(vec![Event::SessionResumed { recovery, program }]),
        Command::Continue { reason, unsaved_from } => Ok(vec![Event::JournalContinued { reason, unsaved_from }]),
        Command::NoteLight { table } => {
            let news = !table.rows.is_empty() && state.happenings.light.as_ref() != Some(&table);
            Ok(news.then_some(Event::LightReckoned { table }).into_iter().collect())
        }
        Command::NoteEarlier { earlier } => {
            let news = state.happenings.earlier.as_ref() != Some(&*earlier);
            Ok(news.then_some(Event::EarlierFound { earlier }).into_iter().collect())
        }
        Command::ClockStep { by_ms } => Ok(vec![Event::ClockStepped { by_ms }]),
    }
}

fn no_pass() -> Refusal {
    Refusal::new("pass.none", "no pass is running", "start the pass of a zone first")
}

fn see(state: &State, kind: Response, grade: Option<u8>, note: &str) -> Result<Vec<Event>, Refusal> {
    // A response may still show after the pass: it belongs to the zone treated last.
    let index = state
        .active
        .or_else(|| {
            let last = |z: &super::ZoneState| z.passes.last().map(|p| p.started_seq);
            (0..state.zones.len())
                .filter(|i| state.zones.get(*i).and_then(last).is_some())
                .max_by_key(|i| state.zones.get(*i).and_then(last))
        })
        .ok_or_else(|| {
            Refusal::new("response.no-zone", "no zone has been treated yet", "responses belong to a zone and a pass")
        })?;
    let (plan, zone) = state.zone(index).ok_or_else(no_pass)?;
    let pass = zone.passes.last().map_or(1, |p| p.number);
    let allowed = match kind {
        Response::Pain => 0..=10,
        _ => 1..=3,
    };
    let needs_grade = matches!(kind, Response::Pain | Response::Whitening);
    match grade {
        Some(g) if !allowed.contains(&g) => {
            return Err(Refusal::new(
                "response.grade",
                format!("{g} is not a grade of {kind}"),
                format!("grades go from {} to {}", allowed.start(), allowed.end()),
            ));
        }
        None if needs_grade => {
            return Err(Refusal::new(
                "response.grade",
                format!("{kind} needs a grade"),
                format!("grades go from {} to {}", allowed.start(), allowed.end()),
            ));
        }
        _ => {}
    }
    Ok(vec![Event::ResponseSeen { zone: plan.id.clone(), pass, kind, grade, note: FreeText::new(note) }])
}
