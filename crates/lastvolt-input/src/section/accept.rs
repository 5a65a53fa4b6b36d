//! `[[accept]]` of a board or of the family: findings that are known and meant to be so.

use std::collections::BTreeSet;

use lastvolt_core::model::Accept;
use lastvolt_core::review::rules::RULES;

use crate::diagnostic::Problem;
use crate::document::{Field, Fields, Reader, Table, Value};
use crate::place::Spot;
use crate::suggest::quoted;

const RULE: Field = Field::text("rule", "the review rule whose findings are meant")
    .required()
    .example("\"idle-thief\"");
const PARTS: Field = Field::names(
    "parts",
    "the parts or loads that the findings may be about, and no others; in `family.toml` of any board, or of one as `board/NAME`",
)
.otherwise("all findings of the rule on this board, in `family.toml` on every board")
.example("[\"R1\", \"R2\"]");
const BECAUSE: Field = Field::text(
    "because",
    "why they are fine; shown wherever they are listed",
)
.required()
.example("\"the divider also feeds the level input\"");

/// The fields of the table.
pub(crate) const FIELDS: &[Field] = &[RULE, PARTS, BECAUSE];

/// The key of the tables.
pub(crate) const KEY: &str = "accept";

/// A file that may accept findings.
pub(crate) struct Source<'t> {
    /// Stem of the board; none for the family.
    pub(crate) board: Option<&'t str>,
    /// The file.
    pub(crate) tree: &'t Table,
}

/// Accepts, each with its place.
pub(crate) type Accepts = Vec<(Accept, Spot)>;

/// Reads the accepts of all files, the family's first.
pub(crate) fn read<'t>(reader: Reader<'t>, sources: &[Source<'t>]) -> Accepts {
    let mut accepts = Accepts::new();
    for source in sources {
        let Some(value) = source.tree.get(KEY) else {
            continue;
        };
        let items = reader.list(
            value,
            KEY,
            "a list of tables, each written as `[[accept]]`,",
        );
        for item in items.unwrap_or(&[]) {
            accepts.extend(accept(reader, item, source, sources));
        }
    }
    warn_of_pairs(reader, &accepts);
    accepts
}

fn accept<'t>(
    reader: Reader<'t>,
    item: &'t Value,
    source: &Source<'_>,
    sources: &[Source<'_>],
) -> Option<(Accept, Spot)> {
    let table = reader.table(item, KEY)?;
    let f = Fields::of(reader, table, FIELDS, &item.spot, "`[[accept]]`");
    let rule = f.text(&RULE);
    let because = f.text(&BECAUSE);
    let spot = f.get(RULE.key).map_or(&item.spot, |v| &v.spot).clone();
    if let Some(rule) = rule
        && RULES.iter().all(|r| r.id() != rule)
    {
        let known: Vec<&str> = RULES.iter().map(|r| r.id()).collect();
        reader.unknown_name(&spot, "rule", rule, known);
    }
    if let Some(value) = f.get(BECAUSE.key)
        && because.is_some_and(|b| b.trim().is_empty())
    {
        let says = "`because` is empty, a reason is needed";
        let problem = Problem::new("empty-reason", value.spot.clone(), says);
        reader.report(problem.label("no reason"));
    }
    let parts = parts(&f, source, sources);
    let accept = Accept {
        rule: rule?.to_owned(),
        board: source.board.map(str::to_owned),
        parts,
        because: because?.trim().to_owned(),
    };
    Some((accept, spot))
}

/// The parts, each of which must be on the board, or on some board where the family accepts.
fn parts(f: &Fields<'_>, source: &Source<'_>, sources: &[Source<'_>]) -> Vec<String> {
    let named = f.names(&PARTS);
    if let Some(value) = f.get(PARTS.key).filter(|v| v.items().is_empty()) {
        let says = "`parts` lists no part: name them, or leave it out for all findings of the rule";
        let problem = Problem::new("wrong-length", value.spot.clone(), says);
        f.reader.report(problem.label("no part"));
    }
    let known = known(source, sources);
    let mut parts = Vec::new();
    for (name, spot) in named {
        if !known.contains(name) {
            let what = "part or load";
            let names: Vec<&str> = known.iter().map(String::as_str).collect();
            f.reader.unknown_name(spot, what, name, names);
        }
        parts.push(name.to_owned());
    }
    parts
}

/// Names of parts and loads as they stand in the tables, so that a part with a mistake in it is no
/// unknown part here.
fn known(source: &Source<'_>, sources: &[Source<'_>]) -> BTreeSet<String> {
    let mut known = BTreeSet::new();
    let shared: Vec<&str> = sources
        .iter()
        .filter(|s| s.board.is_none())
        .flat_map(|s| names(s.tree))
        .collect();
    for other in sources {
        let Some(board) = other.board else { continue };
        if source.board.is_none_or(|own| own == board) {
            for name in names(other.tree).chain(shared.iter().copied()) {
                known.insert(name.to_owned());
                if source.board.is_none() {
                    known.insert(format!("{board}/{name}"));
                }
            }
        }
    }
    known
}

fn names(tree: &Table) -> impl Iterator<Item = &str> {
    let tables = ["parts", "loads"].into_iter();
    let tables = tables.filter_map(|key| tree.get(key).and_then(Value::as_table));
    tables.flat_map(|t| t.entries.iter().map(|e| e.key.as_str()))
}

/// Warns of accepts of the same findings: of two reasons, only the first is shown.
fn warn_of_pairs(reader: Reader<'_>, accepts: &Accepts) {
    for (at, (accept, spot)) in accepts.iter().enumerate() {
        let same = |(first, _): &&(Accept, Spot)| {
            first.rule == accept.rule && reach(first) == reach(accept)
        };
        let Some((first, first_spot)) = accepts[..at].iter().find(same) else {
            continue;
        };
        let rule = quoted(&accept.rule);
        let (code, says) = if first.because == accept.because {
            let says = format!("these findings of {rule} are accepted twice");
            ("duplicate-accept", says)
        } else {
            let says = format!(
                "these findings of {rule} are accepted twice, with different reasons; the first is shown"
            );
            ("contradictory-accept", says)
        };
        let problem = Problem::new(code, spot.clone(), says)
            .label("second one")
            .related(first_spot.clone(), "first one");
        reader.report(problem.warning());
    }
}

/// What an accept is about, written the same from the family and from a board.
fn reach(accept: &Accept) -> BTreeSet<String> {
    let board = accept.board.as_deref().unwrap_or("*");
    if accept.parts.is_empty() {
        return BTreeSet::from([format!("{board}/*")]);
    }
    let full = |part: &String| match part.contains('/') {
        true => part.clone(),
        false => format!("{board}/{part}"),
    };
    accept.parts.iter().map(full).collect()
}
