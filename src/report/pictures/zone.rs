//! A zone from above: its edge and the even pattern of a planned pass.

use super::Svg;
use crate::coverage::{Arc, Piece, Point};
use crate::plan::Zone;
use crate::report::markup::Markup;
use crate::session::ZoneState;
use crate::units::trimmed;

/// Spots that are drawn at most; a pass of more is told in words and drawn as its edge.
const SPOTS_DRAWN_MAX: usize = 2500;

/// Width of the drawing, in units of the picture.
const WIDTH: f64 = 420.0;
/// Height of the drawing at most.
const HEIGHT_MAX: f64 = 340.0;
/// Room around it, and for the scale below.
const MARGIN: f64 = 12.0;
const SCALE_ROOM: f64 = 26.0;

/// Places along a piece of an edge.
fn along(piece: &Piece) -> Vec<Point> {
    match piece {
        Piece::Line { from, to } => vec![*from, *to],
        Piece::Arc(arc) => round(arc),
    }
}

fn round(arc: &Arc) -> Vec<Point> {
    const STEPS: u32 = 72;
    (0..=STEPS).map(|i| arc.at(arc.start + arc.sweep * f64::from(i) / f64::from(STEPS))).collect()
}

/// A round length for the scale: 1, 2 or 5 times a power of ten, at most a third of the width.
fn scale_mm(width_mm: f64) -> f64 {
    let mut length = 0.1;
    for step in [2.0, 2.5, 2.0].iter().cycle().take(15) {
        if length * step > width_mm / 3.0 {
            break;
        }
        length *= step;
    }
    length
}

/// Draws the zone with the pattern of a pass as planned.
pub fn zone_map(m: &mut Markup, id: &str, plan: &Zone, z: &ZoneState) {
    let pattern = z.pattern_of(plan, plan.setting.spot);
    let bounds = pattern.outline().bounds();
    let radius_mm = plan.setting.spot.mm() / 2.0;
    let (left, top) = (bounds.low.x_mm - radius_mm, bounds.high.y_mm + radius_mm);
    let (width_mm, height_mm) =
        (bounds.high.x_mm - bounds.low.x_mm + 2.0 * radius_mm, bounds.high.y_mm - bounds.low.y_mm + 2.0 * radius_mm);
    let scale = (WIDTH / width_mm).min(HEIGHT_MAX / height_mm);
    let place = |p: &Point| (MARGIN + (p.x_mm - left) * scale, MARGIN + (top - p.y_mm) * scale);
    let size = (WIDTH + 2.0 * MARGIN, height_mm * scale + 2.0 * MARGIN + SCALE_ROOM);
    let spots = pattern.lattice().map(|l| l.spots()).unwrap_or_default();
    let drawn = spots.len() <= SPOTS_DRAWN_MAX;
    let title = format!("Zone {} from above: the planned pattern of one pass", plan.id);
    let missing = if drawn { "" } else { " They are too many to draw: only the edge is shown." };
    let description = format!(
        "{}, {} mm2. {} spots of {} at {} overlap, the pattern as planned. It does not show where pulses fell.{missing}",
        plan.shape,
        trimmed(plan.shape.area_mm2(), 1),
        pattern.pulses(),
        plan.setting.spot,
        plan.overlap,
    );
    Svg::draw(m, id, size, (&title, &description), |svg| {
        for spot in spots.iter().filter(|_| drawn) {
            svg.circle("spot", place(spot), radius_mm * scale);
        }
        for piece in pattern.outline().pieces() {
            svg.path("edge", &along(piece).iter().map(place).collect::<Vec<_>>());
        }
        let (mm, y) = (scale_mm(width_mm), size.1 - 10.0);
        let end = MARGIN + mm * scale;
        svg.line("edge", (MARGIN, y), (end, y));
        svg.line("edge", (MARGIN, y - 4.0), (MARGIN, y + 4.0));
        svg.line("edge", (end, y - 4.0), (end, y + 4.0));
        svg.text("start", (end + 6.0, y + 4.0), &format!("{} mm", trimmed(mm, 1)));
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_scale_is_a_round_length_of_at_most_a_third() {
        for (width, mm) in [(44.0, 10.0), (62.0, 20.0), (160.0, 50.0), (3.5, 1.0), (2004.0, 500.0)] {
            assert!((scale_mm(width) - mm).abs() < 1e-9, "{width}: {}", scale_mm(width));
        }
    }
}
