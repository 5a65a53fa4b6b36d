//! `[family]`: its name and its boards, and the tables that `family.toml` may have.

use super::check_name;
use crate::diagnostic::Problem;
use crate::document::{Field, Fields};
use crate::place::Spot;
use crate::suggest::quoted;

const NAME: Field = Field::text("name", "name of the family, for people")
    .default("")
    .example("\"Frost beacon supplies\"");
const BOARDS: Field = Field::names("boards", "files of the boards, relative to the folder of the family; a board's name is the stem of its file")
    .required()
    .example("[\"coin.toml\", \"two-cell.toml\"]");

/// The fields of the table.
pub(crate) const FIELDS: &[Field] = &[NAME, BOARDS];

/// The tables that `family.toml` may have.
pub(crate) const TABLES: &[Field] = &[
    Field::table("family", FIELDS, "name and boards")
        .required()
        .example("{ boards = [\"coin.toml\"] }"),
    Field::table(
        "requirement",
        super::requirement::FIELDS,
        "what the boards must reach and where they live",
    ),
    Field::table(
        "connector",
        super::connector::FIELDS,
        "the pins that every board shares",
    )
    .required()
    .example("{ pins = [\"VDD\", \"GND\"] }"),
    Field::other("loads", "tables `[loads.NAME]`", "what the boards feed"),
    Field::other(
        "profiles",
        "tables `[profiles.NAME]`",
        "what the loads do over time",
    ),
    Field::other("models", "tables `[models.NAME]`", "models of parts"),
    Field::other(
        super::accept::KEY,
        "tables `[[accept]]`",
        "findings that are known and meant to be so",
    ),
];

/// What `[family]` says.
#[derive(Default)]
pub(crate) struct Head<'t> {
    /// Its name.
    pub(crate) name: &'t str,
    /// Files of its boards, each with its stem and place.
    pub(crate) boards: Vec<(&'t str, String, Spot)>,
}

/// Reads the table.
pub(crate) fn read<'t>(f: &Fields<'t>) -> Head<'t> {
    let name = f.text(&NAME).unwrap_or("");
    let mut boards: Vec<(&str, String, Spot)> = Vec::new();
    let listed = f.names(&BOARDS);
    if let Some(value) = f.get(BOARDS.key).filter(|_| listed.is_empty()) {
        let says = "`boards` lists no board, one at least is needed";
        f.reader
            .report(Problem::new("wrong-length", value.spot.clone(), says).label("no board"));
    }
    for (file, spot) in listed {
        let at = f.reader.inner(spot, file, 0..file.len());
        let Some(stem) = stem(file) else {
            let says = format!(
                "{} is not the name of a board file: a relative path that ends in `.toml` is needed",
                quoted(file)
            );
            f.reader
                .report(Problem::new("bad-file-name", at, says).label("not a board file"));
            continue;
        };
        if !check_name(f.reader, &at, stem, "board") {
            continue;
        }
        if let Some(first) = boards.iter().find(|b| b.1 == stem) {
            let says = format!("two boards are called `{stem}`");
            let problem = Problem::new("duplicate-name", at, says)
                .label("second one")
                .related(first.2.clone(), "first one");
            f.reader.report(problem);
            continue;
        }
        boards.push((file, stem.to_owned(), at));
    }
    Head { name, boards }
}

/// The stem of a board file; none if the name is not one that may be loaded.
pub(crate) fn stem(file: &str) -> Option<&str> {
    let path = file.strip_suffix(".toml")?;
    let plain = !path.contains('\\')
        && !path.contains(':')
        && path
            .split('/')
            .all(|step| !step.is_empty() && step != "." && step != "..");
    let stem = path.rsplit('/').next()?;
    (plain && file != "family.toml" && file.len() <= 200).then_some(stem)
}
