//! The zone that is asked about.

use super::CoverageArgs;
use super::points::{self, Kind};
use crate::cli::output::CliError;
use crate::coverage::{Outline, Polygon, Ring};
use crate::text::shown;

/// Reads the zone's outline.
pub(super) fn outline(args: &CoverageArgs) -> Result<Outline, CliError> {
    if let Some(shape) = &args.shape {
        return Ok(shape.outline());
    }
    let Some(path) = &args.polygon else {
        return Err(CliError::Bad("the zone is missing: give --shape or --polygon".to_owned()));
    };
    let runs = points::load(path, Kind::Polygon)?;
    let mut rings = runs.iter().map(|run| run.places.clone());
    let polygon = Polygon::new(rings.next().unwrap_or_default(), rings.collect());
    polygon.map(|p| p.outline()).map_err(|e| {
        let line = e.point().and_then(|(ring, point)| {
            let run = runs.get(match ring {
                Ring::Outline => 0,
                Ring::Hole(n) => n,
            })?;
            run.lines.get(point.saturating_sub(1))
        });
        let line = line.map(|n| format!(":{n}")).unwrap_or_default();
        CliError::Bad(format!("--polygon: {}{line}: {e}", shown(&path.display().to_string())))
    })
}
