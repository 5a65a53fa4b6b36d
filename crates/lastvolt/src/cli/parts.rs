//! `parts`: the models of the catalog and of a family, as a table or one whole.

use std::path::PathBuf;

use lastvolt_core::model::{Device, Kind};
use lastvolt_input::{CatalogEntry, Diagnostic, Text, catalog, family_models};

use crate::cli::load::{digest, load};
use crate::cli::options::Format;
use crate::cli::resolve::nearest;
use crate::failure::{COMMAND_LINE, FINE, Failure};
use crate::output::{json, print};
use crate::text;
use crate::text::number::listed;
use crate::text::paint::Paint;
use crate::view::{Document, PartView, PartsView};

/// Models that parts can be made after: a table of all, or some whole with their curves
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// Models to show whole [default: a table of all]
    #[arg(value_name = "NAME")]
    name: Vec<String>,
    /// Only models of this kind: cell, diode, boost and so on
    #[arg(long, value_name = "KIND", conflicts_with = "name")]
    kind: Option<String>,
    /// Only models whose name, summary, chemistry or source holds this text
    #[arg(long, value_name = "TEXT", conflicts_with = "name")]
    find: Option<String>,
    /// Models of this family too, which stand in place of built-in ones of the same name
    #[arg(long, value_name = "DIR")]
    family: Option<PathBuf>,
    /// Print the text of the models, ready to be put into a file of a family
    #[arg(long, requires = "name", conflicts_with = "format")]
    model: bool,
    /// How to answer
    #[arg(long, value_name = "FORMAT", default_value = "text")]
    format: Format,
}

/// Runs the command.
pub(crate) fn run(args: &Args) -> Result<u8, Failure> {
    let (entries, digest) = entries(args)?;
    if !args.name.is_empty() {
        let chosen = chosen(&entries, &args.name)?;
        if args.model {
            let texts: Vec<&str> = chosen.iter().map(|e| e.toml.as_str()).collect();
            print(&texts.join("\n"))?;
            return Ok(FINE);
        }
        let views = chosen.iter().map(|e| PartView::new(e, true));
        let document = document(&digest, views.collect());
        match args.format {
            Format::Json => print(&json(&document)?)?,
            Format::Text => print(&text::parts::whole(&document, Paint::for_stdout()))?,
        }
        return Ok(FINE);
    }
    let kind = args.kind.as_deref().map(kind).transpose()?;
    let wanted = args.find.as_deref().map(str::to_lowercase);
    let fits = |e: &&CatalogEntry| {
        kind.is_none_or(|k| e.kind == k) && wanted.as_deref().is_none_or(|w| holds(e, w))
    };
    let views = entries.iter().filter(fits).map(|e| PartView::new(e, false));
    let document = document(&digest, views.collect());
    match args.format {
        Format::Json => print(&json(&document)?)?,
        Format::Text => print(&text::parts::list(&document, Paint::for_stdout()))?,
    }
    Ok(FINE)
}

fn document(digest: &str, entries: Vec<PartView>) -> Document<PartsView> {
    let warnings = vec![ESTIMATE.to_owned()];
    Document::new(digest, warnings, PartsView { entries })
}

/// What no entry can be.
const ESTIMATE: &str =
    "figures of the catalog do not replace the data sheet of the part that is bought";

/// The models of the catalog, and those of the family in front; the digest of what was read.
fn entries(args: &Args) -> Result<(Vec<CatalogEntry>, String), Failure> {
    let mut all = catalog();
    let Some(dir) = &args.family else {
        let texts = all.iter().map(|e| Text {
            name: e.name.clone(),
            text: e.toml.clone(),
        });
        let digest = digest(&texts.collect::<Vec<_>>());
        return Ok((all, digest));
    };
    let family = load(dir)?;
    super::show_slips(&family);
    let mut own = family_models(&family.texts);
    all.retain(|e| own.iter().all(|o| o.name != e.name));
    own.extend(all);
    Ok((own, family.digest))
}

/// The entries of these names in the order given, each once.
fn chosen<'e>(
    entries: &'e [CatalogEntry],
    names: &[String],
) -> Result<Vec<&'e CatalogEntry>, Failure> {
    let mut chosen: Vec<&CatalogEntry> = Vec::new();
    let mut problems = Vec::new();
    for name in names {
        // Case does not matter where nobody else is meant.
        let same = entries.iter().find(|e| e.name == *name);
        let near = || entries.iter().find(|e| e.name.eq_ignore_ascii_case(name));
        match same.or_else(near) {
            Some(entry) if chosen.iter().any(|c| c.name == entry.name) => {}
            Some(entry) => chosen.push(entry),
            None => problems.push(unknown(entries, name)),
        }
    }
    if problems.is_empty() {
        return Ok(chosen);
    }
    Err(Failure::Input {
        problems,
        texts: Vec::new(),
    })
}

fn unknown(entries: &[CatalogEntry], name: &str) -> Diagnostic {
    let known: Vec<&str> = entries.iter().map(|e| e.name.as_str()).collect();
    let lower = name.to_lowercase();
    let within: Vec<String> = known
        .iter()
        .filter(|k| !lower.is_empty() && k.to_lowercase().contains(&lower))
        .map(|k| format!("`{k}`"))
        .collect();
    let proposal = match nearest(name, &known) {
        Some(near) => format!("did you mean `{near}`?"),
        None if !within.is_empty() => format!("there is {}", listed(&within)),
        None => "`lastvolt parts` lists all of them".to_owned(),
    };
    Diagnostic {
        proposal: Some(proposal),
        ..Diagnostic::of_file(
            "unknown-name",
            COMMAND_LINE,
            format!("there is no model `{name}`"),
        )
    }
}

fn kind(word: &str) -> Result<Kind, Failure> {
    if let Some(kind) = Kind::ALL.into_iter().find(|k| k.word() == word) {
        return Ok(kind);
    }
    let known: Vec<&str> = Kind::ALL.iter().map(|k| k.word()).collect();
    let proposal = match nearest(word, &known) {
        Some(near) => format!("did you mean `{near}`?"),
        None => format!("there is {}", listed(&known)),
    };
    let says = format!("`--kind`: there is no kind of part `{word}`");
    Err(Failure::of_option("unknown-name", says, Some(proposal)))
}

/// Whether a model says this somewhere; the text is in small letters.
fn holds(entry: &CatalogEntry, wanted: &str) -> bool {
    let chemistry = match &entry.device {
        Some(Device::Cell(cell)) => cell.model.chemistry.as_str(),
        _ => "",
    };
    let said = [&entry.name, &entry.summary, &entry.source, chemistry];
    let said = said
        .into_iter()
        .chain(entry.sources.iter().map(String::as_str));
    said.into_iter()
        .any(|text| text.to_lowercase().contains(wanted))
}
