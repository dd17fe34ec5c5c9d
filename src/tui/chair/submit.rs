//! Questions: asking them and acting on their answers.

use super::dialogs::{AfterCounter, Choice, ChoiceAsk, Dialog, TextAsk};
use super::update::RESPONSES;
use super::{Chair, Effect, ScreenName};
use crate::recorder::Store;
use crate::session::{
    AdviceAnswer, Ask, Command, CounterConfirm, FreeText, PulseSource, Refusal, Response, SessionOutcome,
};
use crate::tui::chord::{Chord, Key, Stroke};
use crate::tui::keys::Action;
use crate::words::Word;
use std::path::PathBuf;

impl<S: Store> Chair<S> {
    pub(super) fn ask_count(&mut self, digit: Option<char>) {
        let mut dialog = Dialog::text(TextAsk::Count, "Count pulses", "How many pulses were fired?", "pulses", "", 5);
        if let Dialog::Text(d) = &mut dialog {
            d.field = d.field.clone().with_text(&digit.map(String::from).unwrap_or_default());
        }
        self.dialog = Some(dialog);
    }

    pub(super) fn ask_correct(&mut self) {
        match self.state().last_entry() {
            Some(last) => {
                let body = format!("The last entry counted {}. What is right?", last.n);
                self.dialog = Some(Dialog::text(TextAsk::Correct, "Correct the last entry", body, "pulses", "", 5));
            }
            None => {
                self.send(Command::CorrectLast { to: 0 });
            }
        }
    }

    pub(super) fn ask_grade(&mut self, kind: Response) {
        let option = |g: u8, word: &str| (char::from(b'0' + g), word.to_owned(), Choice::Grade(g));
        let (title, words) = match kind {
            Response::Swelling => ("Swelling", ["slight", "clear", "marked"]),
            _ => ("Whitening", ["faint", "clear", "fierce"]),
        };
        let options = words.iter().zip(1..).map(|(word, g)| option(g, word)).collect();
        self.dialog = Some(Dialog::choice(ChoiceAsk::Grade(kind), title, "How strong?", options));
    }

    pub(super) fn ask_response(&mut self) {
        let options = RESPONSES.iter().map(|(c, r)| (*c, r.spoken(), Choice::Response(*r))).collect();
        self.dialog = Some(Dialog::choice(ChoiceAsk::Responses, "What does the skin show?", "", options));
    }

    pub(super) fn ask_pain(&mut self) {
        let mut options: Vec<_> = (0..=9u8).map(|g| (char::from(b'0' + g), String::new(), Choice::Grade(g))).collect();
        options.push(('t', "ten".to_owned(), Choice::Grade(10)));
        self.dialog = Some(Dialog::choice(ChoiceAsk::Pain, "Pain", "0 none, 10 the worst", options));
    }

    pub(super) fn ask_counter(&mut self, then: AfterCounter) {
        if self.state().opened.device.counter.is_none() {
            self.toast("this device has no counter", true);
            return;
        }
        let counted = self.state().counter.counted_since;
        let last = self
            .state()
            .counter
            .last
            .map(|l| format!("Last reading {l}, counted {counted} since. "))
            .unwrap_or_default();
        let skip = if then == AfterCounter::Nothing { "" } else { "Empty: not read." };
        let body = format!("{last}What does the device's counter show? {skip}");
        let dialog = Dialog::text(TextAsk::Counter { then }, "Device counter", body.trim(), "counter", "", 12);
        self.dialog = Some(if then == AfterCounter::Nothing { dialog } else { dialog.or_empty() });
    }

    pub(super) fn begin_pass(&mut self) {
        let Some(zone) = self.zone_id() else { return };
        let counter = self.state().counter;
        let readable = self.state().opened.device.counter.is_some();
        let free = self.state().active.is_none() && self.state().gate(self.zone).is_none();
        let ended = self.state().zones.get(self.zone).is_some_and(|z| z.outcome.is_some());
        if readable && free && !ended && (counter.last.is_none() || counter.counted_since > 0) {
            self.ask_counter(AfterCounter::StartPass);
        } else {
            self.send(Command::StartPass { zone });
        }
    }

