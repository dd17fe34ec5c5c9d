//! The checked plan.

use crate::coverage::Shape;
use crate::units::{
    BodyWeight, Fluence, Overlap, PulseDuration, RepetitionRate, SpotDiameter, WaitingTime, Wavelength,
};
use crate::words::{BodySite, Density, FitzpatrickType, InkColour, words};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// A treatment plan for one session.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Plan {
    /// One line that says what the plan is for.
    pub title: String,
    /// Who is treated.
    pub client: Client,
    /// What came before and what matters for the skin.
    pub history: History,
    /// The zones in the order they are to be treated; at least one, at most 24.
    pub zones: Vec<Zone>,
}

/// The person treated, known by a code alone.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Client {
    /// The clinic's code for the person.
    pub code: ClientCode,
    /// Age in whole years, 0 to 120.
    pub age_years: u8,
    /// Body weight.
    #[serde(rename = "weight_kg")]
    pub weight: BodyWeight,
    /// Fitzpatrick skin type.
    pub skin: FitzpatrickType,
}

/// Why a text is not a code or an id.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{given}' is not {wanted}")]
pub struct NameError {
    /// What stood there.
    pub given: String,
    /// What is allowed.
    pub wanted: &'static str,
}

/// A client code: 3 to 16 capital letters, digits and hyphens, with at least one digit, so that no name passes for one.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct ClientCode(String);

/// A zone's short name within its plan: 1 to 24 small letters, digits and hyphens, starting with a letter.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct ZoneId(String);

macro_rules! checked_name {
    ($name:ident, $wanted:literal, $test:expr) => {
        impl $name {
            /// The text.
            #[must_use]
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }
        impl FromStr for $name {
            type Err = NameError;
            fn from_str(text: &str) -> Result<Self, Self::Err> {
                let test: fn(&str) -> bool = $test;
                if test(text) {
                    Ok(Self(text.to_owned()))
                } else {
                    Err(NameError { given: text.to_owned(), wanted: $wanted })
                }
            }
        }
        impl TryFrom<String> for $name {
            type Error = NameError;
            fn try_from(text: String) -> Result<Self, Self::Error> {
                text.parse()
            }
        }
        impl From<$name> for String {
            fn from(name: $name) -> Self {
                name.0
            }
        }
        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.pad(&self.0)
            }
        }
    };
}

checked_name!(
    ClientCode,
    "a client code: 3 to 16 capital letters, digits and hyphens with at least one digit, never a name",
    |t| (3..=16).contains(&t.len())
        && t.bytes().all(|b| b.is_ascii_uppercase() || b.is_ascii_digit() || b == b'-')
        && t.bytes().any(|b| b.is_ascii_digit())
        && !t.starts_with('-')
        && !t.ends_with('-')
);
checked_name!(ZoneId, "a zone id: 1 to 24 small letters, digits and hyphens, starting with a letter", |t| (1..=24)
    .contains(&t.len())
    && t.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
    && t.starts_with(|c: char| c.is_ascii_lowercase()));

words! {
    /// A recent tan at the site.
    Tan, "tan" {
        /// No tan.
        None = "none",
        /// A tan that is fading.
        Fading = "fading",
        /// A visible tan, sunburn or self-tanner.
        Visible = "visible",
    }
}

words! {
    /// Medicines that matter, taken now or ever as the check item says.
    Medicine, "medicine" {
        /// Gold salts, past or present, by mouth or injected.
        Gold = "gold",
        /// Isotretinoin within the last six months.
        Isotretinoin = "isotretinoin",
        /// A retinoid on the skin of the site.
        TopicalRetinoid = "topical-retinoid",
        /// A drug that makes the skin sensitive to light.
        Photosensitiser = "photosensitiser",
        /// An anticoagulant or aspirin.
        Anticoagulant = "anticoagulant",
        /// A drug that suppresses the immune system.
        Immunosuppressant = "immunosuppressant",
        /// A class III anti-arrhythmic (matters for anaesthetic cream).
        AntiarrhythmicClassIii = "antiarrhythmic-class-iii",
    }
}

words! {
    /// Conditions that matter.
    Condition, "condition" {
        /// Photo-aggravated disease, such as lupus or porphyria.
        PhotoAggravated = "photo-aggravated-disease",
        /// Unstable vitiligo.
        VitiligoUnstable = "vitiligo-unstable",
        /// Active psoriasis.
        PsoriasisActive = "psoriasis-active",
        /// A tendency to keloid or hypertrophic scars.
        Keloid = "keloid-tendency",
        /// Herpes simplex at the site, now or earlier.
        Herpes = "herpes-at-site",
        /// Pregnancy.
        Pregnancy = "pregnancy",
        /// Breast-feeding.
        BreastFeeding = "breast-feeding",
        /// Light-sensitive epilepsy.
        EpilepsyLightSensitive = "epilepsy-light-sensitive",
        /// Diabetes that is not controlled.
        DiabetesUncontrolled = "diabetes-uncontrolled",
        /// Gold threads under the skin.
        GoldThreads = "gold-threads",
        /// Congenital or idiopathic methaemoglobinaemia, or G6PD deficiency.
        Methaemoglobinaemia = "methaemoglobinaemia",
        /// An allergic or granulomatous reaction to the ink.
        InkReaction = "ink-reaction",
    }
}

