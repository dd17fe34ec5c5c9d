//! What a pulse confines: how long heat and stress stay in granules of each size, beside how long the pulse is.

use super::{Picture, size_words};
use crate::physics::heat::{Definition, Shape, USUAL_GRANULES_NM, confinement, least_confined};
use crate::tui::theme::{Glyphs, Role, Theme};
use crate::tui::widgets::plot::{Axis, Band, Curve, Measure, Plot, RANGE, Sign};
use crate::units::{GranuleDiameter, PulseDuration, trimmed};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::Widget;

/// The definition of relaxation time that is drawn: the usual one.
pub const DEFINITION: Definition = Definition::AndersonParrish;
/// The sign of the relaxation time.
pub const HEAT: Sign = Sign { unicode: "●", ascii: "o" };
/// The sign of the transit of sound.
pub const STRESS: Sign = Sign { unicode: "◆", ascii: "x" };
/// The granules that are drawn, in nm.
const GRANULES_NM: (f64, f64) = (10.0, 20_000.0);
/// The times that are drawn, in s, where the pulse lies within.
const TIMES_S: (f64, f64) = (1e-11, 1e-6);
/// Granules below this are taken as single ones, the others as clumps, in nm.
const CLUMPS_FROM_NM: f64 = 1000.0;

/// The picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ConfinementPicture {
    /// The pulse of the setting.
    pub pulse: PulseDuration,
}

fn size_axis() -> Axis {
    let ticks = [10.0, 100.0, 1000.0, 10_000.0];
    Axis {
        low: GRANULES_NM.0,
        high: GRANULES_NM.1,
        measure: Measure::Log,
        ticks: ticks.into_iter().map(|nm| (nm, size_words(nm))).collect(),
        title: "granule".to_owned(),
    }
}

fn time_axis(pulse_s: f64) -> Axis {
    let low = TIMES_S.0.min(pulse_s / 3.0);
    let high = TIMES_S.1.max(pulse_s * 3.0);
    let label = |exponent: i32| {
        let units = [(0, "s"), (-3, "ms"), (-6, "us"), (-9, "ns"), (-12, "ps")];
        let (unit, name) = units.into_iter().find(|(unit, _)| exponent >= *unit).unwrap_or((-15, "fs"));
        (10f64.powi(exponent), format!("{} {name}", trimmed(10f64.powi(exponent - unit), 0)))
    };
    Axis { low, high, measure: Measure::Log, ticks: (-14..=1).map(label).collect(), title: "how long".to_owned() }
}

/// The ends of the usual granules below and from a size on.
fn granules(clumps: bool) -> Option<(f64, f64)> {
    let mut of = USUAL_GRANULES_NM.into_iter().filter(|nm| (*nm >= CLUMPS_FROM_NM) == clumps);
    let first = of.next()?;
    Some((first, of.next_back().unwrap_or(first)))
}

impl ConfinementPicture {
    /// The plot of it.
    #[must_use]
    pub fn plot<'t>(&self, theme: &'t Theme, glyphs: Glyphs) -> Plot<'t> {
        let pulse_s = self.pulse.seconds();
        // The axis ends where a granule may.
        let sizes: Vec<GranuleDiameter> =
            [GRANULES_NM.0, GRANULES_NM.1].into_iter().filter_map(|nm| GranuleDiameter::new(nm).ok()).collect();
        let at = |granule: &GranuleDiameter| (granule.nm(), confinement(*granule, self.pulse, DEFINITION));
        let ends: Vec<_> = sizes.iter().map(at).collect();
        let heat = ends.iter().map(|(nm, c)| (*nm, c.relaxation_s.nominal)).collect();
        let stress = ends.iter().map(|(nm, c)| (*nm, c.transit_s.nominal)).collect();
        let least = least_confined(self.pulse, DEFINITION);
        let bands = [(false, "granules"), (true, "clumps")].into_iter().filter_map(|(clumps, word)| {
            let (from, to) = granules(clumps)?;
            Some(Band { from, to, word: word.to_owned() })
        });
        Plot {
            x: size_axis(),
            y: time_axis(pulse_s),
            range: ends.iter().map(|(nm, c)| (*nm, c.relaxation_s.low, c.relaxation_s.high)).collect(),
            curves: vec![
                Curve { points: heat, sign: HEAT, role: Role::Strong, every: 1 },
                Curve { points: stress, sign: STRESS, role: Role::Ink, every: 1 },
            ],
            bands: bands.collect(),
            levels: vec![(pulse_s, format!("pulse {}", self.pulse))],
            letters: vec![(least.heat_nm.nominal, pulse_s, "H"), (least.stress_nm.nominal, pulse_s, "S")],
            theme,
            glyphs,
        }
    }
}

