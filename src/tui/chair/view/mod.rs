//! Drawing the session: header, the screen's body, a line for messages, keys.

mod checks;
mod close;
mod far;
pub(super) mod figures;
mod help;
mod map;
mod pictures;
mod practice;
pub(super) mod settings;
mod treat;

use super::dialogs::Dialog;
use super::{Chair, ScreenName};
use crate::recorder::Store;
use crate::session::Level;
use crate::text::{fitted, shown};
use crate::tui::keys::Action;
use crate::tui::theme::{Glyphs, Role, Theme};
use crate::tui::widgets::dialog::Dialog as DialogBox;
use crate::tui::widgets::field::FieldView;
use crate::tui::widgets::footer::{Footer, KeyLabel, labels};
use crate::tui::widgets::too_small::TooSmall;
use ratatui::buffer::Buffer;
use ratatui::layout::{Rect, Size};
use ratatui::text::{Line, Span};
use ratatui::widgets::{Paragraph, Widget};
use unicode_width::UnicodeWidthStr;

/// The smallest window that a screen is laid out for.
pub const NEED: Size = Size { width: 80, height: 24 };

/// Rows that a message may take.
const TOAST_ROWS: u16 = 2;

/// What a screen's body is drawn with.
pub(super) struct Sheet<'a> {
    theme: &'a Theme,
    columns: usize,
    lines: Vec<Line<'static>>,
}

impl<'a> Sheet<'a> {
    pub(super) fn new(theme: &'a Theme, columns: u16) -> Self {
        Self { theme, columns: usize::from(columns), lines: Vec::new() }
    }

    fn span(&self, role: Role, text: impl Into<String>) -> Span<'static> {
        Span::styled(text.into(), self.theme.style(role))
    }

    fn line(&mut self, role: Role, text: impl AsRef<str>) {
        let text = fitted(text.as_ref(), self.columns);
        let span = self.span(role, text);
        self.lines.push(Line::from(span));
    }

    fn wrapped(&mut self, role: Role, text: impl AsRef<str>) {
        for line in crate::text::wrapped(text.as_ref(), self.columns) {
            self.line(role, line);
        }
    }

    fn spans(&mut self, parts: &[(Role, String)]) {
        let mut left = self.columns;
        let mut spans = Vec::new();
        for (role, text) in parts {
            let text = fitted(text, left);
            left = left.saturating_sub(text.width());
            spans.push(self.span(*role, text));
        }
        self.lines.push(Line::from(spans));
    }

    /// Groups side by side; one that no longer fits goes on the next line.
    fn groups(&mut self, groups: &[&[(Role, String)]]) {
        const BETWEEN: &str = "   ";
        let mut line: Vec<(Role, String)> = Vec::new();
        let mut used = 0;
        for group in groups {
            let width: usize = group.iter().map(|(_, text)| text.width()).sum();
            if used > 0 && width > 0 && used + BETWEEN.len() + width > self.columns {
                self.spans(&std::mem::take(&mut line));
                used = 0;
            }
            if used > 0 && width > 0 {
                line.push((Role::Ink, BETWEEN.to_owned()));
                used += BETWEEN.len();
            }
            line.extend(group.iter().cloned());
            used += width;
        }
        self.spans(&line);
    }

    fn blank(&mut self) {
        self.lines.push(Line::default());
    }

    /// Its lines as bare text, for whoever does not see it.
    pub(super) fn words(&self) -> Vec<String> {
        let words = |line: &Line<'_>| line.spans.iter().map(|span| span.content.as_ref()).collect::<String>();
        self.lines.iter().map(words).filter(|text| !text.trim().is_empty()).collect()
    }

    fn render(self, area: Rect, buffer: &mut Buffer) {
        Paragraph::new(self.lines).render(area, buffer);
    }
}

/// A text that is cut off ends in `…`, which not every font and braille display has.
fn mark_cuts_in_ascii(area: Rect, buffer: &mut Buffer) {
    for position in area.intersection(buffer.area).positions() {
        if let Some(cell) = buffer.cell_mut(position)
            && cell.symbol() == "…"
        {
            cell.set_symbol("~");
        }
    }
}

/// The role and the sign of an advice level.
fn level_look(level: Level) -> (Role, &'static str) {
    match level {
        Level::Stop => (Role::Stop, "!!!"),
        Level::Lower => (Role::Lower, "!!"),
        Level::Wait => (Role::Wait, "~~"),
        Level::Check => (Role::Check, "??"),
        Level::Note => (Role::Note, "-"),
    }
}

/// `1:05` or `12 s`.
fn clock_words(ms: u64) -> String {
    let s = ms / 1000;
    if s >= 60 { format!("{}:{:02} min", s / 60, s % 60) } else { format!("{s} s") }
}

impl<S: Store> Chair<S> {
    /// Draws the whole screen.
    pub fn view(&self, area: Rect, buffer: &mut Buffer) {
        self.draw(area, buffer);
        if self.glyphs == Glyphs::Ascii {
            mark_cuts_in_ascii(area, buffer);
        }
    }

