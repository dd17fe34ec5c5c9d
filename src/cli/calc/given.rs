//! Values given by flags: what is wrong with them is said with the flag's name.

use crate::cli::output::CliError;
use crate::units::Quantity;
use crate::words::Word;

/// A quantity whose flag names its unit, so that a bare number will do.
pub fn quantity<Q: Quantity>(flag: &str, text: &str) -> Result<Q, CliError> {
    Q::from_form(text).map_err(|e| CliError::Bad(format!("{flag}: {e}")))
}

/// A quantity that has to carry its unit.
pub fn with_unit<Q: Quantity>(flag: &str, text: &str) -> Result<Q, CliError> {
    text.parse::<Q>().map_err(|e| CliError::Bad(format!("{flag}: {e}")))
}

/// A word of a closed list.
pub fn word<W: Word>(flag: &str, text: &str) -> Result<W, CliError> {
    W::from_word(text)
        .ok_or_else(|| CliError::Bad(format!("{flag}: '{text}' is no {}; one of: {}", W::WHAT, W::WORDS.join(", "))))
}
