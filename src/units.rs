//! Quantities of the trade as checked newtypes.
//!
//! Every quantity keeps a private, finite `f64` in the unit its name gives, inside a range that is wide enough for any
//! real device and narrow enough to catch a slipped decimal or a wrong unit. The ranges are sanity bounds of the
//! program, not clinical limits: those live in the clinic's protocol and the device profile.
//!
//! Text always carries its unit. `"3"` is refused where `"3 mm"` is meant, so that millimetres are never taken for
//! centimetres nor joules for millijoules.

use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// Why a text or a number is not a value of the wanted quantity.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum QuantityError {
    /// The text does not start with a number.
    #[error("'{given}' is not a number with a unit; write it like '{example}'")]
    NotANumber {
        /// What stood there.
        given: String,
        /// A well-formed value.
        example: &'static str,
    },
    /// A number without a unit.
    #[error("'{given}' has no unit; write it like '{example}'")]
    MissingUnit {
        /// What stood there.
        given: String,
        /// A well-formed value.
        example: &'static str,
    },
    /// A unit of another quantity, or none that is known.
    #[error("'{unit}' is not a unit of {quantity}; allowed: {allowed}")]
    WrongUnit {
        /// The unit that stood there.
        unit: String,
        /// The name of the quantity.
        quantity: &'static str,
        /// The units that are understood.
        allowed: String,
    },
    /// Not a number, infinite, or outside the sanity range.
    #[error("{quantity} {given} is outside {range}")]
    OutOfRange {
        /// The name of the quantity.
        quantity: &'static str,
        /// The value as given.
        given: String,
        /// The allowed range in words.
        range: String,
    },
}

/// Formats a number with as many decimals as it needs, up to `max`, and no trailing zeros.
#[must_use]
pub fn trimmed(value: f64, max: usize) -> String {
    let text = format!("{value:.max$}");
    if text.contains('.') {
        let short = text.trim_end_matches('0').trim_end_matches('.');
        if short == "-0" { "0".to_owned() } else { short.to_owned() }
    } else {
        text
    }
}

/// Splits `"2.5 J/cm2"` into number and unit; the unit may follow without a space.
fn split_number(text: &str) -> Option<(f64, &str)> {
    let text = text.trim();
    let end = text
        .char_indices()
        .find(|&(i, c)| {
            let exponent_sign = (c == '-' || c == '+') && text.get(..i).is_some_and(|t| t.ends_with(['e', 'E']));
            let exponent = (c == 'e' || c == 'E')
                && i > 0
                && text
                    .get(i + 1..)
                    .is_some_and(|t| t.starts_with(|d: char| d.is_ascii_digit() || d == '-' || d == '+'));
            !(c.is_ascii_digit() || c == '.' || (i == 0 && (c == '-' || c == '+')) || exponent || exponent_sign)
        })
        .map_or(text.len(), |(i, _)| i);
    let (number, unit) = text.split_at_checked(end)?;
    Some((number.parse().ok()?, unit.trim()))
}

