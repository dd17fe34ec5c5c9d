//! What earlier sessions of the same client code tell.

use super::event::{Response, SessionOutcome};
use super::state::{State, ZoneState};
use crate::plan::{Setting, Zone, ZoneId};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

/// The last earlier session of a client, and how many there were.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Earlier {
    /// Earlier sessions in which a pulse was fired.
    pub sessions: u32,
    /// The last of them.
    pub session: String,
    /// Its date.
    pub date: NaiveDate,
    /// How it ended; none when it was never closed.
    pub outcome: Option<SessionOutcome>,
    /// What was done in each zone.
    pub zones: Vec<EarlierZone>,
}

/// A zone of an earlier session.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EarlierZone {
    /// Its name.
    pub zone: ZoneId,
    /// The setting it ended with.
    pub setting: Setting,
    /// Pulses of all passes.
    pub pulses: u64,
    /// What was seen, each kind once.
    pub responses: Vec<Response>,
}

impl Earlier {
    /// What a session tells the next one of the same client; `sessions` is how many there were with it.
    #[must_use]
    pub fn of(sessions: u32, id: &str, state: &State) -> Self {
        let zones = state.opened.plan.zones.iter().zip(&state.zones).filter(|(_, z)| z.total() > 0);
        let zone = |(plan, z): (&Zone, &ZoneState)| {
            let mut responses: Vec<Response> = z.responses.iter().map(|r| r.kind).collect();
            responses.sort_unstable();
            responses.dedup();
            let fired = z.passes.iter().rev().find_map(|p| p.settings.last());
            let setting = fired.map_or(z.target, |(s, _)| *s);
            EarlierZone { zone: plan.id.clone(), setting, pulses: z.total(), responses }
        };
        Self {
            sessions,
            session: id.to_owned(),
            date: state.opened.date,
            outcome: state.closed.as_ref().map(|c| c.outcome),
            zones: zones.map(zone).collect(),
        }
    }
}

impl EarlierZone {
    /// What was too much of it: a response that asks for a lower setting next time.
    #[must_use]
    pub fn too_much(&self) -> Option<Response> {
        use Response as R;
        let order = [R::Separation, R::Blister, R::Darkening, R::PinpointBleeding, R::Splatter, R::WetSurface];
        order.into_iter().find(|kind| self.responses.contains(kind))
    }
}
