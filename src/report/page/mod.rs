//! A session as a page of its own: to be read, printed and kept. No script, nothing fetched from anywhere.

mod sections;

use super::SessionRecord;
use super::markup::Markup;

/// Looks of every page. In print the page is one large table whose head, the line with the marks, is repeated on each
/// sheet.
pub(super) const STYLE: &str = "\
:root { color-scheme: light; }
body { font: 15px/1.45 system-ui, sans-serif; color: #000; background: #fff; max-width: 62rem; margin: 0 auto; padding: 1rem; }
h1 { font-size: 1.6rem; margin: .6rem 0; }
h2 { font-size: 1.2rem; margin: 1.8rem 0 .5rem; border-bottom: 2px solid #000; }
h3 { font-size: 1rem; margin: 1.1rem 0 .3rem; }
table { border-collapse: collapse; width: 100%; margin: .6rem 0 1rem; font-size: .88rem; }
caption { text-align: left; font-weight: 600; padding: .2rem 0; }
th, td { border: 1px solid #555; padding: .25rem .4rem; text-align: left; vertical-align: top; overflow-wrap: anywhere; min-width: 5.4em; }
thead th { background: #eee; overflow-wrap: normal; }
tbody th { font-weight: 600; }
.scroll { overflow-x: auto; }
.marks { border: 3px solid #000; padding: .4rem .7rem; font-weight: 700; background: #fff; }
.marks p { margin: .1rem 0; }
.marks h2 { margin-top: .3rem; }
section.marks { margin: .8rem 0; }
.on-each-page { display: none; }
figure { margin: .8rem 0; break-inside: avoid; }
figcaption { font-size: .85rem; }
svg { max-width: 100%; height: auto; }
svg text { font: 12px system-ui, sans-serif; fill: #000; }
.edge { fill: none; stroke: #000; stroke-width: 1.6; }
.spot { fill: #000; fill-opacity: .06; stroke: #555; stroke-width: .5; }
.axis { stroke: #000; stroke-width: 1; }
.grid { stroke: #bbb; stroke-width: .6; }
.curve, .line-0, .line-1, .line-2, .line-3 { fill: none; stroke: #000; stroke-width: 1.6; }
.line-1 { stroke-dasharray: 7 3; }
.line-2 { stroke-dasharray: 2 3; }
.line-3 { stroke-dasharray: 9 3 2 3; }
.pass { fill: #777; stroke: #000; stroke-width: .6; }
.small { font-size: .85rem; }
.write { border-bottom: 1px solid #000; display: inline-block; min-width: 16rem; }
@page { margin: 14mm; }
@media print {
  body { font-size: 10.5pt; max-width: none; padding: 0; }
  h2, h3 { break-after: avoid; }
  tr, .marks { break-inside: avoid; }
  caption { break-after: avoid; }
  thead { display: table-header-group; }
  .scroll { overflow: visible; }
  body { display: table; width: 100%; }
  .on-each-page { display: table-header-group; break-inside: avoid; font-size: 9pt; font-weight: 700; }
  .content { display: table-row-group; }
}
";

/// Begins a page: its head, and the line that is printed on each of its sheets. `each` is written before the content.
pub(in crate::report) fn begin(m: &mut Markup, title: &str, each: &str) {
    m.doctype();
    m.open("html", &[("lang", "en-GB")]);
    m.element("head", &[], |m| {
        m.void("meta", &[("charset", "utf-8")]);
        // Should ever anything slip in that asks for more than this page holds, it is refused.
        m.void(
            "meta",
            &[
                ("http-equiv", "Content-Security-Policy"),
                ("content", "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"),
            ],
        );
        m.void("meta", &[("name", "viewport"), ("content", "width=device-width, initial-scale=1")]);
        m.void("meta", &[("name", "referrer"), ("content", "no-referrer")]);
        m.leaf("title", &[], title);
        m.style(STYLE);
    });
    m.open("body", &[]);
    // Hidden from readers aloud: the marks are said at the top.
    m.leaf("div", &[("class", "on-each-page"), ("aria-hidden", "true")], each);
    m.open("div", &[("class", "content")]);
}

/// Says what the record is not.
pub(in crate::report) fn marks(m: &mut Markup, record: &SessionRecord) {
    let marks = record.marks();
    if marks.is_empty() {
        return;
    }
    m.element("div", &[("class", "marks"), ("role", "note")], |m| {
        for mark in &marks {
            m.leaf("p", &[], &mark.why());
        }
    });
}

/// The line on each printed sheet: marks first, then whose record it is.
pub(super) fn each_page(record: &SessionRecord) -> String {
    let marks = record.mark_words();
    let gap = if marks.is_empty() { "" } else { " - " };
    format!("{marks}{gap}client {}, session {}", record.summary.client_code, record.summary.session)
}

/// The session as a page.
#[must_use]
pub fn page(record: &SessionRecord) -> String {
    let mut m = Markup::default();
    let s = &record.summary;
    let words = record.mark_words();
    let marked = if words.is_empty() { String::new() } else { format!("{words}: ") };
    begin(&mut m, &format!("{marked}Session record, client {}, {}", s.client_code, s.session), &each_page(record));
    m.element("header", &[], |m| {
        m.leaf("h1", &[], &format!("{marked}Session record"));
        marks(m, record);
    });
    m.element("main", &[], |m| {
        sections::session(m, record);
        sections::checks(m, record);
        sections::zones(m, record);
        sections::settings(m, record);
        sections::advice(m, record);
        sections::responses(m, record);
        sections::anaesthetics(m, record);
        sections::notes(m, record);
        sections::course(m, record);
    });
    m.element("footer", &[], |m| sections::cautions(m, record));
    m.finish()
}