/// One spelling of a unit and its factor to the stored unit.
type UnitName = (&'static str, f64);

fn parse_quantity(
    text: &str,
    quantity: &'static str,
    example: &'static str,
    names: &[UnitName],
) -> Result<f64, QuantityError> {
    let not_a_number = || QuantityError::NotANumber { given: text.trim().to_owned(), example };
    let (number, unit) = split_number(text).ok_or_else(not_a_number)?;
    if unit.is_empty() {
        return Err(QuantityError::MissingUnit { given: text.trim().to_owned(), example });
    }
    match names.iter().find(|(name, _)| *name == unit) {
        Some((_, factor)) => Ok(number * factor),
        None => Err(QuantityError::WrongUnit {
            unit: unit.to_owned(),
            quantity,
            allowed: names.iter().map(|(n, _)| *n).collect::<Vec<_>>().join(", "),
        }),
    }
}

/// What every quantity can do, so that loaders, forms and read-back can treat them alike.
pub trait Quantity: Copy + PartialOrd + fmt::Display + FromStr<Err = QuantityError> {
    /// Name in plain words, for messages.
    const NAME: &'static str;
    /// The stored unit.
    const UNIT: &'static str;
    /// A well-formed value.
    const EXAMPLE: &'static str;
    /// The number in the stored unit.
    fn value(self) -> f64;
    /// Checks a number in the stored unit.
    ///
    /// # Errors
    /// [`QuantityError::OutOfRange`] when it is not finite or outside the sanity range.
    fn checked(value: f64) -> Result<Self, QuantityError>;
    /// Reads a bare number in the stored unit or a number with a unit: what a form does whose label already shows the
    /// unit.
    ///
    /// # Errors
    /// Any [`QuantityError`] but a missing unit.
    fn from_form(text: &str) -> Result<Self, QuantityError> {
        match text.trim().replace(',', ".").parse::<f64>() {
            Ok(number) => Self::checked(number),
            Err(_) => text.replace(',', ".").parse(),
        }
    }
}

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $getter:ident, $words:literal, $unit:literal, $example:literal, $min:literal ..= $max:literal,
     [$(($alias:literal, $factor:expr)),+ $(,)?], $display:ident $decimals:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(try_from = "f64", into = "f64")]
        pub struct $name(f64);

        impl $name {
            #[doc = concat!("Smallest accepted value, in ", $unit, ".")]
            pub const MIN: f64 = $min;
            #[doc = concat!("Largest accepted value, in ", $unit, ".")]
            pub const MAX: f64 = $max;

            #[doc = concat!("A ", $words, " from a number in ", $unit, ".")]
            ///
            /// # Errors
            /// [`QuantityError::OutOfRange`] when the number is not finite or outside `MIN..=MAX`.
            pub fn new(value: f64) -> Result<Self, QuantityError> {
                if value.is_finite() && (Self::MIN..=Self::MAX).contains(&value) {
                    Ok(Self(value))
                } else {
                    Err(QuantityError::OutOfRange {
                        quantity: $words,
                        given: if value.abs() < 1e9 { format!("{} {}", trimmed(value, 6), $unit) } else { format!("{value:e} {}", $unit) },
                        range: format!("{} to {} {}", trimmed($min, 15), trimmed($max, 6), $unit),
                    })
                }
            }

            #[doc = concat!("The value in ", $unit, ".")]
            #[must_use]
            pub const fn $getter(self) -> f64 {
                self.0
            }
        }

        impl Quantity for $name {
            const NAME: &'static str = $words;
            const UNIT: &'static str = $unit;
            const EXAMPLE: &'static str = $example;
            fn value(self) -> f64 {
                self.0
            }
            fn checked(value: f64) -> Result<Self, QuantityError> {
                Self::new(value)
            }
        }

        impl TryFrom<f64> for $name {
            type Error = QuantityError;
            fn try_from(value: f64) -> Result<Self, Self::Error> {
                Self::new(value)
            }
        }

        impl From<$name> for f64 {
            fn from(quantity: $name) -> Self {
                quantity.0
            }
        }

        impl FromStr for $name {
            type Err = QuantityError;
            fn from_str(text: &str) -> Result<Self, Self::Err> {
                Self::new(parse_quantity(text, $words, $example, &[$(($alias, $factor)),+])?)
            }
        }

        quantity!(@$display $name, $unit, $decimals);
    };
    (@scaled $name:ident, $unit:literal, $decimals:literal) => {
        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                let (factor, unit) = match self.0 {
                    t if t < 1e-12 => (1e15, "fs"),
                    t if t < 0.999_999_5e-9 => (1e12, "ps"),
                    t if t < 0.999_999_5e-6 => (1e9, "ns"),
                    t if t < 0.999_999_5e-3 => (1e6, "us"),
                    t if t < 0.999_999_5 => (1e3, "ms"),
                    _ => (1.0, "s"),
                };
                write!(f, "{} {unit}", trimmed(self.0 * factor, $decimals))
            }
        }
    };
    (@plain $name:ident, $unit:literal, $decimals:literal) => {
        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "{} {}", trimmed(self.0, $decimals), $unit)
            }
        }
    };
}

