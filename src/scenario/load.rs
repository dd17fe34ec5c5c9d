//! A hidden case from its file, and held against its plan.

use super::model::{ClientAnswer, HandHabits, HiddenCase, HiddenZone, Incident, PracticeRun, ShownAtFirst};
use crate::plan::{Medicine, Plan};
use crate::protocol::Protocol;
use crate::source::{self, FileKind, Loaded, Places, Problem, Problems, Seen, SourceText, Table};
use crate::words::Word;

/// What a case file calls itself.
pub const KIND: FileKind = FileKind { kind: "fadewright case", schema: 1 };

/// Reads a case file.
///
/// # Errors
/// Every mistake with its place.
pub fn load(source: &SourceText) -> Result<Loaded<HiddenCase>, Problems> {
    source::read(source, KIND, walk)
}

fn walk(file: &mut Table<'_>) -> Option<HiddenCase> {
    let title = file.text("title", 80);
    let aim = file.text("aim", 200);
    let grade = file.word("grade");
    let lesson = file.text("lesson", 400);
    let true_skin = file.optional_word("true_skin");
    let sensitivity = within(file, "sensitivity", 0.5, 2.0, 1.0);
    let fragility = within(file, "fragility", 0.5, 2.0, 1.0);
    let device_delivers = within(file, "device_delivers", 0.5, 1.5, 1.0);
    let usual = HandHabits::default();
    let hand = if file.has("hand") {
        file.table("hand", |t| {
            let jitter_mm = within(t, "jitter_mm", 0.0, 5.0, usual.jitter_mm);
            let miss = within(t, "miss", 0.0, 0.5, usual.miss);
            let double = within(t, "double", 0.0, 0.5, usual.double);
            Some(HandHabits { jitter_mm: jitter_mm?, miss: miss?, double: double? })
        })
    } else {
        Some(usual)
    };
    let withheld = if file.has("withheld") { file.words("withheld", 1..=7) } else { Some(Vec::new()) };
    let wheals_after =
        if file.has("wheals_after") { file.integer("wheals_after", 1..=100_000).map(Some) } else { Some(None) };
    let mut items = Seen::default();
    let answers = optional_tables(file, "answer", 24, |t| {
        let item = t.slug("item");
        if let Some(item) = &item {
            items.check(t, "item", item.clone(), format!("the item '{item}'"));
        }
        let (says, holds) = (t.text("says", 120), t.boolean("holds"));
        Some(ClientAnswer { item: item?, says: says?, holds: holds? })
    });
    let shown_at_first = optional_tables(file, "shown_at_first", 24, |t| {
        let (zone, fluence) = (t.name("zone"), t.required("fluence"));
        Some(ShownAtFirst { zone: zone?, fluence: fluence? })
    });
    let incidents = optional_tables(file, "incident", 8, |t| {
        let (kind, zone, from_pulse) = (t.word("kind"), t.name("zone"), t.integer("from_pulse", 1..=100_000));
        let spot_factor = within(t, "spot_factor", 0.3, 1.0, 0.5);
        Some(Incident { kind: kind?, zone: zone?, from_pulse: from_pulse?, spot_factor: spot_factor? })
    });
    let mut zones_seen = Seen::default();
    let zones = optional_tables(file, "zone", 24, |t| {
        let zone: Option<crate::plan::ZoneId> = t.name("id");
        if let Some(id) = &zone {
            zones_seen.check(t, "id", id.clone(), format!("the zone id '{id}'"));
        }
        let ink_depth: Option<crate::units::Length> = t.required("ink_depth");
        if ink_depth.is_some_and(|d| !(0.25..=3.0).contains(&d.mm())) {
            t.problem("ink_depth", "ink lies 0.25 mm to 3 mm deep");
        }
        let density = t.word("density");
        let inks = t.words("inks", 1..=13);
        let granule_nm = within(t, "granule_nm", 10.0, 10_000.0, 300.0);
        let metal = t.optional_word("metal");
        Some(HiddenZone {
            zone: zone?,
            ink_depth: ink_depth?,
            density: density?,
            inks: inks?,
            granule_nm: granule_nm?,
            metal,
        })
    });
    let sessions = if file.has("sessions") { file.integer("sessions", 1..=12) } else { Some(1) };
    let weeks_between = if file.has("weeks_between") { file.integer("weeks_between", 1..=52) } else { Some(8) };
    Some(HiddenCase {
        title: title?,
        aim: aim?,
        grade: grade?,
        lesson: lesson?,
        true_skin,
        sensitivity: sensitivity?,
        fragility: fragility?,
        device_delivers: device_delivers?,
        hand: hand?,
        withheld: withheld?,
        wheals_after: wheals_after?,
        answers: answers?,
        shown_at_first: shown_at_first?,
        incidents: incidents?,
        zones: zones?,
        sessions: sessions?,
        weeks_between: weeks_between?,
    })
}

