//! Folding one event into the state. It cannot fail: an event that does not fit changes nothing.

use super::trace::Standing;
use super::{
    AdviceEntry, AdviceStatus, Before, Change, CheckState, Closing, CounterState, Deviation, Mark, Note, PassState,
    Pulses, ResponseEntry, State, Train, UndoWhat, Undoable, Whitening,
};
use crate::plan::ZoneId;
use crate::protocol::{CheckKind, CheckPhase, RuleName};
use crate::session::event::{
    Advice, Answer, CorrectionCause, CounterReadingKind, Event, Level, PulseSource, Response, Stamp, TrainEnd, Verdict,
};
use crate::session::{FreeText, Given, Shown};
use crate::units::Wavelength;
use crate::words::Word;

/// Entries of a pass that can be taken back; older ones stay as they are.
const UNDO_DEPTH: usize = 500;

impl State {
    /// Applies one event.
    pub fn apply(&mut self, stamp: Stamp, event: &Event) {
        let before = self.standing();
        self.fold(stamp, event);
        let after = self.standing();
        self.trace.note(self.clock.session_ms, event, before, after);
    }

    fn standing(&self) -> Standing {
        Standing { pulses: self.total_pulses(), in_pass: self.active.is_some(), paused: self.paused }
    }

    fn fold(&mut self, stamp: Stamp, event: &Event) {
        let before_ms = self.clock.session_ms;
        self.tell_time(stamp, event);
        let ms = self.clock.session_ms;
        match event {
            Event::SessionOpened(_)
            | Event::JournalContinued { .. }
            | Event::ClockStepped { .. }
            | Event::FollowUpAdded(_)
            | Event::Unknown => {}
            Event::SessionResumed { .. } => {
                self.train = None;
                self.happenings.resumed = Some((stamp.seq, ms.saturating_sub(before_ms)));
            }
            Event::Interrupted { .. } => self.train = None,
            Event::LightReckoned { table } => self.happenings.light = Some(table.clone()),
            Event::EarlierFound { earlier } => self.happenings.earlier = Some((**earlier).clone()),
            Event::CheckComputed { .. }
            | Event::CheckAnswered { .. }
            | Event::CheckOverridden { .. }
            | Event::EyewearJudged { .. }
            | Event::AnaestheticGiven { .. } => self.apply_check(stamp, event),
            Event::SettingConfirmed { zone, displayed } => {
                // The device has one setting at a time: what another zone read back no longer stands on its display.
                for other in self.zones.iter_mut().filter(|z| z.target != displayed.setting) {
                    other.confirmed = None;
                }
                if let Some(z) = self.zone_mut(zone) {
                    z.confirmed = Some(*displayed);
                    z.mismatch.clear();
                    z.mismatches = 0;
                }
                self.notice_wavelength(displayed.setting.wavelength);
            }
            Event::SettingMismatched { zone, differences, .. } => {
                if let Some(z) = self.zone_mut(zone) {
                    z.confirmed = None;
                    z.mismatch.clone_from(differences);
                    z.mismatches = z.mismatches.saturating_add(1);
                }
            }
            Event::SettingChanged { zone, from, to, advice, .. } => {
                let for_bleeding = advice.is_some_and(|id| self.was_raised_for_bleeding(id));
                if let Some(z) = self.zone_mut(zone) {
                    z.target = *to;
                    z.last_change =
                        Some(Change { seq: stamp.seq, ms, from: *from, to: *to, advised: advice.is_some() });
                    z.lowerings = z.lowerings.saturating_add(u32::from(advice.is_some()));
                    z.lowered_for_bleeding = z.lowered_for_bleeding.saturating_add(u32::from(for_bleeding));
                    z.mismatches = 0;
                    z.confirmed = None;
                    z.mismatch.clear();
                }
                // A correction of earlier pulses would land on the new setting.
                self.undo.clear();
            }
            Event::PassStarted { zone, pass } => self.start_pass(stamp, zone, *pass, ms),
            Event::PulsesFired { zone, n, source, .. } => {
                self.practice.fired = self.practice.fired.saturating_add(*n);
                self.fire(stamp, zone, *n, *source, ms);
            }
            Event::SkinShowed { sign } => {
                self.practice.shown.push(Shown { seq: stamp.seq, ms, pulses: self.practice.fired, sign: sign.clone() })
            }
            Event::SkinLeft { zones } => self.practice.left = Some(zones.clone()),
            Event::PulsesCorrected { of, from, to, cause } => self.correct(*of, *from, *to, *cause),
            Event::EntryVoided { of } => self.void(*of),
            Event::TrainStarted { rate_hz, .. } => {
                self.train = Some(Train { rate_hz: *rate_hz, started_ms: ms, counted: 0, last_ms: ms });
            }
            Event::TrainStopped { cause } => {
                self.train = None;
                if *cause == TrainEnd::ClockGap {
                    self.happenings.train_cut = Some(stamp.seq);
                }
            }
            Event::CounterRead { reading, difference, kind } => {
                self.read_counter(stamp.seq, *reading, *difference, *kind, ms)
            }
            Event::ResponseSeen { zone, pass, kind, grade, note } => {
                if let Some(index) = self.zone_index(zone) {
                    self.see(stamp, index, *pass, *kind, *grade, note.clone(), ms);
                }
            }
            Event::ResponseNoted { of, note } => {
                let all = self.zones.iter_mut().flat_map(|z| &mut z.responses);
                if let Some(response) = all.into_iter().find(|r| r.seq == *of) {
                    response.note = Some(note.clone());
                }
            }
            Event::WhiteningFaded { zone } => {
                if let Some(index) = self.zone_index(zone) {
                    self.remember(stamp.seq, index, UndoWhat::Faded);
                    if let Some(w) = self.zones.get_mut(index).and_then(|z| z.whitening.as_mut()) {
                        w.faded_ms = Some(ms);
                    }
                }
            }
            Event::AdviceRaised(advice) => self.raise(stamp, advice, ms),
            Event::AdviceEscalated { advice, to, .. } => {
                if let Some(a) = self.open_position(*advice).and_then(|i| self.advice.get_mut(i)) {
                    a.level = *to;
                }
            }
            Event::AdviceAnswered { advice, answer } => {
                self.settle(stamp, *advice, AdviceStatus::Answered(answer.clone(), stamp.at));
            }
            Event::AdviceCleared { advice, why } => {
                self.settle(stamp, *advice, AdviceStatus::Cleared(why.clone()));
            }
            Event::NoteAdded { text } => self.notes.push(Note { at: stamp.at, text: text.clone() }),
            Event::Paused => self.paused = true,
            Event::Resumed => self.paused = false,
            Event::PassEnded { zone, device, explanation, .. } => {
                if let Some(z) = self.zone_mut(zone)
                    && let Some(pass) = z.passes.last_mut()
                {
                    pass.ended_ms = Some(ms);
                    pass.device = *device;
                    pass.explanation.clone_from(explanation);
                }
                self.active = None;
                self.train = None;
                self.paused = false;
                self.undo.clear();
                self.counter.unsettled = None;
            }
            Event::ZoneEnded { zone, outcome, reason } => {
                if let Some(z) = self.zone_mut(zone) {
                    z.outcome = Some(*outcome);
                    z.outcome_reason.clone_from(reason);
                }
            }
            Event::SessionClosed { outcome, next_earliest, note } => {
                self.closed = Some(Closing {
                    at: stamp.at,
                    outcome: *outcome,
                    next_earliest: *next_earliest,
                    note: note.clone(),
                });
            }
        }
    }

