//! Read models over a journal: what was planned, done, seen, advised and overridden.

mod follow_up;
pub mod register;
mod summary;
mod timeline;

pub use follow_up::{FollowUpLine, PhotoLine, follow_up_line, follow_ups};
pub use summary::{AdviceLine, CheckLine, PassLine, ResponseLine, SettingLine, Summary, ZoneLine, summarise};
pub use timeline::{TimelineEntry, describe, timeline};
