//! Random people and doses against what must hold of limits.

use fadewright::anaesthetic::{Age, Dose, Limits, judge, limits};
use fadewright::units::{BodyWeight, CreamMass, DrugMass, SkinArea, TimeOnSkin};
use proptest::prelude::*;

fn of(months: u16, kg: f64) -> Limits {
    limits(Age::new(months / 12, months % 12).unwrap(), BodyWeight::new(kg).unwrap())
}

/// What a person may get, in one order for all.
fn allowed(l: &Limits) -> [f64; 5] {
    [l.cream.max_g, l.cream.max_area_cm2, l.cream.max_time_h, l.lidocaine_mg, l.lidocaine_epinephrine_mg]
}

fn dose() -> impl Strategy<Value = Dose> {
    prop_oneof![
        (0.01f64..100.0, 0.1f64..1000.0, 0.0f64..600.0).prop_map(|(g, cm2, min)| Dose::Cream {
            mass: CreamMass::new(g).unwrap(),
            area: SkinArea::new(cm2).unwrap(),
            time: TimeOnSkin::new(min).unwrap(),
        }),
        (0.01f64..600.0, any::<bool>())
            .prop_map(|(mg, epinephrine)| Dose::Lidocaine { mass: DrugMass::new(mg).unwrap(), epinephrine }),
    ]
}

/// Ages in months, half of them young, where the rows change.
fn months() -> impl Strategy<Value = u16> {
    prop_oneof![0u16..240, 0u16..1440]
}

/// Weights in kg, half of them low, where the rows change.
fn kg() -> impl Strategy<Value = f64> {
    prop_oneof![0.5f64..30.0, 0.5f64..400.0]
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_lower_weight_never_allows_more(months in months(), a in kg(), b in kg()) {
        let (light, heavy) = (of(months, a.min(b)), of(months, a.max(b)));
        for (less, more) in allowed(&light).into_iter().zip(allowed(&heavy)) {
            prop_assert!(less <= more && less > 0.0, "{light:?} {heavy:?}");
        }
    }

    #[test]
    fn who_is_younger_is_never_allowed_more(kg in kg(), a in months(), b in months()) {
        let (young, old) = (of(a.min(b), kg), of(a.max(b), kg));
        for (less, more) in allowed(&young).into_iter().zip(allowed(&old)) {
            prop_assert!(less <= more, "{young:?} {old:?}");
        }
    }

    #[test]
    fn no_one_is_allowed_more_than_the_label_s_figures_for_weight_and_adults(months in months(), kg in kg()) {
        let l = of(months, kg);
        prop_assert!(l.lidocaine_mg <= (4.5 * kg).min(300.0) + 1e-6);
        prop_assert!(l.lidocaine_epinephrine_mg <= (7.0 * kg).min(500.0) + 1e-6);
        prop_assert!(l.lidocaine_mg <= l.lidocaine_epinephrine_mg);
    }

    #[test]
    fn a_further_dose_never_makes_it_right(
        months in months(), kg in kg(), doses in prop::collection::vec(dose(), 0..5), more in dose(),
    ) {
        let l = of(months, kg);
        let before = judge(&l, &doses);
        let after = judge(&l, &[&doses[..], &[more]].concat());
        prop_assert!(after.sum_of_limits > before.sum_of_limits);
        prop_assert!(before.within_limits || !after.within_limits);
        prop_assert_eq!(after.within_limits, after.findings.is_empty());
        // Over in all is over, however it came about.
        prop_assert!(after.sum_of_limits <= 1.0 + 1e-9 || !after.within_limits);
        let sum: f64 = after.shares.iter().map(|s| s.share).sum();
        prop_assert!((sum - after.sum_of_limits).abs() < 1e-9);
    }
}
