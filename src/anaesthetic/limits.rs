//! What a person may get, by age and weight.

use super::figures::{
    ADULT_YEARS, CREAM_ADOLESCENT, CREAM_ADULT, CREAM_CHILD, CREAM_INFANT, CREAM_NEWBORN, CREAM_ONSET_MIN,
    CREAM_WEIGHT_RULE, CREAM_WEIGHT_STEPS_KG, CREAM_YOUNG_CHILD, CreamLimit, INFANT_FACTOR, INFANT_MONTHS,
    LIDOCAINE_ADULT, LIDOCAINE_EPINEPHRINE_ADULT, LIDOCAINE_EPINEPHRINE_MINOR, LIDOCAINE_MINOR, LidocaineLimit,
};
use crate::protocol::Confidence;
use crate::units::{BodyWeight, QuantityError, trimmed};
use crate::words::Word;
use std::fmt;

/// An age in whole years and months, up to 120 years.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Age {
    months: u16,
}

/// Why something is no age or no weight.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PersonError {
    /// Too many years.
    #[error("{0} years is outside 0 to {max} years", max = Age::MAX_YEARS)]
    Years(u16),
    /// Too many months beside the years.
    #[error("{0} months is outside 0 to {max} months; write whole years as years", max = Age::MAX_MONTHS)]
    Months(u16),
    /// The weight.
    #[error(transparent)]
    Weight(#[from] QuantityError),
}

impl Age {
    /// Largest number of years.
    pub const MAX_YEARS: u16 = 120;
    /// Largest number of months beside the years.
    pub const MAX_MONTHS: u16 = 11;

    /// An age of completed years and completed months beside them: 0 years and 4 months.
    ///
    /// # Errors
    /// [`PersonError`] above [`Age::MAX_YEARS`] or [`Age::MAX_MONTHS`].
    pub fn new(years: u16, months: u16) -> Result<Self, PersonError> {
        if years > Self::MAX_YEARS {
            return Err(PersonError::Years(years));
        }
        if months > Self::MAX_MONTHS {
            return Err(PersonError::Months(months));
        }
        Ok(Self { months: 12 * years + months })
    }

    /// Completed years.
    #[must_use]
    pub const fn years(self) -> u16 {
        self.months / 12
    }

    /// Completed months in all.
    #[must_use]
    pub const fn in_months(self) -> u16 {
        self.months
    }

    /// Of age in the sense of these limits.
    #[must_use]
    pub const fn is_adult(self) -> bool {
        self.years() >= ADULT_YEARS
    }
}

impl fmt::Display for Age {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.years(), self.months % 12) {
            (0, months) => write!(f, "{months} months"),
            (years, 0) => write!(f, "{years} years"),
            (years, months) => write!(f, "{years} years {months} months"),
        }
    }
}

/// What a person may get of each anaesthetic where it is the only one. Together, [`super::judge`] adds the shares.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Age that they hold for.
    pub age: Age,
    /// Weight that they hold for.
    pub weight: BodyWeight,
    /// Cream of lidocaine 2.5 % and prilocaine 2.5 %, on intact skin.
    pub cream: CreamLimit,
    /// Infiltrated lidocaine without epinephrine, in mg, rounded down to a tenth.
    pub lidocaine_mg: f64,
    /// Infiltrated lidocaine with epinephrine, in mg, rounded down to a tenth.
    pub lidocaine_epinephrine_mg: f64,
}

/// A figure that counted, in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Counted {
    /// What it says.
    pub what: String,
    /// Where it comes from.
    pub source: &'static str,
    /// How sure it is.
    pub confidence: Confidence,
}

impl fmt::Display for Counted {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {} [{}]", self.what, self.source, self.confidence.word())
    }
}

/// The limits for a person.
#[must_use]
pub fn limits(age: Age, weight: BodyWeight) -> Limits {
    let (plain, epinephrine) = lidocaine_rules(age);
    Limits {
        age,
        weight,
        cream: cream(age, weight),
        lidocaine_mg: in_mg(&plain, age, weight),
        lidocaine_epinephrine_mg: in_mg(&epinephrine, age, weight),
    }
}

