//! What the skin shows.

use super::super::{Context, Family, Finding, Rule};
use super::{lower_proposal, never};
use crate::session::{AdviceEntry, Level, Response, ResponseEntry, Scope};

/// Findings of one kind of response that lower or stop.
fn on_response(
    context: &Context<'_>,
    rule: &'static str,
    kind: Response,
    make: impl Fn(usize, &ResponseEntry) -> Finding,
) -> Vec<Finding> {
    let latest = |zone| context.fresh(rule, zone).filter(|r| r.kind == kind).last().map(|r| make(zone, r));
    context.zones().filter(|(_, _, z)| z.outcome.is_none()).filter_map(|(i, _, _)| latest(i)).collect()
}

fn lower(context: &Context<'_>, zone: usize, r: &ResponseEntry, seen: &str, also: &str, why: &'static str) -> Finding {
    let (to, words) = lower_proposal(context, zone);
    Finding {
        evidence: format!("entry {}", r.seq),
        level: to.is_none().then_some(Level::Stop),
        scope: Scope::Zone,
        zone,
        pass: Some(r.pass),
        seen: format!("{seen} at pulse {} of pass {}", r.pulses, r.pass),
        action: format!("{words}.{also}"),
        why,
        to,
    }
}

fn stop(zone: usize, r: &ResponseEntry, scope: Scope, seen: &str, action: &str, why: &'static str) -> Finding {
    Finding {
        evidence: format!("entry {}", r.seq),
        level: None,
        scope,
        zone,
        pass: Some(r.pass),
        seen: format!("{seen} at pulse {} of pass {}", r.pulses, r.pass),
        action: action.to_owned(),
        why,
        to: None,
    }
}

pub(super) static PINPOINT_BLEEDING: Rule = Rule {
    id: "pinpoint-bleeding",
    family: Family::SkinResponse,
    level: Level::Lower,
    source: "Khunger N et al., J Cutan Aesthet Surg 2015;8:30-36 lists it as a complication; the step is common practice",
    raise: |c| {
        on_response(c, "pinpoint-bleeding", Response::PinpointBleeding, |zone, r| {
            lower(
                c,
                zone,
                r,
                "Pinpoint bleeding",
                " Check that the handpiece stands on its spacer",
                "Small vessels rupture: the fluence at the skin is too high, or the handpiece is off its spacer",
            )
        })
    },
    cleared: never,
};

pub(super) static SPLATTER: Rule = Rule {
    id: "tissue-splatter",
    family: Family::SkinResponse,
    level: Level::Lower,
    source: "Murphy MJ, Lasers Surg Med 2018 (splatter measured); lowering is common practice",
    raise: |c| {
        on_response(c, "tissue-splatter", Response::Splatter, |zone, r| {
            lower(
                c,
                zone,
                r,
                "Tissue splatter",
                " Shield, mask and plume extraction in place?",
                "Ink and tissue are thrown out: more energy than the skin can hold",
            )
        })
    },
    cleared: never,
};

pub(super) static DARKENING: Rule = Rule {
    id: "darkening",
    family: Family::SkinResponse,
    level: Level::Stop,
    source: "Chang LY et al., Dermatol Sinica 2001;19:324-330",
    raise: |c| {
        on_response(c, "darkening", Response::Darkening, |zone, r| {
            stop(
                zone,
                r,
                Scope::Zone,
                "The ink turned darker",
                "Stop this zone. Do not treat the rest; photograph, wait and reassess",
                "Iron or titanium in the ink changes colour at once; more pulses darken more",
            )
        })
    },
    cleared: never,
};

pub(super) static SEPARATION: Rule = Rule {
    id: "epidermal-separation",
    family: Family::SkinResponse,
    level: Level::Stop,
    source: "Wanner M et al., J Am Acad Dermatol 2016;74:807-833 (from memory)",
    raise: |c| {
        on_response(c, "epidermal-separation", Response::Separation, |zone, r| {
            stop(
                zone,
                r,
                Scope::Zone,
                "The epidermis separates",
                "Stop this zone and treat it as a burn by the clinic's instructions",
                "The basal layer is damaged by heat; further passes deepen the wound",
            )
        })
    },
    cleared: never,
};

pub(super) static BLISTER: Rule = Rule {
    id: "blister",
    family: Family::SkinResponse,
    level: Level::Stop,
    source: "Kirby W et al., J Clin Aesthet Dermatol 2010;3(1):39-41",
    raise: |c| {
        on_response(c, "blister", Response::Blister, |zone, r| {
            stop(
                zone,
                r,
                Scope::Zone,
                "A blister",
                "Stop this zone. Leave the blister intact, cover it, plan a lower setting next time",
                "A blister is a sign of too much energy",
            )
        })
    },
    cleared: never,
};

