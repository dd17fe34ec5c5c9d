//! What is known about how far the estimate can be trusted.

use crate::protocol::Confidence;
use serde::Serialize;

/// Something to say beside the estimate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Caveat {
    /// What to bear in mind.
    pub text: &'static str,
    /// Where it comes from.
    pub source: &'static str,
    /// How sure it is.
    pub confidence: Confidence,
}

/// What goes with every estimate.
pub const CAVEATS: [Caveat; 6] = [
    Caveat {
        text: "A correlation of 0.757 with the sessions needed, in 100 charts of people who all reached satisfactory \
               removal: the score explains about 57 % of the differences.",
        source: "Kirby W et al., J Clin Aesthet Dermatol 2009;2(3):32-37",
        confidence: Confidence::Primary,
    },
    Caveat {
        text: "Too high in one nanosecond series of 11 people: 9.9 sessions predicted on average, 5.09 needed.",
        source: "J Cosmet Dermatol 2024;23(3):818-823 (PMID 38308455)",
        confidence: Confidence::Primary,
    },
    Caveat {
        text: "Too high for multi-pass work: 22 people of types IV to VI with single-colour amateur tattoos needed \
               significantly fewer sessions.",
        source: "Shah S et al., J Cutan Aesthet Surg",
        confidence: Confidence::Primary,
    },
    Caveat {
        text: "Too high for picosecond pulses, by about a quarter (24.8 %) where a figure is quoted; no checked scale \
               for them was found.",
        source: "quoted without its origin, which was not found",
        confidence: Confidence::Secondary,
    },
    Caveat {
        text: "Not scored: smoking (success at 10 sessions 69.7 % less likely), a size above 30 cm2, a tattoo older \
               than 36 months, an interval of 8 weeks or less. Each went with lower success.",
        source: "Bencini PL et al., Arch Dermatol 2012;148:1364-1369",
        confidence: Confidence::Primary,
    },
    Caveat {
        text: "The lowest and the highest score and the points of a worked example were seen; the other points are \
               quoted from memory.",
        source: "Kirby W et al., J Clin Aesthet Dermatol 2009;2(3):32-37, quoted from memory",
        confidence: Confidence::CommonPractice,
    },
];

/// What goes with the estimate of a plan.
pub const PLAN_CAVEAT: Caveat = Caveat {
    text: "In each category the zone with the most points counts, and the colours of all zones together. A plan does \
           not say how much there is of each colour.",
    source: "how this program reads a plan",
    confidence: Confidence::CommonPractice,
};
