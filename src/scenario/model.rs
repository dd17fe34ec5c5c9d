//! The hidden case and the run.

use crate::plan::{ClientCode, Medicine, ZoneId};
use crate::units::{Fluence, Length};
use crate::words::{Density, FitzpatrickType, InkColour, words};
use serde::{Deserialize, Serialize};

words! {
    /// How much a scenario asks of a trainee.
    Grade, "grade" {
        /// The first day.
        FirstDay = "first-day",
        /// After some sessions.
        Apprentice = "apprentice",
        /// On the way to working alone.
        Journeyman = "journeyman",
        /// What experienced people meet.
        Expert = "expert",
    }
}

words! {
    /// A metal in an ink whose colour deceives.
    Metal, "metal" {
        /// Iron oxide: rust turns black.
        Iron = "iron",
        /// Titanium dioxide: white turns blue-black.
        Titanium = "titanium",
    }
}

words! {
    /// What goes wrong at the handpiece.
    IncidentKind, "incident" {
        /// The handpiece leaves its spacer: the spot shrinks and the fluence grows.
        OffSpacer = "off-spacer",
    }
}

/// What a plan does not tell.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HiddenCase {
    /// One line for the list of scenarios.
    pub title: String,
    /// What it is to teach.
    pub aim: String,
    /// How much it asks.
    pub grade: Grade,
    /// What a trainee should have understood afterwards; told in the debrief.
    pub lesson: String,
    /// The skin type that the skin really has; none when the plan is right.
    pub true_skin: Option<FitzpatrickType>,
    /// How easily the epidermis is hurt, 0.5 to 2; 1 is usual.
    pub sensitivity: f64,
    /// How easily small vessels bleed, 0.5 to 2; 1 is usual.
    pub fragility: f64,
    /// What the device delivers over what it shows, 0.5 to 1.5.
    pub device_delivers: f64,
    /// The hand that holds the handpiece.
    pub hand: HandHabits,
    /// Medicines that the client takes and the plan does not name.
    pub withheld: Vec<Medicine>,
    /// Pulses after which wheals rise; none for a client who gets none.
    pub wheals_after: Option<u32>,
    /// What the client says when asked.
    pub answers: Vec<ClientAnswer>,
    /// What the device shows at first where it is not what was planned.
    pub shown_at_first: Vec<ShownAtFirst>,
    /// What goes wrong.
    pub incidents: Vec<Incident>,
    /// Zones that differ from what the plan lets expect.
    pub zones: Vec<HiddenZone>,
    /// Sessions of a practice course, 1 to 12.
    pub sessions: u8,
    /// Weeks between them, 1 to 52.
    pub weeks_between: u8,
}

/// The habits of the hand.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct HandHabits {
    /// Standard deviation of a pulse from its place along each axis, mm, 0 to 5.
    pub jitter_mm: f64,
    /// Chance of missing a place, 0 to 0.5.
    pub miss: f64,
    /// Chance of firing twice on a place, 0 to 0.5.
    pub double: f64,
}

impl Default for HandHabits {
    /// A steady hand (invented for practice).
    fn default() -> Self {
        Self { jitter_mm: 0.25, miss: 0.01, double: 0.01 }
    }
}

/// The hidden side of a zone.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct HiddenZone {
    /// The plan's zone.
    pub zone: ZoneId,
    /// Depth of the middle of the ink.
    #[serde(rename = "ink_depth_mm")]
    pub ink_depth: Length,
    /// How much ink there really is.
    pub density: Density,
    /// The inks that it really is made of.
    pub inks: Vec<InkColour>,
    /// Size of its granules in nm, 10 to 10 000.
    pub granule_nm: f64,
    /// A metal that turns dark.
    pub metal: Option<Metal>,
}

/// What the client or the room answers to an item of the checklist.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ClientAnswer {
    /// The item.
    pub item: String,
    /// In the client's words.
    pub says: String,
    /// True when that means the item's statement holds.
    pub holds: bool,
}

/// A display that does not show what was planned until it is put right.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ShownAtFirst {
    /// The zone.
    pub zone: ZoneId,
    /// The fluence that the device shows.
    #[serde(rename = "fluence_j_cm2")]
    pub fluence: Fluence,
}

/// Something that goes wrong until it is noticed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Incident {
    /// What.
    pub kind: IncidentKind,
    /// In which zone.
    pub zone: ZoneId,
    /// From which pulse of the zone on.
    pub from_pulse: u32,
    /// Spot on the skin over the spot set, 0.3 to 1.
    pub spot_factor: f64,
}

/// A run of practice, as its journal keeps it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PracticeRun {
    /// Name of the scenario.
    pub scenario: String,
    /// What lies behind the plan.
    pub case: HiddenCase,
    /// What chance is drawn from: the same seed and the same acts give the same skin.
    pub seed: u64,
    /// Which session of a course, from 1.
    pub session: u8,
    /// What joins the sessions of a course; none outside one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub course: Option<String>,
    /// What earlier sessions of the course left.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub carried: Vec<ZoneLeft>,
    /// How much faster than life time runs, 1 to 600.
    pub speed: f64,
    /// True when the model operator played it.
    pub demonstration: bool,
    /// Who practised, as a code; none where nobody said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub trainee: Option<ClientCode>,
}

/// What a session left in a zone.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ZoneLeft {
    /// The zone.
    pub zone: ZoneId,
    /// Ink left once the freed ink has been carried off, of what there was before the first session: 0 to 1, the mean
    /// over the zone.
    pub ink_left: f64,
    /// Share of the zone whose ink turned dark.
    pub darkened: f64,
    /// Share of the zone whose epidermis was hurt.
    pub hurt: f64,
}

impl HiddenCase {
    /// The hidden side of a zone, if it has one.
    #[must_use]
    pub fn zone(&self, id: &ZoneId) -> Option<&HiddenZone> {
        self.zones.iter().find(|z| z.zone == *id)
    }

    /// What is answered to an item; none where there is nothing to add.
    #[must_use]
    pub fn answer(&self, item: &str) -> Option<&ClientAnswer> {
        self.answers.iter().find(|a| a.item == item)
    }

    /// A case with nothing hidden: the plan is right, the device true, the hand steady.
    #[must_use]
    pub fn plain() -> Self {
        Self {
            title: "a plan without a hidden case".to_owned(),
            aim: "to run a plan of your own against usual skin".to_owned(),
            grade: Grade::FirstDay,
            lesson: "Usual skin answered usual settings.".to_owned(),
            true_skin: None,
            sensitivity: 1.0,
            fragility: 1.0,
            device_delivers: 1.0,
            hand: HandHabits::default(),
            withheld: Vec::new(),
            wheals_after: None,
            answers: Vec::new(),
            shown_at_first: Vec::new(),
            incidents: Vec::new(),
            zones: Vec::new(),
            sessions: 1,
            weeks_between: 8,
        }
    }
}