pub(super) static WHEALS: Rule = Rule {
    id: "wheals",
    family: Family::SkinResponse,
    level: Level::Stop,
    source: "England RW et al., Ann Allergy Asthma Immunol 2002 (urticaria after treatment)",
    raise: |c| {
        on_response(c, "wheals", Response::Wheals, |zone, r| {
            stop(
                zone,
                r,
                Scope::Session,
                "Wheals",
                "Stop all zones. Observe; if breathing, face, tongue or circulation are affected, follow the clinic's emergency plan and call for help",
                "It may be the start of an allergic reaction to the ink",
            )
        })
    },
    cleared: never,
};

pub(super) static SYSTEMIC: Rule = Rule {
    id: "systemic-signs",
    family: Family::SkinResponse,
    level: Level::Stop,
    source: "common practice (emergency care of suspected anaphylaxis)",
    raise: |c| {
        on_response(c, "systemic-signs", Response::Systemic, |zone, r| {
            stop(
                zone,
                r,
                Scope::Session,
                "Signs beyond the skin",
                "EMERGENCY: laser off, follow the clinic's emergency plan, call for help now",
                "Breathlessness, dizziness or swelling of face or tongue can be anaphylaxis",
            )
        })
    },
    cleared: never,
};

/// Whitening is the end point of a working first pass; later passes may show none (Kossida T et al. 2012).
pub(super) static NO_WHITENING: Rule = Rule {
    id: "no-whitening",
    family: Family::SkinResponse,
    level: Level::Check,
    source: "Murphy MJ 2021 (nothing at all: fluence too low, wrong wavelength or laser fault); the count is common practice",
    raise: |c| {
        let expected = u64::from(c.state.opened.protocol.thresholds.whitening_expected_pulses.value);
        let check = |zone: usize, pass, seen: String, evidence: String| Finding {
            evidence,
            level: None,
            scope: Scope::Zone,
            zone,
            pass: Some(pass),
            seen,
            action:
                "Check the laser's output, the shutter and the wavelength against the ink. Do not raise to chase it"
                    .to_owned(),
            why: "The first pulses of a first pass normally whiten the ink at once",
            to: None,
        };
        let mut found = Vec::new();
        if let Some((zone, _, z, pass)) = c.running()
            && pass.number == 1
            && z.whitening.is_none()
        {
            let reported = z.responses.iter().find(|r| r.kind == Response::NoResponse && r.pass == 1);
            let known =
                |r: &str| c.state.advice.iter().any(|a| a.advice.rule == "no-whitening" && a.advice.evidence == r);
            let evidence =
                format!("first pulses of {}", c.state.opened.plan.zones.get(zone).map_or("", |z| z.id.as_str()));
            if known(&evidence) {
                return found;
            }
            if let Some(r) = reported {
                found.push(check(zone, 1, format!("No response after {} pulses of pass 1", r.pulses), evidence));
            } else if expected > 0 && pass.counted >= expected {
                found.push(check(
                    zone,
                    1,
                    format!("No whitening noted after {} pulses of pass 1", pass.counted),
                    evidence,
                ));
            }
        }
        found
    },
    cleared: |c, entry: &AdviceEntry| {
        let zone = entry.advice.zone.as_ref().and_then(|id| c.state.zone_index(id))?;
        c.state.zones.get(zone)?.whitening.map(|_| "whitening was noted".to_owned())
    },
};

pub(super) static NO_RESPONSE_LATER: Rule = Rule {
    id: "no-response-later-pass",
    family: Family::SkinResponse,
    level: Level::Note,
    source: "Kossida T et al., J Am Acad Dermatol 2012;66:271-277",
    raise: |c| {
        let later = |zone| {
            c.fresh("no-response-later-pass", zone).filter(|r| r.kind == Response::NoResponse && r.pass > 1).last().map(
                |r| Finding {
                    evidence: format!("entry {}", r.seq),
                    level: None,
                    scope: Scope::Zone,
                    zone,
                    pass: Some(r.pass),
                    seen: format!("No response in pass {}", r.pass),
                    action: "Nothing to do: do not raise the setting".to_owned(),
                    why: "Little or no whitening is normal after the first pass",
                    to: None,
                },
            )
        };
        c.zones().filter_map(|(i, _, _)| later(i)).collect()
    },
    cleared: never,
};
