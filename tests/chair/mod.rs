//! Programs in a real pseudo-terminal, seen as a person sees them.

mod announcements;
mod care;
mod guard;
mod hand;
mod harness;
mod kill9;
pub mod lines;
mod manners;
mod plain;
mod practice;
pub mod pty;
mod pulse_line;
mod session;
mod trouble;
