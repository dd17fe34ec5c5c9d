//! The sound operator against one who declines every advice and waits for nothing, over seeds.

use super::lab::{played, shipped};
use fadewright::practice::Manner;
use fadewright::scenario::SHIPPED;
use fadewright::session::SessionOutcome;

/// Seeds of each scenario here; `cargo bench --bench practice` runs 200 and prints both.
const SEEDS: u64 = 12;

struct Sum {
    harm: f64,
    cleared: f64,
    pulses: u64,
}

fn over_seeds(name: &str, manner: Manner) -> Sum {
    let scenario = SHIPPED.iter().find(|s| s.name == name).unwrap();
    let mut sum = Sum { harm: 0.0, cleared: 0.0, pulses: 0 };
    for seed in 0..SEEDS {
        let p = played(shipped(scenario, seed), manner);
        let skin = p.sink.skin().unwrap();
        for z in skin.outcome() {
            sum.harm += z.harm();
            sum.cleared += z.cleared_unhurt;
        }
        sum.pulses += skin.fallen().len() as u64;
    }
    sum
}

fn compare(name: &str) -> (Sum, Sum) {
    let (sound, heedless) = (over_seeds(name, Manner::Sound), over_seeds(name, Manner::Heedless));
    println!(
        "{name}: sound harm {:.2}, cleared unhurt {:.3}; heedless {:.2}, {:.3}",
        sound.harm / SEEDS as f64,
        sound.cleared / SEEDS as f64,
        heedless.harm / SEEDS as f64,
        heedless.cleared / SEEDS as f64
    );
    (sound, heedless)
}

#[test]
fn where_advice_is_given_it_harms_less_and_clears_more() {
    for name in ["two-zone-band", "ornament", "bold-start", "repeat-session"] {
        let (sound, heedless) = compare(name);
        assert!(sound.harm < heedless.harm, "{name}: harm");
        assert!(sound.cleared > heedless.cleared, "{name}: clearance in unhurt skin");
    }
    // Dense ink: lowering costs a little of one session's clearance and saves most of its bleeding.
    let (sound, heedless) = compare("cover-up");
    assert!(sound.harm < 0.75 * heedless.harm && sound.cleared > 0.95 * heedless.cleared);
}

#[test]
fn where_nothing_may_be_treated_nothing_is() {
    for name in ["refused-gold", "withheld"] {
        let sound = over_seeds(name, Manner::Sound);
        assert!(sound.pulses == 0 && sound.harm.abs() < 1e-12, "{name}");
    }
    assert!(over_seeds("withheld", Manner::Heedless).harm > 100.0, "gold turned blue-grey");
    assert_eq!(over_seeds("refused-gold", Manner::Heedless).pulses, 0, "nobody overrides gold");
    for seed in 0..3 {
        let scenario = SHIPPED.iter().find(|s| s.name == "withheld").unwrap();
        let closed = played(shipped(scenario, seed), Manner::Sound).state.closed.unwrap();
        assert_eq!(closed.outcome, SessionOutcome::Refused);
    }
}

#[test]
fn darkening_and_the_wrong_wavelength_are_left_after_few_pulses() {
    let (sound, heedless) = compare("cosmetic-brows");
    assert!(sound.pulses < 10 * SEEDS && sound.harm < 0.2 * heedless.harm);
    let (sound, heedless) = compare("red-with-infrared");
    assert!(sound.pulses < heedless.pulses / 3 && sound.harm <= heedless.harm);
}

#[test]
fn an_uneventful_script_is_the_same_for_both() {
    let (sound, heedless) = compare("first-script");
    assert_eq!(sound.pulses, heedless.pulses);
    assert!(sound.cleared > 0.15 * SEEDS as f64 && sound.harm < 2.0 * SEEDS as f64);
}
