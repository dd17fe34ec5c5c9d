//! Figures over many sessions: how often skin answered how, and what became of advice.

use super::row::{ADVERSE, AdviceFate, AdviceFigure, Kept, RecordState};
use super::wilson::wilson_95;
use crate::session::{Level, Response};
use crate::units::trimmed;
use crate::words::{FitzpatrickType, Word};
use serde::Serialize;
use std::collections::BTreeMap;

/// Where fluence bands begin, J/cm2; each ends where the next begins, the last is open (our own division).
pub const BANDS_J_CM2: [f64; 8] = [0.0, 1.0, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0];

/// What is counted, and what it must not be taken for.
pub const CAVEAT: &str = "Counted are zones at one setting in one session; a response counts once for each. Intervals are Wilson's, 95 %, as if these were independent: zones of one person are not. This describes what was recorded and compares nothing.";

/// A share with its interval.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Share {
    /// What was seen.
    pub response: Response,
    /// In how many.
    pub seen: u64,
    /// The share, 0 to 1.
    pub share: f64,
    /// Lower end of Wilson's interval, 95 %.
    pub low_95: f64,
    /// Upper end.
    pub high_95: f64,
}

impl Share {
    fn of(response: Response, seen: u64, of: u64) -> Self {
        let (low_95, high_95) = wilson_95(seen, of);
        let share = if of == 0 { 0.0 } else { seen as f64 / of as f64 };
        Self { response, seen, share, low_95, high_95 }
    }
}

/// One wavelength, fluence band and skin type.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Group {
    /// Wavelength, to the nanometre.
    pub wavelength_nm: u32,
    /// The band in words.
    pub fluence_band: String,
    /// Where it begins.
    pub fluence_from_j_cm2: f64,
    /// Where it ends, itself not included; none for the last.
    pub fluence_below_j_cm2: Option<f64>,
    /// Fitzpatrick skin type.
    pub skin_type: FitzpatrickType,
    /// Zones at one setting in one session.
    pub exposures: u64,
    /// Their pulses.
    pub pulses: u64,
    /// What was seen, the most frequent first.
    pub responses: Vec<Share>,
}

/// A response over all sessions.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ResponseTotal {
    /// What.
    pub response: Response,
    /// True for those that a supervisor looks at one by one.
    pub adverse: bool,
    /// How often it was noted.
    pub noted: u64,
    /// Sessions in which it was.
    pub sessions: u64,
    /// Its share of all sessions with a pulse.
    pub share_of_sessions: f64,
    /// Lower end of Wilson's interval, 95 %.
    pub low_95: f64,
    /// Upper end.
    pub high_95: f64,
}

/// What became of advice.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Answers {
    /// The rule; none for all rules of a level together.
    pub rule: Option<String>,
    /// The level; none for all levels of a rule together.
    pub level: Option<Level>,
    /// How often it was raised.
    pub raised: u64,
    /// Followed.
    pub accepted: u64,
    /// The other setting was taken.
    pub alternative: u64,
    /// Not followed.
    pub declined: u64,
    /// The zone or the session was stopped.
    pub stopped: u64,
    /// It no longer held.
    pub cleared: u64,
    /// Never answered.
    pub open: u64,
    /// For the record only.
    pub recorded: u64,
    /// Median of the times to the answer, s; of an even number the mean of the middle two.
    pub answer_median_s: Option<f64>,
    /// The time that nine of ten do not exceed, s, by nearest rank.
    pub answer_p90_s: Option<f64>,
}

/// Figures over many sessions.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Statistics {
    /// True for PRACTICE, where nobody was treated.
    pub practice: bool,
    /// Sessions counted.
    pub sessions: u64,
    /// Of them with a pulse.
    pub sessions_with_pulses: u64,
    /// Sessions left out because their journal is damaged.
    pub left_out_damaged: u64,
    /// Sound records of the sessions counted.
    pub events: u64,
    /// Pulses.
    pub pulses: u64,
    /// Zones at one setting in one session.
    pub exposures: u64,
    /// By wavelength, fluence band and skin type.
    pub groups: Vec<Group>,
    /// Every response, the adverse ones first.
    pub responses: Vec<ResponseTotal>,
    /// What became of advice, level by level, the most urgent first.
    pub advice_by_level: Vec<Answers>,
    /// The same rule by rule.
    pub advice_by_rule: Vec<Answers>,
    /// Checks overridden.
    pub checks_overridden: u64,
    /// Sessions that are not closed.
    pub not_closed: u64,
    /// What is counted.
    pub caveat: &'static str,
}

