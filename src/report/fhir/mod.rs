//! A session as a FHIR R4 bundle of type `collection` (HL7 FHIR release 4, version 4.0.1).
//!
//! Codes are those of FHIR's own lists and of UCUM. Where no standard code is certain (the procedure, the settings, the
//! responses), a concept has its text alone. The patient is an identifier: the client code.

mod observations;
mod questionnaire;

use super::SessionRecord;
use super::happened::is_adverse;
use super::identity::uuid;
use crate::session::{SessionOutcome, ZoneOutcome};
use crate::text::shown;
use crate::words::Word;
use serde_json::{Value, json};

const HL7: &str = "http://terminology.hl7.org/CodeSystem";
/// The system of UCUM units (FHIR R4, data type Quantity).
const UCUM: &str = "http://unitsofmeasure.org";

/// A concept known by its text alone.
fn concept(text: &str) -> Value {
    json!({ "text": shown(text) })
}

/// Nine digits of a figure: more is what is left of a conversion.
fn number(v: f64) -> Value {
    format!("{v:.8e}").parse::<f64>().map_or(Value::Null, |v| json!(v))
}

/// A quantity with its UCUM code, which is also how it is written.
fn quantity(v: f64, ucum: &str) -> Value {
    json!({ "value": number(v), "unit": ucum, "system": UCUM, "code": ucum })
}

/// A bundle as it is put together.
struct Bundle<'a> {
    record: &'a SessionRecord,
    entries: Vec<Value>,
    references: Vec<Value>,
}

impl Bundle<'_> {
    /// The id of a resource, by what it is within its session.
    fn id(&self, what: &str) -> String {
        uuid(&self.record.summary.session, what)
    }

    fn reference(&self, what: &str) -> Value {
        json!({ "reference": format!("urn:uuid:{}", self.id(what)) })
    }

    /// Adds a resource; what is null in it is left out.
    fn add(&mut self, what: &str, mut resource: Value) {
        let id = self.id(what);
        if let Some(map) = resource.as_object_mut() {
            map.retain(|_, value| !value.is_null());
            map.insert("id".to_owned(), json!(id));
        }
        self.references.push(self.reference(what));
        self.entries.push(json!({ "fullUrl": format!("urn:uuid:{id}"), "resource": resource }));
    }

    /// Who held the handpiece, by their code.
    fn operator(&self) -> Value {
        match self.record.operator().filter(|code| !code.trim().is_empty()) {
            Some(code) => json!({
                "type": "Practitioner",
                "identifier": { "type": concept("the clinic's code of the operator"), "value": code },
            }),
            None => json!({ "type": "Practitioner", "display": "operator not recorded" }),
        }
    }

    /// Nothing is final that may still change or is not all there.
    fn is_final(&self) -> bool {
        self.record.marks().is_empty()
    }

    fn observation_status(&self) -> &'static str {
        if self.is_final() { "final" } else { "preliminary" }
    }
}

/// The bundle as JSON.
#[must_use]
pub fn bundle(record: &SessionRecord) -> String {
    let mut b = Bundle { record, entries: Vec::new(), references: Vec::new() };
    b.add(
        "patient",
        json!({
            "resourceType": "Patient",
            "identifier": [{ "type": concept("the clinic's code of the client"), "value": record.summary.client_code }],
        }),
    );
    b.add(
        "device",
        json!({
            "resourceType": "Device",
            "deviceName": [{ "name": or_unnamed(&record.summary.device), "type": "user-friendly-name" }],
            "type": concept("laser for tattoo removal"),
        }),
    );
    procedures(&mut b);
    observations::skin_type(&mut b);
    observations::settings(&mut b);
    observations::responses(&mut b);
    adverse_events(&mut b);
    questionnaire::checks(&mut b);
    provenance(&mut b);
    let tags: Vec<_> = record.marks().iter().map(|m| json!({ "display": m.word() })).collect();
    let mut bundle = json!({
        "resourceType": "Bundle",
        "type": "collection",
        "id": b.id("bundle"),
        "identifier": { "type": concept("session"), "value": record.summary.session },
        "timestamp": record.made_at.to_rfc3339(),
        "entry": b.entries,
    });
    if let (false, Some(map)) = (tags.is_empty(), bundle.as_object_mut()) {
        map.insert("meta".to_owned(), json!({ "tag": tags }));
    }
    let mut text = serde_json::to_string_pretty(&bundle).unwrap_or_default();
    text.push('\n');
    text
}

/// FHIR has no empty text.
fn or_unnamed(text: &str) -> String {
    if text.trim().is_empty() { "not named".to_owned() } else { text.to_owned() }
}

