//! How things stand, in sentences.

use super::super::{Chair, ScreenName};
use super::sentence;
use crate::protocol::CheckPhase;
use crate::recorder::Store;
use crate::session::{AdviceEntry, ItemStatus};
use crate::tui::keys::Action;
use crate::tui::keys::Place;
use crate::units::trimmed;
use crate::words::Word;

impl<S: Store> Chair<S> {
    /// Whose session it is.
    pub(super) fn client_words(&self) -> String {
        let plan = &self.state().opened.plan;
        let kind = if self.is_practice() { "PRACTICE, simulated skin. Session" } else { "Session" };
        sentence(&format!("{kind} of {}, skin type {}. {}", plan.client.code, plan.client.skin, plan.title))
    }

    /// Which screen this is, and what is set before a pulse can follow.
    pub(super) fn place_words(&self) -> Vec<String> {
        let state = self.state();
        let Some((plan, z)) = state.zone(self.zone) else { return Vec::new() };
        let zone = format!("zone {} of {}, {}", self.zone + 1, state.zones.len(), plan.id);
        match self.screen {
            ScreenName::Checks => vec![self.phase_words()],
            ScreenName::Settings => {
                let mut lines = vec![
                    sentence(&format!("Settings, {zone}, {}", plan.place)),
                    sentence(&format!("Set the device to {}", self.set_words())),
                ];
                if let Some(last) = crate::advice::last_time(state, self.zone) {
                    lines.push(sentence(&last.words()));
                }
                lines
            }
            ScreenName::Treat => {
                let read = if z.confirmed.is_some() { "read back" } else { "not read back" };
                vec![format!("Treat, {zone}. Set {}, {read}.", self.set_words())]
            }
            ScreenName::Pictures => vec!["Pictures, in words.".to_owned()],
            ScreenName::Close => vec![format!("Close. {} pulses in this session.", state.total_pulses())],
        }
    }

    fn set_words(&self) -> String {
        let Some((_, z)) = self.state().zone(self.zone) else { return String::new() };
        format!("{}, {} J a pulse", z.target.line(), trimmed(z.target.energy_joules(), 3))
    }

    fn phase_words(&self) -> String {
        let of = |phase: CheckPhase| {
            let all = self.state().items(phase).count();
            let done = self.state().items(phase).filter(|(_, s)| s.lets_pass()).count();
            format!("{phase} {done} of {all} done")
        };
        let others: Vec<String> = CheckPhase::ALL.iter().filter(|p| **p != self.phase).map(|p| of(*p)).collect();
        format!("Checks, {}; {}.", of(self.phase), others.join(", "))
    }

    /// Everything, in the order of what matters.
    pub(super) fn status_words(&self) -> Vec<String> {
        let state = self.state();
        let mut lines = vec![self.client_words()];
        if let Some(item) = state.hard_stop() {
            lines.push(format!("TREATMENT REFUSED by a check: {}", sentence(&item.question)));
        }
        let open = state.open_advice();
        for (i, entry) in open.iter().enumerate() {
            lines.extend(self.advice_words(entry, &format!("Advice {} of {}", i + 1, open.len())));
        }
        if open.is_empty() && state.hard_stop().is_none() {
            lines.push("Nothing flagged from what was entered.".to_owned());
        }
        lines.extend(self.place_words());
        lines.extend(self.zone_words());
        match self.screen {
            ScreenName::Checks => lines.extend(self.left_words()),
            ScreenName::Close => {
                // Signs of urgency and list marks are for the eye; the words beside them say the same.
                let marks = ['!', '?', '~', '-', ' '];
                lines.extend(self.close_sheet(u16::MAX).words().iter().map(|l| l.trim_start_matches(marks).to_owned()));
            }
            ScreenName::Settings => lines.extend(self.mismatch_words()),
            ScreenName::Treat | ScreenName::Pictures => {}
        }
        lines.push(self.saved_sentence());
        if self.screen == ScreenName::Checks && self.dialog.is_none() {
            lines.extend(self.item_words(true).iter().map(|l| sentence(l)));
        } else {
            lines.extend(self.asked_words());
        }
        lines
    }

    /// Items of the phase that still wait.
    fn left_words(&self) -> Vec<String> {
        let items = self.phase_items();
        let waits = items.iter().enumerate().filter(|(_, (_, s))| !s.lets_pass());
        waits
            .map(|(i, (item, s))| {
                let how = match s {
                    ItemStatus::Blocked => ", blocks",
                    ItemStatus::HardStop => ", refuses",
                    _ => "",
                };
                sentence(&format!("Item {}{how}: {}", i + 1, item.question))
            })
            .collect()
    }