/// A number that may be left out; out of range it is a mistake.
fn within(t: &mut Table<'_>, key: &'static str, low: f64, high: f64, otherwise: f64) -> Option<f64> {
    if !t.has(key) {
        return Some(otherwise);
    }
    let number = t.number(key, &otherwise.to_string())?;
    if (low..=high).contains(&number) {
        return Some(number);
    }
    t.problem(key, &format!("{number} is out of range; {low} to {high}"));
    None
}

fn optional_tables<T>(
    file: &mut Table<'_>,
    key: &'static str,
    most: usize,
    walk: impl FnMut(&mut Table<'_>) -> Option<T>,
) -> Option<Vec<T>> {
    if file.has(key) { file.tables(key, 1..=most, walk) } else { Some(Vec::new()) }
}

/// What contradicts the plan that the case lies behind, each with its place.
#[must_use]
pub fn check_against(case: &Loaded<HiddenCase>, plan: &Plan) -> Vec<Problem> {
    let (places, mut wrong) = (&case.places, Vec::new());
    let c = &case.value;
    let known = |id: &crate::plan::ZoneId| plan.zones.iter().any(|z| z.id == *id);
    let ids = plan.zones.iter().map(|z| z.id.to_string()).collect::<Vec<_>>().join(", ");
    let mut no_zone = |places: &Places, field: String, id: &crate::plan::ZoneId| {
        if !known(id) {
            wrong.push(places.problem(&field, &format!("the plan has no zone '{id}'; its zones: {ids}")));
        }
    };
    for (i, z) in c.zones.iter().enumerate() {
        no_zone(places, format!("zone[{}].id", i + 1), &z.zone);
    }
    for (i, s) in c.shown_at_first.iter().enumerate() {
        no_zone(places, format!("shown_at_first[{}].zone", i + 1), &s.zone);
    }
    for (i, s) in c.incidents.iter().enumerate() {
        no_zone(places, format!("incident[{}].zone", i + 1), &s.zone);
    }
    for m in &c.withheld {
        if plan.history.medicines.contains(m) {
            let message = format!("the plan names '{}': what it names is not withheld", m.word());
            wrong.push(places.problem("withheld", &message));
        }
    }
    if c.true_skin == Some(plan.client.skin) {
        let message = format!("the plan says type {} already; leave it out", plan.client.skin);
        wrong.push(places.problem("true_skin", &message));
    }
    if c.withheld.contains(&Medicine::Gold) && !c.answers.iter().any(|a| !a.holds) {
        let message = "gold that no answer brings to light cannot be found; add an [[answer]] with holds = false";
        wrong.push(places.problem("withheld", message));
    }
    wrong
}

/// Answers to items that a protocol does not ask, each with its place: nobody will hear them.
#[must_use]
pub fn unheard(case: &Loaded<HiddenCase>, protocol: &Protocol) -> Vec<Problem> {
    let asked = |item: &str| protocol.checklist.iter().any(|i| i.id == item);
    let answers = case.value.answers.iter().enumerate().filter(|(_, a)| !asked(&a.item));
    answers
        .map(|(i, a)| {
            let message = format!("the protocol has no item '{}', so nobody will ask", a.item);
            case.places.problem(&format!("answer[{}].item", i + 1), &message)
        })
        .collect()
}

impl PracticeRun {
    /// A first run of a scenario at life's pace.
    #[must_use]
    pub const fn new(scenario: String, case: HiddenCase, seed: u64) -> Self {
        Self {
            scenario,
            case,
            seed,
            session: 1,
            course: None,
            carried: Vec::new(),
            speed: 1.0,
            demonstration: false,
            trainee: None,
        }
    }
}
