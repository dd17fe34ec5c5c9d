//! From events to what is kept of a session: the same fold as everywhere, and figures taken from its end.

use super::row::{ADVERSE, AdviceFate, AdviceFigure, Exposure, Kept, OPERATOR_ITEM, RecordState, Row};
use crate::coverage::even_pulses;
use crate::plan::{Setting, Zone};
use crate::session::{
    AdviceAnswer, AdviceEntry, AdviceStatus, Answer, Event, Opened, PulseSource, Response, Stamp, State, ZoneState,
};
use crate::text::shown;
use serde::Deserialize;
use std::collections::HashMap;

/// Pulses of all planned passes of a zone as if it had no edge. The fitted number takes milliseconds for each zone, which
/// ten thousand sessions do not have.
fn planned(zone: &Zone) -> u64 {
    let one = even_pulses(zone.shape.area_mm2(), zone.setting.spot, zone.overlap).ceil().max(1.0) as u64;
    one.saturating_mul(u64::from(zone.passes))
}

/// Takes a session's events one by one.
#[derive(Debug, Default)]
pub struct Gatherer {
    state: Option<State>,
    /// Session time of the answer to each advice.
    answered_ms: HashMap<u64, u64>,
}

#[derive(Deserialize)]
struct Fired {
    zone: crate::plan::ZoneId,
    pass: u8,
    n: u64,
    source: PulseSource,
}

/// Reads an event. The same as serde would for [`Event`], only that the two that cost most, the opening for its size and
/// pulses for their number, are read without a detour over a generic value.
///
/// # Errors
/// When it is no event.
pub fn event_of(json: &str) -> serde_json::Result<Event> {
    if json.starts_with("{\"type\":\"pulses-fired\",") {
        let Fired { zone, pass, n, source } = serde_json::from_str(json)?;
        return Ok(Event::PulsesFired { zone, pass, n, source });
    }
    if json.starts_with("{\"type\":\"session-opened\",") {
        return serde_json::from_str::<Opened>(json).map(|opened| Event::SessionOpened(Box::new(opened)));
    }
    serde_json::from_str(json)
}

impl Gatherer {
    /// Takes the next event; false when the first is no opening, so that nothing can be made of the journal.
    pub fn take(&mut self, stamp: Stamp, event: Event) -> bool {
        let Some(state) = &mut self.state else {
            let Event::SessionOpened(opened) = event else { return false };
            self.state = Some(State::new(stamp, *opened));
            return true;
        };
        state.apply(stamp, &event);
        if let Event::AdviceAnswered { advice, .. } = event {
            self.answered_ms.insert(advice, state.last_ms());
        }
        true
    }

    /// What is kept of the session; none when there was no event.
    #[must_use]
    pub fn finish(self, record: RecordState, record_text: Option<String>) -> Option<Kept> {
        let state = self.state?;
        let advice: Vec<AdviceFigure> = state.advice.iter().map(|a| figure(a, &self.answered_ms)).collect();
        let (mut exposures, mut unexposed) = (Vec::new(), Vec::new());
        for (plan, zone) in state.opened.plan.zones.iter().zip(&state.zones) {
            expose(plan, zone, &mut exposures, &mut unexposed);
        }
        let row = row_of(&state, &exposures, &advice, record, record_text);
        let mut kept = Kept { row, exposures, unexposed, advice };
        let adverse = kept.responses().filter(|kind| ADVERSE.contains(kind)).count();
        kept.row.adverse = u32::try_from(adverse).unwrap_or(u32::MAX);
        Some(kept)
    }
}

fn figure(a: &AdviceEntry, answered_ms: &HashMap<u64, u64>) -> AdviceFigure {
    let answer = match &a.status {
        AdviceStatus::Open => AdviceFate::Open,
        AdviceStatus::Recorded => AdviceFate::Recorded,
        AdviceStatus::Cleared(_) => AdviceFate::Cleared,
        AdviceStatus::Answered(AdviceAnswer::Accepted, _) => AdviceFate::Accepted,
        AdviceStatus::Answered(AdviceAnswer::Alternative, _) => AdviceFate::Alternative,
        AdviceStatus::Answered(AdviceAnswer::Declined { .. }, _) => AdviceFate::Declined,
        AdviceStatus::Answered(AdviceAnswer::Stopped, _) => AdviceFate::Stopped,
    };
    let answered = matches!(a.status, AdviceStatus::Answered(..)).then(|| answered_ms.get(&a.id)).flatten();
    let answer_s = answered.map(|ms| ms.saturating_sub(a.raised_ms) as f64 / 1000.0);
    AdviceFigure { rule: shown(&a.advice.rule), level: a.level, answer, answer_s }
}

