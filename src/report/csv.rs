//! Tables as RFC 4180 writes them: CRLF, a header line, quotation marks around what needs them and doubled within.
//!
//! A spreadsheet takes a cell that begins with `=`, `+`, `-`, `@`, a tab or a carriage return for a formula. A text that
//! does gets an apostrophe in front; numbers stay numbers.

use super::SessionRecord;
use crate::review::{PassLine, SettingLine, ZoneLine};
use crate::units::trimmed;
use crate::words::words;

words! {
    /// The tables that a session is exported as.
    Table, "table" {
        /// One row a session.
        Sessions = "sessions",
        /// One row a zone.
        Zones = "zones",
        /// One row a setting that was used in a pass; a pass without pulses has one row.
        Passes = "passes",
        /// One row a response.
        Responses = "responses",
        /// One row an advice.
        Advice = "advice",
        /// One row a check.
        Checks = "checks",
    }
}

/// A cell.
enum Cell {
    /// Free of any meaning of its own.
    Text(String),
    /// A number, already in digits.
    Number(String),
    /// Not known, or does not apply.
    Empty,
}

impl From<&str> for Cell {
    fn from(text: &str) -> Self {
        Self::Text(text.to_owned())
    }
}
impl From<&String> for Cell {
    fn from(text: &String) -> Self {
        Self::Text(text.clone())
    }
}
impl From<String> for Cell {
    fn from(text: String) -> Self {
        Self::Text(text)
    }
}
impl From<u64> for Cell {
    fn from(n: u64) -> Self {
        Self::Number(n.to_string())
    }
}
impl From<u8> for Cell {
    fn from(n: u8) -> Self {
        Self::Number(n.to_string())
    }
}
impl From<f64> for Cell {
    fn from(v: f64) -> Self {
        if !v.is_finite() {
            return Self::Empty;
        }
        // Durations of pulses are billionths of a second; all other figures are shown to a millionth.
        Self::Number(if v.abs() < 1e-3 && v.abs() > 0.0 { scientific(v) } else { trimmed(v, 6) })
    }
}
/// Nine digits, which leaves out what is left of a unit's conversion: `6e-9`.
fn scientific(v: f64) -> String {
    let text = format!("{v:.8e}");
    match text.split_once('e') {
        Some((digits, power)) => format!("{}e{power}", digits.trim_end_matches('0').trim_end_matches('.')),
        None => text,
    }
}
impl<T: Into<Self>> From<Option<T>> for Cell {
    fn from(value: Option<T>) -> Self {
        value.map_or(Self::Empty, Into::into)
    }
}

/// A text as a cell that no spreadsheet takes for a formula.
#[must_use]
pub fn text_cell(text: &str) -> String {
    let formula = text.starts_with(['=', '+', '-', '@', '\t', '\r']);
    let text = if formula { format!("'{text}") } else { text.to_owned() };
    if text.contains([',', '"', '\r', '\n']) || text.starts_with(' ') || text.ends_with(' ') {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text
    }
}

fn line(out: &mut String, cells: impl IntoIterator<Item = Cell>) {
    for (i, cell) in cells.into_iter().enumerate() {
        if i > 0 {
            out.push(',');
        }
        match cell {
            Cell::Text(text) => out.push_str(&text_cell(&text)),
            Cell::Number(digits) => out.push_str(&digits),
            Cell::Empty => {}
        }
    }
    out.push_str("\r\n");
}

/// Every row begins with these.
const FIRST: [&str; 2] = ["session", "marks"];

fn columns(table: Table) -> &'static [&'static str] {
    match table {
        Table::Sessions => &[
            "client_code",
            "skin_type",
            "plan_title",
            "device",
            "protocol",
            "program",
            "operator",
            "opened_at",
            "closed_at",
            "outcome",
            "next_earliest",
            "events",
            "pulses",
            "zones",
            "advice",
            "record",
            "record_head_sha256",
            "closing_note",
            "notes",
        ],
        Table::Zones => &[
            "zone",
            "place",
            "area_mm2",
            "planned_wavelength_nm",
            "planned_pulse_duration_s",
            "planned_spot_mm",
            "planned_fluence_j_cm2",
            "planned_rate_hz",
            "planned_passes",
            "planned_pulses_per_pass",
            "planned_overlap_percent",
            "passes",
            "pulses",
            "mean_pulses_per_point",
            "outcome",
            "outcome_reason",
        ],
        Table::Passes => &[
            "zone",
            "pass",
            "counted_pulses",
            "device_counter_pulses",
            "explanation",
            "overlap_percent",
            "duration_s",
            "wavelength_nm",
            "pulse_duration_s",
            "spot_mm",
            "fluence_j_cm2",
            "rate_hz",
            "energy_j",
            "setting_pulses",
            "pulses_by_key",
            "pulses_by_train",
            "pulses_typed",
            "pulses_by_counter",
            "pulses_by_line",
        ],
        Table::Responses => &["zone", "pass", "seq", "at", "pulse", "response", "grade", "note"],
        Table::Advice => &[
            "advice",
            "at",
            "rule",
            "level",
            "final_level",
            "zone",
            "pass",
            "seen",
            "action",
            "from_fluence_j_cm2",
            "to_fluence_j_cm2",
            "to_spot_mm",
            "answer",
            "reason",
            "answered_at",
            "pulses_while_open",
            "source",
        ],
        Table::Checks => &["item", "phase", "question", "status", "answer"],
    }
}

