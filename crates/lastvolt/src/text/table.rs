//! Aligned plain-text tables: columns as wide as their widest entry, two spaces apart.

/// How the entries of a column stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Align {
    /// Words.
    Left,
    /// Figures.
    Right,
}

/// Widest entry that a column is widened for; longer ones push the rest of their line.
const WIDEST: usize = 48;

/// A table in the making.
#[derive(Debug, Clone)]
pub(crate) struct Table {
    align: Vec<Align>,
    head: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// A table with these columns.
    pub(crate) fn new(columns: &[(&str, Align)]) -> Self {
        Self {
            align: columns.iter().map(|c| c.1).collect(),
            head: columns.iter().map(|c| c.0.to_owned()).collect(),
            rows: Vec::new(),
        }
    }

    /// Adds a row, one entry a column.
    pub(crate) fn row(&mut self, entries: impl IntoIterator<Item = String>) {
        self.rows.push(entries.into_iter().collect());
    }

    /// The lines, head first, each behind `indent` spaces; columns without any entry are left out.
    pub(crate) fn lines(&self, indent: usize) -> Vec<String> {
        let used: Vec<usize> = (0..self.head.len())
            .filter(|&c| self.rows.iter().any(|r| !entry(r, c).is_empty()))
            .collect();
        let width = |c: usize| {
            let rows = self.rows.iter().map(|r| wide(entry(r, c)));
            let widest = rows.max().unwrap_or(0).min(WIDEST);
            widest.max(wide(&self.head[c]))
        };
        let widths: Vec<usize> = used.iter().map(|&c| width(c)).collect();
        std::iter::once(&self.head)
            .chain(&self.rows)
            .map(|row| {
                let mut line = " ".repeat(indent);
                for (&c, &width) in used.iter().zip(&widths) {
                    let text = entry(row, c);
                    let gap = " ".repeat(width.saturating_sub(wide(text)));
                    match self.align[c] {
                        Align::Left => line.extend([text, &gap, "  "]),
                        Align::Right => line.extend([&gap, text, "  "]),
                    }
                }
                line.trim_end().to_owned()
            })
            .collect()
    }
}

fn entry(row: &[String], column: usize) -> &str {
    row.get(column).map_or("", String::as_str)
}

fn wide(text: &str) -> usize {
    text.chars().count()
}

/// Text broken into lines of at most `width` characters, at spaces.
pub(crate) fn wrapped(text: &str, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        if !line.is_empty() && wide(&line) + 1 + wide(word) > width {
            lines.push(std::mem::take(&mut line));
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(word);
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_stand_right_and_words_left() {
        let mut table = Table::new(&[
            ("net", Align::Left),
            ("volts", Align::Right),
            ("none", Align::Left),
        ]);
        table.row(["VDD".into(), "3.28 V".into(), String::new()]);
        table.row(["BATTERY".into(), "-450 mV".into(), String::new()]);
        let expected = ["net        volts", "VDD       3.28 V", "BATTERY  -450 mV"];
        assert_eq!(table.lines(0), expected);
    }

    #[test]
    fn words_wrap_at_spaces() {
        assert_eq!(wrapped("one two  three", 7), ["one two", "three"]);
        assert_eq!(wrapped("unbreakable", 4), ["unbreakable"]);
    }
}
