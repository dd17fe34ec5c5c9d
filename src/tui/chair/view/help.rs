//! Every key that works here, from the same table that handles them.

use super::{Chair, Sheet};
use crate::recorder::Store;
use crate::tui::theme::Role;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::widgets::{Clear, Widget};

/// Room for the keys of an action.
const KEY_COLUMNS: u16 = 14;

impl<S: Store> Chair<S> {
    pub(super) fn draw_help(&self, scroll: u16, area: Rect, buffer: &mut Buffer) {
        Clear.render(area, buffer);
        buffer.set_style(area, self.theme.style(Role::Ink));
        let inner = Rect { x: area.x + 1, width: area.width.saturating_sub(2), ..area };
        let mut sheet = Sheet::new(&self.theme, inner.width);
        sheet.line(Role::Strong, "Keys on this screen        any other key: back   down/up: scroll");
        sheet.blank();
        for hint in self.keys.hints(&self.places()) {
            let mut keys = hint.keys();
            for line in crate::text::wrapped(hint.help, usize::from(inner.width.saturating_sub(KEY_COLUMNS + 1))) {
                let column = format!("{:<width$} ", std::mem::take(&mut keys), width = usize::from(KEY_COLUMNS));
                sheet.spans(&[(Role::Strong, column), (Role::Ink, line)]);
            }
        }
        if self.screen == super::ScreenName::Treat {
            sheet.spans(&[
                (Role::Strong, format!("{:<14}", "0 to 9")),
                (Role::Ink, " Type a number of pulses.".to_owned()),
            ]);
        }
        sheet.blank();
        sheet.line(Role::Strong, "Figures");
        for line in [
            "planned pulses: a hexagonal lattice fitted to the zone; overlap = 1 - pitch / spot",
            "row 4/11: rows of that lattice, fired to and fro; the arrow is the way of the row at hand, 5 of 12 its pulses",
            "map (from 100 columns and 24 rows): the zone from above with y up, drawn as if the rows were followed; filled spots are fired, dots to come, rings the row at hand, O the next, 2 fired twice. Covered, twice and bare are exact for flat discs on those spots; what the hand truly hit is not known",
            "overlap of a count: as if spread evenly over the zone, its edge reckoned in",
            "pulses per point = count x spot area within the zone / zone area",
            "energy = fluence x pi x spot^2 / 4",
            "a train counts one pulse at its start and one each period of the rate that was read back",
            "saved = on disk, would survive a power cut",
        ] {
            sheet.wrapped(Role::Ink, line);
        }
        sheet.blank();
        sheet.wrapped(
            Role::Quiet,
            "Fadewright is an aid for trained, licensed people. The device's manual, the clinic's protocol and local law come first.",
        );
        let rows = usize::from(inner.height);
        let first = usize::from(scroll).min(sheet.lines.len().saturating_sub(rows));
        sheet.lines.drain(..first);
        sheet.render(inner, buffer);
    }
}
