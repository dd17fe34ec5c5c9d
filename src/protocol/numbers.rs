//! Numbers of single rules.

use super::load::{count, quantity};
use super::{Protocol, Sourced};
use crate::source::Table;
use crate::units::{Fluence, Percent, WaitingTime};
use serde::{Deserialize, Serialize};

/// Numbers of the rules that came later than the first ones.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RuleNumbers {
    /// How far a LOWER proposal goes down when lowering once was not enough, or the surface is wet.
    pub lower_step_again_percent: Sourced<Percent>,
    /// Local fluence that ink needs with nanosecond pulses; a lower setting is offered a larger spot instead.
    pub ink_floor_nanosecond_j_cm2: Sourced<Fluence>,
    /// The same with picosecond pulses.
    pub ink_floor_picosecond_j_cm2: Sourced<Fluence>,
    /// Time from the first pulse of pass 1 after which a missing response means that something is wrong.
    pub no_response_wait_s: Sourced<WaitingTime>,
    /// Pain from which the hand waits.
    pub pain_severe_grade: Sourced<u32>,
    /// Entries of pain in a row, each above the one before, that count as rising.
    pub pain_rising_entries: Sourced<u32>,
    /// Share of the planned pulses beyond the plan that ends a pass.
    pub pulses_far_beyond_percent: Sourced<Percent>,
    /// Share of the planned pulses below which an ended pass is noted as sparse.
    pub pass_sparse_percent: Sourced<Percent>,
    /// Pulses beyond a whole pass on skin that is still white.
    pub white_pulses: Sourced<u32>,
    /// Length of a session from its first pulse after which it is looked at again.
    pub session_max_s: Sourced<WaitingTime>,
    /// A break of the recording after which room and settings are looked at again.
    pub break_max_s: Sourced<WaitingTime>,
    /// Read-backs of a zone in a row that may disagree before the device is doubted.
    pub read_back_tries: Sourced<u32>,
    /// Distance to the ceiling within which a setting is noted.
    pub near_ceiling_percent: Sourced<Percent>,
    /// Share of the anaesthetic's limit from which nothing more is to be added without asking.
    pub anaesthetic_near_percent: Sourced<Percent>,
}

impl RuleNumbers {
    /// Those of the embedded protocol, for journals that were written before there were any. A protocol file never
    /// gets them: there each number must be written.
    #[allow(clippy::expect_used, reason = "the embedded text is fixed at build time, and a test reads it")]
    pub(super) fn of_old_journals() -> Self {
        Protocol::embedded().expect("the embedded protocol is whole").thresholds.rules
    }
}

pub(super) fn read(t: &mut Table<'_>) -> Option<RuleNumbers> {
    let lower_step_again_percent = quantity(t, "lower_step_again", 1.0..=80.0);
    let ink_floor_nanosecond_j_cm2 = quantity(t, "ink_floor_nanosecond", 0.05..=12.0);
    let ink_floor_picosecond_j_cm2 = quantity(t, "ink_floor_picosecond", 0.05..=12.0);
    let no_response_wait_s = quantity(t, "no_response_wait", 10.0..=3600.0);
    let pain_severe_grade = count(t, "pain_severe", 1..=10);
    let pain_rising_entries = count(t, "pain_rising_entries", 2..=10);
    let pulses_far_beyond_percent = quantity(t, "pulses_far_beyond", 5.0..=100.0);
    let pass_sparse_percent = quantity(t, "pass_sparse", 1.0..=100.0);
    let white_pulses = count(t, "white_pulses", 1..=1000);
    let session_max_s = quantity(t, "session_max", 60.0..=43200.0);
    let break_max_s = quantity(t, "break_max", 60.0..=86400.0);
    let read_back_tries = count(t, "read_back_tries", 2..=20);
    let near_ceiling_percent = quantity(t, "near_ceiling", 0.0..=50.0);
    let anaesthetic_near_percent = quantity(t, "anaesthetic_near", 1.0..=100.0);
    Some(RuleNumbers {
        lower_step_again_percent: lower_step_again_percent?,
        ink_floor_nanosecond_j_cm2: ink_floor_nanosecond_j_cm2?,
        ink_floor_picosecond_j_cm2: ink_floor_picosecond_j_cm2?,
        no_response_wait_s: no_response_wait_s?,
        pain_severe_grade: pain_severe_grade?,
        pain_rising_entries: pain_rising_entries?,
        pulses_far_beyond_percent: pulses_far_beyond_percent?,
        pass_sparse_percent: pass_sparse_percent?,
        white_pulses: white_pulses?,
        session_max_s: session_max_s?,
        break_max_s: break_max_s?,
        read_back_tries: read_back_tries?,
        near_ceiling_percent: near_ceiling_percent?,
        anaesthetic_near_percent: anaesthetic_near_percent?,
    })
}
