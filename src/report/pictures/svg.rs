//! A small writer of SVG.

use crate::report::markup::{Attributes, Markup};
use crate::units::trimmed;

/// A picture in units of its own, y downwards.
pub struct Svg<'a> {
    m: &'a mut Markup,
}

/// A coordinate: a hundredth of a unit is finer than any printer.
fn at(v: f64) -> String {
    trimmed(if v.is_finite() { v } else { 0.0 }, 2)
}

impl<'a> Svg<'a> {
    /// Draws a picture: `id` must be unique on its page, `title` and `description` say what is to be seen.
    pub fn draw(
        m: &'a mut Markup,
        id: &str,
        (width, height): (f64, f64),
        (title, description): (&str, &str),
        draw: impl FnOnce(&mut Svg<'_>),
    ) {
        let (title_id, description_id) = (format!("{id}-title"), format!("{id}-description"));
        let view = format!("0 0 {} {}", at(width), at(height));
        let labelled = format!("{title_id} {description_id}");
        m.open(
            "svg",
            &[
                ("xmlns", "http://www.w3.org/2000/svg"),
                ("viewBox", &view),
                ("width", &at(width)),
                ("height", &at(height)),
                ("role", "img"),
                ("aria-labelledby", &labelled),
            ],
        );
        m.leaf("title", &[("id", &title_id)], title);
        m.leaf("desc", &[("id", &description_id)], description);
        draw(&mut Svg { m });
        m.close();
    }

    fn shape(&mut self, name: &'static str, attributes: Attributes<'_>) {
        self.m.element(name, attributes, |_| {});
    }

    /// A straight line.
    pub fn line(&mut self, class: &str, (x1, y1): (f64, f64), (x2, y2): (f64, f64)) {
        self.shape("line", &[("class", class), ("x1", &at(x1)), ("y1", &at(y1)), ("x2", &at(x2)), ("y2", &at(y2))]);
    }

    /// An upright rectangle by its upper left corner.
    pub fn rectangle(&mut self, class: &str, (x, y): (f64, f64), (width, height): (f64, f64)) {
        self.shape(
            "rect",
            &[("class", class), ("x", &at(x)), ("y", &at(y)), ("width", &at(width)), ("height", &at(height))],
        );
    }

    /// A circle.
    pub fn circle(&mut self, class: &str, (x, y): (f64, f64), radius: f64) {
        self.shape("circle", &[("class", class), ("cx", &at(x)), ("cy", &at(y)), ("r", &at(radius))]);
    }

    /// Places joined by straight lines; nothing for fewer than two.
    pub fn path(&mut self, class: &str, places: &[(f64, f64)]) {
        if places.len() < 2 {
            return;
        }
        let mut d = String::new();
        for (i, (x, y)) in places.iter().enumerate() {
            d.push_str(&format!("{}{} {}", if i == 0 { "M" } else { "L" }, at(*x), at(*y)));
        }
        self.shape("path", &[("class", class), ("d", &d)]);
    }

    /// A text that begins (`start`), ends (`end`) or is centred (`middle`) at a place.
    pub fn text(&mut self, anchor: &'static str, (x, y): (f64, f64), text: &str) {
        self.m.leaf("text", &[("x", &at(x)), ("y", &at(y)), ("text-anchor", anchor)], text);
    }
}
