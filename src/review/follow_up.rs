//! Follow-ups as lines.

use crate::session::{Event, FollowUp, Stamp};
use crate::text::shown;
use serde::Serialize;

/// A follow-up as it was recorded.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FollowUpLine {
    /// Its number, from 1.
    pub follow_up: u64,
    /// Wall time it was recorded, RFC 3339.
    pub recorded_at: String,
    /// The day the client was seen.
    pub date: String,
    /// Code of who saw the client.
    pub seen_by: String,
    /// How the skin heals.
    pub healing: Option<String>,
    /// True when a blister was seen or told of.
    pub blister: bool,
    /// How the skin's own pigment changed.
    pub pigment: Option<String>,
    /// What scar is seen.
    pub scar: Option<String>,
    /// How much of the ink is gone by eye, in per cent.
    pub clearance_percent: Option<u8>,
    /// The findings in words.
    pub findings: String,
    /// In the observer's words.
    pub note: Option<String>,
    /// Photographs taken.
    pub photos: Vec<PhotoLine>,
    /// True when something was found that a register counts as an adverse effect.
    pub adverse: bool,
}

/// A photograph by its name.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PhotoLine {
    /// The file's name.
    pub name: String,
    /// SHA-256 of its bytes.
    pub sha256: String,
}

/// One follow-up as a line.
#[must_use]
pub fn follow_up_line(stamp: Stamp, found: &FollowUp) -> FollowUpLine {
    FollowUpLine {
        follow_up: stamp.seq,
        recorded_at: stamp.at.to_rfc3339(),
        date: found.date.to_string(),
        seen_by: found.seen_by.to_string(),
        healing: found.healing.map(|w| w.to_string()),
        blister: found.blister,
        pigment: found.pigment.map(|w| w.to_string()),
        scar: found.scar.map(|w| w.to_string()),
        clearance_percent: found.clearance_percent,
        findings: found.findings().join(", "),
        note: found.note.as_ref().map(ToString::to_string),
        photos: found.photos.iter().map(|p| PhotoLine { name: p.name.to_string(), sha256: shown(&p.sha256) }).collect(),
        adverse: found.is_adverse(),
    }
}

/// The follow-ups among events, as they are and as lines.
pub fn follow_ups(events: &[(Stamp, Event)]) -> impl Iterator<Item = (&FollowUp, FollowUpLine)> {
    events.iter().filter_map(|(stamp, event)| match event {
        Event::FollowUpAdded(found) => Some((&**found, follow_up_line(*stamp, found))),
        _ => None,
    })
}
