//! Keys become actions, actions become commands.

use super::dialogs::{AfterCounter, Choice, ChoiceAsk, Dialog, TextAsk};
use super::{Chair, Effect, ScreenName};
use crate::anaesthetic::CONFIRM;
use crate::protocol::{CheckKind, CheckPhase};
use crate::recorder::Store;
use crate::session::{AdviceAnswer, Command, DOSE_LIKE, ItemStatus, Level, PulseSource, Response, Verdict};
use crate::tui::chord::{Chord, Key, Stroke};
use crate::tui::events::Stamped;
use crate::tui::keys::{Action, Place};
use crate::tui::pace::Pace;
use crate::words::Word;
use crossterm::event::Event;

/// Responses behind the response key, each with its letter.
pub(super) const RESPONSES: [(char, Response); 14] = [
    ('p', Response::Purpura),
    ('r', Response::Redness),
    ('s', Response::Swelling),
    ('l', Response::Blister),
    ('k', Response::Splatter),
    ('e', Response::Separation),
    ('d', Response::Darkening),
    ('h', Response::Wheals),
    ('y', Response::Systemic),
    ('w', Response::WetSurface),
    ('f', Response::Sparks),
    ('g', Response::BlueGrey),
    ('o', Response::OffSpacer),
    ('t', Response::Stacked),
];

impl<S: Store> Chair<S> {
    /// Takes what the terminal sent.
    pub fn update(&mut self, input: &Stamped<Event>) -> Vec<Effect> {
        match &input.what {
            Event::Key(key) => match Chord::read(key) {
                Some((chord, stroke)) => self.key(chord, stroke, input.at_ms),
                None => Vec::new(),
            },
            Event::Paste(text) => {
                self.paste(text);
                Vec::new()
            }
            Event::Resize(..) => vec![Effect::Repaint],
            Event::FocusGained | Event::FocusLost | Event::Mouse(_) => Vec::new(),
        }
    }

    /// Where keys are looked up, innermost first.
    pub(super) fn places(&self) -> Vec<Place> {
        if self.state().closed.is_some() {
            return vec![Place::NotInText, Place::Anywhere];
        }
        let mut places = match self.screen {
            ScreenName::Checks => vec![Place::Checks],
            ScreenName::Settings if self.form.in_field() => return vec![Place::Form, Place::Anywhere],
            ScreenName::Settings => vec![Place::Settings],
            ScreenName::Treat if self.state().open_advice().is_empty() => vec![Place::Treat],
            ScreenName::Treat => vec![Place::Advice, Place::Treat],
            ScreenName::Close => vec![Place::Close],
            ScreenName::Pictures => vec![Place::Pictures],
        };
        places.extend([Place::NotInText, Place::Anywhere]);
        places
    }

    /// True while letters are text.
    pub fn takes_text(&self) -> bool {
        match &self.dialog {
            Some(Dialog::Text(_) | Dialog::Fields(_)) => true,
            Some(Dialog::Choice(_)) => false,
            None => self.help.is_none() && self.screen == ScreenName::Settings && self.form.in_field(),
        }
    }

    fn key(&mut self, chord: Chord, stroke: Stroke, at_ms: u64) -> Vec<Effect> {
        if self.counts_here(chord) {
            return self.pulse_key(chord, stroke, at_ms);
        }
        if self.help.is_some() {
            return self.help_key(chord, stroke);
        }
        if self.dialog.is_some() {
            return self.dialog_key(chord, stroke, at_ms);
        }
        let action = self.keys.lookup(&self.places(), chord);
        let moves = matches!(action, Some(Action::Up | Action::Down | Action::NextZone | Action::PreviousZone));
        let text = action.is_none() && self.takes_text();
        if stroke == Stroke::Release || (stroke == Stroke::Repeat && !moves && !text) {
            // Repeats and releases tell the pacer that this terminal reports them.
            self.pacer.judge(chord, at_ms, stroke, 1.0);
            return Vec::new();
        }
        if text {
            if let Some(field) = self.form.focused() {
                field.key(chord);
            }
            return Vec::new();
        }
        match action {
            Some(action) if moves => self.act(action, at_ms),
            Some(action) => self.paced(action, chord, at_ms),
            None => {
                let digit = chord.typed().filter(char::is_ascii_digit);
                if let (ScreenName::Treat, Some(digit)) = (self.screen, digit) {
                    self.ask_count(Some(digit));
                }
                Vec::new()
            }
        }
    }

