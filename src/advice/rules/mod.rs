//! The rule table.

mod dose;
mod response;
mod timing;

use super::{Context, Rule};
use crate::limits::{Lowered, lowered};
use crate::session::AdviceEntry;

/// Every rule, in the order they are looked at.
pub static RULES: &[&Rule] = &[
    &response::PINPOINT_BLEEDING,
    &response::SPLATTER,
    &response::DARKENING,
    &response::SEPARATION,
    &response::BLISTER,
    &response::WHEALS,
    &response::SYSTEMIC,
    &response::NO_WHITENING,
    &response::NO_RESPONSE_LATER,
    &dose::OVERLAP_BEYOND_PLAN,
    &timing::PASS_TOO_SOON,
];

/// Stays until it is answered.
fn never(_: &Context<'_>, _: &AdviceEntry) -> Option<String> {
    None
}

/// The next lower setting of a zone and how to say it.
fn lower_proposal(context: &Context<'_>, zone: usize) -> (Option<crate::plan::Setting>, String) {
    let Some((_, state)) = context.state.zone(zone) else { return (None, String::new()) };
    let o = &context.state.opened;
    let step = o.protocol.thresholds.lower_step_percent.value;
    let now = state.target;
    match lowered(&now, step, o.plan.client.skin, &o.device, &o.protocol) {
        Lowered::Fluence(to) => (Some(to), format!("Lower from {} to {}", now.dose(), to.dose())),
        Lowered::LargerSpot(to) => (
            Some(to),
            format!("The lowest fluence at {} is reached: go from {} to {}", now.spot, now.dose(), to.dose()),
        ),
        Lowered::Foot => (None, format!("{} is the lowest this device can do: stop this zone", now.dose())),
    }
}
