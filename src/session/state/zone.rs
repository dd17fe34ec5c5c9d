//! What was done and seen in one zone.

use super::evidence::{Change, ZoneMarks};
use super::patterns::Patterns;
use crate::coverage::Pattern;
use crate::plan::{DisplayedSetting, Setting, Zone};
use crate::session::FreeText;
use crate::session::event::{Difference, PulseSource, Response, ZoneOutcome};
use crate::units::SpotDiameter;
use chrono::{DateTime, FixedOffset};
use std::sync::Arc;

/// A zone as it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct ZoneState {
    /// The setting to be used: the plan's, or what it was changed to.
    pub target: Setting,
    /// What the device displayed when it last agreed with the target; none while a read-back is owed.
    pub confirmed: Option<DisplayedSetting>,
    /// What differed at the last read-back that failed.
    pub mismatch: Vec<Difference>,
    /// Passes begun, in order.
    pub passes: Vec<PassState>,
    /// Responses seen, in order.
    pub responses: Vec<ResponseEntry>,
    /// The latest whitening.
    pub whitening: Option<Whitening>,
    /// How it ended.
    pub outcome: Option<ZoneOutcome>,
    /// The operator's reason for the end.
    pub outcome_reason: Option<FreeText>,
    /// The latest response of each kind.
    pub marks: ZoneMarks,
    /// The latest change of its setting.
    pub last_change: Option<Change>,
    /// How often a lower setting was taken on advice.
    pub lowerings: u32,
    /// Of them, those that bleeding had asked for.
    pub lowered_for_bleeding: u32,
    /// Read-backs in a row that did not agree.
    pub mismatches: u32,
    /// Even passes over it, as they were asked for.
    pub(super) patterns: Patterns,
}

/// One pass.
#[derive(Debug, Clone, PartialEq)]
pub struct PassState {
    /// Number, from 1.
    pub number: u8,
    /// Sequence number of its start.
    pub started_seq: u64,
    /// Session time at its start.
    pub started_ms: u64,
    /// Session time at its end.
    pub ended_ms: Option<u64>,
    /// Pulses counted.
    pub counted: u64,
    /// Pulses by the device's counter since the pass began; none when it was not read before the first pulse.
    pub device: Option<u64>,
    /// Pulses by way of counting.
    pub by_source: Pulses,
    /// Why counted and device figures differ.
    pub explanation: Option<FreeText>,
    /// True when the whitening of an earlier pass had not faded at the start.
    pub began_white: bool,
    /// Fluence and count of each setting used, in order.
    pub settings: Vec<(Setting, u64)>,
}

/// Pulses by way of counting.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Pulses {
    /// By key.
    pub key: u64,
    /// By train.
    pub train: u64,
    /// By a typed number.
    pub typed: u64,
    /// By the device's counter.
    pub counter: u64,
    /// By a line of pulses from outside.
    pub line: u64,
}

impl Pulses {
    /// The tally of one way of counting.
    pub const fn of_mut(&mut self, source: PulseSource) -> &mut u64 {
        match source {
            PulseSource::Key => &mut self.key,
            PulseSource::Train => &mut self.train,
            PulseSource::Typed => &mut self.typed,
            PulseSource::Counter => &mut self.counter,
            PulseSource::Line => &mut self.line,
        }
    }
}

/// A response as it was seen.
#[derive(Debug, Clone, PartialEq)]
pub struct ResponseEntry {
    /// Sequence number.
    pub seq: u64,
    /// When.
    pub at: DateTime<FixedOffset>,
    /// Session time.
    pub ms: u64,
    /// Pass.
    pub pass: u8,
    /// Pulses of the pass at that time.
    pub pulses: u64,
    /// What.
    pub kind: Response,
    /// Grade.
    pub grade: Option<u8>,
    /// The operator's words.
    pub note: Option<FreeText>,
}

/// The latest whitening of a zone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Whitening {
    /// Sequence number of the response.
    pub seq: u64,
    /// Pass it was seen in.
    pub pass: u8,
    /// Session time it was seen.
    pub seen_ms: u64,
    /// Grade 1 to 3.
    pub grade: Option<u8>,
    /// Session time it was marked as faded.
    pub faded_ms: Option<u64>,
}

impl ZoneState {
    pub(super) fn new(plan: &Zone) -> Self {
        Self {
            target: plan.setting,
            confirmed: None,
            mismatch: Vec::new(),
            passes: Vec::new(),
            responses: Vec::new(),
            whitening: None,
            outcome: None,
            outcome_reason: None,
            marks: ZoneMarks::default(),
            last_change: None,
            lowerings: 0,
            lowered_for_bleeding: 0,
            mismatches: 0,
            patterns: Patterns::default(),
        }
    }

