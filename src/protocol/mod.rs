//! The clinic's own rules: ceilings, thresholds, waiting times, eyewear and the checklist, each with its source.
//!
//! A protocol is a file of its own. The embedded default is a starting point for a clinic to adapt, not a standard.

mod load;
mod numbers;
mod rules;

pub use load::{EMBEDDED_TEXT, KIND, load};
pub use numbers::RuleNumbers;
pub use rules::{RuleChoice, RuleName};

use crate::physics::hazard::marking::{Band, Marking, MarkingError};
use crate::plan::{FitzpatrickType, PulseClass};
use crate::sight::Tint;
use crate::units::{Fluence, Overlap, Percent, SpotDiameter, WaitingTime, Wavelength};
use crate::words::words;
use serde::{Deserialize, Serialize};

/// A clinic protocol.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Protocol {
    /// Name and revision, as the clinic calls it.
    pub name: String,
    /// Fluence ceilings.
    pub ceilings: Vec<Ceiling>,
    /// Numbers that rules and checks compare with.
    pub thresholds: Thresholds,
    /// The eyewear of the clinic.
    pub eyewear: Vec<Eyewear>,
    /// Rules that the clinic makes more urgent.
    #[serde(default)]
    pub rules: Vec<RuleChoice>,
    /// The checklist, in the order it is asked.
    pub checklist: Vec<CheckItem>,
}

words! {
    /// How sure a figure is.
    Confidence, "confidence" {
        /// Seen in the primary source.
        Primary = "primary",
        /// Seen in a secondary source.
        Secondary = "secondary",
        /// Convention without a published figure.
        CommonPractice = "common-practice",
        /// The clinic's own decision.
        Clinic = "clinic",
    }
}

/// A value with where it comes from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Sourced<T> {
    /// The value.
    pub value: T,
    /// Its source in words.
    pub source: String,
    /// How sure it is.
    pub confidence: Confidence,
}

/// The highest fluence the clinic allows for a wavelength, pulse class and set of skin types.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Ceiling {
    /// Wavelength it holds for.
    #[serde(rename = "wavelength_nm")]
    pub wavelength: Wavelength,
    /// Pulse class it holds for.
    pub pulse_class: PulseClass,
    /// Skin types it holds for.
    pub skin: Vec<FitzpatrickType>,
    /// Spots from this diameter on; none means all.
    #[serde(rename = "spot_from_mm")]
    pub spot_from: Option<SpotDiameter>,
    /// The ceiling.
    #[serde(rename = "fluence_max_j_cm2")]
    pub fluence_max: Fluence,
    /// Its source.
    pub source: String,
    /// How sure it is.
    pub confidence: Confidence,
}

/// Numbers that rules and checks compare with.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Thresholds {
    /// How far a LOWER proposal goes down, before it is floored to the device's step.
    pub lower_step_percent: Sourced<Percent>,
    /// Pulses of pass 1 within which whitening is expected.
    pub whitening_expected_pulses: Sourced<u32>,
    /// Percentage points of linear overlap allowed beyond the plan.
    pub overlap_tolerance_percent: Sourced<Overlap>,
    /// Difference between counted and device pulses that needs no explanation.
    pub counter_tolerance_percent: Sourced<Percent>,
    /// Difference between the fluence shown and the energy shown over the spot's area.
    pub energy_tolerance_percent: Sourced<Percent>,
    /// A counter reading this many times above what the rate allows is asked back.
    pub counter_jump_factor: Sourced<u32>,
    /// Pulses after which an unanswered LOWER becomes STOP.
    pub escalate_after_pulses: Sourced<u32>,
    /// Time after which an unanswered LOWER becomes STOP while pulses go on.
    pub escalate_after_s: Sourced<WaitingTime>,
    /// Shortest interval between sessions; shorter blocks until overridden.
    pub interval_min_s: Sourced<WaitingTime>,
    /// Interval that is advised for skin types I to III; shorter warns.
    pub interval_light_s: Sourced<WaitingTime>,
    /// Interval that is advised for skin types IV to VI; shorter warns.
    pub interval_dark_s: Sourced<WaitingTime>,
    /// Shortest wait between a test spot and the treatment of an ink that may darken.
    pub test_spot_wait_s: Sourced<WaitingTime>,
    /// Youngest age treated without an override, in years.
    pub age_min_years: Sourced<u32>,
    /// Numbers of single rules.
    #[serde(default = "RuleNumbers::of_old_journals")]
    pub rules: RuleNumbers,
}

