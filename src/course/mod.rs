//! How many sessions a tattoo may take: the Kirby-Desai scale, a sum of points over six categories.
//!
//! Source: Kirby W, Desai A, Desai T, Kartono F, Patel G. The Kirby-Desai Scale: a proposed scale to assess
//! tattoo-removal treatments. J Clin Aesthet Dermatol 2009;2(3):32-37. A review of 100 charts of nanosecond treatments.
//! The categories, the lowest and the highest sum and the points of a worked example were seen; the other points are
//! quoted from memory. It is an estimate to talk about, never a promise, and [`CAVEATS`] go with it.

mod caveats;

pub use caveats::{CAVEATS, Caveat, PLAN_CAVEAT};

use crate::plan::{BodySite, Density, FitzpatrickType, InkColour, InkOrigin, Plan, Scarring, Zone};
use crate::words::{Word, words};
use serde::Serialize;
use std::collections::BTreeSet;

/// How far the sessions needed lay about the score, in sessions to either side. Source: an encyclopaedia page that cites
/// Kirby et al. 2009; secondary.
pub const SPREAD_SESSIONS: f64 = 2.5;

words! {
    /// Ink colours in the four classes of the Kirby-Desai scale.
    ColourClass, "colour class" {
        /// Black alone.
        Black = "black",
        /// Mostly black with some red.
        BlackAndRed = "black-and-red",
        /// Mostly black and red with some other colours.
        BlackRedAndOthers = "black-red-and-others",
        /// Many colours.
        Many = "many",
    }
}

words! {
    /// Amount of ink in the four classes of the Kirby-Desai scale.
    InkAmount, "amount of ink" {
        /// An amateur tattoo.
        Amateur = "amateur",
        /// Thin lines, little ink.
        Minimal = "minimal",
        /// Shading and lines.
        Moderate = "moderate",
        /// Dense, filled areas.
        Significant = "significant",
    }
}

impl ColourClass {
    /// The class that the colours of a tattoo fall into. Dark blue is a colour other than black. A list says nothing
    /// about how much there is of each, so black and red with any others count as the third class; what is neither of
    /// the first three, such as red alone, counts as many.
    #[must_use]
    pub fn of(colours: impl IntoIterator<Item = InkColour>) -> Self {
        let colours: BTreeSet<InkColour> = colours.into_iter().collect();
        let has = |colour| colours.contains(&colour);
        match (has(InkColour::Black), has(InkColour::Red), colours.len()) {
            (true, false, 1) => Self::Black,
            (true, true, 2) => Self::BlackAndRed,
            (true, true, _) => Self::BlackRedAndOthers,
            _ => Self::Many,
        }
    }
}

impl From<Density> for InkAmount {
    fn from(density: Density) -> Self {
        match density {
            Density::Minimal => Self::Minimal,
            Density::Moderate => Self::Moderate,
            Density::Significant => Self::Significant,
        }
    }
}

impl InkAmount {
    /// The amount in a zone: an amateur tattoo is a class of its own, whatever its density.
    #[must_use]
    pub fn of_zone(zone: &Zone) -> Self {
        if zone.origin == InkOrigin::Amateur { Self::Amateur } else { zone.density.into() }
    }
}

/// What the scale asks about a tattoo.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct CourseInputs {
    /// Fitzpatrick skin type.
    pub skin: FitzpatrickType,
    /// Body site.
    pub site: BodySite,
    /// Ink colours.
    pub colours: ColourClass,
    /// Amount of ink.
    pub amount: InkAmount,
    /// Scar or tissue change.
    pub scarring: Scarring,
    /// A tattoo over a tattoo.
    pub layered: bool,
}

/// Points of each category.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Points {
    /// Skin type: 1 to 6.
    pub skin_type: u32,
    /// Body site: 1 to 5, further from the heart more.
    pub body_site: u32,
    /// Ink colours: 1 to 4.
    pub ink_colours: u32,
    /// Amount of ink: 1 to 4.
    pub ink_amount: u32,
    /// Scar or tissue change: 0, 1, 3 or 5.
    pub scarring: u32,
    /// A tattoo over a tattoo: 0 or 2.
    pub layering: u32,
}

impl Points {
    /// Their sum, 4 to 26.
    #[must_use]
    pub const fn total(&self) -> u32 {
        self.skin_type + self.body_site + self.ink_colours + self.ink_amount + self.scarring + self.layering
    }
}

/// The estimate of a course.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Estimate {
    /// Points of each category.
    pub points: Points,
    /// Their sum.
    pub score: u32,
    /// Sessions that the score predicts: as many as points.
    pub expected_sessions: f64,
    /// To either side of it, in sessions.
    pub spread_sessions: f64,
}

/// Sessions that may still be needed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SessionsLeft {
    /// Fewest, 0 or more.
    pub low: f64,
    /// Most, 0 or more.
    pub high: f64,
}

/// Place in the order of a list of words, from 1 on.
fn rank<W: Word + PartialEq>(word: W) -> u32 {
    W::ALL.iter().zip(1..).find(|(w, _)| **w == word).map_or(0, |(_, n)| n)
}

