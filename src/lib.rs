//! Fadewright: a terminal companion for laser tattoo-removal sessions.
//!
//! An operator treats by a plan: the program asks the checks, compares what the device shows with what was planned,
//! counts pulses, takes down how the skin responds, advises to lower, wait or stop, and keeps all of it in a journal
//! that a pulled plug does not hurt. It advises and records. It drives no device, and no advice goes above a ceiling
//! of the clinic's protocol.
//!
//! # One way for data to flow
//!
//! ```text
//!  key ──► Action ──► Command ──► decide ──► events ──► journal ──► apply ──► advice ──► draw
//!       tui::keys  tui::chair   session           recorder::Sink  session    advice     tui::chair
//! ```
//!
//! - [`session::decide`] says what follows from a command: events, or a refusal with what to do next. It changes
//!   nothing.
//! - [`recorder::Recorder`] hands each event to its sink and then to [`session::State::apply`], which cannot fail, and
//!   lets [`advice::evaluate`] look; what the rules find are events too.
//! - The journal's own thread writes and syncs. The screen shows an event at once and calls it saved when it is.
//! - Resuming after a cut and printing a log replay the same events through the same `apply`. There is no second way
//!   to change a session.
//!
//! # Who may know whom
//!
//! A room may use those above it in this list and none below; `tests/architecture` reads the imports and fails on a
//! reversed one.
//!
//! | room | what lives there |
//! |---|---|
//! | [`units`] | quantities of the trade as types: finite, in range, with their unit |
//! | [`words`], [`text`] | fixed words of files and journals; text made fit for a screen |
//! | [`clock`] | the only caller of the clock |
//! | [`physics`] | light in layered skin, heat and stress in ink, beam, eye and skin hazard |
//! | [`coverage`] | zones, lattices of spots, and what the skin under the pulses received |
//! | [`source`] | reading the files that people write, every mistake with its place |
//! | [`sight`] | what is left of a screen's colours behind laser eyewear |
//! | [`plan`], [`device`], [`protocol`] | what is to be done, with what, and within which limits |
//! | [`scenario`] | what lies hidden behind a practice plan |
//! | [`course`] | how many sessions a tattoo may take |
//! | [`anaesthetic`] | how much local anaesthetic a person may get |
//! | [`limits`] | what may be set: code, protocol and device, the tightest counts |
//! | [`session`] | events, the state that follows from them, commands and refusals |
//! | [`advice`] | the rule table |
//! | [`journal`] | files of events that show every change; generic, it knows no session |
//! | [`signoff`] | a person's signature over a closed session |
//! | [`recorder`] | decide, append, apply, advise: the only way to change a session |
//! | [`practice`] | simulated skin, the model operator, the debrief |
//! | [`review`] | figures of recorded sessions: of one in full, of many in a line each |
//! | [`report`] | a recorded session for others: page, tables, aftercare, calendar, FHIR |
//! | [`tui`] | screens, keys, themes and the terminal's guard |
//! | [`cli`] | subcommands, and all that is printed |
//!
//! Below [`tui`] nothing knows the terminal. Time is an argument everywhere but in [`clock`]. Only [`source`],
//! [`journal`] and [`cli`] touch a disk.

pub mod advice;
pub mod anaesthetic;
pub mod cli;
pub mod clock;
pub mod course;
pub mod coverage;
pub mod device;
pub mod journal;
pub mod limits;
pub mod physics;
pub mod plan;
pub mod practice;
pub mod protocol;
pub mod recorder;
pub mod report;
pub mod review;
pub mod scenario;
pub mod session;
pub mod sight;
pub mod signoff;
pub mod source;
pub mod text;
pub mod tui;
pub mod units;
pub mod words;
