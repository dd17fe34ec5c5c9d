//! Advice: one table of rules, each a pure function of what was planned, done and seen.
//!
//! Five levels are named by what the hand must do: STOP, LOWER, WAIT, CHECK, and NOTE for the record. An advice is
//! latched: it stays until it is answered or its clearing condition holds, and it is never raised twice for the same
//! evidence. A LOWER that stays unanswered while pulses go on becomes a STOP. A proposal is always reachable on the
//! device and never above a ceiling.

mod rules;

use crate::clock::Now;
use crate::plan::Zone;
use crate::session::{Advice, AdviceEntry, Event, Level, PassState, ResponseEntry, Scope, State, ZoneState};

pub use rules::RULES;

/// Families of rules, one file each.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Family {
    /// What the skin shows.
    SkinResponse,
    /// Dose and overlap.
    Dose,
    /// Waiting times.
    Timing,
}

/// One rule.
#[derive(Debug)]
pub struct Rule {
    /// Stable name.
    pub id: &'static str,
    /// Its family.
    pub family: Family,
    /// Level it raises, unless a finding says otherwise.
    pub level: Level,
    /// Where it comes from.
    pub source: &'static str,
    /// What it finds now. Evidence that an advice of this rule already rests on is dropped by [`evaluate`].
    pub raise: fn(&Context<'_>) -> Vec<Finding>,
    /// Why an open advice of this rule no longer holds, if it does not.
    pub cleared: fn(&Context<'_>, &AdviceEntry) -> Option<String>,
}

/// What a rule may look at.
#[derive(Debug, Clone, Copy)]
pub struct Context<'a> {
    /// The session.
    pub state: &'a State,
    /// Session time now.
    pub ms: u64,
}

/// What a rule found.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// The evidence; the same text is never raised twice by one rule.
    pub evidence: String,
    /// Another level than the rule's.
    pub level: Option<Level>,
    /// How far it reaches.
    pub scope: Scope,
    /// Zone index.
    pub zone: usize,
    /// Pass.
    pub pass: Option<u8>,
    /// What was seen.
    pub seen: String,
    /// What to do.
    pub action: String,
    /// Why.
    pub why: &'static str,
    /// Proposed setting.
    pub to: Option<crate::plan::Setting>,
}

impl<'a> Context<'a> {
    /// Zones with their plan and state.
    pub fn zones(&self) -> impl Iterator<Item = (usize, &'a Zone, &'a ZoneState)> {
        self.state.opened.plan.zones.iter().zip(&self.state.zones).enumerate().map(|(i, (p, z))| (i, p, z))
    }

    /// The running pass.
    #[must_use]
    pub fn running(&self) -> Option<(usize, &'a Zone, &'a ZoneState, &'a PassState)> {
        self.state.running()
    }

    /// Responses of a zone that this rule has not been answered for: seen after its last answer, and none while one of
    /// its advice for the zone is open.
    fn fresh(&self, rule: &str, zone: usize) -> impl Iterator<Item = &'a ResponseEntry> {
        let id = self.state.opened.plan.zones.get(zone).map(|z| &z.id);
        let of_rule =
            || self.state.advice.iter().filter(move |a| a.advice.rule == rule && a.advice.zone.as_ref() == id);
        let open = of_rule().any(AdviceEntry::is_open);
        let since = of_rule().filter_map(|a| a.settled_seq.or(Some(a.id))).max().unwrap_or(0);
        let responses = self.state.zones.get(zone).map(|z| z.responses.as_slice()).unwrap_or_default();
        responses.iter().filter(move |r| !open && r.seq > since)
    }
}

/// The events that the rules call for now: advice to clear, to escalate and to raise.
#[must_use]
pub fn evaluate(state: &State, now: Now) -> Vec<Event> {
    let context = Context { state, ms: state.session_ms(now) };
    if state.closed.is_some() {
        return Vec::new();
    }
    let mut events = Vec::new();
    for entry in state.advice.iter().filter(|a| a.is_open()) {
        let rule = RULES.iter().find(|r| r.id == entry.advice.rule);
        if let Some(why) = rule.and_then(|r| (r.cleared)(&context, entry)) {
            events.push(Event::AdviceCleared { advice: entry.id, why });
        } else if let Some(why) = escalation(&context, entry) {
            events.push(Event::AdviceEscalated { advice: entry.id, to: Level::Stop, why });
        }
    }
    for rule in RULES {
        for finding in (rule.raise)(&context) {
            let known = state.advice.iter().any(|a| a.advice.rule == rule.id && a.advice.evidence == finding.evidence);
            if !known {
                events.push(Event::AdviceRaised(Box::new(raised(state, rule, finding))));
            }
        }
    }
    events
}

fn raised(state: &State, rule: &Rule, f: Finding) -> Advice {
    Advice {
        rule: rule.id.to_owned(),
        level: f.level.unwrap_or(rule.level),
        scope: f.scope,
        zone: state.opened.plan.zones.get(f.zone).map(|z| z.id.clone()),
        pass: f.pass,
        evidence: f.evidence,
        seen: f.seen,
        action: f.action,
        why: f.why.to_owned(),
        from: state.zones.get(f.zone).map(|z| z.target),
        to: f.to,
        source: rule.source.to_owned(),
    }
}

fn escalation(context: &Context<'_>, entry: &AdviceEntry) -> Option<String> {
    let t = &context.state.opened.protocol.thresholds;
    if entry.level != Level::Lower || entry.pulses_since == 0 {
        return None;
    }
    let open_s = context.ms.saturating_sub(entry.raised_ms) as f64 / 1000.0;
    if entry.pulses_since >= u64::from(t.escalate_after_pulses.value) {
        Some(format!("{} pulses fired since LOWER was advised", entry.pulses_since))
    } else if open_s >= t.escalate_after_s.value.seconds() {
        Some(format!("LOWER unanswered for {} while pulses went on", t.escalate_after_s.value.words()))
    } else {
        None
    }
}
