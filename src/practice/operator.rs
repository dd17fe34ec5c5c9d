//! The model operator: plays a sound session by the protocol and the advice, and knows nothing that it could not see.
//!
//! It looks at the session, at what the skin and the display show, and at what the client says; never at the hidden case.
//! Asked for its next step, it answers with a command or with how long it waits.

use crate::limits::setting_problems;
use crate::plan::{PassSpacing, Setting};
use crate::protocol::{CheckItem, CheckKind, CheckPhase};
use crate::session::checks::likely_worn;
use crate::session::{
    AdviceAnswer, AdviceEntry, Command, FreeText, Gate, ItemStatus, Level, PulseSource, Response, SessionOutcome,
    Shown, State,
};

/// How the operator works.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Manner {
    /// By the protocol and the advice.
    Sound,
    /// Declines every advice and waits for nothing: what the sound manner is held against.
    Heedless,
}

/// What the operator does next.
#[derive(Debug, Clone, PartialEq)]
pub enum Step {
    /// A command.
    Do(Command),
    /// Nothing for so long, ms.
    Wait(u64),
    /// The session is over.
    Done,
}

/// Time between seeing something and noting it, ms (invented for practice).
const REACTION_MS: u64 = 1_200;
/// Time that an answer, a check or a dial takes, ms (invented for practice).
const HAND_MS: u64 = 2_000;
/// How often a waiting operator looks up, ms.
const LOOK_MS: u64 = 10_000;
/// Refusals in a row after which it gives up, so that no session plays for ever.
const REFUSALS: u32 = 25;

/// A model operator.
#[derive(Debug, Clone)]
pub struct Operator {
    manner: Manner,
    /// Sequence number of the last sign that was dealt with.
    noted: u64,
    refusals: u32,
}

impl Operator {
    /// An operator who works in this manner.
    #[must_use]
    pub const fn new(manner: Manner) -> Self {
        Self { manner, noted: 0, refusals: 0 }
    }

    /// Tells it that its last command was refused.
    pub const fn refused(&mut self) {
        self.refusals += 1;
    }

    /// Tells it that its last command was taken.
    pub const fn taken(&mut self) {
        self.refusals = 0;
    }

    /// True when it no longer knows how to go on.
    #[must_use]
    pub const fn is_lost(&self) -> bool {
        self.refusals >= REFUSALS
    }

    /// The next step at a session time, and how long it takes before it is done, ms.
    pub fn step(&mut self, state: &State, ms: u64) -> (Step, u64) {
        if state.closed.is_some() {
            return (Step::Done, 0);
        }
        if let Some(step) = self.note_what_shows(state, ms) {
            return step;
        }
        if let Some(top) = state.open_advice().first() {
            return (Step::Do(Command::AnswerAdvice { advice: top.id, answer: self.answer(top) }), HAND_MS);
        }
        if let Some((index, plan, z, pass)) = state.running() {
            if self.manner == Manner::Sound && nothing_answers(z) {
                return (Step::Do(Command::EndPass { explanation: None }), HAND_MS);
            }
            return match state.gate(index) {
                Some(gate) => self.pass_gate(state, &gate, index),
                None if pass.counted >= z.planned_per_pass(plan) => {
                    (Step::Do(Command::EndPass { explanation: None }), HAND_MS)
                }
                None => {
                    let every = (1000.0 / z.target.rate.hz()).round() as u64;
                    (Step::Do(Command::Fire { n: 1, source: PulseSource::Key }), every)
                }
            };
        }
        self.between_passes(state, ms)
    }

