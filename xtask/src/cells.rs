//! The built-in cells: what is stated of them, what was published of them, and the fits to it.

use std::fmt::Write as _;
use std::path::Path;

use lastvolt_core::device::CellModel;
use lastvolt_core::fit::{Drive, FitRequest, Fitted, Test, fit, scaled};
use lastvolt_core::model::Device;
use lastvolt_core::progress::Silent;
use lastvolt_core::quantity::Fraction;
use lastvolt_input::measured::{Measured, Options, Role, measured};
use lastvolt_input::written::{cell_text, quote};
use lastvolt_input::{Text, family_models};
use toml::{Table, Value};

/// Folder of the published figures.
pub(crate) const SOURCES: &str = "crates/lastvolt-input/catalog/sources";
/// How many places a fit starts from.
const DESCENTS: usize = 4;

/// What is stated of one cell.
pub(crate) struct Recipe {
    pub(crate) name: String,
    table: Table,
}

/// Which readings a fit looks at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Looks {
    /// Those that say `fit`.
    AtFitted,
    /// Those that say `fit` or `held`.
    AtAll,
}

/// A cell with what was published of it and what was fitted to that.
pub(crate) struct Cell {
    pub(crate) recipe: Recipe,
    pub(crate) measured: Measured,
    pub(crate) tests: Vec<Test>,
    pub(crate) fitted: Fitted,
}

/// Every built-in cell in the order of the recipes, fitted.
///
/// A cell that is like another starts from what was fitted to that one.
pub(crate) fn cells(root: &Path, looks: Looks) -> Result<Vec<Cell>, String> {
    let folder = root.join(SOURCES);
    let shapes = read(&folder.join("shapes.toml"))?;
    let mut done: Vec<Cell> = Vec::new();
    let mut waiting = recipes(&folder)?;
    let order: Vec<String> = waiting.iter().map(|r| r.name.clone()).collect();
    while !waiting.is_empty() {
        let known = |name: &str| !order.iter().any(|n| n == name);
        let ready = waiting.iter().position(|r| {
            r.like()
                .is_ok_and(|like| known(&like) || done.iter().any(|c| c.recipe.name == like))
        });
        let Some(ready) = ready else {
            return Err("some recipes are like each other in a circle, or like nothing".to_owned());
        };
        let recipe = waiting.remove(ready);
        let cell = one(&folder, &shapes, recipe, &done, looks)?;
        done.push(cell);
    }
    done.sort_by_key(|c| order.iter().position(|n| *n == c.recipe.name));
    Ok(done)
}

fn one(
    folder: &Path,
    shapes: &str,
    recipe: Recipe,
    done: &[Cell],
    looks: Looks,
) -> Result<Cell, String> {
    let name = format!("{}.csv", recipe.name);
    let text = read(&folder.join(&name))?;
    let measured = measured(&[Text { name, text }], &Options::default());
    if let Some(problem) = measured.problems.first() {
        return Err(format!("{}: {}", recipe.name, problem.says));
    }
    let mut tests = measured.tests.clone();
    if looks == Looks::AtAll {
        for origin in measured.origins.iter().filter(|o| o.role == Role::Held) {
            if let Some(reading) = origin.reading {
                tests[origin.test].readings[reading].fitted = true;
            }
        }
    }
    if let Some(unit) = recipe.scaled_to(&measured) {
        // It says how large the cell is; the shape comes from the others.
        for test in tests.iter_mut().filter(|t| t.unit == unit) {
            test.readings.iter_mut().for_each(|r| r.fitted = false);
        }
    }
    let start = start(shapes, &recipe, done)?;
    let request = FitRequest {
        start: &start,
        tests: &tests,
        units: measured.units.len(),
        descents: DESCENTS,
    };
    let fitted = fit(&request, &Silent).map_err(|e| format!("{}: {e}", recipe.name))?;
    Ok(Cell {
        recipe,
        measured,
        tests,
        fitted,
    })
}

/// The cell that a fit starts from, with what is stated.
fn start(shapes: &str, recipe: &Recipe, done: &[Cell]) -> Result<CellModel, String> {
    let mut text = shapes.to_owned();
    let like = recipe.like()?;
    if let Some(cell) = done.iter().find(|c| c.recipe.name == like) {
        let source = [("source", quote("fitted"))];
        text.push_str(&cell_text(&like, &source, &cell.fitted.model));
    }
    let _ = writeln!(text, "[models.start]\nlike = {}", quote(&like));
    for key in [
        "chemistry",
        "self_discharge",
        "ageing",
        "limits",
        "button",
        "rechargeable",
        "shelf_life",
    ] {
        if let Some(value) = recipe.table.get(key) {
            let _ = writeln!(text, "{key} = {value}");
        }
    }
    let name = "shapes.toml".to_owned();
    let models = family_models(&[Text { name, text }]);
    match models
        .into_iter()
        .find(|m| m.name == "start")
        .map(|m| m.device)
    {
        Some(Some(Device::Cell(cell))) => Ok(cell.model),
        _ => Err(format!("{}: no cell to start from", recipe.name)),
    }
}

