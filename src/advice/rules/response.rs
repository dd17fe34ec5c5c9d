//! What the skin shows.

use super::super::{Context, Does, Family, Finding, Raise, Rule, SETTINGS_SCREEN, Seen, Sight};
use super::{always, never};
use crate::protocol::RuleName;
use crate::session::{AdviceEntry, Level, Response, Scope};
use crate::units::trimmed;

/// Wavelengths below this are taken up by blood: haemoglobin's strong bands end near 600 nm (the chromophore tables of
/// `physics/optics`).
const BLOOD_BELOW_NM: f64 = 600.0;

pub(super) static SYSTEMIC_SIGNS: Rule = Rule {
    id: RuleName::SystemicSigns,
    family: Family::SkinResponse,
    level: Level::Stop,
    why: "Breathlessness, dizziness or swelling of face or tongue can be anaphylaxis",
    source: "common practice (emergency care of suspected anaphylaxis)",
    raise: Raise::Seen(Sight {
        kind: Response::Systemic,
        when: always,
        words: "Signs beyond the skin",
        does: Does::Say(Scope::Session),
        action: "EMERGENCY: laser off, follow the clinic's emergency plan, call for help now",
    }),
    cleared: never,
};

pub(super) static WHEALS: Rule = Rule {
    id: RuleName::Wheals,
    family: Family::SkinResponse,
    level: Level::Stop,
    why: "It may be the start of an allergic reaction to the ink",
    source: "England RW et al., Ann Allergy Asthma Immunol 2002 (urticaria after treatment); J Drugs Dermatol 2015 (before pass 2)",
    raise: Raise::Seen(Sight {
        kind: Response::Wheals,
        when: always,
        words: "Wheals",
        does: Does::Say(Scope::Session),
        action: "Stop all zones. Observe; if breathing, face, tongue or circulation are affected, follow the clinic's emergency plan and call for help",
    }),
    cleared: never,
};

pub(super) static EPIDERMAL_SEPARATION: Rule = Rule {
    id: RuleName::EpidermalSeparation,
    family: Family::SkinResponse,
    level: Level::Stop,
    why: "The basal layer is damaged by heat; further passes deepen the wound",
    source: "Wanner M et al., J Am Acad Dermatol 2016;74:807-833 (from memory)",
    raise: Raise::Seen(Sight {
        kind: Response::Separation,
        when: always,
        words: "The epidermis separates",
        does: Does::Say(Scope::Zone),
        action: "Stop this zone and treat it as a burn by the clinic's instructions",
    }),
    cleared: never,
};

pub(super) static BLISTER: Rule = Rule {
    id: RuleName::Blister,
    family: Family::SkinResponse,
    level: Level::Stop,
    why: "A blister is a sign of too much energy",
    source: "Kirby W et al., J Clin Aesthet Dermatol 2010;3(1):39-41",
    raise: Raise::Seen(Sight {
        kind: Response::Blister,
        when: always,
        words: "A blister",
        does: Does::Say(Scope::Zone),
        action: "Stop this zone. Leave the blister intact, cover it, plan a lower setting next time",
    }),
    cleared: never,
};

pub(super) static DARKENING: Rule = Rule {
    id: RuleName::Darkening,
    family: Family::SkinResponse,
    level: Level::Stop,
    why: "Iron or titanium in the ink changes colour at once; more pulses darken more",
    source: "Chang LY et al., Dermatol Sinica 2001;19:324-330",
    raise: Raise::Seen(Sight {
        kind: Response::Darkening,
        when: always,
        words: "The ink turned darker",
        does: Does::Say(Scope::Zone),
        action: "Stop this zone. Do not treat the rest; photograph, wait and reassess",
    }),
    cleared: never,
};

pub(super) static SPARKS_OR_PITS: Rule = Rule {
    id: RuleName::SparksOrPits,
    family: Family::SkinResponse,
    level: Level::Stop,
    why: "Powder in the skin ignites: each pulse leaves a bleeding pit, and later a scar",
    source: "Dermatol Surg 2000;26:1057-1059: sparks and pits at 4 to 6 J/cm2, 1064 nm",
    raise: Raise::Seen(Sight {
        kind: Response::Sparks,
        when: always,
        words: "Sparks, or pits that bleed",
        does: Does::Say(Scope::Zone),
        action: "Stop this zone: there may be gunpowder or firework powder in the skin. No further pulse; refer",
    }),
    cleared: never,
};

