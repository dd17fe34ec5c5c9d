//! What the rules rest on, kept up to date event by event, so that a long session costs no more than a short one.

use super::{AdviceEntry, ZoneState};
use crate::limits::LightTable;
use crate::plan::Setting;
use crate::session::Earlier;
use crate::session::event::{Level, Response};
use crate::words::Word;
use std::collections::{BTreeMap, HashMap, HashSet};

/// A response where and when it was seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Mark {
    /// Sequence number.
    pub seq: u64,
    /// Session time.
    pub ms: u64,
    /// Zone index.
    pub zone: usize,
    /// Pass.
    pub pass: u8,
    /// Pulses of the pass at that time.
    pub pulses: u64,
    /// Grade.
    pub grade: Option<u8>,
}

/// The latest response of each kind in a zone.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct ZoneMarks([Option<Mark>; Response::ALL.len()]);

impl ZoneMarks {
    /// The latest of a kind that was not taken back.
    #[must_use]
    pub fn latest(&self, kind: Response) -> Option<&Mark> {
        self.0.get(kind as usize)?.as_ref()
    }

    pub(super) fn set(&mut self, kind: Response, mark: Option<Mark>) {
        if let Some(slot) = self.0.get_mut(kind as usize) {
            *slot = mark;
        }
    }
}

/// A change of a zone's setting.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    /// Sequence number.
    pub seq: u64,
    /// Session time.
    pub ms: u64,
    /// Before.
    pub from: Setting,
    /// After.
    pub to: Setting,
    /// True when an advice was followed.
    pub advised: bool,
}

/// What happened in the session as a whole that a rule may rest on.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Happenings {
    /// The latest entries of pain, oldest first.
    pub pains: Vec<Mark>,
    /// Session time of the first pulse.
    pub first_pulse_ms: Option<u64>,
    /// The last resumption and how long nothing was recorded before it.
    pub resumed: Option<(u64, u64)>,
    /// The last reading that began anew.
    pub counter_restarted: Option<u64>,
    /// The last train that a gap of the clock ended.
    pub train_cut: Option<u64>,
    /// Conditions of the room answered no after the first pulse, with the answer's sequence number.
    pub withdrawn: BTreeMap<String, u64>,
    /// Light in this skin, once it was worked out.
    pub light: Option<LightTable>,
    /// What earlier sessions tell, once they were looked at.
    pub earlier: Option<Earlier>,
}

/// Entries of pain that are kept: as many as a protocol may ask for.
const PAINS_KEPT: usize = 10;

impl Happenings {
    pub(super) fn hurt(&mut self, mark: Mark) {
        if self.pains.len() >= PAINS_KEPT {
            self.pains.remove(0);
        }
        self.pains.push(mark);
    }

    pub(super) fn take_back(&mut self, seq: u64) {
        self.pains.retain(|m| m.seq != seq);
    }
}

impl ZoneState {
    /// Looks anew for the latest response of the kind that was taken back.
    pub(super) fn forget_response(&mut self, zone: usize, seq: u64) {
        let Some(at) = self.responses.iter().rposition(|r| r.seq == seq) else { return };
        let kind = self.responses.remove(at).kind;
        let before = self.responses.iter().rev().find(|r| r.kind == kind);
        let mark = before.map(|r| Mark { seq: r.seq, ms: r.ms, zone, pass: r.pass, pulses: r.pulses, grade: r.grade });
        self.marks.set(kind, mark);
    }
}

/// Advice found by what it is asked for.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct AdviceIndex {
    /// Positions of open advice, oldest first.
    pub(super) open: Vec<usize>,
    rules: HashMap<String, RuleTrace>,
}

#[derive(Debug, Clone, PartialEq, Default)]
struct RuleTrace {
    evidence: HashSet<String>,
    zones: HashMap<Option<usize>, ZoneTrace>,
}

/// What a rule has said about a zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct ZoneTrace {
    /// Open advice.
    pub open: u32,
    /// The last time it was raised or settled.
    pub since: u64,
}

impl AdviceIndex {
    pub(super) fn raised(&mut self, position: usize, entry: &AdviceEntry, zone: Option<usize>) {
        let rule = self.rules.entry(entry.advice.rule.clone()).or_default();
        rule.evidence.insert(entry.advice.evidence.clone());
        let trace = rule.zones.entry(zone).or_default();
        trace.since = trace.since.max(entry.id);
        if entry.level != Level::Note {
            trace.open += 1;
            self.open.push(position);
        }
    }

    pub(super) fn settled(&mut self, position: usize, rule: &str, zone: Option<usize>, seq: u64) {
        self.open.retain(|p| *p != position);
        if let Some(trace) = self.rules.get_mut(rule).and_then(|r| r.zones.get_mut(&zone)) {
            trace.open = trace.open.saturating_sub(1);
            trace.since = trace.since.max(seq);
        }
    }

    pub(super) fn trace(&self, rule: &str, zone: usize) -> ZoneTrace {
        self.rules.get(rule).and_then(|r| r.zones.get(&Some(zone))).copied().unwrap_or_default()
    }

    pub(super) fn knows(&self, rule: &str, evidence: &str) -> bool {
        self.rules.get(rule).is_some_and(|r| r.evidence.contains(evidence))
    }
}
