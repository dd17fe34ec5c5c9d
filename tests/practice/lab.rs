//! Simulated skin without a session around it, and sessions played without a terminal.

use crate::fixture::{device, protocol};
use chrono::{DateTime, Duration, FixedOffset};
use fadewright::device::{BeamProfile, DeviceProfile};
use fadewright::plan::{self, Plan};
use fadewright::practice::{LightBook, Manner, Operator, Played, Skin, play};
use fadewright::protocol::Protocol;
use fadewright::recorder::MemorySink;
use fadewright::scenario::{HandHabits, HiddenCase, PracticeRun, Shipped};
use fadewright::session::{Event, Opened, PulseSource, Stamp};
use fadewright::source::SourceText;
use std::sync::OnceLock;

/// One book for all tests: light is followed once for each skin.
pub fn book() -> LightBook {
    static BOOK: OnceLock<LightBook> = OnceLock::new();
    BOOK.get_or_init(LightBook::default).clone()
}

pub fn from() -> DateTime<FixedOffset> {
    DateTime::parse_from_rfc3339("2026-11-25T10:00:00+00:00").unwrap()
}

pub fn opened(plan: Plan, device: DeviceProfile, protocol: Protocol, run: PracticeRun) -> Opened {
    Opened {
        session: "20261125-100000-TTTTTT".to_owned(),
        program: "test".to_owned(),
        date: from().date_naive(),
        plan,
        device,
        protocol,
        practice: Some(Box::new(run)),
    }
}

/// A shipped scenario, ready to be played.
pub fn shipped(s: &Shipped, seed: u64) -> Opened {
    let (plan, case) = s.read().unwrap();
    let run = PracticeRun::new(s.name.to_owned(), case.value, seed);
    opened(plan.value, DeviceProfile::embedded().unwrap(), Protocol::embedded().unwrap(), run)
}

pub fn played(opened: Opened, manner: Manner) -> Played<MemorySink> {
    play(opened, MemorySink::default(), &mut Operator::new(manner), &book(), (from(), None), &mut |_| true).unwrap()
}

/// What is tried on a square of skin.
#[derive(Clone)]
pub struct Trial {
    pub skin: &'static str,
    pub inks: &'static str,
    pub wavelength: &'static str,
    pub pulse: &'static str,
    pub spot: &'static str,
    pub fluence: f64,
    pub passes: u8,
    pub minutes_between: i64,
    pub profile: BeamProfile,
    pub case: HiddenCase,
}

impl Default for Trial {
    fn default() -> Self {
        let steady = HandHabits { jitter_mm: 0.2, miss: 0.0, double: 0.0 };
        Self {
            skin: "II",
            inks: "\"black\"",
            wavelength: "1064 nm",
            pulse: "6 ns",
            spot: "4 mm",
            fluence: 3.0,
            passes: 1,
            minutes_between: 25,
            profile: BeamProfile::Flat,
            case: HiddenCase { hand: steady, ..HiddenCase::plain() },
        }
    }
}

impl Trial {
    fn opened(&self, seed: u64) -> Opened {
        let text = format!(
            r#"
kind = "fadewright plan"
schema = 1
title = "square"
[client]
code = "HL-1"
age = 30
weight = "70 kg"
skin = "{}"
[history]
earlier_sessions = 0
medicines = []
conditions = []
allergies = []
tan = "none"
[[zone]]
id = "square"
place = "forearm"
site = "distal-extremity"
shape = {{ kind = "rectangle", width = "30 mm", height = "30 mm" }}
inks = [{}]
density = "moderate"
layered = false
scarring = "none"
origin = "professional"
[zone.setting]
wavelength = "{}"
pulse_duration = "{}"
spot = "{}"
fluence = "{} J/cm2"
rate = "5 Hz"
overlap = "10 %"
passes = 1
pass_spacing = "20 min"
"#,
            self.skin, self.inks, self.wavelength, self.pulse, self.spot, self.fluence
        );
        let plan = plan::load(&SourceText::new("square", text)).unwrap().value;
        let mut device = device();
        for line in &mut device.lines {
            line.beam_profile = self.profile;
        }
        opened(plan, device, protocol(), PracticeRun::new("square".to_owned(), self.case.clone(), seed))
    }

    /// Fires all passes, at five pulses a second, on skin of its own; no rule and no ceiling stands in the way.
    pub fn fire(&self, seed: u64) -> Skin {
        let opened = self.opened(seed);
        let pulses = {
            let zone = &opened.plan.zones[0];
            fadewright::coverage::Pattern::of(zone.shape.outline(), zone.setting.spot, zone.overlap).pulses()
        };
        let mut skin = Skin::of(&opened, book()).unwrap();
        let zone = opened.plan.zones[0].id.clone();
        let mut at = from();
        let mut seq = 0;
        let mut happen = |at: DateTime<FixedOffset>, skin: &mut Skin, event: &Event| {
            seq += 1;
            skin.follow(Stamp { seq, at, mono_ms: 0 }, event);
            drop(skin.signs(at));
        };
        happen(at, &mut skin, &Event::SessionOpened(Box::new(opened.clone())));
        for pass in 1..=self.passes {
            happen(at, &mut skin, &Event::PassStarted { zone: zone.clone(), pass });
            for _ in 0..pulses {
                at += Duration::milliseconds(200);
                let fired = Event::PulsesFired { zone: zone.clone(), pass, n: 1, source: PulseSource::Key };
                happen(at, &mut skin, &fired);
            }
            let ended = Event::PassEnded { zone: zone.clone(), pass, counted: pulses, device: None, explanation: None };
            happen(at, &mut skin, &ended);
            at += Duration::minutes(self.minutes_between);
        }
        skin
    }
}
