//! A page to draw on: a few shapes, classes of the style sheet for looks, text always escaped.

use std::fmt::Write;

use crate::draw::room::{Room, text_box};
use crate::draw::size::Size;
use crate::draw::words::wrap;

/// A picture under way.
pub(crate) struct Canvas {
    width: f64,
    height: f64,
    title: String,
    description: String,
    /// For which width of page it is, where it is drawn for several.
    size: Option<Size>,
    /// What scripts read of it: names with values.
    data: Vec<(&'static str, String)>,
    body: String,
    room: Room,
}

/// Height of a line of words.
pub(crate) const LINE: f64 = 16.0;

/// Where a text hangs on its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

impl Canvas {
    /// A picture with a title and a description that carries its message.
    pub(crate) fn new(width: f64, height: f64, title: &str, description: &str) -> Self {
        Self {
            width,
            height,
            title: title.to_owned(),
            description: description.to_owned(),
            size: None,
            data: Vec::new(),
            body: String::new(),
            room: Room::default(),
        }
    }

    /// A picture for pages of one width; it grows downwards by what is added below.
    pub(crate) fn sized(size: Size, height: f64, title: &str, description: &str) -> Self {
        Self {
            size: Some(size),
            ..Self::new(size.width(), height, title, description)
        }
    }

    pub(crate) fn width(&self) -> f64 {
        self.width
    }

    /// Something that scripts read of the picture, as `data-NAME`.
    pub(crate) fn data(&mut self, name: &'static str, value: &str) {
        self.data.push((name, value.to_owned()));
    }

    /// Begins a group that scripts show, hide or move; its attributes are written as they are.
    pub(crate) fn open(&mut self, attributes: &str) {
        self.put(&format!("<g {attributes}>"));
    }

    /// Ends the group.
    pub(crate) fn close(&mut self) {
        self.put("</g>");
    }

    /// A line of a group that moves: what it crosses is not known.
    pub(crate) fn moving_line(&mut self, class: &str, [x1, y1, x2, y2]: [f64; 4]) {
        self.put(&format!(
            r#"<path class="{class}" d="M{x1:.1} {y1:.1}L{x2:.1} {y2:.1}"/>"#
        ));
    }

    /// Lower end of the picture.
    pub(crate) fn foot(&self) -> f64 {
        self.height
    }

    /// Words below the picture, over its whole width.
    pub(crate) fn below(&mut self, class: &str, words: &str) {
        self.below_at(class, 8.0, words);
    }

    /// Words below the picture from `left` on.
    pub(crate) fn below_at(&mut self, class: &str, left: f64, words: &str) {
        for line in wrap(words, class, self.width - left - 6.0) {
            self.text(class, Anchor::Start, left, self.height + 11.0, &line);
            self.height += LINE;
        }
    }

    /// More room below.
    pub(crate) fn grow(&mut self, by: f64) {
        self.height += by;
    }