pub(super) static BLUE_GREY: Rule = Rule {
    id: RuleName::BlueGrey,
    family: Family::SkinResponse,
    level: Level::Stop,
    why: "Gold in the skin turns blue-grey under short pulses, for good, even decades after the therapy",
    source: "Cohen PR, Ross EV, J Clin Aesthet Dermatol 2015;8(9):48-53",
    raise: Raise::Seen(Sight {
        kind: Response::BlueGrey,
        when: always,
        words: "Blue-grey spots",
        does: Does::Say(Scope::Session),
        action: "Stop all zones: no further short pulse. Ask about gold, by mouth or injected, ever; refer",
    }),
    cleared: never,
};

pub(super) static BLEEDING_PERSISTS: Rule = Rule {
    id: RuleName::BleedingPersists,
    family: Family::SkinResponse,
    level: Level::Stop,
    why: "Two lower settings did not end it: skin, setting or device are not what they seem",
    source: "common practice",
    raise: Raise::Seen(Sight {
        kind: Response::PinpointBleeding,
        when: |_, s| s.zone.lowered_for_bleeding >= 2,
        words: "Pinpoint bleeding again, after two lowerings",
        does: Does::Say(Scope::Zone),
        action: "Stop this zone. Have output and spot of the laser checked, and plan a lower start next time",
    }),
    cleared: never,
};

pub(super) static BLEEDING_AFTER_LOWERING: Rule = Rule {
    id: RuleName::BleedingAfterLowering,
    family: Family::SkinResponse,
    level: Level::Lower,
    why: "One step lower was not enough, or the handpiece stands off the skin",
    source: "Khunger N et al., J Cutan Aesthet Surg 2015;8:30-36 lists bleeding as a complication; the larger step is common practice",
    raise: Raise::Seen(Sight {
        kind: Response::PinpointBleeding,
        when: |_, s| s.zone.lowered_for_bleeding == 1,
        words: "Pinpoint bleeding again, after a lowering",
        does: Does::LowerAgain,
        action: "Check the spacer and the spot on the skin first; then compare the output",
    }),
    cleared: never,
};

pub(super) static BLEEDING_OFF_SPACER: Rule = Rule {
    id: RuleName::BleedingOffSpacer,
    family: Family::SkinResponse,
    level: Level::Check,
    why: "Off its spacer the beam meets the skin near its waist: a tiny spot of high fluence that bleeds even without ink",
    source: "Murphy MJ (textbook and posts, 2021): stand-off error",
    raise: Raise::Seen(Sight {
        kind: Response::PinpointBleeding,
        when: off_spacer_before,
        words: "Pinpoint bleeding with the handpiece off its spacer",
        does: Does::Say(Scope::Zone),
        action: "Set the spacer flat on the skin and look at the next pulses. If it bleeds again, lower",
    }),
    cleared: never,
};

pub(super) static PINPOINT_BLEEDING: Rule = Rule {
    id: RuleName::PinpointBleeding,
    family: Family::SkinResponse,
    level: Level::Lower,
    why: "Small vessels rupture: the fluence at the skin is too high, or the handpiece is off its spacer",
    source: "Khunger N et al., J Cutan Aesthet Surg 2015;8:30-36 lists it as a complication; the step is common practice",
    raise: Raise::Seen(Sight {
        kind: Response::PinpointBleeding,
        when: always,
        words: "Pinpoint bleeding",
        does: Does::Lower,
        action: "Check that the handpiece stands on its spacer",
    }),
    cleared: never,
};

pub(super) static TISSUE_SPLATTER: Rule = Rule {
    id: RuleName::TissueSplatter,
    family: Family::SkinResponse,
    level: Level::Lower,
    why: "Ink and tissue are thrown out: more energy than the skin can hold",
    source: "Murphy MJ, Lasers Surg Med 2018 (splatter measured); lowering is common practice",
    raise: Raise::Seen(Sight {
        kind: Response::Splatter,
        when: always,
        words: "Tissue splatter",
        does: Does::Lower,
        action: "Shield, mask and plume extraction in place?",
    }),
    cleared: never,
};

pub(super) static WET_SURFACE: Rule = Rule {
    id: RuleName::WetSurface,
    family: Family::SkinResponse,
    level: Level::Lower,
    why: "A wet surface is the first sign that the epidermis lets go",
    source: "Wanner M et al., J Am Acad Dermatol 2016;74:807-833 (from memory); 20 to 30 % down is a convention",
    raise: Raise::Seen(Sight {
        kind: Response::WetSurface,
        when: always,
        words: "The surface is wet",
        does: Does::LowerAgain,
        action: "Stop the zone if the surface slides",
    }),
    cleared: never,
};