fn recipes(folder: &Path) -> Result<Vec<Recipe>, String> {
    let text = read(&folder.join("recipes.toml"))?;
    let table: Table = text.parse().map_err(|e| format!("recipes.toml: {e}"))?;
    let cells = table.get("cells").and_then(Value::as_table);
    let cells = cells.ok_or("recipes.toml: no cells")?;
    // The file's own order, which a table of the reader does not keep.
    let mut list: Vec<(usize, Recipe)> = Vec::new();
    for (name, value) in cells {
        let table = value.as_table().ok_or("recipes.toml: no table")?.clone();
        let at = text.find(&format!("[cells.{name}]")).unwrap_or(usize::MAX);
        let name = name.clone();
        list.push((at, Recipe { name, table }));
    }
    list.sort_by_key(|entry| entry.0);
    Ok(list.into_iter().map(|entry| entry.1).collect())
}

fn read(path: &Path) -> Result<String, String> {
    std::fs::read_to_string(path).map_err(|e| format!("{}: {e}", path.display()))
}

impl Recipe {
    fn like(&self) -> Result<String, String> {
        let like = self.table.get("like").and_then(Value::as_str);
        like.map(str::to_owned)
            .ok_or_else(|| format!("{}: like nothing", self.name))
    }

    /// A text that is stated, or nothing.
    pub(crate) fn text(&self, key: &str) -> &str {
        self.table.get(key).and_then(Value::as_str).unwrap_or("")
    }

    /// A value that is stated, as it is written.
    pub(crate) fn written(&self, key: &str) -> Option<String> {
        self.table.get(key).map(Value::to_string)
    }

    /// Makers whose cells have an entry of their own.
    pub(crate) fn makers(&self) -> Vec<String> {
        let list = self.table.get("makers").and_then(Value::as_array);
        let texts = list.into_iter().flatten().filter_map(Value::as_str);
        texts.map(str::to_owned).collect()
    }

    /// The maker whose tests say how large the cell is, where the others are of another size.
    pub(crate) fn scaled_to(&self, measured: &Measured) -> Option<usize> {
        let maker = self.table.get("scaled_to").and_then(Value::as_str)?;
        measured.units.iter().position(|unit| unit == maker)
    }

    /// Where what is stated comes from: `key: source`, one after another. Of keys that were turned it
    /// says where the fit began.
    pub(crate) fn from(&self, turned: &[&str]) -> String {
        let table = self.table.get("from").and_then(Value::as_table);
        let pairs = table.into_iter().flatten();
        let begun = |key: &str| {
            if turned.contains(&key) {
                " fitted, begun from:"
            } else {
                ""
            }
        };
        let pairs = pairs.filter_map(|(key, value)| {
            Some(format!(
                "{}:{} {}",
                key.replace('_', " "),
                begun(key),
                value.as_str()?
            ))
        });
        pairs.collect::<Vec<_>>().join("; ")
    }
}

impl Cell {
    /// What is stated and was turned by the fit all the same, since tests of aged cells say it.
    pub(crate) fn turned(&self) -> &'static [&'static str] {
        let aged = |t: &Test| t.age.as_secs() > 0.0 && t.is_fitted();
        if self.tests.iter().any(aged) {
            &["self_discharge", "ageing"]
        } else {
            &[]
        }
    }

    /// How many readings a fit looked at, in how many tests.
    pub(crate) fn looked_at(&self, unit: Option<usize>) -> (usize, usize) {
        let of_unit = |t: &&Test| unit.is_none_or(|u| t.unit == u);
        let counts = self.tests.iter().filter(of_unit).map(|t| match &t.drive {
            Drive::Log(log) => log.len(),
            Drive::Duty(_) | Drive::Rest => t.readings.iter().filter(|r| r.fitted).count(),
        });
        counts
            .filter(|n| *n > 0)
            .fold((0, 0), |sum, n| (sum.0 + n, sum.1 + 1))
    }

    /// The cell between makers, with the spread between makers on top of that within one.
    pub(crate) fn class(&self) -> CellModel {
        let mut model = self.fitted.model.clone();
        if let Some(unit) = self.recipe.scaled_to(&self.measured) {
            let own = self.measured.tests.iter().filter(|t| t.unit == unit);
            return scaled(&model, &own.cloned().collect::<Vec<_>>());
        }
        let both = |within: Fraction, between: Fraction| {
            let (a, b) = (within.as_share(), between.as_share());
            let share = (a * a + b * b).sqrt();
            // Whole percents: no more is known of a spread.
            Fraction::from_share((share * 100.0).round() / 100.0)
        };
        if self.fitted.fitted_units.len() > 1 {
            let between = &self.fitted.between;
            model.spread.charge = both(model.spread.charge, between.charge);
            model.spread.resistance = both(model.spread.resistance, between.resistance);
        }
        model
    }
}
