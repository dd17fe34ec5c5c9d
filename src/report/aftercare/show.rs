//! The sheet as text and as a page.

use super::sheet::{Item, Sheet};
use crate::report::SessionRecord;
use crate::report::markup::Markup;
use crate::report::page::{begin, marks};
use crate::text::{shown, wrapped};

/// Columns of the text: it fits a narrow printer.
const COLUMNS: usize = 72;
/// What is written by hand.
const TELEPHONE: &str = "Telephone of the clinic";
const CAUTION: &str = "This sheet is general advice, chosen by what was noted in the session. It replaces no instruction \
                       of your clinic and no doctor.";

/// The sources of a sheet, each once, in order.
fn sources(sheet: &Sheet) -> Vec<&'static str> {
    let mut known: Vec<&'static str> = Vec::new();
    for Item { source, .. } in sheet.sections.iter().flat_map(|s| &s.items) {
        if !known.contains(source) {
            known.push(source);
        }
    }
    known
}

/// The sheet as text of at most 72 columns.
#[must_use]
pub fn text(sheet: &Sheet, record: &SessionRecord) -> String {
    let mut out = String::new();
    let mut line = |text: &str| {
        out.push_str(&shown(text));
        out.push('\n');
    };
    let words = record.mark_words();
    if !words.is_empty() {
        line(&words);
    }
    line("AFTERCARE");
    line(&format!("Client {}, session of {}", sheet.code, sheet.date));
    for section in &sheet.sections {
        line("");
        line(&section.heading.to_uppercase());
        for item in &section.items {
            for (i, text) in wrapped(&item.said(), COLUMNS - 2).iter().enumerate() {
                line(&format!("{}{text}", if i == 0 { "- " } else { "  " }));
            }
        }
        if section.urgent && section.heading.contains("clinic") {
            line(&format!("  {TELEPHONE}: ______________________________"));
        }
    }
    line("");
    for text in wrapped(CAUTION, COLUMNS) {
        line(&text);
    }
    for text in wrapped(&format!("Sources: {}.", sources(sheet).join("; ")), COLUMNS) {
        line(&text);
    }
    line(&format!("Made by {}.", record.made_by));
    out
}

/// The sheet as a page to print.
#[must_use]
pub fn page(sheet: &Sheet, record: &SessionRecord) -> String {
    let mut m = Markup::default();
    let words = record.mark_words();
    let marked = if words.is_empty() { String::new() } else { format!("{words}: ") };
    let title = format!("{marked}Aftercare, client {}, session of {}", sheet.code, sheet.date);
    begin(&mut m, &title, &title);
    m.element("header", &[], |m| {
        m.leaf("h1", &[], &format!("{marked}Aftercare"));
        m.leaf("p", &[], &format!("Client {}, session of {}", sheet.code, sheet.date));
        marks(m, record);
    });
    m.element("main", &[], |m| {
        for section in &sheet.sections {
            let class: &[(&'static str, &str)] = if section.urgent { &[("class", "marks")] } else { &[] };
            m.element("section", class, |m| {
                m.leaf("h2", &[], section.heading);
                m.element("ul", &[], |m| {
                    for item in &section.items {
                        m.leaf("li", &[], &item.said());
                    }
                });
                if section.urgent && section.heading.contains("clinic") {
                    m.element("p", &[], |m| {
                        m.text(&format!("{TELEPHONE}: "));
                        m.leaf("span", &[("class", "write")], "");
                    });
                }
            });
        }
    });
    m.element("footer", &[("class", "small")], |m| {
        m.leaf("p", &[], CAUTION);
        m.leaf("p", &[], &format!("Sources: {}.", sources(sheet).join("; ")));
        m.leaf("p", &[], &format!("Made by {}.", record.made_by));
    });
    m.finish()
}
