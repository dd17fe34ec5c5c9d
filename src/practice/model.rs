//! Every assumption of the teaching model, in one place.
//!
//! Where a source is named, the figure is from it; every other figure is **invented for practice**: chosen so that the
//! simulated skin answers in the order and in the range that is published, and no more than that. The model teaches what
//! to look at and what to do; it predicts nothing about a person.

use crate::physics::optics::{Ink, ink};
use crate::plan::PulseClass;
use crate::units::{PulseDuration, Wavelength};
use crate::words::{Density, InkColour};

/// What is said wherever simulated skin is shown.
pub const TEACHING: &str = "a teaching model: simulated skin, its figures partly invented for practice";

/// Fluence on superficial black ink that whitens half of the places, J/cm2, by pulse duration in seconds. Published
/// (secondary): 0.65 at 35 ps, about 1.0 at 350 to 800 ps, about 2 and more at nanoseconds (Murphy citing Ross EV 1998).
const WHITENS_J_CM2: [(f64, f64); 4] = [(35e-12, 0.65), (350e-12, 1.0), (800e-12, 1.0), (5e-9, 2.0)];

/// Local fluence at the top of most ink (0.5 mm) for each J/cm2 that falls on a usual spot (3 mm, type II), by wavelength:
/// this program's own light. That black ink whitens at about the same fluence at 532, 694, 755 and 1064 nm is published
/// (secondary, Murphy); so the local threshold goes with this.
const LOCAL_PER_FALLING: [(f64, f64); 3] = [(532.0, 1.73), (755.0, 2.76), (1064.0, 2.52)];

/// A value between the points of a table, whose ends go on; `scale` makes the abscissae even.
fn between(points: &[(f64, f64)], x: f64, scale: fn(f64) -> f64) -> f64 {
    let last = points.last().map_or(0.0, |p| p.1);
    let pair = points.windows(2).find(|w| w.last().is_some_and(|p| x <= p.0));
    match pair {
        Some([a, b]) => {
            let t = ((scale(x) - scale(a.0)) / (scale(b.0) - scale(a.0))).clamp(0.0, 1.0);
            a.1 * (b.1 / a.1).powf(t)
        }
        _ => last,
    }
}

/// Local fluence at which black ink whitens in half of the places, J/cm2.
#[must_use]
pub fn whitening_threshold_j_cm2(pulse: PulseDuration, wavelength: Wavelength) -> f64 {
    let falling = between(&WHITENS_J_CM2, pulse.seconds(), f64::ln);
    falling * between(&LOCAL_PER_FALLING, wavelength.nm(), |nm| nm)
}

/// How strongly ink answers against black ink, 0 to 1: the square root of its absorption over that of the colours that
/// take the wavelength up best (this program's classes of uptake), the mean over its colours; black is 1. The root is
/// invented for practice: an eye sees whitening long before all of an ink absorbs.
#[must_use]
pub fn response_of(inks: &[InkColour], wavelength: Wavelength) -> f64 {
    /// The best class of coloured ink against carbon of the same mass.
    const BEST: f64 = 0.6;
    let mua = |colour: InkColour| {
        let one = Ink { colours: vec![colour], density: Density::Moderate };
        ink::mua_per_cm(&one, wavelength, 0.1).map(|e| e.nominal).ok()
    };
    let black = mua(InkColour::Black);
    let each = inks.iter().map(|c| match (mua(*c), black) {
        (Some(a), Some(b)) if b > 0.0 => (a / b / BEST).sqrt().min(1.0),
        // Outside the table of inks nothing is known: as a weak one.
        _ => 0.4,
    });
    each.sum::<f64>() / inks.len().max(1) as f64
}

/// How much stronger dense ink answers (invented; "low fluence for dense or layered ink": Kurniadi I et al., Dermatol
/// Ther 2021;34:e14418).
#[must_use]
pub const fn density_factor(density: Density) -> f64 {
    match density {
        Density::Minimal => 0.95,
        Density::Moderate => 1.05,
        Density::Significant => 1.4,
    }
}

/// How strongly larger granules answer: from 0.9 at 50 nm to 1.1 at 2 um, with the logarithm (invented).
#[must_use]
pub fn granule_factor(granule_nm: f64) -> f64 {
    (1.0 + 0.125 * (granule_nm / 300.0).log10()).clamp(0.9, 1.1)
}

/// A chance that grows with a drive from 0 to 1: one half at `middle`, the steeper the larger `power`.
#[must_use]
pub fn chance(drive: f64, middle: f64, power: f64) -> f64 {
    if drive <= 0.0 { 0.0 } else { 1.0 / (1.0 + (middle / drive).powf(power)) }
}