    /// What the skin shows and nobody noted yet.
    fn note_what_shows(&mut self, state: &State, ms: u64) -> Option<(Step, u64)> {
        let shown: &Shown = state.practice.shown.iter().find(|s| s.seq > self.noted)?;
        let ready = shown.ms + REACTION_MS;
        // The hand does not stop for a look, but a sign is noted before the next pulse after that time.
        if ms < ready && state.running().is_some() && !urgent(shown.sign.kind) && state.open_advice().is_empty() {
            return None;
        }
        self.noted = shown.seq;
        let sign = &shown.sign;
        let command = if sign.grade == 0 {
            let white = state.zone_index(&sign.zone).and_then(|i| state.zone(i)).is_some_and(|(_, z)| z.is_white());
            if !white {
                return self.note_what_shows(state, ms);
            }
            Command::WhiteningFaded { zone: sign.zone.clone() }
        } else {
            let grade = (sign.kind != Response::NoResponse && sign.kind != Response::OffSpacer).then_some(sign.grade);
            Command::See { kind: sign.kind, grade, note: String::new() }
        };
        Some((Step::Do(command), REACTION_MS.saturating_sub(ms.saturating_sub(shown.ms))))
    }

    fn answer(&self, top: &AdviceEntry) -> AdviceAnswer {
        match self.manner {
            Manner::Sound if top.level == Level::Stop && top.advice.to.is_none() => AdviceAnswer::Stopped,
            Manner::Sound => AdviceAnswer::Accepted,
            Manner::Heedless => {
                let reason = FreeText::new("goes on as planned");
                reason.map_or(AdviceAnswer::Accepted, |reason| AdviceAnswer::Declined { reason })
            }
        }
    }

    fn pass_gate(&self, state: &State, gate: &Gate, zone: usize) -> (Step, u64) {
        match gate {
            Gate::HardStop(_) if state.active.is_some() => {
                (Step::Do(Command::EndPass { explanation: Some("a check refuses treatment".to_owned()) }), HAND_MS)
            }
            Gate::HardStop(_) => self.refuse(state),
            Gate::Checks(phase, _) => self.next_check(state, *phase),
            Gate::ReadBack(id) => match state.practice_display(zone) {
                Some(displayed) => (Step::Do(Command::ReadBack { zone: id.clone(), displayed }), HAND_MS),
                None => (Step::Wait(LOOK_MS), LOOK_MS),
            },
        }
    }

    fn between_passes(&self, state: &State, ms: u64) -> (Step, u64) {
        if state.items_in_the_way(CheckPhase::SignIn) > 0 && state.hard_stop().is_none() {
            return self.next_check(state, CheckPhase::SignIn);
        }
        if state.hard_stop().is_some() && state.total_pulses() == 0 {
            return self.refuse(state);
        }
        let open = |(_, z): &(usize, &crate::session::ZoneState)| z.outcome.is_none();
        let Some((index, z)) = state.zones.iter().enumerate().find(open) else { return self.finish(state) };
        let Some((plan, _)) = state.zone(index) else { return (Step::Done, 0) };
        if z.passes.len() >= usize::from(plan.passes) {
            return (Step::Do(Command::EndZone { zone: plan.id.clone(), reason: None }), HAND_MS);
        }
        if self.manner == Manner::Sound && nothing_answers(z) {
            let reason = Some("no response: the wavelength has to be planned anew".to_owned());
            return (Step::Do(Command::EndZone { zone: plan.id.clone(), reason }), HAND_MS);
        }
        if self.manner == Manner::Sound
            && let Some(to) = step_up(state, index)
        {
            let reason = "whitened without bleeding last time, and the ink is thinner".to_owned();
            return (Step::Do(Command::ChangeSetting { zone: plan.id.clone(), to, reason }), HAND_MS);
        }
        if let Some(gate) = state.gate(index) {
            return self.pass_gate(state, &gate, index);
        }
        if self.manner == Manner::Sound {
            let wait = match plan.pass_spacing {
                PassSpacing::Wait { wait } => {
                    z.last_ended_ms().map_or(0, |ended| (ended + (wait.seconds() * 1000.0) as u64).saturating_sub(ms))
                }
                PassSpacing::UntilFaded => 0,
            };
            if wait > 0 || z.is_white() {
                let wait = wait.clamp(1_000, LOOK_MS);
                return (Step::Wait(wait), wait);
            }
        }
        (Step::Do(Command::StartPass { zone: plan.id.clone() }), HAND_MS)
    }

