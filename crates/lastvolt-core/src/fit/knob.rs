//! What a fit may turn: every parameter of a cell model as an unbounded number about a starting model.
//!
//! A knob at 0 leaves the starting model as it is; 1 is as far as one would expect a cell of the same
//! chemistry to lie from it. Positive parameters turn in their logarithm, the share of the available
//! well in its logit, a falling voltage in the logarithm of its falls, so that no bound can be crossed.

use std::ops::RangeInclusive;

use super::Test;
use crate::device::{Activation, Branch, CellModel, CellTemperature, Film, Wells};
use crate::numerics::math;
use crate::numerics::table::Table;
use crate::quantity::{Charge, Current, Fraction, Rate, Resistance, Spread, Time, Voltage};

/// One parameter that a fit may turn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Knob {
    pub(super) seat: Seat,
    /// The unit that it acts on; `None` for all.
    pub(super) unit: Option<usize>,
    /// What a knob of 1 changes: a share in the logarithm, or volts.
    pub(super) width: f64,
}

/// What a knob turns.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Seat {
    /// All charge.
    Charge,
    /// The whole open-circuit table, up or down.
    OpenCircuit,
    /// Fall of the open-circuit table from a knot to the next.
    Fall(usize),
    /// The whole resistance table.
    Resistance,
    /// One knot of the resistance table.
    ResistanceAt(usize),
    /// Share of the available well.
    Available,
    /// Rate of the wells.
    WellRate,
    /// Ratio of a branch.
    Ratio(usize),
    /// Time constant of a branch.
    BranchTime(usize),
    /// Scale of the activation overvoltage.
    ActivationVolts,
    /// Exchange current.
    ActivationCurrent,
    /// Factor on a row at a temperature and beyond it, seen from 20 degC.
    Cold(Row, usize),
    /// Shift of the open-circuit voltage at a temperature and beyond it, seen from 20 degC.
    Shift(usize),
    /// Resistance of the passivation film.
    FilmResistance,
    /// Time in which the film grows.
    FilmGrowth,
    /// Charge that burns the film off.
    FilmBurnOff,
    /// Self-discharge.
    SelfDischarge,
    /// Growth of the resistance.
    Ageing,
}

/// A row of the temperature factors.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Row {
    Resistance,
    Rate,
    Branch(usize),
}

/// Knobs of a model: those of all units first, then those of each of several units. What time on the
/// shelf does is turned where `shelf` says that tests show it.
pub(super) fn knobs(model: &CellModel, units: usize, shelf: bool) -> Vec<Knob> {
    let mut knobs = Vec::new();
    let mut add = |seat, width| {
        knobs.push(Knob {
            seat,
            unit: None,
            width,
        });
    };
    add(Seat::Charge, 0.25);
    add(Seat::OpenCircuit, 0.04);
    for k in 0..model.open_circuit.points().count().saturating_sub(1) {
        add(Seat::Fall(k), 0.5);
    }
    add(Seat::Resistance, 0.7);
    for k in 0..model.resistance.points().count() {
        add(Seat::ResistanceAt(k), 0.35);
    }
    if model.wells.is_some() {
        add(Seat::Available, 0.8);
        add(Seat::WellRate, 1.2);
    }
    for n in 0..model.polarisation.len() {
        add(Seat::Ratio(n), 0.8);
        add(Seat::BranchTime(n), 0.7);
    }
    if model.activation.is_some() {
        add(Seat::ActivationVolts, 0.4);
        add(Seat::ActivationCurrent, 0.8);
    }
    if model.film.is_some() {
        add(Seat::FilmResistance, 0.7);
        add(Seat::FilmGrowth, 0.7);
        add(Seat::FilmBurnOff, 0.7);
    }
    if let Some(temperature) = &model.temperature {
        let middle = reference(temperature);
        for point in (0..temperature.celsius.len()).filter(|&k| k != middle) {
            add(Seat::Shift(point), 0.04);
            add(Seat::Cold(Row::Resistance, point), 0.5);
            if model.wells.is_some() {
                add(Seat::Cold(Row::Rate, point), 0.8);
            }
            for n in 0..model.polarisation.len() {
                add(Seat::Cold(Row::Branch(n), point), 0.5);
            }
        }
    }
    if shelf && model.self_discharge.as_per_sec() > 0.0 {
        add(Seat::SelfDischarge, 0.4);
    }
    if shelf && model.ageing.as_per_sec() > 0.0 {
        add(Seat::Ageing, 0.7);
    }
    if units > 1 {
        for unit in 0..units {
            unit_knobs(model, unit, &mut knobs);
        }
    }
    knobs
}

