//! The sample plans and the embedded files are without mistakes, and they fit one another.

use super::{files, under};
use fadewright::cli::plan::limit_problems;
use fadewright::device::DeviceProfile;
use fadewright::plan::{self, FitzpatrickType, InkColour, Medicine, Plan, PulseClass};
use fadewright::protocol::{CheckKind, CheckPhase, Computation, Protocol};
use fadewright::session::{Opened, Verdict, checks::compute};
use fadewright::source::{self, Loaded, SourceText};
use fadewright::words::Word;

fn samples() -> Vec<(String, Loaded<Plan>)> {
    let load = |path: std::path::PathBuf| {
        let name = path.file_stem().unwrap().to_string_lossy().into_owned();
        let loaded = plan::load(&source::read_file(&path).unwrap()).unwrap_or_else(|e| panic!("{}", e.explained()));
        (name, loaded)
    };
    files("sample-plans").into_iter().map(load).collect()
}

#[test]
fn the_samples_spread_over_what_a_clinic_meets() {
    let samples = samples();
    assert!(samples.len() >= 6);
    let mut skins: Vec<_> = samples.iter().map(|(_, p)| p.value.client.skin).collect();
    skins.sort();
    skins.dedup();
    assert_eq!(skins, FitzpatrickType::ALL[1..], "types II to VI");
    let plan = |name: &str| &samples.iter().find(|(n, _)| n == name).unwrap().1.value;
    assert_eq!(plan("refused-gold").history.medicines, [Medicine::Gold]);
    assert!(plan("red-with-infrared").zones.iter().all(|z| z.inks.contains(&InkColour::Red)));
    assert!(plan("cosmetic-brows").zones.iter().all(|z| z.test_spot.is_some()));
    assert!(plan("cover-up").zones.iter().all(|z| z.layered));
    assert_eq!(plan("repeat-session").history.earlier_sessions, 4);
    assert_eq!(plan("two-zone-band").zones.len(), 2);
    let mut codes: Vec<_> = samples.iter().map(|(_, p)| p.value.client.code.as_str()).collect();
    codes.sort_unstable();
    codes.dedup();
    assert_eq!(codes.len(), samples.len(), "one code, one client");
}

#[test]
fn every_sample_setting_is_on_the_device_and_under_every_ceiling() {
    let (device, protocol) = (DeviceProfile::embedded().unwrap(), Protocol::embedded().unwrap());
    for (name, loaded) in samples() {
        assert_eq!(limit_problems(&loaded, &device, &protocol), (vec![], vec![]), "{name}");
    }
}

/// What the computed checks say on a day on which every sample is due; of what is not named, all pass.
#[test]
fn the_checks_of_every_sample_come_out_as_its_file_says() {
    for (name, loaded) in samples() {
        let opened = Opened {
            session: "test".to_owned(),
            program: "test".to_owned(),
            date: "2026-11-24".parse().unwrap(),
            plan: loaded.value,
            device: DeviceProfile::embedded().unwrap(),
            protocol: Protocol::embedded().unwrap(),
            practice: None,
        };
        let found: Vec<_> = Computation::ALL
            .iter()
            .map(|c| (*c, compute(*c, &opened).verdict))
            .filter(|(_, verdict)| *verdict != Verdict::Pass)
            .collect();
        let expected = match name.as_str() {
            "refused-gold" => vec![(Computation::Gold, Verdict::HardStop)],
            "red-with-infrared" => vec![(Computation::InkMatch, Verdict::Warn)],
            "repeat-session" => vec![(Computation::Medicines, Verdict::Warn)],
            _ => vec![],
        };
        assert_eq!(found, expected, "{name}");
    }
}

#[test]
fn a_setting_above_the_ceiling_is_placed_in_its_own_zone() {
    let text = super::good().replace("fluence = \"2.0 J/cm2\"", "fluence = \"9.0 J/cm2\"");
    let loaded = plan::load(&SourceText::new("a.toml", text)).unwrap();
    let (errors, _) = limit_problems(&loaded, &DeviceProfile::embedded().unwrap(), &Protocol::embedded().unwrap());
    assert!(!errors.is_empty());
    for p in errors {
        assert_eq!((p.line, p.column, p.field.as_str()), (58, 11, "zone[2].setting.fluence"), "{p}");
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
        assert!((1..=11).contains(&asked), "{phase}: {asked}");
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