    fn finish(&self, state: &State) -> (Step, u64) {
        if state.total_pulses() > 0 && state.items_in_the_way(CheckPhase::SignOut) > 0 {
            return self.next_check(state, CheckPhase::SignOut);
        }
        let stopped = state.zones.iter().any(|z| z.outcome == Some(crate::session::ZoneOutcome::Stopped));
        let (outcome, note) = match (state.total_pulses() > 0, stopped) {
            (true, true) => (SessionOutcome::Stopped, ""),
            (true, false) => (SessionOutcome::Completed, ""),
            (false, _) => (SessionOutcome::NotTreated, "no zone was treated"),
        };
        (Step::Do(Command::Close { outcome, note: note.to_owned() }), HAND_MS)
    }

    /// Closes a session whose checks do not let anybody treat.
    fn refuse(&self, state: &State) -> (Step, u64) {
        let outcome = if state.total_pulses() > 0 { SessionOutcome::Stopped } else { SessionOutcome::Refused };
        (Step::Do(Command::Close { outcome, note: "the checks refuse treatment".to_owned() }), HAND_MS)
    }

    fn next_check(&self, state: &State, phase: CheckPhase) -> (Step, u64) {
        let mut items = state.items(phase);
        let Some((item, status)) = items.find(|(_, s)| !s.lets_pass()) else { return (Step::Wait(LOOK_MS), LOOK_MS) };
        if matches!(status, ItemStatus::Blocked | ItemStatus::HardStop) {
            return self.refuse(state);
        }
        (Step::Do(self.answer_item(state, item)), HAND_MS)
    }

    fn answer_item(&self, state: &State, item: &CheckItem) -> Command {
        let id = item.id.clone();
        let said = state.opened.practice.as_ref().and_then(|run| run.case.answer(&item.id));
        if let Some(answer) = said.filter(|a| !a.holds && self.manner == Manner::Sound) {
            return Command::CheckNo { item: id, why: answer.says.clone() };
        }
        match item.kind {
            CheckKind::Value => Command::CheckValue { item: id, value: "OP-1".to_owned() },
            CheckKind::Marking => match likely_worn(&state.opened) {
                Some(pair) => Command::CheckValue { item: id, value: pair.name.clone() },
                None => Command::CheckNo { item: id, why: "no pair of the clinic protects".to_owned() },
            },
            CheckKind::Anaesthetic => Command::CheckNotApplicable { item: id },
            CheckKind::YesNo if item.id == "healing" && state.opened.plan.history.earlier_sessions == 0 => {
                Command::CheckNotApplicable { item: id }
            }
            CheckKind::YesNo | CheckKind::Computed => Command::CheckYes { item: id },
        }
    }
}

/// True when nothing was seen in a zone that had its pulses: more of the same would only heat the skin.
fn nothing_answers(z: &crate::session::ZoneState) -> bool {
    z.whitening.is_none() && z.marks.latest(Response::NoResponse).is_some()
}

/// One step up for a zone that answered well the last time, before its first pulse: as the ink thins, the same response
/// needs more. Never above the limit of device and protocol, and once a session.
fn step_up(state: &State, index: usize) -> Option<Setting> {
    let (plan, z) = state.zone(index)?;
    let last = state.happenings.earlier.as_ref()?.zones.iter().find(|e| e.zone == plan.id)?;
    let too_much = |r: &Response| !matches!(r, Response::Whitening | Response::Redness | Response::Pain);
    let bore_it = last.responses.contains(&Response::Whitening) && !last.responses.iter().any(too_much);
    if !bore_it || !z.passes.is_empty() || z.last_change.is_some() || last.setting != z.target {
        return None;
    }
    let o = &state.opened;
    let to = Setting { fluence: o.device.ladder(&z.target)?.above(z.target.fluence)?, ..z.target };
    setting_problems(&to, o.plan.client.skin, &o.device, &o.protocol).is_empty().then_some(to)
}

/// What nobody looks at for a second before acting.
const fn urgent(kind: Response) -> bool {
    matches!(
        kind,
        Response::Darkening
            | Response::BlueGrey
            | Response::Separation
            | Response::Wheals
            | Response::Systemic
            | Response::OffSpacer
    )
}
