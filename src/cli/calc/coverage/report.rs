//! The figures of `calc coverage`.

use super::more::{Dose, Unsteady};
use super::points::{self, Kind};
use super::{CoverageArgs, zone};
use crate::cli::output::CliError;
use crate::coverage::lattice::{area_overlap, gapless_overlap_percent, own_gaps};
use crate::coverage::{
    Disc, Lattice, LatticeKind, Outline, Pattern, Point, even_pulses, hit_areas, largest_spot_mm, random_bare_share,
    time_s,
};
use crate::units::{Overlap, SpotDiameter};
use serde::Serialize;
use std::collections::{HashMap, HashSet};
use std::path::Path;

/// The overlap of the plan by which a bare count is judged, in per cent: the usual one.
const PLAN_PERCENT: f64 = 10.0;

/// More pairs of pulses that touch than this take minutes.
const PAIRS_MAX: f64 = 3e8;

/// What is printed.
#[derive(Debug, Serialize)]
pub(super) struct Report {
    pub(super) area_mm2: f64,
    pub(super) perimeter_mm: f64,
    /// Left, bottom, right, top.
    pub(super) bounds_mm: [f64; 4],
    pub(super) spot_mm: f64,
    pub(super) pulses: u64,
    #[serde(flatten)]
    pub(super) areas: Option<Areas>,
    #[serde(flatten)]
    pub(super) even: Option<Even>,
    #[serde(flatten)]
    pub(super) implied: Option<Implied>,
    /// What so many pulses anywhere in the zone at random would leave.
    pub(super) random_bare_mm2: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) rate_hz: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) time_s: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) largest_spot_mm: Option<f64>,
}

impl Report {
    /// False when the hand's passes were stopped early.
    pub(super) fn is_complete(&self) -> bool {
        self.areas.as_ref().and_then(|a| a.hand.as_ref()).is_none_or(|h| h.stopped_by.is_none())
    }
}

/// What known pulses leave and cover.
#[derive(Debug, Serialize)]
pub(super) struct Areas {
    pub(super) bare_mm2: f64,
    pub(super) once_mm2: f64,
    pub(super) twice_mm2: f64,
    pub(super) thrice_or_more_mm2: f64,
    pub(super) union_mm2: f64,
    pub(super) spill_mm2: f64,
    pub(super) pulses_outside: u64,
    pub(super) dose: Dose,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) hand: Option<Unsteady>,
}

/// An even pass.
#[derive(Debug, Serialize)]
pub(super) struct Even {
    pub(super) lattice: LatticeKind,
    /// As asked, a share.
    pub(super) overlap: f64,
    /// Area that two neighbours at that overlap share, over the area of a spot.
    pub(super) overlap_area: f64,
    /// From here on such a lattice has no gaps.
    pub(super) gapless_overlap: f64,
    /// Share of the plane that it leaves bare without an edge.
    pub(super) endless_bare_share: f64,
    /// As fitted.
    pub(super) pitch_mm: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub(super) row_pitch_mm: Option<f64>,
    pub(super) rows: usize,
    pub(super) even_pulses: f64,
}

/// What a count means if it is fired evenly.
#[derive(Debug, Serialize)]
pub(super) struct Implied {
    pub(super) implied_overlap: f64,
    pub(super) mean_pulses_per_point: f64,
}

pub(super) fn of(args: &CoverageArgs) -> Result<Report, CliError> {
    let outline = zone::outline(args)?;
    let spot = args.spot_mm;
    let (pulses, areas, even, implied) = match (args.overlap, &args.at, args.pulses) {
        (Some(overlap), ..) => {
            let (areas, even, pulses) = even_pass(args, &outline, overlap)?;
            (pulses, Some(areas), Some(even), None)
        }
        (None, Some(path), _) => {
            let (areas, implied, pulses) = landed(args, &outline, path)?;
            (pulses, Some(areas), None, implied)
        }
        (None, None, Some(pulses)) => {
            fits(&outline, spot)?;
            (pulses, None, None, Some(implied(&outline, spot, pulses)?))
        }
        (None, None, None) => {
            return Err(CliError::Bad("the pulses are missing: give --overlap, --at or --pulses".to_owned()));
        }
    };
    let bounds = outline.bounds();
    let area_mm2 = outline.area_mm2();
    Ok(Report {
        area_mm2,
        perimeter_mm: outline.perimeter_mm(),
        bounds_mm: [bounds.low.x_mm, bounds.low.y_mm, bounds.high.x_mm, bounds.high.y_mm],
        spot_mm: spot.mm(),
        pulses,
        areas,
        even,
        implied,
        random_bare_mm2: area_mm2 * random_bare_share(pulses, spot, area_mm2),
        rate_hz: args.rate_hz.map(|rate| rate.hz()),
        time_s: args.rate_hz.map(|rate| time_s(pulses, rate)),
        largest_spot_mm: args.energy_j.zip(args.fluence_j_cm2).map(|(q, f)| largest_spot_mm(q, f)),
    })
}

