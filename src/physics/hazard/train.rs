//! Repeated pulses: the limit of each pulse is the lowest of three rules.

use super::factors::{ALPHA_LARGE_MRAD, alpha_max_mrad, t_2_s, t_i_s};
use super::mpe::{eye_j_m2, eye_thermal_j_m2, skin_j_m2};
use super::{Edition, HazardError};
use crate::units::{AngularSubtense, ExposureTime, Wavelength};
use crate::words::words;

/// Highest repetition rate in Hz that is looked at.
pub const RATE_MAX_HZ: f64 = 1e9;

/// Pulses and how long someone is exposed to them. One pulse has the rate 0.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Train {
    pulse: ExposureTime,
    rate_hz: f64,
    exposure: ExposureTime,
}

impl Train {
    /// A single pulse, or a continuous beam for its exposure time.
    #[must_use]
    pub const fn single(pulse: ExposureTime) -> Self {
        Self { pulse, rate_hz: 0.0, exposure: pulse }
    }

    /// Pulses of one duration at a rate in Hz, 0 for one pulse, over an exposure time.
    ///
    /// # Errors
    /// When the rate is no number from 0 to [`RATE_MAX_HZ`], or the pulses overlap or outlast the exposure.
    pub fn repeated(pulse: ExposureTime, rate_hz: f64, exposure: ExposureTime) -> Result<Self, HazardError> {
        if !(0.0..=RATE_MAX_HZ).contains(&rate_hz) {
            return Err(HazardError::out_of_range("rate", rate_hz, "Hz", "0 to 1e9 Hz"));
        }
        if rate_hz <= 0.0 {
            return Ok(Self::single(pulse));
        }
        if rate_hz * pulse.seconds() > 1.0 {
            return Err(HazardError::Overlap { pulse, rate_hz });
        }
        if pulse > exposure {
            return Err(HazardError::TooShort { pulse, exposure });
        }
        Ok(Self { pulse, rate_hz, exposure })
    }

    /// Duration of one pulse.
    #[must_use]
    pub const fn pulse(&self) -> ExposureTime {
        self.pulse
    }
    /// Repetition rate in Hz, 0 for a single pulse.
    #[must_use]
    pub const fn rate_hz(&self) -> f64 {
        self.rate_hz
    }
    /// Exposure time; of a single pulse its duration.
    #[must_use]
    pub const fn exposure(&self) -> ExposureTime {
        self.exposure
    }
    /// Pulses within the exposure time, at least 1.
    #[must_use]
    pub fn pulses(&self) -> f64 {
        self.pulses_within(self.exposure.seconds())
    }

    /// Whole pulses within a time; a product such as `4.35 * 100` falls a rounding error short of its whole number.
    fn pulses_within(&self, seconds: f64) -> f64 {
        (self.rate_hz * seconds * (1.0 + 1e-12)).floor().max(1.0)
    }

    /// True when more than one pulse falls within the exposure.
    #[must_use]
    pub fn repeats(&self) -> bool {
        self.pulses() > 1.0
    }
}

words! {
    /// The rule that limits a pulse.
    Rule, "rule" {
        /// Rule 1: no pulse above the limit of a single one.
        SinglePulse = "single-pulse",
        /// Rule 2: all pulses of a train together within the limit of its duration.
        WholeTrain = "whole-train",
        /// Rule 3: the thermal limit of one pulse, lowered for many by `C_P`.
        MultiplePulses = "multiple-pulses",
    }
}

/// A limit of each pulse of a train.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PulseLimit {
    /// Radiant exposure of one pulse, in J/m2.
    pub j_m2: f64,
    /// The rule that gave it; on a tie the one with the lower number.
    pub rule: Rule,
}

fn lowest(candidates: impl IntoIterator<Item = PulseLimit>) -> Option<PulseLimit> {
    candidates.into_iter().reduce(|low, next| if next.j_m2 < low.j_m2 { next } else { low })
}

/// Pulses that count as one, as they follow each other within `T_i`, and how many such groups the thermal rule counts.
struct Groups {
    duration: ExposureTime,
    pulses_each: f64,
    count: f64,
}

fn groups(edition: Edition, wavelength: Wavelength, train: &Train, alpha: AngularSubtense) -> Groups {
    let window = train.exposure.seconds().min(t_2_s(alpha));
    let t_i = t_i_s(edition, wavelength);
    let n = train.pulses_within(window);
    let each = train.rate_hz * t_i;
    match ExposureTime::new(t_i.max(train.pulse.seconds())) {
        Ok(duration) if each > 1.0 => {
            Groups { duration, pulses_each: each.min(n), count: (window / t_i * (1.0 + 1e-12)).floor().max(1.0).min(n) }
        }
        _ => Groups { duration: train.pulse, pulses_each: 1.0, count: n },
    }
}

