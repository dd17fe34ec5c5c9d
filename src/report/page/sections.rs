//! The parts of the page.

use crate::report::SessionRecord;
use crate::report::cautions::CAUTIONS;
use crate::report::markup::Markup;
use crate::report::pictures;
use crate::review::ZoneLine;
use crate::text::shown;
use crate::units::trimmed;
use crate::words::Word;

/// Lines of the list of what happened that are shown at most.
const TIMELINE_MAX: usize = 1500;

/// A table that may be wider than the window.
fn table(m: &mut Markup, caption: &str, heads: &[&str], rows: &[Vec<String>]) {
    m.element("div", &[("class", "scroll")], |m| m.table(caption, heads, rows));
}

/// A time for a person: `2026-11-24 10:22:31 +00:00`.
fn time(at: &str) -> String {
    match (at.get(..10), at.get(11..19), at.get(19..)) {
        (Some(date), Some(time), Some(rest)) => {
            let offset = rest.find(['+', '-', 'Z']).and_then(|i| rest.get(i..)).unwrap_or_default();
            format!("{date} {time} {offset}")
        }
        _ => at.to_owned(),
    }
}

fn or_dash(text: Option<impl ToString>) -> String {
    text.map_or_else(|| "-".to_owned(), |t| t.to_string())
}

/// Per cent; below zero the spots do not touch.
fn percent(p: Option<f64>) -> String {
    p.filter(|p| *p >= 0.0).map_or_else(|| "none".to_owned(), |p| format!("{} %", trimmed(p, 1)))
}

fn words<W: Word>(all: &[W]) -> Vec<String> {
    all.iter().map(|w| w.spoken()).collect()
}

pub(super) fn session(m: &mut Markup, record: &SessionRecord) {
    let s = &record.summary;
    let plan = &record.state.opened.plan;
    let history = &plan.history;
    let list = |items: Vec<String>| if items.is_empty() { "none entered".to_owned() } else { items.join(", ") };
    let medicines = words(&history.medicines).into_iter().chain(history.other_medicines.iter().map(|t| shown(t)));
    let last = history.last_session.map(|d| format!(", the last on {d}")).unwrap_or_default();
    let row = |name: &str, value: String| vec![name.to_owned(), value];
    let closed = match (&s.closed_at, &s.outcome) {
        (Some(at), Some(outcome)) => format!("{}: {outcome}", time(at)),
        _ => "NOT CLOSED".to_owned(),
    };
    let mut rows = vec![
        row("Session", s.session.clone()),
        row("Client code", s.client_code.clone()),
        row("Skin type (Fitzpatrick)", s.skin_type.clone()),
        row("Plan", s.plan_title.clone()),
        row("Earlier sessions", format!("{}{last}", history.earlier_sessions)),
        row("Medicines", list(medicines.collect())),
        row("Conditions", list(words(&history.conditions))),
        row("Allergies", list(history.allergies.iter().map(|t| shown(t)).collect())),
        row("Tan at the site", history.tan.spoken()),
        row("Device", s.device.clone()),
        row("Protocol", s.protocol.clone()),
        row("Operator", or_dash(record.operator())),
        row("Opened", time(&s.opened_at)),
        row("Closed", closed),
        row("Pulses", s.pulses.to_string()),
        row("Next session not before", or_dash(s.next_earliest.as_ref())),
        row("Record", record.standing_words()),
        row("Events", s.events.to_string()),
        row("Head of the chain (SHA-256)", or_dash(record.standing.head())),
        row("Recorded by", s.program.clone()),
        row("Report made by", format!("{}, {}", record.made_by, time(&record.made_at.to_rfc3339()))),
    ];
    if let Some(scenario) = &s.practice {
        rows.insert(0, row("PRACTICE", format!("scenario {scenario}; nobody was treated")));
    }
    m.leaf("h2", &[], "Session");
    table(m, "What was done, and how the record stands", &["What", "Value"], &rows);
}

pub(super) fn checks(m: &mut Markup, record: &SessionRecord) {
    m.leaf("h2", &[], "Checks");
    let rows: Vec<_> = record
        .summary
        .checks
        .iter()
        .map(|c| {
            let status = match c.status {
                "done" | "open" => c.status.to_owned(),
                grave => grave.to_uppercase(),
            };
            vec![
                c.question.clone(),
                c.phase.clone(),
                status,
                if c.answer.is_empty() { "-".into() } else { c.answer.clone() },
            ]
        })
        .collect();
    table(m, "Each item with its answer", &["Item", "Phase", "Status", "Answer"], &rows);
    m.leaf("h3", &[], "Answers of no, and overrides");
    let deviations = &record.state.deviations;
    if deviations.is_empty() {
        m.leaf("p", &[], "None.");
        return;
    }
    let rows: Vec<_> = deviations
        .iter()
        .map(|d| {
            let kind = if d.overridden { "OVERRIDE" } else { "answer of no" };
            vec![d.item.clone(), kind.to_owned(), time(&d.at.to_rfc3339()), d.text.clone()]
        })
        .collect();
    table(m, "In the order they were given", &["Item", "Kind", "When", "What and why"], &rows);
}

