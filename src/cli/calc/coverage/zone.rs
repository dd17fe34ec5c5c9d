//! The zone that is asked about.

use super::points::{self, Kind};
use super::{CoverageArgs, standin};
use crate::cli::output::CliError;
use crate::coverage::Outline;

/// Reads the zone's outline.
pub(super) fn outline(args: &CoverageArgs) -> Result<Outline, CliError> {
    if let Some(shape) = &args.shape {
        return Ok(shape.clone());
    }
    let Some(path) = &args.polygon else {
        return Err(CliError::Bad("the zone is missing: give --shape or --polygon".to_owned()));
    };
    let rings: Vec<_> = points::load(path, Kind::Polygon)?.into_iter().map(|run| run.places).collect();
    standin::polygon(&rings).map_err(|why| CliError::Bad(format!("{}: {why}", path.display())))
}
