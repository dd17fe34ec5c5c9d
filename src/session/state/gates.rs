//! What must be done before the next step.

use super::{State, Verdict};
use crate::plan::ZoneId;
use crate::protocol::{CheckItem, CheckKind, CheckPhase};
use crate::session::checks::eyewear;
use crate::session::event::Answer;
use crate::units::Wavelength;

/// How a checklist item stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ItemStatus {
    /// Not answered.
    Open,
    /// Answered well, or a bad answer that only warns.
    Done,
    /// A bad answer to an item that only warns: done, but it stands out.
    Noted,
    /// A bad answer that blocks until it is answered anew or overridden.
    Blocked,
    /// A bad answer that nobody can override.
    HardStop,
    /// A bad answer that was overridden.
    Overridden,
}

impl ItemStatus {
    /// True when the item is not in the way.
    #[must_use]
    pub const fn lets_pass(self) -> bool {
        matches!(self, Self::Done | Self::Noted | Self::Overridden)
    }
}

/// What stands before the first pulse of a pass.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Gate {
    /// A check refuses treatment for good.
    HardStop(String),
    /// Checks of this phase are not done.
    Checks(CheckPhase, usize),
    /// The zone's setting was not read back.
    ReadBack(ZoneId),
}

impl State {
    /// How an item stands.
    #[must_use]
    pub fn item_status(&self, item: &CheckItem) -> ItemStatus {
        let Some(check) = self.checks.get(&item.id) else { return ItemStatus::Open };
        let bad = |hard: bool| {
            if hard {
                ItemStatus::HardStop
            } else if check.overridden.is_some() {
                ItemStatus::Overridden
            } else if item.blocking {
                ItemStatus::Blocked
            } else {
                ItemStatus::Noted
            }
        };
        if item.kind == CheckKind::Computed {
            return match check.computed.as_ref().map(|(v, _)| *v) {
                None => ItemStatus::Open,
                Some(Verdict::Pass) => ItemStatus::Done,
                Some(Verdict::HardStop) => ItemStatus::HardStop,
                Some(Verdict::Block) if check.overridden.is_some() => ItemStatus::Overridden,
                Some(Verdict::Block) => ItemStatus::Blocked,
                Some(Verdict::Warn) => match &check.answer {
                    Some(Answer::Yes) => ItemStatus::Noted,
                    Some(Answer::No { .. }) if check.overridden.is_some() => ItemStatus::Overridden,
                    Some(Answer::No { .. }) => ItemStatus::Blocked,
                    _ => ItemStatus::Open,
                },
            };
        }
        // Eyewear that does not protect is overridden by nobody; other eyewear is an answer anew.
        if item.kind == CheckKind::Marking && matches!(check.answer, Some(Answer::Value { .. })) {
            return match check.computed.as_ref().map(|(v, _)| *v) {
                None => ItemStatus::Open,
                Some(Verdict::Pass) => ItemStatus::Done,
                Some(_) => ItemStatus::HardStop,
            };
        }
        if item.kind == CheckKind::Anaesthetic
            && let Some((verdict, _)) = &check.computed
        {
            return if *verdict == Verdict::Pass { ItemStatus::Done } else { bad(false) };
        }
        match &check.answer {
            None => ItemStatus::Open,
            Some(Answer::No { .. }) => bad(item.hard_stop),
            Some(_) => ItemStatus::Done,
        }
    }

    /// Items of a phase with their status.
    pub fn items(&self, phase: CheckPhase) -> impl Iterator<Item = (&CheckItem, ItemStatus)> {
        self.opened.protocol.checklist.iter().filter(move |i| i.phase == phase).map(|i| (i, self.item_status(i)))
    }

    /// Number of items of a phase that are still in the way.
    #[must_use]
    pub fn items_in_the_way(&self, phase: CheckPhase) -> usize {
        self.items(phase).filter(|(_, s)| !s.lets_pass()).count()
    }

    /// The first item that refuses treatment for good.
    #[must_use]
    pub fn hard_stop(&self) -> Option<&CheckItem> {
        self.opened.protocol.checklist.iter().find(|i| self.item_status(i) == ItemStatus::HardStop)
    }

    /// The wavelengths that eyewear must stop now: the one that was read back last, before that every planned one.
    #[must_use]
    pub fn wavelengths_to_protect(&self) -> Vec<Wavelength> {
        self.wavelength.map_or_else(|| eyewear::planned(&self.opened), |w| vec![w])
    }

    /// What the device asks of eyewear at these wavelengths, in words.
    #[must_use]
    pub fn eyewear_needed(&self) -> String {
        eyewear::needed(&self.opened, &self.wavelengths_to_protect())
    }

    /// True when a blocking item has a bad answer that nobody overrode.
    #[must_use]
    pub fn any_blocked(&self) -> bool {
        self.opened.protocol.checklist.iter().any(|i| self.item_status(i) == ItemStatus::Blocked)
    }

    /// The first thing that stands before a pulse in this zone; none when it may be fired.
    #[must_use]
    pub fn gate(&self, zone: usize) -> Option<Gate> {
        if let Some(item) = self.hard_stop() {
            return Some(Gate::HardStop(item.id.clone()));
        }
        let sign_in = self.items_in_the_way(CheckPhase::SignIn);
        if sign_in > 0 {
            return Some(Gate::Checks(CheckPhase::SignIn, sign_in));
        }
        let (plan, state) = self.zone(zone)?;
        if state.confirmed.is_none() {
            return Some(Gate::ReadBack(plan.id.clone()));
        }
        let time_out = self.items_in_the_way(CheckPhase::TimeOut);
        (time_out > 0).then_some(Gate::Checks(CheckPhase::TimeOut, time_out))
    }
}
