//! Eyewear against what the device can emit.
//!
//! The need is that of the strongest output of a line at any of its spots and at its highest rate, seen for 10 s by the
//! stricter of two editions: a setting that is changed during the session cannot outgrow it. The beam is taken as it
//! leaves the handpiece, as wide as its spot. Light of other wavelengths than the line's own, such as that of an aiming
//! beam, is not in the device profile and so not judged.

use super::Computed;
use crate::device::{BeamProfile, DeviceProfile, EmissionLine, SpotLadder};
use crate::physics::hazard::marking::{LineNeed, Marking, MarkingError};
use crate::physics::hazard::{Beam, EditionChoice, ScaleNumber, ScaleRule, Source, Train, assess};
use crate::protocol::Eyewear;
use crate::session::event::{Opened, Verdict};
use crate::text::shown;
use crate::units::{ExposureTime, PulseDuration, Wavelength};

/// How long someone may look before they turn away, in seconds: the time base of the limits for intended work.
const EXPOSURE_S: f64 = 10.0;

/// The wavelengths of the plan, each once, in its order.
pub(crate) fn planned(opened: &Opened) -> Vec<Wavelength> {
    let mut found: Vec<Wavelength> = Vec::new();
    for zone in &opened.plan.zones {
        let w = zone.setting.wavelength;
        if !found.iter().any(|f| (f.nm() - w.nm()).abs() < 0.5) {
            found.push(w);
        }
    }
    found
}

/// What a line asks for: one need for each pulse duration. None when the device has no such line.
fn needs(device: &DeviceProfile, wavelength: Wavelength) -> Option<Vec<LineNeed>> {
    let line = device.line(wavelength)?;
    let all: Option<Vec<_>> = line.pulse_durations.iter().map(|pulse| need(line, *pulse)).collect();
    all.filter(|all| !all.is_empty())
}

fn need(line: &EmissionLine, pulse: PulseDuration) -> Option<LineNeed> {
    line.spots.iter().map(|ladder| of_spot(line, pulse, ladder)).reduce(|a, b| Some(worse(a?, &b?))).flatten()
}

fn of_spot(line: &EmissionLine, pulse: PulseDuration, ladder: &SpotLadder) -> Option<LineNeed> {
    let energy = ladder.max.energy_joules(ladder.spot).min(line.energy_max.joules());
    let rates = || line.rates.iter().map(|r| r.hz());
    let exposure = ExposureTime::new(EXPOSURE_S).ok()?;
    let train = Train::repeated(pulse.into(), rates().reduce(f64::max)?, exposure).ok()?;
    let (mm, mrad) = (ladder.spot.mm(), line.divergence.mrad());
    let beam = match line.beam_profile {
        BeamProfile::Flat => Beam::new(mm, mrad),
        BeamProfile::Gaussian => Beam::gaussian(mm, mrad),
    };
    let source = Source::new(line.wavelength, energy, train, beam.ok()?).ok()?;
    let hazard = assess(&source, EditionChoice::Stricter, 1.0, ScaleRule::default());
    // The highest rate asks for the most, but a mark with `Y` fails at the lowest.
    Some(LineNeed { rate_hz: rates().reduce(f64::min)?, ..LineNeed::of(&source, &hazard) })
}

fn worse(a: LineNeed, b: &LineNeed) -> LineNeed {
    let higher = |a: ScaleNumber, b: ScaleNumber| if b.exact > a.exact { b } else { a };
    let mut worst = a;
    worst.od = a.od.max(b.od);
    if let (Some(x), Some(y)) = (a.scale.average, b.scale.average) {
        worst.scale.average = Some(higher(x, y));
    }
    if let (Some((mode, x)), Some((_, y))) = (a.scale.pulsed, b.scale.pulsed) {
        worst.scale.pulsed = Some((mode, higher(x, y)));
    }
    worst
}

/// "1064 nm: OD 7, or D LB6 + R LB8".
fn need_in_words(wavelength: Wavelength, needs: &[LineNeed]) -> String {
    let of_pulse = |need: &LineNeed| format!("OD {} (EN 207: {})", need.od_shown(), need.scale);
    format!("{wavelength} needs {}", needs.iter().map(of_pulse).collect::<Vec<_>>().join(" and "))
}

/// What the device asks for at these wavelengths, in words.
pub(crate) fn needed(opened: &Opened, wavelengths: &[Wavelength]) -> String {
    let of = |w: &Wavelength| match needs(&opened.device, *w) {
        Some(needs) => need_in_words(*w, &needs),
        None => format!("{w} is no line of the device"),
    };
    wavelengths.iter().map(of).collect::<Vec<_>>().join("; ")
}