impl Knob {
    /// Whether turning it may change what a model says of a test.
    pub(super) fn touches(&self, start: &CellModel, test: &Test) -> bool {
        if self.unit.is_some_and(|unit| unit != test.unit) {
            return false;
        }
        match (self.seat, &start.temperature) {
            (Seat::Cold(_, point) | Seat::Shift(point), Some(temperature)) => {
                let celsius = test.ambient.as_celsius();
                if point < reference(temperature) {
                    celsius < temperature.celsius[point + 1]
                } else {
                    celsius > temperature.celsius[point - 1]
                }
            }
            (Seat::Ageing, _) => test.age.as_secs() > 0.0,
            _ => true,
        }
    }
}

/// What tells one maker's cell from another's of the same size.
fn unit_knobs(model: &CellModel, unit: usize, knobs: &mut Vec<Knob>) {
    let mut add = |seat, width| {
        knobs.push(Knob {
            seat,
            unit: Some(unit),
            width,
        });
    };
    add(Seat::Charge, 0.12);
    add(Seat::OpenCircuit, 0.012);
    add(Seat::Resistance, 0.6);
    if model.wells.is_some() {
        add(Seat::WellRate, 0.8);
    }
    if let Some(slowest) = model.polarisation.len().checked_sub(1) {
        add(Seat::Ratio(slowest), 0.5);
    }
}

/// The model of a unit, or of none in particular, with its knobs turned.
pub(super) fn turned(
    start: &CellModel,
    knobs: &[Knob],
    turns: &[f64],
    unit: Option<usize>,
) -> CellModel {
    let mut model = start.clone();
    let mut falls = start.open_circuit.points().map(|p| p.1).collect::<Vec<_>>();
    let mut lift = 0.0;
    let mut ohms = vec![0.0; start.resistance.points().count()];
    let open: Vec<f64> = falls.clone();
    for k in 0..falls.len().saturating_sub(1) {
        falls[k] = open[k] - open[k + 1];
    }
    for (knob, turn) in knobs.iter().zip(turns) {
        if knob.unit.is_some() && knob.unit != unit {
            continue;
        }
        let by = turn * knob.width;
        match knob.seat {
            Seat::OpenCircuit => lift += by,
            Seat::Fall(k) => falls[k] *= math::exp(by),
            Seat::Resistance => ohms.iter_mut().for_each(|o| *o += by),
            Seat::ResistanceAt(k) => ohms[k] += by,
            seat => turn_one(&mut model, seat, by),
        }
    }
    model.open_circuit = fallen(&start.open_circuit, &falls, lift);
    let mut scale = ohms.iter();
    model.resistance = remade(&start.resistance, |y| {
        y * math::exp(scale.next().copied().unwrap_or(0.0))
    });
    model
}

/// The open-circuit table with other falls, standing still in its middle but for a lift.
fn fallen(table: &Table, falls: &[f64], lift: f64) -> Table {
    let x: Vec<f64> = table.points().map(|p| p.0).collect();
    let still = x.partition_point(|&d| d < 0.5).min(x.len() - 1);
    let mut y = vec![0.0; x.len()];
    y[still] = table.points().nth(still).map_or(0.0, |p| p.1) + lift;
    for k in (0..still).rev() {
        y[k] = y[k + 1] + falls[k];
    }
    for k in still + 1..x.len() {
        y[k] = y[k - 1] - falls[k - 1];
    }
    let points: Vec<_> = x.into_iter().zip(y).collect();
    Table::new(&points).unwrap_or_else(|_| table.clone())
}

/// A table with other values, in the order of its points.
fn remade(table: &Table, mut value: impl FnMut(f64) -> f64) -> Table {
    let points: Vec<_> = table.points().map(|(x, y)| (x, value(y))).collect();
    Table::new(&points).unwrap_or_else(|_| table.clone())
}

