//! The checklist: three phases, one line an item, the chosen item explained below.

use super::{Chair, Sheet};
use crate::anaesthetic::{Age, CONFIRM, Circumstances, warnings};
use crate::protocol::{CheckItem, CheckKind, CheckPhase};
use crate::recorder::Store;
use crate::session::{Answer, ItemStatus};
use crate::text::shown;
use crate::tui::keys::{Action, Place};
use crate::tui::theme::Role;
use crate::words::Word;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

const DETAIL_ROWS: u16 = 8;
/// Limits, doses and warnings of anaesthetics take more.
const ANAESTHETIC_ROWS: u16 = 12;
/// Room for the longest status word.
const WORD_COLUMNS: usize = 11;

impl<S: Store> Chair<S> {
    pub(super) fn draw_checks(&self, area: Rect, buffer: &mut Buffer) {
        let mut head = Sheet::new(&self.theme, area.width);
        let mut parts = Vec::new();
        for phase in CheckPhase::ALL {
            let (mut done, mut all) = (0, 0);
            for (_, status) in self.state().items(*phase) {
                all += 1;
                done += usize::from(status.lets_pass());
            }
            let role = if *phase == self.phase { Role::Selected } else { Role::Quiet };
            parts.push((role, format!(" {phase} {done} of {all} ")));
            parts.push((Role::Ink, "  ".to_owned()));
        }
        head.spans(&parts);
        match self.state().hard_stop() {
            Some(item) => head
                .line(Role::Stop, format!(" !!! TREATMENT REFUSED by the check \"{}\": see below ", shown(&item.id))),
            None => head.blank(),
        }
        head.render(Rect { height: 2.min(area.height), ..area }, buffer);

        let items = self.phase_items();
        let doses = items.get(self.chosen_item).is_some_and(|(item, _)| item.kind == CheckKind::Anaesthetic);
        let detail_rows = if doses { ANAESTHETIC_ROWS } else { DETAIL_ROWS };
        let list_rows = area.height.saturating_sub(detail_rows + 2);
        let rows = usize::from(list_rows);
        let first = self.chosen_item.saturating_sub(rows.saturating_sub(1) / 2).min(items.len().saturating_sub(rows));
        let mut list = Sheet::new(&self.theme, area.width);
        for (i, (item, status)) in items.iter().enumerate().skip(first).take(rows) {
            let (role, word) = status_word(item, *status, self.answer(item));
            let more = match (i == first && first > 0, i + 1 == first + rows && i + 1 < items.len()) {
                (true, _) => "^",
                (_, true) => "v",
                _ => " ",
            };
            let here = i == self.chosen_item;
            let text_role = if here { Role::Selected } else { Role::Ink };
            list.spans(&[
                (Role::Strong, if here { ">".to_owned() } else { more.to_owned() }),
                (role, format!(" {word:<WORD_COLUMNS$}")),
                (text_role, format!(" {}", shown(&item.question))),
            ]);
        }
        list.render(Rect { y: area.y + 2, height: list_rows, ..area }, buffer);

        let mut detail = Sheet::new(&self.theme, area.width);
        detail.line(Role::Edge, "-".repeat(usize::from(area.width)));
        if let Some((item, status)) = items.get(self.chosen_item) {
            self.explain(&mut detail, item, *status);
            self.explain_source(&mut detail, item);
        }
        let y = area.y + 2 + list_rows;
        detail.render(Rect { y, height: area.bottom().saturating_sub(y), ..area }, buffer);
    }

    /// The chosen item in sentences: how it stands and what answers it; in full with its source.
    pub(in crate::tui::chair) fn item_words(&self, full: bool) -> Vec<String> {
        let items = self.phase_items();
        let Some((item, status)) = items.get(self.chosen_item) else { return Vec::new() };
        let mut sheet = Sheet::new(&self.theme, u16::MAX);
        self.explain(&mut sheet, item, *status);
        if full {
            self.explain_source(&mut sheet, item);
        }
        let how = match status_word(item, *status, self.answer(item)).1 {
            "[ ]" => "not answered",
            "! OVERRIDE" => "overridden",
            word => word.trim_start_matches(['x', '=', '!', '?', ' ']),
        };
        let how = how.to_lowercase();
        let mut lines = vec![format!("Item {} of {}, {how}.", self.chosen_item + 1, items.len())];
        lines.extend(sheet.words());
        lines
    }

    fn answer(&self, item: &CheckItem) -> Option<&Answer> {
        self.state().checks.get(&item.id).and_then(|c| c.answer.as_ref())
    }