    fn tell_time(&mut self, stamp: Stamp, event: &Event) {
        if matches!(event, Event::SessionResumed { .. }) {
            // Another process: its monotonic clock starts anew, so the gap is the wall clock's, never negative.
            let gap = (stamp.at - self.last.at).num_milliseconds().max(0);
            self.clock.session_ms += u64::try_from(gap).unwrap_or(0);
        } else {
            self.clock.session_ms += stamp.mono_ms.saturating_sub(self.clock.mono_ms);
        }
        self.clock.mono_ms = stamp.mono_ms;
        self.last = stamp;
    }

    /// Eyewear and the like are asked again before another wavelength is fired.
    fn notice_wavelength(&mut self, wavelength: Wavelength) {
        let another = |w: Wavelength| (w.nm() - wavelength.nm()).abs() > 0.5;
        // What was answered before the first read-back holds for the planned wavelengths.
        let asked = match self.wavelength {
            Some(before) => another(before),
            None => self.opened.plan.zones.iter().all(|z| another(z.setting.wavelength)),
        };
        if asked {
            for item in self.opened.protocol.checklist.iter().filter(|i| i.again_on_wavelength) {
                if let Some(check) = self.checks.get_mut(&item.id) {
                    check.answer = None;
                    check.overridden = None;
                    if item.kind == CheckKind::Marking {
                        check.computed = None;
                    }
                }
            }
        }
        self.wavelength = Some(wavelength);
    }