/// `C_P`: how far `n` pulses within `min(T, T_2)` lower the thermal limit of one. 1 at most.
///
/// 2007: `n^-0.25` always. 2014 (IEC 60825-1:2014 clause 4.3 f, ICNIRP 2013): 1 for up to 600 pulses no longer than
/// `T_i`, then `5 n^-0.25`, at least 0.4; longer pulses are lowered for extended sources only.
#[must_use]
pub fn c_p(
    edition: Edition,
    wavelength: Wavelength,
    pulse: ExposureTime,
    exposure: ExposureTime,
    alpha: AngularSubtense,
    n: f64,
) -> f64 {
    let n = n.max(1.0);
    let falling = n.powf(-0.25);
    if edition == Edition::Of2007 {
        return falling;
    }
    let t = pulse.seconds();
    if t <= t_i_s(edition, wavelength) * (1.0 + 1e-12) {
        return if exposure.seconds() <= 0.25 || n <= 600.0 { 1.0 } else { (5.0 * falling).clamp(0.4, 1.0) };
    }
    match alpha.mrad() {
        _ if t > 0.25 => 1.0,
        a if a <= 5.0 || a > ALPHA_LARGE_MRAD => 1.0,
        a if a <= alpha_max_mrad(edition, pulse) => {
            if n <= 40.0 {
                falling
            } else {
                0.4
            }
        }
        _ if n <= 625.0 => falling,
        _ => 0.2,
    }
}

/// `C_P` of a train: pulses within `T_i` count as one, and no more than `T_2` is counted.
#[must_use]
pub fn c_p_of(edition: Edition, wavelength: Wavelength, train: &Train, alpha: AngularSubtense) -> f64 {
    let groups = groups(edition, wavelength, train, alpha);
    c_p(edition, wavelength, groups.duration, train.exposure, alpha, groups.count)
}

/// Limits of each pulse by rule 2, for the whole train and for the part of it up to each joint of the tables: the
/// number of pulses is whole, so a part may bind by a hair.
fn shared(train: &Train, joints: &[f64], limit: impl Fn(ExposureTime) -> f64) -> f64 {
    let whole = limit(train.exposure) / train.pulses();
    joints
        .iter()
        .filter(|joint| **joint < train.exposure.seconds() && train.pulses_within(**joint) > 1.0)
        .filter_map(|joint| ExposureTime::new(*joint).ok())
        .map(|t| limit(t) / train.pulses_within(t.seconds()))
        .fold(whole, f64::min)
}

/// Limit of the eye for each pulse of a train: the lowest of the three rules.
#[must_use]
pub fn eye_train(edition: Edition, wavelength: Wavelength, train: &Train, alpha: AngularSubtense) -> PulseLimit {
    let single = PulseLimit { j_m2: eye_j_m2(edition, wavelength, train.pulse, alpha), rule: Rule::SinglePulse };
    if !train.repeats() {
        return single;
    }
    let t_2 = t_2_s(alpha);
    let whole = shared(train, &[10.0, t_2, 100.0], |t| eye_j_m2(edition, wavelength, t, alpha));
    let groups = groups(edition, wavelength, train, alpha);
    let c_p = c_p_of(edition, wavelength, train, alpha);
    let mut of_group = eye_thermal_j_m2(edition, wavelength, groups.duration, alpha);
    // A group lasts up to T_i: the row that ends there holds for it as well as the one that begins.
    if let Ok(before) = ExposureTime::new(groups.duration.seconds() * (1.0 - 1e-9))
        && groups.pulses_each > 1.0
    {
        of_group = of_group.min(eye_thermal_j_m2(edition, wavelength, before, alpha));
    }
    let rules = [
        PulseLimit { j_m2: whole, rule: Rule::WholeTrain },
        PulseLimit { j_m2: c_p * of_group / groups.pulses_each, rule: Rule::MultiplePulses },
    ];
    lowest(std::iter::once(single).chain(rules)).unwrap_or(single)
}

/// Limit of the skin for each pulse of a train: rules 1 and 2.
#[must_use]
pub fn skin_train(wavelength: Wavelength, train: &Train) -> PulseLimit {
    let single = PulseLimit { j_m2: skin_j_m2(wavelength, train.pulse), rule: Rule::SinglePulse };
    if !train.repeats() {
        return single;
    }
    let whole = shared(train, &[10.0], |t| skin_j_m2(wavelength, t));
    lowest([single, PulseLimit { j_m2: whole, rule: Rule::WholeTrain }]).unwrap_or(single)
}
