//! A clinic protocol from its file, and the embedded default.

use super::{
    Ceiling, CheckItem, CheckKind, CheckPhase, Eyewear, EyewearRange, Protocol, RuleChoice, RuleName, Sourced,
    Thresholds,
};
use crate::physics::hazard::marking::Marking;
use crate::plan::{FitzpatrickType, PulseClass};
use crate::source::{self, FileKind, Loaded, Problems, Seen, SourceText, Table, Value};
use crate::units::{Quantity, SpotDiameter, WaitingTime, Wavelength};
use crate::words::Word;
use std::ops::RangeInclusive;

/// What a protocol's file says it is.
pub const KIND: FileKind = FileKind { kind: "fadewright protocol", schema: 1 };

/// The text of the embedded protocol: a starting point for a clinic to adapt.
pub const EMBEDDED_TEXT: &str = include_str!("default.toml");

impl Protocol {
    /// The embedded protocol.
    ///
    /// # Errors
    /// None that a build could ship: the text is fixed at build time and a test reads it.
    pub fn embedded() -> Result<Self, Problems> {
        load(&SourceText::new("embedded clinic protocol", EMBEDDED_TEXT)).map(|loaded| loaded.value)
    }
}

/// Reads a clinic protocol. What it leaves out is never filled in from the embedded one.
///
/// # Errors
/// Every mistake of the file.
pub fn load(source: &SourceText) -> Result<Loaded<Protocol>, Problems> {
    source::read(source, KIND, |file| {
        let name = file.text("name", 120);
        let thresholds = file.table("thresholds", thresholds);
        let mut cases = Seen::default();
        let ceilings = file.tables("ceiling", 1..=200, |t| ceiling(t, &mut cases, thresholds.as_ref()));
        let mut ruled = Seen::default();
        let rules =
            if file.has("rule") { file.tables("rule", 1..=200, |t| rule(t, &mut ruled)) } else { Some(Vec::new()) };
        let mut names = Seen::default();
        let eyewear = file.tables("eyewear", 1..=40, |t| eyewear(t, &mut names));
        let mut ids = Seen::default();
        let checklist = file.tables("check", 1..=120, |t| check(t, &mut ids));
        for phase in CheckPhase::ALL {
            if checklist.as_ref().is_some_and(|list: &Vec<CheckItem>| list.iter().all(|c| c.phase != *phase)) {
                file.problem("check", &format!("no item of the phase '{phase}'; each phase asks at least one"));
            }
        }
        Some(Protocol {
            name: name?,
            ceilings: ceilings?,
            thresholds: thresholds?,
            eyewear: eyewear?,
            rules: rules?,
            checklist: checklist?,
        })
    })
}

/// One case of a ceiling: no two may hold for the same.
type Case = (Wavelength, PulseClass, Option<SpotDiameter>, FitzpatrickType);

/// What the clinic says about a rule. A name that is no rule's is told with the nearest one.
fn rule(t: &mut Table<'_>, seen: &mut Seen<RuleName>) -> Option<RuleChoice> {
    let rule = t.word("rule");
    let at_least = t.word("at_least");
    let reason = t.text("reason", 200);
    let choice = RuleChoice { rule: rule?, at_least: at_least?, reason: reason? };
    seen.check(t, "rule", choice.rule, format!("the rule '{}'", choice.rule));
    Some(choice)
}

fn ceiling(t: &mut Table<'_>, cases: &mut Seen<Case>, thresholds: Option<&Thresholds>) -> Option<Ceiling> {
    let wavelength = t.required("wavelength");
    let pulse_class = t.word("pulse_class");
    let skin: Option<Vec<FitzpatrickType>> = t.words("skin", 1..=6);
    let spot_from = t.optional("spot_from");
    let fluence_max = t.required("fluence_max");
    let (source, confidence) = origin(t);
    let ceiling = Ceiling {
        wavelength: wavelength?,
        pulse_class: pulse_class?,
        skin: skin?,
        spot_from,
        fluence_max: fluence_max?,
        source: source?,
        confidence: confidence?,
    };
    if let Some(numbers) = thresholds.map(|t| &t.rules) {
        let (key, floor) = match ceiling.pulse_class {
            PulseClass::Picosecond => ("ink_floor_picosecond", numbers.ink_floor_picosecond_j_cm2.value),
            PulseClass::Nanosecond => ("ink_floor_nanosecond", numbers.ink_floor_nanosecond_j_cm2.value),
        };
        if ceiling.fluence_max < floor {
            t.problem(
                "fluence_max",
                &format!(
                    "the ceiling {} lies below {key}, {floor}; a ceiling under what the ink needs allows no treatment: correct one of the two",
                    ceiling.fluence_max
                ),
            );
        }
    }
    for skin in &ceiling.skin {
        let spots = ceiling.spot_from.map_or_else(|| "all spots".to_owned(), |s| format!("spots from {s}"));
        let what = format!("the case {} {}, {spots}, skin type {skin}", ceiling.wavelength, ceiling.pulse_class);
        cases.check(t, "skin", (ceiling.wavelength, ceiling.pulse_class, ceiling.spot_from, *skin), what);
    }
    Some(ceiling)
}

