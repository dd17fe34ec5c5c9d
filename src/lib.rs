//! Fadewright.
pub mod clock;
pub mod text;
pub mod units;
