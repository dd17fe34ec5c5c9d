//! Colours as a theme names them, and what is left of them on a terminal that shows fewer.

use crate::source::nearest;
use ratatui::style::Color;
use std::str::FromStr;

/// How many colours the terminal shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Depth {
    /// Any colour.
    True,
    /// The 256 indexed colours.
    Indexed,
    /// The 16 standard colours, whose shades the terminal's user chooses.
    Sixteen,
    /// None, or the user wants none.
    None,
}

impl Depth {
    /// What the environment says, from the values of `NO_COLOR`, `COLORTERM` and `TERM`.
    ///
    /// `NO_COLOR` counts when it is set to anything but nothing, as its convention (no-color.org) has it.
    #[must_use]
    pub fn detect(no_color: Option<&str>, colorterm: Option<&str>, term: Option<&str>) -> Self {
        if no_color.is_some_and(|value| !value.is_empty()) {
            return Self::None;
        }
        if matches!(colorterm, Some("truecolor" | "24bit")) {
            return Self::True;
        }
        let term = term.unwrap_or_default();
        if term.ends_with("-direct") {
            Self::True
        } else if term.contains("256color") {
            Self::Indexed
        } else if matches!(term, "dumb" | "vt52" | "vt100" | "vt102" | "vt220") || term.ends_with("-mono") {
            Self::None
        } else {
            Self::Sixteen
        }
    }
}

/// A colour as a theme names it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Colour {
    /// The terminal's own foreground or background.
    #[default]
    Default,
    /// One of the 16 standard colours, 0 to 15.
    Standard(u8),
    /// One of the 256 indexed colours.
    Indexed(u8),
    /// Red, green and blue, sRGB.
    Rgb(u8, u8, u8),
}

/// The 16 standard colours by name, in the terminal's order.
const NAMES: [&str; 16] = [
    "black",
    "red",
    "green",
    "yellow",
    "blue",
    "magenta",
    "cyan",
    "white",
    "bright-black",
    "bright-red",
    "bright-green",
    "bright-yellow",
    "bright-blue",
    "bright-magenta",
    "bright-cyan",
    "bright-white",
];

const STANDARD: [Color; 16] = [
    Color::Black,
    Color::Red,
    Color::Green,
    Color::Yellow,
    Color::Blue,
    Color::Magenta,
    Color::Cyan,
    Color::Gray,
    Color::DarkGray,
    Color::LightRed,
    Color::LightGreen,
    Color::LightYellow,
    Color::LightBlue,
    Color::LightMagenta,
    Color::LightCyan,
    Color::White,
];

/// The shades that xterm gives the 16 standard colours unless told otherwise (its XTerm-col defaults, from memory).
const SHADES: [[u8; 3]; 16] = [
    [0, 0, 0],
    [205, 0, 0],
    [0, 205, 0],
    [205, 205, 0],
    [0, 0, 238],
    [205, 0, 205],
    [0, 205, 205],
    [229, 229, 229],
    [127, 127, 127],
    [255, 0, 0],
    [0, 255, 0],
    [255, 255, 0],
    [92, 92, 255],
    [255, 0, 255],
    [0, 255, 255],
    [255, 255, 255],
];

/// The six levels of each primary in the cube of the 256 colours.
const CUBE: [u8; 6] = [0, 95, 135, 175, 215, 255];

/// A text that names no colour.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "'{given}' is not a colour;{near} write \"#rrggbb\", one of the 16 colour names, a number from 0 to 255, or \"default\""
)]
pub struct NotAColour {
    given: String,
    near: String,
}