    /// True for the pulse key while a pass runs on the treat screen or on pictures opened from it. It counts also beneath a question or the help,
    /// because the foot on the switch does not see them; only where it would be text it is text.
    pub(super) fn counts_here(&self, chord: Chord) -> bool {
        self.takes_pulses()
            && self.is_treating()
            && self.keys.lookup(&[Place::Treat], chord) == Some(Action::Pulse)
            && !(self.takes_text() && chord.typed().is_some())
    }

    fn pulse_key(&mut self, chord: Chord, stroke: Stroke, at_ms: u64) -> Vec<Effect> {
        if stroke == Stroke::Press {
            return self.paced(Action::Pulse, chord, at_ms);
        }
        self.pacer.judge(chord, at_ms, stroke, 1.0);
        Vec::new()
    }

    /// Acts on a key press unless the key is being held down.
    fn paced(&mut self, action: Action, chord: Chord, at_ms: u64) -> Vec<Effect> {
        let rate = self.state().zones.get(self.zone).map_or(1.0, |z| z.target.rate.hz());
        let pace = match action {
            Action::Pulse => self.pacer.judge_switch(chord, at_ms, rate),
            _ => self.pacer.judge(chord, at_ms, Stroke::Press, rate),
        };
        match pace {
            Pace::Count => self.act(action, at_ms),
            Pace::Held => {
                self.toast("key held: repeats do not count", false);
                Vec::new()
            }
            Pace::HeldTakeBackOne => {
                if action == Action::Pulse && self.send(Command::TakeBackHeldKey) {
                    self.toast("key held: its first repeat had counted and was taken back", true);
                }
                Vec::new()
            }
        }
    }

    fn paste(&mut self, text: &str) {
        let text_here = self.takes_text();
        match &mut self.dialog {
            Some(Dialog::Text(d)) => {
                d.field.paste(text);
            }
            Some(Dialog::Fields(d)) => {
                if let Some(field) = d.fields.get_mut(d.focus) {
                    field.paste(text);
                }
            }
            None if text_here => {
                if let Some(field) = self.form.focused() {
                    field.paste(text);
                }
            }
            _ => self.toast("pasted text is ignored here", true),
        }
    }

    fn help_key(&mut self, chord: Chord, stroke: Stroke) -> Vec<Effect> {
        if stroke == Stroke::Release {
            return Vec::new();
        }
        let scroll = self.help.unwrap_or(0);
        self.help = match chord.key {
            Key::Down | Key::Char('j') => Some(scroll.saturating_add(1)),
            Key::PageDown | Key::Char(' ') => Some(scroll.saturating_add(10)),
            Key::Up | Key::Char('k') => Some(scroll.saturating_sub(1)),
            Key::PageUp => Some(scroll.saturating_sub(10)),
            _ => None,
        };
        Vec::new()
    }