/// A table with the rows of all these sessions.
#[must_use]
pub fn table<'a>(table: Table, records: impl IntoIterator<Item = &'a SessionRecord>) -> String {
    let mut out = header(table);
    for record in records {
        rows(table, record, &mut out);
    }
    out
}

/// The header line of a table.
#[must_use]
pub fn header(table: Table) -> String {
    let mut out = String::new();
    line(&mut out, FIRST.iter().chain(columns(table)).map(|name| Cell::from(*name)));
    out
}

/// Adds the rows of a session to a table.
pub fn rows(table: Table, record: &SessionRecord, out: &mut String) {
    let s = &record.summary;
    let mut row = |cells: Vec<Cell>| {
        let first = [Cell::from(&s.session), Cell::from(record.mark_words())];
        line(out, first.into_iter().chain(cells));
    };
    match table {
        Table::Sessions => row(vec![
            (&s.client_code).into(),
            (&s.skin_type).into(),
            (&s.plan_title).into(),
            (&s.device).into(),
            (&s.protocol).into(),
            (&s.program).into(),
            record.operator().into(),
            (&s.opened_at).into(),
            s.closed_at.as_ref().into(),
            s.outcome.as_ref().into(),
            s.next_earliest.as_ref().into(),
            s.events.into(),
            s.pulses.into(),
            (s.zones.len() as u64).into(),
            (s.advice.len() as u64).into(),
            record.standing_words().into(),
            record.standing.head().map(|h| h.to_string()).into(),
            s.closing_note.as_ref().into(),
            s.notes.join(" | ").into(),
        ]),
        Table::Zones => s.zones.iter().for_each(|z| row(zone_cells(z))),
        Table::Passes => {
            for z in &s.zones {
                for p in &z.passes {
                    if p.settings.is_empty() {
                        row(pass_cells(z, p, None));
                    }
                    p.settings.iter().for_each(|setting| row(pass_cells(z, p, Some(setting))));
                }
            }
        }
        Table::Responses => {
            for z in &s.zones {
                for r in &z.responses {
                    row(vec![
                        (&z.zone).into(),
                        r.pass.into(),
                        r.seq.into(),
                        (&r.at).into(),
                        r.pulse.into(),
                        (&r.response).into(),
                        r.grade.into(),
                        r.note.as_ref().into(),
                    ]);
                }
            }
        }
        Table::Advice => {
            for a in &s.advice {
                row(vec![
                    a.advice.into(),
                    (&a.at).into(),
                    (&a.rule).into(),
                    (&a.level).into(),
                    (&a.final_level).into(),
                    a.zone.as_ref().into(),
                    a.pass.into(),
                    (&a.seen).into(),
                    (&a.action).into(),
                    a.from_fluence_j_cm2.into(),
                    a.to_fluence_j_cm2.into(),
                    a.to_spot_mm.into(),
                    (&a.answer).into(),
                    a.reason.as_ref().into(),
                    a.answered_at.as_ref().into(),
                    a.pulses_while_open.into(),
                    (&a.source).into(),
                ]);
            }
        }
        Table::Checks => {
            for c in &s.checks {
                let cells = [&c.item, &c.phase, &c.question].map(Cell::from);
                row(cells.into_iter().chain([c.status.into(), (&c.answer).into()]).collect());
            }
        }
    }
}

fn zone_cells(z: &ZoneLine) -> Vec<Cell> {
    let planned = &z.planned.setting;
    vec![
        (&z.zone).into(),
        (&z.place).into(),
        z.area_mm2.into(),
        planned.wavelength.nm().into(),
        planned.pulse_duration.seconds().into(),
        planned.spot.mm().into(),
        planned.fluence.j_cm2().into(),
        planned.rate.hz().into(),
        z.planned_passes.into(),
        z.planned_pulses_per_pass.into(),
        z.planned_overlap_percent.into(),
        (z.passes.len() as u64).into(),
        z.pulses.into(),
        z.mean_pulses_per_point.into(),
        z.outcome.as_ref().into(),
        z.outcome_reason.as_ref().into(),
    ]
}

