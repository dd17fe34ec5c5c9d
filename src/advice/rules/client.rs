//! The client, and what came before.

use super::super::propose::{Proposal, lower};
use super::super::{Context, Family, Finding, Raise, Rule};
use super::never;
use crate::plan::{Condition, InkOrigin, Medicine};
use crate::protocol::RuleName;
use crate::session::{AdviceEntry, Level, Response};
use crate::units::trimmed;
use crate::words::Word;

pub(super) static ABOVE_LAST_SESSION: Rule = Rule {
    id: RuleName::AboveLastSession,
    family: Family::Client,
    level: Level::Lower,
    why: "Last time this was more than the skin could take",
    source: "Kirby W et al., J Clin Aesthet Dermatol 2010;3(1):39-41; lower fluence next session: Murphy MJ 2021",
    raise: Raise::Found(|c| {
        let Some(earlier) = &c.state.happenings.earlier else { return Vec::new() };
        let as_high = |(zone, plan, z): (usize, &crate::plan::Zone, &crate::session::ZoneState)| {
            let last = earlier.zones.iter().find(|l| l.zone == plan.id)?;
            let harm = last.too_much()?;
            if z.outcome.is_some() || !not_below(&z.target, &last.setting) {
                return None;
            }
            let evidence = format!("{} at {}", plan.id, z.target.line());
            if c.state.knows_evidence("above-last-session", &evidence) {
                return None;
            }
            let Proposal { to, alternative: _, words } = lower(c, zone, c.thresholds().lower_step_percent.value);
            let seen = format!(
                "{} on {} at {}; now {} is set",
                harm.spoken(),
                earlier.date,
                last.setting.dose(),
                z.target.dose()
            );
            let level = to.is_none().then_some(Level::Stop);
            Some(Finding { level, to, ..Finding::of_zone(zone, evidence, seen, words) })
        };
        c.zones().filter_map(as_high).collect()
    }),
    cleared: |c, entry| {
        let (_, plan, z) = c.zone_of(entry)?;
        let earlier = c.state.happenings.earlier.as_ref()?;
        let last = earlier.zones.iter().find(|l| l.zone == plan.id)?;
        (!not_below(&z.target, &last.setting)).then(|| "the setting is below that of last time".to_owned())
    },
};

/// As much fluence as an earlier setting of the same wavelength; another wavelength is not comparable, and what last time
/// suggests says so.
fn not_below(now: &crate::plan::Setting, last: &crate::plan::Setting) -> bool {
    (now.wavelength.nm() - last.wavelength.nm()).abs() <= 0.5 && now.fluence >= last.fluence
}

pub(super) static MAY_DARKEN: Rule = Rule {
    id: RuleName::MayDarken,
    family: Family::Client,
    level: Level::Check,
    why: "Iron and titanium in white, flesh, pink, rust and cosmetic inks turn dark at once, and for good",
    source: "Chang LY et al., Dermatol Sinica 2001;19:324-330; Leu FJ et al., Lasers Med Sci 2014",
    raise: Raise::Found(|c| {
        let Some((zone, plan, _, pass)) = c.running() else { return Vec::new() };
        let may = plan.origin == InkOrigin::Cosmetic || plan.inks.iter().any(|i| i.may_darken());
        if pass.number != 1 || !may {
            return Vec::new();
        }
        let seen = "Ink that may turn dark".to_owned();
        let action =
            "Fire one pulse at the edge and look before the next. At the first darkening: r, then d".to_owned();
        vec![Finding::of_zone(zone, format!("ink of {}", plan.id), seen, action).in_pass(1)]
    }),
    cleared: super::with_the_pass,
};

