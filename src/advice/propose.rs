//! Proposals: the next lower setting, what it does to ink and epidermis, and the larger spot that may be chosen instead.

use super::Context;
use crate::limits::{Lowered, Lowering, dose_change};
use crate::plan::Setting;
use crate::units::{Percent, trimmed};

/// A proposal in words and settings.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Proposal {
    /// The setting; none where only stopping is left.
    pub to: Option<Setting>,
    /// A larger spot with as much light at the ink.
    pub alternative: Option<Setting>,
    /// In words.
    pub words: String,
}

/// The next lower setting of a zone.
pub(super) fn lower(context: &Context<'_>, zone: usize, step: Percent) -> Proposal {
    let Some((plan, state)) = context.state.zone(zone) else { return Proposal::default() };
    let o = &context.state.opened;
    let light = context.state.happenings.light.as_ref();
    let now = state.target;
    let lowering =
        Lowering { now, site: plan.site, skin: o.plan.client.skin, device: &o.device, protocol: &o.protocol, light };
    let change = |to: &Setting| dose_change(light, plan.site, &now, to);
    let (to, mut words) = match lowering.lowered(step) {
        Lowered::Fluence(to) => {
            let less = change(&to).map(|c| format!(": {} % at ink and epidermis", signed(c.ink_percent)));
            (to, format!("Lower from {} to {}{}", now.dose(), to.dose(), less.unwrap_or_default()))
        }
        Lowered::LargerSpot(to) => {
            let less = change(&to)
                .map(|c| format!(": ink {} %, epidermis {} %", signed(c.ink_percent), signed(c.epidermis_percent)));
            (
                to,
                format!(
                    "The lowest fluence at {} is reached: go from {} to {}{}",
                    now.spot,
                    now.dose(),
                    to.dose(),
                    less.unwrap_or_default()
                ),
            )
        }
        Lowered::Foot => {
            let words = format!("{} is the lowest this device can do: stop this zone", now.dose());
            return Proposal { to: None, alternative: None, words };
        }
    };
    let alternative =
        lowering.under_ink_floor(&to).then(|| lowering.same_ink_at_larger_spot(&to)).flatten().filter(|a| *a != to);
    if let (Some(other), Some(c)) = (&alternative, alternative.as_ref().and_then(change)) {
        words.push_str(&format!(
            ". That may be too little for the ink; l takes {} instead: ink {} %, epidermis {} %",
            other.dose(),
            signed(c.ink_percent),
            signed(c.epidermis_percent)
        ));
    }
    Proposal { to: Some(to), alternative, words }
}

/// Per cent with its sign, whole, and never "-0".
fn signed(percent: f64) -> String {
    let text = trimmed(percent, 0);
    match text.as_str() {
        "-0" | "0" => "0".to_owned(),
        _ if percent > 0.0 => format!("+{text}"),
        _ => text,
    }
}
