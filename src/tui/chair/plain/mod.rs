//! The session in lines, for a screen reader, a braille display or a pipe: the same chair, heard instead of seen.
//!
//! A [`Teller`] remembers what it has said. [`Teller::typed`] takes a line: the name of an action or one of its keys, or,
//! while something is asked, the answer. [`Teller::news`] says what has changed since it spoke last. Whatever changes
//! the session goes through [`Chair`] as a key would. A line is harmless to show, and whole: no columns, no drawing.

mod ask;
mod status;
#[cfg(test)]
mod tests;
mod typed;

use super::{Chair, ScreenName};
use crate::protocol::CheckPhase;
use crate::recorder::Store;
use crate::session::{AdviceAnswer, AdviceStatus, Level};
use crate::text::{shown, wrapped};
use crate::tui::announce::{Announcer, Heard};

/// Columns of a line where words allow it: what most braille displays take in one or two turns.
const COLUMNS: usize = 70;

/// An answer to an advice, or to a question that the program asks of itself, counts only when its line came this much
/// later than a key would have to: words are heard more slowly than they are seen.
const HEARING_MS: u64 = 700;

/// The same words from outside, such as a refused pulse of the line of pulses, are said again only after this time.
const AGAIN_MS: u64 = 5_000;

/// What was said about an advice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct ToldAdvice {
    level: Level,
    open: bool,
}

/// Says what changes, once.
#[derive(Debug)]
pub struct Teller {
    counts: Announcer,
    place: Option<(ScreenName, CheckPhase, usize)>,
    asked: String,
    advice: Vec<ToldAdvice>,
    top: Option<u64>,
    paused: bool,
    train: bool,
    faded: Option<u64>,
    failed: bool,
    line: Option<bool>,
    mismatches: (usize, u32),
    last_toast: Option<(String, u64)>,
    /// What practice had to show.
    practice: String,
}

impl Teller {
    /// Says the count each time it passes a multiple of `every`, at least 1.
    #[must_use]
    pub fn new(every: u64) -> Self {
        Self {
            counts: Announcer::new(every),
            place: None,
            asked: String::new(),
            advice: Vec::new(),
            top: None,
            paused: false,
            train: false,
            faded: None,
            failed: false,
            line: None,
            mismatches: (0, 0),
            last_toast: None,
            practice: String::new(),
        }
    }

    /// The first lines.
    pub fn begin<S: Store>(&mut self, chair: &mut Chair<S>) -> Vec<String> {
        let mut lines = vec![
            chair.client_words(),
            "An aid for trained, licensed people. The device's manual, the clinic's protocol and local law come first."
                .to_owned(),
            "Type help for what can be typed, status for how things stand.".to_owned(),
        ];
        self.train = chair.state().train.is_some();
        self.paused = chair.state().paused;
        self.changes(chair, false, &mut lines);
        spoken(&lines)
    }

    /// Takes a typed line and says what came of it.
    pub fn typed<S: Store>(&mut self, chair: &mut Chair<S>, line: &str, at_ms: u64) -> typed::Taken {
        let seq = chair.state().last.seq;
        let counted =
            |chair: &Chair<S>| chair.state().running().map(|(zone, .., pass)| (zone, pass.number, pass.counted));
        let before = counted(chair);
        let mut taken = chair.take_line(line, at_ms);
        if taken.again {
            self.asked.clear();
        }
        let mut lines = std::mem::take(&mut taken.lines);
        let silent = lines.is_empty();
        let said_count = self.changes(chair, true, &mut lines);
        // Whoever counts by hand hears each count, the milestones apart.
        if let (Some((zone, pass, was)), Some((z, p, is))) = (before, counted(chair))
            && (zone, pass) == (z, p)
            && was != is
            && !said_count
        {
            let planned = chair.state().running().map_or(0, |(_, plan, z, _)| z.planned_per_pass(plan));
            lines.insert(0, format!("{is} of {planned}."));
        }
        if silent && lines.is_empty() && taken.effects.is_empty() && !chair.is_finished() {
            lines.push(if chair.state().last.seq == seq { "Nothing changed." } else { "Taken." }.to_owned());
        }
        taken.lines = spoken(&lines);
        taken
    }

    /// What has changed since it spoke last, other than by what was typed.
    pub fn news<S: Store>(&mut self, chair: &mut Chair<S>) -> Vec<String> {
        let mut lines = Vec::new();
        self.changes(chair, false, &mut lines);
        spoken(&lines)
    }

    /// Adds what has changed, what is asked last of all; true when it said the count.
    fn changes<S: Store>(&mut self, chair: &mut Chair<S>, typed: bool, lines: &mut Vec<String>) -> bool {
        chair.note_unsaved();
        self.saving(chair, lines);
        self.toast(chair, typed, lines);
        let counts = self.counts.lines(Heard { pass: chair.heard().pass, ..Heard::default() });
        let said_count = counts.iter().any(|line| line.contains(" of "));
        // The chair's own message may have said it already.
        lines.extend(counts.into_iter().filter(|line| lines.last() != Some(line)).collect::<Vec<_>>());
        self.advices(chair, lines);
        self.flags(chair, lines);
        if chair.is_finished() {
            return said_count;
        }
        let place = (chair.screen, chair.phase, chair.zone);
        if self.place != Some(place) {
            self.place = Some(place);
            lines.extend(chair.place_words());
            self.asked.clear();
        }
        // What the eye would see of simulated skin, device and client.
        let practice = chair.practice_words().unwrap_or_default();
        if self.practice != practice {
            if !practice.is_empty() {
                lines.push(sentence(&practice));
            }
            self.practice = practice;
        }
        let asked = chair.asked_key();
        if self.asked != asked {
            self.asked = asked;
            lines.extend(chair.asked_words());
        }
        // From now on what was said may be answered.
        let now = chair.recorder.machine_ms();
        chair.drawn(now.saturating_add(HEARING_MS));
        said_count
    }

