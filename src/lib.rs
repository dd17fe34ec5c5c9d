//! Fadewright.
pub mod cli;
pub mod clock;
pub mod device;
pub mod plan;
pub mod protocol;
pub mod source;
pub mod text;
pub mod units;
pub mod words;
