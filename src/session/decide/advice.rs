//! Answers to advice.

use super::pulses;
use crate::clock::Now;
use crate::limits::{dose_change, setting_problems};
use crate::session::State;
use crate::session::command::Refusal;
use crate::session::event::{AdviceAnswer, Event, Level, Scope, ZoneOutcome};

pub(super) fn answer(state: &State, id: u64, answer: AdviceAnswer, now: Now) -> Result<Vec<Event>, Refusal> {
    let entry = state.advice.iter().find(|a| a.id == id && a.is_open()).ok_or_else(|| {
        Refusal::new("advice.gone", "that advice is answered already or no longer holds", "look at the open advice")
    })?;
    // To follow a STOP is to stop. A LOWER that became one is still followed by lowering: nothing fires before the
    // read-back of the lower setting.
    let stops = entry.level == Level::Stop && answer == AdviceAnswer::Accepted && entry.advice.to.is_none();
    let answer = if stops { AdviceAnswer::Stopped } else { answer };
    let mut events = Vec::new();
    match &answer {
        AdviceAnswer::Accepted | AdviceAnswer::Alternative => {
            let to = match answer {
                AdviceAnswer::Alternative => Some(entry.advice.alternative.ok_or_else(|| {
                    Refusal::new(
                        "advice.no-alternative",
                        "this advice offers no other setting",
                        "accept it, decline it or stop",
                    )
                })?),
                _ => entry.advice.to,
            };
            // The setting changes at once: a train at the old setting must not go on.
            if to.is_some() && state.train.is_some() {
                events.extend(pulses::stop_train(state, now)?);
            }
            events.push(Event::AdviceAnswered { advice: id, answer });
            if let (Some(zone), Some(to)) = (&entry.advice.zone, to)
                && let Some((plan, z)) = state.zone_index(zone).and_then(|i| state.zone(i))
                && z.outcome.is_none()
            {
                // Something may have lowered the setting since: advice never raises it again.
                let still_lower = to.fluence < z.target.fluence;
                let light = state.happenings.light.as_ref();
                let spares = dose_change(light, plan.site, &z.target, &to).is_some_and(|c| c.epidermis_percent < 0.0);
                let o = &state.opened;
                let allowed = setting_problems(&to, o.plan.client.skin, &o.device, &o.protocol).is_empty();
                if still_lower && spares && allowed {
                    events.push(Event::SettingChanged {
                        zone: zone.clone(),
                        from: z.target,
                        to,
                        advice: Some(id),
                        reason: None,
                    });
                }
            }
        }
        AdviceAnswer::Declined { .. } => events.push(Event::AdviceAnswered { advice: id, answer }),
        AdviceAnswer::Stopped => {
            if state.train.is_some() {
                events.extend(pulses::stop_train(state, now)?);
            }
            events.push(Event::AdviceAnswered { advice: id, answer });
            events.extend(stop(state, entry.advice.scope, entry.advice.zone.as_ref(), &events));
        }
    }
    Ok(events)
}

/// Ends the running pass and the zones that the stop reaches.
fn stop(state: &State, scope: Scope, zone: Option<&crate::plan::ZoneId>, before: &[Event]) -> Vec<Event> {
    let late: u64 = before.iter().map(|e| if let Event::PulsesFired { n, .. } = e { *n } else { 0 }).sum();
    let reached = |id: &crate::plan::ZoneId| scope == Scope::Session || zone == Some(id);
    let mut events = Vec::new();
    if let Some((_, plan, _, pass)) = state.running()
        && reached(&plan.id)
    {
        events.push(Event::PassEnded {
            zone: plan.id.clone(),
            pass: pass.number,
            counted: pass.counted + late,
            device: pass.device.filter(|_| state.counter.counted_since == 0 && late == 0),
            explanation: None,
        });
    }
    for (plan, z) in state.opened.plan.zones.iter().zip(&state.zones) {
        if z.outcome.is_none() && reached(&plan.id) {
            events.push(Event::ZoneEnded { zone: plan.id.clone(), outcome: ZoneOutcome::Stopped, reason: None });
        }
    }
    events
}