    pub(super) fn act(&mut self, action: Action, at_ms: u64) -> Vec<Effect> {
        if self.is_out_of_turn(action) {
            self.toast("a demonstration: the model operator acts; q leaves", false);
            return Vec::new();
        }
        match action {
            Action::Help => self.help = Some(0),
            Action::GoChecks => {
                let phase = self.first_phase();
                if phase != self.phase {
                    self.phase = phase;
                    self.chosen_item = 0;
                }
                self.choose_open_item();
                self.screen = ScreenName::Checks;
            }
            Action::GoSettings => self.go_settings(),
            Action::GoTreat => self.go_treat(),
            Action::GoClose => self.screen = ScreenName::Close,
            Action::Leave => self.ask_leave(),
            Action::NextTheme => self.next_theme(),
            Action::Repaint => return vec![Effect::Repaint],
            Action::Suspend => {
                if self.is_treating() {
                    self.toast("a pass is running: end or pause it before suspending", true);
                } else {
                    return vec![Effect::Suspend];
                }
            }
            Action::SaveElsewhere => self.ask_save_elsewhere(),
            Action::Yes => self.answer_item(|item| Command::CheckYes { item }),
            Action::NotApplicable => self.answer_item(|item| Command::CheckNotApplicable { item }),
            Action::No => self.ask_item(false),
            Action::Value => self.ask_item(true),
            Action::Override => self.ask_override(),
            Action::Up => self.step(false),
            Action::Down => self.step(true),
            Action::NextPhase | Action::PreviousPhase => self.turn_phase(action == Action::NextPhase),
            Action::NextZone => self.turn_zone(true),
            Action::PreviousZone => self.turn_zone(false),
            Action::LeaveForm => self.form.focus = self.form.fields.len(),
            Action::EditForm => self.form.focus = 0,
            Action::Confirm => self.confirm_form(),
            Action::LowerStep => self.ask_step(false),
            Action::RaiseStep => self.ask_step(true),
            Action::Pulse => {
                self.send(Command::Fire { n: 1, source: PulseSource::Key });
            }
            Action::Train => {
                let command = if self.state().train.is_some() { Command::StopTrain } else { Command::StartTrain };
                self.send(command);
            }
            Action::StartPass => self.begin_pass(),
            Action::EndPass => self.finish_pass(),
            Action::EndZone => self.ask_end_zone(),
            Action::Counter => self.ask_counter(AfterCounter::Nothing),
            Action::Count => self.ask_count(None),
            Action::Correct => self.ask_correct(),
            Action::Undo => {
                let what = self.state().next_undo().map(|(_, words)| words);
                if self.send(Command::Undo) {
                    self.toast(format!("taken back: {}", what.unwrap_or_default()), false);
                }
            }
            Action::Pause => {
                let command = if self.state().paused { Command::Unpause } else { Command::Pause };
                self.send(command);
            }
            Action::Whitening => self.ask_grade(Response::Whitening),
            Action::Faded => {
                if let Some(zone) = self.zone_id() {
                    self.send(Command::WhiteningFaded { zone });
                }
            }
            Action::Bleeding => self.see(Response::PinpointBleeding, None),
            Action::NoResponse => self.see(Response::NoResponse, None),
            Action::Responses => self.ask_response(),
            Action::Pain => self.ask_pain(),
            Action::Note => {
                self.dialog = Some(Dialog::text(TextAsk::Note, "Note", "No names, please.", "note", "", 400));
            }
            Action::Remark => match self.state().latest_response().map(|r| r.kind) {
                Some(kind) => {
                    let body = format!("On {}. No names, please.", kind.spoken());
                    self.dialog = Some(Dialog::text(TextAsk::Remark, "Remark", body, "remark", "", 400));
                }
                None => self.toast("no response was noted yet", true),
            },
            Action::Accept => self.answer_advice(AdviceAnswer::Accepted, at_ms),
            Action::Alternative => self.answer_advice(AdviceAnswer::Alternative, at_ms),
            Action::Far => self.far = !self.far,
            Action::Pictures => self.next_picture(),
            Action::PictureBefore => self.picture_before(),
            Action::Back => self.leave_pictures(),
            Action::Bell => {
                self.bell_off = !self.bell_off;
                self.toast(if self.bell_off { "bell off: only STOP rings" } else { "bell on" }, false);
            }
            Action::Stop => self.answer_advice(AdviceAnswer::Stopped, at_ms),
            Action::Decline => self.ask_decline(at_ms),
            Action::LetTimePass => return self.let_time_pass(),
            Action::CloseSession => self.ask_outcome(),
            // Those of the start screen and of the supervisor's.
            _ => {}
        }
        Vec::new()
    }

