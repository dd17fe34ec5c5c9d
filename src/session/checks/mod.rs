//! Checklist items that the program answers from the plan, the device, the protocol and the date.

mod client;
pub(crate) mod eyewear;
mod setup;

pub use eyewear::likely_worn;

use super::event::{Opened, Verdict};
use crate::protocol::Computation;

/// What a computation came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Computed {
    /// Outcome.
    pub verdict: Verdict,
    /// What was found, in words.
    pub text: String,
}

impl Computed {
    fn pass(text: impl Into<String>) -> Self {
        Self { verdict: Verdict::Pass, text: text.into() }
    }
    fn of(verdict: Verdict, text: impl Into<String>) -> Self {
        Self { verdict, text: text.into() }
    }
    /// The worst of several findings, their texts joined; `nothing` when there are none.
    fn worst(findings: Vec<(Verdict, String)>, nothing: &str) -> Self {
        match findings.iter().map(|(v, _)| *v).max() {
            None => Self::pass(nothing),
            Some(verdict) => Self::of(verdict, findings.into_iter().map(|(_, t)| t).collect::<Vec<_>>().join("; ")),
        }
    }
}

/// Works out one item.
#[must_use]
pub fn compute(computation: Computation, opened: &Opened) -> Computed {
    match computation {
        Computation::Gold => client::gold(opened),
        Computation::Interval => client::interval(opened),
        Computation::Tan => client::tan(opened),
        Computation::Age => client::age(opened),
        Computation::Conditions => client::conditions(opened),
        Computation::Medicines => client::medicines(opened),
        Computation::TestSpot => setup::test_spot(opened),
        Computation::Eyewear => eyewear::eyewear(opened),
        Computation::Settings => setup::settings(opened),
        Computation::InkMatch => setup::ink_match(opened),
    }
}
