//! `cargo xtask catalog`: the built-in cells, made from published figures.

use std::path::Path;

use lastvolt_core::device::CellModel;
use lastvolt_input::written::{cell_text, quote};

use crate::cells::{Cell, Looks, cells};

/// The file that is made.
pub(crate) const FILE: &str = "crates/lastvolt-input/catalog/cells.toml";

const HEAD: &str = "\
# Built-in cells, made by `cargo xtask catalog` from the published figures in `sources/`. Do not edit:
# change the figures, `sources/recipes.toml` or `sources/shapes.toml`, and make it again.
#
# An entry with `class = true` stands for cells of its size and chemistry and not for one maker's; an entry
# with a maker's name is that maker's cell as its data sheet of the time draws it. Each was fitted to every
# line that says `fit` or `held`; docs/accuracy.md shows how well fits to the first alone predict the second.
";

/// The text of the catalog of cells.
pub(crate) fn text(root: &Path) -> Result<String, String> {
    let mut text = HEAD.to_owned();
    for cell in cells(root, Looks::AtAll)? {
        text.push('\n');
        text.push_str(&entry(&cell, None, &cell.class()));
        for maker in cell.recipe.makers() {
            let unit = cell.measured.units.iter().position(|u| *u == maker);
            let unit = unit.ok_or_else(|| format!("{}: no tests of {maker}", cell.recipe.name))?;
            text.push('\n');
            text.push_str(&entry(&cell, Some(unit), &cell.fitted.units[unit]));
        }
    }
    Ok(text)
}

fn entry(cell: &Cell, unit: Option<usize>, model: &CellModel) -> String {
    let recipe = &cell.recipe;
    let maker = unit.map(|u| cell.measured.units[u].as_str());
    let name = maker.map_or(recipe.name.clone(), |m| {
        format!("{}-{}", recipe.name, m.replace(' ', "-"))
    });
    let summary = maker.map_or(recipe.text("summary").to_owned(), |m| {
        format!("{}, as {m} publishes it", recipe.text("summary"))
    });
    let (readings, tests) = cell.looked_at(unit);
    let of = maker.map_or_else(|| cell.measured.units.join(", "), str::to_owned);
    let source = format!(
        "fitted to {readings} published readings in {tests} tests of {of}; {}",
        recipe.from(cell.turned())
    );
    let confidence = if maker.is_some() {
        "data-sheet"
    } else {
        "typical"
    };
    let mut head = Vec::new();
    if maker.is_none() {
        head.push(("class", "true".to_owned()));
    }
    head.push(("summary", quote(&summary)));
    head.push(("chemistry", quote(recipe.text("chemistry"))));
    for key in ["mass", "size", "operating", "cautions", "thin", "sources"] {
        head.extend(recipe.written(key).map(|value| (key, value)));
    }
    head.push(("source", quote(&source)));
    head.push(("confidence", quote(confidence)));
    cell_text(&name, &head, model)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_catalog_is_what_its_sources_say() {
        let root = crate::root();
        let made = text(root).expect("the sources are whole");
        let kept = std::fs::read_to_string(root.join(FILE)).expect("the catalog is there");
        let differs = made.lines().zip(kept.lines()).find(|(a, b)| a != b);
        assert_eq!(differs, None, "run `cargo xtask catalog`");
        assert_eq!(made.lines().count(), kept.lines().count());
    }
}
