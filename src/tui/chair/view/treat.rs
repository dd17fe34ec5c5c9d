//! Treating: how many pulses of how many, what is advised, where, what is set, what was last seen.

use super::{Chair, Sheet, clock_words, level_look, map};
use crate::coverage::Place;
use crate::plan::PassSpacing;
use crate::recorder::Store;
use crate::text::shown;
use crate::tui::keys::Action;
use crate::tui::theme::Role;
use crate::tui::widgets::big::Big;
use crate::tui::widgets::gauge::Gauge;
use crate::tui::widgets::row_bar::RowBar;
use crate::units::trimmed;
use crate::words::Word;
use ratatui::buffer::Buffer;
use ratatui::layout::{Rect, Size};
use ratatui::widgets::Widget;
use unicode_width::UnicodeWidthStr;

/// Rows of the block digits and of the advice beside them.
const TOP_ROWS: u16 = 10;
const BIG_ROWS: u16 = 7;
/// With fewer rows than this, what was seen gets one each.
const ROWS_FOR_FULL_LINES: usize = 8;

impl<S: Store> Chair<S> {
    pub(super) fn draw_treat(&self, area: Rect, buffer: &mut Buffer) {
        let left = Rect { width: area.width * 2 / 5, height: TOP_ROWS.min(area.height), ..area };
        let right =
            Rect { x: left.right().saturating_add(2), width: area.width.saturating_sub(left.width + 2), ..left };
        self.draw_count(left, buffer);
        self.draw_advice(right, buffer);
        let y = area.y + TOP_ROWS;
        let rest = Rect { y, height: area.bottom().saturating_sub(y), ..area };
        self.draw_figures(rest, buffer);
    }

    /// The pass on screen: its number, its count and its plan.
    pub(in crate::tui::chair) fn pass_on_screen(&self) -> Option<(u8, u64, u64)> {
        let (plan, z) = self.state().zone(self.zone)?;
        let planned = z.planned_per_pass(plan);
        let running = self.state().active == Some(self.zone);
        match z.passes.last().filter(|_| running) {
            Some(pass) => Some((pass.number, pass.counted, planned)),
            None => Some((z.next_pass(), 0, planned)),
        }
    }

    fn draw_count(&self, area: Rect, buffer: &mut Buffer) {
        let Some((pass, counted, planned)) = self.pass_on_screen() else { return };
        let Some((plan, z)) = self.state().zone(self.zone) else { return };
        let running = self.state().active == Some(self.zone);
        let style = self.theme.style(Role::Strong);
        let text = counted.to_string();
        let room = Rect { height: BIG_ROWS.min(area.height), ..area };
        let most = Size { width: area.width, height: BIG_ROWS };
        Big::new(&text, style).glyphs(self.glyphs).at_most(most).render(room, buffer);
        let mut sheet = Sheet::new(&self.theme, area.width);
        sheet.line(Role::Strong, format!("of {planned} planned"));
        sheet.spans(&[
            (Role::Ink, format!("zone {}/{} ", self.zone + 1, self.zone_count())),
            (Role::Strong, plan.id.to_string()),
        ]);
        let state = match (running, z.outcome) {
            (true, _) if self.state().paused => {
                (Role::Wait, format!(" PAUSED: {} goes on ", self.key_of(Action::Pause)))
            }
            (true, _) => (Role::Good, " running ".to_owned()),
            (false, Some(outcome)) => (Role::Quiet, format!("zone {outcome}")),
            (false, None) if pass > plan.passes => (Role::Quiet, "all planned passes done".to_owned()),
            (false, None) => (Role::Wait, format!(" not started: {} ", self.key_of(Action::StartPass))),
        };
        let number = if running || pass <= plan.passes { pass } else { plan.passes };
        sheet.spans(&[(Role::Ink, format!("pass {number} of {} ", plan.passes)), state]);
        let y = area.y + BIG_ROWS;
        sheet.render(Rect { y, height: area.bottom().saturating_sub(y), ..area }, buffer);
    }

