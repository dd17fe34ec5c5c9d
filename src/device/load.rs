//! A device profile from its file, and the embedded default.

use super::{Counter, DeviceProfile, EmissionLine, SpotLadder};
use crate::source::{self, FileKind, Loaded, Problems, SourceText, Table};
use crate::units::{Quantity, Wavelength};

/// What a device profile's file says it is.
pub const KIND: FileKind = FileKind { kind: "fadewright device", schema: 1 };

/// The text of the embedded profile: an invented device for the sample plans and for practice.
pub const EMBEDDED_TEXT: &str = include_str!("default.toml");

impl DeviceProfile {
    /// The embedded profile.
    ///
    /// # Errors
    /// None that a build could ship: the text is fixed at build time and a test reads it.
    pub fn embedded() -> Result<Self, Problems> {
        load(&SourceText::new("embedded device profile", EMBEDDED_TEXT)).map(|loaded| loaded.value)
    }
}

/// Reads a device profile.
///
/// # Errors
/// Every mistake of the file.
pub fn load(source: &SourceText) -> Result<Loaded<DeviceProfile>, Problems> {
    source::read(source, KIND, |file| {
        let name = file.text("name", 80);
        let source = file.text("source", 300);
        let shows_energy = file.boolean("shows_energy");
        let counter = file.optional_table("counter", |t| t.integer("digits", 2..=12).map(|digits| Counter { digits }));
        let mut seen: Vec<Wavelength> = Vec::new();
        let lines = file.tables("line", 1..=12, |t| line(t, &mut seen));
        Some(DeviceProfile { name: name?, source: source?, lines: lines?, counter, shows_energy: shows_energy? })
    })
}

fn line(t: &mut Table<'_>, seen: &mut Vec<Wavelength>) -> Option<EmissionLine> {
    let wavelength: Option<Wavelength> = t.required("wavelength");
    if let Some(w) = wavelength {
        // A setting finds its line by wavelength to half a nanometre, so two lines must not both answer.
        if seen.iter().any(|s| (s.nm() - w.nm()).abs() <= 1.0) {
            t.problem(
                "wavelength",
                &format!("another line has {w} already; give it all pulse durations of that wavelength"),
            );
        }
        seen.push(w);
    }
    let pulse_durations = t.quantities("pulse_durations", 1..=16);
    distinct(t, "pulse_durations", pulse_durations.as_deref());
    let spots = t.tables("spots", 1..=24, ladder);
    for (i, pair) in spots.as_deref().unwrap_or_default().windows(2).enumerate() {
        if let [before, after] = pair
            && after.spot <= before.spot
        {
            let message = format!(
                "spot {} ({}) is not larger than the one before it; list spots smallest first, each once",
                i + 2,
                after.spot
            );
            t.problem("spots", &message);
        }
    }
    let energy_max = t.required("energy_max");
    for ladder in spots.iter().flatten() {
        if let Some(max) =
            energy_max.filter(|max: &crate::units::PulseEnergy| ladder.min.energy_joules(ladder.spot) > max.joules())
        {
            t.problem(
                "energy_max",
                &format!(
                    "{max} is less than the lowest fluence of the {} spot needs; correct one of the two",
                    ladder.spot
                ),
            );
        }
    }
    let rates = t.quantities("rates", 1..=64);
    ascending(t, "rates", rates.as_deref());
    let beam_profile = t.word("beam_profile");
    let divergence = t.required("divergence");
    Some(EmissionLine {
        wavelength: wavelength?,
        pulse_durations: pulse_durations?,
        spots: spots?,
        energy_max: energy_max?,
        rates: rates?,
        beam_profile: beam_profile?,
        divergence: divergence?,
    })
}

fn ladder(t: &mut Table<'_>) -> Option<SpotLadder> {
    let spot = t.required("spot");
    let min = t.required("min");
    let max = t.required("max");
    let step = t.required("step");
    let ladder = SpotLadder { spot: spot?, min: min?, max: max?, step: step? };
    let span = ladder.max.j_cm2() - ladder.min.j_cm2();
    if span < 0.0 {
        t.problem("min", &format!("min {} is above max {}", ladder.min, ladder.max));
    } else if span > 0.0 && ladder.step.j_cm2() > span * (1.0 + 1e-9) {
        t.problem(
            "step",
            &format!("a step of {} leads from min {} beyond max {}", ladder.step, ladder.min, ladder.max),
        );
    }
    Some(ladder)
}

fn distinct<Q: Quantity>(t: &Table<'_>, key: &str, values: Option<&[Q]>) {
    let values = values.unwrap_or_default();
    for (i, value) in values.iter().enumerate() {
        if values.iter().take(i).any(|v| v == value) {
            t.problem(key, &format!("{value} stands there twice"));
        }
    }
}

fn ascending<Q: Quantity>(t: &Table<'_>, key: &str, values: Option<&[Q]>) {
    for pair in values.unwrap_or_default().windows(2) {
        if let [before, after] = pair
            && after <= before
        {
            t.problem(key, &format!("{after} stands after {before}; list them lowest first, each once"));
        }
    }
}
