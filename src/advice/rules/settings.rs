//! What the device is set to.

use super::super::{Context, ENTRY, Family, Finding, Raise, Rule, SETTINGS_SCREEN};
use super::never;
use crate::limits::{InkMatch, best_wavelength, dose_change, fluence_limit, ink_match};
use crate::plan::{FitzpatrickType, InkColour};
use crate::protocol::{Computation, RuleName};
use crate::session::{AdviceEntry, Level, Verdict};
use crate::units::trimmed;

/// From this wavelength on the rule is silent: 532, 694 and 755 nm are the ones named as risks for dark skin, 1064 nm as
/// the first choice; the border between them is common practice.
const SPARES_MELANIN_FROM_NM: f64 = 800.0;

pub(super) static SETTING_NOT_READ_BACK: Rule = Rule {
    id: RuleName::SettingNotReadBack,
    family: Family::Settings,
    level: Level::Wait,
    why: "What the device is really set to is not known until its display was compared",
    source: "WHO/IER/PSP/2008.05, time out; reading the settings back is common practice",
    raise: Raise::Found(|c| {
        let Some((zone, plan, z, pass)) = c.running() else { return Vec::new() };
        let Some(change) = z.last_change.filter(|_| z.confirmed.is_none()) else { return Vec::new() };
        if c.ms.saturating_sub(change.ms) as f64 / 1000.0 < c.thresholds().escalate_after_s.value.seconds() {
            return Vec::new();
        }
        let seen = format!("The setting was changed to {} and not read back", change.to.dose());
        let action = format!("Fire no pulse. Type what the device shows on the {SETTINGS_SCREEN}");
        let evidence = format!("change {} of {}", change.seq, plan.id);
        vec![Finding::of_zone(zone, evidence, seen, action).in_pass(pass.number)]
    }),
    cleared: |c, entry| {
        let (index, _, z) = c.zone_of(entry)?;
        if c.state.active != Some(index) {
            return Some("the pass has ended".to_owned());
        }
        z.confirmed.map(|_| "the setting was read back".to_owned())
    },
};

pub(super) static READ_BACK_FAILING: Rule = Rule {
    id: RuleName::ReadBackFailing,
    family: Family::Settings,
    level: Level::Check,
    why: "A display that keeps disagreeing is misread, mis-set or faulty",
    source: "MHRA guidance 2015: pre-use equipment checks, equipment fault log; the number is the protocol's",
    raise: Raise::Found(|c| {
        let tries = c.numbers().read_back_tries.value;
        let failing = |(zone, plan, z): (usize, &crate::plan::Zone, &crate::session::ZoneState)| {
            if z.mismatches < tries {
                return None;
            }
            let seen = format!("{} read-backs in a row did not agree", z.mismatches);
            let action =
                "Have a second person read the display. If it still differs, do not treat with this device".to_owned();
            Some(Finding::of_zone(zone, format!("read-backs of {} after {}", plan.id, z.total()), seen, action))
        };
        c.zones().filter_map(failing).collect()
    }),
    cleared: |c, entry| {
        let (_, _, z) = c.zone_of(entry)?;
        z.confirmed.map(|_| "the display agreed".to_owned())
    },
};

pub(super) static NOT_COMPARABLE: Rule = Rule {
    id: RuleName::NotComparable,
    family: Family::Settings,
    level: Level::Check,
    why: "The same fluence with another spot, wavelength or pulse duration is another treatment",
    source: "Murphy MJ (posts): 1064 nm, 5 J/cm2, 5 mm, 10 ns is not comparable to 4 mm or 750 ps",
    raise: Raise::Found(|c| {
        let changed = |(zone, plan, z): (usize, &crate::plan::Zone, &crate::session::ZoneState)| {
            let change = z.last_change.filter(|ch| !ch.advised && z.total() > 0 && z.outcome.is_none())?;
            let (from, to) = (change.from, change.to);
            let differs = [
                (from.spot != to.spot).then_some("spot"),
                (from.wavelength != to.wavelength).then_some("wavelength"),
                (from.pulse_duration != to.pulse_duration).then_some("pulse duration"),
            ];
            let what = differs.into_iter().flatten().collect::<Vec<_>>().join(", ");
            if what.is_empty() {
                return None;
            }
            let dose = dose_change(c.state.happenings.light.as_ref(), plan.site, &from, &to).map(|d| {
                format!(
                    ": light {} % at the ink, {} % in the epidermis",
                    trimmed(d.ink_percent, 0),
                    trimmed(d.epidermis_percent, 0)
                )
            });
            let seen = format!("Another {what}: from {} to {}{}", from.line(), to.line(), dose.unwrap_or_default());
            let action =
                "Not comparable with what was fired before. Start lower, look at the first pulses, titrate anew"
                    .to_owned();
            Some(Finding::of_zone(zone, format!("{ENTRY}{}", change.seq), seen, action))
        };
        c.zones().filter_map(changed).collect()
    }),
    cleared: never,
};