    /// Pulses of all passes.
    #[must_use]
    pub fn total(&self) -> u64 {
        self.passes.iter().map(|p| p.counted).sum()
    }

    /// The even pass over the zone with the spot in force.
    #[must_use]
    pub fn pattern(&self, plan: &Zone) -> Arc<Pattern> {
        self.pattern_of(plan, self.target.spot)
    }

    /// The even pass over the zone with any spot.
    #[must_use]
    pub fn pattern_of(&self, plan: &Zone, spot: SpotDiameter) -> Arc<Pattern> {
        self.patterns.of(&plan.shape, spot, plan.overlap)
    }

    /// Planned pulses of one pass with the spot in force.
    #[must_use]
    pub fn planned_per_pass(&self, plan: &Zone) -> u64 {
        self.pattern(plan).pulses()
    }

    /// The pulses of a pass as if all had been fired with one spot: a pulse counts as the share of a pass that it was
    /// with the spot it was fired with.
    #[must_use]
    pub fn counted_as(&self, plan: &Zone, pass: &PassState, spot: SpotDiameter) -> u64 {
        if pass.settings.iter().all(|(s, _)| s.spot == spot) {
            return pass.counted;
        }
        let share = |(s, n): &(Setting, u64)| *n as f64 / self.pattern_of(plan, s.spot).pulses() as f64;
        (pass.settings.iter().map(share).sum::<f64>() * self.pattern_of(plan, spot).pulses() as f64).round() as u64
    }

    /// Linear overlap in per cent that the pulses of a pass imply, spread evenly, in the spot it was last fired with; none
    /// before the first pulse. A spot chosen later changes nothing about it.
    #[must_use]
    pub fn implied_overlap_percent(&self, plan: &Zone, pass: &PassState) -> Option<f64> {
        let spot = pass.settings.last().map_or(self.target.spot, |(s, _)| s.spot);
        self.pattern_of(plan, spot).implied_overlap_percent(self.counted_as(plan, pass, spot))
    }

    /// Mean pulses that fell on a point over all passes, each with the spot it was fired with.
    #[must_use]
    pub fn mean_pulses_per_point(&self, plan: &Zone) -> f64 {
        self.passes.iter().map(|p| self.mean_pulses_per_point_in(plan, p)).sum()
    }

    /// Mean pulses that fell on a point in one pass.
    #[must_use]
    pub fn mean_pulses_per_point_in(&self, plan: &Zone, pass: &PassState) -> f64 {
        pass.settings.iter().map(|(s, n)| self.pattern_of(plan, s.spot).mean_pulses_per_point(*n)).sum()
    }

    /// Number of the next pass.
    #[must_use]
    pub fn next_pass(&self) -> u8 {
        u8::try_from(self.passes.len()).unwrap_or(u8::MAX).saturating_add(1)
    }

    /// Session time at the end of the last ended pass.
    #[must_use]
    pub fn last_ended_ms(&self) -> Option<u64> {
        self.passes.iter().rev().find_map(|p| p.ended_ms)
    }

    /// True while whitening was seen and not marked as faded.
    #[must_use]
    pub fn is_white(&self) -> bool {
        self.whitening.is_some_and(|w| w.faded_ms.is_none())
    }

    pub(super) fn add_pulses(&mut self, source: PulseSource, n: u64) {
        let setting = self.target;
        if let Some(pass) = self.passes.last_mut() {
            pass.counted = pass.counted.saturating_add(n);
            let tally = pass.by_source.of_mut(source);
            *tally = tally.saturating_add(n);
            match pass.settings.last_mut() {
                Some((s, count)) if *s == setting => *count = count.saturating_add(n),
                _ => pass.settings.push((setting, n)),
            }
        }
    }

    /// Takes pulses away again; no figure goes below zero.
    pub(super) fn take_pulses(&mut self, n: u64) {
        let Some(pass) = self.passes.last_mut() else { return };
        let n = n.min(pass.counted);
        pass.counted -= n;
        let by = &mut pass.by_source;
        let mut left = n;
        for tally in [&mut by.key, &mut by.line, &mut by.train, &mut by.typed, &mut by.counter] {
            let take = left.min(*tally);
            *tally -= take;
            left -= take;
        }
        left = n;
        for (_, count) in pass.settings.iter_mut().rev() {
            let take = left.min(*count);
            *count -= take;
            left -= take;
        }
        pass.settings.retain(|(_, count)| *count > 0);
    }
}
