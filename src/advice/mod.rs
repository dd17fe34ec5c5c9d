//! Advice: one table of rules, each a pure function of what was planned, done and seen.
//!
//! Five levels are named by what the hand must do: STOP, LOWER, WAIT, CHECK, and NOTE for the record. An advice is
//! latched: it stays until it is answered or its clearing condition holds, and it is never raised twice for the same
//! evidence. What was seen once raises one advice, the most fitting. A LOWER that stays unanswered while pulses go on
//! becomes a STOP. A proposal is always reachable on the device, never above a ceiling, and never brings more light to
//! the epidermis than what it replaces.

mod last_time;
mod propose;
mod rules;

use crate::clock::Now;
use crate::plan::{Setting, Zone};
use crate::protocol::{RuleName, RuleNumbers, Thresholds};
use crate::session::{Advice, AdviceEntry, Event, Level, Mark, PassState, Response, Scope, State, ZoneState};
use crate::words::Word;

pub use last_time::{LastTime, last_time, last_times};
pub use rules::RULES;

/// What an advice calls the screen of the checklist, so that whoever shows it can add its key.
pub const CHECKS_SCREEN: &str = "checks screen";
/// What an advice calls the screen of the read-back.
pub const SETTINGS_SCREEN: &str = "settings screen";

/// Families of rules, one file each.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Family {
    /// What the skin shows.
    SkinResponse,
    /// Dose and overlap.
    Dose,
    /// Waiting times.
    Timing,
    /// What the device is set to.
    Settings,
    /// The client and what came before.
    Client,
    /// The room and the device.
    Room,
}

/// One rule.
#[derive(Debug)]
pub struct Rule {
    /// Its name.
    pub id: RuleName,
    /// Its family.
    pub family: Family,
    /// Level it raises, unless a finding says otherwise.
    pub level: Level,
    /// Why it says what it says.
    pub why: &'static str,
    /// Where it comes from.
    pub source: &'static str,
    /// What raises it.
    pub raise: Raise,
    /// Why an open advice of this rule no longer holds, if it does not.
    pub cleared: fn(&Context<'_>, &AdviceEntry) -> Option<String>,
}

/// What raises a rule.
#[derive(Debug)]
pub enum Raise {
    /// A response that was seen. Of the rules for one response the first whose condition holds speaks.
    Seen(Sight),
    /// What it finds now. Evidence that an advice of this rule already rests on is dropped.
    Found(fn(&Context<'_>) -> Vec<Finding>),
}

/// A rule that rests on a response.
#[derive(Debug)]
pub struct Sight {
    /// The response.
    pub kind: Response,
    /// When it speaks.
    pub when: fn(&Context<'_>, &Seen<'_>) -> bool,
    /// What was seen, in words.
    pub words: &'static str,
    /// What it proposes.
    pub does: Does,
    /// What to do, after a proposal if there is one.
    pub action: &'static str,
}

/// What a rule that rests on a response does about the setting.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Does {
    /// Nothing.
    Say(Scope),
    /// Proposes a setting lower by the protocol's step.
    Lower,
    /// Proposes a setting lower by the protocol's larger step.
    LowerAgain,
}

/// A response with the zone it was seen in.
#[derive(Debug, Clone, Copy)]
pub struct Seen<'a> {
    /// Zone index.
    pub index: usize,
    /// Its plan.
    pub plan: &'a Zone,
    /// Its state.
    pub zone: &'a ZoneState,
    /// The response.
    pub mark: Mark,
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
    /// Zone index; none for the session as a whole.
    pub zone: Option<usize>,
    /// Pass.
    pub pass: Option<u8>,
    /// What was seen.
    pub seen: String,
    /// What to do.
    pub action: String,
    /// Proposed setting.
    pub to: Option<Setting>,
    /// Another setting that may be chosen instead.
    pub alternative: Option<Setting>,
}

impl Finding {
    /// About one zone.
    fn of_zone(zone: usize, evidence: String, seen: String, action: String) -> Self {
        Self {
            evidence,
            level: None,
            scope: Scope::Zone,
            zone: Some(zone),
            pass: None,
            seen,
            action,
            to: None,
            alternative: None,
        }
    }

