//! What lies hidden behind a practice plan, and what a run of practice is.
//!
//! A scenario is a plan, which the trainee sees, and a hidden case, which only the simulated skin knows. Both are TOML
//! files; those that are shipped are embedded. All people and figures in them are invented.

mod load;
mod model;
mod shipped;

pub use load::{KIND, check_against, load, unheard};
pub use model::{
    ClientAnswer, Grade, HandHabits, HiddenCase, HiddenZone, Incident, IncidentKind, Metal, PracticeRun, ShownAtFirst,
    ZoneLeft,
};
pub use shipped::{SHIPPED, Shipped, shipped};
