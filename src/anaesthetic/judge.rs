//! Doses against the limits.

use super::figures::{CREAM_MG_PER_G, CREAM_ONSET_MIN, MG_PER_ML_AND_PERCENT};
use super::limits::Limits;
use crate::units::{CreamMass, DrugMass, QuantityError, SkinArea, SolutionVolume, Strength, TimeOnSkin, trimmed};
use crate::words::words;
use serde::{Deserialize, Serialize};

/// What was given, or is about to be.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Dose {
    /// Cream of lidocaine 2.5 % and prilocaine 2.5 %.
    Cream {
        /// How much.
        #[serde(rename = "cream_g")]
        mass: CreamMass,
        /// On how much skin.
        #[serde(rename = "area_cm2")]
        area: SkinArea,
        /// Since it was applied, or until it was removed.
        #[serde(rename = "minutes")]
        time: TimeOnSkin,
    },
    /// Infiltrated lidocaine.
    Lidocaine {
        /// How much.
        #[serde(rename = "lidocaine_mg")]
        mass: DrugMass,
        /// With epinephrine.
        epinephrine: bool,
    },
}

words! {
    /// How far a cream has come.
    CreamStage, "cream stage" {
        /// It does not work yet.
        NotYet = "not-yet",
        /// It works.
        Working = "working",
        /// The longest time is over.
        RemoveNow = "remove-now",
    }
}

words! {
    /// What is over a limit.
    OverLimit, "limit" {
        /// Mass of cream.
        CreamMass = "cream-mass",
        /// Skin under cream.
        CreamArea = "cream-area",
        /// Time of cream on the skin.
        CreamTime = "cream-time",
        /// Infiltrated lidocaine.
        Lidocaine = "lidocaine",
        /// All doses together.
        Sum = "sum",
    }
}

/// A limit that is passed, in words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// Which limit.
    pub over: OverLimit,
    /// What is wrong and what to do.
    pub text: String,
}

/// What a dose uses up.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Share {
    /// The dose.
    #[serde(flatten)]
    pub dose: Dose,
    /// Share of its own limit; 1 is all of it. For a cream, of its mass or its area, whichever is more.
    pub share: f64,
    /// How far a cream has come.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stage: Option<CreamStage>,
}

/// Doses against the limits.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Judgement {
    /// Each dose, in the order given.
    pub shares: Vec<Share>,
    /// Their sum; above 1 is too much.
    pub sum_of_limits: f64,
    /// No limit is passed.
    pub within_limits: bool,
    /// Each limit that is passed.
    pub findings: Vec<Finding>,
}

/// Sums of shares carry rounding errors; a share above one by less than this is one.
const ROUNDING: f64 = 1e-9;

impl Dose {
    /// Lidocaine in a volume of solution: 10 mL of 1 % hold 100 mg.
    ///
    /// # Errors
    /// [`QuantityError::OutOfRange`] when it comes to less or more than a dose can be.
    pub fn solution(strength: Strength, volume: SolutionVolume, epinephrine: bool) -> Result<Self, QuantityError> {
        let mass = DrugMass::new(MG_PER_ML_AND_PERCENT * strength.percent() * volume.ml())?;
        Ok(Self::Lidocaine { mass, epinephrine })
    }

    /// In words: `cream 10 g on 100 cm2 for 40 min`.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::Cream { mass, area, time } => {
                format!("cream {mass} on {area} for {} min", trimmed(time.minutes().floor(), 0))
            }
            Self::Lidocaine { mass, epinephrine } => {
                format!("lidocaine {mass}{}", if *epinephrine { " with epinephrine" } else { "" })
            }
        }
    }

    /// Lidocaine in it, in mg.
    #[must_use]
    pub fn lidocaine_mg(&self) -> f64 {
        match self {
            Self::Cream { mass, .. } => CREAM_MG_PER_G.value * mass.grams(),
            Self::Lidocaine { mass, .. } => mass.mg(),
        }
    }

    /// Prilocaine in it, in mg.
    #[must_use]
    pub fn prilocaine_mg(&self) -> f64 {
        match self {
            Self::Cream { mass, .. } => CREAM_MG_PER_G.value * mass.grams(),
            Self::Lidocaine { .. } => 0.0,
        }
    }
}