    /// About the session.
    fn of_session(evidence: String, seen: String, action: String) -> Self {
        Self { scope: Scope::Session, zone: None, ..Self::of_zone(0, evidence, seen, action) }
    }

    fn in_pass(self, pass: u8) -> Self {
        Self { pass: Some(pass), ..self }
    }

    fn at(self, level: Level) -> Self {
        Self { level: Some(level), ..self }
    }
}

impl<'a> Context<'a> {
    /// Zones with their plan and state.
    pub fn zones(&self) -> impl Iterator<Item = (usize, &'a Zone, &'a ZoneState)> + use<'a> {
        self.state.opened.plan.zones.iter().zip(&self.state.zones).enumerate().map(|(i, (p, z))| (i, p, z))
    }

    /// The running pass.
    #[must_use]
    pub fn running(&self) -> Option<(usize, &'a Zone, &'a ZoneState, &'a PassState)> {
        self.state.running()
    }

    /// The protocol's numbers.
    #[must_use]
    pub const fn thresholds(&self) -> &'a Thresholds {
        &self.state.opened.protocol.thresholds
    }

    /// The numbers of single rules.
    #[must_use]
    pub const fn numbers(&self) -> &'a RuleNumbers {
        &self.thresholds().rules
    }

    /// The zone that an advice is about.
    fn zone_of(&self, entry: &AdviceEntry) -> Option<(usize, &'a Zone, &'a ZoneState)> {
        let index = entry.advice.zone.as_ref().and_then(|id| self.state.zone_index(id))?;
        self.state.zone(index).map(|(plan, z)| (index, plan, z))
    }
}

/// The events that the rules call for now: advice to clear, to escalate and to raise. A pure function of the events so
/// far and the time; its cost does not grow with the length of the session.
#[must_use]
pub fn evaluate(state: &State, now: Now) -> Vec<Event> {
    let context = Context { state, ms: state.session_ms(now) };
    if state.closed.is_some() {
        return Vec::new();
    }
    let mut events = Vec::new();
    for entry in state.open_in_order() {
        let rule = RULES.iter().find(|r| r.id.word() == entry.advice.rule);
        if let Some(why) = rule.and_then(|r| (r.cleared)(&context, entry)) {
            events.push(Event::AdviceCleared { advice: entry.id, why });
        } else if let Some(why) = escalation(&context, entry) {
            events.push(Event::AdviceEscalated { advice: entry.id, to: Level::Stop, why });
        }
    }
    let mut raised = Vec::new();
    rules::on_sight(&context, &mut raised);
    for rule in RULES {
        if let Raise::Found(find) = &rule.raise {
            raised.extend(find(&context).into_iter().map(|f| (*rule, f)));
        }
    }
    let mut said: Vec<String> = Vec::new();
    for (rule, finding) in raised {
        // What was seen once raises one advice, whatever the rule; other evidence belongs to its rule.
        let known = state.knows_evidence(rule.id.word(), &finding.evidence)
            || finding.evidence.starts_with(ENTRY) && said.contains(&finding.evidence);
        if !known {
            said.push(finding.evidence.clone());
            events.push(Event::AdviceRaised(Box::new(advice(state, rule, finding))));
        }
    }
    events
}

/// How evidence begins that is an entry of the journal.
const ENTRY: &str = "entry ";

fn advice(state: &State, rule: &Rule, f: Finding) -> Advice {
    let own = f.level.unwrap_or(rule.level);
    let wanted = state.opened.protocol.rules.iter().find(|c| c.rule == rule.id).map(|c| c.at_least);
    let zone = f.zone.and_then(|i| state.zone(i));
    Advice {
        rule: rule.id.to_string(),
        level: wanted.map_or(own, |level| own.max(level)),
        scope: f.scope,
        zone: zone.map(|(plan, _)| plan.id.clone()),
        pass: f.pass,
        evidence: f.evidence,
        seen: f.seen,
        action: f.action,
        why: rule.why.to_owned(),
        from: zone.map(|(_, z)| z.target),
        to: f.to,
        alternative: f.alternative,
        source: rule.source.to_owned(),
    }
}

fn escalation(context: &Context<'_>, entry: &AdviceEntry) -> Option<String> {
    let t = context.thresholds();
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