/// The sentences against a marking; none when it protects. Without a line of the device nothing protects.
fn shortfalls(marking: &Marking, wavelength: Wavelength, needs: Option<&[LineNeed]>) -> Vec<String> {
    let Some(needs) = needs else {
        return vec![format!("The device has no line at {wavelength}, so what it needs is not known.")];
    };
    needs.iter().map(|need| marking.judge(need)).filter(|j| !j.protects).flat_map(|j| j.reasons).collect()
}

/// The computed item: is there a pair of the clinic for every planned wavelength?
pub(super) fn eyewear(o: &Opened) -> Computed {
    let pairs: Vec<(&Eyewear, Result<Marking, MarkingError>)> =
        o.protocol.eyewear.iter().map(|e| (e, e.marking())).collect();
    let mut lines = Vec::new();
    let mut verdict = Verdict::Pass;
    for w in planned(o) {
        let needs = needs(&o.device, w);
        let mut good = Vec::new();
        let mut against = Vec::new();
        for (pair, marking) in &pairs {
            let found = match marking {
                Ok(marking) => shortfalls(marking, w, needs.as_deref()),
                Err(e) => vec![format!("{e}.")],
            };
            if found.is_empty() {
                good.push(format!("\"{}\"", shown(&pair.name)));
            } else {
                against.push(format!("{}: {}", shown(&pair.name), found.join(" ")));
            }
        }
        let need = needed(o, &[w]);
        if good.is_empty() {
            verdict = Verdict::HardStop;
            // What fails comes first: a small screen cuts the end off.
            lines.insert(0, format!("{need}; no pair of the clinic protects: {}", against.join(" ")));
        } else {
            lines.push(format!("{need}: wear {}", good.join(" or ")));
        }
    }
    Computed::of(verdict, lines.join("; "))
}

/// The pair of the protocol that a text names: its number in the list, its name, or the beginning of one name or a word
/// of one name, such as `B` for "Pair B, near infrared".
fn listed<'a>(pairs: &'a [Eyewear], text: &str) -> Option<&'a Eyewear> {
    if let Ok(number) = text.parse::<usize>() {
        return pairs.get(number.checked_sub(1)?);
    }
    let wanted = text.to_lowercase();
    let only = |fits: &dyn Fn(&str) -> bool| {
        let mut found = pairs.iter().filter(|p| fits(&p.name.to_lowercase()));
        found.next().filter(|_| found.next().is_none())
    };
    only(&|name| name == wanted)
        .or_else(|| {
            only(&|name| name.strip_prefix(&wanted).is_some_and(|rest| !rest.starts_with(char::is_alphanumeric)))
        })
        .or_else(|| only(&|name| name.split(|c: char| !c.is_alphanumeric()).any(|word| word == wanted)))
}

/// The first pair of the clinic that protects at every planned wavelength: the one that will be worn.
#[must_use]
pub fn likely_worn(o: &Opened) -> Option<&Eyewear> {
    let wavelengths = planned(o);
    let protects =
        |pair: &&Eyewear| judge_worn(o, &wavelengths, &pair.name).is_ok_and(|found| found.verdict == Verdict::Pass);
    o.protocol.eyewear.iter().find(protects)
}

/// Judges the eyewear that is worn: the marking as printed, or a pair of the protocol by number or name.
///
/// # Errors
/// [`MarkingError`] when the text is neither.
pub(crate) fn judge_worn(o: &Opened, wavelengths: &[Wavelength], text: &str) -> Result<Computed, MarkingError> {
    let text = text.trim();
    let (who, marking) = match listed(&o.protocol.eyewear, text) {
        Some(pair) => (shown(&pair.name), pair.marking()?),
        None => ("Eyewear as typed".to_owned(), text.parse::<Marking>()?),
    };
    let mut against = Vec::new();
    let mut rests_on = Vec::new();
    let mut warnings = Vec::new();
    for w in wavelengths {
        let needs = needs(&o.device, *w);
        let found = shortfalls(&marking, *w, needs.as_deref());
        if found.is_empty() {
            for judged in needs.iter().flatten().map(|need| marking.judge(need)) {
                rests_on.extend(judged.reasons);
                warnings = judged.warnings;
            }
        } else {
            against.extend(found);
        }
    }
    Ok(if wavelengths.is_empty() {
        Computed::of(Verdict::HardStop, format!("{who}: no wavelength is planned to judge it by."))
    } else if against.is_empty() {
        Computed::pass(format!(
            "{who} protects. {}",
            rests_on.into_iter().chain(warnings).collect::<Vec<_>>().join(" ")
        ))
    } else {
        Computed::of(Verdict::HardStop, format!("{who} DOES NOT PROTECT. {}", against.join(" ")))
    })
}