    pub(super) fn finish_pass(&mut self) {
        if self.state().train.is_some() {
            self.send(Command::StopTrain);
        }
        let known = self.state().running().is_some_and(|(.., pass)| pass.device.is_some());
        if known && self.state().counter.counted_since > 0 {
            self.ask_counter(AfterCounter::EndPass);
        } else {
            self.end_pass(None);
        }
    }

    fn end_pass(&mut self, explanation: Option<String>) {
        match self.try_send(Command::EndPass { explanation }) {
            Ok(()) => {
                let done = |(p, z): (&crate::plan::Zone, &crate::session::ZoneState)| {
                    z.outcome.is_some() || z.passes.len() >= usize::from(p.passes)
                };
                let all = self.state().opened.plan.zones.iter().zip(&self.state().zones).all(done);
                let end = self.key_of(Action::GoClose);
                let also = if all { format!("; all planned passes are done: {end} to end") } else { String::new() };
                self.toast(format!("pass ended{also}"), false);
            }
            Err(Some(Refusal { ask: Some(Ask::ExplainDifference { counted, device }), .. })) => {
                let body = format!(
                    "Counted {counted}, device {device}. Why do they differ? Esc to go on counting or correct."
                );
                self.dialog = Some(Dialog::text(TextAsk::Explain, "The figures differ", body, "why", "", 200));
            }
            Err(Some(refusal)) => self.toast(refusal.to_string(), true),
            Err(None) => {}
        }
    }

    pub(super) fn ask_end_zone(&mut self) {
        let unfinished = |i: &usize| self.state().zones.get(*i).is_some_and(|z| z.outcome.is_none());
        let index = if self.screen == ScreenName::Close {
            let open = |i: &usize| {
                unfinished(i) && self.state().zone(*i).is_some_and(|(p, z)| z.passes.len() < usize::from(p.passes))
            };
            (0..self.zone_count()).find(open)
        } else {
            Some(self.zone).filter(unfinished)
        };
        let Some((plan, z)) = index.and_then(|i| self.state().zone(i)) else {
            self.toast("nothing to end here", false);
            return;
        };
        let (zone, done, planned) = (plan.id.clone(), z.passes.len(), usize::from(plan.passes));
        let body = format!("Zone {zone}: {done} of {planned} passes are done. Why does it end here?");
        let dialog = Dialog::text(TextAsk::EndZone { zone }, "End the zone", body, "why", "", 200);
        self.dialog = Some(if done >= planned { dialog.or_empty() } else { dialog });
    }

    pub(super) fn ask_save_elsewhere(&mut self) {
        let body =
            "Everything recorded so far is written there, and recording goes on there. Type a directory that exists.";
        self.dialog =
            Some(Dialog::text(TextAsk::SaveElsewhere, "Go on in another directory", body, "directory", "", 300));
    }

    pub(super) fn ask_outcome(&mut self) {
        let fit = self.fitting_outcome();
        // What stands in the way is said before anything is asked; the note is only missing yet.
        let trial = Command::Close { outcome: fit, note: "-".to_owned() };
        if let Err(refusal) = crate::session::decide(self.state(), trial, self.recorder.now()) {
            self.toast(refusal.to_string(), true);
            return;
        }
        let body = format!("{} pulses were fired. How did it end?", self.state().total_pulses());
        let options = [
            ('t', "treated as far as wanted", SessionOutcome::Completed),
            ('s', "stopped on advice", SessionOutcome::Stopped),
            ('r', "refused by the checks", SessionOutcome::Refused),
            ('n', "not treated", SessionOutcome::NotTreated),
        ];
        let fits = |o: SessionOutcome| if o == fit { " (fits)" } else { "" };
        let options = options.iter().map(|(c, w, o)| (*c, format!("{w}{}", fits(*o)), Choice::Outcome(*o))).collect();
        self.dialog = Some(Dialog::choice(ChoiceAsk::Outcome, "Close the session", body, options).guarded());
    }

