//! The far view: only what is read from two metres. Count of planned, the advice with its figures, zone and pass, the
//! whitening's clock, saved or not.

use super::{Chair, clock_words, level_look};
use crate::recorder::Store;
use crate::session::AdviceEntry;
use crate::text::{fitted, shown, wrapped};
use crate::tui::keys::Action;
use crate::tui::theme::Role;
use crate::tui::widgets::big::Big;
use ratatui::buffer::Buffer;
use ratatui::layout::{Rect, Size};
use ratatui::widgets::Widget;

/// The smallest window that the far view is laid out for: what a large font leaves.
pub(super) const FAR_NEED: Size = Size { width: 60, height: 18 };

/// Rows of plain text: what is treated and whether it is saved, the whitening's clock, a message or the keys.
const LINE_ROWS: u16 = 3;
/// Rows for the advice in sentences.
const SENTENCE_ROWS: u16 = 3;

impl<S: Store> Chair<S> {
    /// Draws it over the whole window.
    pub(super) fn draw_far(&self, area: Rect, buffer: &mut Buffer) {
        let row =
            |y: u16, height: u16| Rect { y: area.y + y, height: height.min(area.height.saturating_sub(y)), ..area };
        self.far_head(row(0, 1), buffer);
        let open = self.state().open_advice();
        let top = open.first().copied();
        let sentences = if top.is_some() { SENTENCE_ROWS } else { 0 };
        let large = area.height.saturating_sub(LINE_ROWS + sentences);
        // The count takes two parts of what is large, the advice one.
        let word = if top.is_some() { (large / 3).max(4).min(large) } else { 0 };
        let count = large - word;
        self.far_count(row(1, count), buffer);
        if let Some(top) = top {
            self.far_advice(top, open.len(), row(1 + count, word), row(1 + count + word, sentences), buffer);
        }
        self.far_whitening(row(area.height.saturating_sub(2), 1), buffer);
        self.far_foot(row(area.height.saturating_sub(1), 1), buffer);
    }

    /// Zone and pass on the left, saved or not on the right.
    fn far_head(&self, area: Rect, buffer: &mut Buffer) {
        let state = self.state();
        let Some((plan, z)) = state.zone(self.zone) else { return };
        let running = state.active == Some(self.zone);
        let pass = if running { z.passes.last().map_or(1, |p| p.number) } else { z.next_pass() };
        let how = match (running, z.outcome) {
            (true, _) if state.paused => "PAUSED".to_owned(),
            (true, _) => "running".to_owned(),
            (false, Some(outcome)) => format!("zone {outcome}"),
            (false, None) if pass > plan.passes => "passes done".to_owned(),
            (false, None) => "not started".to_owned(),
        };
        let (role, saved) = self.saved_words();
        let columns = usize::from(area.width);
        let room = columns.saturating_sub(saved.chars().count() + 1);
        let text = fitted(
            &format!(
                " {}{}  pass {} of {}  {how}",
                if self.is_practice() { "PRACTICE " } else { "" },
                plan.id,
                pass.min(plan.passes.max(1)),
                plan.passes
            ),
            room,
        );
        buffer.set_stringn(area.x, area.y, text, room, self.theme.style(Role::Strong));
        let x = area.right().saturating_sub(u16::try_from(saved.chars().count()).unwrap_or(0));
        buffer.set_stringn(x, area.y, &saved, columns, self.theme.style(role));
    }

    fn far_count(&self, area: Rect, buffer: &mut Buffer) {
        let Some((_, counted, planned)) = self.pass_on_screen() else { return };
        let text = format!("{counted}/{planned}");
        Big::new(&text, self.theme.style(Role::Strong)).glyphs(self.glyphs).render(inset(area), buffer);
    }

    /// The level in large letters, with the figures where it proposes some; then what was seen and what to do.
    fn far_advice(&self, top: &AdviceEntry, open: usize, word: Rect, sentences: Rect, buffer: &mut Buffer) {
        let (role, _) = level_look(top.level);
        let figures = match (top.advice.from, top.advice.to) {
            (Some(from), Some(to)) if from.spot == to.spot => {
                format!(" {}>{}", bare(&from.fluence.to_string()), bare(&to.fluence.to_string()))
            }
            _ => String::new(),
        };
        // The figures stay in sight in the sentence below where they leave the letters too small.
        let long = format!("{}{figures}", top.level);
        let style = self.theme.style(role);
        let area = inset(word);
        let with = Big::new(&long, style).glyphs(self.glyphs);
        let level = top.level.to_string();
        let alone = Big::new(&level, style).glyphs(self.glyphs);
        if with.fit(area.as_size()).height >= 4 {
            with.render(area, buffer)
        } else {
            alone.render(area, buffer)
        }
        let more = if open > 1 { format!(" ({} more)", open - 1) } else { String::new() };
        let text =
            format!("{}: {}. {}{more}", top.level, shown(&top.advice.seen), self.action_words(&top.advice.action));
        let columns = usize::from(sentences.width.saturating_sub(2));
        let mut lines = wrapped(&text, columns);
        if lines.len() > usize::from(sentences.height) {
            let rest = lines.split_off(usize::from(sentences.height).saturating_sub(1)).join(" ");
            lines.push(fitted(&rest, columns));
        }
        for (line, y) in lines.iter().zip(sentences.y..sentences.bottom()) {
            buffer.set_stringn(sentences.x + 1, y, line, columns, style);
        }
    }

    fn far_whitening(&self, area: Rect, buffer: &mut Buffer) {
        let state = self.state();
        let Some((_, z)) = state.zone(self.zone) else { return };
        let ms = state.session_ms(self.recorder.now());
        let (role, text) = match z.whitening {
            None => (Role::Quiet, " whitening: none noted".to_owned()),
            Some(w) => match w.faded_ms {
                None => (Role::Wait, format!(" WHITE for {} ", clock_words(ms.saturating_sub(w.seen_ms)))),
                Some(faded) => (Role::Good, format!(" faded after {} ", clock_words(faded.saturating_sub(w.seen_ms)))),
            },
        };
        let wait = self.pass_wait_words().map(|(_, words)| words).unwrap_or_default();
        let columns = usize::from(area.width);
        let text = if self.is_practice() {
            // What the skin looks like comes first: nothing else shows it here.
            let skin = self.practice_words().unwrap_or_default();
            format!(" {} | {} {wait}", skin.trim_start_matches("PRACTICE, "), text.trim())
        } else {
            format!("{text} {wait}")
        };
        let text = fitted(&text, columns);
        buffer.set_stringn(area.x, area.y, &text, columns, self.theme.style(role));
    }

    /// What was just said, else the keys that answer.
    fn far_foot(&self, area: Rect, buffer: &mut Buffer) {
        let columns = usize::from(area.width);
        let (role, text) = match &self.toast {
            Some(toast) => (if toast.warning { Role::Check } else { Role::Note }, format!(" {}", shown(&toast.text))),
            None if self.state().open_advice().is_empty() => {
                let [pulse, far] = [Action::Pulse, Action::Far].map(|a| self.key_of(a));
                (Role::Quiet, format!(" {pulse} pulse   {far} near view"))
            }
            None => (Role::Selected, self.answer_keys()),
        };
        buffer.set_stringn(area.x, area.y, fitted(&text, columns), columns, self.theme.style(role));
    }
}

/// One column free on either side.
fn inset(area: Rect) -> Rect {
    Rect { x: area.x.saturating_add(1), width: area.width.saturating_sub(2), ..area }
}

/// A figure without its unit.
fn bare(text: &str) -> &str {
    text.split(' ').next().unwrap_or(text)
}