pub(super) fn zones(m: &mut Markup, record: &SessionRecord) {
    m.leaf("h2", &[], "Zones: plan against done");
    let done = |z: &ZoneLine| {
        let passes = z.passes.len();
        let outcome = z.outcome.clone().unwrap_or_else(|| "open".to_owned());
        let why = z.outcome_reason.as_ref().map(|r| format!(": {r}")).unwrap_or_default();
        vec![
            z.zone.clone(),
            z.place.clone(),
            trimmed(z.area_mm2, 1),
            z.planned.setting.line(),
            format!("{} x {}", z.planned_passes, z.planned_pulses_per_pass),
            format!("{} %", trimmed(z.planned_overlap_percent, 1)),
            passes.to_string(),
            z.pulses.to_string(),
            trimmed(z.mean_pulses_per_point, 2),
            format!("{outcome}{why}"),
        ]
    };
    let heads = [
        "Zone",
        "Place",
        "Area, mm2",
        "Planned setting",
        "Planned passes x pulses",
        "Planned overlap",
        "Passes done",
        "Pulses done",
        "Pulses per point",
        "How it ended",
    ];
    table(m, "Each zone as planned and as done", &heads, &record.summary.zones.iter().map(done).collect::<Vec<_>>());
    let mut rows = Vec::new();
    for z in &record.summary.zones {
        for p in &z.passes {
            let settings = p.settings.iter().map(|s| format!("{}: {}", s.setting.line(), s.pulses.unwrap_or(0)));
            let device = p.device_counter.map_or_else(|| "not read".to_owned(), |d| d.to_string());
            let why = p.explanation.as_ref().map(|e| format!("; {e}")).unwrap_or_default();
            rows.push(vec![
                z.zone.clone(),
                p.pass.to_string(),
                p.counted.to_string(),
                format!("{device}{why}"),
                percent(p.overlap_percent),
                p.duration_s.map_or_else(|| "runs".to_owned(), |s| trimmed(s / 60.0, 1)),
                settings.collect::<Vec<_>>().join("; "),
            ]);
        }
    }
    let heads = ["Zone", "Pass", "Pulses", "Device's counter", "Overlap it implies", "Minutes", "Settings: pulses"];
    if rows.is_empty() {
        m.leaf("p", &[], "No pass was begun.");
    } else {
        table(m, "Each pass as done", &heads, &rows);
    }
    m.leaf("h3", &[], "Zones from above");
    let zones = record.state.opened.plan.zones.iter().zip(&record.state.zones);
    for (i, (plan, z)) in zones.enumerate() {
        m.element("figure", &[], |m| {
            pictures::zone_map(m, &format!("zone-{i}"), plan, z);
            let caption = format!(
                "Zone {}, {}: its outline and the even pattern of one pass as planned. The pattern is the plan's; where \
                 pulses fell is not recorded.",
                plan.id, shown(&plan.place)
            );
            m.leaf("figcaption", &[], &caption);
        });
    }
}

pub(super) fn settings(m: &mut Markup, record: &SessionRecord) {
    m.leaf("h2", &[], "Settings read back and changed");
    let rows: Vec<_> = record
        .happened
        .settings
        .iter()
        .map(|s| {
            let words = if s.words.is_empty() { "-".to_owned() } else { s.words.clone() };
            vec![time(&s.at.to_rfc3339()), s.zone.to_string(), s.what.to_owned(), s.setting.line(), words]
        })
        .collect();
    if rows.is_empty() {
        m.leaf("p", &[], "None was read back.");
    } else {
        let heads = ["When", "Zone", "What", "Setting", "Details"];
        table(m, "What the device showed, and what was changed", &heads, &rows);
    }
}

pub(super) fn advice(m: &mut Markup, record: &SessionRecord) {
    m.leaf("h2", &[], "Advice and answers");
    let rows: Vec<_> = record
        .summary
        .advice
        .iter()
        .map(|a| {
            let level =
                if a.level == a.final_level { a.level.clone() } else { format!("{}, then {}", a.level, a.final_level) };
            let place = match (&a.zone, a.pass) {
                (Some(zone), Some(pass)) => format!("{zone}, pass {pass}"),
                (Some(zone), None) => zone.clone(),
                _ => "session".to_owned(),
            };
            let reason = a.reason.as_ref().map(|r| format!(": {r}")).unwrap_or_default();
            vec![
                time(&a.at),
                level,
                place,
                a.seen.clone(),
                a.action.clone(),
                format!("{}{reason}", a.answer.to_uppercase()),
                or_dash(a.answered_at.as_deref().map(time)),
                a.pulses_while_open.to_string(),
                format!("{} ({})", a.rule, a.source),
            ]
        })
        .collect();
    if rows.is_empty() {
        m.leaf("p", &[], "None was raised.");
    } else {
        let heads =
            ["When", "Level", "Where", "Seen", "Advised", "Answer", "Answered", "Pulses while open", "Rule and source"];
        table(m, "In the order it was raised", &heads, &rows);
    }
}