    pub(super) fn dialog_key(&mut self, chord: Chord, stroke: Stroke, at_ms: u64) -> Vec<Effect> {
        if stroke == Stroke::Release {
            return Vec::new();
        }
        let ctrl_c = chord.ctrl && chord.key == Key::Char('c');
        if (chord.key == Key::Esc || ctrl_c) && stroke == Stroke::Press {
            self.dialog = None;
            return Vec::new();
        }
        match self.dialog.take() {
            Some(Dialog::Text(mut d)) => {
                if chord.key != Key::Enter {
                    d.field.key(chord);
                    self.dialog = Some(Dialog::Text(d));
                } else if stroke == Stroke::Press {
                    let text = d.field.text().trim().to_owned();
                    if text.is_empty() && !d.may_be_empty {
                        d.field.set_error("type something, or leave with Esc");
                        self.dialog = Some(Dialog::Text(d));
                    } else if let Err(problem) = self.answer_text(&d.ask, &text) {
                        d.field.set_error(problem);
                        self.dialog = Some(Dialog::Text(d));
                    }
                } else {
                    self.dialog = Some(Dialog::Text(d));
                }
            }
            Some(Dialog::Fields(d)) => self.fields_key(d, chord, stroke),
            Some(Dialog::Choice(d)) => {
                if d.guarded && !d.question.accepts(at_ms) {
                    self.toast("that came before the question could be read: answer again", true);
                    self.dialog = Some(Dialog::Choice(d));
                    return Vec::new();
                }
                let choice = d.options.iter().find(|(c, ..)| chord.typed() == Some(*c)).map(|(.., choice)| *choice);
                match choice {
                    Some(choice) if stroke == Stroke::Press => self.answer_choice(&d.ask, choice),
                    _ => self.dialog = Some(Dialog::Choice(d)),
                }
            }
            None => {}
        }
        Vec::new()
    }

    fn fields_key(&mut self, mut d: super::dialogs::FieldsDialog, chord: Chord, stroke: Stroke) {
        let last = d.fields.len().saturating_sub(1);
        match chord.key {
            Key::Tab if chord.shift => d.focus = d.focus.saturating_sub(1),
            Key::Up => d.focus = d.focus.saturating_sub(1),
            Key::Tab | Key::Down => d.focus = (d.focus + 1).min(last),
            Key::Enter if d.focus < last => d.focus += 1,
            Key::Enter if stroke == Stroke::Press => {
                let text = |i: usize| d.fields.get(i).map(|f| f.text().trim().to_owned()).unwrap_or_default();
                let command =
                    Command::CheckOverride { item: d.item.clone(), by: text(0), role: text(1), reason: text(2) };
                match self.try_send(command) {
                    Ok(()) => {
                        self.after_check();
                        return;
                    }
                    Err(Some(refusal)) => {
                        if let Some(field) = d.fields.iter_mut().find(|f| f.text().trim().is_empty()) {
                            field.set_error(refusal.message);
                        } else {
                            self.toast(refusal.to_string(), true);
                            return;
                        }
                    }
                    Err(None) => return,
                }
            }
            _ => {
                if let Some(field) = d.fields.get_mut(d.focus) {
                    field.key(chord);
                }
            }
        }
        self.dialog = Some(Dialog::Fields(d));
    }

