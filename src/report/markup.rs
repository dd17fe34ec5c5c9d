//! Elements for HTML and SVG. There is no way to write text past the escaping: texts are made harmless with
//! [`shown`], then escaped.

use crate::text::shown;

/// The text as it may stand between tags and within a quoted attribute.
#[must_use]
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in shown(text).chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            // Not characters: no page may hold them.
            c if (c as u32) & 0xFFFE == 0xFFFE || ('\u{FDD0}'..='\u{FDEF}').contains(&c) => out.push('\u{FFFD}'),
            c => out.push(c),
        }
    }
    out
}

/// Attributes of an element: fixed names, any values.
pub type Attributes<'a> = &'a [(&'static str, &'a str)];

/// A page or a picture as it is written.
#[derive(Debug, Default)]
pub struct Markup {
    out: String,
    open: Vec<&'static str>,
}

impl Markup {
    fn tag(&mut self, name: &'static str, attributes: Attributes<'_>) {
        self.out.push('<');
        self.out.push_str(name);
        for (key, value) in attributes {
            self.out.push(' ');
            self.out.push_str(key);
            self.out.push_str("=\"");
            self.out.push_str(&escaped(value));
            self.out.push('"');
        }
        self.out.push('>');
    }

    /// Begins an element.
    pub fn open(&mut self, name: &'static str, attributes: Attributes<'_>) {
        self.tag(name, attributes);
        self.open.push(name);
    }

    /// Ends the element begun last.
    pub fn close(&mut self) {
        if let Some(name) = self.open.pop() {
            self.out.push_str("</");
            self.out.push_str(name);
            self.out.push('>');
            if !matches!(name, "b" | "span" | "td" | "th" | "title" | "text") {
                self.out.push('\n');
            }
        }
    }

    /// An element of HTML that never has content, such as `meta`.
    pub fn void(&mut self, name: &'static str, attributes: Attributes<'_>) {
        self.tag(name, attributes);
        self.out.push('\n');
    }

    /// Text.
    pub fn text(&mut self, text: &str) {
        self.out.push_str(&escaped(text));
    }

    /// An element with text.
    pub fn leaf(&mut self, name: &'static str, attributes: Attributes<'_>, text: &str) {
        self.open(name, attributes);
        self.text(text);
        self.close();
    }

    /// An element with what `inside` writes.
    pub fn element(&mut self, name: &'static str, attributes: Attributes<'_>, inside: impl FnOnce(&mut Self)) {
        self.open(name, attributes);
        inside(self);
        self.close();
    }

    /// A style sheet of the program's own.
    pub fn style(&mut self, css: &'static str) {
        self.out.push_str("<style>\n");
        self.out.push_str(css);
        self.out.push_str("</style>\n");
    }

    /// The declaration that a page begins with.
    pub fn doctype(&mut self) {
        self.out.push_str("<!DOCTYPE html>\n");
    }

    /// A table: caption, header cells, then rows whose first cell heads its row.
    pub fn table(&mut self, caption: &str, heads: &[&str], rows: &[Vec<String>]) {
        self.element("table", &[], |m| {
            m.leaf("caption", &[], caption);
            m.element("thead", &[], |m| {
                m.element("tr", &[], |m| {
                    for head in heads {
                        m.leaf("th", &[("scope", "col")], head);
                    }
                });
            });
            m.element("tbody", &[], |m| {
                for row in rows {
                    m.element("tr", &[], |m| {
                        for (i, cell) in row.iter().enumerate() {
                            if i == 0 {
                                m.leaf("th", &[("scope", "row")], cell);
                            } else {
                                m.leaf("td", &[], cell);
                            }
                        }
                    });
                }
            });
        });
    }

    /// What was written, with everything closed.
    #[must_use]
    pub fn finish(mut self) -> String {
        while !self.open.is_empty() {
            self.close();
        }
        self.out
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn hostile_text_is_text() {
        let mut m = Markup::default();
        m.leaf("p", &[("title", "\" onload=\"x")], "</p><script>alert('x')</script>&amp;\u{202e}\u{1b}[2J\0\u{feff}");
        assert_eq!(
            m.finish(),
            "<p title=\"&quot; onload=&quot;x\">&lt;/p&gt;&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt;&amp;amp;\
             ⟨U+202E⟩␛[2J␀⟨U+FEFF⟩</p>\n"
        );
        assert_eq!(escaped("\u{ffff}\u{fdd0}\u{1fffe}"), "\u{fffd}\u{fffd}\u{fffd}");
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
        #[test]
        fn no_text_opens_a_tag_or_leaves_its_quotes(text in "\\PC{0,40}|[<>&\"'=/\\x00-\\x1f]{0,20}") {
            let safe = escaped(&text);
            prop_assert!(!safe.contains(['<', '>', '"', '\'']) && !safe.chars().any(char::is_control));
        }
    }
}