    /// A bell for each advice that came on top or became more urgent since the last look. Silenced it rings for STOP alone.
    pub fn bell_due(&mut self) -> bool {
        let top = self.state().open_advice().first().map(|a| (a.id, a.level));
        let news = top.is_some() && top != self.rung;
        self.rung = top;
        news && (!self.bell_off || top.is_some_and(|(_, level)| level == Level::Stop))
    }

    fn go_settings(&mut self) {
        if let Some(active) = self.state().active {
            self.zone = active;
        }
        self.form = super::form::ReadBackForm::new();
        if self.state().zones.get(self.zone).is_some_and(|z| z.confirmed.is_some()) {
            self.form.focus = self.form.fields.len();
        }
        self.screen = ScreenName::Settings;
    }

    fn go_treat(&mut self) {
        if let Some(active) = self.state().active {
            self.zone = active;
        }
        self.screen = ScreenName::Treat;
    }

    fn step(&mut self, down: bool) {
        match self.screen {
            ScreenName::Checks => {
                let n = self.phase_items().len();
                let next = if down { self.chosen_item.saturating_add(1) } else { self.chosen_item.saturating_sub(1) };
                self.chosen_item = next.min(n.saturating_sub(1));
            }
            ScreenName::Settings => {
                self.form.judge(self.form.focus);
                let next = if down { self.form.focus.saturating_add(1) } else { self.form.focus.saturating_sub(1) };
                self.form.focus = next.min(self.form.fields.len());
            }
            ScreenName::Treat | ScreenName::Close | ScreenName::Pictures => {}
        }
    }

    fn turn_phase(&mut self, next: bool) {
        let all = CheckPhase::ALL;
        let at = all.iter().position(|p| *p == self.phase).unwrap_or(0);
        let to = if next { (at + 1) % all.len() } else { (at + all.len() - 1) % all.len() };
        self.phase = all.get(to).copied().unwrap_or(self.phase);
        self.chosen_item = 0;
        self.choose_open_item();
    }

    fn turn_zone(&mut self, next: bool) {
        if self.state().active.is_some() {
            self.toast("a pass is running: end it before changing the zone", true);
            return;
        }
        let n = self.zone_count().max(1);
        self.zone = if next { (self.zone + 1) % n } else { (self.zone + n - 1) % n };
        if self.screen == ScreenName::Settings {
            self.go_settings();
        }
    }

    fn chosen(&self) -> Option<(String, CheckKind, ItemStatus)> {
        let items = self.phase_items();
        let (item, status) = items.get(self.chosen_item)?;
        Some((item.id.clone(), item.kind, *status))
    }

    fn answer_item(&mut self, command: impl Fn(String) -> Command) {
        let Some((item, kind, _)) = self.chosen() else { return };
        // None given is an answer; a dose is typed.
        let none =
            kind == CheckKind::Anaesthetic && matches!(command(item.clone()), Command::CheckNotApplicable { .. });
        if matches!(kind, CheckKind::Value | CheckKind::Marking | CheckKind::Anaesthetic) && !none {
            self.ask_item(true);
        } else if self.send(command(item)) {
            self.after_check();
        }
    }

    /// Goes on to the next open item, and to the next screen when the phase is done.
    pub(super) fn after_check(&mut self) {
        if self.state().items_in_the_way(self.phase) > 0 {
            self.choose_open_item();
            return;
        }
        match self.phase {
            CheckPhase::SignIn => {
                self.toast("sign-in done: type what the device shows", false);
                self.go_settings();
            }
            CheckPhase::TimeOut if self.state().gate(self.zone).is_none() => {
                self.toast("time-out done", false);
                self.go_treat();
            }
            CheckPhase::TimeOut => self.go_settings(),
            CheckPhase::SignOut => {
                self.toast("sign-out done", false);
                self.screen = ScreenName::Close;
            }
        }
    }

