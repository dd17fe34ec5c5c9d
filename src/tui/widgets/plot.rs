//! Curves over two axes, with bands, a level and letters, each of another shape: nothing is told by colour.

use super::pen::Pen;
use crate::text::fitted;
use crate::tui::theme::{Glyphs, Role, Theme};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::Widget;
use unicode_width::UnicodeWidthStr;

/// How values lie along an axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    /// Evenly.
    Even,
    /// By their logarithm; all are above zero.
    Log,
}

/// One axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// Lowest value.
    pub low: f64,
    /// Highest value, above the lowest.
    pub high: f64,
    /// How values lie along it.
    pub measure: Measure,
    /// Values with their labels.
    pub ticks: Vec<(f64, String)>,
    /// What it measures, with its unit.
    pub title: String,
}

impl Axis {
    /// Where a value lies from 0, the low end, to 1; beyond the ends it lies outside of that.
    #[must_use]
    pub fn share(&self, value: f64) -> f64 {
        let scaled = |v: f64| if self.measure == Measure::Log { v.ln() } else { v };
        (scaled(value) - scaled(self.low)) / (scaled(self.high) - scaled(self.low))
    }

    /// An even axis from zero up to a round number at or above `most`, with a few round ticks.
    #[must_use]
    pub fn from_zero(most: f64, title: impl Into<String>) -> Self {
        let most = if most.is_finite() && most > 0.0 { most } else { 1.0 };
        let decade = 10f64.powf((most / 4.0).log10().floor());
        let fits = |factor: &f64| most / (factor * decade) <= 6.0 + 1e-9;
        let step = decade * [1.0, 2.0, 5.0, 10.0].into_iter().find(fits).unwrap_or(10.0);
        let steps = (most / step - 1e-9).ceil().max(1.0);
        let ticks = (0..=steps as u32).map(|n| (f64::from(n) * step, crate::units::trimmed(f64::from(n) * step, 3)));
        Self { low: 0.0, high: steps * step, measure: Measure::Even, ticks: ticks.collect(), title: title.into() }
    }
}

/// What a curve or a level is drawn with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sign {
    /// Where lines and blocks may be drawn.
    pub unicode: &'static str,
    /// Where only ASCII may.
    pub ascii: &'static str,
}

impl Sign {
    /// The sign for these characters.
    #[must_use]
    pub const fn of(self, glyphs: Glyphs) -> &'static str {
        match glyphs {
            Glyphs::Unicode => self.unicode,
            Glyphs::Ascii => self.ascii,
        }
    }
}

/// A curve through points in the order of x, straight between them along the axes.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// Its points.
    pub points: Vec<(f64, f64)>,
    /// What it is drawn with.
    pub sign: Sign,
    /// The role of its look.
    pub role: Role,
    /// Only every so many columns are drawn, so that a curve beneath it is seen.
    pub every: u16,
}

/// A stretch of the horizontal axis with a word below it; a single place where both ends are the same.
#[derive(Debug, Clone, PartialEq)]
pub struct Band {
    /// Where it begins.
    pub from: f64,
    /// Where it ends.
    pub to: f64,
    /// What it is.
    pub word: String,
}

/// The plot.
#[derive(Debug, Clone, PartialEq)]
pub struct Plot<'a> {
    /// The horizontal axis.
    pub x: Axis,
    /// The vertical one.
    pub y: Axis,
    /// From where to where the truth may lie: x, low, high.
    pub range: Vec<(f64, f64, f64)>,
    /// Curves, those drawn last on top.
    pub curves: Vec<Curve>,
    /// Stretches of the horizontal axis, in order.
    pub bands: Vec<Band>,
    /// Heights with what they are, drawn as lines across.
    pub levels: Vec<(f64, String)>,
    /// Letters at points.
    pub letters: Vec<(f64, f64, &'static str)>,
    /// The looks.
    pub theme: &'a Theme,
    /// The characters.
    pub glyphs: Glyphs,
}

/// The sign of the range.
pub const RANGE: Sign = Sign { unicode: "░", ascii: ":" };
/// The sign of a band's ends.
const EDGE: Sign = Sign { unicode: "│", ascii: "|" };
/// The sign of a level.
const LEVEL: Sign = Sign { unicode: "─", ascii: "-" };
/// A field smaller than this shows nothing.
const LEAST: (u16, u16) = (12, 4);

