//! Playing a session without a terminal.

use super::light::LightBook;
use super::operator::{Operator, Step};
use super::sink::SkinSink;
use crate::clock::{Clock, Now};
use crate::limits::{LightRow, LightTable};
use crate::recorder::{RecordError, Recorder, Sink};
use crate::session::{Command, Earlier, Opened, State};
use chrono::{DateTime, FixedOffset};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// Why a session could not be played to its end.
#[derive(Debug, thiserror::Error)]
pub enum DriveError {
    /// It could not be opened or written down.
    #[error("{0}")]
    Record(#[from] RecordError),
    /// The operator no longer knew how to go on.
    #[error("the model operator was refused again and again: {0}")]
    Lost(String),
    /// More steps than any session takes.
    #[error("the session did not end within {0} steps")]
    Endless(u64),
}

/// Steps beyond which a session is not coming to an end.
const STEPS: u64 = 2_000_000;

/// A clock that only the player moves.
struct PlayedClock {
    from: DateTime<FixedOffset>,
    ms: AtomicU64,
}

impl Clock for PlayedClock {
    fn now(&self) -> Now {
        let ms = self.ms.load(Ordering::SeqCst);
        let passed = chrono::Duration::milliseconds(i64::try_from(ms).unwrap_or(i64::MAX / 4));
        Now { wall: self.from + passed, mono_ms: ms }
    }
}

/// A session that was played.
pub struct Played<S> {
    /// The session at its end.
    pub state: State,
    /// Its sink, with the skin.
    pub sink: SkinSink<S>,
    /// Time it took in the session, ms.
    pub ms: u64,
}

/// Plays a session from its opening to its close, beginning at a time and with what an earlier session told. `watch` is told the state after each step and says
/// whether to go on.
///
/// # Errors
/// [`DriveError`].
pub fn play<S: Sink>(
    opened: Opened,
    sink: S,
    operator: &mut Operator,
    book: &LightBook,
    (from, earlier): (DateTime<FixedOffset>, Option<Earlier>),
    watch: &mut dyn FnMut(&State) -> bool,
) -> Result<Played<S>, DriveError> {
    let clock = Arc::new(PlayedClock { from, ms: AtomicU64::new(0) });
    let table = light_of_plan(&opened, book);
    let mut recorder = Recorder::open(opened, SkinSink::new(sink, book.clone()), Arc::clone(&clock) as Arc<dyn Clock>)?;
    recorder.command(Command::NoteLight { table })?;
    if let Some(earlier) = earlier {
        recorder.command(Command::NoteEarlier { earlier: Box::new(earlier) })?;
    }
    for _ in 0..STEPS {
        let ms = recorder.state().session_ms(recorder.now());
        let (step, takes) = operator.step(recorder.state(), ms);
        clock.ms.fetch_add(takes, Ordering::SeqCst);
        match step {
            Step::Done => {
                let state = recorder.state().clone();
                return Ok(Played { state, sink: recorder.into_sink(), ms });
            }
            Step::Wait(_) => drop(recorder.tick()?),
            Step::Do(command) => match recorder.command(command) {
                Ok(()) => operator.taken(),
                Err(RecordError::Refused(refusal)) => {
                    operator.refused();
                    if operator.is_lost() {
                        return Err(DriveError::Lost(refusal.to_string()));
                    }
                    clock.ms.fetch_add(1_000, Ordering::SeqCst);
                    recorder.tick()?;
                }
                Err(e) => return Err(e.into()),
            },
        }
        if !watch(recorder.state()) {
            let state = recorder.state().clone();
            return Ok(Played { state, sink: recorder.into_sink(), ms });
        }
    }
    Err(DriveError::Endless(STEPS))
}

/// Light in the skin that the plan tells of: what the advice may know, unlike the hidden case.
#[must_use]
pub fn light_of_plan(opened: &Opened, book: &LightBook) -> LightTable {
    let mut rows: Vec<LightRow> = Vec::new();
    for zone in &opened.plan.zones {
        let wavelength = zone.setting.wavelength;
        if rows.iter().any(|r| r.site == zone.site && r.wavelength == wavelength) {
            continue;
        }
        let tissue = book.tissue(opened.plan.client.skin, zone.site, wavelength);
        let (Some(tissue), Some(line)) = (tissue, opened.device.line(wavelength)) else { continue };
        rows.extend(line.spots.iter().map(|ladder| {
            let p = tissue.per_joule(line.beam_profile, ladder.spot.mm(), 0.1);
            LightRow { site: zone.site, wavelength, spot: ladder.spot, ink: p.ink, epidermis: p.basal }
        }));
    }
    LightTable { rows }
}