impl FromStr for Colour {
    type Err = NotAColour;
    /// Reads `#rrggbb`, a standard name, the number of an indexed colour, or `default`.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let refused = || NotAColour {
            given: text.to_owned(),
            near: nearest(text, &NAMES).map(|near| format!(" did you mean '{near}'?")).unwrap_or_default(),
        };
        if text == "default" {
            return Ok(Self::Default);
        }
        if let Some(n) = NAMES.iter().position(|name| *name == text) {
            return u8::try_from(n).map(Self::Standard).map_err(|_| refused());
        }
        if let Ok(index) = text.parse() {
            return Ok(Self::Indexed(index));
        }
        let digits = text.strip_prefix('#').filter(|digits| digits.len() == 6).ok_or_else(refused)?;
        let part = |at: usize| {
            let pair = digits.get(at..at + 2).filter(|pair| pair.bytes().all(|b| b.is_ascii_hexdigit()));
            pair.and_then(|pair| u8::from_str_radix(pair, 16).ok()).ok_or_else(refused)
        };
        Ok(Self::Rgb(part(0)?, part(2)?, part(4)?))
    }
}

impl Colour {
    /// Its shade in sRGB; none where the terminal's user chooses it: the terminal's own colours and the 16 standard ones.
    #[must_use]
    pub fn known(self) -> Option<[u8; 3]> {
        match self {
            Self::Rgb(r, g, b) => Some([r, g, b]),
            Self::Indexed(n) if n >= 16 => Some(shade(n)),
            Self::Default | Self::Standard(_) | Self::Indexed(_) => None,
        }
    }

    /// Its shade at this depth, with those that xterm gives the 16 standard colours where its user names no others; none
    /// for the terminal's own colours and where there is no colour.
    #[must_use]
    pub fn xterm_shade(self, depth: Depth) -> Option<[u8; 3]> {
        let standard = |n: u8| SHADES.get(usize::from(n)).copied();
        match self.shown(depth) {
            Color::Reset => None,
            Color::Rgb(r, g, b) => Some([r, g, b]),
            Color::Indexed(n) => Some(shade(n)),
            named => STANDARD.iter().position(|c| *c == named).and_then(|n| standard(u8::try_from(n).ok()?)),
        }
    }

    /// What the terminal is sent at this depth.
    #[must_use]
    pub fn shown(self, depth: Depth) -> Color {
        match (self, depth) {
            (_, Depth::None) | (Self::Default, _) => Color::Reset,
            (Self::Standard(n), _) => standard(n),
            (Self::Indexed(n), Depth::True | Depth::Indexed) => Color::Indexed(n),
            (Self::Indexed(n), Depth::Sixteen) if n < 16 => standard(n),
            (Self::Indexed(n), Depth::Sixteen) => nearest_standard(shade(n)),
            (Self::Rgb(r, g, b), Depth::True) => Color::Rgb(r, g, b),
            (Self::Rgb(r, g, b), Depth::Indexed) => Color::Indexed(nearest_indexed([r, g, b])),
            (Self::Rgb(r, g, b), Depth::Sixteen) => nearest_standard([r, g, b]),
        }
    }
}

fn standard(n: u8) -> Color {
    STANDARD.get(usize::from(n)).copied().unwrap_or(Color::Reset)
}

/// The shade of an indexed colour: 16 standard ones, a cube of 6 by 6 by 6, 24 greys.
fn shade(n: u8) -> [u8; 3] {
    let level = |i: u8| CUBE.get(usize::from(i)).copied().unwrap_or(0);
    match n {
        0..=15 => SHADES.get(usize::from(n)).copied().unwrap_or([0; 3]),
        16..=231 => {
            let n = n - 16;
            [level(n / 36), level(n / 6 % 6), level(n % 6)]
        }
        232..=255 => [8 + 10 * (n - 232); 3],
    }
}

fn nearest_indexed(wanted: [u8; 3]) -> u8 {
    // The first 16 are the user's own shades: who knows what they look like.
    (16..=u8::MAX).min_by_key(|n| distance(shade(*n), wanted)).unwrap_or(15)
}

fn nearest_standard(wanted: [u8; 3]) -> Color {
    SHADES
        .iter()
        .zip(STANDARD)
        .min_by_key(|(shade, _)| distance(**shade, wanted))
        .map_or(Color::Reset, |(_, colour)| colour)
}

