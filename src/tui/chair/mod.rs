//! The session on screen: which screen shows, what is being typed, and how keys become commands.
//!
//! [`Chair::update`] takes keys, [`Chair::view`] draws; everything that changes the session goes through the
//! [`Recorder`]. The chair knows no terminal: it is driven by tests as well as by [`super::run`].

mod dialogs;
mod form;
mod pictures;
pub mod plain;
mod practice;
mod row_by_row;
mod submit;
mod update;
mod view;

use super::announce::Heard;
use super::keymap::KeyTable;
use super::keys::{Action, Place, table};
use super::pace::Pacer;
use super::pulse_line::{LineNews, PulseLine};
use super::theme::{Glyphs, Theme};
use super::widgets::dialog::Question;
use crate::advice::{CHECKS_SCREEN, SETTINGS_SCREEN};
use crate::protocol::{CheckItem, CheckPhase};
use crate::recorder::{RecordError, Recorder, Store};
use crate::session::{Command, Gate, ItemStatus, Level, PulseSource, Refusal, SessionOutcome, State};
use crate::text::shown;
use crate::tui::chord::{Chord, Key};
use crate::words::Word;
use chrono::{DateTime, FixedOffset};
use dialogs::Dialog;
use form::ReadBackForm;
use pictures::Pictures;
use row_by_row::RowByRow;
use std::collections::VecDeque;

/// The screens of a session.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ScreenName {
    /// Sign in, time out, sign out.
    Checks,
    /// Settings read-back.
    Settings,
    /// Treating.
    Treat,
    /// Closing.
    Close,
    /// Pictures of the setting and the session.
    Pictures,
}

/// What the shell must do after an update.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Effect {
    /// Suspend to the shell.
    Suspend,
    /// Draw every cell anew.
    Repaint,
    /// Let so much time pass at once, ms.
    LetPass(u64),
}

/// How long a message stays, in milliseconds.
const TOAST_MS: u64 = 6_000;

/// A short message at the foot of the screen.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Toast {
    text: String,
    warning: bool,
    until_ms: u64,
}

/// The session on screen.
pub struct Chair<S> {
    recorder: Recorder<S>,
    theme: Theme,
    /// Themes by name, to change to.
    themes: Vec<(String, Theme)>,
    glyphs: Glyphs,
    keys: KeyTable<Place, Action>,
    screen: ScreenName,
    phase: CheckPhase,
    chosen_item: usize,
    zone: usize,
    form: ReadBackForm,
    dialog: Option<Dialog>,
    help: Option<u16>,
    toast: Option<Toast>,
    pacer: Pacer<Chord>,
    advice_seen: Option<(u64, Question)>,
    unsaved_at: VecDeque<(u64, DateTime<FixedOffset>)>,
    row_by_row: RowByRow,
    line: Option<PulseLine>,
    far: bool,
    pictures: Pictures,
    bell_off: bool,
    rung: Option<(u64, Level)>,
    finished: bool,
    demonstrating: bool,
}

impl<S: Store> Chair<S> {
    /// A chair for a session that was just opened or resumed.
    pub fn new(recorder: Recorder<S>, theme: Theme, glyphs: Glyphs) -> Self {
        let zone = recorder.state().active.unwrap_or(0);
        let mut chair = Self {
            recorder,
            theme,
            themes: Vec::new(),
            glyphs,
            keys: table(),
            screen: ScreenName::Checks,
            phase: CheckPhase::SignIn,
            chosen_item: 0,
            zone,
            form: ReadBackForm::new(),
            dialog: None,
            help: None,
            toast: None,
            pacer: Pacer::new(),
            advice_seen: None,
            unsaved_at: VecDeque::new(),
            row_by_row: RowByRow::default(),
            line: None,
            far: false,
            pictures: Pictures::new(),
            bell_off: false,
            rung: None,
            finished: false,
            demonstrating: false,
        };
        chair.screen = chair.where_to_go_on();
        chair.phase = chair.first_phase();
        chair.choose_open_item();
        chair.note_unsaved();
        chair
    }

    /// With other keys than the standard ones.
    #[must_use]
    pub fn with_keys(mut self, keys: KeyTable<Place, Action>) -> Self {
        self.keys = keys;
        self
    }

    /// With a foot switch whose contact bounces for so long, ms; 0 for none.
    #[must_use]
    pub fn with_bounce(mut self, bounce_ms: u64) -> Self {
        self.pacer.bouncing(bounce_ms);
        self
    }

    /// With themes to change among, the one at a place first.
    #[must_use]
    pub fn with_themes(mut self, mut themes: Vec<(String, Theme)>, at: usize) -> Self {
        let at = at.min(themes.len());
        themes.rotate_left(at);
        if let Some((_, theme)) = themes.first() {
            self.theme = theme.clone();
        }
        self.themes = themes;
        self
    }

