//! The cell that a fit begins from: found by its name, and held against the voltages of the data.

use std::path::Path;

use lastvolt_core::device::CellModel;
use lastvolt_core::fit::{Amount, Drive, Test, Value};
use lastvolt_core::model::Device;
use lastvolt_core::quantity::Unit;
use lastvolt_input::measured::Measured;
use lastvolt_input::{CatalogEntry, catalog, family_models};

use crate::cli::load::load;
use crate::cli::resolve::nearest;
use crate::failure::Failure;
use crate::text::number::{figure, listed};

/// Most cells that are proposed.
const PROPOSED: usize = 5;
/// A fresh cell may stand so much above the one that it is like.
const ABOVE: f64 = 1.1;
/// The highest voltage on load stands at this share of the voltage in the middle, or above.
const BELOW: f64 = 0.78;
/// The highest voltage at which a test ends stands at this share of the voltage in the middle, or above.
const END_BELOW: f64 = 0.45;

/// A cell to begin from.
#[derive(Clone)]
pub(super) struct Like {
    pub(super) name: String,
    pub(super) model: CellModel,
    pub(super) cautions: Vec<String>,
}

/// Models of the catalog and of a family, which may serve.
pub(super) fn cells(family: Option<&Path>) -> Result<Vec<CatalogEntry>, Failure> {
    let mut all = catalog();
    if let Some(dir) = family {
        let family = load(dir)?;
        crate::cli::show_slips(&family);
        let mut own = family_models(&family.texts);
        all.retain(|e| own.iter().all(|o| o.name != e.name));
        own.extend(all);
        all = own;
    }
    Ok(all)
}

fn like_of(entry: &CatalogEntry) -> Option<Like> {
    match &entry.device {
        Some(Device::Cell(cell)) => Some(Like {
            name: entry.name.clone(),
            model: cell.model.clone(),
            cautions: entry.cautions.clone(),
        }),
        _ => None,
    }
}

/// The cell of this name, where one is stated.
pub(super) fn named(entries: &[CatalogEntry], name: Option<&str>) -> Result<Option<Like>, Failure> {
    let Some(name) = name else { return Ok(None) };
    let same = entries.iter().find(|e| e.name == name);
    let found = same.or_else(|| entries.iter().find(|e| e.name.eq_ignore_ascii_case(name)));
    if let Some(like) = found.and_then(like_of) {
        return Ok(Some(like));
    }
    let known: Vec<Like> = entries.iter().filter_map(like_of).collect();
    let known: Vec<&str> = known.iter().map(|l| l.name.as_str()).collect();
    let (code, says) = match found {
        Some(other) => {
            let what = if other.device.is_none() {
                "leaves out what a cell must bring".to_owned()
            } else {
                format!("is of the kind `{}`, not a cell", other.kind.word())
            };
            ("not-a-cell", format!("`--like {name}` {what}"))
        }
        None => (
            "unknown-name",
            format!("`--like`: there is no cell `{name}`"),
        ),
    };
    let near = nearest(name, &known).filter(|_| found.is_none());
    let proposal = match near {
        Some(near) => format!("did you mean `{near}`?"),
        None => format!("there is {}", listed(&known)),
    };
    Err(Failure::of_option(code, says, Some(proposal)))
}

/// What the data say of the voltage of a cell.
struct Seen {
    /// The highest voltage that was read.
    highest_volts: Option<f64>,
    /// The highest voltage at which a test ends.
    end_volts: Option<f64>,
    /// The largest charge that was taken out, where it is known.
    coulombs: Option<f64>,
}

impl Seen {
    fn of(measured: &Measured) -> Self {
        let mut seen = Self {
            highest_volts: None,
            end_volts: None,
            coulombs: None,
        };
        for test in &measured.tests {
            seen.take(test);
        }
        seen
    }

    fn take(&mut self, test: &Test) {
        let raise = |to: &mut Option<f64>, by: f64| *to = Some(to.map_or(by, |v| v.max(by)));
        if let Drive::Log(points) = &test.drive {
            for point in points {
                raise(&mut self.highest_volts, point.volts.as_volts());
            }
        }
        if let Some(charge) = test.drive.logged_charge() {
            raise(&mut self.coulombs, charge.as_coulombs());
        }
        for reading in &test.readings {
            match reading.value {
                Value::Service { end, amount } => {
                    raise(&mut self.end_volts, end.as_volts());
                    if let Amount::Charge(charge) = amount {
                        raise(&mut self.coulombs, charge.as_coulombs());
                    }
                }
                Value::Volts { volts, .. }
                | Value::Rest { volts, .. }
                | Value::Pulse { volts, .. } => {
                    raise(&mut self.highest_volts, volts.as_volts());
                }
                Value::Resistance { .. } => {}
            }
        }
    }

