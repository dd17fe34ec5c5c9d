//! Fadewright.
pub mod clock;
pub mod coverage;
pub mod device;
pub mod limits;
pub mod plan;
pub mod protocol;
pub mod session;
pub mod text;
pub mod tui;
pub mod units;
pub mod words;
