//! A zone seen from above: its edge, the lattice of its pass, what was fired, where the hand goes next.

use crate::coverage::{Bounds, Lattice, Outline, Pattern, Point, Way};
use crate::text::fitted;
use crate::tui::theme::{Glyphs, Role, Theme};
use ratatui::buffer::Buffer;
use ratatui::layout::{Position, Rect};
use ratatui::style::{Color, Style};
use ratatui::symbols::Marker;
use ratatui::widgets::Widget;
use ratatui::widgets::canvas::{Canvas, Context, Painter, Shape};

/// Draws a zone with the spots of its pass, and below it, where there is room, what the signs mean.
///
/// A spot that was fired is filled; with true landing points, the points are. Spots to come are dots, those of the row at
/// hand rings; a sign beside that row points the way it runs, and the next spot stands out as a letter. A spot fired
/// more than once bears how often.
#[derive(Debug, Clone, Copy)]
pub struct ZoneMap<'a> {
    pattern: &'a Pattern,
    fired: u64,
    goes_on: bool,
    landed: Option<&'a [Point]>,
    theme: &'a Theme,
    glyphs: Glyphs,
}

/// The least area in which a map says anything.
const LEAST: (u16, u16) = (12, 4);

/// Columns on either side that the sign of a row may need.
const SIGN_COLUMNS: u16 = 3;

/// With more spots than this only the edge is drawn: they would run into each other on any screen.
const SPOTS_DRAWN: usize = 20_000;

impl<'a> ZoneMap<'a> {
    /// A map of a pass after a number of pulses; `goes_on` marks the next spot and its row.
    #[must_use]
    pub const fn new(pattern: &'a Pattern, fired: u64, goes_on: bool, theme: &'a Theme) -> Self {
        Self { pattern, fired, goes_on, landed: None, theme, glyphs: Glyphs::Unicode }
    }

    /// Where the pulses truly fell.
    #[must_use]
    pub const fn landed(mut self, points: &'a [Point]) -> Self {
        self.landed = Some(points);
        self
    }

    /// The characters of the map.
    #[must_use]
    pub const fn glyphs(mut self, glyphs: Glyphs) -> Self {
        self.glyphs = glyphs;
        self
    }

    /// What the signs on the map mean, for those that it has.
    fn legend(&self, scale: &Scale) -> String {
        let Some(lattice) = self.lattice() else { return "more spots than a map can show".to_owned() };
        let (full, dot, ring) = match self.glyphs {
            Glyphs::Unicode => ("⣿", "⠂", "⡎⢱"),
            Glyphs::Ascii => ("#", ".", "o"),
        };
        let mut parts = Vec::new();
        if self.fired > 0 {
            parts.push(format!("{full} {}", if self.landed.is_some() { "landed" } else { "fired" }));
        }
        if self.landed.is_none() && self.fired > lattice.pulses() {
            parts.push("2 fired twice".to_owned());
        }
        if self.goes_on {
            if scale.shows_single(lattice) {
                parts.push(format!("{dot} to come"));
                parts.push(format!("{ring} row at hand"));
            }
            parts.push("O next".to_owned());
        }
        parts.join("   ")
    }