    fn draw(&self, area: Rect, buffer: &mut Buffer) {
        buffer.set_style(area, self.theme.style(Role::Ink));
        // A window too small for the treat screen may still hold what matters most.
        let far = self.screen == ScreenName::Treat
            && (self.far || TooSmall::applies(area, NEED) && !TooSmall::applies(area, far::FAR_NEED));
        let need = if far { far::FAR_NEED } else { NEED };
        if TooSmall::applies(area, need) {
            let (line, role) = self.safety_line();
            TooSmall::new(&line, role, need, &self.theme).render(area, buffer);
            return;
        }
        if far {
            self.draw_far(area, buffer);
            self.draw_over(area, buffer);
            return;
        }
        let row = |y: u16, height: u16| Rect { y: area.y + y, height, ..area };
        self.draw_header(row(0, 2), buffer);
        let keys = self.footer_keys();
        let footer = Footer::new(&keys, &self.theme);
        let footer_rows = footer.rows(area.width).clamp(1, 3);
        let toast = self.toast_lines(area.width);
        let toast_rows = u16::try_from(toast.len()).unwrap_or(1).clamp(1, TOAST_ROWS);
        let toast_y = area.height.saturating_sub(footer_rows + toast_rows);
        footer.render(row(toast_y + toast_rows, footer_rows), buffer);
        Paragraph::new(toast).render(row(toast_y, toast_rows), buffer);
        let body = Rect { x: area.x + 1, width: area.width.saturating_sub(2), ..row(2, toast_y.saturating_sub(2)) };
        match self.screen {
            ScreenName::Checks => self.draw_checks(body, buffer),
            ScreenName::Settings => self.draw_settings(body, buffer),
            ScreenName::Treat => self.draw_treat(body, buffer),
            ScreenName::Close => self.draw_close(body, buffer),
            ScreenName::Pictures => self.draw_pictures(body, buffer),
        }
        self.draw_over(area, buffer);
    }

    /// What stands over the screen: the help, or a question.
    fn draw_over(&self, area: Rect, buffer: &mut Buffer) {
        if let Some(scroll) = self.help {
            self.draw_help(scroll, area, buffer);
        } else if let Some(dialog) = &self.dialog {
            self.draw_dialog(dialog, area, buffer);
        }
    }

    /// Remembers that what stands on screen has been drawn: keys typed before do not answer it.
    pub fn drawn(&mut self, at_ms: u64) {
        if let Some(Dialog::Choice(d)) = &mut self.dialog {
            d.question.drawn(at_ms);
        }
        if self.screen == ScreenName::Treat && self.dialog.is_none() && self.help.is_none() {
            let top = self.state().open_advice().first().map(|a| a.id);
            match (top, &mut self.advice_seen) {
                (Some(top), Some((id, question))) if *id == top => question.drawn(at_ms),
                (Some(top), seen) => {
                    let mut question = crate::tui::widgets::dialog::Question::new();
                    question.drawn(at_ms);
                    *seen = Some((top, question));
                }
                (None, _) => {}
            }
        }
    }

    /// Whether what was recorded is on disk, in words.
    fn saved_words(&self) -> (Role, String) {
        let last = self.state().last.seq;
        let saved = self.store().saved_upto();
        if let Some((since, _)) = self.store().failure() {
            let n = last.saturating_sub(since.saturating_sub(1));
            return (Role::Stop, format!(" NOT SAVED: {n} events "));
        }
        if saved >= last {
            (Role::Good, " saved ".to_owned())
        } else {
            (Role::Wait, format!(" saving {} ", last - saved))
        }
    }

    /// The pulses of the running pass, or of the session.
    fn count_words(&self) -> String {
        match self.state().running() {
            Some((_, plan, z, pass)) => {
                format!("{}/{} {} pass {}", pass.counted, z.planned_per_pass(plan), plan.id, pass.number)
            }
            None => format!("{} pulses, no pass running", self.state().total_pulses()),
        }
    }

    /// Count and advice in one line, for a window too small for anything else.
    fn safety_line(&self) -> (String, Role) {
        let (_, saved) = self.saved_words();
        let count = self.count_words();
        match self.state().open_advice().first() {
            Some(a) => {
                let (role, sign) = level_look(a.level);
                (format!("{count} {sign} {}: {} [{}]", a.level, shown(&a.advice.action), saved.trim()), role)
            }
            None => (format!("{count} [{}]", saved.trim()), Role::Strong),
        }
    }