fn pass_cells(z: &ZoneLine, p: &PassLine, used: Option<&SettingLine>) -> Vec<Cell> {
    let setting = used.map(|s| s.setting);
    vec![
        (&z.zone).into(),
        p.pass.into(),
        p.counted.into(),
        p.device_counter.into(),
        p.explanation.as_ref().into(),
        p.overlap_percent.into(),
        p.duration_s.into(),
        setting.map(|s| s.wavelength.nm()).into(),
        setting.map(|s| s.pulse_duration.seconds()).into(),
        setting.map(|s| s.spot.mm()).into(),
        setting.map(|s| s.fluence.j_cm2()).into(),
        setting.map(|s| s.rate.hz()).into(),
        used.map(|s| s.energy_j).into(),
        used.and_then(|s| s.pulses).into(),
        p.pulses_by_key.into(),
        p.pulses_by_train.into(),
        p.pulses_typed.into(),
        p.pulses_by_counter.into(),
        p.pulses_by_line.into(),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::words::Word;
    use proptest::prelude::*;

    /// Reads RFC 4180 back, strictly: CRLF ends a record, a bare quotation mark or line end is an error.
    fn read(text: &str) -> Vec<Vec<String>> {
        let (mut records, mut record, mut cell) = (Vec::new(), Vec::new(), String::new());
        let mut chars = text.chars().peekable();
        let mut quoted = false;
        while let Some(c) = chars.next() {
            match (quoted, c) {
                (false, '"') => {
                    assert!(cell.is_empty(), "a quotation mark within a bare cell");
                    quoted = true;
                }
                (true, '"') if chars.peek() == Some(&'"') => {
                    chars.next();
                    cell.push('"');
                }
                (true, '"') => {
                    quoted = false;
                    assert!(matches!(chars.peek(), Some(',' | '\r')), "text behind a quoted cell");
                }
                (false, ',') => record.push(std::mem::take(&mut cell)),
                (false, '\r') => {
                    assert_eq!(chars.next(), Some('\n'), "a bare carriage return");
                    record.push(std::mem::take(&mut cell));
                    records.push(std::mem::take(&mut record));
                }
                (false, '\n') => panic!("a bare line end"),
                (_, c) => cell.push(c),
            }
        }
        assert!(!quoted && record.is_empty() && cell.is_empty(), "the last record has no line end");
        records
    }

    #[test]
    fn formulas_are_defused_and_numbers_are_left_alone() {
        for bad in ["=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\rx", "=HYPERLINK(\"http://x\",\"y\")"] {
            let cell = text_cell(bad);
            assert!(cell.starts_with('\'') || cell.starts_with("\"'"), "{bad:?} became {cell}");
        }
        let mut out = String::new();
        let numbers: [Cell; 3] = [(-2.5f64).into(), (6.0 * 1e-9f64).into(), 7u64.into()];
        line(&mut out, numbers.into_iter().chain(["-2.5".into(), Cell::Empty, "a".into()]));
        assert_eq!(out, "-2.5,6e-9,7,'-2.5,,a\r\n");
    }

    #[test]
    fn cells_are_quoted_as_rfc_4180_says() {
        // The examples of RFC 4180, section 2, rules 5 to 7.
        for (text, cell) in
            [("aaa", "aaa"), ("b\r\nbb", "\"b\r\nbb\""), ("b\"bb", "\"b\"\"bb\""), ("x,y", "\"x,y\""), ("", "")]
        {
            assert_eq!(text_cell(text), cell);
        }
    }

    #[test]
    fn column_names_are_unique_and_name_units() {
        for t in Table::ALL {
            let names: Vec<_> = FIRST.iter().chain(columns(*t)).collect();
            let mut once = names.clone();
            once.sort_unstable();
            once.dedup();
            assert_eq!(once.len(), names.len(), "{t}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn whatever_a_cell_holds_comes_back(texts in proptest::collection::vec("\\PC{0,12}|[\"',=\r\n\t @+-]{0,6}", 1..6)) {
            let mut out = String::new();
            line(&mut out, texts.iter().map(Cell::from));
            let records = read(&out);
            prop_assert_eq!(records.len(), 1);
            for (text, cell) in texts.iter().zip(&records[0]) {
                let bare = cell.strip_prefix('\'').filter(|b| b == text).unwrap_or(cell);
                prop_assert_eq!(bare, text);
                prop_assert!(!cell.starts_with(['=', '+', '-', '@', '\t', '\r']));
            }
        }
    }
}
