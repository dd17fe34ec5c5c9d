//! Light in layered skin, heat and stress in ink, the beam, and what it does to eye and skin.
//!
//! Pure functions over numbers with units: no plan, no session, no file and no clock. Every formula names its source;
//! `tests/against_published` holds each to published values or to an independent method. What is uncertain is an
//! [`Estimate`], and results carry its range.

mod estimate;
mod stack;
pub mod transport;

pub use estimate::Estimate;
pub use stack::{Layer, Stack, StackError};
