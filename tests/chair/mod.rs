//! Programs in a real pseudo-terminal, seen as a person sees them.

mod guard;
mod harness;
pub mod pty;
