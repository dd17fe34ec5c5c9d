//! Pictures of a setting and of a session: built from figures, drawn on a screen or as plain text.
//!
//! Each has a line that says what its signs mean, the drawing, and below it in words, with units, what it shows. No sign
//! differs from another by colour alone.

pub mod confinement;
pub mod depth;
pub mod session;

use super::theme::{Depth, Glyphs, Role, Theme};
use crate::text::{fitted, wrapped};
use crate::words::words;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

words! {
    /// A picture.
    PictureName, "picture" {
        /// Light from the surface down.
        Depth = "light in depth",
        /// What a pulse confines.
        Confinement = "confinement",
        /// The session over time.
        Session = "session",
        /// The zone from above.
        Zone = "zone",
    }
}

/// Something to be drawn.
pub trait Picture {
    /// What its signs mean, in one line.
    fn legend(&self, glyphs: Glyphs) -> String;
    /// What it shows, with units.
    fn words(&self) -> String;
    /// The drawing alone.
    fn draw(&self, area: Rect, buffer: &mut Buffer, theme: &Theme, glyphs: Glyphs);
}

/// Rows that a drawing keeps where the words would leave it fewer.
const DRAWING_ROWS: u16 = 10;

/// Draws a picture with its legend above and its words below.
pub fn render(picture: &dyn Picture, area: Rect, buffer: &mut Buffer, theme: &Theme, glyphs: Glyphs) {
    let area = area.intersection(buffer.area);
    let columns = usize::from(area.width);
    let legend = wrapped(&picture.legend(glyphs), columns);
    let words = wrapped(&picture.words(), columns);
    let rows = |lines: &[String], most: u16| u16::try_from(lines.len()).unwrap_or(u16::MAX).min(most);
    let head = rows(&legend, 2).min(area.height);
    let foot = rows(&words, area.height.saturating_sub(head + DRAWING_ROWS));
    let mut put = |lines: &[String], y: u16, rows: u16, role: Role| {
        for (line, n) in lines.iter().zip(0..rows) {
            // A text that does not fit ends in a sign of it.
            let cut = n + 1 == rows && usize::from(rows) < lines.len();
            let line = if cut { fitted(&format!("{line} {}", "~".repeat(columns)), columns) } else { line.clone() };
            buffer.set_stringn(area.x, y + n, line, columns, theme.style(role));
        }
    };
    put(&legend, area.y, head, Role::Quiet);
    put(&words, area.bottom() - foot, foot, Role::Ink);
    let drawing = Rect { y: area.y + head, height: area.height - head - foot, ..area };
    picture.draw(drawing, buffer, theme, glyphs);
}

/// A picture as plain text of 80 columns, without any colour and in ASCII.
#[must_use]
pub fn text_of(picture: &dyn Picture) -> String {
    const COLUMNS: u16 = 80;
    const DRAWN: u16 = 17;
    let words = wrapped(&picture.words(), usize::from(COLUMNS));
    let legend = wrapped(&picture.legend(Glyphs::Ascii), usize::from(COLUMNS));
    let area = Rect::new(0, 0, COLUMNS, DRAWN);
    let mut buffer = Buffer::empty(area);
    picture.draw(area, &mut buffer, &Theme::standard(Depth::None), Glyphs::Ascii);
    let row = |y| {
        let cells = (0..COLUMNS).filter_map(|x| buffer.cell((x, y)));
        cells.map(|cell| cell.symbol()).collect::<String>().trim_end().to_owned()
    };
    let lines = legend.into_iter().chain((0..DRAWN).map(row)).chain(words);
    lines.map(|line| line.replace('…', "~") + "\n").collect()
}

/// Three figures, without an exponent.
fn figures(value: f64) -> String {
    let decimals = match value.abs() {
        v if v >= 99.95 => 0,
        v if v >= 9.995 => 1,
        v if v >= 0.0995 => 2,
        _ => 3,
    };
    crate::units::trimmed(value, decimals)
}

/// `145 nm`, `9 um`.
fn size_words(nm: f64) -> String {
    if nm >= 1000.0 { format!("{} um", figures(nm / 1000.0)) } else { format!("{} nm", figures(nm)) }
}

#[cfg(test)]
mod testing {
    //! Invented light: it falls off with depth, more or less so by the case.

    use crate::limits::DepthRow;
    use crate::physics::depth_dose::{DepthPoint, Dose};
    use crate::physics::optics::InkDepth;
    use crate::plan::Setting;
    use crate::units::{Fluence, PulseDuration, RepetitionRate, SpotDiameter, Wavelength};
    use crate::words::BodySite;

    pub(super) fn setting(mm: f64, j_cm2: f64) -> Setting {
        Setting {
            wavelength: Wavelength::new(1064.0).unwrap(),
            pulse_duration: PulseDuration::new(6e-9).unwrap(),
            spot: SpotDiameter::new(mm).unwrap(),
            fluence: Fluence::new(j_cm2).unwrap(),
            rate: RepetitionRate::new(5.0).unwrap(),
        }
    }

    pub(super) fn depth_row(mm: f64, reach: f64) -> DepthRow {
        let dose = |cm: f64| {
            let nominal = 1.6 * (-cm / (0.12 * reach)).exp();
            Dose { low: 0.7 * nominal, nominal, high: 1.3 * nominal, standard_error: 0.01 }
        };
        let depths = [0.0, 0.003, 0.006, 0.025, 0.05, 0.1, 0.15, 0.2, 0.3];
        DepthRow {
            site: BodySite::DistalExtremity,
            wavelength: Wavelength::new(1064.0).unwrap(),
            spot: SpotDiameter::new(mm).unwrap(),
            basal_cm: 0.006,
            ink: InkDepth { top_cm: 0.04, bulk_top_cm: 0.05, centre_cm: 0.1, bulk_bottom_cm: 0.15, bottom_cm: 0.2 },
            points: depths.iter().map(|cm| DepthPoint { depth_cm: *cm, per_set: dose(*cm) }).collect(),
        }
    }
}
