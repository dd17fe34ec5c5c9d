//! Reads a marking: ranges and what is marked for them, in either order.

use super::lexer::{Token, cut, tokens};
use super::{Band, EXAMPLES, Marking, MarkingError, ScaleMark};
use crate::physics::hazard::Mode;

/// Wavelengths that may stand in a marking, in nm: ultraviolet to far infrared.
const NM: std::ops::RangeInclusive<f64> = 100.0..=1e6;
/// Largest optical density that may stand in a marking.
const OD_MAX: f64 = 20.0;

fn wrong(what: impl Into<String>) -> MarkingError {
    MarkingError { what: what.into(), expected: EXAMPLES }
}

/// One thing that is marked for a range.
enum Rating {
    Density(f64),
    Scale(Vec<Mode>, u32, bool),
    Alignment(u32),
}

/// The entry that is being read.
#[derive(Default)]
struct Entry {
    range: Option<(f64, f64)>,
    ratings: Vec<Rating>,
    /// Mode letters that wait for their number.
    modes: Option<Vec<Mode>>,
    /// A `+` that waits for what it joins.
    joins: bool,
}

impl Entry {
    fn is_empty(&self) -> bool {
        self.range.is_none() && self.ratings.is_empty() && self.modes.is_none() && !self.joins
    }

    /// True when another word would stand between things that belong together.
    fn is_open(&self) -> bool {
        self.modes.is_some() || self.joins || self.range.is_some() == self.ratings.is_empty()
    }

    /// The band, once range and ratings are there.
    fn close(self) -> Result<Option<Band>, MarkingError> {
        if self.is_empty() {
            return Ok(None);
        }
        if self.joins {
            return Err(wrong("nothing follows a '+'"));
        }
        if let Some(modes) = self.modes {
            return Err(wrong(format!("the mode letters {} have no LB number", letters(&modes))));
        }
        let Some((from_nm, to_nm)) = self.range else {
            return Err(wrong(format!(
                "{} stands without its wavelengths",
                self.ratings.first().map_or_else(String::new, named)
            )));
        };
        let mut band = Band { from_nm, to_nm, optical_density: None, scale: Vec::new(), alignment: None };
        if self.ratings.is_empty() {
            return Err(wrong(format!("{} nm stands without an OD or LB number", band.range())));
        }
        for rating in self.ratings {
            match rating {
                Rating::Density(od) => {
                    if band.optical_density.replace(od).is_some() {
                        return Err(wrong(format!("{} nm has two OD numbers", band.range())));
                    }
                }
                Rating::Alignment(number) => {
                    if band.alignment.replace(number).is_some() {
                        return Err(wrong(format!("{} nm has two RB numbers", band.range())));
                    }
                }
                Rating::Scale(modes, number, not_at_low_rate) => {
                    for mode in modes {
                        if band.scale.iter().any(|mark| mark.mode == mode) {
                            return Err(wrong(format!("{} nm has two numbers for mode {mode}", band.range())));
                        }
                        band.scale.push(ScaleMark { mode, number, not_at_low_rate });
                    }
                }
            }
        }
        Ok(Some(band))
    }
}

fn letters(modes: &[Mode]) -> String {
    modes.iter().map(ToString::to_string).collect()
}

fn named(rating: &Rating) -> String {
    match rating {
        Rating::Density(od) => format!("OD {od}"),
        Rating::Scale(modes, number, _) => format!("{} LB{number}", letters(modes)),
        Rating::Alignment(number) => format!("RB{number}"),
    }
}

/// `DIR` is the modes D, I and R; anything but distinct mode letters is none.
fn modes(word: &str) -> Option<Vec<Mode>> {
    let mut found = Vec::new();
    for c in word.chars() {
        let mode = match c {
            'D' => Mode::D,
            'I' => Mode::I,
            'R' => Mode::R,
            'M' => Mode::M,
            _ => return None,
        };
        if found.contains(&mode) {
            return None;
        }
        found.push(mode);
    }
    Some(found)
}

struct Reader {
    tokens: std::iter::Peekable<std::vec::IntoIter<Token>>,
    entry: Entry,
    marking: Marking,
}