/// A spot larger than the zone makes no even pass.
fn fits(outline: &Outline, spot: SpotDiameter) -> Result<(), CliError> {
    let (zone, one) = (outline.area_mm2(), spot.area_mm2());
    if one <= zone {
        return Ok(());
    }
    Err(CliError::Bad(format!(
        "--spot-mm: a spot of {spot} has {one:.3} mm2, the zone only {zone:.3}: take a smaller spot, or say with --at \
         where the pulses landed"
    )))
}

fn even_pass(args: &CoverageArgs, outline: &Outline, overlap: Overlap) -> Result<(Areas, Even, u64), CliError> {
    let spot = args.spot_mm;
    fits(outline, spot)?;
    let kind = args.lattice.unwrap_or(LatticeKind::Hexagonal);
    let lattice = Lattice::fit(outline, kind, spot, overlap).map_err(|e| {
        CliError::Bad(format!("--overlap {} % over this zone: {e}; check --spot-mm and the zone", overlap.percent()))
    })?;
    // The formula is that of the hexagonal lattice, whose cells are the smaller ones.
    let cells = LatticeKind::Hexagonal.row_over_pitch() / kind.row_over_pitch();
    let rows = lattice.rows().len();
    let even = Even {
        lattice: kind,
        overlap: overlap.percent() / 100.0,
        overlap_area: area_overlap(overlap),
        gapless_overlap: gapless_overlap_percent(kind) / 100.0,
        endless_bare_share: own_gaps(kind, overlap),
        pitch_mm: lattice.pitch_mm(),
        row_pitch_mm: (rows > 1).then(|| lattice.row_pitch_mm()),
        rows,
        even_pulses: cells * even_pulses(outline.area_mm2(), spot, overlap),
    };
    Ok((areas(args, outline, lattice.spots())?, even, lattice.pulses()))
}

fn landed(args: &CoverageArgs, outline: &Outline, path: &Path) -> Result<(Areas, Option<Implied>, u64), CliError> {
    let spot = args.spot_mm;
    let places: Vec<Point> = points::load(path, Kind::Pulses)?.into_iter().flat_map(|run| run.places).collect();
    let pulses = places.len() as u64;
    let pairs = near_pairs(&places, spot);
    if pairs > PAIRS_MAX {
        return Err(CliError::Bad(format!(
            "--at: the {pulses} pulses of {spot} lie so close that {pairs:.1e} pairs of them would be compared, at most \
             {PAIRS_MAX:.0e}: give fewer at a time, such as one pass a file"
        )));
    }
    // A spot larger than the zone, or a zone of too many spots, implies no overlap.
    let implied = fits(outline, spot).and_then(|()| implied(outline, spot, pulses)).ok();
    Ok((areas(args, outline, &places)?, implied, pulses))
}

/// About so many pairs of pulses touch: those in one cell as wide as the spot. Pulses on the very same place count once.
fn near_pairs(places: &[Point], spot: SpotDiameter) -> f64 {
    let bits: HashSet<[u64; 2]> = places.iter().map(|p| [p.x_mm.to_bits(), p.y_mm.to_bits()]).collect();
    let mut cells: HashMap<[i64; 2], f64> = HashMap::new();
    for place in bits {
        let cell = place.map(|bits| (f64::from_bits(bits) / spot.mm()).floor() as i64);
        *cells.entry(cell).or_default() += 1.0;
    }
    cells.values().map(|n| n * n).sum()
}

fn implied(outline: &Outline, spot: SpotDiameter, pulses: u64) -> Result<Implied, CliError> {
    let bad = |e: String| CliError::Bad(format!("--pulses: {e}"));
    let plan = Overlap::new(PLAN_PERCENT).map_err(|e| bad(e.to_string()))?;
    let pattern = Pattern::of(outline.clone(), spot, plan);
    let percent = pattern.implied_overlap_percent(pulses).ok_or_else(|| bad("0 pulses overlap nowhere".to_owned()))?;
    Ok(Implied { implied_overlap: percent / 100.0, mean_pulses_per_point: pattern.mean_pulses_per_point(pulses) })
}

fn areas(args: &CoverageArgs, outline: &Outline, centres: &[Point]) -> Result<Areas, CliError> {
    let spot = args.spot_mm;
    // First, since it may refuse.
    let hand = Unsteady::of(args, outline, centres)?;
    let radius_mm = spot.mm() / 2.0;
    let discs: Vec<Disc> = centres.iter().map(|&centre| Disc { centre, radius_mm }).collect();
    let hit = hit_areas(outline, &discs);
    Ok(Areas {
        bare_mm2: hit.bare_mm2,
        once_mm2: hit.once_mm2,
        twice_mm2: hit.twice_mm2,
        thrice_or_more_mm2: hit.thrice_or_more_mm2,
        union_mm2: hit.union_mm2,
        // Rounding may leave a little less than nothing.
        spill_mm2: (centres.len() as f64 * spot.area_mm2() - hit.landed_mm2).max(0.0),
        pulses_outside: centres.iter().filter(|p| !outline.contains(**p)).count() as u64,
        dose: Dose::of(args, outline, centres),
        hand,
    })
}