    fn lattice(&self) -> Option<&'a Lattice> {
        self.pattern.lattice().filter(|l| l.spots().len() <= SPOTS_DRAWN)
    }

    /// How often each spot of the pass was fired, if the rows were followed.
    fn hits(&self, i: usize) -> u64 {
        let all = self.pattern.pulses().max(1);
        self.fired / all + u64::from((i as u64) < self.fired % all)
    }

    fn paint(&self, scale: &Scale, context: &mut Context<'_>) {
        context.draw(&Edge { outline: self.pattern.outline(), scale });
        let Some(lattice) = self.lattice() else { return };
        // Single spots keep a gap between them; where they cannot be told apart, what was fired is one surface.
        let pitch = scale.across(lattice.pitch_mm());
        let radius = if scale.shows_single(lattice) { pitch * 0.42 } else { pitch * 0.7 };
        let spots = || lattice.spots().iter().enumerate();
        if self.goes_on && scale.shows_single(lattice) {
            let to_come = spots().filter(|(i, _)| self.hits(*i) == 0).map(|(_, p)| *p).collect();
            context.draw(&Discs { middles: to_come, radius: 0.0, hollow: false, ink: Ink::ToCome, scale });
            let row = self.row_at_hand(lattice).into_iter().filter(|(i, _)| self.hits(*i) == 0);
            let row = row.map(|(_, p)| p).collect();
            context.draw(&Discs { middles: row, radius, hollow: true, ink: Ink::Row, scale });
        }
        let fired = match self.landed {
            Some(points) => points.to_vec(),
            None => spots().filter(|(i, _)| self.hits(*i) > 0).map(|(_, p)| *p).collect(),
        };
        context.draw(&Discs { middles: fired, radius, hollow: false, ink: Ink::Fired, scale });
    }

    /// The spots of the row in which the next pulse falls, with their numbers.
    fn row_at_hand(&self, lattice: &Lattice) -> Vec<(usize, Point)> {
        let place = lattice.place(self.fired);
        let first = (self.fired % self.pattern.pulses().max(1)) as usize - place.fired_in_row;
        lattice.spots().iter().copied().enumerate().skip(first).take(place.row_pulses).collect()
    }

    /// Letters on the map: how often, where next, and which way.
    fn letters(&self, scale: &Scale, area: Rect, buffer: &mut Buffer) {
        let Some(lattice) = self.lattice() else { return };
        let mut put = |at: Position, sign: &str, style: Style| {
            if area.contains(at)
                && let Some(cell) = buffer.cell_mut(at)
            {
                cell.set_symbol(sign).set_style(style);
            }
        };
        if self.landed.is_none() {
            for (i, spot) in lattice.spots().iter().enumerate() {
                let hits = self.hits(i);
                if hits > 1 {
                    let sign = if hits > 9 { "+".to_owned() } else { hits.to_string() };
                    put(scale.cell(*spot, area), &sign, self.theme.style(Role::Lower));
                }
            }
        }
        if !self.goes_on {
            return;
        }
        let place = lattice.place(self.fired);
        let row = self.row_at_hand(lattice);
        let beyond = self.pattern.spot().mm() / 2.0 + scale.mm(1.5);
        let (dx, dy, sign) = match (place.way, self.glyphs) {
            (Way::Right, Glyphs::Unicode) => (-beyond, 0.0, "▶"),
            (Way::Left, Glyphs::Unicode) => (beyond, 0.0, "◀"),
            (Way::Up, Glyphs::Unicode) => (0.0, -beyond, "▲"),
            (Way::Down, Glyphs::Unicode) => (0.0, beyond, "▼"),
            (Way::Right, Glyphs::Ascii) => (-beyond, 0.0, ">"),
            (Way::Left, Glyphs::Ascii) => (beyond, 0.0, "<"),
            (Way::Up, Glyphs::Ascii) => (0.0, -beyond, "^"),
            (Way::Down, Glyphs::Ascii) => (0.0, beyond, "v"),
        };
        if let Some((_, first)) = row.first() {
            let at = Point::new(first.x_mm + dx, first.y_mm + dy);
            put(scale.cell(at, area), sign, self.theme.style(Role::Strong));
        }
        if let Some((_, next)) = row.get(place.fired_in_row) {
            put(scale.cell(*next, area), "O", self.theme.style(Role::Selected));
        }
    }
}