    /// Acts on a line of text; an error keeps the question open and is shown under the field.
    fn answer_text(&mut self, ask: &TextAsk, text: &str) -> Result<(), String> {
        let number = || text.parse::<u64>().map_err(|_| "type a whole number, such as 50".to_owned());
        let command = match ask {
            TextAsk::CheckNo { item } => Command::CheckNo { item: item.clone(), why: text.to_owned() },
            TextAsk::CheckValue { item } => Command::CheckValue { item: item.clone(), value: text.to_owned() },
            TextAsk::ChangeSetting { zone, to } => {
                Command::ChangeSetting { zone: zone.clone(), to: *to, reason: text.to_owned() }
            }
            TextAsk::Count => Command::Fire { n: number()?, source: PulseSource::Typed },
            TextAsk::Correct => Command::CorrectLast { to: number()? },
            TextAsk::Counter { then } => {
                if text.is_empty() {
                    self.after_counter(*then);
                } else {
                    self.read_counter(number()?, None, *then)?;
                }
                return Ok(());
            }
            TextAsk::Decline { advice } => {
                let reason = FreeText::new(text).ok_or("type the reason")?;
                Command::AnswerAdvice { advice: *advice, answer: AdviceAnswer::Declined { reason } }
            }
            TextAsk::Note => Command::Note { text: text.to_owned() },
            TextAsk::Remark => Command::NoteResponse { text: text.to_owned() },
            TextAsk::EndZone { zone } => {
                Command::EndZone { zone: zone.clone(), reason: (!text.is_empty()).then(|| text.to_owned()) }
            }
            TextAsk::Explain => {
                self.end_pass(Some(text.to_owned()));
                return Ok(());
            }
            TextAsk::SaveElsewhere => return self.save_elsewhere(text),
            TextAsk::CloseNote { outcome } => Command::Close { outcome: *outcome, note: text.to_owned() },
        };
        match self.try_send(command) {
            Ok(()) => {
                match ask {
                    TextAsk::CheckNo { .. } | TextAsk::CheckValue { .. } => self.after_check(),
                    TextAsk::ChangeSetting { .. } => {
                        self.toast("set the device, then type what it shows", false);
                        self.form = super::form::ReadBackForm::new();
                        self.screen = ScreenName::Settings;
                    }
                    TextAsk::CloseNote { .. } => {
                        self.toast(format!("session closed: {} to leave", self.key_of(Action::Leave)), false);
                    }
                    _ => {}
                }
                Ok(())
            }
            Err(Some(refusal)) => Err(refusal.to_string()),
            Err(None) => Ok(()),
        }
    }

    fn read_counter(
        &mut self,
        reading: u64,
        confirm: Option<CounterConfirm>,
        then: AfterCounter,
    ) -> Result<(), String> {
        match self.try_send(Command::ReadCounter { reading, confirm }) {
            Ok(()) => {
                match self.state().counter.unsettled.filter(|_| self.state().active.is_some()) {
                    Some((device, counted)) => {
                        let body = format!("Since the last reading: counted {counted}, device {device}.");
                        let options = vec![
                            ('k', "keep the count".to_owned(), Choice::KeepCount),
                            ('d', "take the device's figure".to_owned(), Choice::TakeDevice),
                        ];
                        self.dialog = Some(
                            Dialog::choice(ChoiceAsk::Unsettled { then }, "Count and device differ", body, options)
                                .guarded(),
                        );
                    }
                    None => self.after_counter(then),
                }
                Ok(())
            }
            Err(Some(refusal)) => match refusal.ask {
                Some(ask) => {
                    self.ask_confirm(reading, then, &refusal.message, &ask);
                    Ok(())
                }
                None => Err(refusal.to_string()),
            },
            Err(None) => Ok(()),
        }
    }

    fn ask_confirm(&mut self, reading: u64, then: AfterCounter, message: &str, ask: &Ask) {
        let mut options = vec![('t', "type it again".to_owned(), Choice::Back)];
        match ask {
            Ask::CounterLower { if_rolled_over, .. } => {
                let over = if_rolled_over.map_or_else(
                    || "the counter rolled over (hardly)".to_owned(),
                    |n| format!("the counter rolled over: {n} pulses"),
                );
                options.push(('o', over, Choice::Confirm(CounterConfirm::RolledOver)));
                options.push((
                    'r',
                    "device restarted: begin from here".to_owned(),
                    Choice::Confirm(CounterConfirm::Restarted),
                ));
            }
            Ask::CounterJump { difference, .. } => {
                options.push((
                    'j',
                    format!("the jump of {difference} is right"),
                    Choice::Confirm(CounterConfirm::Jump),
                ));
                options.push((
                    'r',
                    "device restarted: begin from here".to_owned(),
                    Choice::Confirm(CounterConfirm::Restarted),
                ));
            }
            Ask::ExplainDifference { .. } => {}
        }
        let ask = ChoiceAsk::CounterConfirm { reading, then };
        self.dialog = Some(Dialog::choice(ask, "Is that right?", message, options).guarded());
    }

