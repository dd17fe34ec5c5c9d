//! Splits a marking into numbers, words and signs.

use super::{EXAMPLES, MarkingError};

/// A piece of a marking.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Token {
    /// A number without sign or exponent.
    Number {
        /// Its value, finite.
        value: f64,
        /// It follows a letter or a colon without a space: `LB8`, `207:2017`.
        glued: bool,
    },
    /// Letters, in capitals: `LB8Y` is a word, a number and a word.
    Word {
        /// The letters.
        text: String,
        /// It follows a digit without a space.
        glued: bool,
    },
    /// `-`, `..` and their relatives: from ... to.
    Dash,
    /// `+`.
    Plus,
    /// `%`.
    Percent,
    /// `,`, `;`, `/`, `|` or a line end: the next entry begins.
    Separator,
}

/// A text shortened for a message.
pub(super) fn cut(text: &str) -> String {
    let mut short: String = text.chars().take(24).collect();
    if short.len() < text.len() {
        short.push('…');
    }
    short
}

/// Cuts `text` after the leading characters that fit.
fn split_while(text: &str, fits: impl Fn(char) -> bool) -> (&str, &str) {
    let end = text.find(|c| !fits(c)).unwrap_or(text.len());
    text.split_at_checked(end).unwrap_or((text, ""))
}

/// The tokens of a text, in one pass.
///
/// # Errors
/// [`MarkingError`] for the first sign that has no place in a marking.
pub(super) fn tokens(text: &str) -> Result<Vec<Token>, MarkingError> {
    let mut found = Vec::new();
    let mut rest = text;
    let mut before = ' ';
    while let Some(c) = rest.chars().next() {
        let after = rest.get(c.len_utf8()..).unwrap_or_default();
        let (token, left) = match c {
            '0'..='9' => {
                let (value, left) = number(rest)?;
                (Some(Token::Number { value, glued: before.is_alphabetic() || before == ':' }), left)
            }
            // Stands for "wavelength" and says no more than that.
            'λ' => (None, after),
            c if c.is_alphabetic() => {
                let (word, left) = split_while(rest, |c| c.is_alphabetic() && c != 'λ');
                (Some(Token::Word { text: word.to_uppercase(), glued: before.is_ascii_digit() }), left)
            }
            '.' | '…' => {
                let (dots, left) = split_while(rest, |c| c == '.' || c == '…');
                if dots == "." {
                    // The full stop of a sentence or an abbreviation says nothing.
                    (None, left)
                } else {
                    (Some(Token::Dash), left)
                }
            }
            '-' | '\u{2010}'..='\u{2015}' | '\u{2212}' => (Some(Token::Dash), after),
            '+' => (Some(Token::Plus), after),
            '%' => (Some(Token::Percent), after),
            ',' | ';' | '/' | '|' | '\n' | '\r' => (Some(Token::Separator), after),
            '@' | ':' | '=' | '>' | '≥' | '(' | ')' | '[' | ']' | '"' | '\'' => (None, after),
            c if c.is_whitespace() => (None, after),
            c => {
                return Err(MarkingError {
                    what: format!("the sign '{}' has no place in a marking", c.escape_debug()),
                    expected: EXAMPLES,
                });
            }
        };
        found.extend(token);
        before = rest.get(..rest.len() - left.len()).and_then(|taken| taken.chars().next_back()).unwrap_or(' ');
        rest = left;
    }
    Ok(found)
}

/// Digits, and a point with digits; two points end the number, as in `190..534`.
fn number(rest: &str) -> Result<(f64, &str), MarkingError> {
    let (digits, mut left) = split_while(rest, |c| c.is_ascii_digit());
    let mut length = digits.len();
    if let Some(fraction) = left.strip_prefix('.') {
        let (decimals, after) = split_while(fraction, |c| c.is_ascii_digit());
        if !decimals.is_empty() {
            length += 1 + decimals.len();
            left = after;
        }
    }
    let written = rest.get(..length).unwrap_or(digits);
    let value = written.parse::<f64>().ok().filter(|v| v.is_finite());
    match value {
        Some(value) => Ok((value, left)),
        None => Err(MarkingError { what: format!("'{}' is no number", cut(written)), expected: EXAMPLES }),
    }
}
