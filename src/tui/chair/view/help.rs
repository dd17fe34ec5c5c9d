//! What this screen is for, every key that works here from the same table that handles them, and its figures.

use super::figures::{figures, purpose};
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
        sheet.line(Role::Strong, "Help        any other key: back   down/up: scroll");
        sheet.wrapped(Role::Ink, purpose(self.screen));
        sheet.blank();
        sheet.line(Role::Strong, "Keys on this screen");
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
        for line in figures(self.screen) {
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
