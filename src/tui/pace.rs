//! Tells taps of the pulse key from a key that is held.
//!
//! A terminal with key reports says which presses are repeats. The others send a held key as a stream of presses; then
//! only time can tell. People tap up to about 6 to 8 times a second, and a held key repeats 10 to 40 times a second
//! after a first wait of a quarter to two thirds of a second (figures from memory). So a press that follows the one
//! before it too closely is a repeat. The first repeat comes after that long wait and looks like a tap; when the steady
//! stream after it betrays it, it is taken back.

use super::chord::Stroke;
use std::collections::{HashMap, VecDeque};
use std::hash::Hash;

/// No press that follows another within this time is a tap of a person.
const FASTEST_TAP_MS: f64 = 100.0;

/// A device that fires faster may be counted faster: down to this share of the time between its pulses.
const SHARE_OF_PERIOD: f64 = 0.8;

/// Added where the device leaves room for it, so that a key repeating ten times a second is still seen as held.
const SLACK_MS: f64 = 10.0;

/// The device rate up to which there is that room: its pulses are then at least 125 ms apart.
const SLOW_HZ: f64 = 8.0;

/// Longest time within which a contact may be said to bounce, ms: the fastest device fires every 50 ms.
pub const BOUNCE_MAX_MS: u64 = 40;

/// How many repeats must follow evenly before the press before them is taken back.
const RUN: usize = 4;

/// How far each gap of an even run may be from their mean.
const EVEN_MS: f64 = 10.0;

/// How long a held key waits before it first repeats.
const FIRST_WAIT_MS: std::ops::RangeInclusive<u64> = 150..=1100;

/// What a key event of the pulse key means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pace {
    /// A tap: it counts.
    Count,
    /// A repeat or a release: it does not count. A repeat is worth the words `key held` on the screen.
    Held,
    /// A repeat, which shows that the last press counted was the held key's first repeat: take that one back.
    HeldTakeBackOne,
}

/// Remembers each key's recent past.
#[derive(Debug, Clone)]
pub struct Pacer<K> {
    keys: HashMap<K, Past>,
    reports: bool,
    /// Two presses closer than this are one press of a switch whose contact bounces; 0 where none does.
    bounce_ms: u64,
}

#[derive(Debug, Clone, Default)]
struct Past {
    last_ms: Option<u64>,
    counted_ms: Option<u64>,
    counted_before_ms: Option<u64>,
    /// The gaps of the last repeats since a press was counted, at most [`RUN`].
    gaps_ms: VecDeque<u64>,
    taken_back: bool,
}

impl<K> Default for Pacer<K> {
    fn default() -> Self {
        Self { keys: HashMap::new(), reports: false, bounce_ms: 0 }
    }
}

impl<K: Eq + Hash> Pacer<K> {
    /// A pacer that has seen no key.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// True once the terminal has reported a repeat or a release, so that its presses can be believed.
    #[must_use]
    pub const fn has_reports(&self) -> bool {
        self.reports
    }

    /// Judges one key event at `at_ms`, while the device is set to `rate_hz` pulses a second.
    ///
    /// A rate that is not a positive number is taken as slow.
    pub fn judge(&mut self, key: K, at_ms: u64, stroke: Stroke, rate_hz: f64) -> Pace {
        match stroke {
            Stroke::Repeat | Stroke::Release => {
                self.reports = true;
                Pace::Held
            }
            Stroke::Press if self.reports => Pace::Count,
            Stroke::Press => self.keys.entry(key).or_default().press(at_ms, rate_hz),
        }
    }
}

impl<K: Eq + Hash> Pacer<K> {
    /// With a switch whose contact bounces for so long, at most [`BOUNCE_MAX_MS`]. Presses are stamped when they are read,
    /// so on a machine that stands still for a moment two taps may look like a bounce: only for a switch that needs it.
    pub fn bouncing(&mut self, bounce_ms: u64) {
        self.bounce_ms = bounce_ms.min(BOUNCE_MAX_MS);
    }

    /// Judges a press of a key that may be a foot switch: its contact may bounce.
    pub fn judge_switch(&mut self, key: K, at_ms: u64, rate_hz: f64) -> Pace {
        if self.reports {
            self.keys.entry(key).or_default().bounce_or_tap(at_ms, self.bounce_ms)
        } else {
            self.judge(key, at_ms, Stroke::Press, rate_hz)
        }
    }
}

impl Past {
    /// Where presses can be believed, only the contact of a switch presses twice within so short a time.
    fn bounce_or_tap(&mut self, at_ms: u64, bounce_ms: u64) -> Pace {
        let bounces = self.last_ms.is_some_and(|last| at_ms.saturating_sub(last) < bounce_ms);
        self.last_ms = Some(at_ms);
        if bounces { Pace::Held } else { Pace::Count }
    }

