//! The rules of the house that no compiler knows.

mod layout;
mod rooms;
pub mod source;
