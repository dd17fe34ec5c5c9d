//! The outline of a zone from its table.

use crate::coverage::{Combination, Part, Point, Polygon, Ring, Shape, ShapeError};
use crate::source::{Table, Value};
use crate::units::Length;
use crate::words::words;
use std::str::FromStr;

/// Points of a polygon in a plan at most, those of its holes too: a plan is read by people.
const POINTS_MAX: usize = 2000;

words! {
    /// Kinds of outline.
    ShapeKind, "shape" {
        /// Two sides.
        Rectangle = "rectangle",
        /// Two full axes.
        Ellipse = "ellipse",
        /// A line with a length and a width.
        Stroke = "stroke",
        /// Corners, with holes.
        Polygon = "polygon",
        /// Shapes put together and taken away.
        Combination = "combination",
    }
}

/// Reads the outline of a zone.
pub(super) fn shape(t: &mut Table<'_>) -> Option<Shape> {
    match t.word("kind") {
        Some(ShapeKind::Polygon) => polygon(t),
        Some(ShapeKind::Combination) => {
            let parts = t.tables("parts", 1..=64, part)?;
            let combined = Combination::new(parts);
            combined.map(Shape::Combination).map_err(|e| t.problem("parts", &e.to_string())).ok()
        }
        kind => sides(t, kind),
    }
}

fn sides(t: &mut Table<'_>, kind: Option<ShapeKind>) -> Option<Shape> {
    let width = t.required("width");
    let other = match kind {
        Some(ShapeKind::Stroke) => t.required("length"),
        Some(_) => t.required("height"),
        // Either name may be right.
        None => t.optional("length").or(t.optional("height")),
    };
    let (kind, width, other): (_, Length, Length) = (kind?, width?, other?);
    if kind == ShapeKind::Stroke && other < width {
        t.problem(
            "length",
            &format!("a stroke of {width} width is at least as long, round ends included; here {other}"),
        );
    }
    Some(match kind {
        ShapeKind::Ellipse => Shape::Ellipse { width, height: other },
        ShapeKind::Stroke => Shape::Stroke { length: other, width },
        _ => Shape::Rectangle { width, height: other },
    })
}

/// A ring as it was read: its points and where each stands.
type Read<'a> = Vec<(Point, Value<'a>)>;

fn polygon(t: &mut Table<'_>) -> Option<Shape> {
    let outline = t.value("outline_mm", "[[0, 0], [40, 0], [40, 25]]").and_then(|v| ring(&v));
    let holes = match t.optional_value("holes_mm") {
        Some(holes) => holes.list(0..=64, |v| ring(&v)),
        None => Some(Vec::new()),
    };
    let (outline, holes) = (outline?, holes?);
    let points = |ring: &Read<'_>| ring.iter().map(|(p, _)| *p).collect::<Vec<_>>();
    let all = outline.len() + holes.iter().map(Vec::len).sum::<usize>();
    if all > POINTS_MAX {
        t.problem("outline_mm", &format!("{all} points with those of the holes; a plan takes up to {POINTS_MAX}"));
        return None;
    }
    match Polygon::new(points(&outline), holes.iter().map(points).collect()) {
        Ok(polygon) => Some(Shape::Polygon(polygon)),
        Err(e) => {
            complain(t, &e, &outline, &holes);
            None
        }
    }
}

/// Takes a mistake down at the point where it lies.
fn complain(t: &Table<'_>, e: &ShapeError, outline: &Read<'_>, holes: &[Read<'_>]) {
    let place = e.point().and_then(|(ring, point)| {
        let ring = match ring {
            Ring::Outline => Some(outline),
            Ring::Hole(n) => holes.get(n.saturating_sub(1)),
        };
        ring?.get(point.saturating_sub(1))
    });
    match place {
        Some((_, value)) => value.problem(&e.to_string()),
        None => t.problem("outline_mm", &e.to_string()),
    }
}

fn ring<'a>(value: &Value<'a>) -> Option<Read<'a>> {
    value.list(3..=POINTS_MAX, |v| Some((point(&v)?, v)))
}

fn point(value: &Value<'_>) -> Option<Point> {
    match value.list(2..=2, |v| v.number())?.as_slice() {
        &[x, y] => Some(Point::new(x, y)),
        _ => None,
    }
}

/// A turn such as `30 deg`.
struct Turn(f64);

const TURN_EXAMPLE: &str = "\"30 deg\"";

impl FromStr for Turn {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        let number = text.strip_suffix("deg").map(str::trim).and_then(|n| n.parse::<f64>().ok());
        number.filter(|n| n.is_finite()).map(Self).ok_or_else(|| format!("write a turn like {TURN_EXAMPLE}"))
    }
}

fn part(t: &mut Table<'_>) -> Option<Part> {
    let shape = match t.word("kind") {
        Some(ShapeKind::Combination) => {
            t.problem("kind", "a part is no combination itself; list its parts here instead");
            None
        }
        Some(ShapeKind::Polygon) => polygon(t),
        kind => sides(t, kind),
    };
    let at = match t.optional_value("at_mm") {
        Some(value) => point(&value),
        None => Some(Point::ORIGIN),
    };
    let turn = match t.optional_value("turn") {
        Some(value) => value.name::<Turn>(TURN_EXAMPLE).map(|t| t.0),
        None => Some(0.0),
    };
    let hole = t.optional_boolean("hole", false);
    Some(Part { shape: shape?, at: at?, turn_degrees: turn?, hole: hole? })
}