    /// A closed shape.
    pub(crate) fn path(&mut self, class: &str, path: &str) {
        self.put(&format!(r#"<path class="{class}" d="{path}"/>"#));
    }

    pub(crate) fn rect(&mut self, class: &str, [x, y, width, height]: [f64; 4]) {
        let (width, height) = (width.max(0.0), height.max(0.0));
        self.put(&format!(
            r#"<rect class="{class}" x="{x:.1}" y="{y:.1}" width="{width:.1}" height="{height:.1}"/>"#
        ));
    }

    pub(crate) fn line(&mut self, class: &str, [x1, y1, x2, y2]: [f64; 4]) {
        if !matches!(class, "grid" | "leader" | "tick" | "band-edge") {
            self.room.cross((x1, y1), (x2, y2));
        }
        self.put(&format!(
            r#"<line class="{class}" x1="{x1:.1}" y1="{y1:.1}" x2="{x2:.1}" y2="{y2:.1}"/>"#
        ));
    }

    pub(crate) fn dot(&mut self, class: &str, x: f64, y: f64) {
        self.room.take([x - 4.0, y - 4.0, x + 4.0, y + 4.0]);
        self.put(&format!(
            r#"<circle class="{class}" cx="{x:.1}" cy="{y:.1}" r="4"/>"#
        ));
    }

    pub(crate) fn polyline(&mut self, class: &str, points: &[(f64, f64)]) {
        let mut path = String::new();
        for pair in points.windows(2) {
            self.room.cross(pair[0], pair[1]);
        }
        for (x, y) in points {
            let _ = write!(path, "{x:.1},{y:.1} ");
        }
        self.put(&format!(
            r#"<polyline class="{class}" points="{}"/>"#,
            path.trim_end()
        ));
    }

    pub(crate) fn text(&mut self, class: &str, anchor: Anchor, x: f64, y: f64, text: &str) {
        if text.is_empty() {
            return;
        }
        self.room.take(text_box(class, anchor, (x, y), text));
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        self.put(&format!(
            r#"<text class="{class}" text-anchor="{anchor}" x="{x:.1}" y="{y:.1}">{}</text>"#,
            escape(text)
        ));
    }

    /// A text at the first of some places where it covers nothing, else where it crosses the fewest
    /// lines; false, and nothing written, where it would cover other words everywhere.
    pub(crate) fn text_where_free(
        &mut self,
        class: &str,
        places: &[(Anchor, f64, f64)],
        text: &str,
    ) -> bool {
        let mut best: Option<(usize, (Anchor, f64, f64))> = None;
        for &(anchor, x, y) in places {
            let own = text_box(class, anchor, (x, y), text);
            let inside = 0.0 <= own[0] && own[2] <= self.width && 0.0 <= own[1];
            if !inside || self.room.covers(&own) {
                continue;
            }
            let crossed = self.room.crossed(&own);
            if best.is_none_or(|b| crossed < b.0) {
                best = Some((crossed, (anchor, x, y)));
            }
        }
        if let Some((_, (anchor, x, y))) = best {
            self.text(class, anchor, x, y, text);
        }
        best.is_some()
    }

    fn put(&mut self, element: &str) {
        self.body.push_str(element);
        self.body.push('\n');
    }

    /// The finished picture, for a page that has the style sheet.
    pub(crate) fn finish(self) -> String {
        let class = self.size.map_or("", Size::attribute);
        self.with("", class, "")
    }

    /// The finished picture as a file of its own: it brings its style and its paper along.
    pub(crate) fn finish_alone(self) -> String {
        let style = format!(
            "<style>\n{}svg{{font:13px Georgia,serif;width:auto}}\n.paper{{fill:var(--paper)}}\n</style>\n<rect class=\"paper\" width=\"100%\" height=\"100%\"/>\n",
            crate::draw::STYLE
        );
        // On its own it fills whatever window it is opened in.
        let alone = self.with(" xmlns=\"http://www.w3.org/2000/svg\"", "", &style);
        without_size(&alone)
    }

    fn with(self, attributes: &str, class: &str, first: &str) -> String {
        let mut data = String::new();
        for (name, value) in &self.data {
            let _ = write!(data, " data-{name}=\"{}\"", escape(value));
        }
        format!(
            "<svg{attributes} role=\"img\"{class}{data} viewBox=\"0 0 {w:.0} {h:.0}\" width=\"{w:.0}\" height=\"{h:.0}\">\n<title>{}</title>\n<desc>{}</desc>\n{first}{}</svg>\n",
            escape(&self.title),
            escape(&self.description),
            self.body,
            w = self.width,
            h = self.height,
        )
    }
}

/// A picture that takes the size of its window.
fn without_size(svg: &str) -> String {
    let head = svg.find('>').unwrap_or(0);
    let (tag, rest) = svg.split_at(head);
    let kept = tag
        .split(' ')
        .filter(|part| !part.starts_with("width=") && !part.starts_with("height="));
    let kept: Vec<&str> = kept.collect();
    kept.join(" ") + rest
}

/// Text that cannot become markup, holds only what XML allows, and cannot turn the words beside it
/// around: marks of direction that reach beyond their own letters are left out.
pub(crate) fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => {}
            '\u{fffe}' | '\u{ffff}' => out.push(' '),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

/// At most so many characters, the rest as an ellipsis.
pub(crate) fn shortened(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let head: String = text.chars().take(most.saturating_sub(1)).collect();
    format!("{head}…")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_holds_only_what_xml_allows_and_turns_nothing_around() {
        assert_eq!(escape("a\u{fffe}b\u{ffff}c\u{0}d\u{7f}e"), "a b c d e");
        assert_eq!(
            escape("\u{fffd}\u{e000}\u{1f50b}"),
            "\u{fffd}\u{e000}\u{1f50b}"
        );
        assert_eq!(escape("R1\u{202e}2R\u{2066}\u{2069}\u{202a}"), "R12R");
        assert_eq!(escape("<&\">"), "&lt;&amp;&quot;&gt;");
    }

    #[test]
    fn a_picture_on_its_own_has_a_name_space_its_rules_and_no_size() {
        let drawn = Canvas::new(90.0, 40.0, "t", "d").finish_alone();
        let (head, _) = drawn.split_once('>').expect("a tag");
        assert!(head.contains("xmlns=") && head.contains("viewBox=\"0 0 90 40\""));
        assert!(!head.contains(" width=") && !head.contains(" height="));
        assert!(drawn.contains("svg .grid") && drawn.contains("--ink"));
        assert!(!drawn.contains("body{"));
    }
}
