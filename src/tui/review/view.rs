//! Drawing the supervisor's screens.

use super::{Over, Part, Review};
use crate::review::{Progress, Row};
use crate::text::{fitted, shown};
use crate::tui::keys::{Action, Place};
use crate::tui::pictures::{self, session::SessionPicture};
use crate::tui::theme::{Glyphs, Role};
use crate::tui::widgets::footer::{Footer, labels};
use crate::tui::widgets::too_small::TooSmall;
use crate::words::Word;
use ratatui::buffer::Buffer;
use ratatui::layout::{Rect, Size};
use ratatui::widgets::Widget;

/// The smallest window.
const NEED: Size = Size { width: 80, height: 24 };

impl Review {
    /// Draws what is on top.
    pub fn view(&self, area: Rect, buffer: &mut Buffer) {
        buffer.set_style(area, self.theme.style(Role::Ink));
        if TooSmall::applies(area, NEED) {
            let words = format!("{} sessions shown", self.order.len());
            TooSmall::new(&words, Role::Ink, NEED, &self.theme).render(area, buffer);
            self.keep_to_ascii(area, buffer);
            return;
        }
        let footer: Vec<_> = self.keys.hints(&[Place::Review]).into_iter().filter(|h| self.works(h.action)).collect();
        let keys = labels(&footer);
        let footer = Footer::new(&keys, &self.theme);
        let rows = footer.rows(area.width).min(3);
        let foot = Rect { y: area.bottom() - rows, height: rows, ..area };
        let body = Rect { y: area.y + 1, height: area.height - 1 - rows, ..area };
        self.put(area.x, area.y, area.width, &self.title(), Role::Selected, buffer);
        if self.help {
            self.help_lines(body, buffer);
        } else {
            match self.over.last() {
                None => self.list(body, buffer),
                Some((over, first)) => self.over(over, *first, body, buffer),
            }
        }
        footer.render(foot, buffer);
        if let Some(message) = &self.message {
            self.put(area.x, foot.y.saturating_sub(1), area.width, &format!(" {message}"), Role::Check, buffer);
        }
        self.keep_to_ascii(area, buffer);
    }

    /// True for a key that does something on what is on top.
    fn works(&self, action: Action) -> bool {
        let practice = match self.over.last() {
            Some((Over::Session(o, _), _)) => o.review.summary.practice.is_some(),
            Some(_) => false,
            None => self.asked.practice,
        };
        match action {
            Action::Open | Action::Search | Action::Sort | Action::PracticeList => self.over.is_empty(),
            Action::NextPart | Action::PartBefore => matches!(self.over.last(), Some((Over::Session(..), _))),
            Action::Debrief => practice,
            Action::Course => matches!(self.over.last(), None | Some((Over::Session(..), _))) && !practice,
            Action::Statistics | Action::Progress => self.over.is_empty(),
            _ => true,
        }
    }

    /// Where only ASCII may be drawn, whatever the record holds.
    fn keep_to_ascii(&self, area: Rect, buffer: &mut Buffer) {
        if self.glyphs != Glyphs::Ascii {
            return;
        }
        for position in area.intersection(buffer.area).positions() {
            if let Some(cell) = buffer.cell_mut(position)
                && !cell.symbol().is_ascii()
            {
                let sign = if cell.symbol() == "…" { "~" } else { "?" };
                cell.set_symbol(sign);
            }
        }
    }

    fn put(&self, x: u16, y: u16, width: u16, text: &str, role: Role, buffer: &mut Buffer) {
        let columns = usize::from(width);
        let text = fitted(&shown(text), columns);
        buffer.set_stringn(x, y, format!("{text:<columns$}"), columns, self.theme.style(role));
    }

    fn title(&self) -> String {
        let practice = if self.asked.practice { "PRACTICE " } else { "" };
        let what = match self.over.last() {
            None => {
                let words = self.filter().words();
                let words = if words.is_empty() { String::new() } else { format!(" ({words})") };
                let reading = if self.reading { ", still reading" } else { "" };
                format!("{} of {}{words}, by {}{reading}", self.order.len(), self.kept.len(), self.sort.word())
            }
            Some((Over::Session(o, part), _)) => {
                let kind = if o.review.summary.practice.is_some() { "PRACTICE " } else { "" };
                let name = match part {
                    Part::Overview => "overview",
                    Part::Picture => "picture",
                    Part::Charts => "charts",
                    Part::Timeline => "timeline",
                };
                return format!(" REVIEW  {kind}{}  {name}", o.review.summary.session);
            }
            Some((Over::Debrief(d), _)) => return format!(" REVIEW  PRACTICE {}  debrief", d.session),
            Some((Over::Course(c), _)) => format!("course of {}", c.client_code),
            Some((Over::Statistics(_), _)) => format!("statistics of {} sessions", self.order.len()),
            Some((Over::Progress(_), _)) => return " REVIEW  PRACTICE  progress".to_owned(),
        };
        format!(" REVIEW  {practice}{what}")
    }

