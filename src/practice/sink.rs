//! A sink whose skin answers: what is recorded happens to simulated skin, and what that shows is recorded in turn.

use super::light::LightBook;
use super::skin::Skin;
use crate::clock::Now;
use crate::coverage::Point;
use crate::recorder::{Sink, Store};
use crate::session::{Event, Stamp, State};
use chrono::{DateTime, FixedOffset};
use std::path::{Path, PathBuf};

/// Simulated skin in front of any other sink.
pub struct SkinSink<S> {
    inner: S,
    skin: Option<Skin>,
    book: LightBook,
}

impl<S> SkinSink<S> {
    /// A sink for a session that is about to open: its skin is made from what it opens with.
    #[must_use]
    pub const fn new(inner: S, book: LightBook) -> Self {
        Self { inner, skin: None, book }
    }

    /// A sink for a session that is taken up again: what happened happens again to its skin.
    #[must_use]
    pub fn resumed(inner: S, book: LightBook, events: &[(Stamp, Event)]) -> Self {
        let mut sink = Self { inner, skin: None, book };
        for (stamp, event) in events {
            sink.happen(*stamp, event);
            // What it showed then is in the journal already.
            if let Some(skin) = &mut sink.skin {
                drop(skin.signs(stamp.at));
            }
        }
        sink
    }

    /// The skin, once the session is open.
    #[must_use]
    pub const fn skin(&self) -> Option<&Skin> {
        self.skin.as_ref()
    }

    /// The sink behind.
    pub fn into_inner(self) -> S {
        self.inner
    }

    /// The sink behind, to look at.
    pub const fn inner(&self) -> &S {
        &self.inner
    }

    fn happen(&mut self, stamp: Stamp, event: &Event) {
        if let Event::SessionOpened(opened) = event {
            self.skin = Skin::of(opened, self.book.clone());
        }
        if let Some(skin) = &mut self.skin {
            skin.follow(stamp, event);
        }
    }
}

impl<S: Sink> Sink for SkinSink<S> {
    fn append(&mut self, at: DateTime<FixedOffset>, mono_ms: u64, event: &Event) -> Result<u64, String> {
        let seq = self.inner.append(at, mono_ms, event)?;
        self.happen(Stamp { seq, at, mono_ms }, event);
        Ok(seq)
    }

    fn answers(&mut self, state: &State, now: Now) -> Vec<Event> {
        let Some(skin) = &mut self.skin else { return Vec::new() };
        let mut events: Vec<Event> = skin.signs(now.wall).into_iter().map(|sign| Event::SkinShowed { sign }).collect();
        if state.closed.is_some() && state.practice.left.is_none() {
            let zones = skin.outcome().into_iter().map(|z| z.left).collect();
            events.push(Event::SkinLeft { zones });
        }
        events
    }
}

impl<S: Store> Store for SkinSink<S> {
    fn saved_upto(&self) -> u64 {
        self.inner.saved_upto()
    }
    fn failure(&self) -> Option<(u64, String)> {
        self.inner.failure()
    }
    fn continue_in(&mut self, dir: &Path) -> Result<(PathBuf, Option<String>), String> {
        self.inner.continue_in(dir)
    }
    fn path(&self) -> PathBuf {
        self.inner.path()
    }
    fn landed(&self, zone: usize, pass: u8) -> Option<Vec<Point>> {
        let fallen = self.skin.as_ref()?.fallen();
        Some(fallen.iter().filter(|f| f.zone == zone && f.pass == pass).map(|f| f.at).collect())
    }
}