/// The cells in which curves are drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Field(pub Rect);

impl Field {
    /// The column of a share of the horizontal axis; none outside of it.
    #[must_use]
    pub fn column(self, share: f64) -> Option<u16> {
        within(share).map(|share| self.0.x + (share * f64::from(self.0.width.saturating_sub(1))).round() as u16)
    }

    /// The row of a share of the vertical axis; none outside of it.
    #[must_use]
    pub fn row(self, share: f64) -> Option<u16> {
        let rows = self.0.height.saturating_sub(1);
        within(share).map(|share| self.0.y + rows - (share * f64::from(rows)).round() as u16)
    }
}

fn within(share: f64) -> Option<f64> {
    // Ends that are computed may miss 0 and 1 by their last digit.
    (-1e-9..=1.0 + 1e-9).contains(&share).then(|| share.clamp(0.0, 1.0))
}

impl Plot<'_> {
    /// Where curves are drawn when the plot has this area; none where it is too small.
    #[must_use]
    pub fn field(&self, area: Rect) -> Option<Field> {
        let gutter = self.y.ticks.iter().map(|(_, label)| label.width()).max().unwrap_or(0);
        let gutter = u16::try_from(gutter).ok()?.checked_add(1)?;
        // The title above; the rule and the labels below, and the words of bands.
        let below = 2 + u16::from(!self.bands.is_empty());
        let width = area.width.checked_sub(gutter)?;
        let height = area.height.checked_sub(1 + below)?;
        let fits = width >= LEAST.0 && height >= LEAST.1;
        fits.then_some(Field(Rect { x: area.x + gutter, y: area.y + 1, width, height }))
    }

    fn put(&self, buffer: &mut Buffer, x: u16, y: u16, sign: &str, role: Role) {
        if let Some(cell) = buffer.cell_mut((x, y)) {
            // What was drawn here before leaves nothing of its look.
            cell.reset();
            cell.set_symbol(sign).set_style(self.theme.style(Role::Ink)).set_style(self.theme.style(role));
        }
    }

    /// The share of the vertical axis at a column of a curve.
    fn height_at(&self, points: &[(f64, f64)], share: f64) -> Option<f64> {
        let at = |p: &(f64, f64)| (self.x.share(p.0), self.y.share(p.1));
        points.windows(2).find_map(|pair| match pair {
            [a, b] => {
                let ((xa, ya), (xb, yb)) = (at(a), at(b));
                let inside = (xa - 1e-9..=xb + 1e-9).contains(&share) && xb > xa;
                inside.then(|| ya + (share - xa) / (xb - xa) * (yb - ya))
            }
            _ => None,
        })
    }

    fn shares(field: Field) -> impl Iterator<Item = (u16, f64)> {
        let last = f64::from(field.0.width.saturating_sub(1)).max(1.0);
        (0..field.0.width).map(move |n| (n, f64::from(n) / last))
    }

    fn draw_range(&self, field: Field, buffer: &mut Buffer) {
        let low: Vec<_> = self.range.iter().map(|(x, low, _)| (*x, *low)).collect();
        let high: Vec<_> = self.range.iter().map(|(x, _, high)| (*x, *high)).collect();
        for (n, share) in Self::shares(field) {
            let (Some(low), Some(high)) = (self.height_at(&low, share), self.height_at(&high, share)) else { continue };
            let (Some(bottom), Some(top)) = (field.row(low.clamp(0.0, 1.0)), field.row(high.clamp(0.0, 1.0))) else {
                continue;
            };
            for y in top..=bottom {
                self.put(buffer, field.0.x + n, y, RANGE.of(self.glyphs), Role::Quiet);
            }
        }
    }

    fn draw_curve(&self, curve: &Curve, field: Field, buffer: &mut Buffer) {
        let sign = curve.sign.of(self.glyphs);
        let mut before: Option<u16> = None;
        for (n, share) in Self::shares(field) {
            let row = self.height_at(&curve.points, share).and_then(|height| field.row(height));
            if let Some(row) = row
                && n % curve.every.max(1) == 0
            {
                // A steep piece goes on over the rows between.
                let (from, to) = match before.filter(|_| curve.every <= 1) {
                    Some(b) if b + 1 < row => (b + 1, row),
                    Some(b) if row + 1 < b => (row, b - 1),
                    _ => (row, row),
                };
                for y in from..=to {
                    self.put(buffer, field.0.x + n, y, sign, curve.role);
                }
            }
            before = row;
        }
    }

    fn draw_axes(&self, field: Field, area: Rect, buffer: &mut Buffer) {
        let edge = self.theme.style(Role::Edge);
        let quiet = self.theme.style(Role::Quiet);
        let (corner, across) = match self.glyphs {
            Glyphs::Unicode => ("└", "─"),
            Glyphs::Ascii => ("+", "-"),
        };
        let f = field.0;
        let columns = usize::from(area.width);
        buffer.set_stringn(area.x, area.y, fitted(&self.y.title, columns), columns, self.theme.style(Role::Ink));
        for y in f.y..f.bottom() {
            buffer.set_stringn(f.x - 1, y, EDGE.of(self.glyphs), 1, edge);
        }
        buffer.set_stringn(f.x - 1, f.bottom(), corner, 1, edge);
        for x in f.x..f.right() {
            buffer.set_stringn(x, f.bottom(), across, 1, edge);
        }
        let mut free = f.bottom();
        for (value, label) in &self.y.ticks {
            // From below upwards; a label on the row of the one before is left out.
            let Some(row) = field.row(self.y.share(*value)).filter(|row| *row < free) else { continue };
            let width = u16::try_from(label.width()).unwrap_or(u16::MAX);
            buffer.set_stringn((f.x - 1).saturating_sub(width).max(area.x), row, label, columns, quiet);
            free = row;
        }
        let title = u16::try_from(self.x.title.width()).unwrap_or(u16::MAX);
        let title_x = f.right().saturating_sub(title).max(f.x);
        let mut free = area.x;
        for (value, label) in &self.x.ticks {
            let Some(column) = field.column(self.x.share(*value)) else { continue };
            let width = u16::try_from(label.width()).unwrap_or(u16::MAX);
            let at = column.saturating_sub(width / 2).max(area.x);
            if at < free || at.saturating_add(width) >= title_x {
                continue;
            }
            buffer.set_stringn(at, f.bottom() + 1, label, columns, quiet);
            free = at + width + 1;
        }
        let room = usize::from(f.right().saturating_sub(title_x));
        let ink = self.theme.style(Role::Ink);
        buffer.set_stringn(title_x, f.bottom() + 1, fitted(&self.x.title, room), room, ink);
    }

    fn draw_bands(&self, field: Field, area: Rect, buffer: &mut Buffer) {
        let columns = |band: &Band| {
            let clamped = |v: f64| field.column(self.x.share(v).clamp(0.0, 1.0));
            Some((clamped(band.from)?, clamped(band.to)?))
        };
        let strong = self.theme.style(Role::Strong);
        let y = field.0.bottom() + 2;
        for (n, band) in self.bands.iter().enumerate() {
            let Some((from, to)) = columns(band) else { continue };
            for x in [from, to] {
                for row in field.0.y..field.0.bottom() {
                    self.put(buffer, x, row, EDGE.of(self.glyphs), Role::Edge);
                }
            }
            let next = self.bands.get(n + 1).and_then(columns).map_or(area.right(), |(next, _)| next);
            let room = usize::from(if from == to { next.saturating_sub(from) } else { to + 1 - from });
            let text = if from == to {
                format!("^{}", band.word)
            } else {
                // Between the signs of its ends, in the middle.
                let inner = room.saturating_sub(2);
                format!("[{:-^inner$}]", fitted(&band.word, inner))
            };
            buffer.set_stringn(from, y, fitted(&text, room), room, strong);
        }
    }
}

