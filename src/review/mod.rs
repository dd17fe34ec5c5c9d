//! Read models over a journal: what was planned, done, seen, advised and overridden.

mod summary;
mod timeline;

pub use summary::{AdviceLine, CheckLine, PassLine, ResponseLine, SettingLine, Summary, ZoneLine, summarise};
pub use timeline::{TimelineEntry, describe, timeline};
