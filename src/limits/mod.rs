//! What may be set: hard limits in code < clinic protocol < device ladder.
//!
//! Each layer may only tighten. The tightest limit is kept with its reason, results are floored to the device's step,
//! and a missing limit refuses: there is no silent default.

mod depths;
mod ink;
mod light;
mod lower;
mod plan;
mod setting;

pub use depths::{DepthLight, DepthRow};
pub use ink::{InkMatch, best_wavelength, ink_match};
pub use light::{DoseChange, LightDose, LightRow, LightTable, dose_change};
pub use lower::{Lowered, Lowering};
pub use plan::{PlanProblem, Severity, plan_errors, plan_problems};
pub use setting::{HARD_FLUENCE_MAX_J_CM2, Limit, SettingProblem, fluence_limit, setting_problems};
