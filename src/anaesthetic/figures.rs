//! The figures, each with its source and how sure it is.

use crate::protocol::Confidence;
use serde::Serialize;

const CREAM_LABEL: &str = "US label of lidocaine 2.5 % and prilocaine 2.5 % cream, as quoted";
const AAD: &str = "Kouba DJ et al., guideline of the American Academy of Dermatology 2016, as quoted";

/// A figure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Figure {
    /// The value.
    pub value: f64,
    /// Where it comes from.
    pub source: &'static str,
    /// How sure it is.
    pub confidence: Confidence,
}

/// What a row of the cream's table allows on intact skin.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CreamLimit {
    /// For whom.
    pub who: &'static str,
    /// Most cream, in g.
    pub max_g: f64,
    /// Largest area, in cm2.
    pub max_area_cm2: f64,
    /// Longest time on the skin, in h.
    pub max_time_h: f64,
    /// Where it comes from.
    pub source: &'static str,
    /// How sure it is.
    pub confidence: Confidence,
}

impl CreamLimit {
    /// Longest time on the skin, in min.
    #[must_use]
    pub fn max_minutes(&self) -> f64 {
        self.max_time_h * 60.0
    }
}

/// Up to 3 months, or up to 5 kg. The label says below 5 kg here and above 5 kg in the next row: the limit itself
/// belongs to the stricter one, here and in the other rows.
pub const CREAM_NEWBORN: CreamLimit = CreamLimit {
    who: "0 to 3 months, or up to 5 kg",
    max_g: 1.0,
    max_area_cm2: 10.0,
    max_time_h: 1.0,
    source: CREAM_LABEL,
    confidence: Confidence::Secondary,
};

/// From 3 months to a year and above 5 kg.
pub const CREAM_INFANT: CreamLimit = CreamLimit {
    who: "3 to 12 months and above 5 kg",
    max_g: 2.0,
    max_area_cm2: 20.0,
    max_time_h: 4.0,
    source: CREAM_LABEL,
    confidence: Confidence::Secondary,
};

/// One to 6 years and above 10 kg.
pub const CREAM_YOUNG_CHILD: CreamLimit = CreamLimit {
    who: "1 to 6 years and above 10 kg",
    max_g: 10.0,
    max_area_cm2: 100.0,
    max_time_h: 4.0,
    source: CREAM_LABEL,
    confidence: Confidence::Secondary,
};

/// Seven to 12 years and above 20 kg.
pub const CREAM_CHILD: CreamLimit = CreamLimit {
    who: "7 to 12 years and above 20 kg",
    max_g: 20.0,
    max_area_cm2: 200.0,
    max_time_h: 4.0,
    source: CREAM_LABEL,
    confidence: Confidence::Secondary,
};

/// Thirteen to 17 years: no row of its own was found, so that of 7 to 12 years goes on.
pub const CREAM_ADOLESCENT: CreamLimit = CreamLimit {
    who: "13 to 17 years, as 7 to 12",
    source: "no row for 13 to 17 years was found; that of 7 to 12 years is kept, the stricter choice",
    confidence: Confidence::CommonPractice,
    ..CREAM_CHILD
};

/// Eighteen years and older. The label gives adults no maximum.
pub const CREAM_ADULT: CreamLimit = CreamLimit {
    who: "adults",
    max_g: 60.0,
    max_area_cm2: 600.0,
    max_time_h: 5.0,
    source: "European product information of the cream, 60 g on 600 cm2 for 1 to 5 h, quoted from memory",
    confidence: Confidence::CommonPractice,
};

/// Weights up to which a row holds whatever the age, in kg.
pub const CREAM_WEIGHT_STEPS_KG: [(f64, CreamLimit); 3] =
    [(5.0, CREAM_NEWBORN), (10.0, CREAM_INFANT), (20.0, CREAM_YOUNG_CHILD)];

/// That a person older than 3 months but below the weight of the age row gets the row of the weight.
pub const CREAM_WEIGHT_RULE: &str = "footnote of the same label, quoted from memory";

/// Time until the cream works, in min.
pub const CREAM_ONSET_MIN: Figure = Figure { value: 60.0, source: CREAM_LABEL, confidence: Confidence::Secondary };

/// Time until it works for a larger painful procedure in adults, in min.
pub const CREAM_PAINFUL_MIN: Figure = Figure { value: 120.0, source: CREAM_LABEL, confidence: Confidence::Secondary };

/// Cream on 10 cm2 for a larger painful procedure in adults, in g.
pub const CREAM_PAINFUL_G_PER_10_CM2: Figure =
    Figure { value: 2.0, source: CREAM_LABEL, confidence: Confidence::Secondary };

/// Lidocaine in a gram of cream, and as much prilocaine, in mg.
pub const CREAM_MG_PER_G: Figure = Figure { value: 25.0, source: CREAM_LABEL, confidence: Confidence::Primary };

/// A limit of infiltrated lidocaine.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LidocaineLimit {
    /// By body weight, in mg/kg.
    pub mg_per_kg: f64,
    /// Whatever the weight, in mg.
    pub max_mg: f64,
    /// Where it comes from.
    pub source: &'static str,
    /// How sure it is.
    pub confidence: Confidence,
}

/// Adults, without epinephrine.
pub const LIDOCAINE_ADULT: LidocaineLimit = LidocaineLimit {
    mg_per_kg: 4.5,
    max_mg: 300.0,
    source: "US label of lidocaine: 4.5 mg/kg and not above 300 mg",
    confidence: Confidence::Primary,
};

/// Adults, with epinephrine.
pub const LIDOCAINE_EPINEPHRINE_ADULT: LidocaineLimit = LidocaineLimit {
    mg_per_kg: 7.0,
    max_mg: 500.0,
    source: "US label of lidocaine with epinephrine: 7 mg/kg and not above 500 mg",
    confidence: Confidence::Primary,
};

/// Below 18 years, without epinephrine: the lower end of the guideline's 1.5 to 2.0 mg/kg. The label allows 4.5 mg/kg
/// below 10 years; the stricter counts. The maximum is that of adults.
pub const LIDOCAINE_MINOR: LidocaineLimit =
    LidocaineLimit { mg_per_kg: 1.5, max_mg: 300.0, source: AAD, confidence: Confidence::Secondary };

/// Below 18 years, with epinephrine: the lower end of the guideline's 3.0 to 4.5 mg/kg; the label allows 7 mg/kg.
pub const LIDOCAINE_EPINEPHRINE_MINOR: LidocaineLimit =
    LidocaineLimit { mg_per_kg: 3.0, max_mg: 500.0, source: AAD, confidence: Confidence::Secondary };

/// What is left of a limit of amide anaesthetics below 6 months of age: 30 % less.
pub const INFANT_FACTOR: Figure = Figure {
    value: 0.7,
    source: "amides reduced by 30 % below 6 months, as quoted from a secondary source",
    confidence: Confidence::Secondary,
};

/// Age below which [`INFANT_FACTOR`] holds, in months.
pub const INFANT_MONTHS: u16 = 6;

/// Age from which adult limits hold, in years; common practice.
pub const ADULT_YEARS: u16 = 18;

/// Milligrams in a millilitre of a solution of 1 %.
pub const MG_PER_ML_AND_PERCENT: f64 = 10.0;