pub(super) fn read(text: &str) -> Result<Marking, MarkingError> {
    let marking = Marking { bands: Vec::new(), vlt_percent: None, resistance_category: None, ignored: Vec::new() };
    let mut reader = Reader { tokens: tokens(text)?.into_iter().peekable(), entry: Entry::default(), marking };
    while let Some(token) = reader.tokens.next() {
        match token {
            Token::Number { value, .. } => reader.number(value)?,
            Token::Word { text, .. } => reader.word(&text)?,
            Token::Plus
                if reader.entry.ratings.iter().any(|r| matches!(r, Rating::Scale(..))) && !reader.entry.joins =>
            {
                reader.entry.joins = true;
            }
            Token::Plus => return Err(wrong("a '+' joins nothing here")),
            Token::Dash => return Err(wrong("a dash stands outside a range of wavelengths")),
            Token::Percent => return Err(wrong("a '%' stands without VLT")),
            Token::Separator => reader.close()?,
        }
    }
    reader.close()?;
    if reader.marking.bands.is_empty() {
        return Err(wrong("no wavelength with an OD or LB number"));
    }
    Ok(reader.marking)
}

impl Reader {
    fn close(&mut self) -> Result<(), MarkingError> {
        let band = std::mem::take(&mut self.entry).close()?;
        self.marking.bands.extend(band);
        Ok(())
    }

    fn next_number(&mut self) -> Option<f64> {
        match self.tokens.peek() {
            Some(Token::Number { value, .. }) => {
                let value = *value;
                self.tokens.next();
                Some(value)
            }
            _ => None,
        }
    }

    fn skip_word(&mut self, word: &str) -> bool {
        let there = matches!(self.tokens.peek(), Some(Token::Word { text, .. }) if text == word);
        if there {
            self.tokens.next();
        }
        there
    }

    /// A number that begins an entry's wavelengths, or a percentage before its VLT.
    fn number(&mut self, first: f64) -> Result<(), MarkingError> {
        if self.tokens.peek() == Some(&Token::Percent) {
            self.tokens.next();
            if !self.skip_word("VLT") {
                return Err(wrong(format!("{first} % stands without VLT")));
            }
            return self.vlt(first);
        }
        self.skip_word("NM");
        let mut last = first;
        let dash = self.tokens.peek() == Some(&Token::Dash);
        if dash {
            self.tokens.next();
        }
        if dash || self.skip_word("TO") {
            last = self.next_number().ok_or_else(|| wrong(format!("the range from {first} nm has no end")))?;
            self.skip_word("NM");
        }
        if !NM.contains(&first) || !NM.contains(&last) {
            let odd = if NM.contains(&first) { last } else { first };
            return Err(wrong(format!("{odd} is no wavelength in nm")));
        }
        if last < first {
            return Err(wrong(format!("the range {first}-{last} nm runs backwards")));
        }
        if self.entry.joins {
            return Err(wrong("a '+' joins modes and their LB numbers, not ranges"));
        }
        match (self.entry.range.is_some(), self.entry.ratings.is_empty()) {
            // `IR 315-532 LB6`: the letters stay with the range that follows them.
            (true, false) => {
                let ahead = self.entry.modes.take();
                self.close()?;
                self.entry.modes = ahead;
                self.entry.range = Some((first, last));
            }
            (true, true) => {
                return Err(wrong(format!(
                    "two ranges follow each other, the second from {first} nm; mark each of them"
                )));
            }
            (false, true) => self.entry.range = Some((first, last)),
            // `OD 7+ @ 190-534`: what follows belongs to the next entry.
            (false, false) => {
                self.entry.range = Some((first, last));
                self.close()?;
            }
        }
        Ok(())
    }

    fn vlt(&mut self, percent: f64) -> Result<(), MarkingError> {
        if percent > 100.0 {
            return Err(wrong(format!("VLT {percent} % is above 100 %")));
        }
        self.once_closed("VLT")?;
        if self.marking.vlt_percent.replace(percent).is_some() {
            return Err(wrong("VLT stands there twice"));
        }
        Ok(())
    }

    /// What stands for itself may follow an entry, not interrupt it.
    fn once_closed(&mut self, what: &str) -> Result<(), MarkingError> {
        if self.entry.is_open() {
            return Err(wrong(format!("'{}' parts a range from its OD or LB", cut(what))));
        }
        self.close()
    }

