//! Fadewright.
pub mod clock;
pub mod journal;
pub mod text;
pub mod units;
