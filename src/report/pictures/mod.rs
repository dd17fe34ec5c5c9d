//! Pictures of a session as SVG, each with a title and a description that say what it shows. Black on white; what
//! differs does so by shape, letter or dashes, never by colour alone.

mod course;
mod svg;
mod zone;

pub use course::{fluence, legends, pulses, rate};
pub use svg::Svg;
pub use zone::zone_map;
