//! One test binary: it links once.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::string_slice,
    clippy::float_cmp,
    clippy::use_self,
    reason = "tests may fail loudly"
)]
#![allow(missing_docs, reason = "the names of tests say what they hold")]

mod against_published;
mod architecture;
mod chair;
mod cli;
mod fixture;
mod journal_faults;
mod plans;
mod practice;
mod properties;
mod review;
mod rules;
mod screens;
mod session;
