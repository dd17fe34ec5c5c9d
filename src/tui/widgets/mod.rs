//! The parts that screens are built from. Each draws within any area, down to none, and none of them reads a clock.

pub mod big;
pub mod dialog;
pub mod field;
pub mod footer;
pub mod gauge;
pub mod menu;
mod pen;
pub mod plot;
pub mod row_bar;
pub mod time_lanes;
pub mod too_small;
pub mod zone_map;

#[cfg(test)]
mod testing {
    //! Draws widgets on buffers of any size.

    use ratatui::buffer::Buffer;
    use ratatui::layout::Rect;
    use ratatui::widgets::Widget;

    /// Every widget must draw at these sizes without harm.
    pub(super) const SIZES: [(u16, u16); 6] = [(0, 0), (1, 1), (5, 2), (20, 5), (80, 24), (200, 60)];

    /// The rows that the widget draws, without blanks at their ends.
    pub(super) fn draw(widget: impl Widget, columns: u16, rows: u16) -> Vec<String> {
        // Not at the origin, and with a margin that must stay untouched.
        let whole = Rect::new(0, 0, columns + 2, rows + 2);
        let area = Rect::new(1, 1, columns, rows);
        let mut buffer = Buffer::filled(whole, ratatui::buffer::Cell::new("~"));
        for y in area.rows() {
            buffer.set_style(y, ratatui::style::Style::reset());
        }
        for position in area.positions() {
            buffer[position].reset();
        }
        widget.render(area, &mut buffer);
        for position in whole.positions().filter(|position| !area.contains(*position)) {
            assert_eq!(buffer[position].symbol(), "~", "something was drawn outside of the area at {position}");
        }
        area.rows().map(|row| text(&buffer, row)).collect()
    }

    fn text(buffer: &Buffer, row: Rect) -> String {
        let mut line = String::new();
        let mut skip = 0;
        for position in row.positions() {
            let symbol = buffer[position].symbol();
            if skip == 0 {
                line.push_str(symbol);
                skip = unicode_width::UnicodeWidthStr::width(symbol).max(1);
            }
            skip -= 1;
        }
        line.trim_end().to_owned()
    }
}
