//! Answers that are wanted while a key is still down: one call each, far below a frame.

use crate::Outcome;
use crate::figures::Table;
use fadewright::physics::beam::{Beam, PulseShape};
use fadewright::physics::heat::{Definition, USUAL_GRANULES_NM, USUAL_PULSES_S, confinement};
use fadewright::units::{GranuleDiameter, PulseDuration, RepetitionRate, SpotDiameter};
use fadewright::words::BeamProfile;
use std::hint::black_box;
use std::time::Instant;

/// The time for one answer.
const LIMIT_NS: u128 = 10_000;
/// Calls that are timed together.
const BATCH: u32 = 200;
const BATCHES: usize = 101;

/// All of them.
pub fn answers(table: &mut Table) -> Outcome<()> {
    beam(table)?;
    heat(table)
}

/// The middle of many batches, in ns a call.
fn nanoseconds<T>(mut call: impl FnMut() -> T) -> u128 {
    let mut times: Vec<u128> = (0..BATCHES)
        .map(|_| {
            let start = Instant::now();
            for _ in 0..BATCH {
                black_box(call());
            }
            start.elapsed().as_nanos() / u128::from(BATCH)
        })
        .collect();
    times.sort_unstable();
    times.get(times.len() / 2).copied().unwrap_or(u128::MAX)
}

/// Judges the slowest of some answers.
fn judge(table: &mut Table, what: &str, times: &[(String, u128)]) {
    let Some((which, slowest)) = times.iter().max_by_key(|(_, ns)| ns) else {
        return table.failed(what, "nothing was timed");
    };
    table.judge(what, format!("{slowest} ns, {which}"), format!("{LIMIT_NS} ns"), *slowest < LIMIT_NS);
}

/// A beam and all that is said of it.
fn beam(table: &mut Table) -> Outcome<()> {
    let (spot, duration) = (SpotDiameter::new(3.0)?, PulseDuration::new(750e-12)?);
    let rate = RepetitionRate::new(5.0)?;
    let mut times = Vec::new();
    for profile in [BeamProfile::Flat, BeamProfile::Gaussian] {
        let all = || {
            let beam = Beam::from_energy(black_box(0.2), black_box(spot), black_box(profile));
            let (duration, shape) = (black_box(duration), PulseShape::Gaussian);
            [
                beam.fluence_j_cm2(),
                beam.peak_fluence_j_cm2(),
                beam.energy_inside_spot(),
                beam.fwhm_mm(),
                beam.peak_power_w(duration, shape),
                beam.peak_irradiance_w_cm2(duration, shape),
                beam.average_power_w(black_box(rate)),
            ]
        };
        times.push((format!("{profile} profile"), nanoseconds(all)));
    }
    judge(table, "all figures of a beam", &times);
    Ok(())
}

/// Heat and stress of every usual granule under every usual pulse.
fn heat(table: &mut Table) -> Outcome<()> {
    let mut times = Vec::new();
    for nm in USUAL_GRANULES_NM {
        for seconds in USUAL_PULSES_S {
            let (granule, pulse) = (GranuleDiameter::new(nm)?, PulseDuration::new(seconds)?);
            let call = || confinement(black_box(granule), black_box(pulse), Definition::AndersonParrish);
            times.push((format!("{nm} nm under {seconds:.0e} s"), nanoseconds(call)));
        }
    }
    judge(table, "confinement in a granule, slowest of 20", &times);
    Ok(())
}
