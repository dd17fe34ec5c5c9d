//! Benches of the chair (later filled).
fn main() {}
