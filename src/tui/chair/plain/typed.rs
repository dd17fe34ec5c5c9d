//! A typed line becomes an action or an answer, by the way that a key would go.
//!
//! An empty line never does anything. A question that may be left empty is left so by the word `skip`.

use super::super::dialogs::{Choice, ChoiceDialog, Dialog};
use super::super::{Chair, Effect, ScreenName};
use super::ask::choices;
use super::sentence;
use super::status::concerns_a_picture;
use crate::recorder::Store;
use crate::text::shown;
use crate::tui::chord::{Chord, Key, Stroke};
use crate::tui::keys::{Action, Place};
use crate::words::Word;
use unicode_width::UnicodeWidthChar;

/// What came of a line.
#[derive(Debug, Default)]
pub struct Taken {
    /// What is said about it.
    pub lines: Vec<String>,
    /// What the shell must do.
    pub effects: Vec<Effect>,
    /// What is asked is to be said once more.
    pub(super) again: bool,
}

impl Taken {
    fn said(line: impl Into<String>) -> Self {
        Self { lines: vec![line.into()], ..Self::default() }
    }

    fn all(lines: Vec<String>) -> Self {
        Self { lines, ..Self::default() }
    }
}

/// A word of a line, as an action or not.
pub(super) enum Meaning {
    Act(Action),
    /// It works on other screens only.
    Elsewhere(Action, Vec<Place>),
    Nothing,
}

/// Actions whose question may be answered on the same line.
const ASKS: [Action; 16] = [
    Action::No,
    Action::Value,
    Action::LowerStep,
    Action::RaiseStep,
    Action::Count,
    Action::Correct,
    Action::Counter,
    Action::Whitening,
    Action::Responses,
    Action::Pain,
    Action::Note,
    Action::Remark,
    Action::Decline,
    Action::EndZone,
    Action::StartPass,
    Action::SaveElsewhere,
];

impl<S: Store> Chair<S> {
    pub(super) fn take_line(&mut self, line: &str, at_ms: u64) -> Taken {
        // What nobody can see is nothing; beside what can be seen it is shown, so that it never hides what a line says.
        let unseen = |c: char| c.is_whitespace() || c.width().unwrap_or(0) == 0;
        let line = if line.chars().all(unseen) { String::new() } else { shown(line) };
        let line = line.trim();
        let lower = line.to_lowercase();
        match lower.as_str() {
            "" => return Taken::said(format!("Nothing typed, nothing changed. {}", self.asked_shortly())),
            "help" => return Taken::all(self.help_words()),
            "status" | "where" => return Taken::all(self.status_words()),
            "back" | "esc" | "escape" => return self.go_back(at_ms),
            _ => {}
        }
        if let Some(word) = lower.strip_prefix("help ")
            && !self.takes_text()
        {
            return Taken::all(self.help_on(&word.trim().replace(' ', "-")));
        }
        match &self.dialog {
            Some(Dialog::Choice(d)) => {
                let d = d.clone();
                self.choose(&d, line, at_ms)
            }
            Some(Dialog::Text(_) | Dialog::Fields(_)) => self.fill_question(line, at_ms),
            None if self.takes_text() => self.fill_form(line, at_ms),
            None => self.command_line(line, at_ms),
        }
    }

    fn go_back(&mut self, at_ms: u64) -> Taken {
        if self.dialog.is_some() {
            let effects = self.dialog_key(Chord::key(Key::Esc), Stroke::Press, at_ms);
            return Taken { lines: vec!["Back.".to_owned()], effects, again: true };
        }
        if self.takes_text() {
            let effects = self.act(Action::LeaveForm, at_ms);
            return Taken { effects, again: true, ..Taken::default() };
        }
        Taken::said("Nothing is asked.")
    }

