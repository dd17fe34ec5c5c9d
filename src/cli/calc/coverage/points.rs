//! Files of places on the skin: `x_mm,y_mm` a line.
//!
//! A header line, blank lines and comments from `#` on are left out. In a polygon a blank line between two places
//! begins a further ring.

use crate::coverage::Point;
use crate::coverage::lattice::SPOTS_MAX;
use crate::source::{Problem, Problems, SourceText, read_table};
use crate::text::{fitted, shown};
use std::path::Path;

/// Places further out than this are a mistake of units, mm.
const FURTHEST_MM: f64 = 10_000.0;

/// After so many mistakes the rest of the file is not read.
const MISTAKES: usize = 10;

/// Columns of a line that a message repeats.
const QUOTED: usize = 40;

/// What the places of a file are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// Where pulses landed.
    Pulses,
    /// Corners of a polygon.
    Polygon,
}

impl Kind {
    /// More of them are refused.
    pub(super) const fn most(self) -> usize {
        match self {
            Self::Pulses => SPOTS_MAX,
            Self::Polygon => 100_000,
        }
    }
}

/// Places that follow each other, with the lines they stand in.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Run {
    pub(super) places: Vec<Point>,
    pub(super) lines: Vec<usize>,
}

/// Reads a file. Pulses make one run, a polygon one for each ring.
///
/// # Errors
/// The first mistakes of the file, each with its line and what stood there.
pub(super) fn load(path: &Path, kind: Kind) -> Result<Vec<Run>, Problems> {
    read(&read_table(path)?, kind)
}

fn read(source: &SourceText, kind: Kind) -> Result<Vec<Run>, Problems> {
    let mut runs: Vec<Run> = Vec::new();
    let mut mistakes = Vec::new();
    let (mut first, mut gap, mut count) = (true, true, 0);
    for (number, line) in source.text().lines().enumerate().map(|(i, line)| (i + 1, line)) {
        let told = line.split('#').next().unwrap_or_default().trim();
        if told.is_empty() {
            // A comment is no gap.
            gap |= line.trim().is_empty();
            continue;
        }
        let header = std::mem::take(&mut first) && is_header(told);
        if header {
            continue;
        }
        let place = match place(told) {
            Ok(place) => place,
            Err(why) => {
                mistakes.push(Problem::at(source.name(), number, 1, "", &why));
                if mistakes.len() < MISTAKES {
                    continue;
                }
                break;
            }
        };
        count += 1;
        if count > kind.most() {
            let what = match kind {
                Kind::Pulses => "at most 1000000 pulses are reckoned",
                Kind::Polygon => "a polygon has at most 100000",
            };
            mistakes.push(Problem::at(source.name(), number, 1, "", &format!("this is place {count}; {what}")));
            break;
        }
        if runs.is_empty() || (gap && kind == Kind::Polygon) {
            runs.push(Run::default());
        }
        gap = false;
        if let Some(run) = runs.last_mut() {
            run.places.push(place);
            run.lines.push(number);
        }
    }
    if runs.is_empty() && mistakes.is_empty() {
        let told = "no place stands in it; write one a line as x_mm,y_mm, such as 12.5,-3";
        mistakes.push(Problem::of_file(source.name(), told));
    }
    Problems::of(mistakes).map_or(Ok(runs), Err)
}

fn fields(line: &str) -> Option<[&str; 2]> {
    let (x, y) = line.split_once(',')?;
    Some([x.trim(), y.trim()])
}

fn is_header(line: &str) -> bool {
    fields(line).is_some_and(|[x, y]| {
        let named = |a: &str, b: &str| x.eq_ignore_ascii_case(a) && y.eq_ignore_ascii_case(b);
        named("x_mm", "y_mm") || named("x", "y")
    })
}

fn place(line: &str) -> Result<Point, String> {
    let given = || fitted(&shown(line), QUOTED);
    let unread = || format!("'{}' is no place; write x_mm,y_mm, such as 12.5,-3", given());
    let [x, y] = fields(line).ok_or_else(unread)?.map(|field| field.parse::<f64>().map_err(|_| unread()));
    let place = Point::new(x?, y?);
    // What is not a number is in no range.
    let near = |v: f64| (-FURTHEST_MM..=FURTHEST_MM).contains(&v);
    if near(place.x_mm) && near(place.y_mm) {
        Ok(place)
    } else {
        Err(format!("'{}' lies outside -{FURTHEST_MM} to {FURTHEST_MM} mm", given()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn of(text: &str, kind: Kind) -> Result<Vec<Run>, String> {
        read(&SourceText::new("f.csv", text), kind).map_err(|p| p.explained())
    }

    #[test]
    fn header_comments_spaces_and_line_ends_do_not_matter() {
        let plain = of("1,2\n-3.5,4e1\n", Kind::Pulses).unwrap();
        assert_eq!(plain[0].places, [Point::new(1.0, 2.0), Point::new(-3.5, 40.0)]);
        for text in ["X_mm, Y_mm\r\n 1 , 2\r\n\r\n-3.5,40", "# made by hand\n\nx,y\n1,2 # first\n#,\n-3.5,40\n\n"] {
            assert_eq!(of(text, Kind::Pulses).unwrap()[0].places, plain[0].places, "{text:?}");
        }
    }

    #[test]
    fn a_blank_line_begins_a_ring_and_a_comment_does_not() {
        let runs = of("\n\n0,0\n9,0\n# far corner\n9,9\n \n\n1,1\n2,1\n2,2\n\n", Kind::Polygon).unwrap();
        assert_eq!(runs.iter().map(|r| r.places.len()).collect::<Vec<_>>(), [3, 3]);
        assert_eq!(runs[1].lines, [9, 10, 11]);
    }

    #[test]
    fn every_mistake_is_told_with_its_line_until_there_are_many() {
        let told = of("x_mm,y_mm\n1,2\n1;2\nx_mm,y_mm\n1,2,3\n1,\nnan,0\n1,inf\n1e5,0\n", Kind::Pulses).unwrap_err();
        for wanted in ["f.csv:3:1: '1;2' is no place", "f.csv:4:1:", "f.csv:5:1: '1,2,3'", "f.csv:6:1:"] {
            assert!(told.contains(wanted), "{wanted}: {told}");
        }
        for wanted in ["f.csv:7:1: 'nan,0' lies outside", "f.csv:8:1:", "f.csv:9:1:"] {
            assert!(told.contains(wanted), "{wanted}: {told}");
        }
        assert!(of("x_cm,y_cm\n1,2\n", Kind::Pulses).unwrap_err().contains("'x_cm,y_cm' is no place"));
        assert_eq!(of(&"a,b\n".repeat(1000), Kind::Pulses).unwrap_err().lines().count(), MISTAKES);
        assert!(of("# nothing\n\nx,y\n", Kind::Pulses).unwrap_err().contains("no place stands in it"));
    }

    #[test]
    fn too_many_places_are_refused_at_the_first_too_many() {
        let told = of(&"0,0\n".repeat(100_007), Kind::Polygon).unwrap_err();
        assert!(told.contains("f.csv:100001:1: this is place 100001; a polygon has at most 100000"), "{told}");
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn no_text_panics_and_what_is_read_is_finite(text in "([-0-9e.,#x\\n \\r]|\\PC){0,80}") {
            if let Ok(runs) = of(&text, Kind::Polygon) {
                prop_assert!(runs.iter().all(|r| !r.places.is_empty() && r.places.iter().all(|p| p.is_finite())));
            }
        }
    }
}