impl Widget for ZoneMap<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        if area.width < LEAST.0 || area.height < LEAST.1 {
            return;
        }
        let map = Rect { height: area.height - 1, ..area };
        // Round the zone lies what spills from its edge, and the sign of a row beside it.
        let spill_mm = 0.55 * self.pattern.spot().mm();
        let upright = self.pattern.place(0).is_some_and(|p| matches!(p.way, Way::Up | Way::Down));
        let (columns, rows) = if upright { (0, 1) } else { (SIGN_COLUMNS, 0) };
        let scale = Scale::fit(self.pattern.outline().bounds(), spill_mm, map, (columns, rows), self.glyphs);
        let ground = self.theme.style(Role::Ink);
        Canvas::default()
            .marker(scale.marker)
            .background_color(ground.bg.unwrap_or(Color::Reset))
            .x_bounds([0.0, f64::from(scale.dots.0.saturating_sub(1))])
            .y_bounds([0.0, f64::from(scale.dots.1.saturating_sub(1))])
            .paint(|context| self.paint(&scale, context))
            .render(map, buffer);
        for position in map.positions() {
            if let Some(cell) = buffer.cell_mut(position)
                && let Some(ink) = Ink::of(cell.fg)
            {
                let (role, sign) = ink.look();
                if self.glyphs == Glyphs::Ascii {
                    cell.set_symbol(sign);
                }
                cell.fg = Color::Reset;
                cell.set_style(ground).set_style(self.theme.style(role));
            }
        }
        self.letters(&scale, map, buffer);
        let y = map.bottom();
        let legend = fitted(&self.legend(&scale), usize::from(area.width));
        buffer.set_stringn(area.x, y, legend, usize::from(area.width), self.theme.style(Role::Quiet));
    }
}

/// What a dot belongs to. A canvas takes colours, a theme has styles: each kind is painted in a colour of its own, which
/// then gives way to the style of its role.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Ink {
    Edge,
    ToCome,
    Row,
    Fired,
}

impl Ink {
    const ALL: [Self; 4] = [Self::Edge, Self::ToCome, Self::Row, Self::Fired];

    const fn token(self) -> Color {
        Color::Rgb(1, 2, self as u8)
    }

    fn of(colour: Color) -> Option<Self> {
        Self::ALL.into_iter().find(|ink| ink.token() == colour)
    }

    const fn look(self) -> (Role, &'static str) {
        match self {
            Self::Edge => (Role::Edge, "+"),
            Self::ToCome => (Role::Quiet, "."),
            Self::Row => (Role::Strong, "o"),
            Self::Fired => (Role::Ink, "#"),
        }
    }
}

/// From millimetres to dots. A dot of eight in a cell is as wide as high; a whole cell is twice as high as wide.
#[derive(Debug, Clone, Copy)]
struct Scale {
    marker: Marker,
    dots: (u16, u16),
    dots_per_cell: (u16, u16),
    /// Dots in a millimetre across; the same upwards with eight dots in a cell.
    across: f64,
    upwards: f64,
    middle: Point,
}

impl Scale {
    fn fit(zone: Bounds, spill_mm: f64, area: Rect, keep_free: (u16, u16), glyphs: Glyphs) -> Self {
        let (marker, dots_per_cell, stretch) = match glyphs {
            Glyphs::Unicode => (Marker::Braille, (2, 4), 1.0),
            Glyphs::Ascii => (Marker::Dot, (1, 1), 2.0),
        };
        let dots = (area.width.saturating_mul(dots_per_cell.0), area.height.saturating_mul(dots_per_cell.1));
        let wide = zone.high.x_mm - zone.low.x_mm + 2.0 * spill_mm;
        let high = zone.high.y_mm - zone.low.y_mm + 2.0 * spill_mm;
        let free = |cells: u16, keep: u16, per_cell: u16| {
            f64::from(cells.saturating_sub(2 * keep).max(1).saturating_mul(per_cell)) - 1.0
        };
        let across = free(area.width, keep_free.0, dots_per_cell.0).max(1.0) / (wide * stretch);
        let upwards = across.min(free(area.height, keep_free.1, dots_per_cell.1).max(1.0) / high);
        Self { marker, dots, dots_per_cell, across: upwards * stretch, upwards, middle: zone.centre() }
    }

    fn across(&self, mm: f64) -> f64 {
        mm * self.upwards
    }

    /// Millimetres that this many cells span across.
    fn mm(&self, cells: f64) -> f64 {
        cells * f64::from(self.dots_per_cell.0) / self.across
    }

