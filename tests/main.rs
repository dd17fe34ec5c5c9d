//! Integration tests, one binary; each folder is one kind of proof.

#![allow(
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::unwrap_used,
    reason = "a test that meets the unexpected must stop, and says where"
)]

mod chair;
