//! Answers that are wanted while a key is still down: one call each, far below a frame.

use crate::Outcome;
use crate::figures::Table;
use fadewright::physics::beam::{Beam, PulseShape};
use fadewright::physics::hazard::marking::{LineNeed, Marking};
use fadewright::physics::hazard::{Beam as HazardBeam, EditionChoice, ScaleRule, Source, Train, assess};
use fadewright::physics::heat::{Definition, USUAL_GRANULES_NM, USUAL_PULSES_S, confinement};
use fadewright::units::{ExposureTime, GranuleDiameter, PulseDuration, RepetitionRate, SpotDiameter, Wavelength};
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
    heat(table)?;
    hazard(table)
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

/// Limits of both editions, optical densities, distances and scale numbers of a train, and a marking read and judged.
fn hazard(table: &mut Table) -> Outcome<()> {
    let marking = "OD 7+ @ 190-534 nm, OD 5+ @ 740-1100 nm, 740-1070 D LB6 + IRM LB9";
    let mut times = Vec::new();
    for (nm, pulse_s, joules, mm) in [(1064.0, 10e-9, 1.0, 6.0), (755.0, 750e-12, 0.2, 3.0), (532.0, 375e-12, 0.2, 4.0)]
    {
        let exposure = ExposureTime::new(10.0)?;
        let train = Train::repeated(PulseDuration::new(pulse_s)?.into(), 10.0, exposure)?;
        let source = Source::new(Wavelength::new(nm)?, joules, train, HazardBeam::new(mm, 5.0)?)?;
        let all = || {
            let hazard = assess(black_box(&source), EditionChoice::Stricter, 1.0, ScaleRule::default());
            let judged =
                black_box(marking).parse::<Marking>().map(|m| m.judge(&LineNeed::of(&source, &hazard)).protects);
            (hazard, judged.is_ok())
        };
        times.push((format!("{nm} nm"), nanoseconds(all)));
    }
    judge(table, "all hazards of a train, and a marking judged", &times);
    Ok(())
}
