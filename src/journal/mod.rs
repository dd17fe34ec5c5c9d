//! The journal: what happened in a session, on disk before it is shown as saved.
//!
//! One file per session, one record a line, each line carrying the hash of the one before ([`Digest::genesis`] binds
//! the first to the session). The file is only ever appended to. The room knows nothing of what the events mean: it
//! is generic over any event type that serde can write and read.
//!
//! - [`DataDir`]: where the files are, and whether the place is fit for recording.
//! - [`Writer`]: create, append, resume after a cut, go on elsewhere when a disk fails.
//! - [`daybook`]: the list of all sessions, by which a missing file shows.
//! - [`FollowUps`]: what is recorded after a session was closed, in a chain of its own.
//! - [`read`], [`verify_file`], [`Verdict`]: look without touching.
//!
//! Free text is kept beside the chain; `notes.rs` has the convention an event type follows for that.

mod data_dir;
pub mod daybook;
mod digest;
mod error;
mod file;
mod follow_up;
mod id;
mod keep;
mod line;
mod notes;
mod read;
mod recover;
mod scan;
mod skim;
mod stamps;
mod verdict;
mod worker;
mod writer;

pub use data_dir::{CatalogueEntry, DataDir};
pub use daybook::{Finding, OpenSession, OpenSessions};
pub use digest::{Digest, NotADigest};
pub use error::JournalError;
pub use file::JournalFile;
pub use follow_up::{FollowUpReport, FollowUps, FollowUpsRead, follow_up_path, read_follow_ups};
pub use id::{BadId, SessionId};
pub use keep::keep_new;
pub use notes::NotesTally;
pub use read::{NotUnderstood, ReadBack, Record, VerifyReport, read, verify_file};
pub use recover::Recovery;
pub use skim::{Passing, Skimmed, skim};
pub use stamps::{FileStamp, StampedSession};
pub use verdict::Verdict;
pub use worker::Ack;
pub use writer::{Resumed, Writer};

/// The longest line, in bytes, without its line end. A file without line ends is never taken into memory whole.
pub const MAX_LINE: usize = 1 << 20;
