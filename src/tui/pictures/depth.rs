//! Light from the surface down: local fluence on the beam's axis against depth, for the setting in force and for another.

use super::{Picture, figures};
use crate::limits::DepthRow;
use crate::physics::depth_dose::Dose;
use crate::plan::Setting;
use crate::tui::theme::{Glyphs, Role, Theme};
use crate::tui::widgets::plot::{Axis, Band, Curve, Measure, Plot, RANGE, Sign};
use crate::units::trimmed;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::Widget;

/// The sign of the setting in force.
pub const NOW: Sign = Sign { unicode: "●", ascii: "o" };
/// The sign of the other setting.
pub const OTHER: Sign = Sign { unicode: "◆", ascii: "x" };
/// Every so many columns of the other curve are drawn.
const OTHER_EVERY: u16 = 3;
const MM_PER_CM: f64 = 10.0;
const TICK_MM: f64 = 0.5;

/// A setting with its light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lit<'a> {
    /// The setting.
    pub setting: Setting,
    /// Its light.
    pub light: &'a DepthRow,
}

/// The picture.
#[derive(Debug, Clone, PartialEq)]
pub struct DepthPicture<'a> {
    /// In force.
    pub now: Lit<'a>,
    /// Another one, and what it is: planned, advised.
    pub other: Option<(&'static str, Lit<'a>)>,
}

impl Lit<'_> {
    fn points(&self, of: impl Fn(&Dose) -> f64) -> Vec<(f64, f64)> {
        let fluence = self.setting.fluence.j_cm2();
        self.light.points.iter().map(|p| (p.depth_cm * MM_PER_CM, fluence * of(&p.per_set))).collect()
    }

    fn at(&self, cm: f64) -> Option<Dose> {
        self.light.per_set_at(cm).map(|dose| dose.times(self.setting.fluence.j_cm2()))
    }
}

impl DepthPicture<'_> {
    /// The plot of it.
    #[must_use]
    pub fn plot<'t>(&self, theme: &'t Theme, glyphs: Glyphs) -> Plot<'t> {
        let high = self.now.points(|d| d.high);
        let other = self.other.map(|(_, lit)| lit.points(|d| d.nominal));
        let most = high.iter().chain(other.iter().flatten()).map(|p| p.1).fold(0.0, f64::max);
        let deepest = high.last().map_or(1.0, |p| p.0);
        let low = self.now.points(|d| d.low);
        let ticks = (0..=20).map(|n| f64::from(n) * TICK_MM).filter(|mm| *mm <= deepest);
        let x = Axis {
            low: 0.0,
            high: deepest,
            measure: Measure::Even,
            ticks: ticks.map(|mm| (mm, trimmed(mm, 1))).collect(),
            title: "depth, mm".to_owned(),
        };
        let mut curves =
            vec![Curve { points: self.now.points(|d| d.nominal), sign: NOW, role: Role::Strong, every: 1 }];
        curves.extend(other.map(|points| Curve { points, sign: OTHER, role: Role::Ink, every: OTHER_EVERY }));
        let (ink, basal) = (self.now.light.ink, self.now.light.basal_cm * MM_PER_CM);
        let (from, to) = (ink.bulk_top_cm * MM_PER_CM, ink.bulk_bottom_cm * MM_PER_CM);
        Plot {
            x,
            y: Axis::from_zero(most, "local fluence, J/cm2"),
            range: high.iter().zip(&low).map(|(h, l)| (h.0, l.1, h.1)).collect(),
            curves,
            bands: vec![
                Band { from: basal, to: basal, word: "basal".to_owned() },
                Band { from, to, word: format!("most ink, {} to {} mm", trimmed(from, 2), trimmed(to, 2)) },
            ],
            levels: Vec::new(),
            letters: Vec::new(),
            theme,
            glyphs,
        }
    }
}

fn ranged(d: Dose) -> String {
    format!("{} ({} to {})", figures(d.nominal), figures(d.low), figures(d.high))
}

