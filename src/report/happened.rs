//! What happened when: the times and settings that figures alone no longer tell.

use crate::plan::{Setting, ZoneId};
use crate::session::{AdviceAnswer, Event, Level, Response, Stamp, State};
use crate::text::shown;

use chrono::{DateTime, FixedOffset};

/// Where a mark is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lane {
    /// What the skin showed.
    Skin,
    /// What was advised.
    Advice,
    /// What was answered.
    Answer,
    /// What was set and read back.
    Setting,
}

/// Something that happened at a time of the session.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Moment {
    /// Session time.
    pub ms: u64,
    /// Where it is drawn.
    pub lane: Lane,
    /// Its letter.
    pub letter: char,
    /// What the letter means.
    pub words: &'static str,
    /// Where moments fall together, the highest is drawn.
    pub weight: u8,
}

/// Pulses with the setting they were fired with.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fired {
    /// Session time.
    pub ms: u64,
    /// Index of the zone.
    pub zone: usize,
    /// Fluence in J/cm2.
    pub fluence_j_cm2: f64,
    /// Pulses of the session so far.
    pub total: u64,
}

/// When a pass ran.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PassTimes {
    /// Zone.
    pub zone: ZoneId,
    /// Pass.
    pub pass: u8,
    /// Its start.
    pub from: DateTime<FixedOffset>,
    /// Its end; none while it runs.
    pub to: Option<DateTime<FixedOffset>>,
    /// Session times of both.
    pub ms: (u64, Option<u64>),
}

/// A setting as it was read back or changed.
#[derive(Debug, Clone, PartialEq)]
pub struct SettingStep {
    /// When.
    pub at: DateTime<FixedOffset>,
    /// Zone.
    pub zone: ZoneId,
    /// What was done: `read back`, `MISMATCH` or `changed`.
    pub what: &'static str,
    /// The setting shown, or changed to.
    pub setting: Setting,
    /// What differed, or why it was changed.
    pub words: String,
}

/// Times of a session.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Happened {
    /// Pulses in order, with the count after what was taken back.
    pub fired: Vec<Fired>,
    /// Responses, advice, answers and settings in order.
    pub moments: Vec<Moment>,
    /// Passes in order.
    pub passes: Vec<PassTimes>,
    /// Read-backs and changes in order.
    pub settings: Vec<SettingStep>,
    /// What was found when an anaesthetic was given.
    pub anaesthetics: Vec<(DateTime<FixedOffset>, String)>,
}

impl Happened {
    /// Folds the events, and hands out the state they fold to.
    pub(super) fn of(events: &[(Stamp, Event)]) -> Option<(State, Self)> {
        let ((stamp, first), rest) = events.split_first()?;
        let Event::SessionOpened(opened) = first else { return None };
        let mut state = State::new(*stamp, (**opened).clone());
        let mut happened = Self::default();
        for (stamp, event) in rest {
            state.apply(*stamp, event);
            happened.take(&state, *stamp, event);
        }
        Some((state, happened))
    }

    fn take(&mut self, state: &State, stamp: Stamp, event: &Event) {
        let ms = state.last_ms();
        if let Some((lane, letter, words, weight)) = moment(event) {
            self.moments.push(Moment { ms, lane, letter, words, weight });
        }
        match event {
            Event::PulsesFired { zone, .. } => self.count(state, zone, ms),
            Event::EntryVoided { .. } | Event::PulsesCorrected { .. } => {
                if let Some(last) = self.fired.last().copied() {
                    self.fired.push(Fired { ms, total: state.total_pulses(), ..last });
                }
            }
            Event::PassStarted { zone, pass } => self.passes.push(PassTimes {
                zone: zone.clone(),
                pass: *pass,
                from: stamp.at,
                to: None,
                ms: (ms, None),
            }),
            Event::PassEnded { zone, pass, .. } => {
                let started = self.passes.iter_mut().rev().find(|p| p.zone == *zone && p.pass == *pass);
                if let Some(p) = started {
                    p.to = Some(stamp.at);
                    p.ms.1 = Some(ms);
                }
            }
            Event::AnaestheticGiven { dose, finding, .. } => {
                self.anaesthetics.push((stamp.at, format!("{}: {}", dose.words(), shown(finding))));
            }
            _ => {}
        }
        self.settings.extend(setting_step(stamp, event));
    }

    fn count(&mut self, state: &State, zone: &ZoneId, ms: u64) {
        let index = state.zone_index(zone);
        if let Some((zone, z)) = index.and_then(|i| Some((i, state.zones.get(i)?))) {
            let fluence_j_cm2 = z.target.fluence.j_cm2();
            self.fired.push(Fired { ms, zone, fluence_j_cm2, total: state.total_pulses() });
        }
    }
}