/// The limits for an age in whole years and a weight in kg. Below a year the months are not known, and the youngest
/// infant is assumed.
///
/// # Errors
/// [`PersonError`] for more than 120 years and a weight that is not a number from 0.5 to 400 kg.
pub fn limits_in_years(age_years: u16, weight_kg: f64) -> Result<Limits, PersonError> {
    Ok(limits(Age::new(age_years, 0)?, BodyWeight::new(weight_kg)?))
}

fn cream_by_age(age: Age) -> CreamLimit {
    match (age.in_months(), age.years()) {
        (0..=3, _) => CREAM_NEWBORN,
        (4..=11, _) => CREAM_INFANT,
        (_, 0..=6) => CREAM_YOUNG_CHILD,
        (_, 7..=12) => CREAM_CHILD,
        (_, 13..ADULT_YEARS) => CREAM_ADOLESCENT,
        _ => CREAM_ADULT,
    }
}

fn cream(age: Age, weight: BodyWeight) -> CreamLimit {
    let by_age = cream_by_age(age);
    let by_weight = CREAM_WEIGHT_STEPS_KG.iter().find(|(up_to_kg, _)| weight.kg() <= *up_to_kg);
    match by_weight {
        // The rows allow more from one to the next.
        Some((_, row)) if row.max_g < by_age.max_g => *row,
        _ => by_age,
    }
}

const fn lidocaine_rules(age: Age) -> (LidocaineLimit, LidocaineLimit) {
    if age.is_adult() {
        (LIDOCAINE_ADULT, LIDOCAINE_EPINEPHRINE_ADULT)
    } else {
        (LIDOCAINE_MINOR, LIDOCAINE_EPINEPHRINE_MINOR)
    }
}

const fn is_young_infant(age: Age) -> bool {
    age.in_months() < INFANT_MONTHS
}

fn in_mg(rule: &LidocaineLimit, age: Age, weight: BodyWeight) -> f64 {
    let factor = if is_young_infant(age) { INFANT_FACTOR.value } else { 1.0 };
    let mg = (rule.mg_per_kg * factor * weight.kg()).min(rule.max_mg);
    // Down to a tenth; the small part keeps 4.5 times 60 from becoming 269.9.
    (mg * 10.0 + 1e-6).floor() / 10.0
}