impl Picture for DepthPicture<'_> {
    fn legend(&self, glyphs: Glyphs) -> String {
        let mut parts = vec![
            format!("{} in force {}", NOW.of(glyphs), self.now.setting.dose()),
            format!("{} its range", RANGE.of(glyphs)),
        ];
        if let Some((what, lit)) = self.other {
            parts.insert(1, format!("{} {what} {}", OTHER.of(glyphs), lit.setting.dose()));
        }
        parts.join("; ")
    }

    fn words(&self) -> String {
        let (ink, basal) = (self.now.light.ink.centre_cm, self.now.light.basal_cm);
        let told = |lit: &Lit<'_>| Some((lit.at(ink)?, lit.at(basal)?));
        let Some((mid, low)) = told(&self.now) else { return String::new() };
        let fluence = self.now.setting.fluence.j_cm2();
        let other = self.other.and_then(|(what, lit)| {
            let (mid, low) = told(&lit)?;
            Some(format!(" {what} {}: {} and {}.", lit.setting.dose(), figures(mid.nominal), figures(low.nominal)))
        });
        format!(
            "Local fluence on the axis of the spot, J/cm2, {} set. Mid-ink, {} mm: {}, {} of what is set; basal layer, {} \
             mm: {}.{} A model of skin, not this person's.",
            trimmed(fluence, 3),
            trimmed(ink * MM_PER_CM, 2),
            ranged(mid),
            figures(mid.nominal / fluence),
            trimmed(basal * MM_PER_CM, 3),
            ranged(low),
            other.unwrap_or_default()
        )
    }

    fn draw(&self, area: Rect, buffer: &mut Buffer, theme: &Theme, glyphs: Glyphs) {
        self.plot(theme, glyphs).render(area, buffer);
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{depth_row, setting};
    use super::*;
    use crate::tui::theme::Depth;

    fn drawn(picture: &DepthPicture<'_>, area: Rect) -> Vec<Vec<String>> {
        let mut buffer = Buffer::empty(area);
        picture.draw(area, &mut buffer, &Theme::standard(Depth::None), Glyphs::Ascii);
        let cell = |x, y| buffer[(x, y)].symbol().to_owned();
        (0..area.height).map(|y| (0..area.width).map(|x| cell(x, y)).collect()).collect()
    }

    #[test]
    fn bands_and_curves_lie_at_the_depths_and_doses_of_the_light() {
        let (now, other) = (depth_row(4.0, 1.0), depth_row(6.0, 1.2));
        let lit = Lit { setting: setting(4.0, 3.0), light: &now };
        let other = Lit { setting: setting(6.0, 2.2), light: &other };
        for (columns, rows) in [(78, 16), (98, 22), (158, 40)] {
            let picture = DepthPicture { now: lit, other: Some(("advised", other)) };
            let theme = Theme::standard(Depth::None);
            let plot = picture.plot(&theme, Glyphs::Ascii);
            let area = Rect::new(0, 0, columns, rows);
            let field = plot.field(area).unwrap();
            let cells = drawn(&picture, area);
            let column = |mm: f64| usize::from(field.column(plot.x.share(mm)).unwrap());
            let lane = usize::from(rows - 1);
            let ink = now.ink;
            assert_eq!(cells[lane][column(ink.bulk_top_cm * 10.0)], "[", "{cells:?}");
            assert_eq!(cells[lane][column(ink.bulk_bottom_cm * 10.0)], "]");
            assert_eq!(cells[lane][column(now.basal_cm * 10.0)], "^");
            // In the middle of the ink the curve has the height of the dose there.
            let dose = 3.0 * now.per_set_at(ink.centre_cm).unwrap().nominal;
            let row = usize::from(field.row(plot.y.share(dose)).unwrap());
            let x = column(ink.centre_cm * 10.0);
            let near = |sign: &str| (x - 1..=x + 1).any(|x| (row - 1..=row + 1).any(|y| cells[y][x] == sign));
            assert!(near("o") || near("x"), "{columns}: {cells:?}");
            let count = |sign: &str| cells.iter().flatten().filter(|c| *c == sign).count();
            assert!(count("o") > 20 && count("x") > 10 && count(":") > 20, "{columns}");
        }
    }

    #[test]
    fn the_words_tell_both_settings_with_units() {
        let row = depth_row(4.0, 1.0);
        let now = Lit { setting: setting(4.0, 3.0), light: &row };
        let lower = Lit { setting: setting(4.0, 2.7), light: &row };
        let picture = DepthPicture { now, other: Some(("advised", lower)) };
        let words = picture.words();
        let mid = 3.0 * row.per_set_at(row.ink.centre_cm).unwrap().nominal;
        assert!(words.contains(&format!("Mid-ink, 1 mm: {} (", figures(mid))), "{words}");
        assert!(words.contains(&format!("advised 2.7 J/cm2 at 4 mm: {} and", figures(mid * 0.9))), "{words}");
        assert!(words.contains("basal layer, 0.06 mm") && words.contains("not this person's"), "{words}");
        assert!(picture.legend(Glyphs::Ascii).contains("x advised 2.7 J/cm2 at 4 mm"));
    }
}
