//! What to ask and to mind beside the figures.

use super::limits::Age;
use crate::plan::{Condition, History, Medicine};
use crate::protocol::Confidence;
use serde::Serialize;

/// What is known of a person that matters for anaesthetics.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Circumstances {
    /// Methaemoglobinaemia or G6PD deficiency.
    pub methaemoglobinaemia: bool,
    /// Takes a class III anti-arrhythmic.
    pub class_iii_antiarrhythmic: bool,
    /// Is pregnant.
    pub pregnancy: bool,
}

impl Circumstances {
    /// What a plan says. Its silence says nothing: medicines in the clinic's own words are not judged.
    #[must_use]
    pub fn of(history: &History) -> Self {
        Self {
            methaemoglobinaemia: history.conditions.contains(&Condition::Methaemoglobinaemia),
            class_iii_antiarrhythmic: history.medicines.contains(&Medicine::AntiarrhythmicClassIii),
            pregnancy: history.conditions.contains(&Condition::Pregnancy),
        }
    }
}

/// Something to mind.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Warning {
    /// What.
    pub text: &'static str,
    /// It is known to concern this person, by age or by what the plan says; else it has to be asked.
    pub concerns: bool,
    /// Where it comes from.
    pub source: &'static str,
    /// How sure it is.
    pub confidence: Confidence,
}

/// Ends every list of warnings.
pub const CONFIRM: &str = "Confirm with the prescriber and the label.";

const LABEL: &str = "US label of lidocaine 2.5 % and prilocaine 2.5 % cream, as quoted";

/// The warnings for a person: what is known to concern them first, [`CONFIRM`] last.
#[must_use]
pub fn warnings(age: Age, known: Circumstances) -> Vec<Warning> {
    let label = |text, concerns| Warning { text, concerns, source: LABEL, confidence: Confidence::Secondary };
    let mut all = vec![
        label(
            "Methaemoglobinaemia or G6PD deficiency: prilocaine can make it worse. No cream unless the prescriber \
             decides otherwise.",
            known.methaemoglobinaemia,
        ),
        label(
            "Class III anti-arrhythmics (such as amiodarone): effects on the heart may add up. Ask the prescriber first.",
            known.class_iii_antiarrhythmic,
        ),
        Warning {
            text: "Pregnancy: put off what needs the cream until after delivery; ask the prescriber first.",
            concerns: known.pregnancy,
            source: "Kouba DJ et al., guideline of the American Academy of Dermatology 2016, as quoted",
            confidence: Confidence::Secondary,
        },
    ];
    if age.years() < 1 {
        all.push(label("Below 12 months: no cream together with drugs that induce methaemoglobin.", true));
    }
    // Stable: the known ones come first, each group in the order above.
    all.sort_by_key(|w| !w.concerns);
    all.push(label(
        "Cream on intact skin only: never on broken skin, near the eyes or where it could reach the middle ear.",
        false,
    ));
    all.push(label("Count every source of lidocaine and prilocaine of the same session, by whoever gave it.", false));
    all.push(Warning {
        text: CONFIRM,
        concerns: false,
        source: "common practice, from memory",
        confidence: Confidence::CommonPractice,
    });
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_concerns_the_person_comes_first_and_confirming_last() {
        let age = |years, months| Age::new(years, months).unwrap();
        let plain = warnings(age(31, 0), Circumstances::default());
        assert!(plain.iter().all(|w| !w.concerns) && plain.last().unwrap().text == CONFIRM);
        assert!(!plain.iter().any(|w| w.text.contains("12 months")));
        let known = Circumstances { pregnancy: true, class_iii_antiarrhythmic: true, ..Circumstances::default() };
        let warned = warnings(age(0, 11), known);
        let first: Vec<bool> = warned.iter().map(|w| w.concerns).collect();
        assert_eq!(first.iter().filter(|c| **c).count(), 3);
        assert!(first.windows(2).all(|w| w[0] >= w[1]), "{first:?}");
        assert!(warned[0].text.starts_with("Class III") && warned.last().unwrap().text == CONFIRM);
    }
}
