//! Shapes on the command line: `rect 40x25`, `ellipse 30x20 at 5,0 turn 30`, `rect 40x25 + stroke 30x5 - ellipse 4x4`.

use super::super::Point;
use super::{Combination, PARTS_MAX, Part, Shape};
use crate::units::Length;
use std::str::FromStr;

/// Why a text is no shape.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct ShapeTextError(String);

fn wrong(why: impl Into<String>) -> ShapeTextError {
    ShapeTextError(why.into())
}

impl FromStr for Shape {
    type Err = ShapeTextError;

    fn from_str(text: &str) -> Result<Self, ShapeTextError> {
        let mut parts = Vec::new();
        let mut words: Vec<&str> = Vec::new();
        let mut hole = false;
        for word in text.split_whitespace().chain(["+"]) {
            if word != "+" && word != "-" {
                words.push(word);
                continue;
            }
            parts.push(part(&words, hole, parts.len() + 1)?);
            if parts.len() > PARTS_MAX {
                return Err(wrong(format!("more than {PARTS_MAX} parts")));
            }
            hole = word == "-";
            words.clear();
        }
        match parts.as_slice() {
            [lone] if lone.at == Point::ORIGIN && lone.turn_degrees.to_bits() << 1 == 0 => Ok(lone.shape.clone()),
            _ => Combination::new(parts).map(Self::Combination).map_err(|e| wrong(e.to_string())),
        }
    }
}

/// One part from its words, such as `rect 40x25 at 10,-5 turn 30`.
fn part(words: &[&str], hole: bool, number: usize) -> Result<Part, ShapeTextError> {
    let Some((kind, rest)) = words.split_first() else {
        return Err(wrong(format!("part {number} is missing: rect 40x25, ellipse 30x20 or stroke 62x9")));
    };
    // What follows each of the words `at` and `turn`, and the sizes before them.
    let mut phrases: Vec<(&str, String)> = vec![("", String::new())];
    for word in rest {
        if *word == "at" || *word == "turn" {
            if phrases.iter().any(|(name, _)| name == word) {
                return Err(wrong(format!("part {number}: '{word}' stands there twice")));
            }
            phrases.push((word, String::new()));
        } else if let Some((_, phrase)) = phrases.last_mut() {
            // A space stays a space: 4 0x25 is not 40x25.
            phrase.push(' ');
            phrase.push_str(word);
        }
    }
    let phrase = |name: &str| phrases.iter().find(|(n, _)| *n == name).map(|(_, p)| p.trim());
    let shape = shape(kind, phrase("").unwrap_or_default(), number)?;
    let at = match phrase("at").map(|at| at.split_once(',')) {
        None => Point::ORIGIN,
        Some(Some((x, y))) => Point::new(number_of(x, "x", number)?, number_of(y, "y", number)?),
        Some(None) => return Err(wrong(format!("at of part {number}: write at 10,-5"))),
    };
    let turn_degrees = match phrase("turn") {
        None => 0.0,
        Some(turn) => number_of(turn.strip_suffix("deg").unwrap_or(turn), "turn", number)?,
    };
    Ok(Part { shape, at, turn_degrees, hole })
}

fn shape(kind: &str, sizes: &str, number: usize) -> Result<Shape, ShapeTextError> {
    let names = match kind {
        "rect" | "rectangle" | "ellipse" => ["width", "height"],
        "stroke" => ["length", "width"],
        _ => return Err(wrong(format!("part {number}: '{kind}' is no shape; one of: rect, ellipse, stroke"))),
    };
    let Some((first, second)) = sizes.split_once(['x', 'X']) else {
        return Err(wrong(format!("part {number}: {} and {} are written like 40x25", names[0], names[1])));
    };
    let [first, second] = [(first, names[0]), (second, names[1])].map(|(size, name)| {
        let mm = number_of(size, name, number)?;
        Length::new(mm).map_err(|e| wrong(format!("{name} of part {number}: {e}")))
    });
    let (first, second) = (first?, second?);
    Ok(match kind {
        "ellipse" => Shape::Ellipse { width: first, height: second },
        "stroke" if first < second => {
            return Err(wrong(format!(
                "length of part {number}: a stroke is at least as long as it is wide, {second}"
            )));
        }
        "stroke" => Shape::Stroke { length: first, width: second },
        _ => Shape::Rectangle { width: first, height: second },
    })
}

fn number_of(text: &str, name: &str, part: usize) -> Result<f64, ShapeTextError> {
    let text = text.trim();
    let bare = text.strip_suffix("mm").unwrap_or(text).trim_end();
    bare.parse()
        .ok()
        .filter(|v: &f64| v.is_finite())
        .ok_or_else(|| wrong(format!("{name} of part {part}: '{text}' is not a number")))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn read(text: &str) -> Shape {
        text.parse().unwrap_or_else(|e| panic!("{text}: {e}"))
    }

    #[test]
    fn shapes_are_read_as_they_are_said() {
        assert_eq!(read("rect 40x25").to_string(), "rectangle 40 mm x 25 mm");
        assert_eq!(read("  ellipse 30 x 20.5 mm ").to_string(), "ellipse 30 mm x 20.5 mm");
        assert_eq!(read("stroke 62mm x 9mm").to_string(), "stroke 62 mm long, 9 mm wide");
        let placed = read("rect 40x25 at 10,-5 turn 30");
        assert!((placed.outline().bounds().centre().x_mm - 10.0).abs() < 1e-9);
        assert!((placed.outline().area_mm2() - 1000.0).abs() < 1e-9);
        let several = read("rect 40x25 + ellipse 30x20 at 20,0 turn 30 - ellipse 5x5 at 3,3");
        assert_eq!(several.to_string(), "combination of 3 parts");
        assert!(several.area_mm2() > 1000.0 && several.area_mm2() < 1300.0);
    }

    #[test]
    fn what_is_wrong_is_said_with_its_part() {
        for (text, said) in [
            ("", "part 1 is missing"),
            ("rect", "part 1: width and height are written like 40x25"),
            ("rect 40", "written like 40x25"),
            ("circle 4x4", "'circle' is no shape"),
            ("rect 0x25", "width of part 1"),
            ("rect NaNx25", "width of part 1: 'NaN' is not a number"),
            ("rect 40xinf", "height of part 1"),
            ("rect -4x25", "width of part 1"),
            ("rect 40x25 + ellipse 3x", "height of part 2"),
            ("rect 40x25 +", "part 2 is missing"),
            ("rect 40x25 at 3", "at of part 1"),
            ("rect 40x25 turn 999", "part 1: turn of 999"),
            ("stroke 4x9", "length of part 1"),
            ("rect 4 0x25", "width of part 1: '4 0' is not a number"),
            ("rect 40mmmmx25", "width of part 1"),
            ("rect 40x25 at 1,2 at 3,4", "'at' stands there twice"),
            ("rect 40x25 at 1 0,5", "x of part 1"),
            ("ellipse 5x5 - rect 9x9", "leave nothing"),
        ] {
            let e = text.parse::<Shape>().unwrap_err().to_string();
            assert!(e.contains(said), "{text}: {e}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn no_text_is_a_trap(text in "(rect|ellipse|stroke|at|turn|\\+|-|[0-9x,. ]|mm|\\PC){0,12}") {
            let _ = text.parse::<Shape>();
        }
    }
}
