//! The sample plans and the embedded files are without mistakes, and they fit one another.

use super::{files, under};
use fadewright::device::DeviceProfile;
use fadewright::plan::{self, FitzpatrickType, InkColour, Medicine, Plan, PulseClass};
use fadewright::protocol::{CheckKind, CheckPhase, Computation, Protocol};
use fadewright::source;
use fadewright::words::Word;

fn samples() -> Vec<(String, Plan)> {
    let load = |path: std::path::PathBuf| {
        let name = path.file_stem().unwrap().to_string_lossy().into_owned();
        let loaded = plan::load(&source::read_file(&path).unwrap()).unwrap_or_else(|e| panic!("{}", e.explained()));
        (name, loaded.value)
    };
    files("sample-plans").into_iter().map(load).collect()
}

#[test]
fn the_samples_spread_over_what_a_clinic_meets() {
    let samples = samples();
    assert!(samples.len() >= 6);
    let mut skins: Vec<_> = samples.iter().map(|(_, p)| p.client.skin).collect();
    skins.sort();
    skins.dedup();
    assert_eq!(skins, FitzpatrickType::ALL[1..], "types II to VI");
    let plan = |name: &str| &samples.iter().find(|(n, _)| n == name).unwrap().1;
    assert_eq!(plan("refused-gold").history.medicines, [Medicine::Gold]);
    assert!(plan("red-with-infrared").zones.iter().all(|z| z.inks.contains(&InkColour::Red)));
    assert!(plan("cosmetic-brows").zones.iter().all(|z| z.test_spot.is_some()));
    assert!(plan("cover-up").zones.iter().all(|z| z.layered));
    assert_eq!(plan("repeat-session").history.earlier_sessions, 4);
    assert_eq!(plan("two-zone-band").zones.len(), 2);
    let mut codes: Vec<_> = samples.iter().map(|(_, p)| p.client.code.as_str()).collect();
    codes.sort_unstable();
    codes.dedup();
    assert_eq!(codes.len(), samples.len(), "one code, one client");
}

#[test]
fn every_sample_setting_is_on_the_device_and_under_every_ceiling() {
    let (device, protocol) = (DeviceProfile::embedded().unwrap(), Protocol::embedded().unwrap());
    for (name, plan) in samples() {
        for zone in &plan.zones {
            let s = zone.setting;
            let line = device.line(s.wavelength).unwrap();
            assert!(line.pulse_durations.contains(&s.pulse_duration), "{name}: {}", s.pulse_duration);
            assert!(line.rates.contains(&s.rate), "{name}: {}", s.rate);
            assert!(line.ladder(s.spot).unwrap().holds(s.fluence), "{name}: {}", s.dose());
            assert!(s.energy_joules() <= line.energy_max.joules(), "{name}");
            let held: Vec<_> = protocol
                .ceilings
                .iter()
                .filter(|c| c.wavelength == s.wavelength && c.pulse_class == PulseClass::of(s.pulse_duration))
                .filter(|c| c.skin.contains(&plan.client.skin) && c.spot_from.is_none_or(|from| from <= s.spot))
                .collect();
            assert!(!held.is_empty(), "{name}: no ceiling for {}", s.line());
            assert!(held.iter().all(|c| s.fluence <= c.fluence_max), "{name}: {}", s.line());
        }
    }
}

#[test]
fn the_embedded_device_keeps_within_its_own_energy_and_its_source() {
    let device = DeviceProfile::embedded().unwrap();
    for line in &device.lines {
        for ladder in &line.spots {
            assert!(ladder.max.energy_joules(ladder.spot) <= line.energy_max.joules(), "{}", ladder.spot);
            assert!(ladder.holds(ladder.min) && ladder.holds(ladder.max), "{}: a step must end at max", ladder.spot);
        }
    }
    assert!(device.lines.iter().any(|l| l.rates.iter().any(|r| r.hz() >= 20.0)));
    assert!(device.source.contains("invented"));
}

