//! Passes and zones.

use super::settings::zone_index;
use super::{no_pass, pulses};
use crate::clock::Now;
use crate::plan::ZoneId;
use crate::session::command::{Ask, Refusal};
use crate::session::event::{Event, Level, ZoneOutcome};
use crate::session::{FreeText, Gate, State};

pub(super) fn gate_refusal(state: &State, gate: &Gate, zone: &ZoneId) -> Refusal {
    match gate {
        Gate::HardStop(id) => {
            let item = state.opened.protocol.checklist.iter().find(|i| i.id == *id);
            Refusal::new(
                "gate.hard-stop",
                format!("the check '{id}' refuses treatment"),
                item.map_or_else(String::new, |i| i.on_bad.clone()),
            )
        }
        Gate::Checks(phase, n) => {
            Refusal::new("gate.checks", format!("{n} item(s) of the {phase} are not done"), "finish the checks first")
        }
        Gate::ReadBack(_) => Refusal::new(
            "gate.read-back",
            format!("the setting of zone {zone} has not been read back"),
            "type what the device shows on the settings screen",
        ),
    }
}

pub(super) fn start(state: &State, zone: ZoneId) -> Result<Vec<Event>, Refusal> {
    let index = zone_index(state, &zone)?;
    if let Some((_, plan, _, pass)) = state.running() {
        return Err(Refusal::new(
            "pass.running",
            format!("pass {} of zone {} is running", pass.number, plan.id),
            "end it before starting another",
        ));
    }
    let Some((_, z)) = state.zone(index) else { return Ok(Vec::new()) };
    if let Some(outcome) = z.outcome {
        return Err(Refusal::new(
            "zone.ended",
            format!("zone {zone} is {outcome}"),
            "choose another zone, or close the session",
        ));
    }
    if let Some(gate) = state.gate(index) {
        return Err(gate_refusal(state, &gate, &zone));
    }
    if let Some(stop) = state.open_advice().into_iter().find(|a| a.level == Level::Stop) {
        return Err(Refusal::new(
            "advice.stop-open",
            format!("STOP stands: {}", stop.advice.seen),
            "answer it before another pass",
        ));
    }
    let pass = z.next_pass();
    if pass > 12 {
        return Err(Refusal::new("pass.too-many", "twelve passes of one zone", "close the session"));
    }
    Ok(vec![Event::PassStarted { zone, pass }])
}

pub(super) fn faded(state: &State, zone: ZoneId) -> Result<Vec<Event>, Refusal> {
    let index = zone_index(state, &zone)?;
    if state.zones.get(index).is_some_and(crate::session::ZoneState::is_white) {
        Ok(vec![Event::WhiteningFaded { zone }])
    } else {
        Err(Refusal::new("whitening.none", "no whitening is waiting to fade", "note whitening first"))
    }
}

/// True when the difference is larger than the tolerance; one pulse is always within it.
pub(super) fn beyond_tolerance(counted: u64, device: u64, tolerance_percent: f64) -> bool {
    let difference = counted.abs_diff(device);
    difference > 1 && difference as f64 > tolerance_percent / 100.0 * counted.max(device) as f64
}

pub(super) fn end(state: &State, explanation: Option<String>, now: Now) -> Result<Vec<Event>, Refusal> {
    let (_, plan, _, pass) = state.running().ok_or_else(no_pass)?;
    let zone = plan.id.clone();
    let mut events = if state.train.is_some() { pulses::stop_train(state, now)? } else { Vec::new() };
    let late: u64 = events.iter().map(|e| if let Event::PulsesFired { n, .. } = e { *n } else { 0 }).sum();
    let counted = pass.counted + late;
    // The device's figure stands for the pass only when it was read after the last pulse.
    let device = pass.device.filter(|_| state.counter.counted_since == 0 && late == 0);
    let explanation = explanation.as_deref().and_then(FreeText::new);
    if let Some(device) = device {
        let tolerance = state.opened.protocol.thresholds.counter_tolerance_percent.value.value();
        if beyond_tolerance(counted, device, tolerance) && explanation.is_none() {
            return Err(Refusal::new(
                "pass.unexplained",
                format!("counted {counted}, device {device}: a difference of {}", counted.abs_diff(device)),
                "say why, or correct the count",
            )
            .asking(Ask::ExplainDifference { counted, device }));
        }
    }
    events.push(Event::PassEnded { zone, pass: pass.number, counted, device, explanation });
    Ok(events)
}

pub(super) fn end_zone(state: &State, zone: ZoneId, reason: Option<String>) -> Result<Vec<Event>, Refusal> {
    let index = zone_index(state, &zone)?;
    if state.active == Some(index) {
        return Err(Refusal::new("pass.running", format!("a pass of zone {zone} is running"), "end the pass first"));
    }
    let Some((plan, z)) = state.zone(index) else { return Ok(Vec::new()) };
    if let Some(outcome) = z.outcome {
        return Err(Refusal::new("zone.ended", format!("zone {zone} is {outcome} already"), "nothing to do"));
    }
    let reason = reason.as_deref().and_then(FreeText::new);
    let done = z.passes.len();
    if done < usize::from(plan.passes) && reason.is_none() {
        return Err(Refusal::new(
            "zone.reason",
            format!("{done} of {} passes of zone {zone} are done", plan.passes),
            "say why it ends here",
        ));
    }
    let outcome = if done == 0 { ZoneOutcome::Skipped } else { ZoneOutcome::Done };
    Ok(vec![Event::ZoneEnded { zone, outcome, reason }])
}