fn origin(t: &mut Table<'_>) -> (Option<String>, Option<super::Confidence>) {
    (t.text("source", 300), t.word("confidence"))
}

fn thresholds(t: &mut Table<'_>) -> Option<Thresholds> {
    let lower_step_percent = quantity(t, "lower_step", 1.0..=50.0);
    let whitening_expected_pulses = count(t, "whitening_expected_pulses", 1..=1000);
    let overlap_tolerance_percent = quantity(t, "overlap_tolerance", 0.0..=50.0);
    let counter_tolerance_percent = quantity(t, "counter_tolerance", 0.0..=50.0);
    let energy_tolerance_percent = quantity(t, "energy_tolerance", 0.1..=50.0);
    let counter_jump_factor = count(t, "counter_jump_factor", 1..=100);
    let escalate_after_pulses = count(t, "escalate_after_pulses", 1..=1000);
    let escalate_after_s = quantity(t, "escalate_after", 1.0..=600.0);
    let interval_min_s = interval(t, "interval_min");
    let interval_light_s = interval(t, "interval_light");
    let interval_dark_s = interval(t, "interval_dark");
    for (key, advised) in [("interval_light", &interval_light_s), ("interval_dark", &interval_dark_s)] {
        if let (Some(min), Some(advised)) = (&interval_min_s, advised)
            && advised.value < min.value
        {
            let (advised, min) = (advised.value.words(), min.value.words());
            t.problem(
                key,
                &format!(
                    "{advised} is shorter than interval_min, {min}; the advised interval cannot be below the shortest"
                ),
            );
        }
    }
    let test_spot_wait_s = quantity(t, "test_spot_wait", 86_400.0..=31_536_000.0);
    let age_min_years = count(t, "age_min", 0..=120);
    let rules = super::numbers::read(t);
    Some(Thresholds {
        lower_step_percent: lower_step_percent?,
        whitening_expected_pulses: whitening_expected_pulses?,
        overlap_tolerance_percent: overlap_tolerance_percent?,
        counter_tolerance_percent: counter_tolerance_percent?,
        energy_tolerance_percent: energy_tolerance_percent?,
        counter_jump_factor: counter_jump_factor?,
        escalate_after_pulses: escalate_after_pulses?,
        escalate_after_s: escalate_after_s?,
        interval_min_s: interval_min_s?,
        interval_light_s: interval_light_s?,
        interval_dark_s: interval_dark_s?,
        test_spot_wait_s: test_spot_wait_s?,
        age_min_years: age_min_years?,
        rules: rules?,
    })
}