    fn zone_mut(&mut self, id: &ZoneId) -> Option<&mut super::ZoneState> {
        let index = self.zone_index(id)?;
        self.zones.get_mut(index)
    }

    /// Where an advice stands while it is open: their numbers only grow.
    fn open_position(&self, id: u64) -> Option<usize> {
        let at = self.advice.binary_search_by_key(&id, |a| a.id).ok()?;
        self.advice.get(at).filter(|a| a.is_open()).map(|_| at)
    }

    fn was_raised_for_bleeding(&self, advice: u64) -> bool {
        let at = self.advice.binary_search_by_key(&advice, |a| a.id);
        let rule = at.ok().and_then(|i| self.advice.get(i)).and_then(|a| RuleName::from_word(&a.advice.rule));
        matches!(rule, Some(RuleName::PinpointBleeding | RuleName::BleedingAfterLowering))
    }

    fn raise(&mut self, stamp: Stamp, advice: &Advice, ms: u64) {
        let entry = AdviceEntry {
            id: stamp.seq,
            at: stamp.at,
            raised_ms: ms,
            advice: advice.clone(),
            level: advice.level,
            pulses_since: 0,
            status: if advice.level == Level::Note { AdviceStatus::Recorded } else { AdviceStatus::Open },
            settled_seq: None,
        };
        let zone = advice.zone.as_ref().and_then(|id| self.zone_index(id));
        self.advice_index.raised(self.advice.len(), &entry, zone);
        self.advice.push(entry);
    }

    fn settle(&mut self, stamp: Stamp, id: u64, status: AdviceStatus) {
        let Some(position) = self.open_position(id) else { return };
        let Some(entry) = self.advice.get_mut(position) else { return };
        entry.status = status;
        entry.settled_seq = Some(stamp.seq);
        let (rule, zone) = (entry.advice.rule.clone(), entry.advice.zone.clone());
        let zone = zone.and_then(|id| self.zone_index(&id));
        self.advice_index.settled(position, &rule, zone, stamp.seq);
    }

    fn apply_check(&mut self, stamp: Stamp, event: &Event) {
        let mut deviation = None;
        match event {
            Event::CheckComputed { item, verdict, text } => {
                self.checks.insert(
                    item.clone(),
                    CheckState { computed: Some((*verdict, text.clone())), ..CheckState::default() },
                );
            }
            Event::CheckAnswered { item, answer } => {
                // "None" takes back what was typed before; the journal keeps it.
                if *answer == Answer::NotApplicable && self.is_kind(item, CheckKind::Anaesthetic) {
                    self.anaesthetics.clear();
                }
                let check = self.checks.entry(item.clone()).or_default();
                check.answer = Some(answer.clone());
                check.overridden = None;
                // A finding about eyewear or anaesthetics belongs to the answer before this one.
                if (self.is_kind(item, CheckKind::Marking) || self.is_kind(item, CheckKind::Anaesthetic))
                    && let Some(check) = self.checks.get_mut(item)
                {
                    check.computed = None;
                }
                if let Answer::No { why } = answer {
                    deviation = Some((item, format!("answered no: {why}"), false));
                }
            }
            Event::EyewearJudged { item, worn, verdict, finding } => {
                self.checks.insert(
                    item.clone(),
                    CheckState {
                        computed: Some((*verdict, finding.clone())),
                        answer: Some(Answer::Value { value: worn.clone() }),
                        overridden: None,
                    },
                );
                if *verdict != Verdict::Pass {
                    deviation = Some((item, finding.clone(), false));
                }
            }
            Event::AnaestheticGiven { item, dose, verdict, finding } => {
                self.anaesthetics.push(Given { seq: stamp.seq, ms: self.clock.session_ms, dose: *dose });
                self.checks.insert(
                    item.clone(),
                    CheckState { computed: Some((*verdict, finding.clone())), ..CheckState::default() },
                );
                if *verdict != Verdict::Pass {
                    deviation = Some((item, finding.clone(), false));
                }
            }
            Event::CheckOverridden { item, by, role, reason } => {
                self.checks.entry(item.clone()).or_default().overridden =
                    Some((by.clone(), role.clone(), reason.clone()));
                deviation = Some((item, format!("overridden by {by} ({role}): {reason}"), true));
            }
            _ => {}
        }
        if let Event::CheckAnswered { item, .. }
        | Event::EyewearJudged { item, .. }
        | Event::CheckOverridden { item, .. } = event
        {
            self.notice_withdrawal(stamp.seq, item);
        }
        if let Some((item, text, overridden)) = deviation {
            self.deviations.push(Deviation { at: stamp.at, item: item.clone(), text, overridden });
        }
    }

