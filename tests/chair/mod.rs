//! Programs in a real pseudo-terminal, seen as a person sees them.

mod announcements;
mod guard;
mod hand;
mod harness;
mod kill9;
mod manners;
pub mod pty;
mod pulse_line;
mod session;
mod trouble;