pub(super) fn responses(m: &mut Markup, record: &SessionRecord) {
    m.leaf("h2", &[], "Responses of the skin");
    let mut rows = Vec::new();
    for z in &record.summary.zones {
        for r in &z.responses {
            rows.push(vec![
                time(&r.at),
                z.zone.clone(),
                r.pass.to_string(),
                r.pulse.to_string(),
                r.response.replace('-', " "),
                or_dash(r.grade),
                or_dash(r.note.as_ref()),
            ]);
        }
    }
    if rows.is_empty() {
        m.leaf("p", &[], "None was noted.");
    } else {
        let heads = ["When", "Zone", "Pass", "At pulse", "Response", "Grade", "Remark"];
        table(m, "Grades are 1 to 3, of pain 0 to 10", &heads, &rows);
    }
}

pub(super) fn anaesthetics(m: &mut Markup, record: &SessionRecord) {
    m.leaf("h2", &[], "Anaesthetics");
    let given = &record.happened.anaesthetics;
    if given.is_empty() {
        m.leaf("p", &[], "None was typed.");
        return;
    }
    let rows: Vec<_> = given.iter().map(|(at, text)| vec![time(&at.to_rfc3339()), text.clone()]).collect();
    table(m, "As typed, with what was found", &["When", "Dose and finding"], &rows);
    let kept = record.state.anaesthetics.iter().map(|g| g.dose.words()).collect::<Vec<_>>();
    let kept = if kept.is_empty() { "none: what was typed was taken back".to_owned() } else { kept.join(", ") };
    m.leaf("p", &[], &format!("Standing at the end: {kept}."));
}

pub(super) fn notes(m: &mut Markup, record: &SessionRecord) {
    m.leaf("h2", &[], "Notes");
    let notes = &record.state.notes;
    if notes.is_empty() && record.summary.closing_note.is_none() {
        m.leaf("p", &[], "None.");
        return;
    }
    let mut rows: Vec<_> = notes.iter().map(|n| vec![time(&n.at.to_rfc3339()), n.text.to_string()]).collect();
    rows.extend(record.summary.closing_note.iter().map(|n| vec!["At the close".to_owned(), n.clone()]));
    table(m, "In the operator's words", &["When", "Note"], &rows);
}

pub(super) fn course(m: &mut Markup, record: &SessionRecord) {
    m.leaf("h2", &[], "The session over time");
    m.element("figure", &[], |m| {
        pictures::pulses(m, record);
        let caption = "Pulses counted, and below them what the skin showed, what was advised and answered, and what was \
                       set. Each letter is told in the picture's description and in the list below.";
        m.leaf("figcaption", &[], caption);
        for (name, letters) in pictures::legends(record) {
            m.leaf("figcaption", &[], &format!("{name}: {letters}"));
        }
    });
    m.element("figure", &[], |m| {
        pictures::fluence(m, record);
        m.leaf(
            "figcaption",
            &[],
            "Fluence of the pulses; each zone has its own dashes and its name at the end of its line.",
        );
    });
    m.element("figure", &[], |m| {
        pictures::rate(m, record);
        m.leaf("figcaption", &[], "Pulses a minute; what was taken back is taken off.");
    });
    let rows: Vec<_> = record
        .timeline
        .iter()
        .take(TIMELINE_MAX)
        .map(|entry| vec![entry.seq.to_string(), time(&entry.at), entry.text.clone()])
        .collect();
    table(m, "What happened, in order", &["Event", "When", "What"], &rows);
    let left = record.timeline.len().saturating_sub(TIMELINE_MAX);
    if left > 0 {
        let text =
            format!("{left} further lines are left out here; fadewright log {} shows all.", record.summary.session);
        m.leaf("p", &[], &text);
    }
}

pub(super) fn cautions(m: &mut Markup, record: &SessionRecord) {
    m.leaf("h2", &[], "Cautions");
    m.element("ul", &[("class", "small")], |m| {
        for caution in CAUTIONS {
            m.leaf("li", &[], caution);
        }
    });
    m.leaf("p", &[("class", "small")], &format!("Made by {}.", record.made_by));
}
