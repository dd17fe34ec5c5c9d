//! Beyond the areas: the dose map, and the unsteady hand.

use super::CoverageArgs;
use crate::cli::output::CliError;
use crate::cli::progress::Progress;
use crate::coverage::hand::{self, HandError};
use crate::coverage::{DoseMap, Hand, Outline, Point};
use crate::physics::transport::montecarlo::Watch;
use crate::words::BeamProfile;
use serde::Serialize;

/// Dose over the zone, in multiples of the nominal fluence.
#[derive(Debug, Serialize)]
pub(super) struct Dose {
    pub(super) profile: BeamProfile,
    pub(super) mean: f64,
    pub(super) median: f64,
    pub(super) p95: f64,
    pub(super) peak: f64,
    pub(super) above: f64,
    pub(super) share_above: f64,
    pub(super) step_mm: f64,
}

impl Dose {
    pub(super) fn of(args: &CoverageArgs, outline: &Outline, spots: &[Point]) -> Self {
        let profile = args.profile.unwrap_or(BeamProfile::Flat);
        let above = args.above.unwrap_or(1.5);
        let map = DoseMap::of(outline, spots, args.spot_mm, profile);
        Self {
            profile,
            mean: map.mean(),
            median: map.median(),
            p95: map.p95(),
            peak: map.peak(),
            above,
            share_above: map.share_above(above),
            step_mm: map.step_mm(),
        }
    }
}

/// What an unsteady hand's passes leave and cover, on average, with standard errors.
#[derive(Debug, Serialize)]
pub(super) struct Unsteady {
    pub(super) jitter_mm: f64,
    pub(super) miss: f64,
    pub(super) double: f64,
    pub(super) seed: u64,
    pub(super) runs: u32,
    /// Why fewer passes were tried than asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) stopped_by: Option<&'static str>,
    pub(super) pulses: f64,
    pub(super) bare_mm2: f64,
    pub(super) bare_se_mm2: f64,
    pub(super) once_mm2: f64,
    pub(super) once_se_mm2: f64,
    pub(super) twice_mm2: f64,
    pub(super) twice_se_mm2: f64,
    pub(super) thrice_or_more_mm2: f64,
    pub(super) thrice_or_more_se_mm2: f64,
}

impl Unsteady {
    /// None when no habit of the hand was given.
    pub(super) fn of(args: &CoverageArgs, outline: &Outline, spots: &[Point]) -> Result<Option<Self>, CliError> {
        if args.hand.jitter_mm.is_none() && args.hand.miss.is_none() && args.hand.double.is_none() {
            return Ok(None);
        }
        let habit = |given: Option<f64>| given.unwrap_or(0.0);
        let (jitter_mm, miss, double) = (habit(args.hand.jitter_mm), habit(args.hand.miss), habit(args.hand.double));
        let hand = Hand::new(jitter_mm, miss, double).map_err(|e| {
            let flag = match e {
                HandError::Jitter(_) => "--jitter-mm".to_owned(),
                HandError::Probability { what, .. } => format!("--{what}"),
                HandError::Together { .. } => "--miss, --double".to_owned(),
            };
            CliError::Bad(format!("{flag}: {e}"))
        })?;
        let (runs, seed) = (args.hand.runs.unwrap_or(100), args.hand.seed.unwrap_or(1));
        let progress = Progress::start(args.hand.time_limit, "passes");
        let go_on = &mut |done: u32| progress.go_on(u64::from(done), u64::from(runs));
        let told = hand::expected(outline, spots, args.spot_mm, &hand, (runs, seed), go_on);
        let stopped_by = progress.stopped_by().filter(|_| told.is_some_and(|e| e.runs < runs));
        Ok(told.map(|e| Self {
            stopped_by,
            jitter_mm,
            miss,
            double,
            seed,
            runs: e.runs,
            pulses: e.pulses,
            bare_mm2: e.bare.mm2,
            bare_se_mm2: e.bare.standard_error_mm2,
            once_mm2: e.once.mm2,
            once_se_mm2: e.once.standard_error_mm2,
            twice_mm2: e.twice.mm2,
            twice_se_mm2: e.twice.standard_error_mm2,
            thrice_or_more_mm2: e.thrice_or_more.mm2,
            thrice_or_more_se_mm2: e.thrice_or_more.standard_error_mm2,
        }))
    }
}
