//! What a beam can do to eye and skin, how far it reaches, and whether eyewear is marked for it.
//!
//! 400 to 1400 nm, 1 fs to 30 000 s. Two families of exposure limits ([`Edition`]) are evaluated, each with its own
//! rules for repeated pulses; the lower one counts unless one is asked for. Directive 2006/25/EC still sets the values
//! of the 2007 family for work in the EU.
//!
//! The standards themselves were not at hand: the tables were taken from public copies that agree with each
//! other, and `tests/against_published/hazard.rs` holds them to printed examples. They, the laser protection adviser
//! and the local rules decide.

mod assess;
mod density;
mod distance;
mod edition;
mod factors;
pub mod marking;
mod mpe;
mod scale;
mod source;
mod train;

pub use assess::{EyeLimit, Hazard, assess};
pub use density::{APERTURE_EYE_M2, optical_density, rounded_down, rounded_up};
pub use distance::{diffuse_extended_m, diffuse_m, direct_m};
pub use edition::{Edition, EditionChoice};
pub use factors::{ALPHA_LARGE_MRAD, ALPHA_MIN_MRAD, alpha_max_mrad, c_a, c_b, c_c, c_e, t_2_s, t_i_s};
pub use mpe::{eye_j_m2, eye_photochemical_j_m2, eye_thermal_j_m2, skin_j_m2};
pub use scale::{Mode, SCALE_BASE_S, ScaleNeed, ScaleNumber, ScaleRule, scale_need, spot_factor};
pub use source::{Beam, HazardError, Source};
pub use train::{PulseLimit, RATE_MAX_HZ, Rule, Train, c_p, c_p_of, eye_train, skin_train};