    fn rate(&mut self, rating: Rating) -> Result<(), MarkingError> {
        if self.entry.modes.is_some() {
            return Err(wrong(format!("mode letters stand before {}, which takes none", named(&rating))));
        }
        self.entry.joins = false;
        self.entry.ratings.push(rating);
        Ok(())
    }

    fn word(&mut self, word: &str) -> Result<(), MarkingError> {
        match word {
            "OD" => self.density(),
            "LB" | "L" => self.scale(),
            "RB" => {
                let number = self.whole("RB", 5)?;
                self.rate(Rating::Alignment(number))
            }
            "VLT" => {
                let percent = self.next_number().ok_or_else(|| wrong("VLT has no percentage"))?;
                if self.tokens.peek() == Some(&Token::Percent) {
                    self.tokens.next();
                }
                self.vlt(percent)
            }
            "RC" => {
                self.once_closed("RC")?;
                let number = self.next_number().ok_or_else(|| wrong("RC has no number"))?;
                self.marking.resistance_category = Some(number.to_string());
                Ok(())
            }
            word => match modes(word) {
                Some(modes) => self.mode_letters(modes),
                None => self.other(word),
            },
        }
    }

    fn mode_letters(&mut self, modes: Vec<Mode>) -> Result<(), MarkingError> {
        if self.entry.modes.is_some() {
            return Err(wrong(format!("the mode letters {} follow others that have no LB number", letters(&modes))));
        }
        self.entry.joins = false;
        self.entry.modes = Some(modes);
        Ok(())
    }

    fn density(&mut self) -> Result<(), MarkingError> {
        let od = self.next_number().ok_or_else(|| wrong("OD has no number"))?;
        if !(od > 0.0 && od <= OD_MAX) {
            return Err(wrong(format!("OD {od} is not above 0 and at most {OD_MAX}")));
        }
        self.rate(Rating::Density(od))?;
        if self.tokens.peek() == Some(&Token::Plus) {
            // "7+": at least 7.
            self.tokens.next();
        }
        Ok(())
    }

    fn scale(&mut self) -> Result<(), MarkingError> {
        let number = self.whole("LB", 10)?;
        let Some(modes) = self.entry.modes.take() else {
            return Err(wrong(format!("LB{number} has no mode letter D, I, R or M before it")));
        };
        let y = self.skip_word("Y");
        // Anything else glued to the number may be a `Y` misread.
        if let Some(Token::Word { text, glued: true }) = self.tokens.peek() {
            return Err(wrong(format!("'{}' is glued to LB{number}", cut(text))));
        }
        self.rate(Rating::Scale(modes, number, y))
    }

    /// The whole number after `LB` or `RB`, from 1 to `max`.
    fn whole(&mut self, what: &str, max: u32) -> Result<u32, MarkingError> {
        let number = self.next_number().filter(|n| n.fract() <= 0.0 && *n >= 1.0 && *n <= f64::from(max));
        number.map(|n| n as u32).ok_or_else(|| wrong(format!("{what} needs a whole number from 1 to {max}")))
    }

    /// Names of standards with their numbers, and marks that say nothing about protection.
    fn other(&mut self, word: &str) -> Result<(), MarkingError> {
        self.once_closed(word)?;
        let mut mark = word.to_owned();
        if ["EN", "ISO", "IEC", "DIN", "BS", "ANSI", "CE", "UKCA"].contains(&word) {
            // `EN 207:2017`, `EN ISO 19818-1:2021`, `CE 0196`.
            if let Some(number) = self.next_number() {
                mark.push_str(&format!(" {number}"));
                if self.tokens.peek() == Some(&Token::Dash) {
                    self.tokens.next();
                    mark.push('-');
                }
            }
            if mark.ends_with('-')
                && let Some(part) = self.next_number()
            {
                mark.push_str(&part.to_string());
            }
        }
        // What is glued on belongs to the word: `Z136.7`, `:2017`.
        while let Some(Token::Number { glued: true, .. } | Token::Word { glued: true, .. }) = self.tokens.peek() {
            match self.tokens.next() {
                Some(Token::Number { value, .. }) => mark.push_str(&format!(" {value}")),
                Some(Token::Word { text, .. }) => mark.push_str(&text),
                _ => {}
            }
        }
        self.marking.ignored.push(mark);
        Ok(())
    }
}