/// Light at the ink over what whitens it, from which on bleeding is usual in usual skin (invented).
pub const BLEEDS_AT: f64 = 2.5;

/// What one pulse does at its middle, as the signs are drawn from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drive {
    /// Light at the ink over what whitens it.
    pub ink: f64,
    /// Local fluence at the basal layer, J/cm2.
    pub basal_j_cm2: f64,
    /// Mean rise of the epidermis with what is left of earlier pulses, K, times the skin's sensitivity.
    pub epidermis_k: f64,
    /// How easily vessels bleed; 1 is usual.
    pub fragility: f64,
    /// Whitening power of the pass: 1 in the first, less later.
    pub pass: f64,
    /// How much of the light at the vessels is taken up there, against 1064 nm.
    pub vessels: f64,
}

impl Drive {
    /// Chance that the place whitens. The end point of a treatment (Murphy 2021).
    #[must_use]
    pub fn whitens(&self) -> f64 {
        self.pass * chance(self.ink, 1.0, 6.0)
    }
    /// Grade of that whitening, 1 to 3 (invented).
    #[must_use]
    pub fn whitening_grade(&self) -> u8 {
        match self.ink * self.pass.sqrt() {
            x if x < 1.25 => 1,
            x if x < 1.9 => 2,
            _ => 3,
        }
    }
    /// Chance of a bleeding point. Bleeding comes with too much fluence (Khunger N et al. 2015; Murphy 2021), from the
    /// ink as well as, with very much light, from skin without ink; the figures are invented.
    #[must_use]
    pub fn bleeds(&self) -> f64 {
        let ink = chance(self.ink * self.fragility, BLEEDS_AT, 16.0);
        let vessels = chance(self.basal_j_cm2 * self.fragility, 45.0, 8.0);
        0.25 * ink.max(vessels)
    }
    /// Chance that tissue is thrown out (Murphy MJ, Lasers Surg Med 2018: seen on about 35 % of slides; the figures are
    /// invented).
    #[must_use]
    pub fn splatters(&self) -> f64 {
        0.15 * chance(self.ink, 3.2, 9.0)
    }
    /// Chance of purpura; most where blood takes up the light, as at 532 nm (invented).
    #[must_use]
    pub fn bruises(&self) -> f64 {
        0.02 * chance(self.basal_j_cm2 * self.vessels * self.fragility, 130.0, 4.0)
    }
    /// Chance that the epidermis separates: thermal injury of the basal layer (Wanner M et al. 2016; the figures are
    /// invented).
    #[must_use]
    pub fn separates(&self) -> f64 {
        0.05 * chance(self.epidermis_k, 140.0, 7.0)
    }
    /// Share of the ink that this pulse frees for the body to carry off. Published means per session: 79 % after 6.5
    /// picosecond sessions, 21 % each (Bernstein EF et al. 2015). That little is gained beyond the fluence that whitens
    /// follows the rule to take the lowest that does (Kurniadi I et al. 2021); the slope is invented.
    #[must_use]
    pub fn clears(&self) -> f64 {
        0.26 * chance(self.ink, 0.75, 6.0)
    }
    /// Pain on the scale from 0 to 10 without anaesthetic (invented).
    #[must_use]
    pub fn pain(&self) -> f64 {
        1.0 + 2.6 * self.ink.max(0.0).sqrt() + self.epidermis_k / 35.0
    }
}

/// How much pulse class weighs on pain: picosecond pulses hurt less (Baumler W et al. 2022, p < 0.001; the factor is
/// invented).
#[must_use]
pub const fn pain_factor(class: PulseClass) -> f64 {
    match class {
        PulseClass::Picosecond => 0.75,
        PulseClass::Nanosecond => 1.0,
    }
}

/// Chance that ink with a metal turns dark at a pulse: at once, and already at little light (Chang LY et al. 2001; the
/// figures are invented).
#[must_use]
pub fn darkens(light_over_threshold: f64) -> f64 {
    0.8 * chance(light_over_threshold, 0.35, 4.0)
}

/// Chance per pulse that gold in the skin turns blue-grey (Cohen PR, Ross EV 2015: immediate; the figure is invented).
pub const GOLD_TURNS: f64 = 0.5;

/// Whitening power of later passes: strong in the first, little or none in passes 2 to 4 (Kossida T et al. 2012; the
/// figure is invented).
pub const LATER_PASS: f64 = 0.3;

/// Middle of the time whitening takes to fade, minutes: gone at about 20 min in imaging (Reddy KK et al. 2013); the
/// drawn value lies between 5 and 30 min, the ends of what is reported.
pub const FADE_MIDDLE_MIN: f64 = 17.0;
/// Spread of the logarithm of that time (invented).
pub const FADE_SPREAD: f64 = 0.25;
/// Ends of that time, minutes.
pub const FADE_ENDS_MIN: [f64; 2] = [5.0, 30.0];