impl Limits {
    /// The figures that these limits stand on.
    #[must_use]
    pub fn counted(&self) -> Vec<Counted> {
        let c = &self.cream;
        let mut all = vec![Counted {
            what: format!(
                "cream at most {} g on {} cm2 for {} h ({})",
                trimmed(c.max_g, 1),
                trimmed(c.max_area_cm2, 1),
                trimmed(c.max_time_h, 1),
                c.who
            ),
            source: c.source,
            confidence: c.confidence,
        }];
        if *c != cream_by_age(self.age) {
            all.push(Counted {
                what: "below the weight of the age, the row of the weight".to_owned(),
                source: CREAM_WEIGHT_RULE,
                confidence: Confidence::CommonPractice,
            });
        }
        all.push(Counted {
            what: format!("cream works after {} min", trimmed(CREAM_ONSET_MIN.value, 0)),
            source: CREAM_ONSET_MIN.source,
            confidence: CREAM_ONSET_MIN.confidence,
        });
        let (plain, epinephrine) = lidocaine_rules(self.age);
        for (what, rule) in [("lidocaine", plain), ("lidocaine with epinephrine", epinephrine)] {
            all.push(Counted {
                what: format!("{what} {} mg/kg, at most {} mg", trimmed(rule.mg_per_kg, 1), trimmed(rule.max_mg, 0)),
                source: rule.source,
                confidence: rule.confidence,
            });
        }
        if is_young_infant(self.age) {
            all.push(Counted {
                what: format!("lidocaine times {}", trimmed(INFANT_FACTOR.value, 1)),
                source: INFANT_FACTOR.source,
                confidence: INFANT_FACTOR.confidence,
            });
        }
        all
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(years: u16, months: u16, kg: f64) -> Limits {
        limits(Age::new(years, months).unwrap(), BodyWeight::new(kg).unwrap())
    }

    #[test]
    fn the_edge_of_a_row_belongs_to_the_stricter_one() {
        assert_eq!(of(0, 3, 9.0).cream, CREAM_NEWBORN);
        assert_eq!(of(0, 4, 9.0).cream, CREAM_INFANT);
        assert_eq!(of(0, 4, 5.0).cream, CREAM_NEWBORN);
        assert_eq!(of(1, 0, 10.0).cream, CREAM_INFANT);
        assert_eq!(of(1, 0, 10.1).cream, CREAM_YOUNG_CHILD);
        assert_eq!(of(6, 11, 25.0).cream, CREAM_YOUNG_CHILD);
        assert_eq!(of(7, 0, 25.0).cream, CREAM_CHILD);
        assert_eq!(of(7, 0, 20.0).cream, CREAM_YOUNG_CHILD);
        assert_eq!(of(12, 11, 50.0).cream, CREAM_CHILD);
        assert_eq!(of(17, 11, 60.0).cream, CREAM_ADOLESCENT);
        assert_eq!(of(18, 0, 60.0).cream, CREAM_ADULT);
        assert_eq!(of(40, 0, 19.0).cream, CREAM_YOUNG_CHILD);
    }

    #[test]
    fn the_young_get_less_lidocaine_and_the_youngest_least() {
        assert_eq!((of(17, 11, 60.0).lidocaine_mg, of(18, 0, 60.0).lidocaine_mg), (90.0, 270.0));
        assert_eq!((of(0, 5, 8.0).lidocaine_mg, of(0, 6, 8.0).lidocaine_mg), (8.4, 12.0));
        assert_eq!((of(0, 5, 8.0).lidocaine_epinephrine_mg, of(0, 6, 8.0).lidocaine_epinephrine_mg), (16.8, 24.0));
        // 1.5 mg/kg of 300 kg would pass the adult maximum, and so would 3 mg/kg.
        let heavy = of(16, 0, 300.0);
        assert_eq!((heavy.lidocaine_mg, heavy.lidocaine_epinephrine_mg), (300.0, 500.0));
    }

    #[test]
    fn limits_are_rounded_down() {
        // 4.5 and 7 mg/kg of 61.03 kg are 274.635 and 427.21 mg.
        let l = of(30, 0, 61.03);
        assert_eq!((l.lidocaine_mg, l.lidocaine_epinephrine_mg), (274.6, 427.2));
    }

    #[test]
    fn what_is_no_age_or_weight_is_refused() {
        assert_eq!(Age::new(121, 0), Err(PersonError::Years(121)));
        assert_eq!(Age::new(0, 12), Err(PersonError::Months(12)));
        assert!(Age::new(u16::MAX, u16::MAX).is_err());
        for kg in [0.0, -70.0, f64::NAN, f64::INFINITY] {
            assert!(limits_in_years(30, kg).is_err(), "{kg}");
        }
        // Months that nobody knows are taken for the youngest.
        assert_eq!(limits_in_years(0, 8.0).unwrap(), of(0, 0, 8.0));
    }

    #[test]
    fn every_limit_names_what_it_stands_on() {
        let words = |l: Limits| l.counted().iter().map(ToString::to_string).collect::<Vec<_>>().join("\n");
        let infant = words(of(0, 4, 4.5));
        for part in ["1 g on 10 cm2", "row of the weight", "1.5 mg/kg", "3 mg/kg", "times 0.7", "2016", "secondary"] {
            assert!(infant.contains(part), "{part} in {infant}");
        }
        let adult = words(of(30, 0, 70.0));
        assert!(adult.contains("from memory [common-practice]") && !adult.contains("row of the weight"), "{adult}");
        assert!(!words(of(2, 0, 15.0)).contains("row of the weight"));
    }
}