    /// Why these voltages cannot be those of a cell like this one.
    fn against(&self, model: &CellModel) -> Option<String> {
        let (fresh, middle) = (model.open_circuit.at(0.0), model.open_circuit.at(0.5));
        let volts = |v| figure(v, Unit::Volt);
        if let Some(highest) = self.highest_volts {
            if ABOVE * fresh < highest {
                let (highest, fresh) = (volts(highest), volts(fresh));
                return Some(format!(
                    "{highest} was read, and fresh that cell has {fresh}"
                ));
            }
            if highest < BELOW * middle {
                let (highest, middle) = (volts(highest), volts(middle));
                return Some(format!(
                    "nothing above {highest} was read, and half empty that cell still has {middle} at rest"
                ));
            }
        }
        let end = self.end_volts?;
        let (said, fresh_said) = (volts(end), volts(fresh));
        if fresh <= end {
            return Some(format!(
                "a test ends at {said}, and that cell never has more than {fresh_said}"
            ));
        }
        (self.highest_volts.is_none() && end < END_BELOW * middle).then(|| {
            format!(
                "every test ends at {said} or below, and half empty that cell still has {} at rest",
                volts(middle)
            )
        })
    }

    /// How far a cell lies from these data: by voltage first, then by charge.
    fn distance(&self, model: &CellModel) -> (f64, f64) {
        let fresh = model.open_circuit.at(0.0);
        let volts = self.highest_volts.map_or(0.0, |v| (v / fresh).ln().abs());
        let charge = self.coulombs.filter(|q| 0.0 < *q);
        let charge = charge.map_or(0.0, |q| (q / model.charge.si()).ln().abs());
        ((volts / 0.05).floor(), charge)
    }
}

/// The cells that could serve, nearest first.
fn serving(entries: &[CatalogEntry], seen: &Seen) -> Vec<String> {
    let mut cells: Vec<Like> = entries.iter().filter_map(like_of).collect();
    cells.retain(|c| seen.against(&c.model).is_none());
    let key = |c: &Like| seen.distance(&c.model);
    cells.sort_by(|a, b| {
        key(a)
            .partial_cmp(&key(b))
            .unwrap_or(std::cmp::Ordering::Equal)
    });
    let said = cells.iter().take(PROPOSED).map(|c| {
        let fresh = figure(c.model.open_circuit.at(0.0), Unit::Volt);
        format!("`{}` ({}, {fresh} fresh)", c.name, c.model.chemistry)
    });
    said.collect()
}

/// No cell is named: which ones could serve.
pub(super) fn missing(entries: &[CatalogEntry], measured: &Measured) -> Failure {
    let serving = serving(entries, &Seen::of(measured));
    let says = "a fit begins from a cell of the same chemistry, and none is named";
    let proposal = if serving.is_empty() {
        "name one with `--like`; no built-in cell has voltages like these, `lastvolt parts --kind cell` \
         lists them"
            .to_owned()
    } else {
        format!(
            "name one with `--like`; by their voltages these could serve: {}",
            listed(&serving)
        )
    };
    Failure::of_option("no-like", says, Some(proposal))
}

/// Fails where the voltages cannot be those of a cell like this one.
pub(super) fn suits(
    like: &Like,
    entries: &[CatalogEntry],
    measured: &Measured,
) -> Result<(), Failure> {
    let seen = Seen::of(measured);
    let Some(why) = seen.against(&like.model) else {
        return Ok(());
    };
    let says = format!("the data are not those of a cell like {}: {why}", like.name);
    let serving = serving(entries, &seen);
    let proposal = if serving.is_empty() {
        "measure one cell alone, and check the unit of the voltages".to_owned()
    } else {
        format!("by their voltages these could serve: {}", listed(&serving))
    };
    Err(Failure::of_option("other-chemistry", says, Some(proposal)))
}
