//! Heat and stress in ink and skin: how fast a granule cools, what a pulse of finite length leaves of its heat, how
//! long sound takes through it, and what a pulse of light therefore does to it.
//!
//! All of it is linear: no phase change, no change of properties with temperature. Sound and heat are those of water-like
//! tissue unless said otherwise.

mod confinement;
mod quadrature;
mod relaxation;
mod slab;
pub mod sphere;
mod stress;
mod two_materials;

pub use confinement::{
    Confinement, LeastConfined, USUAL_GRANULES_NM, USUAL_PULSES_S, confinement, least_confined, side_by_side,
};
pub use relaxation::{DIFFUSIVITY_M2_S, Definition, Shape};
pub use slab::{slab_cooling, train};
pub use stress::{GRUNEISEN, SPEED_OF_SOUND_M_S, gruneisen, pressure_factor, thermoelastic_pressure_pa, transit_s};
pub use two_materials::{Material, TwoMaterials, TwoMaterialsError};
