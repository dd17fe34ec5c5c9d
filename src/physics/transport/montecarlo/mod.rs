//! Monte Carlo: photons followed through layers until they are absorbed or leave.
//!
//! One run with a pencil beam serves beams of all sizes ([`Pencil`]). A run is the same bit for bit whatever the
//! number of threads and the machine: 64 batches, each in slices with random streams of their own, counted in whole
//! numbers. The spread of the batches gives the standard errors.

mod kept;
mod kernel;
mod pencil;
mod prepared;
mod rings;
mod run;
mod sampling;
mod tally;

pub use pencil::Pencil;
pub use run::{BATCHES, Ending, Goal, MAX_PHOTONS, Outcome, Request, Watch, run};
