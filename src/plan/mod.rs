//! What is to be done: the client (a code, never a name), the skin, the history and the zones with their settings.
//!
//! A [`Plan`] that exists has been checked: its values are in range and its zones have distinct names. Whether the
//! device and the clinic's protocol allow it is the business of [`crate::limits`].

mod load;
mod model;
mod shape;
mod show;

pub use crate::coverage::Shape;
pub use crate::words::{BodySite, Density, FitzpatrickType, InkColour};
pub use load::{KIND, TEMPLATE, load, zone_field};
pub use model::{
    Client, ClientCode, Condition, DisplayedSetting, History, InkOrigin, Medicine, NameError, PassSpacing, Plan,
    PulseClass, Scarring, Setting, Tan, TestSpot, TestSpotResult, Zone, ZoneId,
};
pub use show::PlanView;
