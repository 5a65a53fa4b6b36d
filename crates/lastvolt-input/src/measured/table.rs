//! Rows of a table of text, each with its true place: quotes, comments and blank lines are allowed.

use std::ops::Range;

use csv::{Reader, ReaderBuilder, StringRecord};

/// A text split at a delimiter.
#[derive(Debug, Clone, Copy)]
pub(super) struct Table<'t> {
    /// Number of the text.
    pub(super) file: usize,
    /// The text.
    pub(super) text: &'t str,
    /// What separates its columns.
    pub(super) delimiter: u8,
    /// First byte of the header.
    pub(super) header: usize,
    /// First byte after the header.
    pub(super) body: usize,
}

impl<'t> Table<'t> {
    /// The fields of the header with their places.
    pub(super) fn columns(&self) -> Vec<(&'t str, Range<usize>)> {
        let spans = spans(self.text, self.header, self.delimiter);
        let text = |span: Range<usize>| (self.text.get(span.clone()).unwrap_or(""), span);
        spans.into_iter().map(text).collect()
    }

    /// The rows under the header.
    pub(super) fn rows(&self) -> Rows<'t> {
        Rows {
            text: self.text,
            from: self.body,
            reader: reader(self.text.get(self.body..).unwrap_or(""), self.delimiter),
            record: StringRecord::new(),
        }
    }

    /// The place of a field of the row that starts at a byte; the end of the row where it has fewer.
    pub(super) fn span(&self, row: usize, column: usize) -> Range<usize> {
        let spans = spans(self.text, row, self.delimiter);
        let end = spans.last().map_or(row, |last| last.end);
        spans.get(column).cloned().unwrap_or(end..end)
    }

    /// The place of a whole row.
    pub(super) fn whole(&self, row: usize) -> Range<usize> {
        let spans = spans(self.text, row, self.delimiter);
        row..spans.last().map_or(row, |last| last.end)
    }
}

fn reader(text: &str, delimiter: u8) -> Reader<&[u8]> {
    ReaderBuilder::new()
        .delimiter(delimiter)
        .has_headers(false)
        .flexible(true)
        .comment(Some(b'#'))
        .from_reader(text.as_bytes())
}

/// Walks over the rows of a table.
pub(super) struct Rows<'t> {
    text: &'t str,
    from: usize,
    reader: Reader<&'t [u8]>,
    record: StringRecord,
}

impl Rows<'_> {
    /// The next row that holds anything, with its first byte.
    pub(super) fn next(&mut self) -> Option<(usize, &StringRecord)> {
        loop {
            if !self.reader.read_record(&mut self.record).unwrap_or(false) {
                return None;
            }
            let filled = self.record.iter().any(|field| !field.trim().is_empty());
            let comment = self.record.get(0).unwrap_or("");
            if filled && !comment.trim_start().starts_with('#') {
                break;
            }
        }
        let byte = self.record.position().map_or(0, csv::Position::byte);
        let start = self.from + usize::try_from(byte).unwrap_or(0);
        Some((first_byte(self.text, start), &self.record))
    }
}

/// The fields of one line.
pub(super) fn split(line: &str, delimiter: u8) -> StringRecord {
    let mut record = StringRecord::new();
    let mut reader = ReaderBuilder::new()
        .delimiter(delimiter)
        .has_headers(false)
        .flexible(true)
        .from_reader(line.as_bytes());
    if reader.read_record(&mut record).is_err() {
        record.clear();
    }
    record
}

/// First byte of the row at or after `at`: line ends and comment lines are passed over.
fn first_byte(text: &str, mut at: usize) -> usize {
    let bytes = text.as_bytes();
    while let Some(byte) = bytes.get(at) {
        match byte {
            b'\r' | b'\n' => at += 1,
            b'#' => at += line_len(&bytes[at..]),
            _ => break,
        }
    }
    at
}

fn line_len(bytes: &[u8]) -> usize {
    bytes
        .iter()
        .position(|b| *b == b'\n')
        .unwrap_or(bytes.len())
}

/// The places of the fields of a row, without quotes and blanks around them.
fn spans(text: &str, start: usize, delimiter: u8) -> Vec<Range<usize>> {
    let bytes = text.as_bytes();
    let mut spans = Vec::new();
    let mut at = start;
    loop {
        let begin = at;
        let mut quotes = None;
        if bytes.get(at) == Some(&b'"') {
            at = closing_quote(bytes, at + 1);
            quotes = Some(begin + 1..at);
        }
        let ends = |b: &u8| *b == delimiter || matches!(b, b'\r' | b'\n');
        while bytes.get(at).is_some_and(|b| !ends(b)) {
            at += 1;
        }
        spans.push(trimmed(text, quotes.unwrap_or(begin..at)));
        if bytes.get(at) != Some(&delimiter) {
            return spans;
        }
        at += 1;
    }
}

fn closing_quote(bytes: &[u8], mut at: usize) -> usize {
    while at < bytes.len() {
        if bytes[at] == b'"' {
            if bytes.get(at + 1) != Some(&b'"') {
                return at;
            }
            at += 1;
        }
        at += 1;
    }
    at.min(bytes.len())
}

fn trimmed(text: &str, span: Range<usize>) -> Range<usize> {
    let field = text.get(span.clone()).unwrap_or("");
    let start = span.start + field.len() - field.trim_start().len();
    start..start + field.trim().len()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table(text: &str, delimiter: u8) -> Table<'_> {
        let body = text.find('\n').map_or(text.len(), |at| at + 1);
        Table {
            file: 0,
            text,
            delimiter,
            header: 0,
            body,
        }
    }

    #[test]
    fn rows_and_fields_have_their_true_places() {
        let text = "a;b\r\n# note; with; marks\r\n\r\n  1 ;\"x; \"\"y\"\"\";3\r\n;;\r\n 4\n";
        let table = table(text, b';');
        let mut rows = table.rows();
        let (start, record) = rows.next().expect("a row");
        assert_eq!(record.get(1), Some("x; \"y\""));
        let field = |row, column| &text[table.span(row, column)];
        assert_eq!(field(start, 0), "1");
        assert_eq!(field(start, 1), "x; \"\"y\"\"");
        assert_eq!(field(start, 2), "3");
        assert_eq!(field(start, 9), "");
        let (start, _) = rows.next().expect("another row");
        assert_eq!(field(start, 0), "4");
        assert!(rows.next().is_none());
    }

    #[test]
    fn a_quote_that_never_closes_ends_with_the_text() {
        let text = "a,b\n\"1,2\n3,4";
        let table = table(text, b',');
        let mut rows = table.rows();
        let (start, _) = rows.next().expect("a row");
        assert_eq!(table.span(start, 0), 5..text.len());
        assert!(rows.next().is_none());
    }
}
