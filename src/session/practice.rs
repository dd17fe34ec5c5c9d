//! What simulated skin shows in practice, and what the session remembers of it.
//!
//! No rule looks at it: as with real skin, only what somebody notes counts.

use super::event::Response;
use super::state::State;
use crate::plan::{DisplayedSetting, Setting, ZoneId};
use crate::scenario::ZoneLeft;
use serde::{Deserialize, Serialize};

/// Reading of the practice device's counter before its first pulse (invented).
pub const COUNTER_AT_FIRST: u64 = 48_210;

/// Something that simulated skin shows.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SkinSign {
    /// Zone.
    pub zone: ZoneId,
    /// Pass.
    pub pass: u8,
    /// What.
    pub kind: Response,
    /// Grade 1 to 3, or 0 to 10 for pain; 0 for whitening that has faded.
    pub grade: u8,
}

/// A sign with its place in the session.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shown {
    /// Sequence number.
    pub seq: u64,
    /// Session time.
    pub ms: u64,
    /// Pulses of the session that had really been fired.
    pub pulses: u64,
    /// The sign.
    pub sign: SkinSign,
}

/// What a session of practice remembers besides what any session does.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct PracticeState {
    /// What the skin showed, in order.
    pub shown: Vec<Shown>,
    /// Pulses that were really fired; taking one back mends the count alone.
    pub fired: u64,
    /// What the session left, once it is closed.
    pub left: Option<Vec<ZoneLeft>>,
}

impl PracticeState {
    /// The device's counter.
    #[must_use]
    pub const fn counter(&self) -> u64 {
        COUNTER_AT_FIRST + self.fired
    }

    /// What can be seen now: of each kind in each zone the latest sign, without what has faded.
    #[must_use]
    pub fn visible(&self) -> Vec<&Shown> {
        let mut latest: Vec<&Shown> = Vec::new();
        for shown in self.shown.iter().rev() {
            let known = |l: &&Shown| l.sign.zone == shown.sign.zone && l.sign.kind == shown.sign.kind;
            if !latest.iter().any(known) {
                latest.push(shown);
            }
        }
        latest.retain(|s| s.sign.grade > 0);
        latest
    }
}

impl State {
    /// What the practice device shows for a zone: the setting it was asked for, or at first something else, until a
    /// read-back has found that out. None outside practice.
    #[must_use]
    pub fn practice_display(&self, zone: usize) -> Option<DisplayedSetting> {
        let run = self.opened.practice.as_ref()?;
        let (plan, z) = self.zone(zone)?;
        let wrong = run.case.shown_at_first.iter().find(|s| s.zone == plan.id).filter(|_| z.last_change.is_none());
        let never_found_out = z.mismatches == 0 && z.passes.is_empty() && z.confirmed.is_none();
        let setting = match wrong.filter(|_| never_found_out) {
            Some(s) => Setting { fluence: s.fluence, ..z.target },
            None => z.target,
        };
        // As a display rounds it.
        let energy_j = (setting.energy_joules() * 1000.0).round() / 1000.0;
        Some(DisplayedSetting { setting, energy_j: self.opened.device.shows_energy.then_some(energy_j) })
    }
}
