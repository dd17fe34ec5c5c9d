//! Fadewright.
pub mod advice;
pub mod cli;
pub mod clock;
pub mod coverage;
pub mod device;
pub mod journal;
pub mod limits;
pub mod plan;
pub mod protocol;
pub mod recorder;
pub mod review;
pub mod session;
pub mod source;
pub mod text;
pub mod tui;
pub mod units;
pub mod words;
