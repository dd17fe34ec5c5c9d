//! All sessions of a data directory: from the index where it holds, from their journals where it does not.

use super::index::{Entry, Index};
use crate::journal::{DataDir, Digest, JournalError, StampedSession, read, skim};
use crate::review::{Gatherer, Kept, RecordState, event_of};
use crate::session::{Event, Stamp};
use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Sessions that are told of at once.
const BATCH: usize = 250;

/// A session with what is kept of it.
pub(super) struct Sessions {
    /// What is kept, newest first.
    pub kept: Vec<Kept>,
    /// What could not be looked at.
    pub problems: Vec<String>,
}

/// One session and its place among all.
enum Found {
    Known(Box<Entry>),
    ToRead,
    NotPlain,
}

/// Gathers all sessions; `told` hears of each batch as it is done, for a screen that shows them while others are read.
pub(super) fn gather(dir: &DataDir, cache: Option<&Path>, practice: bool, told: impl Fn(&[Kept]) + Sync) -> Sessions {
    let (sessions, mut problems) = dir.stamped();
    let mut index = cache.map(|cache| Index::load(Index::path(cache, dir.root())));
    let mut found: Vec<Found> = sessions.iter().map(|s| look_up(s, index.as_mut())).collect();
    let mark = |kept: &mut Kept, s: &StampedSession| {
        kept.row.signed = s.signed;
        if practice && kept.row.practice.is_none() {
            kept.row.practice = Some("unknown".to_owned());
        }
    };
    let to_read: Vec<usize> =
        found.iter().enumerate().filter(|(_, f)| matches!(f, Found::ToRead)).map(|(i, _)| i).collect();
    if !to_read.is_empty() {
        let ready: Vec<Kept> = found
            .iter()
            .zip(&sessions)
            .filter_map(|(f, s)| match f {
                Found::Known(entry) => {
                    let mut kept = entry.kept.clone();
                    mark(&mut kept, s);
                    Some(kept)
                }
                _ => None,
            })
            .collect();
        told(&ready);
    }
    let waiting = Mutex::new(Vec::new());
    let fresh = read_all(&sessions, &to_read, |kept, s| {
        let mut kept = kept.clone();
        mark(&mut kept, s);
        let batch = waiting.lock().ok().and_then(|mut waiting| {
            waiting.push(kept);
            (waiting.len() >= BATCH).then(|| std::mem::take(&mut *waiting))
        });
        if let Some(batch) = batch {
            told(&batch);
        }
    });
    for (at, entry) in fresh {
        if let Some(slot) = found.get_mut(at) {
            *slot = Found::Known(Box::new(entry));
        }
    }
    if let Some(index) = &index {
        let all: Vec<&Entry> = found.iter().filter_map(known).collect();
        let new: Vec<&Entry> = to_read.iter().filter_map(|at| found.get(*at)).filter_map(known).collect();
        if let Err(e) = index.store(&new, &all) {
            problems.push(format!(
                "the index of the cache directory could not be written, the next list takes longer: {e}"
            ));
        }
    }
    let kept = found.into_iter().zip(&sessions).map(|(f, s)| {
        let mut kept = match f {
            Found::Known(entry) => entry.kept,
            Found::NotPlain => unread(s, "a link or a special file, not a plain one, and is not followed"),
            Found::ToRead => unread(s, "could not be read"),
        };
        mark(&mut kept, s);
        kept
    });
    Sessions { kept: kept.collect(), problems }
}

const fn known(found: &Found) -> Option<&Entry> {
    match found {
        Found::Known(entry) => Some(entry),
        _ => None,
    }
}

fn unread(s: &StampedSession, why: &str) -> Kept {
    Kept::unreadable(s.id.as_str(), why.to_owned())
}

fn look_up(s: &StampedSession, index: Option<&mut Index>) -> Found {
    let Some(journal) = s.journal else { return Found::NotPlain };
    match index.and_then(|index| index.take(&s.id, journal, s.notes)) {
        Some(entry) => Found::Known(Box::new(entry)),
        None => Found::ToRead,
    }
}

/// Reads journals on all processors, newest first.
fn read_all(
    sessions: &[StampedSession],
    to_read: &[usize],
    done: impl Fn(&Kept, &StampedSession) + Sync,
) -> Vec<(usize, Entry)> {
    let next = AtomicUsize::new(0);
    let out = Mutex::new(Vec::with_capacity(to_read.len()));
    let work = || {
        let mut buffer = Vec::new();
        let mut mine = Vec::new();
        while let Some(at) = to_read.get(next.fetch_add(1, Ordering::Relaxed)) {
            let Some(s) = sessions.get(*at) else { continue };
            let Some(journal) = s.journal else { continue };
            let (kept, head) = one(s, &mut buffer);
            done(&kept, s);
            mine.push((*at, Entry { id: s.id.clone(), journal, notes: s.notes, head, kept }));
        }
        if let Ok(mut all) = out.lock() {
            all.append(&mut mine);
        }
    };
    std::thread::scope(|scope| {
        for _ in 1..super::threads().min(to_read.len()) {
            scope.spawn(work);
        }
        work();
    });
    out.into_inner().unwrap_or_default()
}

/// What is kept of one journal, and its head where it is sound.
fn one(s: &StampedSession, buffer: &mut Vec<u8>) -> (Kept, Option<Digest>) {
    match quick(s, buffer) {
        Ok(Some((kept, head))) => (kept, Some(head)),
        Ok(None) => match whole(s) {
            Ok(found) => found,
            Err(e) => (unread(s, &e.to_string()), None),
        },
        Err(e) => (unread(s, &e.to_string()), None),
    }
}

fn quick(s: &StampedSession, buffer: &mut Vec<u8>) -> Result<Option<(Kept, Digest)>, JournalError> {
    let mut gatherer = Gatherer::default();
    let skimmed = skim(&s.path, buffer, |r| {
        let stamp = Stamp { seq: r.seq, at: r.at, mono_ms: r.mono_ms };
        event_of(&r.event).is_ok_and(|event| gatherer.take(stamp, event))
    })?;
    let Some(skimmed) = skimmed.filter(|s| s.notes.altered == 0) else { return Ok(None) };
    Ok(gatherer.finish(RecordState::Sound, None).map(|kept| (kept, skimmed.head)))
}

/// A journal that is not plainly sound: what stands before the damage.
fn whole(s: &StampedSession) -> Result<(Kept, Option<Digest>), JournalError> {
    let back = read::<Event>(&s.path)?;
    let mut gatherer = Gatherer::default();
    for r in back.records {
        gatherer.take(Stamp { seq: r.seq, at: r.at, mono_ms: r.mono_ms }, r.event);
    }
    let altered = back.notes.altered;
    let mut words = back.verdict.to_string();
    if altered > 0 {
        words = format!("{words}; {altered} free texts were altered");
    }
    if !back.not_understood.is_empty() {
        words = format!("{words}; {} records are of a newer program", back.not_understood.len());
    }
    let state = match &back.verdict {
        _ if altered > 0 => RecordState::Damaged,
        v if v.is_sound() => RecordState::Sound,
        v if v.allows_appending() => RecordState::CutOff,
        _ => RecordState::Damaged,
    };
    let text = (state != RecordState::Sound || !back.not_understood.is_empty()).then(|| words.clone());
    let kept = gatherer.finish(state, text).unwrap_or_else(|| {
        let mut kept = unread(s, &words);
        kept.row.record = state;
        kept
    });
    let head = match back.verdict {
        crate::journal::Verdict::Clean { head } => Some(head),
        _ => None,
    };
    Ok((kept, head))
}
