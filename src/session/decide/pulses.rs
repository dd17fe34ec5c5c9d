//! Counting.

use super::no_pass;
use crate::clock::Now;
use crate::session::State;
use crate::session::command::{Ask, CounterConfirm, Refusal};
use crate::session::event::{CorrectionCause, CounterReadingKind, Event, PulseSource, TrainEnd};

/// More pulses than this in one entry point to a slipped digit.
pub const ENTRY_MAX: u64 = 10_000;
/// Pulses of a train in one line of the journal, at most.
const BURST_MAX: u64 = 20;
/// A train that was not looked at for this long was not fired by a hand: the machine slept.
const TRAIN_GAP_MS: u64 = 3_000;
/// Pulses above what the rate allows that are never asked back.
const JUMP_SLACK: u64 = 10;

/// Refuses while something must be done before a pulse may be counted.
fn ready(state: &State) -> Result<(), Refusal> {
    let (index, plan, ..) = state.running().ok_or_else(no_pass)?;
    if state.paused {
        return Err(Refusal::new("pause.on", "counting is paused", "go on with the pause key first"));
    }
    if let Some(gate) = state.gate(index) {
        return Err(super::passes::gate_refusal(state, &gate, &plan.id));
    }
    Ok(())
}

pub(super) fn fire(state: &State, n: u64, source: PulseSource) -> Result<Vec<Event>, Refusal> {
    ready(state)?;
    if state.train.is_some() {
        return Err(Refusal::new("train.running", "a train is counting", "stop it before counting by hand"));
    }
    if n == 0 {
        return Err(Refusal::new("pulses.zero", "no pulses", "type a number from 1"));
    }
    if n > ENTRY_MAX {
        return Err(Refusal::new(
            "pulses.absurd",
            format!("{n} pulses in one entry"),
            format!("an entry takes at most {ENTRY_MAX}; check the number"),
        ));
    }
    let (_, plan, _, pass) = state.running().ok_or_else(no_pass)?;
    Ok(vec![Event::PulsesFired { zone: plan.id.clone(), pass: pass.number, n, source }])
}

pub(super) fn start_train(state: &State) -> Result<Vec<Event>, Refusal> {
    ready(state)?;
    if state.train.is_some() {
        return Err(Refusal::new("train.running", "a train is counting already", "stop it first"));
    }
    let (_, plan, zone, pass) = state.running().ok_or_else(no_pass)?;
    Ok(vec![Event::TrainStarted { zone: plan.id.clone(), pass: pass.number, rate_hz: zone.target.rate.hz() }])
}

/// Pulses of the running train at a session time: the first at its start, then one per period.
fn train_due(rate_hz: f64, elapsed_ms: u64) -> u64 {
    1 + (rate_hz * elapsed_ms as f64 / 1000.0 + 1e-9).floor().max(0.0) as u64
}

pub(super) fn train_tick(state: &State, now: Now) -> Vec<Event> {
    let (Some(train), Some((_, plan, _, pass))) = (state.train, state.running()) else { return Vec::new() };
    let ms = state.session_ms(now);
    let gap = ms.saturating_sub(train.last_ms) > TRAIN_GAP_MS;
    let until = if gap { train.last_ms } else { ms };
    let due = train_due(train.rate_hz, until.saturating_sub(train.started_ms));
    let mut left = due.saturating_sub(train.counted);
    let mut events = Vec::new();
    while left > 0 {
        let n = left.min(BURST_MAX);
        events.push(Event::PulsesFired { zone: plan.id.clone(), pass: pass.number, n, source: PulseSource::Train });
        left -= n;
    }
    if gap {
        events.push(Event::TrainStopped { cause: TrainEnd::ClockGap });
    }
    events
}

pub(super) fn stop_train(state: &State, now: Now) -> Result<Vec<Event>, Refusal> {
    if state.train.is_none() {
        return Err(Refusal::new("train.none", "no train is running", "start one with the train key"));
    }
    let mut events = train_tick(state, now);
    if !matches!(events.last(), Some(Event::TrainStopped { .. })) {
        events.push(Event::TrainStopped { cause: TrainEnd::Operator });
    }
    Ok(events)
}

