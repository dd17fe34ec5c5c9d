//! The room and the device.

use super::super::{CHECKS_SCREEN, Context, Does, ENTRY, Family, Finding, Raise, Rule, Sight};
use super::{always, never};
use crate::protocol::RuleName;
use crate::session::{AdviceEntry, Level, Response, Scope};

pub(super) static CONDITION_WITHDRAWN: Rule = Rule {
    id: RuleName::ConditionWithdrawn,
    family: Family::Room,
    level: Level::Wait,
    why: "The room was safe when the first pulse was fired, and is not any more",
    source: "EN 207 and IEC TR 60825-14 as cited by university laser safety pages; NIOSH HC11 (plume); MHRA guidance 2015",
    raise: Raise::Found(|c| {
        let checklist = &c.state.opened.protocol.checklist;
        let withdrawn = |(id, seq): (&String, &u64)| {
            let item = checklist.iter().find(|i| i.id == *id)?;
            let seen = format!("Not so any more: {}", item.question);
            let action = format!(
                "Laser to standby, no pulse. {}. Then answer for it on the {CHECKS_SCREEN}",
                item.on_bad.trim_end_matches('.')
            );
            Some(Finding::of_session(format!("{ENTRY}{seq}"), seen, action))
        };
        c.state.happenings.withdrawn.iter().filter_map(withdrawn).collect()
    }),
    cleared: |c: &Context<'_>, entry: &AdviceEntry| {
        let still = c.state.happenings.withdrawn.values().any(|seq| entry.advice.evidence == format!("{ENTRY}{seq}"));
        (!still).then(|| "the condition was restored or answered for".to_owned())
    },
};

pub(super) static OFF_SPACER: Rule = Rule {
    id: RuleName::OffSpacer,
    family: Family::Room,
    level: Level::Check,
    why: "Off its spacer the beam meets the skin near its waist: a tiny spot of high fluence",
    source: "Murphy MJ (textbook and posts, 2021): stand-off error",
    raise: Raise::Seen(Sight {
        kind: Response::OffSpacer,
        when: always,
        words: "The handpiece was off its spacer",
        does: Does::Say(Scope::Zone),
        action: "Set the spacer flat on the skin before the next pulse and look at the place that was hit",
    }),
    cleared: never,
};

pub(super) static COUNTER_RESTARTED: Rule = Rule {
    id: RuleName::CounterRestarted,
    family: Family::Room,
    level: Level::Check,
    why: "A device that was restarted may have gone back to another setting",
    source: "MHRA guidance 2015: pre-use equipment checks; common practice after a restart",
    raise: Raise::Found(|c| {
        let Some(seq) = c.state.happenings.counter_restarted else { return Vec::new() };
        let seen = "The device's counter began anew".to_owned();
        let action = "If the device was restarted: pre-use check again, and read the settings back".to_owned();
        vec![Finding::of_session(format!("{ENTRY}{seq}"), seen, action)]
    }),
    cleared: never,
};

pub(super) static TRAIN_CUT: Rule = Rule {
    id: RuleName::TrainCut,
    family: Family::Room,
    level: Level::Check,
    why: "Pulses may have been fired while the program stood still; they were not counted",
    source: "common practice",
    raise: Raise::Found(|c| {
        let Some(seq) = c.state.happenings.train_cut else { return Vec::new() };
        let seen = "A train was cut by a gap in the clock".to_owned();
        let action = "Read the device's counter (c) and settle the count".to_owned();
        vec![Finding::of_session(format!("{ENTRY}{seq}"), seen, action)]
    }),
    cleared: never,
};
