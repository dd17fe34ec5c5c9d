//! Light at the ink and at the pigment of the epidermis, for a setting of a device.
//!
//! [`SkinLight`] holds one run with a pencil beam for each
//! [`Case`](super::optics::Case) of a [`SkinModel`](super::optics::SkinModel) without ink: it answers for any
//! spot, profile and fluence at once. What it tells is the light that arrives; how much of it a granule takes is the
//! business of [`crate::physics::carbon`] and [`crate::physics::heat`].

mod dose;
mod skin_light;

pub use dose::{DepthPoint, Dose, OtherSpot, Shot, ShotDose};
pub use skin_light::{DEPTHS_CM, SkinLight, TABLE_SPOTS_MM};