    /// Goes on to the next theme.
    fn next_theme(&mut self) {
        if self.themes.is_empty() {
            return;
        }
        self.themes.rotate_left(1);
        if let Some((name, theme)) = self.themes.first().cloned() {
            self.theme = theme;
            self.toast(format!("theme {name}"), false);
        }
    }

    /// The key that does something on the treat screen or anywhere, for texts that name it.
    fn key_of(&self, action: Action) -> String {
        self.key_in(&[Place::Advice, Place::Treat, Place::NotInText, Place::Anywhere], action)
    }

    /// The key that does something in one place.
    fn key_at(&self, place: Place, action: Action) -> String {
        self.key_in(&[place, Place::NotInText, Place::Anywhere], action)
    }

    fn key_in(&self, places: &[Place], action: Action) -> String {
        match self.keys.key_for(places, action) {
            // As it stands on the keyboard; another key's capital would be another key.
            Some(chord @ Chord { key: Key::F(_), .. }) => chord.to_string().to_uppercase(),
            Some(chord) => chord.to_string(),
            None => "-".to_owned(),
        }
    }

    /// What an advice asks for, with the key of each screen that it names.
    fn action_words(&self, action: &str) -> String {
        let screens = [(CHECKS_SCREEN, Action::GoChecks), (SETTINGS_SCREEN, Action::GoSettings)];
        screens
            .iter()
            .fold(shown(action), |text, (screen, go)| text.replace(screen, &format!("{screen} ({})", self.key_of(*go))))
    }

    /// The keys that answer the advice on top.
    fn answer_keys(&self) -> String {
        let larger = self.state().open_advice().first().is_some_and(|a| a.advice.alternative.is_some());
        let larger = if larger { format!("{} larger spot  ", self.key_of(Action::Alternative)) } else { String::new() };
        let [accept, decline, stop] = [Action::Accept, Action::Decline, Action::Stop].map(|a| self.key_of(a));
        format!(" {accept} accept  {larger}{decline} decline  {stop} stop ")
    }

    /// The session.
    pub const fn state(&self) -> &State {
        self.recorder.state()
    }

    /// The store, to look at.
    pub const fn store(&self) -> &S {
        self.recorder.sink()
    }

    /// Ends the screen and gives the store back, so that it can be closed.
    pub fn into_store(self) -> S {
        self.recorder.into_sink()
    }

    /// True once the session is closed or was left.
    pub const fn is_finished(&self) -> bool {
        self.finished
    }

    /// Records that the program is being stopped from outside.
    pub fn interrupt(&mut self, cause: &str) {
        // The last thing that happens: a refusal or a failing store changes nothing about that.
        drop(self.recorder.command(Command::Interrupt { cause: cause.to_owned() }));
    }

    /// Ends a running train, as before a suspend.
    pub fn stop_train(&mut self) {
        self.send(Command::StopTrain);
    }

    /// Says something at the foot of the screen.
    pub fn say(&mut self, text: impl Into<String>) {
        self.toast(text, false);
    }

    /// Records what was found beside the session. Nobody at the chair asked for it, so a refusal is told to nobody.
    pub fn record(&mut self, command: Command) {
        drop(self.recorder.command(command));
        self.note_unsaved();
    }

    /// Takes what came on the line of pulses. A pulse that cannot be counted is refused on screen like any other.
    pub fn pulse_line(&mut self, news: LineNews) {
        let at_ms = self.recorder.now().mono_ms;
        let was_lost = matches!(news, LineNews::Lost(_));
        if self.line.get_or_insert_default().take(news, at_ms) {
            self.send(Command::Fire { n: 1, source: PulseSource::Line });
        } else if was_lost {
            self.warn("the pulse line is lost: count by key until it is back");
        }
    }

    /// What somebody who listens should know.
    pub fn heard(&self) -> Heard {
        let state = self.state();
        let pass = state
            .running()
            .map(|(_, plan, z, pass)| (plan.id.to_string(), pass.number, pass.counted, z.planned_per_pass(plan)));
        let advice =
            state.open_advice().first().map(|a| (a.id, a.level, shown(&a.advice.action), shown(&a.advice.seen)));
        let question = self.dialog.as_ref().map(|d| crate::text::shown(&d.spoken()));
        Heard { pass, advice, question, not_saved: self.store().failure().is_some() }
    }

    /// Says at the foot of the screen what is wrong.
    pub fn warn(&mut self, text: impl Into<String>) {
        self.toast(text, true);
    }

    /// True while a pass runs: then the program must not stop for a suspend.
    pub fn is_treating(&self) -> bool {
        self.state().active.is_some()
    }

    /// Lets time pass; true when the screen must be drawn anew.
    pub fn tick(&mut self) -> bool {
        let recorded = match self.recorder.tick() {
            Ok(recorded) => recorded,
            Err(e) => {
                self.toast(e.to_string(), true);
                true
            }
        };
        self.note_unsaved();
        recorded || self.has_timers() || self.drop_old_toast()
    }