pub(super) static WIDE_PURPURA_532: Rule = Rule {
    id: RuleName::WidePurpura532,
    family: Family::SkinResponse,
    level: Level::Lower,
    why: "Blood takes up this wavelength: vessels are hurt before the ink is",
    source: "Kossida T et al. 2012 (purpura, transient); lower, larger spot or longer wavelength when wide: from memory",
    raise: Raise::Seen(Sight {
        kind: Response::Purpura,
        when: |_, s| s.zone.target.wavelength.nm() < BLOOD_BELOW_NM,
        words: "Wide purpura",
        does: Does::Lower,
        action: "A larger spot or a longer wavelength, if the ink takes it up, also spares the vessels",
    }),
    cleared: never,
};

pub(super) static WIDE_PURPURA: Rule = Rule {
    id: RuleName::WidePurpura,
    family: Family::SkinResponse,
    level: Level::Check,
    why: "Some bruising is expected and passes; wide bruising asks for less",
    source: "Kossida T et al., J Am Acad Dermatol 2012;66:271-277 (more purpura after four passes, no lasting harm)",
    raise: Raise::Seen(Sight {
        kind: Response::Purpura,
        when: always,
        words: "Purpura",
        does: Does::Say(Scope::Zone),
        action: "Look how far it reaches. If it is wide, lower the fluence or take a larger spot",
    }),
    cleared: never,
};

pub(super) static WHITENING_FIERCE: Rule = Rule {
    id: RuleName::WhiteningFierce,
    family: Family::SkinResponse,
    level: Level::Lower,
    why: "The lowest fluence that whitens at once is enough; more only hurts the skin",
    source: "Kurniadi I et al., Dermatol Ther 2021;34:e14418: the lowest fluence with immediate whitening",
    raise: Raise::Seen(Sight {
        kind: Response::Whitening,
        when: |_, s| s.mark.grade == Some(3),
        words: "Fierce whitening",
        does: Does::Lower,
        action: "Clear whitening is what is wanted, not more",
    }),
    cleared: never,
};

pub(super) static MARKED_SWELLING: Rule = Rule {
    id: RuleName::MarkedSwelling,
    family: Family::SkinResponse,
    level: Level::Wait,
    why: "Swelling is expected up to two days; marked swelling under the hand moves the skin off the spacer",
    source: "Newcastle Hospitals NHS leaflet (swelling up to 48 h); Saedi N et al. 2012; the pause is common practice",
    raise: Raise::Seen(Sight {
        kind: Response::Swelling,
        when: |_, s| s.mark.grade == Some(3),
        words: "Marked swelling",
        does: Does::Say(Scope::Zone),
        action: "Pause and cool. Look for wheals before going on",
    }),
    cleared: never,
};

pub(super) static PAIN_SEVERE: Rule = Rule {
    id: RuleName::PainSevere,
    family: Family::SkinResponse,
    level: Level::Wait,
    why: "Pain this strong makes people move, and may mean too much energy",
    source: "common practice; the grade is the protocol's",
    raise: Raise::Seen(Sight {
        kind: Response::Pain,
        when: |c, s| s.mark.grade.is_some_and(|g| u32::from(g) >= c.numbers().pain_severe_grade.value),
        words: "Pain",
        does: Does::Say(Scope::Zone),
        action: "Pause and cool. Ask whether to go on; add no anaesthetic beyond its limit",
    }),
    cleared: never,
};

pub(super) static PAIN_RISING: Rule = Rule {
    id: RuleName::PainRising,
    family: Family::SkinResponse,
    level: Level::Wait,
    why: "Rising pain is heat that adds up, or an anaesthetic that wears off",
    source: "common practice; the number of entries is the protocol's",
    raise: Raise::Seen(Sight {
        kind: Response::Pain,
        when: pain_rises,
        words: "Pain, rising from entry to entry,",
        does: Does::Say(Scope::Zone),
        action: "Pause and cool. Lower the setting if it goes on rising",
    }),
    cleared: never,
};

/// A handpiece that left its spacer in this pass, and no bleeding since that was put down to it.
fn off_spacer_before(c: &Context<'_>, s: &Seen<'_>) -> bool {
    let said = c.state.advice_trace("bleeding-off-spacer", s.index).since;
    s.zone
        .marks
        .latest(Response::OffSpacer)
        .is_some_and(|o| o.pass == s.mark.pass && o.seq < s.mark.seq && o.seq > said)
}

/// As many entries as the protocol asks for, each above the one before, the last of them this one.
fn pain_rises(c: &Context<'_>, s: &Seen<'_>) -> bool {
    let pains = &c.state.happenings.pains;
    let n = c.numbers().pain_rising_entries.value as usize;
    let last = pains.get(pains.len().saturating_sub(n)..).unwrap_or_default();
    last.len() == n
        && last.last().is_some_and(|m| m.seq == s.mark.seq)
        && last.iter().zip(last.iter().skip(1)).all(|(a, b)| a.grade < b.grade)
}

