//! The supervisor's screens: the list of sessions, one session, a client's course, statistics, progress.
//!
//! What must be read from disk comes through a [`Library`]; the screens know none.

mod run;
mod view;

pub use run::{ReviewMsg, run_review};

use super::chord::{Chord, Key, Stroke};
use super::events::Stamped;
use super::keymap::KeyTable;
use super::keys::{Action, Place};
use super::theme::{Glyphs, Theme};
use crate::practice::debrief::Debrief;
use crate::review::{
    ClientCourse, Filter, Kept, Progress, Row, SessionReview, SortKey, Statistics, client_course, sort, statistics,
};
use crate::session::State;
use crate::words::Word;
use crossterm::event::Event;
use std::cell::Cell;

/// A session that was opened.
pub struct Opened {
    /// What is known of it.
    pub review: SessionReview,
    /// Its state at the end.
    pub state: State,
}

/// What the screens ask for and what lies on a disk. Errors are in words.
pub trait Library {
    /// A session in full.
    ///
    /// # Errors
    /// When nothing of it can be read.
    fn session(&self, id: &str) -> Result<Opened, String>;
    /// What a session of practice was worth.
    ///
    /// # Errors
    /// When it cannot be judged.
    fn debrief(&self, id: &str) -> Result<Debrief, String>;
    /// All treatments, or all of PRACTICE, with what could not be looked at.
    ///
    /// # Errors
    /// When the directory cannot be read.
    fn list(&self, practice: bool) -> Result<(Vec<Kept>, Vec<String>), String>;
    /// Progress in practice.
    ///
    /// # Errors
    /// As [`Self::list`].
    fn progress(&self) -> Result<Vec<Progress>, String>;
}

/// A part of an opened session.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Part {
    Overview,
    Picture,
    Charts,
    Timeline,
}

const PARTS: [Part; 4] = [Part::Overview, Part::Picture, Part::Charts, Part::Timeline];

/// What lies over the list.
enum Over {
    Session(Box<Opened>, Part),
    Debrief(Box<Debrief>),
    Course(ClientCourse),
    Statistics(Box<Statistics>),
    Progress(Vec<Progress>),
}

/// The supervisor's screens.
pub struct Review {
    library: Box<dyn Library>,
    kept: Vec<Kept>,
    problems: Vec<String>,
    /// True while journals are still being read.
    reading: bool,
    /// What was asked for on the command line.
    asked: Filter,
    /// What is being typed or was typed, and whether the cursor stands in it.
    typed: String,
    typing: bool,
    sort: SortKey,
    /// Places in `kept` that are shown, in order.
    order: Vec<usize>,
    chosen: usize,
    over: Vec<(Over, usize)>,
    help: bool,
    message: Option<String>,
    theme: Theme,
    glyphs: Glyphs,
    keys: KeyTable<Place, Action>,
    /// Rows of lines that were drawn last, and how many lines there were.
    drawn: Cell<(usize, usize)>,
    finished: bool,
}

impl Review {
    /// Screens over this library, with what the command line asks for.
    #[must_use]
    pub fn new(library: Box<dyn Library>, asked: Filter, sort: SortKey, theme: Theme, glyphs: Glyphs) -> Self {
        Self {
            library,
            kept: Vec::new(),
            problems: Vec::new(),
            reading: true,
            asked,
            typed: String::new(),
            typing: false,
            sort,
            order: Vec::new(),
            chosen: 0,
            over: Vec::new(),
            help: false,
            message: None,
            theme,
            glyphs,
            keys: super::keys::table(),
            drawn: Cell::new((1, 0)),
            finished: false,
        }
    }

    /// Takes other keys.
    #[must_use]
    pub fn keys(mut self, keys: KeyTable<Place, Action>) -> Self {
        self.keys = keys;
        self
    }

    /// Says something in the row above the keys, until a key is pressed.
    pub fn tell(&mut self, message: Option<String>) {
        self.message = message;
    }

    /// Takes sessions while others are still being read.
    pub fn add(&mut self, mut more: Vec<Kept>) {
        self.kept.append(&mut more);
        self.arrange();
    }

    /// Takes all sessions, in the place of those it had.
    pub fn set(&mut self, kept: Vec<Kept>, problems: Vec<String>) {
        let chosen = self.chosen_row().map(|r| r.session.clone());
        (self.kept, self.problems, self.reading) = (kept, problems, false);
        self.arrange();
        if let Some(id) = chosen {
            let same = |i: &usize| self.kept.get(*i).is_some_and(|k| k.row.session == id);
            self.chosen = self.order.iter().position(same).unwrap_or(0);
        }
    }

    /// Opens a session over the list, as with its key.
    pub fn open(&mut self, id: &str) {
        match self.library.session(id) {
            Ok(opened) => self.over.push((Over::Session(Box::new(opened), Part::Overview), 0)),
            Err(why) => self.message = Some(why),
        }
    }

    /// Shows the statistics over the list.
    pub fn show_statistics(&mut self) {
        let counted = self.order.iter().filter_map(|i| self.kept.get(*i));
        let figures = statistics(counted, self.asked.practice);
        self.over.push((Over::Statistics(Box::new(figures)), 0));
    }

    /// Shows a client's course over the list.
    pub fn show_course(&mut self, client: &str) {
        match client_course(client, &self.kept) {
            Some(course) => self.over.push((Over::Course(course), 0)),
            None => self.message = Some(format!("no treatment of client {client}")),
        }
    }

    /// Shows the progress in practice over the list.
    pub fn show_progress(&mut self) {
        match self.library.progress() {
            Ok(all) => self.over.push((Over::Progress(all), 0)),
            Err(why) => self.message = Some(why),
        }
    }

