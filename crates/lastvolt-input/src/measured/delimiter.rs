//! What a file is: points or a log, where its header stands, and what separates its columns.

use super::Options;
use super::columns::{POINTS, Role, candidates};
use super::problem::Slip;
use super::table::{Table, split};
use crate::suggest::{listed, nearest, quoted};

/// What a file holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// Published points.
    Points,
    /// A recorded discharge.
    Log,
}

/// Lines among which the header is looked for.
const SEARCHED: usize = 60;

/// Bytes of a line that are looked at.
const LONGEST: usize = 4096;

const DELIMITERS: [u8; 3] = [b',', b';', b'\t'];

/// How well a line serves as a header.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Fit {
    kind: Kind,
    score: usize,
    full: bool,
}

/// Finds the header of a file.
///
/// # Errors
/// A file that is neither points nor a log.
pub(super) fn find<'t>(
    file: usize,
    text: &'t str,
    options: &Options,
) -> Result<(Kind, Table<'t>), Slip> {
    let mut best: Option<(Fit, Table<'t>)> = None;
    let mut first = None;
    let mut at = if text.starts_with('\u{feff}') { 3 } else { 0 };
    let mut n_lines = 0;
    for line in text[at..].split_inclusive('\n') {
        let start = at;
        at += line.len();
        let comment = line.starts_with('#');
        let hidden = line.len() - line.trim_start_matches('#').len();
        let line = cut(line[hidden..].trim_end_matches(['\r', '\n']));
        if line.trim().is_empty() {
            continue;
        }
        if !comment && first.is_none() {
            first = Some((start, line));
        }
        n_lines += 1;
        if n_lines > SEARCHED {
            break;
        }
        for delimiter in DELIMITERS {
            let Some(fit) = fit(line, delimiter, options).filter(|f| f.full || !comment) else {
                continue;
            };
            let better = |best: &Fit| (best.full, best.score) < (fit.full, fit.score);
            if best.as_ref().is_none_or(|(best, _)| better(best)) {
                let table = Table {
                    file,
                    text,
                    delimiter,
                    header: start + hidden,
                    body: at,
                };
                best = Some((fit, table));
            }
        }
        if best.as_ref().is_some_and(|(best, _)| best.full) {
            break;
        }
    }
    match best {
        Some((fit, table)) => Ok((fit.kind, table)),
        None => Err(first.map_or_else(empty, |(start, line)| none(start, line))),
    }
}

fn cut(line: &str) -> &str {
    let mut end = line.len().min(LONGEST);
    while !line.is_char_boundary(end) {
        end -= 1;
    }
    &line[..end]
}

fn fit(line: &str, delimiter: u8, options: &Options) -> Option<Fit> {
    let record = split(line, delimiter);
    let names: Vec<&str> = record.iter().map(str::trim).collect();
    let has = |name: &str| {
        let theirs = options.column(name).unwrap_or(name);
        names.iter().any(|n| n.eq_ignore_ascii_case(theirs))
    };
    let points = POINTS.iter().filter(|name| has(name)).count();
    if has("quantity") && has("value") {
        return Some(Fit {
            kind: Kind::Points,
            score: points,
            full: true,
        });
    }
    let is = |role| usize::from(!candidates(&names, role, options).is_empty());
    let (time, volts, amps) = (is(Role::Time), is(Role::Volts), is(Role::Amps));
    let by_load = usize::from(options.load.is_some());
    let log = Fit {
        kind: Kind::Log,
        score: time + volts + amps,
        full: time + volts + amps.max(by_load) == 3,
    };
    let points = Fit {
        kind: Kind::Points,
        score: points,
        full: false,
    };
    let chosen = if log.full || points.score < log.score + 1 {
        log
    } else {
        points
    };
    (chosen.score >= 2).then_some(chosen)
}

fn empty() -> Slip {
    Slip::new("empty-file", 0..0, "the file is empty").proposal(
        "a file of points has columns `quantity` and `value`, a log has time, volts and amps",
    )
}

fn none(start: usize, line: &str) -> Slip {
    let whole = start..start + line.len();
    let delimiter = DELIMITERS
        .into_iter()
        .max_by_key(|d| (split(line, *d).len(), *d == b','))
        .unwrap_or(b',');
    let record = split(line, delimiter);
    let numeric = |field: &str| {
        let field = field.trim().replace(',', ".");
        field.parse::<f64>().is_ok()
    };
    if record.len() > 1 && record.iter().any(numeric) {
        let says = "the file begins with figures, a line of column names is needed above them";
        return Slip::new("no-header", whole, says)
            .label("figures, no names")
            .proposal("put for instance `time_s,volts,amps` above them");
    }
    let says = format!(
        "no line of column names is found; the file begins with {}",
        listed(record.iter().map(str::trim).map(shortened))
    );
    let mut slip = Slip::new("unknown-table", whole, says).label("not known");
    let words = POINTS.iter().copied();
    let words: Vec<&str> = words
        .chain(["time", "volts", "amps", "voltage", "current"])
        .collect();
    let near = |field: &str| {
        let base = field.split(['_', '(', '[', '/']).next().unwrap_or(field);
        let found = nearest(base.trim(), words.iter().copied())?;
        Some(format!("{} may be `{found}`", quoted(field.trim())))
    };
    let near: Vec<String> = record.iter().filter_map(near).collect();
    let mut proposal = "a file of points has columns `quantity` and `value`, a log has a time, a voltage and a current such as `time_s`, `volts`, `current_mA`".to_owned();
    if !near.is_empty() {
        proposal.push_str("; ");
        proposal.push_str(&near.join(", "));
    }
    slip.proposal = Some(proposal);
    slip
}

fn shortened(name: &str) -> &str {
    let end = name.char_indices().nth(40).map_or(name.len(), |c| c.0);
    &name[..end]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(text: &str) -> (Kind, u8, &str) {
        let (kind, table) = find(0, text, &Options::default()).expect(text);
        let header = &text[table.header..table.body];
        (kind, table.delimiter, header.trim_end())
    }

    #[test]
    fn headers_are_found_with_their_delimiter() {
        let cases = [
            ("time_s,volts,amps\n", Kind::Log, b',', "time_s,volts,amps"),
            (
                "time (h);Voltage (V);Current (mA)",
                Kind::Log,
                b';',
                "time (h);Voltage (V);Current (mA)",
            ),
            (
                "\u{feff}t/s\tU/V\tI/A\r\n1\t2\t3",
                Kind::Log,
                b'\t',
                "t/s\tU/V\tI/A",
            ),
            ("quantity,value\n", Kind::Points, b',', "quantity,value"),
            (
                "# note\n\nLogger 7, channel 2\nsep=,\ntime,volts,amps\n",
                Kind::Log,
                b',',
                "time,volts,amps",
            ),
            (
                "# time_s,volts,amps\n0,3,0.1\n",
                Kind::Log,
                b',',
                " time_s,volts,amps",
            ),
        ];
        for (text, kind, delimiter, header) in cases {
            assert_eq!(found(text), (kind, delimiter, header));
        }
    }

    #[test]
    fn files_that_are_neither_are_told_apart() {
        let code = |text: &str| find(0, text, &Options::default()).expect_err(text).code;
        assert_eq!(code(""), "empty-file");
        assert_eq!(code("# only a note\n"), "empty-file");
        assert_eq!(code("0,3.1,0.1\n1,3.0,0.1\n"), "no-header");
        assert_eq!(code("foo,bar\n1,2\n"), "unknown-table");
    }
}