words! {
    /// How the ink came into the skin.
    InkOrigin, "origin" {
        /// A professional tattoo.
        Professional = "professional",
        /// An amateur tattoo.
        Amateur = "amateur",
        /// Permanent make-up.
        Cosmetic = "cosmetic",
        /// Dirt, asphalt, graphite or powder driven in by an accident.
        Traumatic = "traumatic",
    }
}

words! {
    /// Scar or tissue change within the zone.
    Scarring, "scarring" {
        /// None.
        None = "none",
        /// Minimal.
        Minimal = "minimal",
        /// Moderate.
        Moderate = "moderate",
        /// Significant.
        Significant = "significant",
    }
}

words! {
    /// What a test spot showed.
    TestSpotResult, "test spot result" {
        /// No darkening, normal healing.
        Clear = "clear",
        /// The ink turned darker.
        Darkened = "darkened",
        /// The skin reacted badly.
        Reaction = "reaction",
        /// Not read yet.
        Pending = "pending",
    }
}

words! {
    /// Pulse-duration class: picosecond devices work below a nanosecond (common practice).
    PulseClass, "pulse class" {
        /// Below 1 ns.
        Picosecond = "picosecond",
        /// 1 ns and longer.
        Nanosecond = "nanosecond",
    }
}

impl PulseClass {
    /// The class of a pulse duration.
    #[must_use]
    pub fn of(pulse: PulseDuration) -> Self {
        if pulse.seconds() < 1e-9 { Self::Picosecond } else { Self::Nanosecond }
    }
}

/// What came before this session.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct History {
    /// Sessions already done on this tattoo.
    pub earlier_sessions: u16,
    /// Date of the last one.
    pub last_session: Option<NaiveDate>,
    /// Medicines that matter.
    pub medicines: Vec<Medicine>,
    /// Other medicines, in the clinic's words; shown, not judged.
    pub other_medicines: Vec<String>,
    /// Conditions that matter.
    pub conditions: Vec<Condition>,
    /// Allergies in the clinic's words.
    pub allergies: Vec<String>,
    /// Tan at the site.
    pub tan: Tan,
}

/// One zone of the tattoo.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Zone {
    /// Short name.
    pub id: ZoneId,
    /// Where it is, in the clinic's words ("left forearm, inner side").
    pub place: String,
    /// Body site class.
    pub site: BodySite,
    /// Its outline.
    pub shape: Shape,
    /// Ink colours, at least one.
    pub inks: Vec<InkColour>,
    /// Amount of ink.
    pub density: Density,
    /// True for a tattoo over a tattoo.
    pub layered: bool,
    /// Scar or tissue change.
    pub scarring: Scarring,
    /// How the ink came in.
    pub origin: InkOrigin,
    /// The test spot, where one was made.
    pub test_spot: Option<TestSpot>,
    /// What the device is to be set to.
    pub setting: Setting,
    /// Planned linear overlap of neighbouring spots.
    #[serde(rename = "overlap_percent")]
    pub overlap: Overlap,
    /// Planned passes, 1 to 6.
    pub passes: u8,
    /// What must be over before the next pass.
    pub pass_spacing: PassSpacing,
}

/// A test spot made earlier.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct TestSpot {
    /// When it was made.
    pub date: NaiveDate,
    /// What it showed.
    pub result: TestSpotResult,
}

/// What the device is set to.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Setting {
    /// Wavelength.
    #[serde(rename = "wavelength_nm")]
    pub wavelength: Wavelength,
    /// Pulse duration.
    #[serde(rename = "pulse_duration_s")]
    pub pulse_duration: PulseDuration,
    /// Spot diameter.
    #[serde(rename = "spot_mm")]
    pub spot: SpotDiameter,
    /// Fluence.
    #[serde(rename = "fluence_j_cm2")]
    pub fluence: Fluence,
    /// Repetition rate.
    #[serde(rename = "rate_hz")]
    pub rate: RepetitionRate,
}

impl Setting {
    /// `755 nm, 750 ps, 3 mm, 2.5 J/cm2, 5 Hz`.
    #[must_use]
    pub fn line(&self) -> String {
        format!("{}, {}, {}, {}, {}", self.wavelength, self.pulse_duration, self.spot, self.fluence, self.rate)
    }
    /// `2.5 J/cm2 at 3 mm`.
    #[must_use]
    pub fn dose(&self) -> String {
        format!("{} at {}", self.fluence, self.spot)
    }
    /// Energy of one pulse in joules.
    #[must_use]
    pub fn energy_joules(&self) -> f64 {
        self.fluence.energy_joules(self.spot)
    }
}

/// What the operator reads off the device's display and types in.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct DisplayedSetting {
    /// The setting as shown.
    #[serde(flatten)]
    pub setting: Setting,
    /// Pulse energy in joules, where the device shows it.
    pub energy_j: Option<f64>,
}

/// What must be over before the next pass may begin.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum PassSpacing {
    /// A fixed wait after the end of the pass before, and the whitening faded.
    Wait {
        /// How long.
        #[serde(rename = "wait_s")]
        wait: WaitingTime,
    },
    /// Only until the operator has marked the whitening as faded.
    UntilFaded,
}

impl fmt::Display for PassSpacing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Wait { wait } => write!(f, "{} after the pass before, and whitening faded", wait.words()),
            Self::UntilFaded => f.write_str("until whitening has faded"),
        }
    }
}
