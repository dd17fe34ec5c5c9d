//! A recorded session as others read it: a printable page, tables, a sheet for the client, a calendar entry, FHIR.
//!
//! Each format is a pure function of a [`SessionRecord`]. What a record is not, such as whole, closed or a treatment of
//! a person, is said wherever it goes ([`Mark`]).

mod cautions;
pub mod csv;
mod happened;
mod markup;
pub mod page;
mod pictures;
mod record;

pub use record::{Mark, SessionRecord, Standing};