quantity!(
    /// Laser wavelength in nanometres.
    Wavelength, nm, "wavelength", "nm", "755 nm", 400.0..=1400.0,
    [("nm", 1.0), ("um", 1e3)], plain 1
);
quantity!(
    /// Pulse duration (full width at half maximum) in seconds.
    PulseDuration, seconds, "pulse duration", "s", "750 ps", 1e-13..=1.0,
    [("fs", 1e-15), ("ps", 1e-12), ("ns", 1e-9), ("us", 1e-6), ("µs", 1e-6), ("ms", 1e-3), ("s", 1.0)], scaled 3
);
quantity!(
    /// Diameter of a granule of ink or of a clump of granules, in nanometres.
    GranuleDiameter, nm, "granule diameter", "nm", "100 nm", 1.0..=100_000.0,
    [("nm", 1.0), ("um", 1e3), ("µm", 1e3)], plain 1
);
quantity!(
    /// Diameter of the spot on the skin in millimetres (1/e2 diameter for a Gaussian beam).
    SpotDiameter, mm, "spot", "mm", "3 mm", 0.5..=30.0,
    [("mm", 1.0), ("cm", 10.0)], plain 2
);
quantity!(
    /// Fluence (radiant exposure, averaged over the spot) in J/cm2.
    Fluence, j_cm2, "fluence", "J/cm2", "2.5 J/cm2", 0.001..=100.0,
    [("J/cm2", 1.0), ("J/cm²", 1.0), ("J/cm^2", 1.0), ("mJ/cm2", 1e-3), ("mJ/cm²", 1e-3)], plain 3
);
quantity!(
    /// Energy of one pulse in joules.
    PulseEnergy, joules, "energy", "J", "0.35 J", 0.000_001..=100.0,
    [("J", 1.0), ("mJ", 1e-3)], plain 4
);
quantity!(
    /// Pulse repetition rate in hertz.
    RepetitionRate, hz, "rate", "Hz", "5 Hz", 0.1..=100.0,
    [("Hz", 1.0)], plain 2
);
quantity!(
    /// A length or width on the skin in millimetres.
    Length, mm, "length", "mm", "40 mm", 0.1..=2000.0,
    [("mm", 1.0), ("cm", 10.0)], plain 2
);
quantity!(
    /// Body weight in kilograms.
    BodyWeight, kg, "weight", "kg", "70 kg", 0.5..=400.0,
    [("kg", 1.0)], plain 1
);
quantity!(
    /// Anaesthetic cream in grams.
    CreamMass, grams, "cream", "g", "10 g", 0.01..=1000.0,
    [("g", 1.0)], plain 2
);
quantity!(
    /// Skin under anaesthetic cream in cm2.
    SkinArea, cm2, "area", "cm2", "50 cm2", 0.1..=20_000.0,
    [("cm2", 1.0), ("cm²", 1.0)], plain 1
);
quantity!(
    /// How long a cream has been on the skin, in minutes.
    TimeOnSkin, minutes, "time on the skin", "min", "60 min", 0.0..=2880.0,
    [("min", 1.0), ("h", 60.0)], plain 1
);
quantity!(
    /// A drug in milligrams.
    DrugMass, mg, "dose", "mg", "100 mg", 0.01..=10_000.0,
    [("mg", 1.0), ("g", 1000.0)], plain 2
);
quantity!(
    /// Strength of a solution in per cent: 1 % is 10 mg in a millilitre.
    Strength, percent, "strength", "%", "1 %", 0.1..=5.0,
    [("%", 1.0)], plain 2
);
quantity!(
    /// Volume of a solution in millilitres.
    SolutionVolume, ml, "volume", "mL", "10 mL", 0.01..=500.0,
    [("mL", 1.0), ("ml", 1.0)], plain 2
);
quantity!(
    /// Linear overlap of neighbouring spots in per cent: `100 (1 - pitch / diameter)`.
    Overlap, percent, "overlap", "%", "10 %", 0.0..=90.0,
    [("%", 1.0)], plain 1
);
quantity!(
    /// A share in per cent, used for tolerances and steps.
    Percent, value, "percentage", "%", "5 %", 0.0..=100.0,
    [("%", 1.0)], plain 2
);
quantity!(
    /// A waiting time in seconds, at most ten years.
    WaitingTime, seconds, "waiting time", "s", "20 min", 0.0..=315_360_000.0,
    [("s", 1.0), ("min", 60.0), ("h", 3600.0), ("d", 86_400.0), ("days", 86_400.0), ("weeks", 604_800.0)], plain 0
);
quantity!(
    /// How long an eye or skin is exposed, in seconds: a pulse, a train or a continuous beam, up to a working day.
    ExposureTime, seconds, "exposure time", "s", "10 s", 1e-15..=30_000.0,
    [("fs", 1e-15), ("ps", 1e-12), ("ns", 1e-9), ("us", 1e-6), ("µs", 1e-6), ("ms", 1e-3), ("s", 1.0), ("min", 60.0),
     ("h", 3600.0)], scaled 3
);
quantity!(
    /// Angle under which a source is seen, in milliradians; 1.5 mrad or less is a point.
    AngularSubtense, mrad, "angular subtense", "mrad", "1.5 mrad", 0.0..=2000.0,
    [("mrad", 1.0)], plain 3
);
quantity!(
    /// Full-angle beam divergence in milliradians.
    Divergence, mrad, "divergence", "mrad", "2 mrad", 0.001..=2000.0,
    [("mrad", 1.0)], plain 3
);

impl From<PulseDuration> for ExposureTime {
    fn from(pulse: PulseDuration) -> Self {
        // Every pulse duration lies in the range of exposure times.
        Self(pulse.seconds())
    }
}

impl AngularSubtense {
    /// A point source.
    pub const POINT: Self = Self(0.0);
}

impl WaitingTime {
    /// The time in words: `20 min`, `6 weeks`, `45 s`.
    #[must_use]
    pub fn words(self) -> String {
        let s = self.0;
        let whole = |unit: f64| (s / unit).fract() < 1e-9;
        let plural = |n: f64, word: &str| {
            if (n - 1.0).abs() < 1e-9 { format!("1 {word}") } else { format!("{} {word}s", trimmed(n, 1)) }
        };
        match s {
            s if s >= 604_800.0 && whole(604_800.0) => plural(s / 604_800.0, "week"),
            s if s >= 86_400.0 && whole(86_400.0) => plural(s / 86_400.0, "day"),
            s if s >= 3600.0 && whole(3600.0) => format!("{} h", trimmed(s / 3600.0, 1)),
            s if s >= 60.0 => format!("{} min", trimmed(s / 60.0, 1)),
            s => format!("{} s", trimmed(s, 0)),
        }
    }
}