/// Squared distance, green weighing most and blue least, as the eye does (Rec. 601 luma weights, common practice).
fn distance(a: [u8; 3], b: [u8; 3]) -> u32 {
    a.into_iter().zip(b).zip([299, 587, 114]).map(|((a, b), weight)| u32::from(a.abs_diff(b)).pow(2) * weight).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_environment_tells_the_depth() {
        for (no_color, colorterm, term, depth) in [
            (Some("1"), Some("truecolor"), Some("xterm-256color"), Depth::None),
            (Some(""), Some("truecolor"), Some("xterm-256color"), Depth::True),
            (None, Some("24bit"), Some("xterm"), Depth::True),
            (None, None, Some("xterm-direct"), Depth::True),
            (None, None, Some("xterm-256color"), Depth::Indexed),
            (None, Some("yes"), Some("tmux-256color"), Depth::Indexed),
            (None, None, Some("linux"), Depth::Sixteen),
            (None, None, Some("screen"), Depth::Sixteen),
            (None, None, None, Depth::Sixteen),
            (None, None, Some("vt100"), Depth::None),
            (None, None, Some("xterm-mono"), Depth::None),
        ] {
            assert_eq!(Depth::detect(no_color, colorterm, term), depth, "{no_color:?} {colorterm:?} {term:?}");
        }
    }

    #[test]
    fn colours_are_read_by_name_or_by_their_six_digits() {
        assert_eq!("default".parse(), Ok(Colour::Default));
        assert_eq!("white".parse(), Ok(Colour::Standard(7)));
        assert_eq!("bright-white".parse(), Ok(Colour::Standard(15)));
        assert_eq!("#0aF9ff".parse(), Ok(Colour::Rgb(0x0a, 0xf9, 0xff)));
        for text in ["", "#12345", "#1234567", "#+12345", "#12é45", "rot", "#gg0000"] {
            assert!(text.parse::<Colour>().is_err(), "{text}");
        }
    }

    #[test]
    fn fewer_colours_give_the_nearest() {
        assert_eq!(Colour::Rgb(255, 0, 0).shown(Depth::Indexed), Color::Indexed(196));
        assert_eq!(Colour::Rgb(8, 8, 8).shown(Depth::Indexed), Color::Indexed(232));
        assert_eq!(Colour::Rgb(250, 10, 10).shown(Depth::Sixteen), Color::LightRed);
        assert_eq!(Colour::Indexed(21).shown(Depth::Sixteen), Color::Blue);
        assert_eq!(Colour::Indexed(9).shown(Depth::Sixteen), Color::LightRed);
        assert_eq!(Colour::Standard(7).shown(Depth::True), Color::Gray);
        for colour in [Colour::Rgb(1, 2, 3), Colour::Indexed(5), Colour::Standard(3)] {
            assert_eq!(colour.shown(Depth::None), Color::Reset);
        }
    }

    #[test]
    fn shades_of_fewer_colours_are_xterm_s() {
        assert_eq!(Colour::Standard(1).xterm_shade(Depth::Sixteen), Some([205, 0, 0]));
        assert_eq!(Colour::Standard(15).xterm_shade(Depth::Indexed), Some([255; 3]));
        assert_eq!(Colour::Rgb(250, 10, 10).xterm_shade(Depth::Sixteen), Some([255, 0, 0]));
        assert_eq!(Colour::Rgb(8, 8, 8).xterm_shade(Depth::Indexed), Some([8; 3]));
        assert_eq!(Colour::Default.xterm_shade(Depth::Sixteen), None);
        assert_eq!(Colour::Standard(1).xterm_shade(Depth::None), None);
    }

    #[test]
    fn only_shades_that_no_user_chooses_are_known() {
        assert_eq!(Colour::Rgb(1, 2, 3).known(), Some([1, 2, 3]));
        assert_eq!(Colour::Indexed(214).known(), Some([255, 175, 0]));
        assert_eq!(Colour::Indexed(232).known(), Some([8; 3]));
        for colour in [Colour::Default, Colour::Standard(7), Colour::Indexed(15)] {
            assert_eq!(colour.known(), None);
        }
    }

    #[test]
    fn every_cube_and_grey_colour_is_its_own_nearest() {
        for n in 16..=u8::MAX {
            assert_eq!(shade(nearest_indexed(shade(n))), shade(n), "{n}");
        }
    }
}