fn sourced<T>(
    t: &mut Table<'_>,
    key: &'static str,
    example: &str,
    read: impl FnOnce(&Value<'_>) -> Option<T>,
) -> Option<Sourced<T>> {
    let like = format!("{{ value = {example}, source = \"...\", confidence = \"clinic\" }}");
    t.value(key, &like)?.table(|t| {
        let value = t.value("value", example).and_then(|v| read(&v));
        let (source, confidence) = origin(t);
        Some(Sourced { value: value?, source: source?, confidence: confidence? })
    })
}

/// A threshold with a unit, within a range given in the stored unit.
pub(super) fn quantity<Q: Quantity>(
    t: &mut Table<'_>,
    key: &'static str,
    range: RangeInclusive<f64>,
) -> Option<Sourced<Q>> {
    sourced(t, key, &format!("\"{}\"", Q::EXAMPLE), |v| {
        let quantity = v.quantity::<Q>()?;
        if range.contains(&quantity.value()) {
            return Some(quantity);
        }
        v.problem(&format!("{quantity} is outside {} to {} {}", range.start(), range.end(), Q::UNIT));
        None
    })
}

pub(super) fn count(t: &mut Table<'_>, key: &'static str, range: RangeInclusive<i64>) -> Option<Sourced<u32>> {
    sourced(t, key, &range.start().to_string(), |v| v.integer(range.clone()))
}

/// Between a week and two years.
fn interval(t: &mut Table<'_>, key: &'static str) -> Option<Sourced<WaitingTime>> {
    quantity(t, key, 604_800.0..=63_072_000.0)
}

fn eyewear(t: &mut Table<'_>, names: &mut Seen<String>) -> Option<Eyewear> {
    let name = t.text("name", 60);
    if let Some(name) = &name {
        names.check(t, "name", name.clone(), format!("the name '{name}'"));
    }
    let tint = t.optional_word("tint");
    // One of the two; without either the marking is what is missing.
    let (printed, ranges) = if t.has("ranges") {
        if t.has("marking") {
            let _ = t.value("marking", MARKING_LIKE);
            t.problem("marking", "a pair has its marking or its ranges, not both; take one of the two out");
        }
        (None, t.tables("ranges", 1..=24, range)?)
    } else {
        (Some(t.value("marking", MARKING_LIKE).and_then(|v| printed(&v))?), Vec::new())
    };
    Some(Eyewear { name: name?, printed, ranges, tint })
}

/// How a marking may look in the file.
const MARKING_LIKE: &str = "\"OD 7+ @ 190-534 nm, OD 6+ @ 740-1070 nm, VLT 30 %\"";

fn printed(value: &Value<'_>) -> Option<String> {
    let text = value.text(300)?;
    match text.parse::<Marking>() {
        Ok(_) => Some(text),
        Err(e) => {
            value.problem(&e.to_string());
            None
        }
    }
}

fn range(t: &mut Table<'_>) -> Option<EyewearRange> {
    let from = t.required("from");
    let to = t.required("to");
    let optical_density = t.integer("optical_density", 0..=12);
    let range = EyewearRange { from: from?, to: to?, optical_density: optical_density? };
    if range.from > range.to {
        t.problem("from", &format!("from {} is above to {}", range.from, range.to));
    }
    Some(range)
}

fn check(t: &mut Table<'_>, ids: &mut Seen<String>) -> Option<CheckItem> {
    let id = t.slug("id");
    if let Some(id) = &id {
        ids.check(t, "id", id.clone(), format!("the item id '{id}'"));
    }
    let phase = t.word("phase");
    let question = t.text("question", 160);
    let kind: Option<CheckKind> = t.word("kind");
    let computation = t.optional_word("computation");
    let blocking = t.boolean("blocking");
    let hard_stop = t.optional_boolean("hard_stop", false);
    let not_applicable = t.optional_boolean("not_applicable", false);
    let again_on_wavelength = t.optional_boolean("again_on_wavelength", false);
    let wait = if t.has("wait") { Some(t.text("wait", 80)?) } else { None };
    let on_bad = t.text("on_bad", 240);
    let (source, confidence) = origin(t);
    match (kind, t.has("computation")) {
        (Some(CheckKind::Computed), false) => {
            t.problem("computation", "missing; a computed item names what is computed, such as computation = \"gold\"");
        }
        (Some(CheckKind::YesNo | CheckKind::Value | CheckKind::Marking | CheckKind::Anaesthetic), true) => {
            t.problem(
                "computation",
                "only an item of kind \"computed\" has a computation; correct the kind or take it out",
            );
        }
        _ => {}
    }
    if hard_stop == Some(true) {
        if blocking == Some(false) {
            t.problem("hard_stop", "a hard stop also blocks; write blocking = true");
        }
        if matches!(kind, Some(CheckKind::Value | CheckKind::Anaesthetic)) {
            t.problem("hard_stop", "an item that takes a value has no bad answer, so it cannot be a hard stop");
        }
        if not_applicable == Some(true) {
            t.problem("not_applicable", "a hard stop cannot be answered 'not applicable'; take one of the two out");
        }
    }
    if kind == Some(CheckKind::Marking) && not_applicable == Some(true) {
        t.problem("not_applicable", "an item that takes a marking always applies; take this line out");
    }
    if kind == Some(CheckKind::Marking) && blocking == Some(false) {
        t.problem("blocking", "eyewear that does not protect stops the treatment; write blocking = true");
    }
    if kind == Some(CheckKind::Computed) && not_applicable == Some(true) {
        t.problem("not_applicable", "a computed item is answered by the program; take this line out");
    }
    Some(CheckItem {
        id: id?,
        phase: phase?,
        question: question?,
        kind: kind?,
        computation,
        blocking: blocking?,
        hard_stop: hard_stop?,
        not_applicable: not_applicable?,
        wait,
        again_on_wavelength: again_on_wavelength?,
        on_bad: on_bad?,
        source: source?,
        confidence: confidence?,
    })
}
