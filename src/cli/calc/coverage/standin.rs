//! Shapes and polygons until `crate::coverage` reads them itself.

use crate::coverage::{Outline, Point};
use crate::units::Length;

pub(super) fn shape(text: &str) -> Result<Outline, String> {
    let told = format!("'{text}' is no shape; write it like 'rect 40x25', 'ellipse 30x20' or 'stroke 62x9'");
    let (word, sides) = text.trim().split_once(' ').ok_or_else(|| told.clone())?;
    let (a, b) = sides.split_once('x').ok_or_else(|| told.clone())?;
    let mm = |side: &str| {
        let number: f64 = side.trim().parse().map_err(|_| told.clone())?;
        Length::new(number).map(Length::mm).map_err(|e| e.to_string())
    };
    let (a, b) = (mm(a)?, mm(b)?);
    match word {
        "rect" => Ok(Outline::rectangle(a, b)),
        "ellipse" => Ok(Outline::ellipse(a, b)),
        "stroke" => Ok(Outline::stroke(a, b)),
        _ => Err(told),
    }
}

pub(super) fn polygon(rings: &[Vec<Point>]) -> Result<Outline, String> {
    let turned: Vec<Vec<Point>> = rings
        .iter()
        .enumerate()
        .map(|(i, ring)| {
            let mut ring = ring.clone();
            if ring.first() == ring.last() {
                ring.pop();
            }
            let next = ring.iter().skip(1).chain(ring.first());
            let twice: f64 = ring.iter().zip(next).map(|(p, q)| p.x_mm * q.y_mm - q.x_mm * p.y_mm).sum();
            if (twice > 0.0) != (i == 0) {
                ring.reverse();
            }
            ring
        })
        .collect();
    let outline = Outline::rings(&turned);
    if turned.iter().all(|ring| ring.len() >= 3) && outline.area_mm2() > 0.0 {
        return Ok(outline);
    }
    Err("a ring needs three corners or more, and the polygon an area".to_owned())
}