    fn draw_advice(&self, area: Rect, buffer: &mut Buffer) {
        let open = self.state().open_advice();
        let mut sheet = Sheet::new(&self.theme, area.width);
        let Some(top) = open.first() else {
            sheet.line(Role::Quiet, "nothing flagged from what was entered");
            sheet.render(area, buffer);
            return;
        };
        let (role, sign) = level_look(top.level);
        let place = match (&top.advice.zone, top.advice.pass) {
            (Some(zone), Some(pass)) => format!("{zone}, pass {pass}"),
            (Some(zone), None) => zone.to_string(),
            _ => String::new(),
        };
        sheet.spans(&[(role, format!(" {sign} {} ", top.level)), (Role::Quiet, format!("  {place}"))]);
        if top.pulses_since > 0 && top.level >= crate::session::Level::Lower {
            let role = if top.level == crate::session::Level::Stop { Role::Stop } else { Role::Lower };
            sheet.line(role, format!(" {} pulses since {} was advised ", top.pulses_since, top.advice.level));
        }
        sheet.wrapped(Role::Ink, shown(&top.advice.seen));
        sheet.wrapped(Role::Strong, self.action_words(&top.advice.action));
        sheet.wrapped(Role::Quiet, shown(&top.advice.why));
        // The others by their levels, most urgent first.
        let others: Vec<String> = open.iter().skip(1).map(|a| a.level.to_string()).collect();
        let more = match others.len() {
            0 => String::new(),
            n => format!("  and {n} more: {}", others.join(", ")),
        };
        let keys = self.answer_keys();
        let more = if keys.width() + more.width() > usize::from(area.width) {
            format!("  and {} more", others.len())
        } else {
            more
        };
        let rows = usize::from(area.height.saturating_sub(1));
        sheet.lines.truncate(rows);
        sheet.spans(&[(Role::Selected, keys), (Role::Check, more)]);
        sheet.render(area, buffer);
    }

    fn draw_figures(&self, area: Rect, buffer: &mut Buffer) {
        let state = self.state();
        let Some((plan, z)) = state.zone(self.zone) else { return };
        let Some((_, counted, planned)) = self.pass_on_screen() else { return };
        self.draw_bars(Rect { height: 1.min(area.height), ..area }, counted, planned, buffer);
        let below = Rect { y: area.y + 1, height: area.height.saturating_sub(1), ..area };
        let (figures, map) = map::share(below);
        let mut sheet = Sheet::new(&self.theme, figures.width);
        let running = z.passes.last().filter(|_| state.active == Some(self.zone));
        let overlap = match running.and_then(|pass| z.implied_overlap_percent(plan, pass)) {
            Some(o) if o >= 0.0 => format!("{} %", trimmed(o, 0)),
            Some(_) => "none yet".to_owned(),
            None => "-".to_owned(),
        };
        let this_pass = running.map_or(0.0, |pass| z.mean_pulses_per_point_in(plan, pass));
        sheet.groups(&[
            &[
                (Role::Quiet, "overlap ".to_owned()),
                (Role::Strong, overlap),
                (Role::Quiet, format!(", planned {}", plan.overlap)),
            ],
            &[
                (Role::Quiet, "pulses per point ".to_owned()),
                (Role::Strong, format!("{} ", trimmed(this_pass, 2))),
                (Role::Quiet, format!("this pass, {} in all", trimmed(z.mean_pulses_per_point(plan), 2))),
            ],
        ]);
        let confirmed = if z.confirmed.is_some() {
            (Role::Good, " read back ".to_owned())
        } else {
            (Role::Wait, format!(" NOT READ BACK: {} ", self.key_of(Action::GoSettings)))
        };
        sheet.groups(&[
            &[
                (Role::Quiet, "set ".to_owned()),
                (Role::Strong, z.target.line()),
                (Role::Quiet, format!(", {} J", trimmed(z.target.energy_joules(), 3))),
            ],
            &[confirmed],
        ]);
        self.whitening_line(&mut sheet);
        self.train_line(&mut sheet);
        sheet.line(Role::Edge, "-".repeat(usize::from(figures.width)));
        let table = area.height >= 20;
        if table {
            self.zones_table(&mut sheet);
        }
        let used = u16::try_from(sheet.lines.len()).unwrap_or(figures.height).min(figures.height);
        sheet.render(figures, buffer);
        let rest = Rect { y: figures.y + used, height: figures.height - used, ..figures };
        self.draw_last_seen(rest, buffer);
        if let Some(map) = map {
            self.draw_map(map, buffer);
        }
    }

