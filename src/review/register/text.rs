//! The register as text, 80 columns wide.

use super::{Entry, Register, Standing};
use crate::text::wrapped;
use crate::words::Word;

const COLUMNS: usize = 80;

/// The whole register.
#[must_use]
pub fn text(register: &Register) -> String {
    let mut lines = vec![format!("TREATMENT REGISTER  {} to {}", register.from, register.to)];
    add(&mut lines, 0, &register.summary());
    for finding in &register.findings {
        add(&mut lines, 0, &format!("! {finding}"));
    }
    for entry in &register.sessions {
        lines.push(String::new());
        session(&mut lines, entry);
    }
    lines.join("\n")
}

/// Adds a text, wrapped and set in.
fn add(lines: &mut Vec<String>, indent: usize, text: &str) {
    for (n, line) in wrapped(text, COLUMNS - indent - 2).into_iter().enumerate() {
        // What does not fit one line goes on a little further in.
        lines.push(format!("{}{line}", " ".repeat(if n == 0 { indent } else { indent + 2 })));
    }
}

fn session(lines: &mut Vec<String>, entry: &Entry) {
    let time = entry.opened_at.as_deref().and_then(|at| at.get(11..16)).unwrap_or("--:--");
    let standing = match entry.standing {
        Standing::Closed => "closed".to_owned(),
        other => other.spoken().to_uppercase(),
    };
    lines.push(format!("{} {time}  {}  {standing}", entry.date, entry.session));
    add(lines, 2, &format!("record: {}", entry.record));
    if entry.client_code.is_none() {
        return;
    }
    add(
        lines,
        2,
        &format!(
            "client {}, operator {}, device {}",
            entry.client_code.as_deref().unwrap_or("not known"),
            entry.operator.as_deref().unwrap_or("NOT RECORDED"),
            entry.device.as_deref().unwrap_or("not known")
        ),
    );
    for zone in &entry.zones {
        let outcome = zone.outcome.as_ref().map(|o| format!("; {o}")).unwrap_or_default();
        let none = if zone.exposures.is_empty() { "; no pulse" } else { "" };
        add(lines, 2, &format!("{} ({}), ink {}{none}{outcome}", zone.zone, zone.place, zone.inks.join(", ")));
        for e in &zone.exposures {
            let pulses = e.setting.pulses.unwrap_or(0);
            add(lines, 4, &format!("pass {}: {}: {pulses} pulses", e.pass, e.setting.setting.line()));
        }
    }
    for found in &entry.adverse {
        add(lines, 2, &format!("! {found}"));
    }
    let ended = entry.outcome.as_deref().unwrap_or("not closed");
    add(lines, 2, &format!("{} pulses in all; ended: {ended}", entry.pulses));
}
