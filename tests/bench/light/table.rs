//! A whole table of depth and dose for one wavelength and one skin.

use super::timing::{Series, timed};
use crate::Outcome;
use crate::figures::Table;
use fadewright::physics::optics::{Case, SkinModel};
use fadewright::physics::transport::Beam;
use fadewright::physics::transport::montecarlo::{Goal, Request, run};
use fadewright::units::Wavelength;
use fadewright::words::{BodySite, FitzpatrickType};
use std::error::Error;
use std::hint::black_box;
use std::process::Command;

/// The time for the table.
const LIMIT_S: f64 = 2.0;
const TURNS: u64 = 5;
const THREADS: usize = 2;
/// Far more than it takes.
const PHOTONS_MAX: u64 = 100_000_000;
/// The time from kept light, in ms.
const KEPT_LIMIT_MS: f64 = 5.0;
const KEPT_TURNS: usize = 41;
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
    let depths_cm: [f64; 12] = std::array::from_fn(|i| (25 * (i + 1)) as f64 / 1000.0);
    let targets = beams.map(|beam| (beam, JUDGED_CM));
    let goal = Goal::Precision { relative: PRECISION, at_most: PHOTONS_MAX };
    let request = Request { stack, goal, seed, threads: THREADS, depths_cm: &depths_cm, targets: &targets };
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
    Ok(Made { worst, photons: outcome.photons })
}

/// The same question to the program itself once its light is kept: all four cases of the skin, nine spots, as JSON. The
/// time that a start of the program takes, measured in turns, is taken off.
pub fn kept_doses(table: &mut Table) -> Outcome<()> {
    const QUESTION: [&str; 11] = [
        "calc",
        "depth",
        "--wavelength-nm",
        "1064",
        "--skin",
        "III",
        "--site",
        "distal-extremity",
        "--spot-mm",
        "3",
        "--json",
    ];
    let home = tempfile::tempdir()?;
    let ask = |args: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_fadewright"));
        command.args(args).env_clear().env("HOME", home.path());
        let (seconds, output) = timed(|| command.output());
        Ok::<_, Box<dyn Error>>((seconds, output?.stdout))
    };
    let (_, first) = ask(&QUESTION)?;
    let (mut kept, mut start) = (Series::empty(), Series::empty());
    for _ in 0..KEPT_TURNS {
        start.push(ask(&["--version"])?.0);
        let (seconds, again) = ask(&QUESTION)?;
        kept.push(seconds);
        if first.is_empty() || again != first {
            return Err("kept light gave another answer".into());
        }
    }
    let milliseconds = (kept.median() - start.median()) * 1e3;
    let told = format!("{milliseconds:.1} ms  (with the start {:.1} ms)", kept.median() * 1e3);
    table.judge("the same from kept light", told, format!("{KEPT_LIMIT_MS} ms"), milliseconds < KEPT_LIMIT_MS);
    Ok(())
}
