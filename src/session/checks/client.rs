//! What the client's history says.
//!
//! Classes follow Aurangabadkar S, Mysore V, Indian J Dermatol Venereol Leprol 2009;75(8):111-126 unless a line says
//! otherwise; section 7 of the trade's facts lists the others.

use super::Computed;
use crate::plan::{Condition, Medicine, Tan};
use crate::session::event::{Opened, Verdict};
use crate::units::trimmed;

/// Gold at any time: blue-grey macules after Q-switched pulses up to 26 years after the last dose
/// (Cohen PR, Ross EV, J Clin Aesthet Dermatol 2015;8(9):48-53); gold threads: Ann Dermatol 2019;31:78-80.
pub(super) fn gold(o: &Opened) -> Computed {
    let history = &o.plan.history;
    if history.medicines.contains(&Medicine::Gold) {
        Computed::of(
            Verdict::HardStop,
            "gold therapy in the history: short pulses can turn the skin blue-grey for good, even decades later. Do not treat; refer",
        )
    } else if history.conditions.contains(&Condition::GoldThreads) {
        Computed::of(
            Verdict::HardStop,
            "gold threads under the skin: short pulses can mark them through. Do not treat; refer",
        )
    } else {
        Computed::pass("no gold in the history")
    }
}

/// Interval: at least 6 weeks in a cohort of 352 people, 8 weeks or less linked to lower success
/// (Bencini PL et al., Arch Dermatol 2012;148:1364-1369).
pub(super) fn interval(o: &Opened) -> Computed {
    let Some(last) = o.plan.history.last_session else {
        return Computed::pass("first session");
    };
    let days = (o.date - last).num_days();
    let weeks = |d: f64| trimmed(d / 7.0, 1);
    let t = &o.protocol.thresholds;
    let advised = t.interval_advised(o.plan.client.skin);
    let days_of = |s: f64| s / 86_400.0;
    let d = days as f64;
    let (least, advised) = (days_of(t.interval_min_s.value.seconds()), days_of(advised.value.seconds()));
    if days < 0 {
        Computed::of(Verdict::Block, format!("the last session, {last}, lies after today, {}; check the plan", o.date))
    } else if d < least {
        Computed::of(
            Verdict::Block,
            format!("{} weeks since the last session; the protocol asks for at least {}", weeks(d), weeks(least)),
        )
    } else if d < advised {
        Computed::of(
            Verdict::Warn,
            format!(
                "{} weeks since the last session; {} are advised for skin type {}",
                weeks(d),
                weeks(advised),
                o.plan.client.skin
            ),
        )
    } else {
        Computed::pass(format!("{} weeks since the last session", weeks(d)))
    }
}

pub(super) fn tan(o: &Opened) -> Computed {
    match o.plan.history.tan {
        Tan::None => Computed::pass("no tan"),
        Tan::Fading => Computed::of(Verdict::Warn, "a fading tan: more risk to pigment; start low or postpone"),
        Tan::Visible => {
            Computed::of(Verdict::Block, "a visible tan, sunburn or self-tanner: postpone until it has gone")
        }
    }
}

pub(super) fn age(o: &Opened) -> Computed {
    let (age, least) = (u32::from(o.plan.client.age_years), o.protocol.thresholds.age_min_years.value);
    if age < least {
        Computed::of(
            Verdict::Block,
            format!("{age} years old; the protocol treats from {least}. Local law on consent comes first"),
        )
    } else {
        Computed::pass(format!("{age} years old"))
    }
}

pub(super) fn conditions(o: &Opened) -> Computed {
    let findings = o
        .plan
        .history
        .conditions
        .iter()
        .filter_map(|c| {
            Some(match c {
                Condition::PhotoAggravated => (Verdict::Block, "photo-aggravated disease: refer"),
                Condition::VitiligoUnstable => (Verdict::Block, "unstable vitiligo: postpone until stable"),
                Condition::PsoriasisActive => (Verdict::Block, "active psoriasis: postpone until stable"),
                Condition::InkReaction => {
                    (Verdict::HardStop, "allergic or granulomatous reaction to the ink: do not treat; refer")
                }
                Condition::Keloid => (Verdict::Warn, "keloid tendency: test spot, lower fluence"),
                Condition::Herpes => (Verdict::Warn, "herpes at the site: ask the prescriber about prevention"),
                Condition::Pregnancy => (Verdict::Block, "pregnancy: postpone until after delivery"),
                Condition::BreastFeeding => (Verdict::Warn, "breast-feeding: check the anaesthetic"),
                Condition::EpilepsyLightSensitive => {
                    (Verdict::Warn, "light-sensitive epilepsy: opaque eye shields for the whole time")
                }
                Condition::DiabetesUncontrolled => (Verdict::Warn, "diabetes not controlled: slower healing"),
                Condition::Methaemoglobinaemia => {
                    (Verdict::Warn, "methaemoglobinaemia or G6PD deficiency: no prilocaine cream")
                }
                // Belongs to the gold item.
                Condition::GoldThreads => return None,
            })
        })
        .map(|(v, t)| (v, t.to_owned()))
        .collect();
    Computed::worst(findings, "no condition that matters")
}

/// Isotretinoin warns and does not block: Waldman A et al., Dermatol Surg 2017;43:1249-1262.
pub(super) fn medicines(o: &Opened) -> Computed {
    let findings = o
        .plan
        .history
        .medicines
        .iter()
        .filter_map(|m| {
            Some(match m {
                Medicine::Isotretinoin => "isotretinoin within six months: label and consensus differ; start low",
                Medicine::TopicalRetinoid => "retinoid on the skin: stop two weeks before",
                Medicine::Photosensitiser => {
                    "a photosensitising drug: check which, and its wavelengths, with the prescriber"
                }
                Medicine::Anticoagulant => "anticoagulant: expect bruising; never stop it without the prescriber",
                Medicine::Immunosuppressant => "immunosuppressant: slower healing and clearance",
                Medicine::AntiarrhythmicClassIii => {
                    "class III anti-arrhythmic: ask the prescriber before anaesthetic cream"
                }
                // Belongs to the gold item.
                Medicine::Gold => return None,
            })
        })
        .map(|t| (Verdict::Warn, t.to_owned()))
        .collect();
    Computed::worst(findings, "no medicine that matters")
}