    /// The zone at hand: its pass, its count, what was seen, the clocks.
    fn zone_words(&self) -> Vec<String> {
        let state = self.state();
        let (Some((plan, z)), Some((number, counted, planned))) = (state.zone(self.zone), self.pass_on_screen()) else {
            return Vec::new();
        };
        let running = state.active == Some(self.zone);
        let how = match (running, z.outcome) {
            (true, _) if state.paused => "paused".to_owned(),
            (true, _) => "running".to_owned(),
            (false, Some(outcome)) => format!("zone {}", outcome.spoken()),
            (false, None) if number > plan.passes => "all planned passes done".to_owned(),
            (false, None) => "not started".to_owned(),
        };
        let mut lines = vec![
            format!("Zone {}, pass {} of {}, {how}.", plan.id, number.min(plan.passes.max(1)), plan.passes),
            format!("{counted} of {planned} pulses, {} in the zone, {} in all.", z.total(), state.total_pulses()),
        ];
        if z.passes.is_empty() && z.responses.is_empty() {
            return lines;
        }
        if let Some(pass) = z.passes.last().filter(|_| running) {
            let overlap = match z.implied_overlap_percent(plan, pass) {
                Some(o) if o >= 0.0 => format!("{} percent", trimmed(o, 0)),
                _ => "none yet".to_owned(),
            };
            let points = trimmed(z.mean_pulses_per_point(plan), 2);
            lines.push(format!("Overlap {overlap}, planned {}; {points} pulses per point.", plan.overlap));
        }
        match z.responses.last() {
            Some(r) => {
                let grade = r.grade.map(|g| format!(" {g}")).unwrap_or_default();
                let at = r.at.format("%H:%M:%S");
                lines.push(format!(
                    "Last seen: {}{grade}, at pulse {} of pass {}, {at}.",
                    r.kind.spoken(),
                    r.pulses,
                    r.pass
                ));
            }
            None => lines.push("No response noted in this zone.".to_owned()),
        }
        lines.push(self.whitening_sentence());
        lines.extend(self.wait_sentence());
        if let Some(t) = state.train {
            lines.push(format!("Train runs at {} hertz, {} pulses so far.", trimmed(t.rate_hz, 2), t.counted));
        }
        lines.push(match (state.opened.device.counter, state.counter.last) {
            (None, _) => "The device has no counter.".to_owned(),
            (Some(_), None) => "Device counter not read.".to_owned(),
            (Some(_), Some(last)) => {
                format!("Device counter {last}, {} counted since.", state.counter.counted_since)
            }
        });
        if let Some(line) = &self.line {
            lines.push(sentence(&line.words().1));
        }
        lines
    }

    /// The clock of the pass spacing.
    pub(super) fn wait_sentence(&self) -> Option<String> {
        Some(match self.pass_wait_ms()? {
            0 => "The wait between passes is over.".to_owned(),
            left => format!("Wait {} before the next pass.", time_words(left)),
        })
    }

    /// The whitening's clock.
    pub(super) fn whitening_sentence(&self) -> String {
        let state = self.state();
        let Some(w) = state.zone(self.zone).and_then(|(_, z)| z.whitening) else {
            return "No whitening noted.".to_owned();
        };
        let ms = state.session_ms(self.recorder.now());
        let grade = w.grade.map(|g| format!(" {g}")).unwrap_or_default();
        match w.faded_ms {
            None => format!("White{grade} for {}.", time_words(ms.saturating_sub(w.seen_ms))),
            Some(faded) => format!("Whitening{grade} faded after {}.", time_words(faded.saturating_sub(w.seen_ms))),
        }
    }