/// How far a cream has come for whom the limits hold.
#[must_use]
pub fn cream_stage(limits: &Limits, time: TimeOnSkin) -> CreamStage {
    match time.minutes() {
        t if t >= limits.cream.max_minutes() => CreamStage::RemoveNow,
        t if t >= CREAM_ONSET_MIN.value => CreamStage::Working,
        _ => CreamStage::NotYet,
    }
}

/// Judges doses that act at the same time. Each counts as a share of its own limit and the shares are added, since the
/// limits hold for one anaesthetic alone (US label of the cream: count all other lidocaine and prilocaine).
#[must_use]
pub fn judge(limits: &Limits, doses: &[Dose]) -> Judgement {
    let mut findings = Vec::new();
    let shares: Vec<Share> = doses.iter().map(|dose| share(limits, *dose, &mut findings)).collect();
    let sum_of_limits: f64 = shares.iter().map(|s| s.share).sum();
    // A dose that is over by itself says so; the sum says what only shows together.
    if doses.len() > 1 && over(sum_of_limits) {
        let text = format!(
            "All doses together come to {} % of the limit. Add nothing more.",
            trimmed(rounded_up(100.0 * sum_of_limits), 2)
        );
        findings.push(Finding { over: OverLimit::Sum, text });
    }
    Judgement { shares, sum_of_limits, within_limits: findings.is_empty(), findings }
}

fn over(share: f64) -> bool {
    share > 1.0 + ROUNDING
}

/// Up to a hundredth: what is over must not read as if it were not.
fn rounded_up(value: f64) -> f64 {
    (value * 100.0 - 1e-6).ceil() / 100.0
}

