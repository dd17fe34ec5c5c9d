//! The zone from above, on screens with room for it.

use super::super::row_by_row::ShownPass;
use super::{Chair, Sheet};
use crate::recorder::Store;
use crate::tui::theme::Role;
use crate::tui::widgets::zone_map::ZoneMap;
use crate::units::trimmed;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::Widget;

/// Columns that the figures of the treat screen take when the map stands beside them: on one line each, or on more.
const FIGURES_COLUMNS: [u16; 2] = [78, 63];
/// Columns between them.
const GAP: u16 = 2;
/// A map with fewer columns or rows than this shows too little.
const LEAST_COLUMNS: u16 = 33;
const LEAST_ROWS: u16 = 10;

/// Shares the part of the treat screen below the bars between the figures and, where there is room, the map.
pub(super) fn share(area: Rect) -> (Rect, Option<Rect>) {
    let fits = |figures: &u16| area.width >= figures + GAP + LEAST_COLUMNS && area.height >= LEAST_ROWS;
    match FIGURES_COLUMNS.into_iter().find(fits) {
        Some(width) => {
            let x = area.x + width + GAP;
            (Rect { width, ..area }, Some(Rect { x, width: area.right() - x, ..area }))
        }
        None => (area, None),
    }
}

impl<S: Store> Chair<S> {
    pub(super) fn draw_map(&self, area: Rect, buffer: &mut Buffer) {
        let Some((plan, z)) = self.state().zone(self.zone) else { return };
        let shown = ShownPass::of(plan, z, self.state().active == Some(self.zone));
        let mut sheet = Sheet::new(&self.theme, area.width);
        sheet.wrapped(Role::Strong, format!("{} from above, pass {} {}", plan.id, shown.number, shown.state));
        match self.row_by_row.shares(&shown.pattern, shown.fired) {
            Some(s) => sheet.wrapped(
                Role::Ink,
                format!(
                    "if fired row by row: covered {} %, twice {} %, bare {} %",
                    trimmed(s.covered_percent, 1),
                    trimmed(s.twice_percent, 1),
                    trimmed(s.bare_percent, 1)
                ),
            ),
            None => sheet.wrapped(Role::Quiet, "too many pulses for a map of them"),
        }
        let words = u16::try_from(sheet.lines.len()).unwrap_or(area.height).min(area.height);
        sheet.render(Rect { height: words, ..area }, buffer);
        let map = Rect { y: area.y + words, height: area.height - words, ..area };
        let landed = self.store().landed(self.zone, shown.number);
        let zone = ZoneMap::new(&shown.pattern, shown.fired, shown.goes_on, &self.theme).glyphs(self.glyphs);
        match &landed {
            Some(points) => zone.landed(points).render(map, buffer),
            None => zone.render(map, buffer),
        }
    }
}
