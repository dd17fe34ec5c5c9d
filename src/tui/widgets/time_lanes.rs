//! A session over time: pulses as bars, and below them a row for each kind of event, with a letter for each that happened.

use super::plot::Axis;
use crate::session::{Span, Trace, TraceMark};
use crate::text::fitted;
use crate::tui::theme::{Glyphs, Role, Theme};
use chrono::{DateTime, Duration, FixedOffset, Timelike};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::Widget;

/// The rows of events: their names, and their marks with letters, the most urgent last.
pub const LANES: [(&str, &[(TraceMark, &str)]); 5] = [
    (
        "skin",
        &[
            (TraceMark::NoResponse, "o"),
            (TraceMark::Pain, "v"),
            (TraceMark::Faded, "f"),
            (TraceMark::Whitening, "w"),
            (TraceMark::OtherResponse, "r"),
            (TraceMark::Bleeding, "b"),
        ],
    ),
    (
        "advice",
        &[
            (TraceMark::Note, "N"),
            (TraceMark::Check, "C"),
            (TraceMark::Wait, "W"),
            (TraceMark::Lower, "L"),
            (TraceMark::Stop, "S"),
        ],
    ),
    (
        "answer",
        &[
            (TraceMark::Cleared, "c"),
            (TraceMark::Accepted, "a"),
            (TraceMark::Alternative, "l"),
            (TraceMark::Declined, "d"),
            (TraceMark::Stopped, "x"),
        ],
    ),
    (
        "setting",
        &[
            (TraceMark::ReadBack, "r"),
            (TraceMark::Mismatch, "m"),
            (TraceMark::Changed, "="),
            (TraceMark::Lowered, "-"),
            (TraceMark::Raised, "+"),
        ],
    ),
    (
        "work",
        &[
            (TraceMark::Corrected, "k"),
            (TraceMark::TakenBack, "u"),
            (TraceMark::GoOn, "g"),
            (TraceMark::Pause, "p"),
            (TraceMark::PassStart, "n"),
            (TraceMark::PassEnd, "e"),
            (TraceMark::ZoneEnd, "z"),
            (TraceMark::CutOff, "q"),
        ],
    ),
];

/// Columns of the rows' names and of the bars' labels.
pub const GUTTER: u16 = 8;
/// A session shorter than this is drawn as if it had lasted so long.
const LEAST_MS: u64 = 60_000;
/// Rows below the bars: the rule, the times, the events.
const BELOW: u16 = 2 + LANES.len() as u16;

/// Draws a session.
#[derive(Debug, Clone, Copy)]
pub struct TimeLanes<'a> {
    trace: &'a Trace,
    opened_at: DateTime<FixedOffset>,
    until_ms: u64,
    theme: &'a Theme,
    glyphs: Glyphs,
}

/// One column.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Column {
    /// Pulses that fell in it; of a span that lies in several columns each has its part.
    pub pulses: f64,
    spans: Vec<Span>,
}

impl<'a> TimeLanes<'a> {
    /// A session up to a session time in ms.
    #[must_use]
    pub fn new(trace: &'a Trace, opened_at: DateTime<FixedOffset>, until_ms: u64, theme: &'a Theme) -> Self {
        let kept = trace.span_ms().saturating_mul(trace.spans().len() as u64);
        Self { trace, opened_at, until_ms: until_ms.max(kept).max(LEAST_MS), theme, glyphs: Glyphs::Unicode }
    }

    /// The characters.
    #[must_use]
    pub const fn glyphs(mut self, glyphs: Glyphs) -> Self {
        self.glyphs = glyphs;
        self
    }

    /// How long what is drawn is, in ms.
    #[must_use]
    pub const fn length_ms(&self) -> u64 {
        self.until_ms
    }

    /// The column of a session time.
    #[must_use]
    pub fn column(&self, ms: u64, columns: u16) -> u16 {
        let at = u128::from(ms) * u128::from(columns) / u128::from(self.until_ms);
        u16::try_from(at).unwrap_or(u16::MAX).min(columns.saturating_sub(1))
    }

    /// The trace in so many columns. Its cost is that of the spans, however many events a session has.
    #[must_use]
    pub fn columns(&self, columns: u16) -> Vec<Column> {
        let mut out = vec![Column::default(); usize::from(columns)];
        let ms = self.trace.span_ms();
        for (n, span) in self.trace.spans().iter().enumerate() {
            let from = ms.saturating_mul(n as u64);
            let (first, last) =
                (self.column(from, columns), self.column(from.saturating_add(ms).saturating_sub(1), columns));
            let width = self.until_ms as f64 / f64::from(columns.max(1));
            let part = |n: u16| {
                let (start, end) = (f64::from(n) * width, (f64::from(n) + 1.0) * width);
                let overlap = end.min(from.saturating_add(ms) as f64) - start.max(from as f64);
                span.pulses as f64 * if first == last { 1.0 } else { (overlap / ms as f64).clamp(0.0, 1.0) }
            };
            for (n, column) in (first..=last).zip(out.iter_mut().skip(usize::from(first))) {
                column.pulses += part(n);
                if n == first {
                    column.spans.push(*span);
                } else {
                    // What happened, happened once.
                    column.spans.push(span.quiet());
                }
            }
        }
        out
    }