/// A zone's pulses and responses by the setting they belong to: a response to the setting of the pulse it was seen at.
fn expose(plan: &Zone, zone: &ZoneState, out: &mut Vec<Exposure>, unexposed: &mut Vec<Response>) {
    let first = out.len();
    let place = |out: &[Exposure], setting: Setting| out.iter().skip(first).position(|e| e.setting == setting);
    let mut last_of_pass: Vec<Option<Setting>> = Vec::new();
    for pass in &zone.passes {
        for (setting, n) in &pass.settings {
            match place(out, *setting).and_then(|at| out.get_mut(first + at)) {
                Some(known) => known.pulses = known.pulses.saturating_add(*n),
                None => out.push(Exposure {
                    zone: plan.id.to_string(),
                    setting: *setting,
                    pulses: *n,
                    responses: Vec::new(),
                }),
            }
        }
        let before = last_of_pass.last().copied().flatten();
        last_of_pass.push(pass.settings.last().map(|(s, _)| *s).or(before));
    }
    for response in &zone.responses {
        let at = usize::from(response.pass).checked_sub(1);
        let pass = at.and_then(|i| zone.passes.get(i));
        let mut so_far = 0_u64;
        let in_pass = pass.and_then(|p| {
            p.settings.iter().find_map(|(setting, n)| {
                so_far = so_far.saturating_add(*n);
                (response.pulses > 0 && response.pulses <= so_far).then_some(*setting)
            })
        });
        // Seen before the first pulse of its pass, it belongs to the pass before; seen beyond a count that was put
        // right later, to the last setting.
        let earlier = at.and_then(|i| i.checked_sub(usize::from(response.pulses == 0)));
        let setting = in_pass.or_else(|| earlier.and_then(|i| last_of_pass.get(i).copied().flatten()));
        match setting.and_then(|s| place(out, s)).and_then(|i| out.get_mut(first + i)) {
            Some(exposure) => exposure.responses.push(response.kind),
            None => unexposed.push(response.kind),
        }
    }
}

fn row_of(
    state: &State,
    exposures: &[Exposure],
    advice: &[AdviceFigure],
    record: RecordState,
    record_text: Option<String>,
) -> Row {
    let o = &state.opened;
    let fired = exposures.iter().map(|e| e.setting.wavelength.nm());
    let mut wavelengths_nm: Vec<f64> = o.plan.zones.iter().map(|z| z.setting.wavelength.nm()).chain(fired).collect();
    wavelengths_nm.sort_by(f64::total_cmp);
    wavelengths_nm.dedup_by(|a, b| (*a - *b).abs() < 0.5);
    let operator_code = match state.checks.get(OPERATOR_ITEM).and_then(|c| c.answer.as_ref()) {
        Some(Answer::Value { value }) => Some(value.to_string()),
        _ => None,
    };
    let count = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
    let overridden = state.deviations.iter().filter(|d| d.overridden).count();
    Row {
        session: shown(&o.session),
        practice: o.practice.as_ref().map(|run| shown(&run.scenario)),
        date: Some(o.date),
        opened_at: Some(state.opened_at),
        client_code: Some(o.plan.client.code.to_string()),
        operator_code,
        skin_type: Some(o.plan.client.skin),
        wavelengths_nm,
        zones: o.plan.zones.len(),
        pulses: state.total_pulses(),
        planned_even_pulses: o.plan.zones.iter().map(planned).fold(0, u64::saturating_add),
        highest_level: advice.iter().map(|a| a.level).max(),
        declined: count(advice.iter().filter(|a| a.answer == AdviceFate::Declined).count()),
        overridden: count(overridden),
        answered_no: count(state.deviations.len() - overridden),
        adverse: 0,
        outcome: state.closed.as_ref().map(|c| c.outcome),
        signed: false,
        events: state.last.seq,
        record,
        record_text,
    }
}
