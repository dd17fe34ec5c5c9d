//! Read models over journals: one session in full, and many in a line each with what statistics need of them.

mod gather;
mod list;
mod row;
mod summary;
mod timeline;

pub use gather::{Gatherer, PlannedPulses, event_of};
pub use list::{Filter, SortKey, sort};
pub use row::{ADVERSE, AdviceFate, AdviceFigure, Exposure, Kept, OPERATOR_ITEM, RecordState, Row};
pub use summary::{AdviceLine, CheckLine, PassLine, ResponseLine, SettingLine, Summary, ZoneLine, summarise};
pub use timeline::{TimelineEntry, describe, timeline};