    /// True when spots are far enough apart that an unfired one can be told from a fired one.
    fn shows_single(&self, lattice: &Lattice) -> bool {
        let least = if self.dots_per_cell.0 > 1 { 3.0 } else { 1.0 };
        self.across(lattice.pitch_mm()) >= least
    }

    /// From the left and from the top, in dots and parts of a dot.
    fn dot(&self, p: Point) -> (f64, f64) {
        let x = (f64::from(self.dots.0) - 1.0) / 2.0 + (p.x_mm - self.middle.x_mm) * self.across;
        let y = (f64::from(self.dots.1) - 1.0) / 2.0 - (p.y_mm - self.middle.y_mm) * self.upwards;
        (x, y)
    }

    fn cell(&self, p: Point, area: Rect) -> Position {
        let (x, y) = self.dot(p);
        let part = |dot: f64, per_cell: u16| (dot.round().max(0.0) as u16) / per_cell;
        Position::new(
            area.x.saturating_add(part(x, self.dots_per_cell.0)),
            area.y.saturating_add(part(y, self.dots_per_cell.1)),
        )
    }

    fn paint(&self, (x, y): (f64, f64), ink: Ink, painter: &mut Painter<'_, '_>) {
        let (x, y) = (x.round(), y.round());
        if x >= 0.0 && y >= 0.0 && x < f64::from(self.dots.0) && y < f64::from(self.dots.1) {
            painter.paint(x as usize, y as usize, ink.token());
        }
    }
}

/// The edge of the zone.
struct Edge<'a> {
    outline: &'a Outline,
    scale: &'a Scale,
}

impl Shape for Edge<'_> {
    fn draw(&self, painter: &mut Painter<'_, '_>) {
        for [from, to] in self.outline.chords(0.25 / self.scale.upwards) {
            let ((x0, y0), (x1, y1)) = (self.scale.dot(from), self.scale.dot(to));
            let steps = (x1 - x0).abs().max((y1 - y0).abs()).ceil().max(1.0);
            for i in 0..=steps as u32 {
                let t = f64::from(i) / steps;
                self.scale.paint((x0 + t * (x1 - x0), y0 + t * (y1 - y0)), Ink::Edge, painter);
            }
        }
    }
}

/// Spots, as discs or rings of a radius in dots; a single dot each when that is small.
struct Discs<'a> {
    middles: Vec<Point>,
    radius: f64,
    hollow: bool,
    ink: Ink,
    scale: &'a Scale,
}