/// The band of a fluence: its place among [`BANDS_J_CM2`].
#[must_use]
pub fn band(fluence_j_cm2: f64) -> usize {
    // A fluence that was typed as the edge of a band belongs above it, whatever its last digit in binary.
    let above = |from: &&f64| fluence_j_cm2 >= **from - 1e-9;
    BANDS_J_CM2.iter().rposition(|from| above(&from)).unwrap_or(0)
}

/// A band in words.
#[must_use]
pub fn band_words(band: usize) -> String {
    let from = BANDS_J_CM2.get(band).copied().unwrap_or(0.0);
    match BANDS_J_CM2.get(band + 1) {
        Some(below) if band == 0 => format!("below {}", trimmed(*below, 1)),
        Some(below) => format!("{} to below {}", trimmed(from, 1), trimmed(*below, 1)),
        None => format!("{} and more", trimmed(from, 1)),
    }
}

#[derive(Default)]
struct GroupTally {
    exposures: u64,
    pulses: u64,
    seen: BTreeMap<Response, u64>,
}

#[derive(Default)]
struct AdviceTally {
    raised: u64,
    fates: BTreeMap<AdviceFate, u64>,
    times_s: Vec<f64>,
}

impl AdviceTally {
    fn add(&mut self, a: &AdviceFigure) {
        self.raised += 1;
        *self.fates.entry(a.answer).or_default() += 1;
        self.times_s.extend(a.answer_s);
    }

    fn answers(mut self, rule: Option<String>, level: Option<Level>) -> Answers {
        self.times_s.sort_by(f64::total_cmp);
        let of = |fate| self.fates.get(&fate).copied().unwrap_or(0);
        Answers {
            rule,
            level,
            raised: self.raised,
            accepted: of(AdviceFate::Accepted),
            alternative: of(AdviceFate::Alternative),
            declined: of(AdviceFate::Declined),
            stopped: of(AdviceFate::Stopped),
            cleared: of(AdviceFate::Cleared),
            open: of(AdviceFate::Open),
            recorded: of(AdviceFate::Recorded),
            answer_median_s: median(&self.times_s),
            answer_p90_s: nearest_rank(&self.times_s, 90),
        }
    }
}

/// The median of sorted values.
fn median(sorted: &[f64]) -> Option<f64> {
    let upper = *sorted.get(sorted.len() / 2)?;
    if sorted.len() % 2 == 1 {
        return Some(upper);
    }
    Some(f64::midpoint(*sorted.get((sorted.len() / 2).checked_sub(1)?)?, upper))
}

/// The value that so many per cent of sorted values do not exceed.
fn nearest_rank(sorted: &[f64], percent: usize) -> Option<f64> {
    sorted.get((sorted.len() * percent).div_ceil(100).max(1) - 1).copied()
}

