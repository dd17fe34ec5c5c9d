//! Limits of local anaesthetics against labels and guidelines.

use fadewright::anaesthetic::{
    Age, CONFIRM, Circumstances, Dose, Limits, MG_PER_ML_AND_PERCENT, judge, limits, limits_in_years, warnings,
};
use fadewright::units::{BodyWeight, CreamMass, DrugMass, SkinArea, SolutionVolume, Strength, TimeOnSkin};

fn of(years: u16, months: u16, kg: f64) -> Limits {
    limits(Age::new(years, months).unwrap(), BodyWeight::new(kg).unwrap())
}

fn cream(years: u16, months: u16, kg: f64) -> (f64, f64, f64) {
    let c = of(years, months, kg).cream;
    (c.max_g, c.max_area_cm2, c.max_time_h)
}

/// US label of lidocaine 2.5 % and prilocaine 2.5 % cream, as quoted: g, cm2, h by age and weight.
#[test]
fn the_creams_table_is_that_of_the_label() {
    for (years, months, kg, row) in [
        (0, 0, 3.2, (1.0, 10.0, 1.0)),
        (0, 2, 6.0, (1.0, 10.0, 1.0)),
        (0, 4, 6.0, (2.0, 20.0, 4.0)),
        (0, 11, 9.5, (2.0, 20.0, 4.0)),
        (1, 0, 10.5, (10.0, 100.0, 4.0)),
        (6, 0, 21.0, (10.0, 100.0, 4.0)),
        (7, 0, 22.0, (20.0, 200.0, 4.0)),
        (12, 0, 40.0, (20.0, 200.0, 4.0)),
    ] {
        assert_eq!(cream(years, months, kg), row, "{years} years {months} months {kg} kg");
    }
}

/// Footnote of the label, from memory: older than 3 months but below the weight for the age, the row of the weight.
#[test]
fn who_is_too_light_for_the_age_gets_the_row_of_the_weight() {
    assert_eq!(cream(0, 4, 4.8), (1.0, 10.0, 1.0));
    assert_eq!(cream(2, 0, 9.0), (2.0, 20.0, 4.0));
    assert_eq!(cream(8, 0, 18.0), (10.0, 100.0, 4.0));
    assert_eq!(cream(8, 0, 9.0), (2.0, 20.0, 4.0));
}

/// European product information, from memory: adults 60 g on 600 cm2, 1 to 5 h.
#[test]
fn adults_have_the_european_maximum_and_the_source_says_from_memory() {
    assert_eq!(cream(31, 0, 70.0), (60.0, 600.0, 5.0));
    let counted = of(31, 0, 70.0).counted();
    assert!(counted.iter().any(|c| c.what.contains("60 g") && c.source.contains("from memory")), "{counted:?}");
}

/// A study of blood levels, as quoted in the label: 60 g on 400 cm2 for 3 h gave 0.05 to 0.16 ug/mL of lidocaine, far
/// below 5 ug/mL. Such a dose is at the limit and not over it.
#[test]
fn the_dose_of_the_blood_level_study_is_all_of_the_limit() {
    let dose = Dose::Cream {
        mass: CreamMass::new(60.0).unwrap(),
        area: SkinArea::new(400.0).unwrap(),
        time: TimeOnSkin::new(180.0).unwrap(),
    };
    let judged = judge(&of(31, 0, 70.0), &[dose]);
    assert!(judged.within_limits && judged.sum_of_limits == 1.0, "{judged:?}");
    // 1 g holds 25 mg of each (label).
    assert_eq!((dose.lidocaine_mg(), dose.prilocaine_mg()), (1500.0, 1500.0));
}

/// US labels of lidocaine: 4.5 mg/kg and 300 mg; with epinephrine 7 mg/kg and 500 mg. The values are computed from them.
#[test]
fn infiltrated_lidocaine_follows_the_labels() {
    for (kg, plain, epinephrine) in
        [(70.0, 300.0, 490.0), (80.0, 300.0, 500.0), (60.0, 270.0, 420.0), (50.0, 225.0, 350.0)]
    {
        let l = limits_in_years(31, kg).unwrap();
        assert_eq!((l.lidocaine_mg, l.lidocaine_epinephrine_mg), (plain, epinephrine), "{kg} kg");
    }
    // 30 mL and 27 mL of 1 %; 1 % is 10 mg/mL.
    let one = Strength::new(1.0).unwrap();
    for (ml, mg) in [(30.0, 300.0), (27.0, 270.0)] {
        let dose = Dose::solution(one, SolutionVolume::new(ml).unwrap(), false).unwrap();
        assert_eq!(dose, Dose::Lidocaine { mass: DrugMass::new(mg).unwrap(), epinephrine: false });
    }
    assert_eq!(2.0 * MG_PER_ML_AND_PERCENT, 20.0, "2 % is 20 mg/mL");
}

/// Kouba DJ et al., AAD guideline 2016, as quoted: children 1.5 to 2.0 mg/kg, with epinephrine 3.0 to 4.5 mg/kg; for
/// 15 kg that is 45 to 67.5 mg with epinephrine, where the label allows 105 mg. The label's own example: at most 75 to
/// 100 mg at 5 years and 50 lb. The stricter counts.
#[test]
fn children_get_the_stricter_of_guideline_and_label() {
    let child = of(4, 0, 15.0);
    assert_eq!((child.lidocaine_mg, child.lidocaine_epinephrine_mg), (22.5, 45.0));
    assert!(child.lidocaine_epinephrine_mg < 105.0);
    let five = of(5, 0, 50.0 * 0.453_592_37);
    assert!(five.lidocaine_mg <= 75.0 && five.lidocaine_epinephrine_mg <= 75.0);
}

/// As quoted from a secondary source: amides reduced by 30 % below 6 months.
#[test]
fn infants_below_six_months_get_thirty_per_cent_less() {
    let (younger, older) = (of(0, 5, 7.0), of(0, 6, 7.0));
    assert_eq!((younger.lidocaine_mg, older.lidocaine_mg), (7.3, 10.5), "7.35 rounded down");
    assert_eq!((younger.lidocaine_epinephrine_mg, older.lidocaine_epinephrine_mg), (14.7, 21.0));
}

/// The warnings of the US label of the cream, as quoted.
#[test]
fn the_labels_warnings_are_said() {
    let said = |months| -> String {
        warnings(Age::new(0, months).unwrap(), Circumstances::default()).iter().map(|w| w.text).collect()
    };
    for word in ["ethaemoglobinaemia", "G6PD", "lass III", "eyes", "broken skin", "middle ear", "every source", CONFIRM]
    {
        assert!(said(4).contains(word), "{word}");
    }
    assert!(said(11).contains("Below 12 months"));
}
