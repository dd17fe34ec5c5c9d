//! Answers to the checklist.

use crate::protocol::{CheckItem, CheckKind, CheckPhase};
use crate::session::anaesthetic;
use crate::session::checks::eyewear;
use crate::session::command::{Command, Refusal};
use crate::session::event::{Answer, Event, Verdict};
use crate::session::{FreeText, ItemStatus, State};

fn item<'a>(state: &'a State, id: &str) -> Result<&'a CheckItem, Refusal> {
    let item = state.opened.protocol.checklist.iter().find(|i| i.id == id).ok_or_else(|| {
        Refusal::new("check.unknown", format!("the protocol has no item '{id}'"), "choose one of its items")
    })?;
    let missing = match item.phase {
        CheckPhase::SignIn => 0,
        CheckPhase::TimeOut | CheckPhase::SignOut => state.items_in_the_way(CheckPhase::SignIn),
    };
    // A session that its checks refuse still signs out; one that may go on is asked in order.
    if missing > 0 && state.hard_stop().is_none() && !(item.phase == CheckPhase::SignOut && state.total_pulses() == 0) {
        return Err(Refusal::new(
            "check.order",
            format!("{missing} item(s) of the sign-in are not done"),
            "finish the sign-in first",
        ));
    }
    // A train counts on by itself: a bad answer must not find it running.
    if state.train.is_some() {
        return Err(Refusal::new("train.running", "a train is running", "stop it before answering checks"));
    }
    if item.phase == CheckPhase::SignOut && state.active.is_some() {
        return Err(Refusal::new("check.order", "a pass is still running", "end the pass before the sign-out"));
    }
    Ok(item)
}

fn why(text: &str, what: &'static str) -> Result<FreeText, Refusal> {
    FreeText::new(text)
        .ok_or_else(|| Refusal::new("check.reason", format!("{what} is missing"), "type it, or leave with Esc"))
}

pub(super) fn answer(state: &State, command: Command) -> Result<Vec<Event>, Refusal> {
    let (id, answer) = match command {
        Command::CheckYes { item } => (item, Answer::Yes),
        Command::CheckNo { item, why: text } => (item, Answer::No { why: why(&text, "why the answer is no")? }),
        Command::CheckNotApplicable { item } => (item, Answer::NotApplicable),
        Command::CheckValue { item, value } => (item, Answer::Value { value: why(&value, "the value")? }),
        Command::CheckOverride { item: id, by, role, reason } => {
            let item = item(state, &id)?;
            return match state.item_status(item) {
                ItemStatus::Blocked => Ok(vec![Event::CheckOverridden {
                    item: id,
                    by: why(&by, "who takes it on")?,
                    role: why(&role, "the role")?,
                    reason: why(&reason, "the reason")?,
                }]),
                ItemStatus::HardStop => Err(hard(item)),
                _ => Err(Refusal::new("check.not-blocked", "nothing is blocked here", "answer the item instead")),
            };
        }
        _ => return Ok(Vec::new()),
    };
    let item = item(state, &id)?;
    if let (CheckKind::Marking, Answer::Value { value }) = (item.kind, &answer) {
        return worn(state, id, value);
    }
    if let (CheckKind::Anaesthetic, Answer::Value { value }) = (item.kind, &answer) {
        let dose = anaesthetic::dose(value.text().unwrap_or_default())
            .map_err(|e| Refusal::new("anaesthetic.dose", e, "type it again"))?;
        let (verdict, finding) = state.judge_dose(dose);
        return Ok(vec![Event::AnaestheticGiven { item: id, dose, verdict, finding }]);
    }
    let fits = match (item.kind, &answer) {
        (_, Answer::NotApplicable) => item.not_applicable && item.kind != CheckKind::Computed,
        (CheckKind::YesNo, a) => matches!(a, Answer::Yes | Answer::No { .. }),
        (CheckKind::Value, a) => matches!(a, Answer::Value { .. } | Answer::No { .. }),
        (CheckKind::Marking | CheckKind::Anaesthetic, a) => matches!(a, Answer::No { .. }),
        (CheckKind::Computed, a) => {
            let verdict = state.checks.get(&id).and_then(|c| c.computed.as_ref()).map(|(v, _)| *v);
            match verdict {
                Some(Verdict::HardStop) => return Err(hard(item)),
                Some(Verdict::Warn) => matches!(a, Answer::Yes | Answer::No { .. }),
                Some(Verdict::Block) => {
                    return Err(Refusal::new(
                        "check.blocked",
                        "the program found a reason not to treat",
                        "mend the cause and begin anew, or override with name, role and reason",
                    ));
                }
                Some(Verdict::Pass) | None => {
                    return Err(Refusal::new(
                        "check.computed",
                        "the program has answered this item",
                        "go on to the next",
                    ));
                }
            }
        }
    };
    if !fits {
        let allowed = match (item.kind, item.not_applicable) {
            (CheckKind::Marking, _) => "type the marking printed on the eyewear, or answer no",
            (CheckKind::Anaesthetic, _) => "type each dose, or answer not applicable where none was given",
            (CheckKind::Value, true) => "type a value, or answer no or not applicable",
            (CheckKind::Value, false) => "type a value, or answer no",
            (_, true) => "answer yes, no or not applicable",
            (_, false) => "answer yes or no",
        };
        return Err(Refusal::new("check.kind", "this item does not take that answer", allowed));
    }
    Ok(vec![Event::CheckAnswered { item: id, answer }])
}

/// Judges the eyewear that is worn: for the wavelength that was read back, before that for every planned one.
fn worn(state: &State, item: String, typed: &FreeText) -> Result<Vec<Event>, Refusal> {
    let wavelengths = state.wavelengths_to_protect();
    let text = typed.text().unwrap_or_default();
    let found = eyewear::judge_worn(&state.opened, &wavelengths, text)
        .map_err(|e| Refusal::new("eyewear.marking", e.what, "type it as printed"))?;
    Ok(vec![Event::EyewearJudged { item, worn: typed.clone(), verdict: found.verdict, finding: found.text }])
}

fn hard(item: &CheckItem) -> Refusal {
    Refusal::new("check.hard-stop", "this refuses treatment and cannot be overridden", item.on_bad.clone())
}
