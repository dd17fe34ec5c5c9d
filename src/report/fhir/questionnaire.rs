//! The checklist with its answers.

use super::{Bundle, or_unnamed};
use crate::protocol::CheckItem;
use crate::session::Answer;
use crate::text::shown;
use serde_json::{Value, json};

pub(super) fn checks(b: &mut Bundle<'_>) {
    let record = b.record;
    let items: Vec<Value> = record.state.opened.protocol.checklist.iter().map(|i| item(b, i)).collect();
    if items.is_empty() {
        return;
    }
    let response = json!({
        "resourceType": "QuestionnaireResponse",
        "status": if b.is_final() { "completed" } else { "in-progress" },
        "partOf": [b.reference("procedure")],
        "subject": b.reference("patient"),
        "authored": record.state.last.at.to_rfc3339(),
        "author": b.operator(),
        "item": items,
    });
    b.add("checks", response);
}

/// An item: its answer, and beneath it what was computed, why it was no, and who overrode it.
fn item(b: &Bundle<'_>, item: &CheckItem) -> Value {
    let check = b.record.state.checks.get(&item.id);
    let link = or_unnamed(&shown(&item.id));
    let below = |name: &str, text: &str| {
        let link = format!("{link}.{}", name.replace(' ', "-"));
        json!({ "linkId": link, "text": name, "answer": [{ "valueString": or_unnamed(&shown(text)) }] })
    };
    let mut nested = Vec::new();
    if let Some((_, text)) = check.and_then(|c| c.computed.as_ref()) {
        nested.push(below("found by the program", text));
    }
    let answer = check.and_then(|c| c.answer.as_ref()).map(|answer| match answer {
        Answer::Yes => json!({ "valueBoolean": true }),
        Answer::No { why } => {
            nested.push(below("why not", &why.to_string()));
            json!({ "valueBoolean": false })
        }
        Answer::NotApplicable => json!({ "valueString": "not applicable" }),
        Answer::Value { value } => json!({ "valueString": or_unnamed(&value.to_string()) }),
    });
    if let Some((by, role, why)) = check.and_then(|c| c.overridden.as_ref()) {
        nested.push(below("overridden by", &by.to_string()));
        nested.push(below("role", &role.to_string()));
        nested.push(below("reason of the override", &why.to_string()));
    }
    let mut out = json!({ "linkId": link, "text": or_unnamed(&shown(&item.question)) });
    // What is nested stands beneath the answer where there is one, else beneath the item (FHIR's rule qrs-1).
    let Some(map) = out.as_object_mut() else { return Value::Null };
    match answer {
        Some(mut answer) => {
            if let (false, Some(a)) = (nested.is_empty(), answer.as_object_mut()) {
                a.insert("item".to_owned(), json!(nested));
            }
            map.insert("answer".to_owned(), json!([answer]));
        }
        None if !nested.is_empty() => {
            map.insert("item".to_owned(), json!(nested));
        }
        None => {}
    }
    out
}