    fn ask_item(&mut self, value: bool) {
        let Some((item, kind, _)) = self.chosen() else { return };
        let Some(found) = self.state().opened.protocol.checklist.iter().find(|i| i.id == item) else { return };
        let (question, on_bad) = (found.question.clone(), found.on_bad.clone());
        let pass =
            self.state().checks.get(&item).and_then(|c| c.computed.as_ref()).is_some_and(|(v, _)| *v == Verdict::Pass);
        self.dialog = match (value, kind) {
            (true, CheckKind::Value) => {
                Some(Dialog::text(TextAsk::CheckValue { item }, &question, "", "value", "", 60))
            }
            (true, CheckKind::Anaesthetic) => Some(Dialog::text(
                TextAsk::CheckValue { item },
                "Anaesthetic: one dose",
                self.anaesthetic_words(),
                "dose",
                "",
                80,
            )),
            (true, CheckKind::Marking) => Some(Dialog::text(
                TextAsk::CheckValue { item },
                "Eyewear worn",
                self.eyewear_words(),
                "marking",
                "",
                200,
            )),
            (true, _) => {
                self.toast("this item takes yes or no, not a value", true);
                None
            }
            (false, CheckKind::Computed) if pass => {
                self.toast("the program found nothing here", false);
                None
            }
            (false, _) => Some(Dialog::text(
                TextAsk::CheckNo { item },
                "Why not?",
                format!("{question}\n{on_bad}"),
                "why",
                "",
                200,
            )),
        };
    }

    /// What this client may get, what was given, and how to type a dose.
    fn anaesthetic_words(&self) -> String {
        let state = self.state();
        let Some(a) = state.anaesthesia(state.session_ms(self.recorder.now())) else {
            return "No limit is known for this age and weight: ask the prescriber.".to_owned();
        };
        format!("{}.\n{}.\nType one dose, like: {DOSE_LIKE}.\n{CONFIRM}", a.limit_words(), a.given_words())
    }

    /// What is needed, what to type, and the pairs that the protocol lists.
    fn eyewear_words(&self) -> String {
        const SHOWN: usize = 5;
        let state = self.state();
        let pairs = &state.opened.protocol.eyewear;
        let mut lines = vec![
            format!("{}.", state.eyewear_needed()),
            "Type the marking as printed, like OD 7+ @ 190-534 nm or 740-1070 D LB6 + IRM LB8, or a listed pair:"
                .to_owned(),
        ];
        lines.extend(pairs.iter().take(SHOWN).enumerate().map(|(i, p)| format!("{}  {}", i + 1, p.name)));
        if pairs.len() > SHOWN {
            lines.push(format!("... {} in all", pairs.len()));
        }
        lines.join("\n")
    }

    fn ask_override(&mut self) {
        let Some((item, _, status)) = self.chosen() else { return };
        let Some(found) = self.state().opened.protocol.checklist.iter().find(|i| i.id == item) else { return };
        match status {
            ItemStatus::Blocked => {
                let field = |label, max| crate::tui::widgets::field::TextField::new(label, "", max);
                self.dialog = Some(Dialog::Fields(super::dialogs::FieldsDialog {
                    title: "Override".to_owned(),
                    body: format!(
                        "{}\nOnly for someone whose licence and role allow it. It stands out in every later view.",
                        found.question
                    ),
                    item,
                    fields: vec![field("code", 40), field("role", 40), field("reason", 200)],
                    focus: 0,
                }));
            }
            ItemStatus::HardStop => {
                let text = format!("this refuses treatment and cannot be overridden. {}", found.on_bad);
                self.toast(text, true);
            }
            _ => self.toast("nothing is blocked here", false),
        }
    }

