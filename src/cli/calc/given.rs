//! Values given by flags, for clap to read.
//!
//! A refusal names the flag and says what it takes. It never repeats what was given as it stands: that could steer the
//! terminal.

use crate::text::shown;
use crate::units::Quantity;
use crate::words::Word;
use clap::builder::TypedValueParser;
use clap::error::ErrorKind;
use std::ffi::OsStr;

/// Reads one value.
#[derive(Clone)]
pub(in crate::cli) struct Given<T>(fn(&str) -> Result<T, String>);

/// A quantity as a form takes it: a bare number in the unit that the flag names, or a number with a unit.
pub(super) fn form<Q: Quantity + Send + Sync + 'static>() -> Given<Q> {
    Given(|text| {
        // A time without a unit could be anything.
        let parsed = if Q::UNIT == "s" { text.parse() } else { Q::from_form(text) };
        parsed.map_err(|e| e.to_string())
    })
}

/// A word of a closed list.
pub(in crate::cli) fn word<W: Word + Send + Sync>() -> Given<W> {
    Given(|text| {
        let unknown = || format!("'{text}' is no {}; one of: {}", W::WHAT, W::WORDS.join(", "));
        W::from_word(text).ok_or_else(unknown)
    })
}

/// A bare number in the unit that the flag names; its range is for the caller.
pub(super) fn number() -> Given<f64> {
    Given(|text| text.parse().map_err(|_| format!("'{text}' is not a number")))
}

/// What a function of its own reads.
pub(in crate::cli) const fn by<T>(read: fn(&str) -> Result<T, String>) -> Given<T> {
    Given(read)
}

impl<T: Clone + Send + Sync + 'static> TypedValueParser for Given<T> {
    type Value = T;

    fn parse_ref(&self, cmd: &clap::Command, arg: Option<&clap::Arg>, value: &OsStr) -> Result<T, clap::Error> {
        (self.0)(&value.to_string_lossy()).map_err(|why| {
            let flag = arg.and_then(clap::Arg::get_long).map(|long| format!("--{long}: ")).unwrap_or_default();
            clap::Error::raw(ErrorKind::ValueValidation, format!("{flag}{}\n", shown(&why))).with_cmd(cmd)
        })
    }
}
