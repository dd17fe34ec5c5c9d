//! Light: how fast photons are followed, against a scalar reference in the same run.

mod lean;
mod reference;
mod speed;
mod stacks;
mod table;
mod threads;
mod timing;

pub use speed::{transport, what_brought_what};
pub use table::{depth_doses, kept_doses};
pub use threads::two_threads;
