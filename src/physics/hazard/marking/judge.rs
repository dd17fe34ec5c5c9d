//! Whether a marking is enough for a beam.

use super::{Band, Marking, ScaleMark, short};
use crate::physics::hazard::{Hazard, Mode, ScaleNeed, ScaleNumber, Source, rounded_down, rounded_up};
use crate::units::{ExposureTime, Wavelength, trimmed};

/// At this rate and below a mark with `Y` says nothing.
const LOW_RATE_HZ: f64 = 25.0;
/// Below this luminous transmittance a room needs more light.
const DARK_PERCENT: f64 = 20.0;
/// Largest scale number there is.
const SCALE_MAX: u32 = 10;

/// What one line of a laser asks of eyewear.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineNeed {
    /// Wavelength.
    pub wavelength: Wavelength,
    /// Pulse duration, or the exposure time of a continuous beam.
    pub pulse: ExposureTime,
    /// Repetition rate in Hz, 0 for a single pulse or a continuous beam.
    pub rate_hz: f64,
    /// Needed optical density.
    pub od: f64,
    /// Needed EN 207 scale numbers, for eyewear that carries any.
    pub scale: ScaleNeed,
}

impl LineNeed {
    /// What follows from the hazard of a beam.
    #[must_use]
    pub fn of(source: &Source, hazard: &Hazard) -> Self {
        Self {
            wavelength: source.wavelength,
            pulse: source.train.pulse(),
            rate_hz: source.train.rate_hz(),
            od: hazard.od_needed(),
            scale: hazard.scale,
        }
    }

    /// The needed optical density as it is shown and compared: up to the next tenth.
    #[must_use]
    pub fn od_shown(&self) -> String {
        trimmed(rounded_up(self.od), 1)
    }
}

/// Whether eyewear protects, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Judgement {
    /// True when the marking is enough.
    pub protects: bool,
    /// Sentences: each shortfall where it does not protect, else what it rests on.
    pub reasons: Vec<String>,
    /// Sentences about what was not judged or makes work harder.
    pub warnings: Vec<String>,
}

impl Marking {
    /// Judges the marking for one line of a laser.
    ///
    /// A range must hold the wavelength; the density marked there, by `OD` or implied by an `LB` number, must reach the
    /// need; and where `LB` numbers are marked there, mode D and the mode of the pulses must reach theirs too. Where
    /// several ranges hold the wavelength each of them is a promise, so the highest mark counts.
    #[must_use]
    pub fn judge(&self, need: &LineNeed) -> Judgement {
        let nm = need.wavelength.nm();
        let bands: Vec<&Band> = self.bands.iter().filter(|b| b.holds(nm)).collect();
        let mut verdict = Verdict::default();
        if bands.is_empty() {
            verdict.against(format!("{} lies in none of the marked ranges ({}).", need.wavelength, self.ranges()));
        } else if bands.iter().all(|b| b.optical_density.is_none() && b.scale.is_empty()) {
            verdict
                .against(format!("RB marks at {} are for alignment and never count as protection.", need.wavelength));
        } else {
            density(&bands, need, &mut verdict);
            scale(&bands, need, &mut verdict);
        }
        let protects = verdict.against.is_empty();
        Judgement {
            protects,
            reasons: if protects { verdict.rests_on } else { verdict.against },
            warnings: self.warnings(),
        }
    }

    fn ranges(&self) -> String {
        const SHOWN: usize = 4;
        let mut text = self.bands.iter().take(SHOWN).map(Band::range).collect::<Vec<_>>().join(", ");
        if self.bands.len() > SHOWN {
            text.push_str(", ...");
        }
        text + " nm"
    }

    fn warnings(&self) -> Vec<String> {
        let mut warnings = Vec::new();
        match self.vlt_percent {
            None => warnings
                .push("Its luminous transmittance is not marked; see that the room is bright enough.".to_owned()),
            Some(vlt) if vlt < DARK_PERCENT => warnings.push(format!(
                "It lets {} % of the visible light through; below {} % the room needs more light.",
                short(vlt),
                short(DARK_PERCENT)
            )),
            Some(_) => {}
        }
        if let Some(category) = &self.resistance_category {
            warnings.push(format!("Resistance category {category} was not judged."));
        }
        warnings
    }
}

