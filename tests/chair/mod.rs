//! Programs in a real pseudo-terminal, seen as a person sees them.

mod guard;
#[allow(dead_code, reason = "a part of it waits for the next tests")]
mod hand;
mod harness;
pub mod pty;
mod session;