    fn explain(&self, sheet: &mut Sheet<'_>, item: &CheckItem, status: ItemStatus) {
        sheet.wrapped(Role::Strong, shown(&item.question));
        self.client_says(item, sheet);
        let check = self.state().checks.get(&item.id);
        if let Some((_, text)) = check.and_then(|c| c.computed.as_ref()) {
            sheet.wrapped(Role::Strong, format!("Found: {}", shown(text)));
        }
        if item.kind == CheckKind::Anaesthetic
            && let Some(a) = self.state().anaesthesia(self.state().session_ms(self.recorder.now()))
        {
            sheet.wrapped(Role::Ink, a.limit_words());
            sheet.wrapped(Role::Strong, a.given_words());
            let client = &self.state().opened.plan;
            let known = Circumstances::of(&client.history);
            if let Ok(age) = Age::new(u16::from(client.client.age_years), 0) {
                for w in warnings(age, known).iter().filter(|w| w.concerns) {
                    sheet.wrapped(Role::Check, w.text);
                }
            }
            sheet.wrapped(Role::Strong, CONFIRM);
        }
        match check.and_then(|c| c.answer.as_ref()) {
            Some(Answer::No { why }) => sheet.wrapped(Role::Strong, format!("Answered no: {why}")),
            Some(Answer::Value { value }) => sheet.wrapped(Role::Strong, format!("Answered: {value}")),
            _ => {}
        }
        if let Some((by, role, reason)) = check.and_then(|c| c.overridden.as_ref()) {
            sheet.wrapped(Role::Lower, format!("OVERRIDDEN by {by} ({role}): {reason}"));
        }
        let next = self.item_keys(item, status);
        if !next.is_empty() {
            sheet.wrapped(Role::Ink, next);
        }
    }

    /// What answers an item, by the keys in force.
    fn item_keys(&self, item: &CheckItem, status: ItemStatus) -> String {
        let key = |action| self.key_at(Place::Checks, action);
        let [yes, no, na, value] = [Action::Yes, Action::No, Action::NotApplicable, Action::Value].map(key);
        let close = self.key_of(Action::GoClose);
        match (item.kind, status) {
            (CheckKind::Marking, ItemStatus::HardStop) => {
                format!("Cannot be overridden. {value}: type the marking of other eyewear. {close} closes as refused.")
            }
            (_, ItemStatus::HardStop) => format!("Cannot be overridden. {close} closes the session as refused."),
            (_, ItemStatus::Blocked) => {
                format!("Blocks. Answer anew, or {}: override with code, role and reason.", key(Action::Override))
            }
            (CheckKind::Value, ItemStatus::Open) => format!("{value}: type the value."),
            (CheckKind::Marking, ItemStatus::Open) => {
                format!("{value}: type the marking of the eyewear worn. {no}: no.")
            }
            (CheckKind::Anaesthetic, _) => {
                format!("{value}: type a dose. {na}: none was given (takes back what was typed).")
            }
            (CheckKind::Computed, ItemStatus::Open) => {
                format!("A warning: {yes}: seen, going on. {no}: no, with the reason.")
            }
            (_, ItemStatus::Open) if item.not_applicable => format!("{yes} yes, {no} no, {na} not applicable."),
            (_, ItemStatus::Open) => format!("{yes} yes, {no} no."),
            _ => String::new(),
        }
    }

    /// What to do otherwise, and where the item comes from.
    fn explain_source(&self, sheet: &mut Sheet<'_>, item: &CheckItem) {
        let wait = item.wait.as_ref().map(|w| format!(" Wait: {}.", shown(w))).unwrap_or_default();
        sheet.wrapped(Role::Quiet, format!("Otherwise: {}{wait}", shown(&item.on_bad)));
        sheet.wrapped(Role::Quiet, format!("Source: {} ({})", shown(&item.source), item.confidence));
    }
}

fn status_word(item: &CheckItem, status: ItemStatus, answer: Option<&Answer>) -> (Role, &'static str) {
    match status {
        ItemStatus::Open if item.kind == CheckKind::Computed => (Role::Check, "? WARNING"),
        ItemStatus::Open => (Role::Ink, "[ ]"),
        ItemStatus::Done if item.kind == CheckKind::Computed => (Role::Quiet, "= fine"),
        ItemStatus::Done if item.kind == CheckKind::Anaesthetic && answer.is_none() => (Role::Good, "x given"),
        ItemStatus::Done => match answer {
            Some(Answer::NotApplicable) => (Role::Good, "x n/a"),
            Some(Answer::Value { .. }) => (Role::Good, "x given"),
            _ => (Role::Good, "x yes"),
        },
        ItemStatus::Noted if item.kind == CheckKind::Computed => (Role::Check, "x seen"),
        ItemStatus::Noted => (Role::Check, "! NO, noted"),
        ItemStatus::Blocked => (Role::Lower, "!! BLOCKS"),
        ItemStatus::HardStop => (Role::Stop, "!!! REFUSES"),
        ItemStatus::Overridden => (Role::Lower, "! OVERRIDE"),
    }
}
