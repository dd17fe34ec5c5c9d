//! With programs of others. A program that is missing fails these tests: they are run where it is installed.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::string_slice,
    reason = "tests may fail loudly"
)]
#![allow(missing_docs, reason = "the names of tests say what they hold")]

#[allow(dead_code, reason = "the same session serves more tests elsewhere")]
#[path = "../cli/closed.rs"]
mod closed;
mod exports;
#[allow(dead_code, reason = "the same bench serves more tests elsewhere")]
#[path = "../fixture/mod.rs"]
mod fixture;
#[path = "../bench/fleet.rs"]
mod fleet;
#[allow(dead_code, reason = "the same hands serve more tests elsewhere")]
#[path = "../chair/lines.rs"]
mod lines;
mod queries;
mod signing;
mod speech;
#[allow(dead_code, reason = "the benches need more of it")]
#[path = "../bench/stock.rs"]
mod stock;
