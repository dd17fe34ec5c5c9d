//! A whole table of depth and dose for one wavelength and one skin.

use super::timing::{Series, timed};
use crate::Outcome;
use crate::figures::Table;
use fadewright::physics::optics::{Case, SkinModel};
use fadewright::physics::transport::Beam;
use fadewright::physics::transport::montecarlo::{Goal, Request, run};
use fadewright::units::Wavelength;
use fadewright::words::{BodySite, FitzpatrickType};
use std::hint::black_box;

/// The time for the table.
const LIMIT_S: f64 = 2.0;
const TURNS: u64 = 5;
const THREADS: usize = 2;
/// Photons of the first attempt.
const FIRST: u64 = 64 * 4096;
/// The relative standard error at 1 mm under every spot.
const PRECISION: f64 = 0.01;
const JUDGED_CM: f64 = 0.1;
const SPOTS_MM: [f64; 8] = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0];

/// A table on two threads, from the wavelength to its last figure.
pub fn depth_doses(table: &mut Table) -> Outcome<()> {
    let mut times = Series::empty();
    let (mut worst, mut photons) = (0.0f64, 0);
    for turn in 1..=TURNS {
        let (seconds, made) = timed(|| make(turn));
        let made = made?;
        times.push(seconds);
        worst = worst.max(made.worst);
        photons = made.photons;
    }
    let time =
        format!("{:.2} s  (from {:.2} to {:.2}; {photons} photons)", times.median(), times.least(), times.most());
    table.judge("depth and dose, 8 spots, 12 depths", time, format!("{LIMIT_S} s"), times.median() < LIMIT_S);
    let error = format!("{:.2} % at most", worst * 100.0);
    let limit = format!("{} %", PRECISION * 100.0);
    table.judge("standard error of its doses at 1 mm", error, limit, worst <= PRECISION);
    Ok(())
}

struct Made {
    /// The largest relative standard error at 1 mm.
    worst: f64,
    photons: u64,
}

/// From the skin's model to the last figure of the table.
fn make(seed: u64) -> Outcome<Made> {
    let skin = SkinModel::new(Wavelength::new(1064.0)?, FitzpatrickType::III, BodySite::DistalExtremity, None)?;
    let stack = skin.stack(Case::Nominal);
    let beams = SPOTS_MM.map(|mm| Beam::Flat { diameter_cm: mm / 10.0 });
    let depths_cm: [f64; 12] = std::array::from_fn(|i| 0.025 * (i + 1) as f64);
    // A goal's precision counts at every depth asked for; here it counts at 1 mm, so a run that falls short is
    // followed by one that is large enough.
    let mut photons = FIRST;
    loop {
        let goal = Goal::Photons(photons);
        let request = Request { stack, goal, seed, threads: THREADS, depths_cm: &depths_cm, beams: &[] };
        let outcome = run(&request, &())?;
        let pencil = outcome.pencil.as_ref().ok_or("light was asked for at depths")?;
        let mut worst = 0.0f64;
        for beam in beams {
            for depth in depths_cm {
                let dose = black_box(pencil.fluence(beam, depth)?);
                if (depth - JUDGED_CM).abs() < 1e-9 {
                    worst = worst.max(dose.relative_error());
                }
            }
        }
        if worst <= PRECISION {
            return Ok(Made { worst, photons });
        }
        photons = (photons as f64 * (worst / PRECISION).powi(2) * 1.2) as u64;
    }
}
