//! Fadewright's entry point.
fn main() {}