impl SpotDiameter {
    /// Area of the spot in cm2: `pi d^2 / 4`.
    #[must_use]
    pub fn area_cm2(self) -> f64 {
        let d_cm = self.0 / 10.0;
        std::f64::consts::PI * d_cm * d_cm / 4.0
    }
    /// Area of the spot in mm2.
    #[must_use]
    pub fn area_mm2(self) -> f64 {
        self.area_cm2() * 100.0
    }
}

impl Fluence {
    /// Pulse energy that gives this fluence over the spot: `E = F pi d^2 / 4`, in joules.
    #[must_use]
    pub fn energy_joules(self, spot: SpotDiameter) -> f64 {
        self.0 * spot.area_cm2()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn text_needs_its_unit_and_knows_its_spellings() {
        assert!((("2.5 J/cm²".parse::<Fluence>().unwrap()).j_cm2() - 2.5).abs() < 1e-12);
        assert!((("2500 mJ/cm2".parse::<Fluence>().unwrap()).j_cm2() - 2.5).abs() < 1e-12);
        assert!((("0.4cm".parse::<SpotDiameter>().unwrap()).mm() - 4.0).abs() < 1e-12);
        assert!((("7.5e2 ps".parse::<PulseDuration>().unwrap()).seconds() - 7.5e-10).abs() < 1e-22);
        assert!(matches!("3".parse::<SpotDiameter>(), Err(QuantityError::MissingUnit { .. })));
        assert!(matches!("3 J".parse::<SpotDiameter>(), Err(QuantityError::WrongUnit { .. })));
        assert!(matches!("mm".parse::<SpotDiameter>(), Err(QuantityError::NotANumber { .. })));
        assert!(matches!("-3 mm".parse::<SpotDiameter>(), Err(QuantityError::OutOfRange { .. })));
        assert!(matches!("1e300 J/cm2".parse::<Fluence>(), Err(QuantityError::OutOfRange { .. })));
        assert!(matches!("NaN mm".parse::<SpotDiameter>(), Err(QuantityError::NotANumber { .. })));
    }

    #[test]
    fn bounds_hold_to_the_last_bit_and_refuse_what_is_not_finite() {
        for v in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 0.0, -0.0, -1.0, f64::MAX, Fluence::MAX.next_up()] {
            assert!(Fluence::new(v).is_err(), "{v}");
        }
        assert!(Fluence::new(Fluence::MIN).is_ok() && Fluence::new(Fluence::MAX).is_ok());
        assert!(Fluence::new(Fluence::MIN.next_down()).is_err());
    }

    #[test]
    fn durations_pick_a_readable_unit() {
        for (s, text) in [(7.5e-10, "750 ps"), (1e-9, "1 ns"), (5e-8, "50 ns"), (2e-13, "200 fs"), (1e-6, "1 us")] {
            assert_eq!(PulseDuration::new(s).unwrap().to_string(), text);
        }
        assert_eq!(WaitingTime::new(1200.0).unwrap().words(), "20 min");
        assert_eq!(WaitingTime::new(6.0 * 604_800.0).unwrap().words(), "6 weeks");
    }

    /// Pulse-energy table of the trade (computed from E = F pi d^2 / 4), e.g. 3 mm and 5.5 J/cm2 give 0.389 J.
    #[test]
    fn pulse_energy_follows_fluence_and_spot() {
        for (mm, f, e) in
            [(3.0, 5.5, 0.389), (3.0, 10.0, 0.707), (4.0, 3.0, 0.377), (5.0, 4.0, 0.785), (6.0, 3.0, 0.848)]
        {
            let got = Fluence::new(f).unwrap().energy_joules(SpotDiameter::new(mm).unwrap());
            assert!((got - e).abs() < 5e-4, "{mm} mm {f} J/cm2: {got}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn any_text_is_refused_or_read_but_never_panics(text in "\\PC{0,24}") {
            let _ = text.parse::<Fluence>().map(|f| f.to_string());
            let _ = SpotDiameter::from_form(&text);
            let _ = text.parse::<PulseDuration>();
        }

        #[test]
        fn what_is_shown_reads_back(v in 0.01f64..100.0) {
            let f = Fluence::new((v * 1000.0).round() / 1000.0).unwrap();
            prop_assert!((f.to_string().parse::<Fluence>().unwrap().j_cm2() - f.j_cm2()).abs() < 1e-9);
        }
    }
}