    /// Answers a choice by its letter, its number or its words.
    fn choose(&mut self, d: &ChoiceDialog, line: &str, at_ms: u64) -> Taken {
        let lower = line.to_lowercase();
        // The pulse word counts beneath a choice, as the pulse key does.
        let chord = lower.parse::<Chord>().ok();
        if lower == Action::Pulse.word() || chord.is_some_and(|c| self.counts_here(c)) {
            return self.act_on(Action::Pulse, at_ms);
        }
        let of_number = |choice: &Choice| matches!(choice, Choice::Grade(g) if lower.parse() == Ok(*g));
        let of_words = |c: char, label: &str| {
            let label = label.to_lowercase();
            lower == label || label.strip_suffix(" (fits)") == Some(&lower) || c == 'y' && lower == "yes"
        };
        let letter = d
            .options
            .iter()
            .find(|(c, label, choice)| lower == c.to_string() || of_number(choice) || of_words(*c, label))
            .map(|(c, ..)| *c);
        match letter {
            Some(c) => {
                let effects = self.dialog_key(Chord::char(c), Stroke::Press, at_ms);
                // A question that comes again after its answer is asked again.
                Taken { effects, again: self.dialog.is_some(), ..Taken::default() }
            }
            None if matches!(lower.as_str(), "n" | "no") => self.go_back(at_ms),
            None => Taken::said(format!("{line} is none of the choices. {}", choices(d))),
        }
    }

    /// Answers an open line of text; `skip` leaves it empty where it may be.
    fn fill_question(&mut self, line: &str, at_ms: u64) -> Taken {
        if Action::from_word(&line.to_lowercase()).is_some() {
            // Whoever forgot that something is asked must not write a command into the record.
            let shortly = self.asked_shortly();
            return Taken::said(format!("{line} alone is a command, not an answer: add a word. {shortly}"));
        }
        let skip = line.eq_ignore_ascii_case("skip");
        let too_long = match &mut self.dialog {
            Some(Dialog::Text(d)) => {
                if skip && !d.may_be_empty {
                    return Taken::said("This needs an answer; back leaves it.");
                }
                let text = if skip { "" } else { line };
                d.field = d.field.clone().with_text(text);
                let too_long = d.field.text() != text;
                if too_long {
                    d.field.clear();
                }
                too_long
            }
            Some(Dialog::Fields(d)) => match d.fields.get_mut(d.focus) {
                Some(field) => {
                    *field = field.clone().with_text(line);
                    let too_long = field.text() != line;
                    if too_long {
                        field.clear();
                    }
                    too_long
                }
                None => false,
            },
            _ => false,
        };
        if too_long {
            return Taken::said("That is too long for this question. Nothing was taken; type it shorter.");
        }
        let effects = self.dialog_key(Chord::key(Key::Enter), Stroke::Press, at_ms);
        let mut taken = Taken { effects, ..Taken::default() };
        let error = match &self.dialog {
            Some(Dialog::Text(d)) => d.field.error(),
            Some(Dialog::Fields(d)) => d.fields.iter().find_map(|f| f.error()),
            _ => None,
        };
        if let Some(error) = error {
            taken.lines.push(sentence(error));
            taken.lines.push(self.asked_shortly());
        }
        taken
    }

    /// Takes a value of the read-back, or a word that works there.
    fn fill_form(&mut self, line: &str, at_ms: u64) -> Taken {
        match self.meaning(line) {
            Meaning::Act(action) => return self.act_on(action, at_ms),
            Meaning::Elsewhere(action, places) => return elsewhere(action, &places),
            Meaning::Nothing => {}
        }
        let at = self.form.focus;
        let skip = line.eq_ignore_ascii_case("skip");
        let Some(field) = self.form.focused() else { return Taken::default() };
        if !skip {
            *field = field.clone().with_text(line);
        }
        if !skip && field.text() != line {
            field.clear();
            return Taken::said("That is too long for this field. Nothing was taken; type what the device shows.");
        }
        let effects = self.act(Action::Down, at_ms);
        let mut taken = Taken { effects, ..Taken::default() };
        if let Some(error) = self.form.fields.get(at).and_then(|f| f.error()) {
            taken.lines.push(sentence(error));
            self.form.focus = at;
        }
        taken.again = true;
        taken
    }

