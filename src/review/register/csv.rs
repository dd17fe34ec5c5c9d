//! The register as comma-separated values: RFC 4180, a row for each pass and setting.

use super::{Entry, Exposure, Register, ZoneEntry};
use std::borrow::Cow;

const HEADER: &str = "session,standing,record,client_code,opened_at,closed_at,operator,device,zone,place,inks,pass,\
                      wavelength_nm,pulse_duration_s,spot_mm,fluence_j_cm2,rate_hz,energy_j,pulses,zone_outcome,adverse,\
                      outcome";

/// What a spreadsheet takes for the beginning of a formula (CWE-1236), full-width forms included.
const FORMULA: [char; 11] = ['=', '+', '-', '@', '\t', '\r', '\0', '＝', '＋', '－', '＠'];

/// A text as one cell: it can begin no formula in a spreadsheet, and is quoted where it must be.
#[must_use]
pub fn cell(text: &str) -> Cow<'_, str> {
    let starts = |text: &str| text.starts_with(FORMULA);
    let harmless: Cow<'_, str> =
        if starts(text) || starts(text.trim_start()) { Cow::Owned(format!("'{text}")) } else { Cow::Borrowed(text) };
    if harmless.contains(['"', ',', '\r', '\n']) || harmless.starts_with(' ') || harmless.ends_with(' ') {
        return Cow::Owned(format!("\"{}\"", harmless.replace('"', "\"\"")));
    }
    harmless
}

/// The whole register. A session without a pulse has one row, so that none is left out.
#[must_use]
pub fn csv(register: &Register) -> String {
    let mut out = format!("{HEADER}\r\n");
    for entry in &register.sessions {
        let mut rows = 0;
        for zone in &entry.zones {
            for exposure in &zone.exposures {
                out.push_str(&row(entry, Some(zone), Some(exposure)));
                rows += 1;
            }
            if zone.exposures.is_empty() {
                out.push_str(&row(entry, Some(zone), None));
                rows += 1;
            }
        }
        if rows == 0 {
            out.push_str(&row(entry, None, None));
        }
    }
    out
}

fn row(entry: &Entry, zone: Option<&ZoneEntry>, exposure: Option<&Exposure>) -> String {
    let text = |value: Option<&str>| cell(value.unwrap_or_default()).into_owned();
    let number = |value: Option<f64>| value.map(|v| v.to_string()).unwrap_or_default();
    let setting = exposure.map(|e| &e.setting);
    let inks = zone.map(|z| z.inks.join("; "));
    let adverse = entry.adverse.join("; ");
    let standing = entry.standing.to_string();
    let cells = [
        text(Some(&entry.session)),
        text(Some(&standing)),
        text(Some(&entry.record)),
        text(entry.client_code.as_deref()),
        text(entry.opened_at.as_deref()),
        text(entry.closed_at.as_deref()),
        text(entry.operator.as_deref()),
        text(entry.device.as_deref()),
        text(zone.map(|z| z.zone.as_str())),
        text(zone.map(|z| z.place.as_str())),
        text(inks.as_deref()),
        exposure.map(|e| e.pass.to_string()).unwrap_or_default(),
        number(setting.map(|s| s.setting.wavelength.nm())),
        number(setting.map(|s| s.setting.pulse_duration.seconds())),
        number(setting.map(|s| s.setting.spot.mm())),
        number(setting.map(|s| s.setting.fluence.j_cm2())),
        number(setting.map(|s| s.setting.rate.hz())),
        number(setting.map(|s| s.energy_j)),
        setting.and_then(|s| s.pulses).map(|n| n.to_string()).unwrap_or_default(),
        text(zone.and_then(|z| z.outcome.as_deref())),
        text(Some(&adverse)),
        text(entry.outcome.as_deref()),
    ];
    format!("{}\r\n", cells.join(","))
}
