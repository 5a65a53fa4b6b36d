//! Entries between brackets or braces: one more at the end, one less, commas and remarks looked after.

use std::ops::Range;

/// A stretch of a text and what goes in its place.
pub(super) type Cut = (Range<usize>, String);

/// The text with every cut made; cuts do not overlap.
pub(super) fn cut(text: &str, mut cuts: Vec<Cut>) -> String {
    cuts.sort_by_key(|c| (c.0.start, c.0.end));
    let mut out = String::with_capacity(text.len() + 64);
    let mut at = 0;
    for (range, put) in cuts {
        out.push_str(&text[at..range.start]);
        out.push_str(&put);
        at = range.end;
    }
    out.push_str(&text[at..]);
    out
}

/// Puts an item behind those that stand between two brackets; `whole` has the brackets in it.
pub(super) fn append(
    text: &str,
    whole: &Range<usize>,
    items: &[Range<usize>],
    put: &str,
) -> Vec<Cut> {
    let inner = whole.start + 1..whole.end - 1;
    let Some(last) = items.last() else {
        let braces = text[whole.start..].starts_with('{');
        let (before, after) = match (braces, text[inner.clone()].is_empty()) {
            (true, true) => (" ", " "),
            (true, false) => (" ", ""),
            (false, _) => ("", ""),
        };
        return vec![(inner.start..inner.start, format!("{before}{put}{after}"))];
    };
    let own_line = |at: usize| text[line_start(text, at)..at].trim().is_empty();
    if !own_line(last.start) {
        return vec![(last.end..last.end, format!(", {put}"))];
    }
    let start = line_start(text, last.start);
    let indent = &text[start..last.start];
    let newline = newline(text, last.start);
    let put = format!("{newline}{indent}{put}");
    match comma(text, last.end, inner.end) {
        Some(comma) => {
            let at = line_rest(text, comma + 1, inner.end).unwrap_or(comma + 1);
            vec![(at..at, format!("{put},"))]
        }
        None => match line_rest(text, last.end, inner.end) {
            Some(at) if at < inner.end => vec![(last.end..last.end, ",".to_owned()), (at..at, put)],
            _ => vec![(last.end..last.end, format!(",{put}"))],
        },
    }
}

/// Takes an item out of those between two brackets.
pub(super) fn remove(
    text: &str,
    whole: &Range<usize>,
    items: &[Range<usize>],
    at: usize,
) -> Vec<Cut> {
    let inner = whole.start + 1..whole.end - 1;
    let item = &items[at];
    let drop = |range: Range<usize>| (range, String::new());
    let after = comma(text, item.end, inner.end);
    let end = after.map_or(item.end, |comma| comma + 1);
    let start = line_start(text, item.start);
    let lines = inner.start <= start && text[start..item.start].trim().is_empty();
    let mut cuts = Vec::new();
    let before = at.checked_sub(1).map(|before| &items[before]);
    let only = items.len() == 1;
    if lines && let Some(rest) = line_rest(text, end, inner.end).filter(|rest| *rest < inner.end) {
        let next = rest + newline_length(&text[rest..]);
        cuts.push(drop(start..next));
        if let (Some(before), None) = (before, after)
            && let Some(comma) = comma(text, before.end, inner.end)
        {
            cuts.push(drop(comma..comma + 1));
        }
        return cuts;
    }
    let plain = |range: &Range<usize>| !text[range.clone()].contains(['#', '\n']);
    let range = match (items.get(at + 1), before) {
        (Some(next), _) if plain(&(item.end..next.start)) => item.start..next.start,
        (None, Some(before)) if after.is_none() && plain(&(before.end..item.start)) => {
            before.end..item.end
        }
        (None, None)
            if only && plain(&(item.end..inner.end)) && plain(&(inner.start..item.start)) =>
        {
            inner
        }
        _ => item.start..end,
    };
    let dangling = before.filter(|b| after.is_none() && b.end < range.start);
    cuts.push(drop(range));
    if let Some(comma) = dangling.and_then(|b| comma(text, b.end, item.start)) {
        cuts.push(drop(comma..comma + 1));
    }
    cuts
}

/// The comma behind an item, blanks and remarks passed over.
fn comma(text: &str, from: usize, to: usize) -> Option<usize> {
    let mut at = from;
    while at < to {
        match text.as_bytes()[at] {
            b',' => return Some(at),
            b' ' | b'\t' | b'\r' | b'\n' => at += 1,
            b'#' => at += text[at..to].find('\n')?,
            _ => return None,
        }
    }
    None
}

/// The end of the line, before its line break, if nothing but blanks and a remark stand before it.
pub(super) fn line_rest(text: &str, from: usize, to: usize) -> Option<usize> {
    let end = text[from..to].find('\n').map_or(to, |n| from + n);
    let end = if end < to && text[from..end].ends_with('\r') {
        end - 1
    } else {
        end
    };
    let rest = text[from..end].trim_start_matches([' ', '\t']);
    (rest.is_empty() || rest.starts_with('#')).then_some(end)
}

/// Where the line of a place starts; a byte order mark belongs to no line.
pub(super) fn line_start(text: &str, at: usize) -> usize {
    match text[..at].rfind('\n') {
        Some(n) => n + 1,
        None if text.starts_with(MARK) => MARK.len_utf8().min(at),
        None => 0,
    }
}

/// The byte order mark.
pub(super) const MARK: char = '\u{feff}';

/// How lines break before a place, or else in the text.
pub(super) fn newline(text: &str, at: usize) -> &'static str {
    let near = text[..at].rfind('\n').or_else(|| text.find('\n'));
    match near {
        Some(n) if text[..n].ends_with('\r') => "\r\n",
        _ => "\n",
    }
}

/// Bytes of the line break that a text starts with.
pub(super) fn newline_length(text: &str) -> usize {
    match text.as_bytes() {
        [b'\r', b'\n', ..] => 2,
        [b'\n', ..] => 1,
        _ => 0,
    }
}