fn setting_step(stamp: Stamp, event: &Event) -> Option<SettingStep> {
    let step = |zone: &ZoneId, what, setting: &Setting, words| {
        Some(SettingStep { at: stamp.at, zone: zone.clone(), what, setting: *setting, words })
    };
    match event {
        Event::SettingConfirmed { zone, displayed } => {
            let energy = displayed.energy_j.map(|j| format!("{} J shown", crate::units::trimmed(j, 3)));
            step(zone, "read back", &displayed.setting, energy.unwrap_or_default())
        }
        Event::SettingMismatched { zone, displayed, differences } => {
            let each = differences
                .iter()
                .map(|d| format!("{}: wanted {}, shown {}", shown(&d.what), shown(&d.wanted), shown(&d.shown)));
            step(zone, "MISMATCH", &displayed.setting, each.collect::<Vec<_>>().join("; "))
        }
        Event::SettingChanged { zone, from, to, advice, reason } => {
            let why = match (advice, reason) {
                (Some(id), _) => format!("on advice {id}"),
                (None, Some(reason)) => reason.to_string(),
                (None, None) => "no reason recorded".to_owned(),
            };
            step(zone, "changed", to, format!("from {}; {why}", from.line()))
        }
        _ => None,
    }
}

fn moment(event: &Event) -> Option<(Lane, char, &'static str, u8)> {
    let of_level = |level: &Level| match level {
        Level::Note => ('N', "NOTE", 0),
        Level::Check => ('C', "CHECK", 1),
        Level::Wait => ('W', "WAIT", 2),
        Level::Lower => ('L', "LOWER", 3),
        Level::Stop => ('S', "STOP", 4),
    };
    Some(match event {
        Event::ResponseSeen { kind, .. } => match kind {
            Response::Whitening => (Lane::Skin, 'w', "whitening", 2),
            Response::PinpointBleeding => (Lane::Skin, 'b', "pinpoint bleeding", 4),
            Response::NoResponse => (Lane::Skin, 'o', "no response", 1),
            Response::Pain => (Lane::Skin, 'v', "pain scored", 0),
            _ => (Lane::Skin, 'r', "another response", 3),
        },
        Event::WhiteningFaded { .. } => (Lane::Skin, 'f', "whitening faded", 1),
        Event::AdviceRaised(advice) => {
            let (letter, words, weight) = of_level(&advice.level);
            (Lane::Advice, letter, words, weight)
        }
        Event::AdviceEscalated { to, .. } => {
            let (letter, words, weight) = of_level(to);
            (Lane::Advice, letter, words, weight)
        }
        Event::AdviceAnswered { answer, .. } => match answer {
            AdviceAnswer::Accepted => (Lane::Answer, 'a', "accepted", 1),
            AdviceAnswer::Alternative => (Lane::Answer, 'l', "the other setting taken", 1),
            AdviceAnswer::Declined { .. } => (Lane::Answer, 'd', "declined", 2),
            AdviceAnswer::Stopped => (Lane::Answer, 'x', "stopped", 3),
        },
        Event::SettingConfirmed { .. } => (Lane::Setting, '=', "read back, agrees", 0),
        Event::SettingMismatched { .. } => (Lane::Setting, '#', "read back, MISMATCH", 2),
        Event::SettingChanged { from, to, .. } => match to.fluence.j_cm2().total_cmp(&from.fluence.j_cm2()) {
            std::cmp::Ordering::Less => (Lane::Setting, '-', "fluence lowered", 3),
            std::cmp::Ordering::Equal => (Lane::Setting, '~', "setting changed", 3),
            std::cmp::Ordering::Greater => (Lane::Setting, '+', "fluence raised", 3),
        },
        _ => return None,
    })
}

/// True for a response that is harm or may become it, and not what treatment is meant to show.
///
/// Source: the complications listed by Khunger N et al., J Cutan Aesthet Surg 2015;8:30-36, and what the rules of advice
/// stop or lower for. Redness, swelling and pain are expected; whitening is the end point.
#[must_use]
pub const fn is_adverse(response: Response) -> bool {
    match response {
        Response::PinpointBleeding
        | Response::Purpura
        | Response::Blister
        | Response::Splatter
        | Response::Separation
        | Response::Darkening
        | Response::Wheals
        | Response::Systemic
        | Response::WetSurface
        | Response::Sparks
        | Response::BlueGrey => true,
        Response::Whitening
        | Response::Redness
        | Response::Swelling
        | Response::NoResponse
        | Response::Pain
        | Response::OffSpacer
        | Response::Stacked => false,
    }
}