pub(super) static RAISED_AFTER_LOWERING: Rule = Rule {
    id: RuleName::RaisedAfterLowering,
    family: Family::Settings,
    level: Level::Check,
    why: "The skin has asked for less in this zone today",
    source: "common practice",
    raise: Raise::Found(|c| {
        let raised = |(zone, _, z): (usize, &crate::plan::Zone, &crate::session::ZoneState)| {
            let change =
                z.last_change.filter(|ch| !ch.advised && z.lowerings > 0 && ch.to.fluence > ch.from.fluence)?;
            let seen = format!("Raised from {} to {} after a lowering", change.from.dose(), change.to.dose());
            let action = "Go back to the lower setting, or look at single pulses before going on".to_owned();
            // Not "entry": another spot raised at the same time is a finding of its own.
            Some(Finding::of_zone(zone, format!("raise {}", change.seq), seen, action))
        };
        c.zones().filter_map(raised).collect()
    }),
    cleared: |c, entry| {
        let (_, _, z) = c.zone_of(entry)?;
        let lower = entry.advice.from.is_some_and(|from| z.target.fluence < from.fluence);
        lower.then(|| "the setting was lowered again".to_owned())
    },
};

pub(super) static NEAR_CEILING: Rule = Rule {
    id: RuleName::NearCeiling,
    family: Family::Settings,
    level: Level::Note,
    why: "The ceiling is where others have stopped, not where to start",
    source: "this protocol's ceilings; the distance is the protocol's",
    raise: Raise::Found(|c| {
        let Some((zone, plan, z, pass)) = c.running() else { return Vec::new() };
        let o = &c.state.opened;
        let Ok(limit) = fluence_limit(&z.target, o.plan.client.skin, &o.device, &o.protocol) else { return Vec::new() };
        let near = limit.fluence_j_cm2 * (1.0 - c.numbers().near_ceiling_percent.value.value() / 100.0);
        if z.target.fluence.j_cm2() < near {
            return Vec::new();
        }
        let seen =
            format!("{} with a limit of {} J/cm2: {}", z.target.dose(), trimmed(limit.fluence_j_cm2, 2), limit.reason);
        let action = "Nothing to do: for the record".to_owned();
        let evidence = format!("{} at {}", plan.id, z.target.dose());
        vec![Finding::of_zone(zone, evidence, seen, action).in_pass(pass.number)]
    }),
    cleared: never,
};

/// What the checklist has already told, and someone has seen, is only noted.
fn told_at_sign_in(c: &Context<'_>, computation: Computation) -> bool {
    c.state.opened.protocol.checklist.iter().filter(|i| i.computation == Some(computation)).any(|i| {
        let check = c.state.checks.get(&i.id);
        check.is_some_and(|s| s.answer.is_some() && s.computed.as_ref().is_some_and(|(v, _)| *v != Verdict::Pass))
    })
}

pub(super) static WAVELENGTH_POOR: Rule = Rule {
    id: RuleName::WavelengthPoor,
    family: Family::Settings,
    level: Level::Check,
    why: "Light that the ink does not take up heats only the skin",
    source: "Choi MS et al., PLoS One 2018;13(9):e0203370; Bernstein EF et al., Lasers Surg Med 2018;50:704-710",
    raise: Raise::Found(|c| {
        let Some((zone, plan, z, pass)) = c.running() else { return Vec::new() };
        let at = z.target.wavelength;
        let little = |i: &InkColour| ink_match(at, *i).is_some_and(|m| m <= InkMatch::Weak);
        let poor: Vec<InkColour> = plan.inks.iter().copied().filter(little).collect();
        let Some(first) = poor.first() else { return Vec::new() };
        let better = best_wavelength(&c.state.opened.device, *first)
            .filter(|(w, m)| *m > InkMatch::Weak && (w.nm() - at.nm()).abs() > 0.5)
            .map_or_else(
                || "this device has no better line: say so, and expect little".to_owned(),
                |(w, _)| format!("{w} of this device suits it better, if skin type and protocol allow it"),
            );
        let inks = poor.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
        let planned = (plan.setting.wavelength.nm() - at.nm()).abs() <= 0.5;
        let seen = format!("{at} does little to {inks} ink");
        let found = Finding::of_zone(zone, format!("{at} in {}", plan.id), seen, better).in_pass(pass.number);
        vec![if planned && told_at_sign_in(c, Computation::InkMatch) { found.at(Level::Note) } else { found }]
    }),
    cleared: other_wavelength,
};

pub(super) static DARK_SKIN_WAVELENGTH: Rule = Rule {
    id: RuleName::DarkSkinWavelength,
    family: Family::Settings,
    level: Level::Check,
    why: "Pigment of the skin takes up this wavelength: light or dark patches are frequent",
    source: "PubMed 20964571 (2010): 755 nm in type V, lighter patches in 29 %, darker in 38 %; longer wavelengths for types IV to VI are common practice",
    raise: Raise::Found(|c| {
        let skin = c.state.opened.plan.client.skin;
        let Some((zone, plan, z, pass)) = c.running() else { return Vec::new() };
        let at = z.target.wavelength;
        if skin < FitzpatrickType::IV || at.nm() >= SPARES_MELANIN_FROM_NM {
            return Vec::new();
        }
        let tested = if plan.test_spot.is_some() {
            "A test spot was made: look at it"
        } else {
            "No test spot was made: make one and wait"
        };
        let seen = format!("{at} on skin type {skin}");
        let action = format!("{tested}. Prefer a longer wavelength if the ink takes it up; start low");
        vec![Finding::of_zone(zone, format!("{at} in {}", plan.id), seen, action).in_pass(pass.number)]
    }),
    cleared: other_wavelength,
};

fn other_wavelength(c: &Context<'_>, entry: &AdviceEntry) -> Option<String> {
    let (_, _, z) = c.zone_of(entry)?;
    let before = entry.advice.from?.wavelength;
    ((z.target.wavelength.nm() - before.nm()).abs() > 0.5).then(|| "another wavelength is set".to_owned())
}