fn share(limits: &Limits, dose: Dose, findings: &mut Vec<Finding>) -> Share {
    let mut compare = |which: OverLimit, what: &str, value: f64, limit: f64, unit: &str, todo: &str| {
        let share = value / limit;
        if over(share) {
            let text = format!(
                "{what}: {} {unit}, at most {} {unit}. {todo}",
                trimmed(rounded_up(value), 2),
                trimmed(limit, 1)
            );
            findings.push(Finding { over: which, text });
        }
        share
    };
    match dose {
        Dose::Cream { mass, area, time } => {
            let c = &limits.cream;
            let less = "Take off what is too much, or do not apply it.";
            let by_mass = compare(OverLimit::CreamMass, "Cream", mass.grams(), c.max_g, "g", less);
            let by_area = compare(OverLimit::CreamArea, "Skin under cream", area.cm2(), c.max_area_cm2, "cm2", less);
            let late = "Remove it now.";
            compare(OverLimit::CreamTime, "Cream on the skin", time.minutes(), c.max_minutes(), "min", late);
            Share { dose, share: by_mass.max(by_area), stage: Some(cream_stage(limits, time)) }
        }
        Dose::Lidocaine { mass, epinephrine } => {
            let (what, limit) = if epinephrine {
                ("Lidocaine with epinephrine", limits.lidocaine_epinephrine_mg)
            } else {
                ("Lidocaine", limits.lidocaine_mg)
            };
            let todo = "Add nothing more.";
            Share { dose, share: compare(OverLimit::Lidocaine, what, mass.mg(), limit, "mg", todo), stage: None }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::limits::limits_in_years;
    use super::*;

    fn cream(g: f64, cm2: f64, min: f64) -> Dose {
        Dose::Cream {
            mass: CreamMass::new(g).unwrap(),
            area: SkinArea::new(cm2).unwrap(),
            time: TimeOnSkin::new(min).unwrap(),
        }
    }

    fn lidocaine(mg: f64, epinephrine: bool) -> Dose {
        Dose::Lidocaine { mass: DrugMass::new(mg).unwrap(), epinephrine }
    }

    #[test]
    fn shares_add_up_over_all_sources() {
        let adult = limits_in_years(31, 70.0).unwrap();
        // Half of 60 g, a third of 300 mg, a tenth of 490 mg.
        let doses = [cream(30.0, 200.0, 90.0), lidocaine(100.0, false), lidocaine(49.0, true)];
        let judged = judge(&adult, &doses);
        let sum = 0.5 + 1.0 / 3.0 + 0.1;
        assert!((judged.sum_of_limits - sum).abs() < 1e-12 && judged.within_limits && judged.findings.is_empty());
        // Each alone is within its limit, together they are not.
        let judged = judge(&adult, &[cream(30.0, 200.0, 90.0), lidocaine(151.0, false)]);
        assert!(!judged.within_limits);
        assert_eq!(judged.findings.iter().map(|f| f.over).collect::<Vec<_>>(), [OverLimit::Sum]);
        assert!(judged.findings[0].text.contains("100.34 %"), "{}", judged.findings[0].text);
        let nothing = judge(&adult, &[]);
        assert!(nothing.within_limits && nothing.sum_of_limits == 0.0);
    }

    #[test]
    fn the_larger_of_mass_and_area_is_a_creams_share() {
        let adult = limits_in_years(31, 70.0).unwrap();
        let judged = judge(&adult, &[cream(6.0, 300.0, 60.0), cream(45.0, 300.0, 60.0)]);
        assert_eq!(judged.shares.iter().map(|s| s.share).collect::<Vec<_>>(), [0.5, 0.75]);
    }

    #[test]
    fn a_limit_itself_is_allowed_and_a_little_more_is_not() {
        let adult = limits_in_years(31, 70.0).unwrap();
        assert!(judge(&adult, &[cream(60.0, 600.0, 300.0)]).within_limits);
        for (dose, which) in [
            (cream(60.1, 600.0, 300.0), OverLimit::CreamMass),
            (cream(60.0, 600.1, 300.0), OverLimit::CreamArea),
            (cream(60.0, 600.0, 301.0), OverLimit::CreamTime),
            (lidocaine(300.1, false), OverLimit::Lidocaine),
            (lidocaine(490.1, true), OverLimit::Lidocaine),
        ] {
            let judged = judge(&adult, &[dose]);
            assert!(!judged.within_limits);
            assert_eq!(judged.findings.iter().map(|f| f.over).collect::<Vec<_>>(), [which]);
        }
        assert!(judge(&adult, &[lidocaine(300.0, false)]).within_limits);
        assert!(judge(&adult, &[lidocaine(490.0, true)]).within_limits);
    }

    #[test]
    fn a_cream_waits_works_and_has_to_go() {
        let adult = limits_in_years(31, 70.0).unwrap();
        let newborn = limits_in_years(0, 4.0).unwrap();
        let at = |limits, min| cream_stage(limits, TimeOnSkin::new(min).unwrap());
        assert_eq!(
            [0.0, 59.9, 60.0, 299.9, 300.0, 900.0].map(|min| at(&adult, min)),
            [
                CreamStage::NotYet,
                CreamStage::NotYet,
                CreamStage::Working,
                CreamStage::Working,
                CreamStage::RemoveNow,
                CreamStage::RemoveNow
            ]
        );
        // Onset and longest time are the same hour.
        assert_eq!([59.0, 60.0].map(|min| at(&newborn, min)), [CreamStage::NotYet, CreamStage::RemoveNow]);
    }

    #[test]
    fn a_solution_and_a_cream_are_known_in_milligrams() {
        let dose = Dose::solution(Strength::new(2.0).unwrap(), SolutionVolume::new(5.0).unwrap(), true).unwrap();
        assert_eq!(dose, lidocaine(100.0, true));
        assert_eq!((dose.lidocaine_mg(), dose.prilocaine_mg()), (100.0, 0.0));
        assert_eq!((cream(10.0, 50.0, 0.0).lidocaine_mg(), cream(10.0, 50.0, 0.0).prilocaine_mg()), (250.0, 250.0));
        let none = Dose::solution(Strength::new(0.1).unwrap(), SolutionVolume::new(0.01).unwrap(), false);
        assert!(none.is_ok_and(|d| (d.lidocaine_mg() - 0.01).abs() < 1e-12));
    }

    #[test]
    fn a_dose_is_kept_with_its_units_in_its_names() {
        let json = serde_json::to_value(cream(10.0, 50.0, 90.0)).unwrap();
        assert_eq!(json, serde_json::json!({"kind": "cream", "cream_g": 10.0, "area_cm2": 50.0, "minutes": 90.0}));
        assert_eq!(serde_json::from_value::<Dose>(json).unwrap(), cream(10.0, 50.0, 90.0));
        assert!(serde_json::from_str::<Dose>(r#"{"kind":"lidocaine","lidocaine_mg":-1,"epinephrine":false}"#).is_err());
    }
}
