//! The leakage budget: which part takes how much of the cells' current while nothing happens,
//! typically and at most, switched on and off, at the low, usual and high ambient.
//!
//! # Formula
//! ```text
//! I_row = I_cells P_row / P_cells
//! ```
//! Absorbed powers sum to what the cells give, so the rows sum to the cells' current, through
//! converters too.

use crate::circuit::{CellDrive, Circuit, Point, Situation};
use crate::model::{Change, Corner, Device, Family};
use crate::quantity::Temperature;

/// The budget of one board.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Budget {
    /// One a state and ambient: switched on first, the low ambient first.
    pub columns: Vec<BudgetColumn>,
}

/// One state at one ambient.
#[derive(Debug, Clone, PartialEq)]
pub struct BudgetColumn {
    /// Which of the three ambients: `low`, `usual` or `high`.
    pub which: &'static str,
    /// The temperature.
    pub ambient: Temperature,
    /// Whether the board is switched on.
    pub power: Power,
    /// The situation that was solved.
    pub situation: Situation,
    /// One a part or load that takes anything, in circuit order.
    pub rows: Vec<BudgetRow>,
    /// Current of all cells, typical figures.
    pub typical_amps: f64,
    /// Current of all cells, largest figures.
    pub most_amps: f64,
}

/// Whether a board is switched on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Power {
    /// Usual positions.
    On,
    /// A position in which no load is powered.
    Off,
}

/// What one part takes.
#[derive(Debug, Clone, PartialEq)]
pub struct BudgetRow {
    /// Name of the part or load.
    pub name: String,
    /// With typical figures.
    pub typical_amps: f64,
    /// With the largest figures.
    pub most_amps: f64,
}

/// The budget in the usual situation and in a switched-off one, where there is one.
#[must_use]
pub(crate) fn budget(family: &Family, usual: &Situation, off: Option<&Situation>) -> Budget {
    let most = family.with(&[Change::Corner(Corner::MostDrain)]);
    let most = most.as_ref().unwrap_or(family);
    let ambient = &family.requirement.ambient;
    let ambients = [
        ("low", ambient.low),
        ("usual", ambient.usual),
        ("high", ambient.high),
    ];
    let mut columns = Vec::new();
    for (power, base) in [(Power::On, Some(usual)), (Power::Off, off)] {
        let Some(base) = base else { continue };
        let mut near: (Option<Point>, Option<Point>) = (None, None);
        for (which, ambient) in ambients {
            let situation = Situation {
                ambient,
                ..base.clone()
            };
            let rows = (
                taken(family, &situation, &mut near.0),
                taken(most, &situation, &mut near.1),
            );
            if let (Some(typical), Some(most)) = rows {
                columns.push(column(which, power, situation, &typical, &most));
            }
        }
    }
    Budget { columns }
}

fn column(
    which: &'static str,
    power: Power,
    situation: Situation,
    typical: &[(String, f64)],
    most: &[(String, f64)],
) -> BudgetColumn {
    let mut rows: Vec<BudgetRow> = typical
        .iter()
        .zip(most)
        .map(|((name, typical), (_, most))| BudgetRow {
            name: name.clone(),
            typical_amps: *typical,
            most_amps: *most,
        })
        .collect();
    // Below a picoampere lies only the solver's own accuracy.
    rows.retain(|r| 1e-12 < r.typical_amps.abs().max(r.most_amps.abs()));
    BudgetColumn {
        which,
        ambient: situation.ambient,
        power,
        situation,
        rows,
        typical_amps: typical.iter().map(|r| r.1).sum(),
        most_amps: most.iter().map(|r| r.1).sum(),
    }
}

/// Current of the cells that each part and load accounts for.
fn taken(
    family: &Family,
    situation: &Situation,
    near: &mut Option<Point>,
) -> Option<Vec<(String, f64)>> {
    let circuit = Circuit::new(family, &situation.boards).ok()?;
    let rested = &CellDrive::Rested;
    let point = circuit.solve(situation, rested, near.as_ref()).ok()?;
    let rows = rows(&circuit, &point);
    *near = Some(point);
    Some(rows)
}

fn rows(circuit: &Circuit, point: &Point) -> Vec<(String, f64)> {
    let (mut amps, mut watts) = (0.0, 0.0);
    let mut absorbed = Vec::new();
    for (name, part) in circuit.parts() {
        let Some(solved) = point.part(&name) else {
            continue;
        };
        if matches!(part.device, Device::Cell(_)) {
            amps += solved.amps;
            watts -= solved.watts;
        } else {
            absorbed.push((name, solved.watts));
        }
    }
    absorbed.extend(point.loads.iter().map(|l| (l.name.clone(), l.watts)));
    let volts = if amps.abs() < 1e-15 {
        f64::INFINITY
    } else {
        watts / amps
    };
    absorbed.into_iter().map(|(n, w)| (n, w / volts)).collect()
}