/// The figures of these sessions, all of treatments or all of PRACTICE. Damaged journals are left out.
#[must_use]
pub fn statistics<'a>(sessions: impl IntoIterator<Item = &'a Kept>, practice: bool) -> Statistics {
    let mut s = Statistics {
        practice,
        sessions: 0,
        sessions_with_pulses: 0,
        left_out_damaged: 0,
        events: 0,
        pulses: 0,
        exposures: 0,
        groups: Vec::new(),
        responses: Vec::new(),
        advice_by_level: Vec::new(),
        advice_by_rule: Vec::new(),
        checks_overridden: 0,
        not_closed: 0,
        caveat: CAVEAT,
    };
    let mut groups: BTreeMap<(u32, usize, FitzpatrickType), GroupTally> = BTreeMap::new();
    let mut noted: BTreeMap<Response, (u64, u64)> = BTreeMap::new();
    let (mut levels, mut rules): (BTreeMap<Level, AdviceTally>, BTreeMap<&str, AdviceTally>) = Default::default();
    for kept in sessions {
        let row = &kept.row;
        if row.practice.is_some() != practice {
            continue;
        }
        if row.record == RecordState::Damaged {
            s.left_out_damaged += 1;
            continue;
        }
        s.sessions += 1;
        s.sessions_with_pulses += u64::from(row.pulses > 0);
        s.events = s.events.saturating_add(row.events);
        s.pulses = s.pulses.saturating_add(row.pulses);
        s.checks_overridden += u64::from(row.overridden);
        s.not_closed += u64::from(row.outcome.is_none());
        for e in kept.exposures.iter().filter(|e| e.pulses > 0) {
            let Some(skin) = row.skin_type else { continue };
            s.exposures += 1;
            let nm = e.setting.wavelength.nm().round() as u32;
            let tally = groups.entry((nm, band(e.setting.fluence.j_cm2()), skin)).or_default();
            tally.exposures += 1;
            tally.pulses = tally.pulses.saturating_add(e.pulses);
            for kind in once(e.responses.iter().copied()) {
                *tally.seen.entry(kind).or_default() += 1;
            }
        }
        for kind in kept.responses() {
            noted.entry(kind).or_default().0 += 1;
        }
        for kind in once(kept.responses()) {
            noted.entry(kind).or_default().1 += 1;
        }
        for a in &kept.advice {
            levels.entry(a.level).or_default().add(a);
            rules.entry(&a.rule).or_default().add(a);
        }
    }
    s.groups = groups.into_iter().map(|((nm, at, skin), tally)| group(nm, at, skin, tally)).collect();
    s.responses = noted.into_iter().map(|(kind, (n, in_sessions))| total(kind, n, in_sessions, &s)).collect();
    s.responses.sort_by_key(|r| (!r.adverse, std::cmp::Reverse(r.sessions)));
    s.advice_by_level = levels.into_iter().rev().map(|(level, t)| t.answers(None, Some(level))).collect();
    s.advice_by_rule = rules.into_iter().map(|(rule, t)| t.answers(Some(rule.to_owned()), None)).collect();
    s.advice_by_rule.sort_by_key(|a| std::cmp::Reverse(a.raised));
    s
}

fn once(kinds: impl Iterator<Item = Response>) -> Vec<Response> {
    let mut kinds: Vec<Response> = kinds.collect();
    kinds.sort_unstable();
    kinds.dedup();
    kinds
}

fn group(wavelength_nm: u32, at: usize, skin_type: FitzpatrickType, tally: GroupTally) -> Group {
    let mut responses: Vec<Share> =
        tally.seen.into_iter().map(|(kind, n)| Share::of(kind, n, tally.exposures)).collect();
    responses.sort_by_key(|r| std::cmp::Reverse(r.seen));
    Group {
        wavelength_nm,
        fluence_band: band_words(at),
        fluence_from_j_cm2: BANDS_J_CM2.get(at).copied().unwrap_or(0.0),
        fluence_below_j_cm2: BANDS_J_CM2.get(at + 1).copied(),
        skin_type,
        exposures: tally.exposures,
        pulses: tally.pulses,
        responses,
    }
}

fn total(response: Response, noted: u64, sessions: u64, s: &Statistics) -> ResponseTotal {
    let share = Share::of(response, sessions, s.sessions_with_pulses.max(sessions));
    ResponseTotal {
        response,
        adverse: ADVERSE.contains(&response),
        noted,
        sessions,
        share_of_sessions: share.share,
        low_95: share.low_95,
        high_95: share.high_95,
    }
}

