//! Read models over journals: one session in full, and many in a line each with what statistics need of them.

mod charts;
mod course;
mod follow_up;
mod gather;
mod list;
mod progress;
pub mod register;
mod row;
mod session;
mod statistics;
mod summary;
mod timeline;
mod wilson;

pub use charts::{Series, charts};
pub use course::{ClientCourse, CourseSession, client_course};
pub use follow_up::{FollowUpLine, PhotoLine, follow_up_line, follow_ups};
pub use gather::{Gatherer, event_of};
pub use list::{Filter, SortKey, WIDE, sort};
pub use progress::{Progress, Run, progress};
pub use row::{ADVERSE, AdviceFate, AdviceFigure, Exposure, Kept, OPERATOR_ITEM, RecordState, Row};
pub use session::{SessionReview, review_session};
pub use statistics::{Answers, BANDS_J_CM2, Group, ResponseTotal, Share, Statistics, band, band_words, statistics};
pub use summary::{AdviceLine, CheckLine, PassLine, ResponseLine, SettingLine, Summary, ZoneLine, summarise};
pub use timeline::{TimelineEntry, describe, timeline};
pub use wilson::wilson_95;
