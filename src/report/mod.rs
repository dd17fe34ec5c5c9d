//! A recorded session as others read it: a printable page, tables, a sheet for the client, a calendar entry, FHIR.
//!
//! Each format is a pure function of a [`SessionRecord`]. What a record is not, such as whole, closed or a treatment of
//! a person, is said wherever it goes ([`Mark`]).

pub mod aftercare;
pub mod calendar;
mod cautions;
pub mod csv;
pub mod fhir;
mod happened;
mod identity;
mod markup;
pub mod page;
mod pictures;
mod record;

pub use record::{Mark, SessionRecord, Standing};