impl Thresholds {
    /// Interval between sessions that is advised for a skin type.
    #[must_use]
    pub fn interval_advised(&self, skin: FitzpatrickType) -> &Sourced<WaitingTime> {
        if skin >= FitzpatrickType::IV { &self.interval_dark_s } else { &self.interval_light_s }
    }
}

/// A pair of protective glasses and what is printed on it: the marking as it stands there, or its ranges.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Eyewear {
    /// The clinic's name for it.
    pub name: String,
    /// The marking as printed.
    #[serde(default, rename = "marking", skip_serializing_if = "Option::is_none")]
    pub printed: Option<String>,
    /// The ranges of an optical density marking, where it is not given as printed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ranges: Vec<EyewearRange>,
    /// What the world looks like through it: the screen takes a theme made for that.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tint: Option<Tint>,
}

/// One range of an eyewear marking.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EyewearRange {
    /// First wavelength.
    #[serde(rename = "from_nm")]
    pub from: Wavelength,
    /// Last wavelength.
    #[serde(rename = "to_nm")]
    pub to: Wavelength,
    /// Optical density marked for the range, 0 to 12.
    pub optical_density: u8,
}

impl Eyewear {
    /// What it is marked for.
    ///
    /// # Errors
    /// [`MarkingError`] when the printed text is no marking, which a loaded protocol has not.
    pub fn marking(&self) -> Result<Marking, MarkingError> {
        if let Some(printed) = &self.printed {
            return printed.parse();
        }
        let band = |r: &EyewearRange| Band {
            from_nm: r.from.nm(),
            to_nm: r.to.nm(),
            optical_density: Some(f64::from(r.optical_density)),
            scale: Vec::new(),
            alignment: None,
        };
        let bands = self.ranges.iter().map(band).collect();
        Ok(Marking { bands, vlt_percent: None, resistance_category: None, ignored: Vec::new() })
    }
}

words! {
    /// When an item is asked. The three phases follow the WHO surgical safety checklist (WHO/IER/PSP/2008.05).
    CheckPhase, "checklist phase" {
        /// Before anything else.
        SignIn = "sign-in",
        /// In the room, before the first pulse.
        TimeOut = "time-out",
        /// Before the client leaves.
        SignOut = "sign-out",
    }
}

words! {
    /// What kind of answer an item takes.
    CheckKind, "checklist kind" {
        /// Yes, no with a reason, or not applicable.
        YesNo = "yes-no",
        /// A value typed in.
        Value = "value",
        /// The marking printed on the eyewear that is worn, judged by the program against the device.
        Marking = "marking",
        /// Doses of anaesthetics, typed one by one; the program adds them up against the labels' limits.
        Anaesthetic = "anaesthetic",
        /// Answered by the program from the plan, the device and the date.
        Computed = "computed",
    }
}

words! {
    /// What the program can work out for a computed item.
    Computation, "computation" {
        /// Gold, past or present: never treated with short pulses.
        Gold = "gold",
        /// Weeks since the last session against the interval.
        Interval = "interval",
        /// An eyewear of the clinic protects at every planned wavelength, whatever the device is set to.
        Eyewear = "eyewear",
        /// A clear test spot, old enough, for every zone whose ink may darken.
        TestSpot = "test-spot",
        /// A tan at the site.
        Tan = "tan",
        /// Age against the protocol's youngest.
        Age = "age",
        /// Conditions that rule treatment out or call for caution.
        Conditions = "conditions",
        /// Medicines other than gold that call for caution.
        Medicines = "medicines",
        /// Every planned setting is reachable on the device and below the ceilings.
        Settings = "settings",
        /// Wavelength against ink colour.
        InkMatch = "ink-match",
    }
}

/// One item of the checklist.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CheckItem {
    /// Short name, unique in the protocol.
    pub id: String,
    /// When it is asked.
    pub phase: CheckPhase,
    /// The statement to confirm: "yes" is always the safe answer.
    pub question: String,
    /// What kind of answer it takes.
    pub kind: CheckKind,
    /// For computed items, what is computed.
    pub computation: Option<Computation>,
    /// A bad answer blocks (true) or only warns (false).
    pub blocking: bool,
    /// A bad answer cannot be overridden by anyone.
    pub hard_stop: bool,
    /// "Not applicable" is an answer.
    pub not_applicable: bool,
    /// How long to wait before it can be asked again, in words, such as "until it has healed".
    #[serde(default)]
    pub wait: Option<String>,
    /// Asked again when another wavelength is about to be fired.
    pub again_on_wavelength: bool,
    /// What to do on the bad answer.
    pub on_bad: String,
    /// Its source.
    pub source: String,
    /// How sure it is.
    pub confidence: Confidence,
}