    fn saving<S: Store>(&mut self, chair: &Chair<S>, lines: &mut Vec<String>) {
        let failed = chair.store().failure().is_some();
        if failed != self.failed {
            self.failed = failed;
            lines.push(chair.saved_sentence());
        }
    }

    /// What would stand at the foot of the screen.
    fn toast<S: Store>(&mut self, chair: &mut Chair<S>, typed: bool, lines: &mut Vec<String>) {
        let Some(toast) = chair.toast.take() else { return };
        let now = chair.recorder.now().mono_ms;
        let just = |(text, at): &(String, u64)| *text == toast.text && now.saturating_sub(*at) < AGAIN_MS;
        if !typed && self.last_toast.as_ref().is_some_and(just) {
            return;
        }
        lines.push(sentence(&toast.text));
        self.last_toast = Some((toast.text, now));
    }

    fn advices<S: Store>(&mut self, chair: &Chair<S>, lines: &mut Vec<String>) {
        let state = chair.state();
        for (i, entry) in state.advice.iter().enumerate() {
            let now = ToldAdvice { level: entry.level, open: entry.is_open() };
            let told = self.advice.get(i).copied();
            if told == Some(now) {
                continue;
            }
            match told {
                _ if now.open => lines.extend(chair.advice_words(entry, "Advice")),
                None if entry.status == AdviceStatus::Recorded => {
                    lines.push(format!("For the record: {}", sentence(&entry.advice.seen)));
                }
                None | Some(ToldAdvice { open: false, .. }) => {}
                Some(_) => {
                    let how = match &entry.status {
                        AdviceStatus::Answered(AdviceAnswer::Accepted, _) => "accepted".to_owned(),
                        AdviceStatus::Answered(AdviceAnswer::Alternative, _) => "larger spot taken".to_owned(),
                        AdviceStatus::Answered(AdviceAnswer::Declined { .. }, _) => "declined".to_owned(),
                        AdviceStatus::Answered(AdviceAnswer::Stopped, _) => "stopped".to_owned(),
                        AdviceStatus::Cleared(why) => format!("no longer holds, {why}"),
                        AdviceStatus::Open | AdviceStatus::Recorded => "for the record".to_owned(),
                    };
                    lines.push(sentence(&format!("{} {how}: {}", entry.level, entry.advice.seen)));
                }
            }
            match self.advice.get_mut(i) {
                Some(old) => *old = now,
                None => self.advice.push(now),
            }
        }
        // One that waited behind another is what an answer goes to now.
        let open = state.open_advice();
        let top = open.first().map(|a| a.id);
        if top != self.top {
            let was_open = self.top.is_some_and(|id| open.iter().any(|a| a.id == id));
            let new = open.first().is_some_and(|a| Some(a.id) > self.top);
            if let (Some(entry), false, false) = (open.first(), was_open, new) {
                lines.extend(chair.advice_words(entry, "Now on top"));
            }
            self.top = top;
        }
    }

    fn flags<S: Store>(&mut self, chair: &Chair<S>, lines: &mut Vec<String>) {
        let state = chair.state();
        if state.paused != self.paused {
            self.paused = state.paused;
            lines.push(if self.paused { "Paused." } else { "Not paused any more." }.to_owned());
        }
        if state.train.is_some() != self.train {
            self.train = state.train.is_some();
            lines.push(match state.train {
                Some(t) => {
                    format!("Train runs at {} hertz. Type train to stop it.", crate::units::trimmed(t.rate_hz, 2))
                }
                None => "Train stopped.".to_owned(),
            });
        }
        let faded = state.zones.iter().filter_map(|z| z.whitening.and_then(|w| w.faded_ms)).max();
        if faded != self.faded {
            self.faded = faded;
            if faded.is_some() {
                lines.push(chair.whitening_sentence());
            }
        }
        let mismatches = (chair.zone, state.zones.get(chair.zone).map_or(0, |z| z.mismatches));
        if mismatches != self.mismatches {
            self.mismatches = mismatches;
            lines.extend(chair.mismatch_words());
        }
        let open = chair.line.as_ref().map(super::PulseLine::is_open);
        if open != self.line {
            self.line = open;
            if open == Some(true) {
                lines.push("The pulse line is open.".to_owned());
            }
        }
    }
}

/// Made harmless, with one space between words, the signs of drawings as words, and broken at spaces.
pub(super) fn spoken(lines: &[String]) -> Vec<String> {
    lines.iter().flat_map(|line| wrapped(&shown(line).replace(" -> ", " to ").replace('…', "..."), COLUMNS)).collect()
}

/// With a capital and a full stop, where it has none.
fn sentence(text: &str) -> String {
    let text = text.trim();
    let mut chars = text.chars();
    let mut out: String = match chars.next() {
        // A unit, a code or a figure is left as it is.
        Some(c) if text.starts_with("a ") || chars.clone().next().is_some_and(char::is_lowercase) => {
            c.to_uppercase().chain(chars).collect()
        }
        _ => text.to_owned(),
    };
    if !out.is_empty() && !out.ends_with(['.', '?', '!', ':', ';']) {
        out.push('.');
    }
    out
}
