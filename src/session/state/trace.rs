//! When a session's pulses were counted and what happened besides, in a bounded number of spans: a picture of a session
//! of any length costs the same to draw, and keeping it costs the same for each event.

use crate::session::AdviceAnswer;
use crate::session::event::{Event, Level, Response};
use crate::words::words;

words! {
    /// What is marked on the timeline of a session.
    TraceMark, "mark on a timeline" {
        /// Whitening seen.
        Whitening = "whitening",
        /// Whitening faded.
        Faded = "faded",
        /// Pinpoint bleeding seen.
        Bleeding = "bleeding",
        /// No response seen.
        NoResponse = "none-seen",
        /// Another response seen.
        OtherResponse = "other-response",
        /// Pain scored.
        Pain = "pain",
        /// A note raised.
        Note = "NOTE",
        /// A check raised.
        Check = "CHECK",
        /// A wait raised.
        Wait = "WAIT",
        /// A lowering raised, or what was raised became one.
        Lower = "LOWER",
        /// A stop raised, or what was raised became one.
        Stop = "STOP",
        /// Advice accepted.
        Accepted = "accepted",
        /// The other setting that the advice offered was taken.
        Alternative = "larger-spot",
        /// Advice declined.
        Declined = "declined",
        /// Stopped on advice.
        Stopped = "stopped",
        /// Advice no longer held.
        Cleared = "cleared",
        /// What the device showed agreed.
        ReadBack = "read-back",
        /// What the device showed did not agree.
        Mismatch = "differs",
        /// The fluence was lowered.
        Lowered = "lowered",
        /// The fluence was raised.
        Raised = "raised",
        /// The setting was changed at the same fluence.
        Changed = "changed",
        /// A pass began.
        PassStart = "pass-begins",
        /// A pass ended.
        PassEnd = "pass-ends",
        /// A zone was ended.
        ZoneEnd = "zone-ended",
        /// Counting was paused.
        Pause = "pause",
        /// Counting went on.
        GoOn = "goes-on",
        /// An entry was taken back.
        TakenBack = "taken-back",
        /// A count was corrected.
        Corrected = "corrected",
        /// The session was cut off and taken up again.
        CutOff = "cut-off",
    }
}

impl TraceMark {
    /// The mark of an event; none for what a timeline does not show.
    #[must_use]
    pub fn of(event: &Event) -> Option<Self> {
        Some(match event {
            Event::ResponseSeen { kind, .. } => match kind {
                Response::Whitening => Self::Whitening,
                Response::PinpointBleeding => Self::Bleeding,
                Response::NoResponse => Self::NoResponse,
                Response::Pain => Self::Pain,
                _ => Self::OtherResponse,
            },
            Event::WhiteningFaded { .. } => Self::Faded,
            Event::AdviceRaised(advice) => Self::of_level(advice.level),
            Event::AdviceEscalated { to, .. } => Self::of_level(*to),
            Event::AdviceAnswered { answer, .. } => match answer {
                AdviceAnswer::Accepted => Self::Accepted,
                AdviceAnswer::Alternative => Self::Alternative,
                AdviceAnswer::Declined { .. } => Self::Declined,
                AdviceAnswer::Stopped => Self::Stopped,
            },
            Event::AdviceCleared { .. } => Self::Cleared,
            Event::SettingConfirmed { .. } => Self::ReadBack,
            Event::SettingMismatched { .. } => Self::Mismatch,
            Event::SettingChanged { from, to, .. } => match to.fluence.j_cm2().total_cmp(&from.fluence.j_cm2()) {
                std::cmp::Ordering::Less => Self::Lowered,
                std::cmp::Ordering::Equal => Self::Changed,
                std::cmp::Ordering::Greater => Self::Raised,
            },
            Event::PassStarted { .. } => Self::PassStart,
            Event::PassEnded { .. } => Self::PassEnd,
            Event::ZoneEnded { .. } => Self::ZoneEnd,
            Event::Paused => Self::Pause,
            Event::Resumed => Self::GoOn,
            Event::EntryVoided { .. } => Self::TakenBack,
            Event::PulsesCorrected { .. } => Self::Corrected,
            Event::SessionResumed { .. } => Self::CutOff,
            _ => return None,
        })
    }

    const fn of_level(level: Level) -> Self {
        match level {
            Level::Note => Self::Note,
            Level::Check => Self::Check,
            Level::Wait => Self::Wait,
            Level::Lower => Self::Lower,
            Level::Stop => Self::Stop,
        }
    }

    const fn bit(self) -> u32 {
        1 << self as u32
    }
}

/// Spans that are kept at most.
pub const SPANS_MAX: usize = 512;
/// Length of a span of a short session, in ms.
const FIRST_SPAN_MS: u64 = 1_000;

/// One span of time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Span {
    /// Pulses counted in it, less what was taken back since.
    pub pulses: u64,
    /// True when a pass ran during it.
    pub in_pass: bool,
    /// True when counting was paused during it.
    pub paused: bool,
    marks: u32,
}

impl Span {
    /// True when something of this kind happened in it.
    #[must_use]
    pub const fn has(&self, mark: TraceMark) -> bool {
        self.marks & mark.bit() != 0
    }

    /// The same stretch with nothing that happened in it.
    #[must_use]
    pub const fn quiet(self) -> Self {
        Self { pulses: 0, marks: 0, ..self }
    }