fn turn_one(model: &mut CellModel, seat: Seat, by: f64) {
    let factor = math::exp(by);
    match seat {
        Seat::Charge => {
            model.charge = Spread::exactly(Charge::from_coulombs(model.charge.si() * factor));
        }
        Seat::Available | Seat::WellRate => {
            if let Some(wells) = &mut model.wells {
                turn_wells(wells, seat, by);
            }
        }
        Seat::Ratio(n) => turn_branch(model, n, |b| b.ratio *= factor),
        Seat::BranchTime(n) => turn_branch(model, n, |b| {
            b.time = Time::from_secs(b.time.as_secs() * factor);
        }),
        Seat::ActivationVolts | Seat::ActivationCurrent => {
            if let Some(activation) = &mut model.activation {
                turn_activation(activation, seat, factor);
            }
        }
        Seat::FilmResistance | Seat::FilmGrowth | Seat::FilmBurnOff => {
            if let Some(film) = &mut model.film {
                turn_film(film, seat, factor);
            }
        }
        Seat::Shift(point) => {
            if let Some(temperature) = &mut model.temperature {
                let beyond = beyond(temperature, point);
                for volts in temperature
                    .open_circuit
                    .iter_mut()
                    .take(*beyond.end() + 1)
                    .skip(*beyond.start())
                {
                    *volts += by;
                }
            }
        }
        Seat::Cold(row, point) => {
            if let Some(temperature) = &mut model.temperature {
                turn_cold(temperature, row, point, factor);
            }
        }
        Seat::SelfDischarge => {
            let rate = model.self_discharge.as_per_sec() * factor;
            model.self_discharge = Rate::from_per_sec(rate);
        }
        Seat::Ageing => model.ageing = Rate::from_per_sec(model.ageing.as_per_sec() * factor),
        Seat::OpenCircuit | Seat::Fall(_) | Seat::Resistance | Seat::ResistanceAt(_) => {}
    }
}

fn turn_wells(wells: &mut Wells, seat: Seat, by: f64) {
    if seat == Seat::WellRate {
        let rate = wells.rate.si() * math::exp(by);
        wells.rate = Spread::exactly(Rate::from_per_sec(rate));
        return;
    }
    let share = wells.available.si().clamp(1e-6, 1.0 - 1e-6);
    let share = math::logistic(math::ln(share / (1.0 - share)) + by);
    wells.available = Spread::exactly(Fraction::from_share(share));
}

fn turn_branch(model: &mut CellModel, n: usize, turn: impl Fn(&mut Branch)) {
    if let Some(branch) = model.polarisation.get_mut(n) {
        turn(branch);
    }
}

fn turn_activation(activation: &mut Activation, seat: Seat, factor: f64) {
    if seat == Seat::ActivationVolts {
        activation.volts = Voltage::from_volts(activation.volts.as_volts() * factor);
    } else {
        activation.current = Current::from_amps(activation.current.as_amps() * factor);
    }
}

fn turn_film(film: &mut Film, seat: Seat, factor: f64) {
    match seat {
        Seat::FilmResistance => {
            film.resistance = Resistance::from_ohms(film.resistance.as_ohms() * factor);
        }
        Seat::FilmGrowth => film.growth = Time::from_secs(film.growth.as_secs() * factor),
        _ => film.burn_off = Charge::from_coulombs(film.burn_off.as_coulombs() * factor),
    }
}

/// Turns a factor and those beyond it, so that a temperature without data follows its neighbour.
fn turn_cold(temperature: &mut CellTemperature, row: Row, point: usize, factor: f64) {
    let beyond = beyond(temperature, point);
    let row = match row {
        Row::Resistance => &mut temperature.resistance,
        Row::Rate => &mut temperature.rate,
        Row::Branch(n) => match temperature.polarisation.get_mut(n) {
            Some(row) => row,
            None => return,
        },
    };
    for k in beyond {
        row[k] *= factor;
    }
}

/// A temperature and those beyond it, seen from 20 degC.
fn beyond(temperature: &CellTemperature, point: usize) -> RangeInclusive<usize> {
    if point < reference(temperature) {
        0..=point
    } else {
        point..=temperature.celsius.len() - 1
    }
}

/// The temperature that is nearest to 20 degC, whose factors stay as they are.
fn reference(temperature: &CellTemperature) -> usize {
    let away = |k: &usize| (temperature.celsius[*k] - 20.0).abs();
    (0..temperature.celsius.len())
        .min_by(|a, b| away(a).total_cmp(&away(b)))
        .unwrap_or(0)
}
