//! Closing a session.

use crate::protocol::CheckPhase;
use crate::session::command::Refusal;
use crate::session::event::{Event, SessionOutcome, ZoneOutcome};
use crate::session::{FreeText, State};

pub(super) fn close(state: &State, outcome: SessionOutcome, note: &str) -> Result<Vec<Event>, Refusal> {
    if state.active.is_some() {
        return Err(Refusal::new("pass.running", "a pass is running", "end the pass first"));
    }
    let open = state.open_advice();
    if let Some(first) = open.first() {
        return Err(Refusal::new(
            "close.advice-open",
            format!("{} advice not answered: {}", open.len(), first.advice.seen),
            "answer it on the treat screen",
        ));
    }
    let fired = state.total_pulses() > 0;
    let note = FreeText::new(note);
    let stopped = state.zones.iter().any(|z| z.outcome == Some(ZoneOutcome::Stopped));
    match outcome {
        SessionOutcome::Refused | SessionOutcome::NotTreated if fired => {
            return Err(Refusal::new("close.outcome", "pulses were fired", "close it as treated or as stopped"));
        }
        SessionOutcome::Refused if state.hard_stop().is_none() && !state.any_blocked() => {
            return Err(Refusal::new(
                "close.outcome",
                "no check refuses treatment",
                "close it as not treated, with a note",
            ));
        }
        SessionOutcome::NotTreated if note.is_none() => {
            return Err(Refusal::new("close.note", "why was nobody treated?", "type the reason as a note"));
        }
        SessionOutcome::Completed | SessionOutcome::Stopped if !fired => {
            return Err(Refusal::new(
                "close.outcome",
                "no pulse was fired",
                "close it as not treated, or as refused by checks",
            ));
        }
        SessionOutcome::Completed if stopped => {
            return Err(Refusal::new("close.outcome", "a zone was stopped on advice", "close it as stopped"));
        }
        _ => {}
    }
    if fired {
        let missing = state.items_in_the_way(CheckPhase::SignOut);
        if missing > 0 {
            return Err(Refusal::new(
                "close.sign-out",
                format!("{missing} item(s) of the sign-out are not done"),
                "finish the sign-out on the checks screen",
            ));
        }
        let open_zones: Vec<_> = state
            .opened
            .plan
            .zones
            .iter()
            .zip(&state.zones)
            .filter(|(p, z)| z.outcome.is_none() && z.passes.len() < usize::from(p.passes))
            .map(|(p, _)| p.id.to_string())
            .collect();
        if !open_zones.is_empty() {
            return Err(Refusal::new(
                "close.zones",
                format!("not finished: {}", open_zones.join(", ")),
                "treat it, or end the zone with a reason",
            ));
        }
    }
    let next_earliest = if fired { state.next_earliest() } else { None };
    Ok(vec![Event::SessionClosed { outcome, next_earliest, note }])
}
