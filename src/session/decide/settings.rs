//! Read-back and changes of the setting.

use crate::limits::setting_problems;
use crate::plan::{DisplayedSetting, Setting, ZoneId};
use crate::session::command::Refusal;
use crate::session::event::Event;
use crate::session::{FreeText, State, read_back as compare};

pub(super) fn zone_index(state: &State, zone: &ZoneId) -> Result<usize, Refusal> {
    state.zone_index(zone).ok_or_else(|| {
        Refusal::new("zone.unknown", format!("the plan has no zone '{zone}'"), "choose one of its zones")
    })
}

fn open_zone(state: &State, zone: &ZoneId) -> Result<usize, Refusal> {
    let index = zone_index(state, zone)?;
    match state.zones.get(index).and_then(|z| z.outcome) {
        Some(outcome) => Err(Refusal::new(
            "zone.ended",
            format!("zone {zone} is {outcome}"),
            "choose another zone, or close the session",
        )),
        None => Ok(index),
    }
}

pub(super) fn read_back(state: &State, zone: ZoneId, displayed: DisplayedSetting) -> Result<Vec<Event>, Refusal> {
    let index = open_zone(state, &zone)?;
    if state.train.is_some() {
        return Err(Refusal::new("train.running", "a train is running", "stop it before the read-back"));
    }
    let target = state.zones.get(index).map_or(displayed.setting, |z| z.target);
    let differences = compare::differences(&target, &displayed, &state.opened.device, &state.opened.protocol);
    Ok(vec![if differences.is_empty() {
        Event::SettingConfirmed { zone, displayed }
    } else {
        Event::SettingMismatched { zone, displayed, differences }
    }])
}

pub(super) fn change(state: &State, zone: ZoneId, to: Setting, reason: &str) -> Result<Vec<Event>, Refusal> {
    let index = open_zone(state, &zone)?;
    if state.train.is_some() {
        return Err(Refusal::new("train.running", "a train is running", "stop it before changing the setting"));
    }
    let o = &state.opened;
    if let Some(p) = setting_problems(&to, o.plan.client.skin, &o.device, &o.protocol).into_iter().next() {
        return Err(Refusal::new(p.id, p.message, "choose a setting within the limits"));
    }
    let Some(from) = state.zones.get(index).map(|z| z.target) else { return Ok(Vec::new()) };
    if from == to {
        return Err(Refusal::new("setting.same", "that is the setting already", "nothing to change"));
    }
    let reason = FreeText::new(reason).ok_or_else(|| {
        Refusal::new("setting.reason", "the reason for the change is missing", "type it, or leave with Esc")
    })?;
    Ok(vec![Event::SettingChanged { zone, from, to, advice: None, reason: Some(reason) }])
}
