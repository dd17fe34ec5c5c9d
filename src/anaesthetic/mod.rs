//! Limits of local anaesthetics: a cream of lidocaine 2.5 % and prilocaine 2.5 % on intact skin, and infiltrated
//! lidocaine.
//!
//! [`limits`] says what a person may get of each alone, [`judge`] adds what several doses use up, [`cream_stage`] tells
//! whether a cream works or has to go, [`warnings`] what to ask. Where sources disagree, the stricter figure counts.
//! Nothing here is a prescription: [`CONFIRM`].

mod figures;
mod judge;
mod limits;
mod warnings;

pub use figures::*;
pub use judge::{CreamStage, Dose, Finding, Judgement, OverLimit, Share, cream_stage, judge};
pub use limits::{Age, Counted, Limits, PersonError, limits, limits_in_years};
pub use warnings::{CONFIRM, Circumstances, Warning, warnings};