fn procedures(b: &mut Bundle<'_>) {
    let record = b.record;
    let state = &record.state;
    let fired = record.summary.pulses > 0;
    let status = match state.closed.as_ref().map(|c| c.outcome) {
        None if fired => "in-progress",
        None => "preparation",
        Some(SessionOutcome::Completed) => "completed",
        Some(SessionOutcome::Stopped) => "stopped",
        Some(SessionOutcome::Refused | SessionOutcome::NotTreated) => "not-done",
    };
    let mut period = json!({ "start": record.summary.opened_at });
    if let (Some(at), Some(map)) = (&record.summary.closed_at, period.as_object_mut()) {
        map.insert("end".to_owned(), json!(at));
    }
    let mut notes: Vec<String> = record.marks().iter().map(|m| m.why()).collect();
    notes.extend(record.summary.notes.iter().chain(&record.summary.closing_note).cloned());
    let notes: Vec<_> = notes.iter().filter(|n| !n.trim().is_empty()).map(|n| json!({ "text": n })).collect();
    let session = json!({
        "resourceType": "Procedure",
        "identifier": [{ "type": concept("session"), "value": record.summary.session }],
        "status": status,
        "code": concept("laser tattoo removal, session"),
        "subject": b.reference("patient"),
        "performedPeriod": period,
        "performer": [{ "actor": b.operator() }],
        "outcome": record.summary.outcome.as_ref().map(|o| concept(o)),
        "usedReference": [b.reference("device")],
        "note": if notes.is_empty() { Value::Null } else { json!(notes) },
    });
    b.add("procedure", session);
    for (plan, z) in state.opened.plan.zones.iter().zip(&state.zones) {
        let status = match z.outcome {
            Some(ZoneOutcome::Skipped) => "not-done",
            Some(ZoneOutcome::Stopped) => "stopped",
            Some(ZoneOutcome::Done) if z.total() > 0 => "completed",
            // A session that is closed leaves no zone open: all its passes were done, or none was begun.
            _ if z.total() == 0 => {
                if state.closed.is_some() {
                    "not-done"
                } else {
                    "preparation"
                }
            }
            Some(ZoneOutcome::Done) | None => {
                if state.closed.is_some() {
                    "completed"
                } else {
                    "in-progress"
                }
            }
        };
        let zone = json!({
            "resourceType": "Procedure",
            "status": status,
            "partOf": [b.reference("procedure")],
            "code": concept("laser tattoo removal, zone"),
            "subject": b.reference("patient"),
            "performedPeriod": zone_period(record, plan.id.as_str()),
            "bodySite": [concept(&format!("{}: {} ({})", plan.id, plan.place, plan.site.spoken()))],
            "usedReference": [b.reference("device")],
            "statusReason": z.outcome_reason.as_ref().map(|r| concept(&r.to_string())),
        });
        b.add(&format!("zone {}", plan.id), zone);
    }
}

/// From the first pass of a zone to the end of its last; null where no pass was begun.
fn zone_period(record: &SessionRecord, zone: &str) -> Value {
    let passes = || record.happened.passes.iter().filter(|p| p.zone.as_str() == zone);
    let (Some(first), Some(last)) = (passes().next(), passes().next_back()) else { return Value::Null };
    match last.to {
        Some(to) => json!({ "start": first.from.to_rfc3339(), "end": to.to_rfc3339() }),
        None => json!({ "start": first.from.to_rfc3339() }),
    }
}

fn adverse_events(b: &mut Bundle<'_>) {
    let record = b.record;
    for (plan, z) in record.state.opened.plan.zones.iter().zip(&record.state.zones) {
        for r in z.responses.iter().filter(|r| is_adverse(r.kind)) {
            let grade = r.grade.map(|g| format!(", grade {g}")).unwrap_or_default();
            let note = r.note.as_ref().map(|n| format!(": {n}")).unwrap_or_default();
            let what = format!("{}{grade} in zone {}, pass {}{note}", r.kind.spoken(), plan.id, r.pass);
            let event = json!({
                "resourceType": "AdverseEvent",
                "actuality": "actual",
                "event": concept(&what),
                "subject": b.reference("patient"),
                "date": r.at.to_rfc3339(),
                "resultingCondition": Value::Null,
                "suspectEntity": [
                    { "instance": b.reference(&format!("zone {}", plan.id)) },
                    { "instance": b.reference("device") },
                ],
            });
            b.add(&format!("adverse event {}", r.seq), event);
        }
    }
}

fn provenance(b: &mut Bundle<'_>) {
    let record = b.record;
    let participant = |code: &str, who: Value| {
        json!({
            "type": { "coding": [{ "system": format!("{HL7}/provenance-participant-type"), "code": code }] },
            "who": who,
        })
    };
    // Without a sound chain there is no hash to compare by.
    let entity = record.standing.head().filter(|_| record.standing.damage().is_none()).map(|head| {
        json!([{
            "role": "source",
            "what": {
                "identifier": { "type": concept("SHA-256 of the journal's last line"), "value": head.to_string() },
                "display": format!("journal of session {}, {} events", record.summary.session, record.summary.events),
            },
        }])
    });
    let targets = b.references.clone();
    let provenance = json!({
        "resourceType": "Provenance",
        "target": targets,
        "recorded": record.state.last.at.to_rfc3339(),
        "activity": concept("recorded event by event at the chair"),
        "agent": [
            participant("performer", b.operator()),
            participant("assembler", json!({ "type": "Device", "display": record.made_by })),
        ],
        "entity": entity,
    });
    b.add("provenance", provenance);
}
