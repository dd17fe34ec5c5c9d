//! Settings as they were fired, and what the skin showed.

use super::{Bundle, HL7, concept, quantity};
use crate::plan::{Setting, ZoneId};
use crate::report::happened::PassTimes;
use crate::session::{PassState, Response};
use crate::words::Word;
use serde_json::{Value, json};

fn category(code: &str) -> Value {
    json!([{ "coding": [{ "system": format!("{HL7}/observation-category"), "code": code }] }])
}

pub(super) fn skin_type(b: &mut Bundle<'_>) {
    let observation = json!({
        "resourceType": "Observation",
        "status": b.observation_status(),
        "category": category("exam"),
        "code": concept("Fitzpatrick skin type"),
        "subject": b.reference("patient"),
        "effectiveDateTime": b.record.summary.opened_at,
        "valueString": b.record.summary.skin_type,
    });
    b.add("skin type", observation);
}

/// A figure of a setting: what, value, UCUM code. Pulse durations are given in ns or ps, as people say them.
fn figures(setting: &Setting) -> [(&'static str, f64, &'static str); 6] {
    let seconds = setting.pulse_duration.seconds();
    let (duration, unit) = if seconds < 1e-9 { (seconds * 1e12, "ps") } else { (seconds * 1e9, "ns") };
    [
        ("wavelength", setting.wavelength.nm(), "nm"),
        ("pulse duration", duration, unit),
        ("spot diameter", setting.spot.mm(), "mm"),
        ("fluence", setting.fluence.j_cm2(), "J/cm2"),
        ("repetition rate", setting.rate.hz(), "Hz"),
        ("energy of a pulse", setting.energy_joules(), "J"),
    ]
}

/// One observation for each setting that a pass was fired with.
pub(super) fn settings(b: &mut Bundle<'_>) {
    let record = b.record;
    for (plan, z) in record.state.opened.plan.zones.iter().zip(&record.state.zones) {
        for pass in &z.passes {
            for (i, (setting, pulses)) in pass.settings.iter().enumerate() {
                let observation = setting_of(b, &plan.id, pass, setting, *pulses);
                b.add(&format!("setting {} {} {i}", plan.id, pass.number), observation);
            }
        }
    }
}

fn setting_of(b: &Bundle<'_>, zone: &ZoneId, pass: &PassState, setting: &Setting, pulses: u64) -> Value {
    let component = |what: &str, value: Value| json!({ "code": concept(what), "valueQuantity": value });
    let mut components: Vec<_> =
        figures(setting).into_iter().map(|(what, v, ucum)| component(what, quantity(v, ucum))).collect();
    components.push(component("pulses", quantity(pulses as f64, "{pulses}")));
    components.push(json!({ "code": concept("pass"), "valueInteger": pass.number }));
    json!({
        "resourceType": "Observation",
        "status": b.observation_status(),
        "category": category("procedure"),
        "code": concept("laser setting and pulses of a pass"),
        "partOf": [b.reference(&format!("zone {zone}"))],
        "subject": b.reference("patient"),
        "device": b.reference("device"),
        "effectivePeriod": period(b, zone, pass.number),
        "component": components,
    })
}

fn period(b: &Bundle<'_>, zone: &ZoneId, pass: u8) -> Value {
    let times = b.record.happened.passes.iter().find(|p| p.zone == *zone && p.pass == pass);
    match times {
        Some(PassTimes { from, to: Some(to), .. }) => json!({ "start": from.to_rfc3339(), "end": to.to_rfc3339() }),
        Some(PassTimes { from, .. }) => json!({ "start": from.to_rfc3339() }),
        None => Value::Null,
    }
}

/// One observation for each response.
pub(super) fn responses(b: &mut Bundle<'_>) {
    let record = b.record;
    for (plan, z) in record.state.opened.plan.zones.iter().zip(&record.state.zones) {
        for r in &z.responses {
            let graded = if r.kind == Response::Pain { "pain, 0 to 10" } else { "grade, 1 to 3" };
            let mut components = vec![json!({ "code": concept("pass"), "valueInteger": r.pass }), at_pulse(r.pulses)];
            if let Some(grade) = r.grade {
                components.push(json!({ "code": concept(graded), "valueInteger": grade }));
            }
            let note = r.note.as_ref().map(ToString::to_string).filter(|n| !n.trim().is_empty());
            let observation = json!({
                "resourceType": "Observation",
                "status": b.observation_status(),
                "category": category("exam"),
                "code": concept("response of the skin to the laser"),
                "partOf": [b.reference(&format!("zone {}", plan.id))],
                "subject": b.reference("patient"),
                "effectiveDateTime": r.at.to_rfc3339(),
                "valueString": r.kind.spoken(),
                "component": components,
                "note": note.map(|n| json!([{ "text": n }])),
            });
            b.add(&format!("response {}", r.seq), observation);
        }
    }
}

fn at_pulse(pulses: u64) -> Value {
    json!({ "code": concept("pulses of the pass so far"), "valueQuantity": quantity(pulses as f64, "{pulses}") })
}