impl Widget for &Plot<'_> {
    fn render(self, area: Rect, buffer: &mut Buffer) {
        let area = area.intersection(buffer.area);
        let Some(field) = self.field(area) else {
            if let Some(mut pen) = Pen::new(buffer, area, 0) {
                let left = pen.left();
                pen.write(&fitted("too little room for a picture", left), self.theme.style(Role::Quiet));
            }
            return;
        };
        self.draw_range(field, buffer);
        self.draw_axes(field, area, buffer);
        self.draw_bands(field, area, buffer);
        for (value, word) in &self.levels {
            let Some(row) = field.row(self.y.share(*value)) else { continue };
            for x in field.0.x..field.0.right() {
                self.put(buffer, x, row, LEVEL.of(self.glyphs), Role::Strong);
            }
            let columns = usize::from(field.0.width);
            buffer.set_stringn(
                field.0.x,
                row,
                fitted(&format!(" {word} "), columns),
                columns,
                self.theme.style(Role::Strong),
            );
        }
        for curve in &self.curves {
            self.draw_curve(curve, field, buffer);
        }
        for (x, y, letter) in &self.letters {
            if let (Some(column), Some(row)) = (field.column(self.x.share(*x)), field.row(self.y.share(*y))) {
                self.put(buffer, column, row, letter, Role::Selected);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::theme::Depth;
    use crate::tui::widgets::testing::{SIZES, draw};

    const DOT: Sign = Sign { unicode: "●", ascii: "o" };

    fn plot(theme: &Theme) -> Plot<'_> {
        let line = |factor: f64| (0..=30).map(move |n| (f64::from(n) / 10.0, factor * f64::from(n) / 10.0));
        Plot {
            x: Axis::from_zero(3.0, "mm"),
            y: Axis::from_zero(3.0, "J/cm2"),
            range: line(1.0).map(|(x, y)| (x, y * 0.5, y)).collect(),
            curves: vec![Curve { points: line(0.8).collect(), sign: DOT, role: Role::Strong, every: 1 }],
            bands: vec![
                Band { from: 0.1, to: 0.1, word: "here".to_owned() },
                Band { from: 0.6, to: 2.4, word: "ink".to_owned() },
            ],
            levels: vec![(3.0, "top".to_owned())],
            letters: vec![(1.5, 1.2, "X")],
            theme,
            glyphs: Glyphs::Ascii,
        }
    }

    #[test]
    fn axes_end_at_a_round_number_that_holds_the_most() {
        for (most, high) in
            [(3.0, 3.0), (3.1, 4.0), (0.0, 1.0), (7.2, 8.0), (11.1, 12.0), (41.0, 50.0), (0.033, 0.04), (f64::NAN, 1.0)]
        {
            let axis = Axis::from_zero(most, "");
            assert!((axis.high - high).abs() < 1e-9 * high, "{most}: {axis:?}");
            assert!((2..=7).contains(&axis.ticks.len()), "{axis:?}");
        }
    }

    #[test]
    fn everything_lies_where_its_value_says() {
        let theme = Theme::standard(Depth::None);
        let plot = plot(&theme);
        let rows = draw(&plot, 64, 20);
        let field = plot.field(Rect::new(0, 0, 64, 20)).unwrap();
        let column = |v: f64| usize::from(field.column(plot.x.share(v)).unwrap());
        let row = |v: f64| usize::from(field.row(plot.y.share(v)).unwrap());
        let sign = |x: usize, y: usize| rows[y].chars().nth(x).unwrap_or(' ');
        for x in [0.5, 0.9, 1.2, 2.0, 2.9] {
            assert_eq!(sign(column(x), row(0.8 * x)), 'o', "{x}: {rows:#?}");
        }
        assert_eq!(sign(column(1.5), row(1.2)), 'X');
        assert_eq!((sign(column(0.6), 19), sign(column(2.4), 19)), ('[', ']'), "{rows:#?}");
        assert_eq!((sign(column(0.6), row(0.2)), sign(column(2.4), row(0.2))), ('|', '|'));
        assert_eq!(sign(column(0.1), 19), '^');
        assert!(rows[19].contains("ink") && rows[19].contains("here") && rows[row(3.0)].contains(" top -"));
        assert!(rows[row(1.6)].contains(':') && rows[18].contains("mm") && rows[0].contains("J/cm2"), "{rows:#?}");
    }

    #[test]
    fn no_area_is_too_small() {
        let theme = Theme::standard(Depth::Sixteen);
        for (columns, rows) in SIZES {
            draw(&plot(&theme), columns, rows);
        }
    }
}