    fn bars(&self, columns: &[Column], area: Rect, buffer: &mut Buffer) {
        let minutes = self.until_ms as f64 / 60_000.0 / columns.len().max(1) as f64;
        let rate = |c: &Column| c.pulses / minutes;
        let most = columns.iter().map(rate).fold(0.0, f64::max);
        let axis = Axis::from_zero(most, "");
        let quiet = self.theme.style(Role::Quiet);
        let width = usize::from(GUTTER) - 1;
        let label = |value: f64| format!("{:>width$}", crate::units::trimmed(value, 1));
        buffer.set_stringn(area.x, area.y, label(axis.high), width, quiet);
        if area.height > 1 {
            buffer.set_stringn(area.x, area.bottom() - 1, label(0.0), width, quiet);
        }
        let signs: &[&str] = match self.glyphs {
            Glyphs::Unicode => &["▁", "▂", "▃", "▄", "▅", "▆", "▇", "█"],
            Glyphs::Ascii => &["#"],
        };
        let levels = signs.len() as f64;
        for (n, column) in (0..).zip(columns) {
            let height = rate(column) / axis.high * f64::from(area.height) * levels;
            // The least of a pulse is seen.
            let mut left = if column.pulses > 0.0 { height.round().max(1.0) } else { 0.0 };
            for y in (area.y..area.bottom()).rev() {
                let Some(sign) = signs.get((left.min(levels) as usize).wrapping_sub(1)) else { break };
                buffer.set_stringn(area.x + GUTTER + n, y, sign, 1, self.theme.style(Role::Strong));
                left -= levels;
            }
        }
    }

    fn times(&self, area: Rect, columns: u16, buffer: &mut Buffer) {
        let (edge, quiet) = (self.theme.style(Role::Edge), self.theme.style(Role::Quiet));
        let rule = if self.glyphs == Glyphs::Ascii { "-" } else { "─" };
        buffer.set_stringn(area.x + GUTTER, area.y, rule.repeat(usize::from(columns)), usize::from(columns), edge);
        // The least number of whole minutes between labels that leaves room for them.
        let room_ms = self.until_ms as f64 / f64::from(columns.max(1)) * 8.0;
        let steps = [1u64, 2, 5, 10, 15, 30, 60, 120, 240, 720, 1440].map(|m| m * 60_000);
        let step = steps.into_iter().find(|s| *s as f64 >= room_ms).unwrap_or(u64::MAX);
        let second = u64::from(self.opened_at.num_seconds_from_midnight());
        // Labels stand at round times of the clock.
        let mut at = (step - (second * 1000) % step) % step;
        while at < self.until_ms {
            let x = area.x + GUTTER + self.column(at, columns);
            let text = (self.opened_at + Duration::milliseconds(i64::try_from(at).unwrap_or(0))).format("%H:%M");
            if x + 5 <= area.right() {
                let tick = if self.glyphs == Glyphs::Ascii { "+" } else { "┴" };
                buffer.set_stringn(x, area.y, tick, 1, edge);
                buffer.set_stringn(x, area.y + 1, text.to_string(), 5, quiet);
            }
            let Some(next) = at.checked_add(step) else { break };
            at = next;
        }
    }

    fn lane(&self, (name, marks): (&str, &[(TraceMark, &str)]), columns: &[Column], row: Rect, buffer: &mut Buffer) {
        buffer.set_stringn(row.x, row.y, fitted(name, 7), 7, self.theme.style(Role::Ink));
        let (run, stand) = match self.glyphs {
            Glyphs::Unicode => ("─", "┄"),
            Glyphs::Ascii => ("_", "."),
        };
        for (n, column) in (0..).zip(columns) {
            let x = row.x + GUTTER + n;
            let here = marks.iter().rev().find(|(mark, _)| column.spans.iter().any(|s| s.has(*mark)));
            let (sign, role) = match here {
                Some((TraceMark::Stop | TraceMark::Stopped, sign)) => (*sign, Role::Stop),
                Some((TraceMark::Lower, sign)) => (*sign, Role::Lower),
                Some((_, sign)) => (*sign, Role::Strong),
                None if name == "work" && column.spans.iter().any(|s| s.paused) => (stand, Role::Quiet),
                None if name == "work" && column.spans.iter().any(|s| s.in_pass) => (run, Role::Quiet),
                None => continue,
            };
            buffer.set_stringn(x, row.y, sign, 1, self.theme.style(role));
        }
    }
}

impl Widget for &TimeLanes<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        let columns = area.width.saturating_sub(GUTTER);
        if columns < 12 || area.height < BELOW + 2 {
            buffer.set_stringn(
                area.x,
                area.y,
                fitted("too little room for a picture", usize::from(area.width)),
                usize::from(area.width),
                self.theme.style(Role::Quiet),
            );
            return;
        }
        let shown = self.columns(columns);
        let bars = Rect { height: area.height - BELOW, ..area };
        self.bars(&shown, bars, buffer);
        self.times(Rect { y: bars.bottom(), height: 2, ..area }, columns, buffer);
        for (lane, y) in LANES.into_iter().zip(bars.bottom() + 2..) {
            self.lane(lane, &shown, Rect { y, height: 1, ..area }, buffer);
        }
    }
}
