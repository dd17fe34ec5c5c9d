//! What is asked now, in sentences.

use super::super::dialogs::{ChoiceAsk, ChoiceDialog, Dialog};
use super::super::form::FIELDS;
use super::super::view::settings::wanted;
use super::super::{Chair, ScreenName};
use super::sentence;
use crate::recorder::Store;
use crate::session::Gate;
use crate::words::Word;

impl<S: Store> Chair<S> {
    /// Tells one question from another, so that each is asked once.
    pub(super) fn asked_key(&self) -> String {
        match &self.dialog {
            Some(Dialog::Text(d)) => format!("text {} {}", d.title, d.body),
            Some(Dialog::Fields(d)) => format!("fields {} {}", d.item, d.focus),
            Some(Dialog::Choice(d)) => format!("choice {:?} {}", d.ask, d.body),
            None => match self.screen {
                ScreenName::Checks => {
                    let items = self.phase_items();
                    let item = items.get(self.chosen_item);
                    let answer = item.and_then(|(i, _)| self.state().checks.get(&i.id));
                    let doses = self.state().anaesthetics.len();
                    format!("item {:?} {} {:?} {answer:?} {doses}", self.phase, self.chosen_item, item.map(|(_, s)| s))
                }
                ScreenName::Settings => {
                    let z = self.state().zones.get(self.zone);
                    let compared = z.map(|z| (z.confirmed.is_some(), z.mismatches));
                    format!("form {} {} {compared:?}", self.zone, self.form.focus)
                }
                ScreenName::Treat => {
                    let passes = self.state().zones.get(self.zone).map(|z| (z.passes.len(), z.outcome));
                    format!("treat {} {:?} {passes:?}", self.zone, self.state().active)
                }
                ScreenName::Close => format!("close {}", self.state().closed.is_some()),
                ScreenName::Pictures => format!("picture {}", self.pictures.shown),
            },
        }
    }

    /// The question, with what may be typed for an answer.
    pub(super) fn asked_words(&self) -> Vec<String> {
        match &self.dialog {
            Some(Dialog::Text(d)) => {
                let mut lines = titled(&d.title, &d.body);
                if !d.field.text().is_empty() && d.field.error().is_none() {
                    lines.push(format!("Typed so far: {}.", d.field.text()));
                }
                lines.push(self.asked_shortly());
                lines
            }
            Some(Dialog::Fields(d)) => {
                let mut lines = if d.focus == 0 { titled(&d.title, &d.body) } else { Vec::new() };
                lines.push(self.asked_shortly());
                lines
            }
            Some(Dialog::Choice(d)) => {
                let mut lines = titled(&d.title, &d.body);
                lines.push(self.asked_shortly());
                lines
            }
            None => match self.screen {
                ScreenName::Checks => self.item_words(false).iter().map(|l| sentence(l)).collect(),
                ScreenName::Settings => self.form_words(),
                ScreenName::Treat => self.pass_words(),
                ScreenName::Pictures => self.picture_words(),
                ScreenName::Close if self.state().closed.is_some() => {
                    vec!["The session is closed. Type leave.".to_owned()]
                }
                ScreenName::Close => {
                    vec!["Type close-session to close for good, status for the whole account, or go-treat.".to_owned()]
                }
            },
        }
    }

    /// What may be typed now, without the question.
    pub(super) fn asked_shortly(&self) -> String {
        let one = |label: &str| if label == "why" { "why".to_owned() } else { format!("the {label}") };
        match &self.dialog {
            Some(Dialog::Text(d)) => {
                let skip = if d.may_be_empty { ", skip" } else { "" };
                format!("Type {}{skip}, or back.", one(d.field.label()))
            }
            Some(Dialog::Fields(d)) => {
                format!("Type {}, or back.", one(d.fields.get(d.focus).map(|f| f.label()).unwrap_or_default()))
            }
            Some(Dialog::Choice(d)) => choices(d),
            None if self.takes_text() => {
                format!("Type the {} that the device shows, or help.", self.form.focused_label().unwrap_or("value"))
            }
            None => "Type help for the words, status for how things stand.".to_owned(),
        }
    }

    fn form_words(&self) -> Vec<String> {
        let Some((plan, z)) = self.state().zone(self.zone) else { return Vec::new() };
        let mut lines = Vec::new();
        if let Some((field, which)) = self.form.fields.get(self.form.focus).zip(FIELDS.get(self.form.focus)) {
            let (label, value, planned) = wanted(*which, &z.target, &plan.setting);
            let plan_says = if planned == value { String::new() } else { format!(", the plan said {planned}") };
            lines.push(sentence(&format!("{label}, to be set to {value}{plan_says}")));
            lines.push(match field.text() {
                "" => "Type what the device shows.".to_owned(),
                typed => format!("Type what the device shows, or skip to keep {typed}."),
            });
            return lines;
        }
        lines.push(match z.confirmed.is_some() {
            true => "Read back: the device agrees with the setting. Type go-treat to go on.".to_owned(),
            false => "Type confirm to compare, or edit-form to type again.".to_owned(),
        });
        lines
    }

    /// What differed at the last comparison.
    pub(super) fn mismatch_words(&self) -> Vec<String> {
        let Some((_, z)) = self.state().zone(self.zone) else { return Vec::new() };
        let differs = |d: &crate::session::Difference| {
            sentence(&format!("Differs in {}: wanted {}; device shows {}", d.what, d.wanted, d.shown))
        };
        let mut lines: Vec<String> = z.mismatch.iter().map(differs).collect();
        if !lines.is_empty() {
            lines.push("Pulses wait until the device agrees. Set it first.".to_owned());
        }
        lines
    }

    /// What stands before the next pulse, when no pass runs.
    fn pass_words(&self) -> Vec<String> {
        let state = self.state();
        let Some((plan, z)) = state.zone(self.zone) else { return Vec::new() };
        if state.active.is_some() {
            return Vec::new();
        }
        if let Some(outcome) = z.outcome {
            return vec![format!("Zone {} is {}. Type next-zone, or go-close to end.", plan.id, outcome.spoken())];
        }
        let next = z.next_pass();
        if next > plan.passes {
            return vec!["All planned passes are done. Type next-zone, end-zone, or go-close to end.".to_owned()];
        }
        let mut lines: Vec<String> = self.wait_sentence().into_iter().collect();
        lines.push(match state.gate(self.zone) {
            None => format!("Pass {next} of {} is not started. Type start-pass.", plan.passes),
            Some(Gate::ReadBack(_)) => "The setting is not read back. Type go-settings.".to_owned(),
            Some(_) => "Checks are not done. Type go-checks.".to_owned(),
        });
        lines
    }
}

/// A question's title and text; what a key would do there, a word does here.
fn titled(title: &str, body: &str) -> Vec<String> {
    let body = body.replace("Empty:", "Skip:").replace("Empty is", "Skip is").replace("Esc to", "Back to");
    std::iter::once(title).chain(body.lines()).filter(|l| !l.trim().is_empty()).map(sentence).collect()
}

/// The choices of a question in one sentence.
pub(super) fn choices(d: &ChoiceDialog) -> String {
    if d.ask == ChoiceAsk::Pain {
        return "Type a number from 0 to 10, or back.".to_owned();
    }
    let options = d.options.iter().filter(|(_, label, _)| label != "back").map(|(c, label, _)| format!("{c}: {label}"));
    format!("Type {}; or back.", options.collect::<Vec<_>>().join("; "))
}
