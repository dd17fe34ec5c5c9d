//! Fadewright.
pub mod clock;
pub mod text;
pub mod tui;
pub mod units;