    /// True when something on screen changes with time alone.
    pub fn has_timers(&self) -> bool {
        let state = self.state();
        let waits = |z: &crate::session::ZoneState| z.is_white() || z.last_ended_ms().is_some();
        self.screen == ScreenName::Treat && (state.train.is_some() || state.zones.iter().any(waits))
            || self.screen == ScreenName::Checks && !state.anaesthetics.is_empty()
            || self.toast.is_some()
    }

    fn drop_old_toast(&mut self) -> bool {
        let now = self.recorder.now().mono_ms;
        let old = self.toast.as_ref().is_some_and(|t| t.until_ms <= now);
        if old {
            self.toast = None;
        }
        old
    }

    fn toast(&mut self, text: impl Into<String>, warning: bool) {
        // A message is read at life's pace, however fast the time of practice runs.
        let speed = self.state().opened.practice.as_ref().map_or(1.0, |run| run.speed);
        let until_ms = self.recorder.now().mono_ms.saturating_add((TOAST_MS as f64 * speed) as u64);
        self.toast = Some(Toast { text: text.into(), warning, until_ms });
    }

    /// Sends a command; a refusal is shown, and asked about where it can be. True when it was taken.
    fn send(&mut self, command: Command) -> bool {
        match self.try_send(command) {
            Ok(()) => true,
            Err(Some(refusal)) => {
                self.toast(refusal.to_string(), true);
                false
            }
            Err(None) => false,
        }
    }

    /// Sends a command and hands a refusal back; a failing store is shown.
    fn try_send(&mut self, command: Command) -> Result<(), Option<Refusal>> {
        let result = self.recorder.command(command);
        self.note_unsaved();
        match result {
            Ok(()) => {
                self.toast = None;
                Ok(())
            }
            Err(RecordError::Refused(refusal)) => Err(Some(refusal)),
            Err(RecordError::Sink(e)) => {
                self.toast(format!("NOT RECORDED: {e}"), true);
                Err(None)
            }
        }
    }

    /// Remembers since when events are not saved.
    pub fn note_unsaved(&mut self) {
        let saved = self.store().saved_upto();
        let last = self.state().last;
        while self.unsaved_at.front().is_some_and(|(seq, _)| *seq <= saved) {
            self.unsaved_at.pop_front();
        }
        let known = self.unsaved_at.back().map_or(saved, |(seq, _)| *seq);
        if last.seq > known {
            self.unsaved_at.push_back((last.seq, last.at));
        }
    }

    fn zone_count(&self) -> usize {
        self.state().zones.len()
    }

    fn zone_id(&self) -> Option<crate::plan::ZoneId> {
        self.state().zone(self.zone).map(|(plan, _)| plan.id.clone())
    }

    /// The screen on which the session goes on.
    fn where_to_go_on(&self) -> ScreenName {
        let state = self.state();
        if state.active.is_some() {
            return ScreenName::Treat;
        }
        if state.hard_stop().is_some() || state.items_in_the_way(CheckPhase::SignIn) > 0 {
            return ScreenName::Checks;
        }
        match state.gate(self.zone) {
            Some(Gate::ReadBack(_)) => ScreenName::Settings,
            Some(_) => ScreenName::Checks,
            None => ScreenName::Treat,
        }
    }

    fn first_phase(&self) -> CheckPhase {
        let open = |p: &CheckPhase| self.state().items_in_the_way(*p) > 0;
        CheckPhase::ALL.iter().copied().find(open).unwrap_or(CheckPhase::SignIn)
    }

    /// Items of the phase on screen.
    fn phase_items(&self) -> Vec<(&CheckItem, crate::session::ItemStatus)> {
        self.state().items(self.phase).collect()
    }

    fn choose_open_item(&mut self) {
        let items = self.phase_items();
        let n = items.len();
        let open = |i: &usize| items.get(*i).is_some_and(|(_, s)| !s.lets_pass());
        let refuses = |i: &usize| items.get(*i).is_some_and(|(_, s)| *s == ItemStatus::HardStop);
        let next = (0..n).find(refuses).or_else(|| (self.chosen_item..n).find(open)).or_else(|| (0..n).find(open));
        self.chosen_item = next.unwrap_or(self.chosen_item).min(n.saturating_sub(1));
    }

    /// How the session would be closed as things stand.
    fn fitting_outcome(&self) -> SessionOutcome {
        let state = self.state();
        if state.total_pulses() > 0 {
            let stopped = state.zones.iter().any(|z| z.outcome == Some(crate::session::ZoneOutcome::Stopped));
            if stopped { SessionOutcome::Stopped } else { SessionOutcome::Completed }
        } else if state.hard_stop().is_some() || state.any_blocked() {
            SessionOutcome::Refused
        } else {
            SessionOutcome::NotTreated
        }
    }
}
