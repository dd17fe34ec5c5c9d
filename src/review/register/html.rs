//! The register as one page to print: no script, nothing from elsewhere.

use super::{Entry, Register};
use crate::words::Word;

const STYLE: &str = "@page{size:A4 landscape;margin:12mm}body{font:10pt/1.35 sans-serif;color:#000;background:#fff}\
                     table{border-collapse:collapse;width:100%}th,td{border:1px solid #777;padding:3px 5px;\
                     text-align:left;vertical-align:top}thead{display:table-header-group}tr{break-inside:avoid}\
                     ul{margin:0;padding-left:1.1em}.bad{font-weight:bold}";

/// A text that can be nothing but text in a page.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

/// The whole register.
#[must_use]
pub fn html(register: &Register) -> String {
    let title = format!("Treatment register, {} to {}", register.from, register.to);
    let mut out = format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta http-equiv=\"Content-Security-Policy\" \
         content=\"default-src 'none'; style-src 'unsafe-inline'\">\n<title>{title}</title>\n<style>{STYLE}</style>\n\
         </head>\n<body>\n<h1>{title}</h1>\n<p>{}</p>\n",
        escaped(&register.summary())
    );
    for finding in &register.findings {
        out.push_str(&format!("<p class=\"bad\">{}</p>\n", escaped(finding)));
    }
    out.push_str(
        "<table>\n<thead><tr><th>Date, session</th><th>Client</th><th>Operator</th><th>Nature and exact exposure</th>\
         <th>Accident or adverse effect</th><th>How it ended</th></tr></thead>\n<tbody>\n",
    );
    for entry in &register.sessions {
        out.push_str(&row(entry));
    }
    out.push_str("</tbody>\n</table>\n</body>\n</html>\n");
    out
}

fn row(entry: &Entry) -> String {
    let or = |text: &Option<String>, none: &str| escaped(text.as_deref().unwrap_or(none));
    let list = |items: Vec<String>| -> String {
        let items: String = items.iter().map(|i| format!("<li>{}</li>", escaped(i))).collect();
        if items.is_empty() { String::new() } else { format!("<ul>{items}</ul>") }
    };
    let mut nature = format!("<p>{}, {} pulses</p>", or(&entry.device, "device not known"), entry.pulses);
    for zone in &entry.zones {
        let outcome = zone.outcome.as_ref().map(|o| format!("; {o}")).unwrap_or_default();
        let head = format!("{} ({}), ink {}{outcome}", zone.zone, zone.place, zone.inks.join(", "));
        let each = zone.exposures.iter().map(|e| {
            format!("pass {}: {}: {} pulses", e.pass, e.setting.setting.line(), e.setting.pulses.unwrap_or(0))
        });
        nature.push_str(&format!("<p>{}</p>{}", escaped(&head), list(each.collect())));
    }
    format!(
        "<tr><td>{}<br>{}<br><span class=\"{}\">{}</span><br>{}</td><td>{}</td><td>{}</td><td>{nature}</td><td>{}</td>\
         <td>{}</td></tr>\n",
        or(&entry.opened_at, &entry.date.to_string()),
        escaped(&entry.session),
        if entry.standing == super::Standing::Closed { "good" } else { "bad" },
        entry.standing.spoken(),
        escaped(&entry.record),
        or(&entry.client_code, "not known"),
        or(&entry.operator, "not recorded"),
        list(entry.adverse.clone()),
        or(&entry.outcome, "not closed")
    )
}