    fn press(&mut self, at_ms: u64, rate_hz: f64) -> Pace {
        let gap_ms = self.last_ms.map(|last| at_ms.saturating_sub(last));
        self.last_ms = Some(at_ms);
        match gap_ms {
            Some(gap_ms) if is_repeat(gap_ms, rate_hz) => self.repeat(gap_ms),
            _ => {
                self.counted_before_ms = self.counted_ms.replace(at_ms);
                self.gaps_ms.clear();
                self.taken_back = false;
                Pace::Count
            }
        }
    }

    fn repeat(&mut self, gap_ms: u64) -> Pace {
        if self.gaps_ms.len() == RUN {
            self.gaps_ms.pop_front();
        }
        self.gaps_ms.push_back(gap_ms);
        if self.taken_back || !self.is_even_run() || !self.was_first_repeat() {
            return Pace::Held;
        }
        self.taken_back = true;
        Pace::HeldTakeBackOne
    }

    fn is_even_run(&self) -> bool {
        let mean_ms = self.gaps_ms.iter().sum::<u64>() as f64 / RUN as f64;
        self.gaps_ms.len() == RUN && self.gaps_ms.iter().all(|gap| (*gap as f64 - mean_ms).abs() <= EVEN_MS)
    }

    fn was_first_repeat(&self) -> bool {
        match (self.counted_before_ms, self.counted_ms) {
            (Some(before), Some(last)) => FIRST_WAIT_MS.contains(&last.saturating_sub(before)),
            _ => false,
        }
    }
}