impl Shape for Discs<'_> {
    fn draw(&self, painter: &mut Painter<'_, '_>) {
        let stretch = self.scale.across / self.scale.upwards;
        let (reach_x, reach_y) = ((self.radius * stretch).floor(), self.radius.floor());
        for &middle in &self.middles {
            let (x, y) = self.scale.dot(middle);
            let (x, y) = (x.round(), y.round());
            for dy in -(reach_y as i32)..=reach_y as i32 {
                for dx in -(reach_x as i32)..=reach_x as i32 {
                    let out = (f64::from(dx) / stretch).hypot(f64::from(dy));
                    if out <= self.radius && !(self.hollow && out <= self.radius - 1.0) {
                        self.scale.paint((x + f64::from(dx), y + f64::from(dy)), self.ink, painter);
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::theme::Depth;
    use crate::tui::widgets::testing::{SIZES, draw};
    use crate::units::{Overlap, SpotDiameter};

    fn pattern(width_mm: f64, height_mm: f64, spot_mm: f64) -> Pattern {
        let (spot, overlap) = (SpotDiameter::new(spot_mm).unwrap(), Overlap::new(10.0).unwrap());
        Pattern::of(Outline::rectangle(width_mm, height_mm), spot, overlap)
    }

    fn ascii(pattern: &Pattern, fired: u64) -> Vec<String> {
        let theme = Theme::standard(Depth::None);
        draw(ZoneMap::new(pattern, fired, true, &theme).glyphs(Glyphs::Ascii), 60, 16)
    }

    fn count(rows: &[String], sign: char) -> usize {
        let map = rows.len() - 1;
        rows.iter().take(map).flat_map(|row| row.chars()).filter(|c| *c == sign).count()
    }

    #[test]
    fn each_spot_is_to_come_then_next_then_fired() {
        let p = pattern(24.0, 14.0, 4.0);
        let n = p.pulses();
        let before = ascii(&p, 0);
        assert_eq!((count(&before, '#'), count(&before, 'O')), (0, 1), "{before:#?}");
        let mut filled = 0;
        for fired in 1..n {
            let rows = ascii(&p, fired);
            let now = count(&rows, '#');
            assert!(now > filled && count(&rows, 'O') == 1, "after {fired}: {rows:#?}");
            filled = now;
        }
        let last = ascii(&p, n - 1);
        assert_eq!(count(&last, '.'), 0, "nothing is to come but the next one: {last:#?}");
    }

    #[test]
    fn the_row_at_hand_is_pointed_out_on_the_side_it_starts_from() {
        let p = pattern(24.0, 14.0, 4.0);
        let first_row = p.place(0).unwrap().row_pulses as u64;
        let line = |rows: &[String]| rows.iter().find(|row| row.contains('O')).unwrap().clone();
        let there = line(&ascii(&p, 1));
        assert!(there.find('>').unwrap() < there.find('O').unwrap() && there.contains('o'), "{there}");
        let back = line(&ascii(&p, first_row + 1));
        assert!(back.find('<').unwrap() > back.find('O').unwrap(), "{back}");
    }

    #[test]
    fn a_second_round_says_how_often() {
        let p = pattern(24.0, 14.0, 4.0);
        let rows = ascii(&p, p.pulses() + 3);
        assert_eq!(count(&rows, '2'), 3, "{rows:#?}");
        assert!(rows.last().unwrap().contains("2 fired twice"));
        let rows = ascii(&p, p.pulses() * 30);
        assert!(count(&rows, '+') as u64 >= p.pulses() - 1, "{rows:#?}");
    }

    #[test]
    fn true_landing_points_are_drawn_where_they_fell() {
        let p = pattern(24.0, 14.0, 4.0);
        let theme = Theme::standard(Depth::None);
        let points = [Point::new(-10.0, 5.0); 7];
        let map = ZoneMap::new(&p, 7, false, &theme).glyphs(Glyphs::Ascii).landed(&points);
        let rows = draw(map, 60, 16);
        let once = draw(ZoneMap::new(&p, 1, false, &theme).glyphs(Glyphs::Ascii).landed(&points[..1]), 60, 16);
        assert_eq!(rows, once, "seven on one place look like one");
        let (top, bottom) = rows.split_at(8);
        assert!(count(bottom, '#') == 0 && top.iter().any(|row| row.find('#').is_some_and(|at| at < 20)), "{rows:#?}");
        assert!(rows.last().unwrap().contains("landed"));
    }

    #[test]
    fn spots_too_small_to_tell_apart_fill_the_zone() {
        let p = pattern(100.0, 60.0, 1.0);
        let theme = Theme::standard(Depth::None);
        let half = draw(ZoneMap::new(&p, p.pulses() / 2, true, &theme), 30, 8);
        let whole = draw(ZoneMap::new(&p, p.pulses(), false, &theme), 30, 8);
        let full = |rows: &[String]| rows[..7].iter().flat_map(|r| r.chars()).filter(|c| *c == '⣿').count();
        assert!(full(&half) * 10 > full(&whole) * 4 && full(&half) * 10 < full(&whole) * 6, "{half:#?}{whole:#?}");
        assert!(!half[7].contains("to come"));
    }

    #[test]
    fn no_area_is_too_small_and_no_zone_too_large() {
        let theme = Theme::standard(Depth::Sixteen);
        for p in [pattern(24.0, 14.0, 4.0), pattern(3000.0, 1.0, 1.0), pattern(2000.0, 2000.0, 1.0)] {
            for (columns, rows) in SIZES {
                for glyphs in [Glyphs::Unicode, Glyphs::Ascii] {
                    draw(ZoneMap::new(&p, u64::MAX, true, &theme).glyphs(glyphs), columns, rows);
                }
            }
        }
    }
}