fn scarring_points(scarring: Scarring) -> u32 {
    match scarring {
        Scarring::None => 0,
        Scarring::Minimal => 1,
        Scarring::Moderate => 3,
        Scarring::Significant => 5,
    }
}

const LAYERED_POINTS: u32 = 2;

impl CourseInputs {
    /// The inputs of a plan, all its zones taken as one tattoo: in each category the zone with the most points counts,
    /// and the ink colours of all zones together give the class. None for a plan without zones, which no loaded plan
    /// is.
    #[must_use]
    pub fn of_plan(plan: &Plan) -> Option<Self> {
        let zones = &plan.zones;
        Some(Self {
            skin: plan.client.skin,
            site: zones.iter().map(|z| z.site).max()?,
            colours: ColourClass::of(zones.iter().flat_map(|z| z.inks.iter().copied())),
            amount: zones.iter().map(InkAmount::of_zone).max()?,
            scarring: zones.iter().map(|z| z.scarring).max()?,
            layered: zones.iter().any(|z| z.layered),
        })
    }

    /// Points of each category.
    #[must_use]
    pub fn points(&self) -> Points {
        Points {
            skin_type: rank(self.skin),
            body_site: rank(self.site),
            ink_colours: rank(self.colours),
            ink_amount: rank(self.amount),
            scarring: scarring_points(self.scarring),
            layering: if self.layered { LAYERED_POINTS } else { 0 },
        }
    }

    /// The Kirby-Desai score, 4 to 26.
    #[must_use]
    pub fn score(&self) -> u32 {
        self.points().total()
    }

    /// The score as an estimate of sessions.
    #[must_use]
    pub fn estimate(&self) -> Estimate {
        let (points, score) = (self.points(), self.score());
        Estimate { points, score, expected_sessions: f64::from(score), spread_sessions: SPREAD_SESSIONS }
    }
}

impl Estimate {
    /// What is left after sessions that were done, never below zero.
    #[must_use]
    pub fn left_after(&self, sessions_done: u16) -> SessionsLeft {
        let left = self.expected_sessions - f64::from(sessions_done);
        SessionsLeft { low: (left - self.spread_sessions).max(0.0), high: (left + self.spread_sessions).max(0.0) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn easiest() -> CourseInputs {
        CourseInputs {
            skin: FitzpatrickType::I,
            site: BodySite::HeadNeck,
            colours: ColourClass::Black,
            amount: InkAmount::Amateur,
            scarring: Scarring::None,
            layered: false,
        }
    }

    #[test]
    fn each_category_counts_by_its_own_table() {
        let by = |points: fn(&Points) -> u32, inputs: Vec<CourseInputs>| -> Vec<u32> {
            inputs.iter().map(|i| points(&i.points())).collect()
        };
        let skins = FitzpatrickType::ALL.iter().map(|s| CourseInputs { skin: *s, ..easiest() }).collect();
        assert_eq!(by(|p| p.skin_type, skins), [1, 2, 3, 4, 5, 6]);
        let sites = BodySite::ALL.iter().map(|s| CourseInputs { site: *s, ..easiest() }).collect();
        assert_eq!(by(|p| p.body_site, sites), [1, 2, 3, 4, 5]);
        let colours = ColourClass::ALL.iter().map(|c| CourseInputs { colours: *c, ..easiest() }).collect();
        assert_eq!(by(|p| p.ink_colours, colours), [1, 2, 3, 4]);
        let amounts = InkAmount::ALL.iter().map(|a| CourseInputs { amount: *a, ..easiest() }).collect();
        assert_eq!(by(|p| p.ink_amount, amounts), [1, 2, 3, 4]);
        // Two and four are skipped.
        let scars = Scarring::ALL.iter().map(|s| CourseInputs { scarring: *s, ..easiest() }).collect();
        assert_eq!(by(|p| p.scarring, scars), [0, 1, 3, 5]);
        assert_eq!(CourseInputs { layered: true, ..easiest() }.points().layering, 2);
    }

    #[test]
    fn colours_fall_into_four_classes() {
        use InkColour::{Black, DarkBlue, Green, Red};
        for (colours, class) in [
            (&[Black][..], ColourClass::Black),
            (&[Black, Black], ColourClass::Black),
            (&[Red, Black], ColourClass::BlackAndRed),
            (&[Black, Red, Green], ColourClass::BlackRedAndOthers),
            (&[Black, DarkBlue], ColourClass::Many),
            (&[DarkBlue], ColourClass::Many),
            (&[Red], ColourClass::Many),
            (&[Black, Green], ColourClass::Many),
            (&[], ColourClass::Many),
        ] {
            assert_eq!(ColourClass::of(colours.iter().copied()), class, "{colours:?}");
        }
    }

    #[test]
    fn what_is_left_is_never_below_zero() {
        let estimate = CourseInputs { skin: FitzpatrickType::III, ..easiest() }.estimate();
        assert_eq!((estimate.score, estimate.expected_sessions), (6, 6.0));
        assert_eq!(estimate.left_after(0), SessionsLeft { low: 3.5, high: 8.5 });
        assert_eq!(estimate.left_after(5), SessionsLeft { low: 0.0, high: 3.5 });
        assert_eq!(estimate.left_after(200), SessionsLeft { low: 0.0, high: 0.0 });
    }
}