    /// The pulses of the pass and, beside them, its rows.
    fn draw_bars(&self, area: Rect, counted: u64, planned: u64, buffer: &mut Buffer) {
        let gauge = Gauge::new(counted, planned, &self.theme).glyphs(self.glyphs);
        let Some((place, fired)) = self.place_of_hand() else { return gauge.render(area, buffer) };
        let bar = RowBar::new(place, fired.saturating_sub(planned), &self.theme).glyphs(self.glyphs);
        let width = bar.wish().min(area.width * 3 / 5);
        let left = Rect { width: area.width.saturating_sub(width + 2), ..area };
        gauge.render(left, buffer);
        bar.render(Rect { x: area.right().saturating_sub(width), width, ..area }, buffer);
    }

    /// Where the hand is if it follows the rows, and the pulses that took it there, counted as the spot in force; none
    /// when no pass runs and none is to come.
    fn place_of_hand(&self) -> Option<(Place, u64)> {
        let (plan, z) = self.state().zone(self.zone)?;
        let fired = match self.state().active == Some(self.zone) {
            true => z.passes.last().map_or(0, |pass| z.counted_as(plan, pass, z.target.spot)),
            false if z.outcome.is_none() && z.next_pass() <= plan.passes => 0,
            false => return None,
        };
        Some((z.pattern(plan).place(fired)?, fired))
    }

    fn whitening_line(&self, sheet: &mut Sheet<'_>) {
        let state = self.state();
        let Some((_, z)) = state.zone(self.zone) else { return };
        let ms = state.session_ms(self.recorder.now());
        let white = match z.whitening {
            None => (Role::Quiet, "whitening: none noted".to_owned()),
            Some(w) => {
                let grade = w.grade.map(|g| format!(" {g}")).unwrap_or_default();
                match w.faded_ms {
                    None => (Role::Wait, format!(" WHITE{grade} for {} ", clock_words(ms.saturating_sub(w.seen_ms)))),
                    Some(faded) => (
                        Role::Good,
                        format!(" whitening{grade} faded after {} ", clock_words(faded.saturating_sub(w.seen_ms))),
                    ),
                }
            }
        };
        let wait = self.pass_wait_words().unwrap_or((Role::Quiet, String::new()));
        sheet.groups(&[&[white], &[wait]]);
    }

    /// Milliseconds to wait before the next pass of the zone, 0 when the wait is over.
    pub(in crate::tui::chair) fn pass_wait_ms(&self) -> Option<u64> {
        let state = self.state();
        let (plan, z) = state.zone(self.zone)?;
        let ended = z.last_ended_ms().filter(|_| state.active != Some(self.zone))?;
        let PassSpacing::Wait { wait } = plan.pass_spacing else { return None };
        if z.next_pass() > plan.passes || z.outcome.is_some() {
            return None;
        }
        let wait_ms = (wait.seconds() * 1000.0) as u64;
        let since_ms = state.session_ms(self.recorder.now()).saturating_sub(ended);
        Some(wait_ms.saturating_sub(since_ms))
    }

    /// How long to wait before the next pass of the zone, or that the wait is over.
    pub(super) fn pass_wait_words(&self) -> Option<(Role, String)> {
        Some(match self.pass_wait_ms()? {
            0 => (Role::Good, " pass spacing is over ".to_owned()),
            left => (Role::Wait, format!(" WAIT {} before the next pass ", clock_words(left))),
        })
    }

    fn train_line(&self, sheet: &mut Sheet<'_>) {
        let state = self.state();
        let train = match state.train {
            Some(t) => {
                let (hz, stops) = (trimmed(t.rate_hz, 2), self.key_of(Action::Train));
                (Role::Lower, format!(" TRAIN RUNNING {hz} Hz: {} pulses, {stops} stops ", t.counted))
            }
            None => (Role::Quiet, "train off".to_owned()),
        };
        let counter = match (state.opened.device.counter, state.counter.last) {
            (None, _) => "device without counter".to_owned(),
            (Some(_), None) => "device counter not read".to_owned(),
            (Some(_), Some(last)) => format!("counter {last}, counted since {}", state.counter.counted_since),
        };
        let bell = if self.bell_off { "bell off" } else { "" };
        let (look, line) = self.line.as_ref().map_or((false, String::new()), |l| l.words());
        let line = (if look { Role::Check } else { Role::Quiet }, shown(&line));
        sheet.groups(&[&[train], &[(Role::Quiet, counter)], &[(Role::Wait, bell.to_owned())], &[line]]);
    }