#[derive(Default)]
struct Verdict {
    against: Vec<String>,
    rests_on: Vec<String>,
}

impl Verdict {
    fn against(&mut self, sentence: String) {
        self.against.push(sentence);
    }
    fn rests_on(&mut self, sentence: String) {
        self.rests_on.push(sentence);
    }
}

/// The mode that the beam is judged by: that of its pulses, D for a continuous beam.
fn own_mode(need: &LineNeed) -> Mode {
    need.scale.pulsed.map_or(Mode::D, |(mode, _)| mode)
}

fn density(bands: &[&Band], need: &LineNeed, verdict: &mut Verdict) {
    let marked =
        bands.iter().filter_map(|b| b.optical_density).map(|od| (od, format!("OD {}", trimmed(rounded_down(od), 1))));
    // A scale number promises a density as high as itself; that of another mode was measured with another laser.
    let mode = own_mode(need);
    let implied =
        best_mark(bands, mode).map(|m| (f64::from(m.number), format!("{mode} LB{} (OD {})", m.number, m.number)));
    let best = marked.chain(implied).fold(None, |best: Option<(f64, String)>, next| match best {
        Some(best) if best.0 >= next.0 => Some(best),
        _ => Some(next),
    });
    match best {
        // No mark of the mode itself: the scale says so.
        None => {}
        Some((od, text)) if rounded_down(od) + 1e-9 < rounded_up(need.od) => {
            verdict.against(format!("Marked {text} at {}, {} needed.", need.wavelength, need.od_shown()));
        }
        Some((_, text)) => {
            verdict.rests_on(format!("Marked {text} at {}, {} needed.", need.wavelength, need.od_shown()));
        }
    }
}

fn best_mark(bands: &[&Band], mode: Mode) -> Option<ScaleMark> {
    // A mark without `Y` counts before a higher one with it.
    bands
        .iter()
        .flat_map(|b| b.scale.iter().copied())
        .filter(|m| m.mode == mode)
        .max_by_key(|m| (!m.not_at_low_rate, m.number))
}

fn scale(bands: &[&Band], need: &LineNeed, verdict: &mut Verdict) {
    if bands.iter().all(|b| b.scale.is_empty()) {
        return;
    }
    if let Some(number) = need.scale.average {
        mode_enough(bands, Mode::D, number, need, verdict);
    }
    if let Some((mode, number)) = need.scale.pulsed {
        mode_enough(bands, mode, number, need, verdict);
    }
}

fn mode_enough(bands: &[&Band], mode: Mode, needed: ScaleNumber, need: &LineNeed, verdict: &mut Verdict) {
    let at = need.wavelength;
    let asks =
        if mode == Mode::D { "the average power asks".to_owned() } else { format!("pulses of {} ask", need.pulse) };
    if needed.number > SCALE_MAX {
        verdict.against(format!("At {at} {asks} for {mode} LB{}; the scale ends at LB{SCALE_MAX}.", needed.number));
        return;
    }
    let Some(mark) = best_mark(bands, mode) else {
        verdict.against(format!("No mode {mode} is marked at {at}; {asks} for {mode} LB{}.", needed.number));
        return;
    };
    let pulsed = need.scale.pulsed.is_some();
    if mark.not_at_low_rate && pulsed && need.rate_hz <= LOW_RATE_HZ {
        let rate = if need.rate_hz > 0.0 { format!("{} Hz", short(need.rate_hz)) } else { "single pulses".to_owned() };
        verdict.against(format!(
            "{mode} LB{}Y at {at} was not tested at {LOW_RATE_HZ} Hz and below; this beam has {rate}.",
            mark.number
        ));
    } else if mark.number < needed.number {
        verdict.against(format!("{mode} is marked LB{} at {at}, LB{} needed.", mark.number, needed.number));
    } else {
        verdict.rests_on(format!("{mode} is marked LB{} at {at}, LB{} needed.", mark.number, needed.number));
    }
}