/// Highest fluences of the published parameter tables, by wavelength and pulse class. Sources: Kilmer 1993 (1064 nm,
/// 12 J/cm2), Cannarozzo 2021 (532 nm, 5), Leuenberger 1999 (755 nm, 8; 694 nm, 10), Lee 2024 (picosecond 1064 nm, 3.0;
/// 532 nm, 1.3), Saedi 2012 (picosecond 755 nm, 2.8, quoted from memory).
const PUBLISHED: [(f64, PulseClass, f64); 7] = [
    (1064.0, PulseClass::Nanosecond, 12.0),
    (532.0, PulseClass::Nanosecond, 5.0),
    (755.0, PulseClass::Nanosecond, 8.0),
    (694.0, PulseClass::Nanosecond, 10.0),
    (1064.0, PulseClass::Picosecond, 3.0),
    (532.0, PulseClass::Picosecond, 1.3),
    (755.0, PulseClass::Picosecond, 2.8),
];

#[test]
fn no_embedded_ceiling_is_above_what_was_published_nor_higher_on_darker_skin() {
    let protocol = Protocol::embedded().unwrap();
    for c in &protocol.ceilings {
        let published = PUBLISHED
            .iter()
            .find(|(nm, class, _)| (nm - c.wavelength.nm()).abs() < 0.5 && *class == c.pulse_class)
            .unwrap_or_else(|| panic!("{} {}: no published figure", c.wavelength, c.pulse_class));
        assert!(c.fluence_max.j_cm2() <= published.2, "{} {}", c.wavelength, c.fluence_max);
        for other in &protocol.ceilings {
            let same =
                (c.wavelength, c.pulse_class, c.spot_from) == (other.wavelength, other.pulse_class, other.spot_from);
            if same && other.skin.iter().min() > c.skin.iter().max() {
                assert!(other.fluence_max <= c.fluence_max, "{} {:?}", c.wavelength, other.skin);
            }
        }
    }
    let dark = [FitzpatrickType::V, FitzpatrickType::VI];
    let short = protocol.ceilings.iter().filter(|c| c.wavelength.nm() < 1000.0);
    assert!(short.flat_map(|c| &c.skin).all(|s| !dark.contains(s)), "types V and VI: 1064 nm alone");
}

#[test]
fn the_embedded_checklist_computes_all_it_can_and_asks_few_enough_to_be_read() {
    let protocol = Protocol::embedded().unwrap();
    for computation in Computation::ALL {
        let items = protocol.checklist.iter().filter(|c| c.computation == Some(*computation)).count();
        assert_eq!(items, 1, "{computation}");
    }
    for phase in CheckPhase::ALL {
        let asked = protocol.checklist.iter().filter(|c| c.phase == *phase && c.kind != CheckKind::Computed).count();
        assert!((1..=9).contains(&asked), "{phase}: {asked}");
    }
    let item = |id: &str| protocol.checklist.iter().find(|c| c.id == id).unwrap();
    assert_eq!((item("operator").kind, item("operator").phase), (CheckKind::Value, CheckPhase::SignIn));
    assert!(["gold", "lesion", "powder"].iter().all(|id| item(id).hard_stop && item(id).blocking));
    assert!(["infection", "settings", "eyewear", "eyewear-worn"].iter().all(|id| item(id).blocking));
    assert!(!item("ink-match").blocking && !item("medicines").blocking);
}

#[test]
fn every_plan_that_is_legal_however_it_is_written_is_read() {
    for path in files("tests/plans/valid") {
        plan::load(&source::read_file(&path).unwrap()).unwrap_or_else(|e| panic!("{}", e.explained()));
    }
    let odd = source::read_file(&under("tests/plans/valid/odd-but-legal.toml")).unwrap();
    let plan = plan::load(&odd).unwrap().value;
    let zone = &plan.zones[0];
    assert_eq!(zone.setting.line(), "532 nm, 300 ps, 4 mm, 0.8 J/cm2, 2 Hz");
    assert_eq!(zone.shape.to_string(), "ellipse 40 mm x 30 mm");
    assert_eq!(plan.history.medicines.len(), 2);
}
