//! Beyond the areas: the dose map, and the unsteady hand.

use super::CoverageArgs;
use crate::cli::output::CliError;
use crate::coverage::hand::{self, HandError};
use crate::coverage::{DoseMap, Hand, Outline, Point};
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
        if args.jitter_mm.is_none() && args.miss.is_none() && args.double.is_none() {
            return Ok(None);
        }
        let habit = |given: Option<f64>| given.unwrap_or(0.0);
        let (jitter_mm, miss, double) = (habit(args.jitter_mm), habit(args.miss), habit(args.double));
        let hand = Hand::new(jitter_mm, miss, double).map_err(|e| {
            let flag = match e {
                HandError::Jitter(_) => "--jitter-mm".to_owned(),
                HandError::Probability { what, .. } => format!("--{what}"),
                HandError::Together { .. } => "--miss, --double".to_owned(),
            };
            CliError::Bad(format!("{flag}: {e}"))
        })?;
        let (runs, seed) = (args.runs.unwrap_or(100), args.seed.unwrap_or(1));
        let told = hand::expected(outline, spots, args.spot_mm, &hand, (runs, seed), &mut |_| true);
        Ok(told.map(|e| Self {
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