impl Picture for ConfinementPicture {
    fn legend(&self, glyphs: Glyphs) -> String {
        format!(
            "{} heat leaves in d2/27k, {} its range; {} sound in d/c; H, S: at the pulse",
            HEAT.of(glyphs),
            RANGE.of(glyphs),
            STRESS.of(glyphs)
        )
    }

    fn words(&self) -> String {
        let least = least_confined(self.pulse, DEFINITION);
        let range = |clumps| {
            granules(clumps).map_or_else(String::new, |(a, b)| format!("{} to {}", size_words(a), size_words(b)))
        };
        format!(
            "A pulse of {} is thermally confined in granules above {} ({} to {}), stress confined above {}. Marked: \
             granules of {}, clumps of {}. A rule of thumb, no threshold of damage.",
            self.pulse,
            size_words(least.heat_nm.nominal),
            size_words(least.heat_nm.low),
            size_words(least.heat_nm.high),
            size_words(least.stress_nm.nominal),
            range(false),
            range(true)
        )
    }

    fn draw(&self, area: Rect, buffer: &mut Buffer, theme: &Theme, glyphs: Glyphs) {
        self.plot(theme, glyphs).render(area, buffer);
    }
}

/// Relaxation time of a sphere in s, for tests and words that name the line drawn.
#[must_use]
pub fn relaxation_s(granule_nm: f64) -> Option<f64> {
    DEFINITION.relaxation_s(Shape::Sphere, granule_nm * 1e-9, crate::physics::heat::DIFFUSIVITY_M2_S.nominal)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tui::theme::Depth;

    fn drawn(pulse: f64, area: Rect) -> (Buffer, ConfinementPicture) {
        let picture = ConfinementPicture { pulse: PulseDuration::new(pulse).unwrap() };
        let mut buffer = Buffer::empty(area);
        picture.draw(area, &mut buffer, &Theme::standard(Depth::None), Glyphs::Ascii);
        (buffer, picture)
    }

    #[test]
    fn lines_and_letters_lie_where_heat_and_sound_say() {
        for (columns, rows) in [(78, 16), (158, 40)] {
            let area = Rect::new(0, 0, columns, rows);
            let (buffer, picture) = drawn(6e-9, area);
            let theme = Theme::standard(Depth::None);
            let plot = picture.plot(&theme, Glyphs::Ascii);
            let field = plot.field(area).unwrap();
            let place =
                |nm: f64, s: f64| (field.column(plot.x.share(nm)).unwrap(), field.row(plot.y.share(s)).unwrap());
            // Points computed by the room of physics, none of which the picture was built from.
            for nm in [25.0, 60.0, 400.0, 1000.0] {
                let (x, y) = place(nm, relaxation_s(nm).unwrap());
                let near = (y.saturating_sub(1)..=y + 1).any(|y| buffer[(x, y)].symbol() == "o");
                assert!(near, "{nm} nm at {columns} columns");
            }
            for nm in [50.0, 3000.0] {
                let (x, y) = place(nm, crate::physics::heat::transit_s(nm * 1e-9, 1500.0));
                assert!((y - 1..=y + 1).any(|y| buffer[(x, y)].symbol() == "x"), "{nm}");
            }
            let (x, y) = place(145.1, 6e-9);
            assert_eq!(buffer[(x, y)].symbol(), "H");
            let (x, y) = place(9000.0, 6e-9);
            assert_eq!(buffer[(x, y)].symbol(), "S");
            assert_eq!(buffer[(place(40.0, 1e-9).0, rows - 1)].symbol(), "[");
            assert_eq!(buffer[(place(4000.0, 1e-9).0, rows - 1)].symbol(), "]");
        }
    }

    #[test]
    fn the_words_name_the_sizes_for_every_pulse() {
        let words = |s: f64| ConfinementPicture { pulse: PulseDuration::new(s).unwrap() }.words();
        let nanoseconds = words(6e-9);
        assert!(
            nanoseconds.contains("thermally confined in granules above 145 nm (126 nm to 156 nm)"),
            "{nanoseconds}"
        );
        assert!(nanoseconds.contains("stress confined above 9 um"), "{nanoseconds}");
        assert!(words(300e-12).contains("stress confined above 450 nm"), "{}", words(300e-12));
        for pulse in [1e-13, 1e-3, 1.0] {
            drawn(pulse, Rect::new(0, 0, 78, 16));
        }
    }
}