    /// A line while nothing is asked: the longest beginning that names an action, then perhaps its answer.
    fn command_line(&mut self, line: &str, at_ms: u64) -> Taken {
        let words: Vec<&str> = line.split_whitespace().collect();
        for n in (1..=words.len().min(3)).rev() {
            let (name, rest) = words.split_at(n);
            match self.meaning(&name.join("-")) {
                Meaning::Act(action) => return self.act_and_answer(action, &rest.join(" "), at_ms),
                Meaning::Elsewhere(action, places) => return elsewhere(action, &places),
                Meaning::Nothing => {}
            }
        }
        if self.screen == ScreenName::Treat && line.chars().all(|c| c.is_ascii_digit()) {
            return Taken::said(format!("To count {line} pulses, type: count {line}. Nothing was counted."));
        }
        Taken::said(format!("{line} means nothing here. {}", self.asked_shortly()))
    }

    fn act_and_answer(&mut self, action: Action, rest: &str, at_ms: u64) -> Taken {
        if rest.is_empty() {
            return self.act_on(action, at_ms);
        }
        if !ASKS.contains(&action) {
            let word = action.word();
            return Taken::said(format!("{word} takes nothing behind it. Type {word} alone. Nothing was done."));
        }
        let mut taken = self.act_on(action, at_ms);
        match &self.dialog {
            Some(Dialog::Choice(d)) => {
                let d = d.clone();
                taken.lines.extend(self.choose(&d, rest, at_ms).lines);
            }
            Some(_) => {
                let answered = self.fill_question(rest, at_ms);
                taken.lines.extend(answered.lines);
                taken.again |= answered.again;
            }
            None => {}
        }
        taken
    }

    fn act_on(&mut self, action: Action, at_ms: u64) -> Taken {
        match action {
            Action::Help => Taken::all(self.help_words()),
            Action::Repaint => Taken::all(self.status_words()),
            _ if concerns_a_picture(action) => {
                Taken::said("There is no picture and no bell here; all is said in words.")
            }
            action => {
                let effects = self.act(action, at_ms);
                let mut taken = Taken { effects, ..Taken::default() };
                // Comparing may send the hand back into a field that is wrong.
                if action == Action::Confirm {
                    let error = self.form.fields.get(self.form.focus).and_then(|f| f.error());
                    taken.lines.extend(error.map(sentence));
                    taken.again = true;
                }
                taken
            }
        }
    }

    /// What a word means here: the name of an action in any case, or a key by its name.
    pub(super) fn meaning(&self, word: &str) -> Meaning {
        let places = self.places();
        let bindings = self.keys.bindings();
        let named = Action::from_word(&word.to_lowercase());
        let here = |a: &Action| bindings.iter().any(|row| row.action == *a && places.contains(&row.context));
        if let Some(action) = named.filter(here) {
            return Meaning::Act(action);
        }
        if let Some(action) = word.parse::<Chord>().ok().and_then(|chord| self.keys.lookup(&places, chord)) {
            return Meaning::Act(action);
        }
        named.map_or(Meaning::Nothing, |action| {
            Meaning::Elsewhere(action, bindings.iter().filter(|r| r.action == action).map(|r| r.context).collect())
        })
    }
}

fn elsewhere(action: Action, places: &[Place]) -> Taken {
    let word = action.word();
    let way = places.iter().find_map(|place| match place {
        Place::Advice => Some("while an advice is open on the treat screen: go-treat".to_owned()),
        Place::Checks => Some("on the checks screen: go-checks".to_owned()),
        Place::Form | Place::Settings => Some("on the settings screen: go-settings".to_owned()),
        Place::Treat => Some("on the treat screen: go-treat".to_owned()),
        Place::Close => Some("on the close screen: go-close".to_owned()),
        Place::Pictures => Some("among the pictures: pictures".to_owned()),
        Place::Start | Place::Review | Place::Anywhere | Place::NotInText => None,
    });
    Taken::said(match way {
        Some(way) => format!("{word} works {way}. Nothing was done."),
        None => format!("{word} does not work here. Nothing was done."),
    })
}
