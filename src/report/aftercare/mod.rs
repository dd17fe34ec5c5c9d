//! A sheet for the client in plain words: what to do, what to expect, when to call. It follows what was seen in the
//! session. It is advice to take home beside the clinic's own, and says so.

mod sheet;
mod show;

pub use sheet::{Certainty, Item, Section, Sheet, sheet};
pub use show::{page, text};