    fn draw_header(&self, area: Rect, buffer: &mut Buffer) {
        let state = self.state();
        let screen = match self.screen {
            ScreenName::Checks => "CHECKS",
            ScreenName::Settings => "SETTINGS",
            ScreenName::Treat => "TREAT",
            ScreenName::Close => "CLOSE",
            ScreenName::Pictures => "PICTURES",
        };
        let client = &state.opened.plan.client;
        let screen = if self.is_practice() { format!("PRACTICE {screen}") } else { screen.to_owned() };
        let left =
            format!(" {screen}  {}  skin type {}  {}", client.code, client.skin, shown(&state.opened.plan.title));
        let (role, saved) = self.saved_words();
        let columns = usize::from(area.width);
        let text = fitted(&left, columns.saturating_sub(saved.width() + 2));
        let gap = columns.saturating_sub(text.width() + saved.width() + 1);
        let line = Line::from(vec![
            Span::styled(text, self.theme.style(Role::Strong)),
            Span::raw(" ".repeat(gap)),
            Span::styled(saved, self.theme.style(role)),
        ]);
        let second = match self.store().failure() {
            Some((_, why)) => {
                let since = self.unsaved_at.front().map(|(_, at)| at.format(" since %H:%M:%S").to_string());
                // The way out comes before the reason, which is what a narrow window cuts off.
                let text = format!(
                    " NOT SAVED{}: kept in memory only. {}: go on in another directory ({})",
                    since.unwrap_or_default(),
                    self.key_of(Action::SaveElsewhere),
                    shown(&why)
                );
                Line::styled(fitted(&text, columns), self.theme.style(Role::Stop))
            }
            None if self.is_practice() => {
                let text = fitted(&self.practice_line(), columns.saturating_sub(1));
                let pad = " ".repeat(columns.saturating_sub(text.width()));
                Line::styled(format!("{text}{pad}"), self.theme.style(Role::Selected))
            }
            None => {
                let rule = if self.glyphs == Glyphs::Ascii { "-" } else { "─" };
                Line::styled(rule.repeat(columns), self.theme.style(Role::Edge))
            }
        };
        Paragraph::new(vec![line, second]).render(area, buffer);
    }

    fn toast_lines(&self, columns: u16) -> Vec<Line<'static>> {
        let Some(toast) = &self.toast else { return Vec::new() };
        let (role, sign) = if toast.warning { (Role::Check, "! ") } else { (Role::Note, "") };
        let text = format!("{sign}{}", shown(&toast.text));
        let room = usize::from(columns.saturating_sub(2));
        let mut lines = crate::text::wrapped(&text, room);
        if lines.len() > usize::from(TOAST_ROWS) {
            let rest = lines.split_off(usize::from(TOAST_ROWS) - 1).join(" ");
            lines.push(fitted(&rest, room));
        }
        let style = self.theme.style(role);
        lines.into_iter().map(|l| Line::from(vec![Span::raw(" "), Span::styled(l, style)])).collect()
    }

    fn footer_keys(&self) -> Vec<KeyLabel> {
        labels(&self.keys.hints(&self.places()))
    }

    fn draw_dialog(&self, dialog: &Dialog, area: Rect, buffer: &mut Buffer) {
        let key = |k: &str, l: &str| (k.to_owned(), l.to_owned());
        match dialog {
            Dialog::Choice(d) => {
                let mut keys: Vec<KeyLabel> = d.options.iter().map(|(c, l, _)| (c.to_string(), shown(l))).collect();
                keys.push(key("esc", "back"));
                DialogBox::new(&d.title, &d.body, &keys, &self.theme).glyphs(self.glyphs).render(area, buffer);
            }
            Dialog::Text(d) => {
                let keys = [key("enter", "take"), key("esc", "back")];
                let body = format!("{}\n\n\n", d.body.trim());
                let frame = DialogBox::new(&d.title, &body, &keys, &self.theme).glyphs(self.glyphs);
                let place = frame.place(area);
                frame.render(area, buffer);
                let y = place.bottom().saturating_sub(2 + FieldView::ROWS);
                let field = Rect { x: place.x + 2, y, width: place.width.saturating_sub(4), height: FieldView::ROWS };
                FieldView::new(&d.field, &self.theme).focused(true).render(field.intersection(place), buffer);
            }
            Dialog::Fields(d) => {
                let keys = [key("tab", "next"), key("enter", "take"), key("esc", "back")];
                let rows = u16::try_from(d.fields.len()).unwrap_or(3) * FieldView::ROWS;
                let body = format!("{}{}", d.body.trim(), "\n".repeat(usize::from(rows) + 1));
                let frame = DialogBox::new(&d.title, &body, &keys, &self.theme).glyphs(self.glyphs);
                let place = frame.place(area);
                frame.render(area, buffer);
                let mut y = place.bottom().saturating_sub(2 + rows);
                for (i, field) in d.fields.iter().enumerate() {
                    let at = Rect { x: place.x + 2, y, width: place.width.saturating_sub(4), height: FieldView::ROWS };
                    FieldView::new(field, &self.theme)
                        .label_columns(8)
                        .focused(i == d.focus)
                        .render(at.intersection(place), buffer);
                    y = y.saturating_add(FieldView::ROWS);
                }
            }
        }
    }
}