    fn list(&self, area: Rect, buffer: &mut Buffer) {
        let columns = usize::from(area.width);
        let mut y = area.y;
        if self.typing || !self.typed.is_empty() {
            let cursor = if self.typing { "_" } else { "" };
            self.put(area.x, y, area.width, &format!(" find: {}{cursor}", self.typed), Role::Field, buffer);
            y += 1;
        }
        self.put(area.x, y, area.width, Row::headings(columns), Role::Quiet, buffer);
        y += 1;
        // The last rows tell the chosen session in full.
        let foot = area.bottom().saturating_sub(3);
        let room = usize::from(foot.saturating_sub(y));
        self.drawn.set((room.max(1), self.order.len()));
        let first = self.chosen.saturating_sub(room / 2).min(self.order.len().saturating_sub(room));
        for (at, i) in self.order.iter().enumerate().skip(first).take(room) {
            let Some(row) = self.kept.get(*i).map(|k| &k.row) else { continue };
            let line = row.line(columns.saturating_sub(2));
            let (mark, role) = if at == self.chosen { (">", Role::Selected) } else { (" ", Role::Ink) };
            self.put(area.x, y, area.width, &format!("{mark}{line}"), role, buffer);
            y += 1;
        }
        if self.order.is_empty() {
            let words = if self.reading { "reading the journals" } else { "no session fits what is asked for" };
            self.put(area.x, y, area.width, &format!("  {words}"), Role::Ink, buffer);
        }
        let rule = if self.glyphs == Glyphs::Ascii { "-" } else { "─" };
        buffer.set_stringn(area.x, foot, rule.repeat(columns), columns, self.theme.style(Role::Edge));
        if let Some(row) = self.chosen_row() {
            let record = row.record_text.as_ref().map_or_else(|| row.record.word().to_owned(), |t| format!("! {t}"));
            let signed = if row.signed { "signed" } else { "unsigned" };
            let scenario = row.practice.as_ref().map(|p| format!("PRACTICE {p}  ")).unwrap_or_default();
            let head = format!(" {scenario}{}  {} zones  {signed}  record {record}", row.session, row.zones);
            self.put(area.x, foot + 1, area.width, &head, Role::Ink, buffer);
            let counts = format!(
                " declined {}, overridden {}, answered no {}, adverse responses {}",
                row.declined, row.overridden, row.answered_no, row.adverse
            );
            self.put(area.x, foot + 2, area.width, &counts, Role::Quiet, buffer);
        }
        if let Some(problem) = self.problems.first() {
            self.put(area.x, foot + 2, area.width, &format!(" ! {problem}"), Role::Check, buffer);
        }
    }

    fn over(&self, over: &Over, first: usize, area: Rect, buffer: &mut Buffer) {
        let inner = Rect { x: area.x + 1, width: area.width.saturating_sub(2), ..area };
        let (columns, rows) = (usize::from(inner.width), usize::from(inner.height));
        let lines = match over {
            Over::Session(opened, Part::Picture) => {
                let picture = SessionPicture::whole(&opened.state);
                pictures::render(&picture, inner, buffer, &self.theme, self.glyphs);
                self.drawn.set((rows, rows));
                return;
            }
            Over::Session(opened, Part::Overview) => opened.review.overview(columns),
            Over::Session(opened, Part::Charts) => opened.review.chart_lines(columns, rows),
            Over::Session(opened, Part::Timeline) => opened.review.timeline_lines(columns),
            Over::Debrief(debrief) => debrief.lines(columns),
            Over::Course(course) => course.lines(columns),
            Over::Statistics(figures) => figures.lines(columns),
            Over::Progress(all) if all.is_empty() => vec!["no run of practice was closed yet".to_owned()],
            Over::Progress(all) => all.iter().map(Progress::line).collect(),
        };
        self.text(&lines, first, inner, buffer);
    }

    fn help_lines(&self, area: Rect, buffer: &mut Buffer) {
        let inner = Rect { x: area.x + 1, width: area.width.saturating_sub(2), ..area };
        let mut lines = vec![
            "HELP  any key: back".to_owned(),
            "Sessions that depart most from what is wanted stand first: a damaged journal; advice declined or a check overridden; an adverse response; STOP; not closed. Then the newest.".to_owned(),
            "What is typed after the key for finding: words, or client:HL-2041 operator:OP-1 skin:III nm:1064 level:STOP from:2026-01-01 to:2026-12-31 unsigned: damaged:".to_owned(),
        ];
        lines = lines.iter().flat_map(|l| crate::text::wrapped(l, usize::from(inner.width))).collect();
        for hint in self.keys.hints(&[Place::Review]) {
            lines.push(format!(" {:<16} {}", hint.keys(), hint.help));
        }
        self.text(&lines, 0, inner, buffer);
    }

    fn text(&self, lines: &[String], first: usize, area: Rect, buffer: &mut Buffer) {
        let rows = usize::from(area.height);
        self.drawn.set((rows, lines.len()));
        let first = first.min(lines.len().saturating_sub(rows));
        for (line, y) in lines.iter().skip(first).take(rows).zip(area.y..) {
            // Headings are in capitals, so that they stand out without colour too.
            let word = line.split_whitespace().next().unwrap_or_default();
            let heading = !line.starts_with(' ') && word.len() > 1 && word.chars().all(|c| c.is_ascii_uppercase());
            let role = match line.trim_start().starts_with('!') {
                true => Role::Check,
                false if heading => Role::Strong,
                false => Role::Ink,
            };
            self.put(area.x, y, area.width, line, role, buffer);
        }
        let more = lines.len().saturating_sub(first + rows);
        if more > 0 {
            let y = area.bottom().saturating_sub(1);
            let at = lines.get(first + rows - 1).map_or("", String::as_str);
            let words = format!("  ({} lines more)", more);
            let room = usize::from(area.width).saturating_sub(words.len());
            self.put(
                area.x,
                y,
                area.width,
                &format!("{:<room$}{words}", fitted(&shown(at), room)),
                Role::Quiet,
                buffer,
            );
        }
    }
}
