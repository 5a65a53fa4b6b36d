//! Looks over finished pictures for words that cover other words, lie on lines or leave the page.

use crate::draw::room::{Bounds, meet, passes, text_box};
use crate::draw::svg::Anchor;

/// A text of a picture.
struct Said {
    class: String,
    place: Bounds,
    words: String,
}

/// What is wrong with the pictures of a page or file; nothing where all is well.
pub(crate) fn faults(page: &str) -> Vec<String> {
    let mut out = Vec::new();
    for part in page.split("<svg ").skip(1) {
        let svg = part.split("</svg>").next().unwrap_or_default();
        let head = svg.split('>').next().unwrap_or_default();
        let others = ["schematic", "legend"].map(|c| format!("class=\"{c}"));
        if !head.contains("role=\"img\"") || others.iter().any(|o| head.contains(o.as_str())) {
            // What only adorns, and what has tests of its own.
            continue;
        }
        let title = between(svg, "<title>", "</title>").unwrap_or_default();
        let title: String = title.chars().take(60).collect();
        let found = of_one(svg).into_iter();
        out.extend(found.map(|fault| format!("{title}: {fault}")));
    }
    out
}

fn of_one(svg: &str) -> Vec<String> {
    let mut out = Vec::new();
    let Some([_, _, width, height]) = view_box(svg) else {
        return vec!["no view box".to_owned()];
    };
    if between(svg, "<desc>", "</desc>").is_none_or(|d| d.trim().is_empty()) {
        out.push("says nothing".to_owned());
    }
    if svg.contains("NaN") || svg.contains("inf") && svg.contains("=\"inf") {
        out.push("a place that is no number".to_owned());
    }
    let texts = texts(svg);
    for (at, text) in texts.iter().enumerate() {
        let [left, top, right, bottom] = text.place;
        // Widths are bounds: a text may seem to reach a little further than it does.
        if left < -0.5 || width + 0.5 < right || top < -0.5 || height + 0.5 < bottom {
            out.push(format!(
                "`{}` leaves the page: {:?}",
                text.words, text.place
            ));
        }
        for other in &texts[at + 1..] {
            if meet(&shrunk(text.place), &shrunk(other.place)) {
                out.push(format!("`{}` covers `{}`", text.words, other.words));
            }
        }
    }
    for (class, from, to) in lines(svg) {
        // Words with a rim of paper may lie on a curve where no place is free.
        for text in texts
            .iter()
            .filter(|t| t.class != "inband" && t.class != "said")
        {
            if passes(from, to, &shrunk(text.place)) {
                out.push(format!("`{}` lies on a line `{class}`", text.words));
            }
        }
    }
    out
}

fn shrunk([left, top, right, bottom]: Bounds) -> Bounds {
    [left + 0.6, top + 0.6, right - 0.6, bottom - 0.6]
}

fn view_box(svg: &str) -> Option<[f64; 4]> {
    let all = between(svg, "viewBox=\"", "\"")?;
    let mut each = all.split(' ').map(|n| n.parse().ok());
    Some([each.next()??, each.next()??, each.next()??, each.next()??])
}

fn texts(svg: &str) -> Vec<Said> {
    let parts = svg.split("<text ").skip(1);
    let each = parts.filter_map(|part| {
        let (head, rest) = part.split_once('>')?;
        let words = plain(rest.split("</text>").next()?);
        let anchor = match attribute(head, "text-anchor")? {
            "end" => Anchor::End,
            "middle" => Anchor::Middle,
            _ => Anchor::Start,
        };
        let at = (number(head, "x")?, number(head, "y")?);
        let class = attribute(head, "class")?.to_owned();
        Some(Said {
            place: text_box(&class, anchor, at, &words),
            class,
            words,
        })
    });
    each.collect()
}

/// A line with its class.
type Line<'s> = (&'s str, (f64, f64), (f64, f64));

/// Lines that words had better not lie on: not those that are meant to run behind words.
fn lines(svg: &str) -> Vec<Line<'_>> {
    let mut out = Vec::new();
    for part in svg.split("<line ").skip(1) {
        let ends = ["x1", "y1", "x2", "y2"].map(|name| number(part, name));
        if let (Some(class), [Some(a), Some(b), Some(c), Some(d)]) =
            (attribute(part, "class"), ends)
            && !matches!(class, "grid" | "leader" | "band-edge")
        {
            out.push((class, (a, b), (c, d)));
        }
    }
    for part in svg.split("<polyline ").skip(1) {
        let (Some(class), Some(points)) = (attribute(part, "class"), attribute(part, "points"))
        else {
            continue;
        };
        let each = points.split(' ').filter_map(|p| {
            let (x, y) = p.split_once(',')?;
            Some((x.parse().ok()?, y.parse().ok()?))
        });
        let points: Vec<(f64, f64)> = each.collect();
        out.extend(points.windows(2).map(|w| (class, w[0], w[1])));
    }
    out
}

fn number(head: &str, name: &str) -> Option<f64> {
    attribute(head, name)?.parse().ok()
}

fn attribute<'s>(head: &'s str, name: &str) -> Option<&'s str> {
    let head = head.split('>').next()?;
    between(head, &format!("{name}=\""), "\"")
}

fn between<'s>(text: &'s str, from: &str, to: &str) -> Option<&'s str> {
    text.split_once(from)?.1.split_once(to).map(|s| s.0)
}

fn plain(text: &str) -> String {
    let text = text.replace("&lt;", "<").replace("&gt;", ">");
    text.replace("&quot;", "\"").replace("&amp;", "&")
}

mod tests {
    use super::*;
    use crate::draw::svg::Canvas;

    #[test]
    fn words_over_words_and_words_on_lines_are_found() {
        let mut canvas = Canvas::new(100.0, 50.0, "t", "d");
        canvas.text("label", Anchor::Start, 5.0, 20.0, "abc");
        assert_eq!(faults(&canvas.finish()), Vec::<String>::new());

        let mut canvas = Canvas::new(100.0, 50.0, "t", "d");
        canvas.text("label", Anchor::Start, 5.0, 20.0, "abc");
        canvas.text("label", Anchor::Start, 8.0, 22.0, "def");
        canvas.line("axis", [6.0, 0.0, 6.0, 50.0]);
        canvas.text("label", Anchor::Start, 90.0, 40.0, "out of the page");
        let found = faults(&canvas.finish());
        assert_eq!(found.len(), 3, "{found:?}");
    }
}