    fn zones_table(&self, sheet: &mut Sheet<'_>) {
        // The name gives way where a map leaves little room.
        let id = if sheet.columns < 70 { 12 } else { 24 };
        sheet.line(Role::Strong, format!("{:<id$}  passes   pulses  planned  overlap  setting", "zone"));
        for (i, (plan, z)) in self.state().opened.plan.zones.iter().zip(&self.state().zones).enumerate() {
            let planned = z.planned_per_pass(plan) * u64::from(plan.passes);
            let last = z.passes.last();
            let overlap = last.and_then(|p| z.implied_overlap_percent(plan, p)).map_or("-".to_owned(), |o| {
                if o >= 0.0 { format!("{} %", trimmed(o, 0)) } else { "none yet".to_owned() }
            });
            let role = if i == self.zone { Role::Strong } else { Role::Ink };
            let ended = z.outcome.map(|o| format!("  {o}")).unwrap_or_default();
            sheet.line(
                role,
                format!(
                    "{:<id$}  {:>2} of {:<2} {:>7} {:>8} {:>8}  {}{ended}",
                    crate::text::fitted(plan.id.as_str(), id),
                    z.passes.len(),
                    plan.passes,
                    z.total(),
                    planned,
                    overlap,
                    z.target.dose()
                ),
            );
        }
        sheet.blank();
    }

    /// The latest responses, corrections and answers, newest first: each on one line where rows are few, else in full.
    fn draw_last_seen(&self, area: Rect, buffer: &mut Buffer) {
        let rows = usize::from(area.height);
        let mut sheet = Sheet::new(&self.theme, area.width);
        let mut seen: Vec<(u64, String)> = Vec::new();
        for (plan, z) in self.state().opened.plan.zones.iter().zip(&self.state().zones) {
            for r in z.responses.iter().rev().take(rows) {
                let grade = r.grade.map(|g| format!(" {g}")).unwrap_or_default();
                let at = r.at.format("%H:%M:%S");
                seen.push((
                    r.seq,
                    format!("{at}  {}{grade}  at pulse {} of pass {}, {}", r.kind.spoken(), r.pulses, r.pass, plan.id),
                ));
            }
        }
        for a in self.state().advice.iter().rev().filter(|a| !a.is_open()).take(rows) {
            let how = match &a.status {
                crate::session::AdviceStatus::Answered(answer, _) => match answer {
                    crate::session::AdviceAnswer::Accepted => "accepted".to_owned(),
                    crate::session::AdviceAnswer::Alternative => "alternative chosen".to_owned(),
                    crate::session::AdviceAnswer::Declined { reason } => format!("DECLINED: {reason}"),
                    crate::session::AdviceAnswer::Stopped => "stopped".to_owned(),
                },
                crate::session::AdviceStatus::Cleared(why) => format!("cleared: {}", shown(why)),
                _ => "noted".to_owned(),
            };
            let seq = a.settled_seq.unwrap_or(a.id);
            seen.push((seq, format!("{}  {} {}: {how}", a.at.format("%H:%M:%S"), a.level, shown(&a.advice.seen))));
        }
        seen.sort_by_key(|(seq, _)| std::cmp::Reverse(*seq));
        if seen.is_empty() {
            let [w, b, r] = [Action::Whitening, Action::Bleeding, Action::Responses].map(|a| self.key_of(a));
            sheet.line(Role::Quiet, format!("nothing seen yet: {w} whitening, {b} bleeding, {r} other responses"));
        }
        for (_, text) in seen.into_iter().take(rows) {
            match rows < ROWS_FOR_FULL_LINES {
                true => sheet.line(Role::Ink, text),
                false => sheet.wrapped(Role::Ink, text),
            }
        }
        sheet.lines.truncate(rows);
        sheet.render(area, buffer);
    }
}
