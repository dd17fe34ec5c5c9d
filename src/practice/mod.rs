//! Practice: simulated skin that answers, a model operator, and a debrief.
//!
//! The skin is a sink in front of the journal ([`SkinSink`]): what is recorded happens to it, and what it shows is
//! recorded in turn, so that screens, the plain mode and the model operator all meet the same skin. It is a teaching
//! model; its assumptions stand in [`model`].

mod course;
pub mod debrief;
mod drive;
mod ground;
mod light;
mod luck;
pub mod model;
mod operator;
mod sink;
mod skin;
mod zone_skin;

pub use course::{Course, course_name, next_session};
pub use drive::{DriveError, Played, play};
pub use light::{LightBook, PerJoule, Tissue};
pub use operator::{Manner, Operator, Step};
pub use sink::SkinSink;
pub use skin::{Fallen, Skin, ZoneOutcomeSeen};