impl Statistics {
    /// The figures in lines of at most so many columns.
    #[must_use]
    pub fn lines(&self, columns: usize) -> Vec<String> {
        let mut out = Vec::new();
        let mut say = |indent: usize, text: &str| out.extend(crate::text::indented(text, indent, columns));
        let percent = |share: f64| trimmed(share * 100.0, 1);
        let kind = if self.practice { "PRACTICE, nobody was treated: " } else { "" };
        say(
            0,
            &format!(
                "STATISTICS  {kind}{} sessions, {} with pulses, {} pulses, {} zones at one setting",
                self.sessions, self.sessions_with_pulses, self.pulses, self.exposures
            ),
        );
        if self.left_out_damaged > 0 {
            say(0, &format!("! left out for a damaged journal: {}", self.left_out_damaged));
        }
        say(0, &format!("not closed {}, checks overridden {}", self.not_closed, self.checks_overridden));
        say(0, self.caveat);
        say(0, "RESPONSES  over all sessions with pulses; ! a supervisor looks at them one by one");
        for r in &self.responses {
            let mark = if r.adverse { '!' } else { ' ' };
            let what = r.response.spoken();
            let range = format!("{} to {} %", percent(r.low_95), percent(r.high_95));
            say(
                1,
                &format!(
                    "{mark} {what}: noted {}, in {} sessions, {} % ({range})",
                    r.noted,
                    r.sessions,
                    percent(r.share_of_sessions)
                ),
            );
        }
        say(0, "BY WAVELENGTH, FLUENCE AND SKIN TYPE  share of zones at one setting, with Wilson's interval, 95 %");
        for g in &self.groups {
            say(
                1,
                &format!(
                    "{} nm, {} J/cm2, skin {}: {} zones, {} pulses",
                    g.wavelength_nm, g.fluence_band, g.skin_type, g.exposures, g.pulses
                ),
            );
            for r in &g.responses {
                let range = format!("{} to {} %", percent(r.low_95), percent(r.high_95));
                say(
                    4,
                    &format!("{} {} of {}: {} % ({range})", r.response.spoken(), r.seen, g.exposures, percent(r.share)),
                );
            }
        }
        say(0, "ADVICE  what became of it, and how long an answer took");
        for a in self.advice_by_level.iter().chain(&self.advice_by_rule) {
            say(1, &a.line());
        }
        out
    }
}

impl Answers {
    fn line(&self) -> String {
        let name = self.level.map(|l| l.to_string()).or_else(|| self.rule.clone()).unwrap_or_default();
        let fates = [
            ("accepted", self.accepted),
            ("alternative", self.alternative),
            ("declined", self.declined),
            ("stopped", self.stopped),
            ("cleared", self.cleared),
            ("open", self.open),
            ("recorded", self.recorded),
        ];
        let fates: Vec<String> = fates.iter().filter(|(_, n)| *n > 0).map(|(w, n)| format!("{w} {n}")).collect();
        let time = match (self.answer_median_s, self.answer_p90_s) {
            (Some(m), Some(p)) => format!("; median {} s, nine of ten within {} s", trimmed(m, 1), trimmed(p, 1)),
            _ => String::new(),
        };
        format!("{}: raised {}: {}{time}", crate::text::shown(&name), self.raised, fates.join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fluence_on_an_edge_belongs_to_the_band_that_begins_there() {
        for (fluence, words) in [
            (0.0, "below 1"),
            (0.99, "below 1"),
            (1.0, "1 to below 2"),
            (3.999, "3 to below 4"),
            (0.1 * 30.0, "3 to below 4"),
            (12.0, "12 and more"),
            (50.0, "12 and more"),
        ] {
            assert_eq!(band_words(band(fluence)), words, "{fluence}");
        }
    }

    /// By hand.
    #[test]
    fn median_and_ninetieth_percentile() {
        assert_eq!((median(&[]), nearest_rank(&[], 90)), (None, None));
        assert_eq!(median(&[1.0, 2.0, 9.0]), Some(2.0));
        assert_eq!(median(&[1.0, 2.0, 4.0, 9.0]), Some(3.0));
        let ten: Vec<f64> = (1..=10).map(f64::from).collect();
        assert_eq!(nearest_rank(&ten, 90), Some(9.0));
        assert_eq!(nearest_rank(&[7.0], 90), Some(7.0));
    }
}