pub(super) fn read_counter(
    state: &State,
    reading: u64,
    confirm: Option<CounterConfirm>,
    now: Now,
) -> Result<Vec<Event>, Refusal> {
    let Some(counter) = state.opened.device.counter else {
        return Err(Refusal::new("counter.none", "this device has no counter", "count by key, train or number"));
    };
    if reading >= counter.modulus() {
        return Err(Refusal::new(
            "counter.digits",
            format!("{reading} has more digits than the device's counter ({})", counter.digits),
            "read it again",
        ));
    }
    if state.train.is_some() {
        return Err(Refusal::new("train.running", "a train is counting", "stop it before reading the counter"));
    }
    let read = |difference, kind| Event::CounterRead { reading, difference, kind };
    let Some(before) = state.counter.last else {
        return Ok(vec![read(None, CounterReadingKind::Baseline)]);
    };
    // What the device can have fired since the reading before, at the fastest rate it has been set to; what was counted
    // otherwise is believed.
    let rate = state.zones.iter().map(|z| z.target.rate.hz()).fold(0.0, f64::max);
    let elapsed_s = state.session_ms(now).saturating_sub(state.counter.last_ms) as f64 / 1000.0;
    let expected_max = ((rate * elapsed_s).ceil() as u64).max(state.counter.counted_since) + JUMP_SLACK;
    let factor = u64::from(state.opened.protocol.thresholds.counter_jump_factor.value.max(1));
    let (difference, kind) = match (reading.checked_sub(before), confirm) {
        (Some(d), Some(CounterConfirm::Jump)) if d > expected_max.saturating_mul(factor) => {
            (Some(d), CounterReadingKind::JumpConfirmed)
        }
        (_, Some(CounterConfirm::Restarted)) => (None, CounterReadingKind::Restarted),
        (Some(d), _) if d > expected_max.saturating_mul(factor) => {
            return Err(Refusal::new(
                "counter.jump",
                format!("the counter went up by {d}; by rate and count at most {expected_max} are believable"),
                "read it again, or confirm",
            )
            .asking(Ask::CounterJump { difference: d, expected_max }));
        }
        (Some(d), _) => (Some(d), CounterReadingKind::Difference),
        (None, Some(CounterConfirm::RolledOver)) => {
            (Some(reading + counter.modulus() - before), CounterReadingKind::RolledOver)
        }
        (None, _) => {
            let wrapped = reading + counter.modulus() - before;
            return Err(Refusal::new(
                "counter.lower",
                format!("{reading} is lower than the reading before, {before}"),
                "read it again, or say whether the counter rolled over or was restarted",
            )
            .asking(Ask::CounterLower {
                before,
                if_rolled_over: (wrapped <= expected_max.saturating_mul(factor)).then_some(wrapped),
            }));
        }
    };
    let mut events = vec![read(difference, kind)];
    // Nothing was counted otherwise since the reading before: the counter is how pulses are counted here.
    if let (Some(d @ 1..), 0) = (difference, state.counter.counted_since)
        && let Some((_, plan, _, pass)) = state.running()
    {
        ready(state)?;
        events.push(Event::PulsesFired {
            zone: plan.id.clone(),
            pass: pass.number,
            n: d,
            source: PulseSource::Counter,
        });
    }
    Ok(events)
}

pub(super) fn take_device_figure(state: &State) -> Result<Vec<Event>, Refusal> {
    let (device, counted) = state.counter.unsettled.ok_or_else(|| {
        Refusal::new("counter.settled", "counted and device figures do not differ", "read the counter first")
    })?;
    if state.active.is_none() {
        return Err(no_pass());
    }
    let of = state.last_reading().ok_or_else(|| {
        Refusal::new("counter.counted-on", "pulses were counted since the reading", "read the counter again")
    })?;
    Ok(vec![Event::PulsesCorrected { of, from: counted, to: device, cause: CorrectionCause::DeviceCounter }])
}

pub(super) fn correct_last(state: &State, to: u64) -> Result<Vec<Event>, Refusal> {
    if state.train.is_some() {
        return Err(Refusal::new("train.running", "a train is counting", "stop it before correcting"));
    }
    let last = state.last_entry().ok_or_else(|| {
        Refusal::new(
            "correct.none",
            "no pulse entry of this pass can be corrected",
            "entries before a setting change, a counter reading or an earlier pass stay as they are",
        )
    })?;
    if to > ENTRY_MAX {
        return Err(Refusal::new(
            "pulses.absurd",
            format!("{to} pulses in one entry"),
            format!("an entry takes at most {ENTRY_MAX}; check the number"),
        ));
    }
    if to == last.n {
        return Err(Refusal::new("correct.same", format!("the entry holds {to} already"), "nothing to correct"));
    }
    Ok(vec![Event::PulsesCorrected { of: last.seq, from: last.n, to, cause: CorrectionCause::Operator }])
}

pub(super) fn take_back_held_key(state: &State) -> Result<Vec<Event>, Refusal> {
    let last = state.last_entry().filter(|l| l.n == 1);
    let Some(last) = last else { return Ok(Vec::new()) };
    Ok(vec![Event::PulsesCorrected { of: last.seq, from: 1, to: 0, cause: CorrectionCause::KeyHeld }])
}

pub(super) fn undo(state: &State) -> Result<Vec<Event>, Refusal> {
    if state.train.is_some() {
        return Err(Refusal::new("train.running", "a train is counting", "stop it before taking back"));
    }
    let (of, _) = state.next_undo().ok_or_else(|| {
        Refusal::new("undo.none", "nothing in this pass can be taken back", "write a note about what is wrong")
    })?;
    let mut events = vec![Event::EntryVoided { of }];
    // Advice that rested on the voided entry alone no longer holds.
    events.extend(
        state
            .advice
            .iter()
            .filter(|a| a.is_open() && a.advice.evidence == format!("entry {of}"))
            .map(|a| Event::AdviceCleared { advice: a.id, why: "the entry it rested on was taken back".to_owned() }),
    );
    Ok(events)
}
