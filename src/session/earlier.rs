//! What earlier sessions of the same client code tell.

use super::event::{Response, SessionOutcome};
use crate::plan::{Setting, ZoneId};
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

impl EarlierZone {
    /// What was too much of it: a response that asks for a lower setting next time.
    #[must_use]
    pub fn too_much(&self) -> Option<Response> {
        use Response as R;
        let order = [R::Separation, R::Blister, R::Darkening, R::PinpointBleeding, R::Splatter, R::WetSurface];
        order.into_iter().find(|kind| self.responses.contains(kind))
    }
}