/// Whitening is the end point of a working first pass; later passes may show none (Kossida T et al. 2012).
pub(super) static NO_WHITENING: Rule = Rule {
    id: RuleName::NoWhitening,
    family: Family::SkinResponse,
    level: Level::Check,
    why: "The first pulses of a first pass normally whiten the ink at once",
    source: "Murphy MJ 2021 (nothing at all: fluence too low, wrong wavelength or laser fault); the count is common practice",
    raise: Raise::Found(|c| {
        let Some((zone, plan, z, pass)) = c.running() else { return Vec::new() };
        let expected = u64::from(c.thresholds().whitening_expected_pulses.value);
        if pass.number != 1 || z.whitening.is_some() {
            return Vec::new();
        }
        let reported = z.marks.latest(Response::NoResponse).filter(|m| m.pass == 1);
        let seen = match reported {
            Some(m) => format!("No response after {} pulses of pass 1", m.pulses),
            None if expected > 0 && pass.counted >= expected => {
                format!("No whitening noted after {} pulses of pass 1", pass.counted)
            }
            None => return Vec::new(),
        };
        let action =
            "Check the laser's output, the shutter and the wavelength against the ink. Do not raise to chase it";
        let evidence = format!("first pulses of {}", plan.id);
        vec![Finding::of_zone(zone, evidence, seen, action.to_owned()).in_pass(1)]
    }),
    cleared: whitening_noted,
};

fn whitening_noted(c: &Context<'_>, entry: &AdviceEntry) -> Option<String> {
    let (_, _, z) = c.zone_of(entry)?;
    z.whitening.map(|_| "whitening was noted".to_owned())
}

/// Nothing for minutes in a first pass: the only place where a step up is spoken of, as the operator's decision and only
/// below the ceiling. It is no proposal: no key takes it.
pub(super) static NO_WHITENING_AFTER_WAIT: Rule = Rule {
    id: RuleName::NoWhiteningAfterWait,
    family: Family::SkinResponse,
    level: Level::Check,
    why: "Some answers take minutes; none at all means too little light, the wrong wavelength or a faulty laser",
    source: "Murphy MJ 2021: nothing after 10 minutes: check output and wavelength, then step up",
    raise: Raise::Found(|c| {
        let Some((zone, plan, z, pass)) = c.running() else { return Vec::new() };
        let waited_s = c.ms.saturating_sub(pass.started_ms) as f64 / 1000.0;
        let wait = c.numbers().no_response_wait_s.value;
        if pass.number != 1 || pass.counted == 0 || z.whitening.is_some() || waited_s < wait.seconds() {
            return Vec::new();
        }
        let o = &c.state.opened;
        let limit = crate::limits::fluence_limit(&z.target, o.plan.client.skin, &o.device, &o.protocol).ok();
        let step = o.device.ladder(&z.target).and_then(|l| l.above(z.target.fluence));
        let room = match (step, limit) {
            (Some(step), Some(limit)) if step.j_cm2() <= limit.fluence_j_cm2 => {
                format!(
                    "within the protocol's ceiling one step, to {step}, is left for you to decide on the {SETTINGS_SCREEN}"
                )
            }
            (_, Some(limit)) => {
                format!("no step is left: {} J/cm2 is {}", trimmed(limit.fluence_j_cm2, 2), limit.reason)
            }
            _ => "no step is left".to_owned(),
        };
        let seen = format!("Still no whitening {} after pass 1 began, {} pulses", wait.words(), pass.counted);
        let action = format!("Check output, shutter and wavelength. If all are right, {room}");
        let evidence = format!("first wait of {}", plan.id);
        vec![Finding::of_zone(zone, evidence, seen, action).in_pass(1)]
    }),
    cleared: whitening_noted,
};

pub(super) static NO_RESPONSE_LATER_PASS: Rule = Rule {
    id: RuleName::NoResponseLaterPass,
    family: Family::SkinResponse,
    level: Level::Note,
    why: "Little or no whitening is normal after the first pass",
    source: "Kossida T et al., J Am Acad Dermatol 2012;66:271-277",
    raise: Raise::Seen(Sight {
        kind: Response::NoResponse,
        when: |_, s| s.mark.pass > 1,
        words: "No response",
        does: Does::Say(Scope::Zone),
        action: "Nothing to do: do not raise the setting",
    }),
    cleared: never,
};
