//! Every switch position and every cell put in backwards: what is powered, stressed, charged and
//! floating in each.
//!
//! All positions of all switches and jumpers are combined with each other and with each cell part
//! the right way round, wholly reversed, or with one of its cells reversed, unless the holder blocks
//! that. A make-first switch adds the state between its positions. Loads are in their base states,
//! cells fresh, the ambient usual, the history running.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::situation::qualified;
use crate::circuit::{CellDrive, Circuit, NoPoint, Point, Situation, Stress, stresses};
use crate::device::Reversal;
use crate::model::{Device, Family, Profile};
use crate::progress::Progress;

/// Share of a rating from which a stress is listed.
const LISTED_FROM: f64 = 0.5;

/// Current below which a cell is not listed as charged: the resolution of the picture, well below
/// the ten microamperes that makers of lithium cells advise as the most for full life.
const CHARGED_FROM_AMPS: f64 = 1e-7;

/// Most combinations of positions that are solved; beyond it switches are moved one at a time.
const MOST_COMBINATIONS: usize = 256;

/// One solved situation of the matrix.
#[derive(Debug, Clone, PartialEq)]
pub struct MatrixCase {
    /// The situation.
    pub situation: Situation,
    /// First connector pin minus ground pin.
    pub rail_volts: f64,
    /// Whether every load is in its working range.
    pub powered: bool,
    /// Current of each cell part, discharge positive.
    pub cells: Vec<(String, f64)>,
    /// Stresses above half of a rating, the highest first.
    pub stressed: Vec<Stress>,
    /// Cells that are charged.
    pub charged: Vec<String>,
    /// Control pins and nets without a defined level.
    pub floating: Vec<String>,
    /// The solved point, or why there is none; without it the figures above are empty.
    pub point: Result<Point, NoPoint>,
}

/// All cases of one circuit.
#[derive(Debug, Clone, PartialEq)]
pub struct Matrix {
    /// Number of situations solved.
    pub solved: usize,
    /// The cases, positions in file order, reversals innermost.
    pub cases: Vec<MatrixCase>,
    /// What was left out, where not all combinations were solved.
    pub warnings: Vec<String>,
}

/// Solves every position and reversal of the boards of these names.
///
/// A case without an operating point is kept with its reason and does not end the work.
///
/// # Errors
/// The name of a board that the family does not have.
pub fn matrix(
    family: &Family,
    boards: &[String],
    profile: Option<&Profile>,
    progress: &dyn Progress,
) -> Result<Matrix, NoPoint> {
    matrix_at(family, boards, profile, &[], progress)
}

/// As [`matrix`], and every position with the cells the right way round once more for each of these
/// depths of single boards: a fresh cell on one board and a worn one on another.
///
/// # Errors
/// As [`matrix`].
pub fn matrix_at(
    family: &Family,
    boards: &[String],
    profile: Option<&Profile>,
    worn: &[BTreeMap<String, f64>],
    progress: &dyn Progress,
) -> Result<Matrix, NoPoint> {
    let circuit = Circuit::new(family, boards).map_err(|what| NoPoint::Unknown {
        what: format!("board {what}"),
    })?;
    let usual = Situation::usual(family, boards, profile);
    let (positions, warnings) = combinations(family, &usual);
    let reversals = reversals(family, boards);
    let total = positions.len() * (reversals.len() + worn.len());
    let mut cases = Vec::with_capacity(total);
    let mut warm = None;
    for position in positions {
        let turned = reversals.iter().map(|reversed| Situation {
            positions: position.clone(),
            reversed: reversed.clone(),
            ..usual.clone()
        });
        let drawn = worn.iter().map(|depths| Situation {
            positions: position.clone(),
            depths: depths.clone(),
            ..usual.clone()
        });
        for situation in turned.chain(drawn) {
            if progress.cancelled() {
                break;
            }
            let point = circuit.solve(&situation, &CellDrive::Rested, warm.as_ref());
            if let Ok(point) = &point {
                warm = Some(point.clone());
            }
            cases.push(case(&circuit, situation, point));
            #[expect(clippy::cast_precision_loss, reason = "counts are far below 2^52")]
            progress.at(cases.len() as f64 / total as f64);
        }
    }
    let solved = cases.iter().filter(|c| c.point.is_ok()).count();
    Ok(Matrix {
        solved,
        cases,
        warnings,
    })
}

/// Evaluates one situation of a circuit as a case of the matrix.
#[must_use]
pub fn case(circuit: &Circuit, situation: Situation, point: Result<Point, NoPoint>) -> MatrixCase {
    let mut case = MatrixCase {
        situation,
        rail_volts: 0.0,
        powered: false,
        cells: Vec::new(),
        stressed: Vec::new(),
        charged: Vec::new(),
        floating: Vec::new(),
        point,
    };
    if let Ok(point) = &case.point {
        case.rail_volts = rail_volts(circuit, point);
        case.powered = all_powered(circuit, &case.situation, point);
        case.cells = cell_currents(circuit, point);
        case.stressed = listed(circuit, &case.situation, point);
        case.charged = charged(circuit, &case.situation, &case.cells);
        case.floating.clone_from(&point.floating);
    }
    case
}

/// Voltage of the first connector pin that is not ground, 0 where the connector has none.
fn rail_volts(circuit: &Circuit, point: &Point) -> f64 {
    let connector = &circuit.family().connector;
    let rail = connector.rail().and_then(|net| point.net(net));
    rail.unwrap_or(0.0) - point.net(connector.ground_net()).unwrap_or(0.0)
}