    fn after_counter(&mut self, then: AfterCounter) {
        match then {
            AfterCounter::Nothing => {
                if let Some(last) = self.state().counter.last {
                    self.toast(format!("counter {last}"), false);
                }
            }
            AfterCounter::StartPass => {
                if let Some(zone) = self.zone_id() {
                    self.send(Command::StartPass { zone });
                }
            }
            AfterCounter::EndPass => self.end_pass(None),
        }
    }

    fn answer_choice(&mut self, ask: &ChoiceAsk, choice: Choice) {
        match (ask, choice) {
            (ChoiceAsk::Grade(kind), Choice::Grade(g)) => self.see(*kind, Some(g)),
            (ChoiceAsk::Pain, Choice::Grade(g)) => self.see(Response::Pain, Some(g)),
            (ChoiceAsk::Responses, Choice::Response(Response::Swelling)) => self.ask_grade(Response::Swelling),
            (ChoiceAsk::Responses, Choice::Response(r)) => self.see(r, None),
            (ChoiceAsk::CounterConfirm { reading, then }, Choice::Confirm(confirm)) => {
                if let Err(problem) = self.read_counter(*reading, Some(confirm), *then) {
                    self.toast(problem, true);
                }
            }
            (ChoiceAsk::CounterConfirm { then, .. }, Choice::Back) => self.ask_counter(*then),
            (ChoiceAsk::Unsettled { then }, Choice::TakeDevice) if self.send(Command::TakeDeviceFigure) => {
                self.after_counter(*then);
            }
            (ChoiceAsk::Unsettled { then }, Choice::KeepCount) => self.after_counter(*then),
            (ChoiceAsk::Outcome, Choice::Outcome(outcome)) => {
                // A second key, another one, so that no single slip closes a session.
                let body = format!("The session will be closed: {outcome}. Nothing more can be recorded in it.");
                let options =
                    vec![('y', "yes, close it".to_owned(), Choice::Yes), ('b', "back".to_owned(), Choice::Back)];
                self.dialog = Some(
                    Dialog::choice(ChoiceAsk::ConfirmClose { outcome }, "Close for good?", body, options).guarded(),
                );
            }
            (ChoiceAsk::ConfirmClose { outcome }, Choice::Yes) => {
                let dialog = Dialog::text(
                    TextAsk::CloseNote { outcome: *outcome },
                    "Closing note",
                    "Anything the supervisor should know? Empty is allowed for a treated session.",
                    "note",
                    "",
                    400,
                );
                self.dialog = Some(dialog.or_empty());
            }
            (ChoiceAsk::Leave, Choice::Yes) => {
                self.interrupt("left by the operator");
                self.finished = true;
            }
            _ => {}
        }
    }

    fn save_elsewhere(&mut self, text: &str) -> Result<(), String> {
        let dir = PathBuf::from(text);
        if !dir.is_dir() {
            return Err("no such directory".to_owned());
        }
        let saved = self.store().saved_upto();
        let why = self.store().failure().map_or_else(|| "asked for by the operator".to_owned(), |(_, e)| e);
        let (path, untold) = self.recorder.sink_mut().continue_in(&dir)?;
        self.send(Command::Continue { reason: why, unsaved_from: saved + 1 });
        let also = untold.as_ref().map(|u| format!("; {u}")).unwrap_or_default();
        self.toast(format!("recording goes on in {}{also}", path.display()), untold.is_some());
        Ok(())
    }
}