    fn ask_step(&mut self, up: bool) {
        let Some((plan, z)) = self.state().zone(self.zone) else { return };
        let (zone, now) = (plan.id.clone(), z.target);
        let ladder = self.state().opened.device.ladder(&now).copied();
        let next = ladder.and_then(|l| if up { l.above(now.fluence) } else { l.below(now.fluence) });
        let Some(fluence) = next else {
            self.toast(
                if up { "the device goes no higher at this spot" } else { "the device goes no lower at this spot" },
                true,
            );
            return;
        };
        let to = crate::plan::Setting { fluence, ..now };
        let body = format!("{} -> {}\nThe manual of the device and the protocol come first.", now.dose(), to.dose());
        self.dialog =
            Some(Dialog::text(TextAsk::ChangeSetting { zone, to }, "Change the setting: why?", body, "why", "", 200));
    }

    fn confirm_form(&mut self) {
        let device = self.state().opened.device.clone();
        let displayed = match self.form.read(&device) {
            Ok(displayed) => displayed,
            Err(index) => {
                self.form.focus = index;
                return;
            }
        };
        let Some(zone) = self.zone_id() else { return };
        if !self.send(Command::ReadBack { zone, displayed }) {
            return;
        }
        let agreed = self.state().zones.get(self.zone).is_some_and(|z| z.confirmed.is_some());
        if !agreed {
            self.toast("the device does not agree: see both values", true);
            return;
        }
        self.toast("read back and confirmed", false);
        if self.state().items_in_the_way(CheckPhase::TimeOut) > 0 {
            self.phase = CheckPhase::TimeOut;
            self.chosen_item = 0;
            self.choose_open_item();
            self.screen = ScreenName::Checks;
        } else {
            self.go_treat();
        }
    }

    pub(super) fn see(&mut self, kind: Response, grade: Option<u8>) {
        if self.send(Command::See { kind, grade, note: String::new() }) {
            let grade = grade.map(|g| format!(" {g}")).unwrap_or_default();
            self.toast(format!("seen: {}{grade}", kind.spoken()), false);
        }
    }

    /// True when keys typed now may answer the advice on top: it was on screen long enough to be read.
    fn advice_may_be_answered(&mut self, at_ms: u64) -> Option<u64> {
        let top = self.state().open_advice().first().map(|a| a.id)?;
        let seen = self.advice_seen.is_some_and(|(id, question)| id == top && question.accepts(at_ms));
        if !seen {
            self.toast("that came before the advice could be read: answer again", true);
        }
        seen.then_some(top)
    }

    fn answer_advice(&mut self, answer: AdviceAnswer, at_ms: u64) {
        let Some(advice) = self.advice_may_be_answered(at_ms) else { return };
        if !self.send(Command::AnswerAdvice { advice, answer }) {
            return;
        }
        let owed = self.state().zones.get(self.zone).is_some_and(|z| z.confirmed.is_none() && z.outcome.is_none());
        if owed {
            self.toast("set the device, then type what it shows", false);
            self.go_settings();
        }
    }

    fn ask_decline(&mut self, at_ms: u64) {
        let Some(advice) = self.advice_may_be_answered(at_ms) else { return };
        let body =
            self.state().open_advice().first().map(|a| format!("{}: {}", a.level, a.advice.seen)).unwrap_or_default();
        self.dialog = Some(Dialog::text(TextAsk::Decline { advice }, "Decline: why?", body, "why", "", 200));
    }

    fn ask_leave(&mut self) {
        if self.state().closed.is_some() {
            self.finished = true;
            return;
        }
        if self.state().train.is_some() {
            self.send(Command::StopTrain);
        }
        self.dialog = Some(
            Dialog::choice(
                ChoiceAsk::Leave,
                "Leave?",
                "The session stays open and can be resumed.",
                vec![('y', "leave".to_owned(), Choice::Yes)],
            )
            .guarded(),
        );
    }
}