    /// True when somebody has left.
    #[must_use]
    pub const fn is_finished(&self) -> bool {
        self.finished
    }

    fn filter(&self) -> Filter {
        self.asked.typed(&self.typed)
    }

    fn arrange(&mut self) {
        let filter = self.filter();
        let shows = |i: &usize| self.kept.get(*i).is_some_and(|k| filter.shows(&k.row));
        self.order = (0..self.kept.len()).filter(shows).collect();
        sort(&mut self.order, |i| self.kept.get(i).map(|k| &k.row), self.sort);
        self.chosen = self.chosen.min(self.order.len().saturating_sub(1));
    }

    fn chosen_row(&self) -> Option<&Row> {
        self.order.get(self.chosen).and_then(|i| self.kept.get(*i)).map(|k| &k.row)
    }

    /// Takes what the terminal sent.
    pub fn update(&mut self, input: &Stamped<Event>) {
        let Event::Key(key) = &input.what else { return };
        let Some((chord, stroke)) = Chord::read(key) else { return };
        if stroke == Stroke::Release {
            return;
        }
        self.message = None;
        if self.typing {
            self.typed_in(chord);
            return;
        }
        if chord == (Chord { ctrl: true, ..Chord::char('c') }) {
            self.finished = true;
            return;
        }
        let Some(action) = self.keys.lookup(&[Place::Review], chord) else {
            self.help = false;
            return;
        };
        if self.help && !matches!(action, Action::Quit) {
            self.help = false;
            return;
        }
        self.act(action);
    }

    fn typed_in(&mut self, chord: Chord) {
        match chord.key {
            Key::Enter => self.typing = false,
            Key::Esc => {
                self.typing = false;
                self.typed.clear();
            }
            Key::Backspace => drop(self.typed.pop()),
            Key::Char('c') if chord.ctrl => self.finished = true,
            _ => self.typed.extend(chord.typed().filter(|_| self.typed.chars().count() < 200)),
        }
        self.chosen = 0;
        self.arrange();
    }

    fn act(&mut self, action: Action) {
        match action {
            Action::Help => self.help = true,
            Action::Quit => self.finished = true,
            Action::Back if self.over.pop().is_none() => self.finished = true,
            Action::NextPart => self.turn(1),
            Action::PartBefore => self.turn(PARTS.len() - 1),
            Action::Down | Action::Up | Action::PageOn | Action::PageBack | Action::First | Action::Last => {
                self.go(action);
            }
            Action::Course => {
                let code = match self.over.last() {
                    Some((Over::Session(opened, _), _)) => Some(opened.review.summary.client_code.clone()),
                    _ => self.chosen_row().and_then(|r| r.client_code.clone()),
                };
                match code {
                    Some(code) => self.show_course(&code),
                    None => self.message = Some("no client code is known of this session".to_owned()),
                }
            }
            Action::Statistics => self.show_statistics(),
            Action::Progress => self.show_progress(),
            Action::Debrief => self.show_debrief(),
            _ if !self.over.is_empty() => {}
            Action::Open => {
                if let Some(id) = self.chosen_row().map(|r| r.session.clone()) {
                    self.open(&id);
                }
            }
            Action::Search => self.typing = true,
            Action::Sort => {
                let at = SortKey::ALL.iter().position(|k| *k == self.sort).unwrap_or(0);
                self.sort = SortKey::ALL.get((at + 1) % SortKey::ALL.len()).copied().unwrap_or(self.sort);
                self.arrange();
            }
            Action::PracticeList => self.other_list(),
            _ => {}
        }
    }

    fn other_list(&mut self) {
        match self.library.list(!self.asked.practice) {
            Ok((kept, problems)) => {
                self.asked.practice = !self.asked.practice;
                self.chosen = 0;
                self.set(kept, problems);
            }
            Err(why) => self.message = Some(why),
        }
    }

    fn show_debrief(&mut self) {
        let (id, practice) = match self.over.last() {
            Some((Over::Session(o, _), _)) => (o.review.summary.session.clone(), o.review.summary.practice.is_some()),
            _ => match self.chosen_row() {
                Some(row) => (row.session.clone(), row.practice.is_some()),
                None => return,
            },
        };
        if !practice {
            self.message = Some("a treatment has no debrief: that is for practice".to_owned());
            return;
        }
        match self.library.debrief(&id) {
            Ok(debrief) => self.over.push((Over::Debrief(Box::new(debrief)), 0)),
            Err(why) => self.message = Some(why),
        }
    }

    fn turn(&mut self, by: usize) {
        if let Some((Over::Session(_, part), first)) = self.over.last_mut() {
            let at = PARTS.iter().position(|p| p == part).unwrap_or(0);
            *part = PARTS.get((at + by) % PARTS.len()).copied().unwrap_or(Part::Overview);
            *first = 0;
        }
    }

    fn go(&mut self, action: Action) {
        let (rows, lines) = self.drawn.get();
        let page = rows.saturating_sub(1).max(1);
        let (at, last) = match self.over.last_mut() {
            Some((_, first)) => (first, lines.saturating_sub(rows)),
            None => (&mut self.chosen, self.order.len().saturating_sub(1)),
        };
        *at = match action {
            Action::Down => at.saturating_add(1),
            Action::Up => at.saturating_sub(1),
            Action::PageOn => at.saturating_add(page),
            Action::PageBack => at.saturating_sub(page),
            Action::First => 0,
            _ => last,
        }
        .min(last);
    }
}
