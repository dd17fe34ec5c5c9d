//! The session: events, the state they fold into, and the commands that decide on new ones.
//!
//! One way for data to flow: a [`Command`] goes to [`decide`], which answers with events or a [`Refusal`]; each event is
//! written to the journal and applied to the [`State`] with [`State::apply`], which cannot fail. Replay, review and
//! recovery fold the same events through the same `apply`.

mod anaesthetic;
pub mod checks;
mod command;
mod decide;
mod earlier;
mod event;
mod follow_up;
mod free_text;
mod practice;
pub mod read_back;
mod state;

pub use anaesthetic::{Anaesthesia, DOSE_LIKE, Given, dose};
pub use command::{Ask, Command, CounterConfirm, Refusal};
pub use decide::{decide, open};
pub use earlier::{Earlier, EarlierZone};
pub use event::*;
pub use follow_up::{CodeOfPerson, FollowUp, Healing, Photo, Pigment, Scar};
pub use free_text::{FREE_TEXT_MAX, FreeText};
pub use practice::{COUNTER_AT_FIRST, PracticeState, Shown, SkinSign};
pub use state::*;
