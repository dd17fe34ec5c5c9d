//! Tests.
#![allow(
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::string_slice,
    clippy::unwrap_used,
    reason = "a test says what is wrong by panicking, in its helpers too"
)]

mod plans;