    const fn joined(self, next: Self) -> Self {
        Self {
            pulses: self.pulses.saturating_add(next.pulses),
            in_pass: self.in_pass || next.in_pass,
            paused: self.paused || next.paused,
            marks: self.marks | next.marks,
        }
    }
}

/// The course of a session in spans of equal length from its opening on, at most [`SPANS_MAX`]; when they run out, each
/// becomes twice as long.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Trace {
    span_ms: u64,
    spans: Vec<Span>,
}

impl Default for Trace {
    fn default() -> Self {
        Self { span_ms: FIRST_SPAN_MS, spans: Vec::new() }
    }
}

impl Trace {
    /// Length of each span in ms.
    #[must_use]
    pub const fn span_ms(&self) -> u64 {
        self.span_ms
    }

    /// The spans, the first beginning at the opening.
    #[must_use]
    pub fn spans(&self) -> &[Span] {
        &self.spans
    }

    /// Goes on to a session time; what lies between was as it was before.
    fn go_to(&mut self, ms: u64, in_pass: bool, paused: bool) {
        while ms / self.span_ms >= SPANS_MAX as u64 {
            self.span_ms = self.span_ms.saturating_mul(2);
            let pairs = self.spans.chunks(2);
            self.spans = pairs.map(|pair| pair.iter().copied().fold(Span::default(), Span::joined)).collect();
        }
        let at = usize::try_from(ms / self.span_ms).unwrap_or(SPANS_MAX);
        while self.spans.len() <= at {
            self.spans.push(Span { in_pass, paused, ..Span::default() });
        }
    }

    /// Notes an event: the session's pulses before and after it, and whether a pass ran and was paused before and after.
    pub(super) fn note(&mut self, ms: u64, event: &Event, before: Standing, after: Standing) {
        self.go_to(ms, before.in_pass, before.paused);
        if let Some(span) = self.spans.last_mut() {
            span.in_pass |= after.in_pass;
            span.paused |= after.paused;
            span.marks |= TraceMark::of(event).map_or(0, TraceMark::bit);
            span.pulses = span.pulses.saturating_add(after.pulses.saturating_sub(before.pulses));
        }
        // What is taken back was counted last.
        let mut less = before.pulses.saturating_sub(after.pulses);
        for span in self.spans.iter_mut().rev() {
            let take = less.min(span.pulses);
            span.pulses -= take;
            less -= take;
            if less == 0 {
                break;
            }
        }
    }
}

/// What a trace looks at in a session.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Standing {
    pub(super) pulses: u64,
    pub(super) in_pass: bool,
    pub(super) paused: bool,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::words::Word;

    const IDLE: Standing = Standing { pulses: 0, in_pass: false, paused: false };

    fn at(pulses: u64) -> Standing {
        Standing { pulses, in_pass: true, paused: false }
    }

    #[test]
    fn every_mark_has_a_bit_of_its_own() {
        assert!(TraceMark::ALL.len() <= 32);
        let bits = TraceMark::ALL.iter().fold(0, |bits, mark| bits | mark.bit());
        assert_eq!(bits.count_ones() as usize, TraceMark::ALL.len());
    }

    #[test]
    fn spans_stay_few_and_lose_nothing_however_long_the_session() {
        let mut trace = Trace::default();
        let mut pulses = 0;
        for n in 0..200_000u64 {
            let event = if n % 1000 == 0 { Event::Paused } else { Event::Resumed };
            trace.note(n * 700, &event, at(pulses), at(pulses + n % 3));
            pulses += n % 3;
            assert!(trace.spans().len() <= SPANS_MAX);
        }
        assert_eq!(trace.spans().iter().map(|s| s.pulses).sum::<u64>(), pulses);
        assert!(trace.spans().len() > SPANS_MAX / 2, "{}", trace.spans().len());
        assert!(trace.spans().iter().any(|s| s.has(TraceMark::Pause)));
        // A night between, or a clock gone wild, is only longer.
        trace.note(u64::MAX, &Event::Paused, at(pulses), at(pulses));
        assert!(trace.spans().len() <= SPANS_MAX);
        assert_eq!(trace.spans().iter().map(|s| s.pulses).sum::<u64>(), pulses);
    }

    #[test]
    fn a_quiet_stretch_is_as_it_was_before_it() {
        let mut trace = Trace::default();
        trace.note(500, &Event::Resumed, IDLE, at(0));
        trace.note(4_500, &Event::Paused, at(0), Standing { paused: true, ..at(0) });
        trace.note(8_500, &Event::Resumed, Standing { paused: true, ..at(0) }, IDLE);
        let flags: Vec<_> = trace.spans().iter().map(|s| (s.in_pass, s.paused)).collect();
        assert_eq!(flags.len(), 9);
        assert_eq!(flags[..4], [(true, false); 4]);
        assert_eq!(flags[4..], [(true, true); 5]);
        assert!(trace.spans()[4].has(TraceMark::Pause) && !trace.spans()[5].has(TraceMark::Pause));
    }

    #[test]
    fn what_is_taken_back_was_counted_last() {
        let mut trace = Trace::default();
        trace.note(0, &Event::Resumed, at(0), at(5));
        trace.note(1_000, &Event::Resumed, at(5), at(8));
        trace.note(3_000, &Event::EntryVoided { of: 1 }, at(8), at(4));
        assert_eq!(trace.spans().iter().map(|s| s.pulses).collect::<Vec<_>>(), [4, 0, 0, 0]);
        assert!(trace.spans()[3].has(TraceMark::TakenBack));
    }
}