    fn is_kind(&self, item: &str, kind: CheckKind) -> bool {
        self.opened.protocol.checklist.iter().any(|i| i.id == item && i.kind == kind)
    }

    /// A condition of the room that was fine and is not any more, once pulses were fired.
    fn notice_withdrawal(&mut self, seq: u64, id: &str) {
        let Some(item) = self.opened.protocol.checklist.iter().find(|i| i.id == id) else { return };
        let bad = item.phase == CheckPhase::TimeOut && !self.item_status(item).lets_pass();
        if bad && self.happenings.first_pulse_ms.is_some() {
            self.happenings.withdrawn.insert(id.to_owned(), seq);
        } else {
            self.happenings.withdrawn.remove(id);
        }
    }

    /// Keeps what an entry is about to change.
    fn remember(&mut self, seq: u64, zone: usize, what: UndoWhat) {
        let Some(z) = self.zones.get(zone) else { return };
        let before = Before { pass: z.passes.last().cloned(), counter: self.counter, whitening: z.whitening };
        if self.undo.len() >= UNDO_DEPTH {
            self.undo.remove(0);
        }
        self.undo.push(Undoable { seq, zone, what, before: Box::new(before) });
    }

    fn start_pass(&mut self, stamp: Stamp, zone: &ZoneId, pass: u8, ms: u64) {
        let Some(index) = self.zone_index(zone) else { return };
        let baseline = self.counter.last.is_some() && self.counter.counted_since == 0;
        if let Some(z) = self.zones.get_mut(index) {
            let began_white = z.is_white();
            z.passes.push(PassState {
                number: pass,
                started_seq: stamp.seq,
                started_ms: ms,
                ended_ms: None,
                counted: 0,
                device: baseline.then_some(0),
                by_source: Pulses::default(),
                explanation: None,
                began_white,
                settings: Vec::new(),
            });
        }
        self.active = Some(index);
        self.paused = false;
        self.undo.clear();
    }

    fn fire(&mut self, stamp: Stamp, zone: &ZoneId, n: u64, source: PulseSource, ms: u64) {
        let Some(index) = self.zone_index(zone) else { return };
        if self.active != Some(index) {
            return;
        }
        let train = source == PulseSource::Train;
        if let (true, Some(t)) = (train, &mut self.train) {
            t.counted = t.counted.saturating_add(n);
            t.last_ms = ms;
        }
        // The bursts of one train, and a counter reading with the pulses it counted, are one entry to the operator.
        let later_burst = train && self.train.is_some_and(|t| t.counted > n);
        let merged = match self.undo.last_mut() {
            Some(Undoable { zone, what: UndoWhat::Pulses { n: so_far, source: PulseSource::Train }, .. })
                if later_burst && *zone == index =>
            {
                *so_far = so_far.saturating_add(n);
                true
            }
            Some(Undoable { what: UndoWhat::Counter, .. }) => source == PulseSource::Counter,
            _ => false,
        };
        if !merged {
            self.remember(stamp.seq, index, UndoWhat::Pulses { n, source });
        }
        self.count(index, n, source);
        self.happenings.first_pulse_ms.get_or_insert(ms);
        for i in &self.advice_index.open {
            if let Some(a) = self.advice.get_mut(*i) {
                a.pulses_since = a.pulses_since.saturating_add(n);
            }
        }
    }

    fn count(&mut self, zone: usize, n: u64, source: PulseSource) {
        let Some(z) = self.zones.get_mut(zone) else { return };
        z.add_pulses(source, n);
        if source == PulseSource::Counter {
            if let Some(device) = z.passes.last_mut().and_then(|p| p.device.as_mut()) {
                *device = device.saturating_add(n);
            }
        } else {
            self.counter.counted_since = self.counter.counted_since.saturating_add(n);
        }
    }

