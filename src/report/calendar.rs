//! The earliest date of the next session as a calendar entry (RFC 5545).
//!
//! A calendar is often shared, so an entry tells nothing but the date and, unless left out, the client code: no session
//! id, no place, no word of what is treated.

use super::SessionRecord;
use super::identity::uuid;
use chrono::{Days, NaiveDate};

/// Octets of a line at most, without its line end (RFC 5545, section 3.1).
const LINE_MAX: usize = 75;

/// A text as a TEXT value (RFC 5545, section 3.3.11).
fn text(value: &str) -> String {
    let mut out = String::new();
    for c in crate::text::shown(value).chars() {
        if matches!(c, '\\' | ';' | ',') {
            out.push('\\');
        }
        out.push(c);
    }
    out
}

/// Adds a content line, folded between characters.
fn line(out: &mut String, content: &str) {
    let mut taken = 0;
    for c in content.chars() {
        if taken + c.len_utf8() > LINE_MAX {
            out.push_str("\r\n ");
            taken = 1;
        }
        out.push(c);
        taken += c.len_utf8();
    }
    out.push_str("\r\n");
}

/// The entry for the earliest date of the next session; `with_code` names the client code in it. None where no pulse
/// was fired: then no interval has to pass.
#[must_use]
pub fn entry(record: &SessionRecord, with_code: bool) -> Option<String> {
    let date = next_date(record)?;
    let words = record.mark_words();
    let marked = if words.is_empty() { String::new() } else { format!("{words}: ") };
    let code = if with_code { format!(" ({})", record.summary.client_code) } else { String::new() };
    let day = |d: NaiveDate| d.format("%Y%m%d").to_string();
    let mut out = String::new();
    let made = record.made_at.to_utc().format("%Y%m%dT%H%M%SZ");
    let about = "Not before this date, and only once the skin has healed. The clinic decides.";
    for content in [
        "BEGIN:VCALENDAR".to_owned(),
        "VERSION:2.0".to_owned(),
        format!("PRODID:{}", text(&format!("-//fadewright//{}//EN", record.made_by))),
        "BEGIN:VEVENT".to_owned(),
        format!("UID:{}", uuid(&record.summary.session, "next session")),
        format!("DTSTAMP:{made}"),
        format!("DTSTART;VALUE=DATE:{}", day(date)),
        format!("DTEND;VALUE=DATE:{}", day(date.checked_add_days(Days::new(1))?)),
        format!("SUMMARY:{}", text(&format!("{marked}Earliest date of the next session{code}"))),
        format!("DESCRIPTION:{}", text(about)),
        "CLASS:PRIVATE".to_owned(),
        "TRANSP:TRANSPARENT".to_owned(),
        "END:VEVENT".to_owned(),
        "END:VCALENDAR".to_owned(),
    ] {
        line(&mut out, &content);
    }
    Some(out)
}

/// The date of the close, or of an open session the one that it would get; none where no pulse was fired.
pub(super) fn next_date(record: &SessionRecord) -> Option<NaiveDate> {
    match &record.state.closed {
        Some(closed) => closed.next_earliest,
        None => record.state.next_earliest().filter(|_| record.summary.pulses > 0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn texts_are_escaped_as_rfc_5545_says() {
        assert_eq!(text("a;b,c\\d\ne"), "a\\;b\\,c\\\\d e");
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn no_line_is_longer_than_75_octets_and_unfolding_gives_it_back(content in "\\PC{0,200}") {
            let mut out = String::new();
            line(&mut out, &content);
            prop_assert!(out.ends_with("\r\n"));
            for l in out.split_terminator("\r\n") { prop_assert!(l.len() <= LINE_MAX); }
            let unfolded = out.replace("\r\n ", "");
            prop_assert_eq!(unfolded.trim_end_matches("\r\n"), content);
        }
    }
}