    /// An advice in full, from its level to what answers it.
    pub(super) fn advice_words(&self, entry: &AdviceEntry, what: &str) -> Vec<String> {
        let a = &entry.advice;
        let place = match (&a.zone, a.pass) {
            (Some(zone), Some(pass)) => format!(", zone {zone}, pass {pass}"),
            (Some(zone), None) => format!(", zone {zone}"),
            _ => String::new(),
        };
        let mut lines = vec![format!("{what}: {}{place}.", entry.level), sentence(&a.seen)];
        lines.push(sentence(&self.action_words(&a.action)));
        if let (Some(from), Some(to)) = (a.from, a.to)
            && !(a.action.contains(&from.dose()) && a.action.contains(&to.dose()))
        {
            lines.push(format!("From {} to {}.", from.dose(), to.dose()));
        }
        if let Some(other) = a.alternative {
            lines.push(format!("Or the larger spot: {}.", other.dose()));
        }
        lines.push(sentence(&format!("Why: {}", a.why)));
        if entry.pulses_since > 0 {
            lines.push(format!("{} pulses since it was advised.", entry.pulses_since));
        }
        let top = self.state().open_advice().first().map(|top| (top.id, top.level));
        lines.push(match top {
            // An answer goes to the most urgent one.
            Some((id, level)) if id != entry.id => format!("It waits behind {level}, which is answered first."),
            _ => {
                let other = if a.alternative.is_some() { "alternative, " } else { "" };
                let go = if self.screen == ScreenName::Treat { "Answer" } else { "Type go-treat, then answer" };
                format!("{go}: accept, {other}decline or stop.")
            }
        });
        lines
    }

    /// Whether what was recorded is on disk.
    pub(super) fn saved_sentence(&self) -> String {
        let last = self.state().last.seq;
        if let Some((since, why)) = self.store().failure() {
            let n = last.saturating_sub(since.saturating_sub(1));
            let at = self.unsaved_at.front().map(|(_, at)| at.format(" since %H:%M:%S").to_string());
            return format!(
                "NOT SAVED: {n} events{}, kept in memory only. {}. Type save-elsewhere for another directory.",
                at.unwrap_or_default(),
                sentence(&why).trim_end_matches('.'),
            );
        }
        match last.saturating_sub(self.store().saved_upto()) {
            0 => "All saved.".to_owned(),
            n => format!("Saving: {n} not on disk yet."),
        }
    }

    /// What can be typed now.
    pub(super) fn help_words(&self) -> Vec<String> {
        if self.dialog.is_some() {
            let mut lines = self.asked_words();
            lines.push("Also status and help. back leaves the question; nothing is taken then.".to_owned());
            return lines;
        }
        let names: Vec<&str> = self.names_here();
        let mut lines = Vec::new();
        if self.form.in_field() && self.screen == ScreenName::Settings {
            lines.push(
                "Type the value that the device shows, skip to leave the field as it is, or back for the row below."
                    .to_owned(),
            );
        }
        lines.push(format!("You can type: {}.", names.join(", ")));
        lines.push(
            "An answer may follow its word, such as: count 40, whitening 2, value OP-7, note and its text.".to_owned(),
        );
        lines.push(
            "status says how things stand; help and a word explains the word; help all explains all; help screen \
             explains the screen. An empty line changes nothing. Keys by their names work too."
                .to_owned(),
        );
        lines
    }

    /// Actions that work here; those that only concern a picture are left out.
    fn names_here(&self) -> Vec<&'static str> {
        let hints = self.keys.hints(&self.places());
        hints.iter().map(|h| h.action).filter(|a| !concerns_a_picture(*a)).map(Word::word).collect()
    }

    /// What one word, or every word, does.
    pub(super) fn help_on(&self, word: &str) -> Vec<String> {
        if word == "screen" {
            let mut lines = vec![super::super::view::figures::purpose(self.screen).to_owned()];
            lines.extend(super::super::view::figures::figures(self.screen).iter().map(|l| sentence(l)));
            return lines;
        }
        let places = if word == "all" { self.places() } else { Place::ALL.to_vec() };
        let hints = self.keys.hints(&places);
        let named = |a: Action| a.word() == word || word == "all" && !concerns_a_picture(a);
        let lines: Vec<String> = hints
            .iter()
            .filter(|h| named(h.action))
            .map(|h| format!("{}, key {}: {}", h.action.word(), h.keys().replace('/', " or "), h.help))
            .collect();
        if lines.is_empty() { vec![format!("There is no word {word}. Type help for the words.")] } else { lines }
    }
}

/// Actions that change only how a screen looks or rings.
pub(super) const fn concerns_a_picture(action: Action) -> bool {
    matches!(action, Action::Far | Action::Bell | Action::Repaint | Action::NextTheme)
}

/// `1 minute 5 seconds`.
fn time_words(ms: u64) -> String {
    let one = |n: u64, word: &str| format!("{n} {word}{}", if n == 1 { "" } else { "s" });
    let s = ms / 1000;
    match (s / 60, s % 60) {
        (0, s) => one(s, "second"),
        (m, 0) => one(m, "minute"),
        (m, s) => format!("{} {}", one(m, "minute"), one(s, "second")),
    }
}