fn is_repeat(gap_ms: u64, rate_hz: f64) -> bool {
    let slow = !(rate_hz.is_finite() && rate_hz > SLOW_HZ);
    let limit_ms =
        if slow { FASTEST_TAP_MS + SLACK_MS } else { (1000.0 * SHARE_OF_PERIOD / rate_hz).min(FASTEST_TAP_MS) };
    gap_ms as f64 <= limit_ms
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Plays presses of one key and gives what was counted in the end.
    fn net(times: impl IntoIterator<Item = u64>, rate_hz: f64) -> i64 {
        let mut pacer = Pacer::new();
        times.into_iter().map(|at| worth(pacer.judge((), at, Stroke::Press, rate_hz))).sum()
    }

    fn worth(pace: Pace) -> i64 {
        match pace {
            Pace::Count => 1,
            Pace::Held => 0,
            Pace::HeldTakeBackOne => -1,
        }
    }

    fn every(from: u64, gap: u64, n: u64) -> impl Iterator<Item = u64> {
        (0..n).map(move |i| from + i * gap)
    }

    /// A key held for a while: a press, the first wait, then repeats.
    fn hold(at: u64, wait: u64, gap: u64, repeats: u64) -> impl Iterator<Item = u64> {
        std::iter::once(at).chain(every(at + wait, gap, repeats))
    }

    #[test]
    fn taps_all_count() {
        assert_eq!(net(every(0, 166, 60), 5.0), 60, "6 a second");
        assert_eq!(net(every(0, 125, 60), 2.0), 60, "8 a second");
        assert_eq!(net(every(0, 50, 100), 20.0), 100, "20 a second with a device that fires as fast");
        assert_eq!(net(every(0, 100, 100), 10.0), 100, "10 a second with a device that fires as fast");
    }

    #[test]
    fn a_foot_switch_whose_contact_bounces_counts_once_a_press() {
        let mut pacer = Pacer::new();
        pacer.bouncing(20);
        let mut counted = 0;
        for press in 0..50_u64 {
            // A press, and its contact opening and closing twice more within 20 ms.
            for bounce in [0, 7, 17] {
                let at = 1_000 + press * 50 + bounce;
                counted += worth(pacer.judge_switch((), at, 20.0));
                pacer.judge((), at + 3, Stroke::Release, 20.0);
            }
        }
        // The first is judged before the terminal has shown that it reports releases.
        assert_eq!(counted, 50);
    }

    #[test]
    fn a_flood_from_the_first_press_counts_one() {
        assert_eq!(net(every(1000, 33, 150), 5.0), 1);
        assert_eq!(net(every(1000, 1, 1500), 5.0), 1, "a pasted run of the key");
        assert_eq!(net(std::iter::repeat_n(7, 500), 5.0), 1, "all at once");
    }

    #[test]
    fn a_held_key_counts_one_in_the_end() {
        for wait in [250, 500, 660, 1000] {
            for per_second in 10..=40 {
                for rate_hz in [1.0, 3.0, 5.0, 8.0] {
                    let times = hold(500, wait, 1000 / per_second, 3 * per_second);
                    assert_eq!(net(times, rate_hz), 1, "wait {wait} ms, {per_second} a second, {rate_hz} Hz");
                }
            }
        }
    }

    #[test]
    fn taps_before_and_after_a_held_key_count() {
        let taps = every(0, 200, 5);
        let held = hold(1000, 500, 33, 60);
        let after = every(4000, 200, 5);
        assert_eq!(net(taps.chain(held).chain(after), 5.0), 5 + 1 + 5);
    }

    #[test]
    fn one_hold_takes_back_one_however_long_it_lasts() {
        let mut pacer = Pacer::new();
        let back = hold(0, 500, 33, 900)
            .filter(|at| pacer.judge((), *at, Stroke::Press, 5.0) == Pace::HeldTakeBackOne)
            .count();
        assert_eq!(back, 1);
    }

    #[test]
    fn a_bouncing_switch_takes_nothing_back() {
        // Two real presses, the second of which bounces unevenly.
        assert_eq!(net([0, 400, 402, 440, 441, 470], 5.0), 2);
    }

    #[test]
    fn two_keys_alternating_are_independent() {
        let mut pacer = Pacer::new();
        let count = every(0, 80, 40)
            .enumerate()
            .filter(|(n, at)| pacer.judge(n % 2, *at, Stroke::Press, 5.0) == Pace::Count)
            .count();
        assert_eq!(count, 40);
    }

    #[test]
    fn with_key_reports_only_presses_count_and_all_of_them() {
        let mut pacer = Pacer::new();
        assert_eq!(pacer.judge((), 0, Stroke::Press, 1.0), Pace::Count);
        for n in 0..90 {
            assert_eq!(pacer.judge((), 500 + 33 * n, Stroke::Repeat, 1.0), Pace::Held);
        }
        assert_eq!(pacer.judge((), 3500, Stroke::Release, 1.0), Pace::Held);
        assert!(pacer.has_reports());
        for n in 0..20 {
            assert_eq!(pacer.judge((), 3510 + 20 * n, Stroke::Press, 1.0), Pace::Count);
        }
    }

    #[test]
    fn a_focus_lost_while_held_leaves_nothing_behind() {
        let mut pacer = Pacer::new();
        pacer.judge((), 0, Stroke::Press, 1.0);
        pacer.judge((), 500, Stroke::Repeat, 1.0);
        // No release arrives.
        assert_eq!(pacer.judge((), 9000, Stroke::Press, 1.0), Pace::Count);
    }

    #[test]
    fn an_absurd_rate_is_taken_as_slow() {
        for rate_hz in [0.0, -5.0, f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert_eq!(net(every(0, 33, 50), rate_hz), 1, "{rate_hz}");
            assert_eq!(net(every(0, 150, 50), rate_hz), 50, "{rate_hz}");
        }
    }

    #[test]
    fn the_limit_follows_the_device() {
        for (gap, rate_hz, repeat) in [
            (110, 1.0, true),
            (111, 1.0, false),
            (110, 8.0, true),
            (80, 10.0, true),
            (81, 10.0, false),
            (40, 20.0, true),
            (41, 20.0, false),
        ] {
            assert_eq!(is_repeat(gap, rate_hz), repeat, "{gap} ms at {rate_hz} Hz");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn nothing_is_taken_back_that_was_not_counted(
            gaps in prop::collection::vec(0u64..1500, 0..200), rate_hz in 0.5f64..30.0,
        ) {
            let mut pacer = Pacer::new();
            let (mut at, mut sum, mut counted) = (0, 0, 0);
            for gap in gaps {
                at += gap;
                let pace = pacer.judge((), at, Stroke::Press, rate_hz);
                counted += i64::from(pace == Pace::Count);
                sum += worth(pace);
                // A hold takes back one of the two presses that it needs, so half remain at the least.
                prop_assert!(2 * sum >= counted);
            }
        }

        #[test]
        fn people_s_taps_always_count(gaps in prop::collection::vec(111u64..2000, 1..100), rate_hz in 0.5f64..30.0) {
            let times = gaps.iter().scan(0, |at, gap| { *at += gap; Some(*at) }).collect::<Vec<_>>();
            prop_assert_eq!(net(times, rate_hz), i64::try_from(gaps.len()).unwrap());
        }

        #[test]
        fn a_held_key_with_jitter_counts_one(
            wait in 200u64..1000, gap in 25u64..100, jitter in prop::collection::vec(0u64..5, 60), rate_hz in 0.5f64..8.0,
        ) {
            let times = std::iter::once(0)
                .chain(jitter.iter().enumerate().map(|(n, j)| wait + n as u64 * gap + j))
                .collect::<Vec<_>>();
            prop_assert_eq!(net(times, rate_hz), 1);
        }

        #[test]
        fn a_clock_that_stands_or_steps_back_does_no_harm(times in prop::collection::vec(any::<u64>(), 0..50)) {
            prop_assert!(net(times, 5.0) >= 0);
        }
    }
}