    /// Puts the counting figures of a zone's pass back to what they were before an entry.
    fn restore(&mut self, entry: &Undoable) {
        if let Some(z) = self.zones.get_mut(entry.zone)
            && let (Some(pass), Some(before)) = (z.passes.last_mut(), &entry.before.pass)
        {
            *pass = before.clone();
        }
        self.counter = entry.before.counter;
    }

    fn correct(&mut self, of: u64, from: u64, to: u64, cause: CorrectionCause) {
        let Some(position) = self.undo.iter().rposition(|u| u.seq == of) else { return };
        let Some(mut entry) = self.undo.get(position).cloned() else { return };
        match entry.what {
            UndoWhat::Pulses { source, .. } => {
                self.restore(&entry);
                if to > 0 {
                    self.count(entry.zone, to, source);
                }
                entry.what = UndoWhat::Pulses { n: to, source };
                if let Some(slot) = self.undo.get_mut(position) {
                    *slot = entry;
                }
            }
            UndoWhat::Counter if cause == CorrectionCause::DeviceCounter => {
                if let Some(z) = self.zones.get_mut(entry.zone) {
                    if to >= from { z.add_pulses(PulseSource::Counter, to - from) } else { z.take_pulses(from - to) }
                }
                self.counter.unsettled = None;
            }
            _ => {}
        }
    }

    fn void(&mut self, of: u64) {
        if self.undo.last().is_none_or(|u| u.seq != of) {
            return;
        }
        let Some(entry) = self.undo.pop() else { return };
        match entry.what {
            UndoWhat::Pulses { .. } | UndoWhat::Counter => self.restore(&entry),
            // The count may have been corrected beneath a response: only what the response changed goes back.
            UndoWhat::Response | UndoWhat::Faded => {
                if let Some(z) = self.zones.get_mut(entry.zone) {
                    z.forget_response(entry.zone, of);
                    z.whitening = entry.before.whitening;
                }
                self.happenings.take_back(of);
            }
        }
    }

    fn read_counter(&mut self, seq: u64, reading: u64, difference: Option<u64>, kind: CounterReadingKind, ms: u64) {
        if let Some(zone) = self.active {
            self.remember(seq, zone, UndoWhat::Counter);
        }
        let counted = self.counter.counted_since;
        self.counter = CounterState {
            last: Some(reading),
            last_ms: ms,
            counted_since: 0,
            // A reading that counts pulses itself (nothing was counted otherwise) has nothing to settle.
            unsettled: difference.filter(|d| counted > 0 && *d != counted).map(|d| (d, counted)),
            kind: Some(kind),
        };
        if kind == CounterReadingKind::Restarted {
            self.happenings.counter_restarted = Some(seq);
        }
        let Some(pass) = self.active.and_then(|z| self.zones.get_mut(z)).and_then(|z| z.passes.last_mut()) else {
            return;
        };
        match difference {
            Some(d) if counted > 0 => pass.device = pass.device.map(|sum| sum.saturating_add(d)),
            // The pulses of this reading follow as an event of their own.
            Some(_) => {}
            // A first reading before the first pulse is a baseline; a later one, or a restart, cannot tell the pass.
            None if pass.counted == 0 => pass.device = Some(0),
            None if counted > 0 => pass.device = None,
            None => {}
        }
    }

    #[allow(clippy::too_many_arguments, reason = "the fields of one event")]
    fn see(
        &mut self,
        stamp: Stamp,
        index: usize,
        pass: u8,
        kind: Response,
        grade: Option<u8>,
        note: Option<FreeText>,
        ms: u64,
    ) {
        self.remember(stamp.seq, index, UndoWhat::Response);
        let Some(z) = self.zones.get_mut(index) else { return };
        let pulses = z.passes.last().map_or(0, |p| p.counted);
        if kind == Response::Whitening {
            z.whitening = Some(Whitening { seq: stamp.seq, pass, seen_ms: ms, grade, faded_ms: None });
        }
        let mark = Mark { seq: stamp.seq, ms, zone: index, pass, pulses, grade };
        z.marks.set(kind, Some(mark));
        z.responses.push(ResponseEntry { seq: stamp.seq, at: stamp.at, ms, pass, pulses, kind, grade, note });
        if kind == Response::Pain {
            self.happenings.hurt(mark);
        }
    }
}