pub(super) static KELOID_WITHOUT_TEST: Rule = Rule {
    id: RuleName::KeloidWithoutTest,
    family: Family::Client,
    level: Level::Check,
    why: "Scars that overgrow show only after weeks",
    source: "Aurangabadkar S, Mysore V, Indian J Dermatol Venereol Leprol 2009;75(8):111-126 (relative contraindication); test spot and lower fluence: textbook chapter",
    raise: Raise::Found(|c| {
        let Some((zone, plan, _, pass)) = c.running() else { return Vec::new() };
        if plan.test_spot.is_some() || !c.state.opened.plan.history.conditions.contains(&Condition::Keloid) {
            return Vec::new();
        }
        let seen = "Keloid tendency, and no test spot in this zone".to_owned();
        let action = "Treat a small part today and wait, or start well below the usual setting".to_owned();
        vec![Finding::of_zone(zone, format!("keloid in {}", plan.id), seen, action).in_pass(pass.number)]
    }),
    cleared: never,
};

pub(super) static ANTICOAGULANT_BLEEDING: Rule = Rule {
    id: RuleName::AnticoagulantBleeding,
    family: Family::Client,
    level: Level::Note,
    why: "Bruising and bleeding come more easily; the medicine is never stopped without its prescriber",
    source: "textbook chapter on Q-switched tattoo treatment; not stopping prescribed medicines is from memory",
    raise: Raise::Found(|c| {
        if !c.state.opened.plan.history.medicines.contains(&Medicine::Anticoagulant) {
            return Vec::new();
        }
        let bled = |(zone, plan, z): (usize, &crate::plan::Zone, &crate::session::ZoneState)| {
            let kinds = [Response::PinpointBleeding, Response::Purpura];
            kinds.iter().find_map(|k| z.marks.latest(*k))?;
            let seen = "Bleeding or bruising in a client who takes an anticoagulant".to_owned();
            let action = "Press and cool longer; tell the client to expect bruises".to_owned();
            Some(Finding::of_zone(zone, format!("anticoagulant in {}", plan.id), seen, action))
        };
        c.zones().filter_map(bled).collect()
    }),
    cleared: never,
};

pub(super) static LIGHT_SENSITIVE_EPILEPSY: Rule = Rule {
    id: RuleName::LightSensitiveEpilepsy,
    family: Family::Client,
    level: Level::Note,
    why: "Flashes can set off a seizure even through closed lids",
    source: "common practice; no published evidence was found",
    raise: Raise::Found(|c| {
        let epilepsy = c.state.opened.plan.history.conditions.contains(&Condition::EpilepsyLightSensitive);
        if !epilepsy || c.running().is_none() {
            return Vec::new();
        }
        let seen = "Light-sensitive epilepsy".to_owned();
        let action = "Opaque shields stay on until the last pulse; someone watches the client".to_owned();
        vec![Finding::of_session("epilepsy".to_owned(), seen, action)]
    }),
    cleared: |_: &Context<'_>, _: &AdviceEntry| None,
};

/// Checks near the limit, waits beyond it: nothing more may be given, and the item blocks the checklist meanwhile.
pub(super) static ANAESTHETIC_LIMIT: Rule = Rule {
    id: RuleName::AnaestheticLimit,
    family: Family::Client,
    level: Level::Wait,
    why: "All sources of lidocaine and prilocaine add up; too much harms heart and brain",
    source: "US labels of lidocaine 2.5 % and prilocaine 2.5 % cream and of lidocaine: limits, and the sum of all sources",
    raise: Raise::Found(|c| {
        let Some(a) = c.state.anaesthesia(c.ms) else { return Vec::new() };
        let near = c.numbers().anaesthetic_near_percent.value.value() / 100.0;
        if a.doses.is_empty() || a.judged.sum_of_limits < near {
            return Vec::new();
        }
        let seen = format!(
            "Anaesthetic: {} % of the limit in {} dose(s)",
            trimmed((100.0 * a.judged.sum_of_limits).ceil(), 0),
            a.doses.len()
        );
        let (level, action) = if a.judged.sum_of_limits > 1.0 + 1e-9 {
            (
                Level::Wait,
                "Give nothing more and fire no pulse. Watch the client; confirm with the prescriber and the label",
            )
        } else {
            (Level::Check, "Give no more without asking. Confirm with the prescriber and the label")
        };
        vec![Finding::of_session(format!("doses {}", a.doses.len()), seen, action.to_owned()).at(level)]
    }),
    cleared: |c, _| c.state.anaesthetics.is_empty().then(|| "no anaesthetic was given after all".to_owned()),
};
