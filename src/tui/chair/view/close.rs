//! Closing: totals against the plan, what is open, what the client is told, the next earliest date.

use super::{Chair, Sheet, level_look};
use crate::protocol::CheckPhase;
use crate::recorder::Store;
use crate::text::shown;
use crate::tui::keys::Action;
use crate::tui::theme::Role;
use crate::units::trimmed;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

impl<S: Store> Chair<S> {
    pub(super) fn draw_close(&self, area: Rect, buffer: &mut Buffer) {
        self.close_sheet(area.width).render(area, buffer);
    }

    /// What is told before the session is closed, and after.
    pub(in crate::tui::chair) fn close_sheet(&self, columns: u16) -> Sheet<'_> {
        let state = self.state();
        let mut sheet = Sheet::new(&self.theme, columns);
        match &state.closed {
            Some(closed) => sheet.line(
                Role::Good,
                format!(
                    " SESSION CLOSED {}: {}. {} leaves ",
                    closed.at.format("%H:%M"),
                    closed.outcome,
                    self.key_of(Action::Leave)
                ),
            ),
            None => sheet.line(Role::Strong, format!("{} pulses in this session", state.total_pulses())),
        }
        if let Some(item) = state.hard_stop() {
            let found = state.checks.get(&item.id).and_then(|c| c.computed.as_ref()).map(|(_, t)| shown(t));
            let why = found.unwrap_or_else(|| shown(&item.on_bad));
            sheet.wrapped(Role::Stop, format!("!!! REFUSED by the check \"{}\": {why}", shown(&item.id)));
        }
        for (plan, z) in state.opened.plan.zones.iter().zip(&state.zones) {
            let planned = z.planned_per_pass(plan);
            let passes: Vec<_> = z
                .passes
                .iter()
                .map(|p| match p.device {
                    Some(d) => format!("{} (device {d})", p.counted),
                    None => p.counted.to_string(),
                })
                .collect();
            let done = if passes.is_empty() { "no pulses".to_owned() } else { passes.join(" + ") };
            let ended = match z.outcome {
                Some(o) => format!("{o}"),
                None if z.passes.len() >= usize::from(plan.passes) => "done".to_owned(),
                None => format!("OPEN: {} of {} passes", z.passes.len(), plan.passes),
            };
            let role = if ended.starts_with("OPEN") { Role::Wait } else { Role::Good };
            sheet.spans(&[(Role::Strong, format!("{:<24} ", plan.id)), (role, format!(" {ended} "))]);
            let per_point = trimmed(z.mean_pulses_per_point(plan), 2);
            sheet.wrapped(Role::Ink, format!("{done}; planned {planned} a pass; {per_point} pulses per point"));
        }
        sheet.blank();
        let open = state.open_advice();
        for a in &open {
            let (role, sign) = level_look(a.level);
            sheet.line(role, format!("{sign} {} not answered: {}", a.level, shown(&a.advice.seen)));
        }
        let declined = state.advice.iter().filter(|a| {
            matches!(
                &a.status,
                crate::session::AdviceStatus::Answered(crate::session::AdviceAnswer::Declined { .. }, _)
            )
        });
        for a in declined {
            sheet.line(Role::Check, format!("! declined: {} {}", a.level, shown(&a.advice.seen)));
        }
        for d in &state.deviations {
            sheet.line(Role::Check, format!("! {} {}", shown(&d.item), shown(&d.text)));
        }
        let missing = state.items_in_the_way(CheckPhase::SignOut);
        if missing > 0 && state.total_pulses() > 0 {
            sheet.line(
                Role::Wait,
                format!(" {missing} item(s) of the sign-out are not done: {} ", self.key_of(Action::GoChecks)),
            );
        }
        sheet.blank();
        if state.total_pulses() > 0 {
            sheet.line(Role::Strong, "Tell the client, and give it in writing");
            for line in self.aftercare() {
                sheet.wrapped(Role::Ink, format!("- {line}"));
            }
            if let Some(date) = state.next_earliest() {
                sheet.line(Role::Strong, format!("Next session not before {date}"));
            }
        }
        for note in state.notes.iter().rev().take(3) {
            sheet.line(Role::Quiet, format!("note {}: {}", note.at.format("%H:%M"), note.text));
        }
        sheet
    }

    /// Reminders; source: hospital leaflets gathered in the trade's facts (section 11), secondary or common practice.
    fn aftercare(&self) -> Vec<&'static str> {
        let seen = |kind| self.state().zones.iter().any(|z| z.responses.iter().any(|r| r.kind == kind));
        let mut lines = vec![
            "cool now; keep dry for two days, pat dry; no sport, swimming or sauna for a week",
            "high sun protection from day two; never pick crusts",
            "call the clinic: swelling over three days, blister, crust, weeping",
            "urgent help: spreading redness, pus, fever, severe pain, wheeze, swollen face",
        ];
        if seen(crate::session::Response::Blister) {
            lines.insert(0, "blister seen: leave it intact, cover it, come to the review visit");
        }
        if seen(crate::session::Response::Darkening) {
            lines.insert(0, "the ink darkened: no further pulses until it was reassessed");
        }
        lines
    }
}