/// What bubbles leave of the light for the ink below (invented; that they scatter it is published, Reddy KK et al.).
pub const LIGHT_THROUGH_BUBBLES: f64 = 0.35;
/// What a film of blood leaves (invented).
pub const LIGHT_THROUGH_BLOOD: f64 = 0.8;
/// How much more the epidermis takes up under bubbles, which send light back (invented).
pub const HEAT_UNDER_BUBBLES: f64 = 1.3;

/// Time after which heat left in the epidermis has fallen to 1/e, s. Cooling of a layer of 0.1 mm takes milliseconds, of
/// the skin below seconds; the figure and the share below are invented.
pub const HEAT_LEAVES_S: f64 = 2.0;
/// Share of a pulse's rise that stays that long.
pub const HEAT_STAYS: f64 = 0.3;

/// Mean rise of the epidermis at which half of the places blister later, K. Set so that about a third of sessions at 755
/// nm, 750 ps, 2.0 to 2.8 J/cm2, types I to III blister (published: 32 % of patients, Au S et al. 2015).
pub const BLISTERS_K: f64 = 48.0;
/// Steepness of it (invented).
pub const BLISTERS_POWER: f64 = 4.0;
/// Mean rise at which half of the places change their pigment, K. Set so that type V at 755 nm, 5 to 7 J/cm2 changes in
/// about 5 to 10 % of sessions (published: 29 % and 38 % of people after 6 sessions, PubMed 20964571).
pub const PIGMENT_K: f64 = 270.0;
/// Steepness of it (invented).
pub const PIGMENT_POWER: f64 = 5.0;

/// What harm counts in the debrief and in the tests, for a whole zone: a separated epidermis or ink or skin turned dark,
/// changed pigment, a blister, bleeding or thrown-out tissue (all invented, in the order of how long they last).
pub mod harm {
    /// Separated or darkened, the whole zone.
    pub const SEPARATED_OR_DARK: f64 = 60.0;
    /// Pigment changed.
    pub const PIGMENT: f64 = 30.0;
    /// A blister.
    pub const BLISTER: f64 = 12.0;
    /// Bled or thrown out, the whole zone.
    pub const BLED: f64 = 25.0;
}

/// Pulses off the spacer before anybody notices (invented).
pub const OFF_SPACER_UNSEEN: u32 = 8;

/// How much blood takes up, against 1064 nm: strong in the green (published order, the figures are rounded from this
/// program's table of haemoglobin).
#[must_use]
pub fn vessels(wavelength: Wavelength) -> f64 {
    let nm = wavelength.nm();
    if nm < 600.0 {
        25.0
    } else if nm < 720.0 {
        1.5
    } else {
        1.0
    }
}

/// How soon after the pulse the client says that it hurts, ms; and how often at most (invented).
pub const PAIN_EVERY_PULSES: u32 = 60;
/// Pulses without any sign after which "nothing to be seen" is said (invented).
pub const NOTHING_AFTER_PULSES: u32 = 20;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thresholds_fall_with_the_pulse_duration_and_agree_with_the_published_points() {
        let at = |pulse: &str, nm| {
            let w = Wavelength::new(nm).unwrap();
            whitening_threshold_j_cm2(pulse.parse().unwrap(), w) / between(&LOCAL_PER_FALLING, nm, |x| x)
        };
        for nm in [532.0, 694.0, 755.0, 1064.0] {
            assert!((at("35 ps", nm) - 0.65).abs() < 1e-9 && (at("750 ps", nm) - 1.0).abs() < 1e-9);
            assert!((at("6 ns", nm) - 2.0).abs() < 1e-9 && (at("10 ps", nm) - 0.65).abs() < 1e-9);
            let middle = at("2 ns", nm);
            assert!(middle > 1.0 && middle < 2.0, "{middle}");
        }
    }

    #[test]
    fn green_light_finds_red_ink_and_red_light_green_ink() {
        let at = |c, nm| response_of(&[c], Wavelength::new(nm).unwrap());
        assert!(at(InkColour::Red, 532.0) > 2.0 * at(InkColour::Red, 1064.0));
        assert!(at(InkColour::Green, 755.0) > 2.0 * at(InkColour::Green, 1064.0));
        assert!((at(InkColour::Black, 1064.0) - 1.0).abs() < 1e-9);
    }

    #[test]
    fn a_chance_is_one_half_in_the_middle_and_never_beyond_one() {
        assert!((chance(2.0, 2.0, 5.0) - 0.5).abs() < 1e-12);
        assert!(chance(0.0, 1.0, 3.0).abs() < 1e-12 && chance(1e9, 1.0, 3.0) <= 1.0);
    }
}
