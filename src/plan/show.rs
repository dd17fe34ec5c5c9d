//! A plan to read: as lines for a person, as a value for a program.

use super::model::{Plan, PulseClass, Zone};
use crate::text::{shown, wrapped};
use crate::units::trimmed;
use crate::words::Word;
use serde::Serialize;

/// A plan with what follows from it, for `--json`: every key names its unit.
#[derive(Debug, Serialize)]
pub struct PlanView<'a> {
    title: &'a str,
    client: &'a super::Client,
    history: &'a super::History,
    zones: Vec<ZoneView<'a>>,
}

#[derive(Debug, Serialize)]
struct ZoneView<'a> {
    #[serde(flatten)]
    zone: &'a Zone,
    area_mm2: f64,
    pulse_energy_j: f64,
    pulse_class: PulseClass,
}

impl Plan {
    /// The plan with what follows from it, to be serialised.
    #[must_use]
    pub fn view(&self) -> PlanView<'_> {
        let zones = self.zones.iter().map(|zone| ZoneView {
            zone,
            area_mm2: zone.shape.area_mm2(),
            pulse_energy_j: zone.setting.energy_joules(),
            pulse_class: PulseClass::of(zone.setting.pulse_duration),
        });
        PlanView { title: &self.title, client: &self.client, history: &self.history, zones: zones.collect() }
    }

    /// The plan as lines of at most 80 columns, safe to show.
    #[must_use]
    pub fn lines(&self) -> String {
        self.lines_with(&|_| Vec::new())
    }

    /// The plan as lines of at most 80 columns, safe to show. `more` gives further lines for a zone, counted from 0, of
    /// at most 71 columns each.
    #[must_use]
    pub fn lines_with(&self, more: &dyn Fn(usize) -> Vec<String>) -> String {
        let mut page = Page::default();
        page.entry("plan", &self.title);
        let c = &self.client;
        page.entry("client", &format!("{}, {} years, {}, skin type {}", c.code, c.age_years, c.weight, c.skin));
        let h = &self.history;
        page.entry(
            "history",
            &match (h.earlier_sessions, h.last_session) {
                (0, _) => "first session".to_owned(),
                (n, Some(date)) => format!("{n} earlier, the last on {date}"),
                (n, None) => format!("{n} earlier"),
            },
        );
        page.more(&format!("medicines: {}", list(h.medicines.iter().map(|m| m.word().to_owned()), &h.other_medicines)));
        page.more(&format!("conditions: {}", list(h.conditions.iter().map(|c| c.word().to_owned()), &[])));
        page.more(&format!("allergies: {}", list(std::iter::empty(), &h.allergies)));
        page.more(&format!("tan at the site: {}", h.tan));
        for (i, zone) in self.zones.iter().enumerate() {
            page.gap();
            zone_lines(&mut page, i, zone);
            for line in more(i) {
                page.as_it_is(&line);
            }
        }
        page.0
    }
}

fn zone_lines(page: &mut Page, index: usize, zone: &Zone) {
    page.entry(&format!("zone {}", index + 1), &format!("{}: {} ({})", zone.id, zone.place, zone.site));
    page.more(&format!("{}, {} mm2", zone.shape, trimmed(zone.shape.area_mm2(), 0)));
    let inks = list(zone.inks.iter().map(|ink| ink.word().to_owned()), &[]);
    let layers = if zone.layered { "over an older tattoo" } else { "one layer" };
    let (density, origin, scarring) = (zone.density, zone.origin, zone.scarring);
    page.more(&format!("ink: {inks}; {density} density, {origin}, {layers}, scarring {scarring}"));
    if let Some(spot) = zone.test_spot {
        page.more(&format!("test spot of {}: {}", spot.date, spot.result));
    }
    page.more(&format!("{}: {} J per pulse", zone.setting.line(), trimmed(zone.setting.energy_joules(), 3)));
    let passes = if zone.passes == 1 { "1 pass".to_owned() } else { format!("{} passes", zone.passes) };
    page.more(&format!("overlap {}, {passes}; next pass {}", zone.overlap, zone.pass_spacing));
}

/// `gold, isotretinoin`, or `none`.
fn list(words: impl Iterator<Item = String>, texts: &[String]) -> String {
    let all: Vec<String> = words.chain(texts.iter().cloned()).collect();
    if all.is_empty() { "none".to_owned() } else { all.join(", ") }
}

/// Lines with their heading in a column of its own.
#[derive(Default)]
struct Page(String);

const HEADING: usize = 9;
const COLUMNS: usize = 80;

impl Page {
    fn entry(&mut self, heading: &str, text: &str) {
        for (i, line) in wrapped(&shown(text), COLUMNS - HEADING).iter().enumerate() {
            let heading = if i == 0 { heading } else { "" };
            self.0.push_str(&format!("{heading:<HEADING$}{line}\n"));
        }
    }
    /// A line whose columns are set already.
    fn as_it_is(&mut self, line: &str) {
        self.0.push_str(&format!("{:<HEADING$}{}\n", "", shown(line)));
    }
    fn more(&mut self, text: &str) {
        self.entry("", text);
    }
    fn gap(&mut self) {
        self.0.push('\n');
    }
}