/// Whether every load is awake and in the working range of its state.
#[must_use]
pub fn all_powered(circuit: &Circuit, situation: &Situation, point: &Point) -> bool {
    let loads = circuit.loads();
    let in_range = |(name, load): &(String, &crate::model::Load)| {
        let Some(solved) = point.load(name) else {
            return false;
        };
        let state = situation.states.get(name).and_then(|s| load.state(s));
        let range = load.working_in(state.unwrap_or(0));
        solved.awake
            && range.is_none_or(|r| {
                r.from.as_volts() <= solved.volts && solved.volts <= r.to.as_volts()
            })
    };
    !loads.is_empty() && loads.iter().all(in_range)
}

fn cell_currents(circuit: &Circuit, point: &Point) -> Vec<(String, f64)> {
    let cells = circuit.parts().into_iter().filter_map(|(name, part)| {
        let is_cell = matches!(part.device, Device::Cell(_));
        let solved = point.part(&name).filter(|_| is_cell)?;
        Some((name, solved.amps))
    });
    cells.collect()
}

fn listed(circuit: &Circuit, situation: &Situation, point: &Point) -> Vec<Stress> {
    let mut stressed = stresses(circuit, situation, point);
    stressed.retain(|s| LISTED_FROM <= s.share);
    stressed.sort_by(|a, b| b.share.total_cmp(&a.share));
    stressed
}

/// Cells whose current flows into their own plus.
fn charged(circuit: &Circuit, situation: &Situation, amps: &[(String, f64)]) -> Vec<String> {
    let mut out = Vec::new();
    for (name, part) in circuit.parts() {
        let Device::Cell(cell) = &part.device else {
            continue;
        };
        let amps = amps.iter().find(|(n, _)| *n == name).map_or(0.0, |c| c.1);
        let whole = situation.reversed.contains(&name);
        if cell.series == 1 {
            if outflow(amps, whole) < -CHARGED_FROM_AMPS {
                out.push(name);
            }
            continue;
        }
        for n in 1..=cell.series {
            let one = format!("{name}.{n}");
            let turned = whole != situation.reversed.contains(&one);
            if outflow(amps, turned) < -CHARGED_FROM_AMPS {
                out.push(one);
            }
        }
    }
    out
}

/// Current out of a cell's own plus, from the current out of the holder's plus.
fn outflow(holder_amps: f64, turned: bool) -> f64 {
    if turned { -holder_amps } else { holder_amps }
}

/// All combinations of positions, the usual one first.
fn combinations(
    family: &Family,
    usual: &Situation,
) -> (Vec<BTreeMap<String, String>>, Vec<String>) {
    let choices = choices(family, &usual.boards);
    let count = choices
        .iter()
        .map(|(_, settled, _)| settled.len())
        .fold(1_usize, usize::saturating_mul);
    let mut out = vec![usual.positions.clone()];
    let mut warnings = Vec::new();
    if count <= MOST_COMBINATIONS {
        let mut all = vec![usual.positions.clone()];
        for (name, settled, _) in &choices {
            all = settled
                .iter()
                .flat_map(|p| all.iter().map(|base| moved(base, name, p)))
                .collect();
        }
        out.extend(all);
    } else {
        warnings.push(format!(
            "{count} combinations of positions: switches are moved one at a time"
        ));
        for (name, settled, _) in &choices {
            out.extend(settled.iter().map(|p| moved(&usual.positions, name, p)));
        }
    }
    let settled = out.clone();
    for (name, _, between) in &choices {
        for p in between {
            out.extend(settled.iter().map(|base| moved(base, name, p)));
        }
    }
    let mut seen = BTreeSet::new();
    out.retain(|p| seen.insert(p.clone()));
    (out, warnings)
}

fn moved(base: &BTreeMap<String, String>, name: &str, to: &str) -> BTreeMap<String, String> {
    let mut positions = base.clone();
    positions.insert(name.to_owned(), to.to_owned());
    positions
}

/// Name, positions and states in between of every switch and jumper.
fn choices(family: &Family, boards: &[String]) -> Vec<(String, Vec<String>, Vec<String>)> {
    let mut out = Vec::new();
    for board in boards.iter().filter_map(|name| family.board(name)) {
        for part in &board.parts {
            if let Device::Switch(switch) = &part.device {
                let name = qualified(boards, &board.name, &part.name);
                let settled = switch.positions.iter().map(|p| p.name.clone()).collect();
                out.push((name, settled, switch.between()));
            }
        }
    }
    out
}

/// No cell reversed, then each cell part wholly, then each of its cells alone.
fn reversals(family: &Family, boards: &[String]) -> Vec<BTreeSet<String>> {
    let mut out = vec![BTreeSet::new()];
    for board in boards.iter().filter_map(|name| family.board(name)) {
        for part in &board.parts {
            let Device::Cell(cell) = &part.device else {
                continue;
            };
            if cell.holder.reversed == Reversal::Blocked {
                continue;
            }
            let name = qualified(boards, &board.name, &part.name);
            out.push(BTreeSet::from([name.clone()]));
            if 1 < cell.series {
                let one = |n| BTreeSet::from([format!("{name}.{n}")]);
                out.extend((1..=cell.series).map(one));
            }
        }
    }
    out
}
