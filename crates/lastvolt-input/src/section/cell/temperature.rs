//! How cold and heat act on a cell: factors at temperatures.

use lastvolt_core::device::CellTemperature;
use lastvolt_core::quantity::{Temperature, Unit, Voltage};

use crate::diagnostic::Problem;
use crate::document::{Bounds, Field, Fields, Value};

const POINTS: Field = Field::other(
    "points",
    "list of temperatures",
    "temperatures of the factors, rising",
)
.required()
.example("[\"-20 degC\", \"20 degC\"]");
const POINT: Field = Field::value("points", Unit::Celsius, "temperature").example("\"20 degC\"");
const FACTORS_RESISTANCE: Field = Field::other(
    "resistance",
    "list of numbers",
    "factor on the resistance at each temperature",
)
.otherwise("1")
.example("[4, 1]");
const FACTORS_RATE: Field = Field::other(
    "rate",
    "list of numbers",
    "factor on the rate of the wells at each temperature",
)
.otherwise("1")
.example("[0.2, 1]");
const FACTORS_BRANCH: Field = Field::other(
    "polarisation",
    "list of lists of numbers",
    "factor on the resistance of each branch at each temperature, one list a branch",
)
.otherwise("that of the resistance")
.example("[[5, 1], [8, 1]]");
const SHIFT: Field = Field::other(
    "open_circuit",
    "list of voltages",
    "shift of the open-circuit voltage at each temperature, the same at every depth; linear between points",
)
.otherwise("0 V")
.example("[\"-0.11 V\", \"0 V\"]");
const SHIFT_VOLTS: Field =
    Field::value("open_circuit", Unit::Volt, "voltage").example("\"-0.11 V\"");
/// A shift beyond this is a table of voltages taken for one of shifts.
const MOST_SHIFT_VOLTS: f64 = 1.0;
const FACTOR: Field = Field::number("factor", "factor")
    .within(Bounds::POSITIVE)
    .example("1");
pub(super) const TEMPERATURE: Field = Field::table(
    "temperature",
    &[POINTS, FACTORS_RESISTANCE, FACTORS_RATE, FACTORS_BRANCH, SHIFT],
    "how cold and heat act: factors, linear in their logarithm between points, and a shift of the voltage; held outside",
)
.example("{ points = [\"-20 degC\", \"20 degC\"], resistance = [4, 1], rate = [0.2, 1] }");
pub(super) fn temperature(f: &Fields<'_>, n_branches: usize) -> Option<CellTemperature> {
    let t = f.table(&TEMPERATURE)?;
    let value = t.find(&POINTS)?;
    let items = f.reader.list(value, POINTS.key, "a list of temperatures")?;
    let mut column = Vec::new();
    for item in items {
        let celsius: Temperature = f.reader.quantity(item, &POINT)?;
        column.push((celsius.as_celsius(), item));
    }
    if column.is_empty() {
        let says = "`points` is an empty list, one temperature at least is needed";
        f.reader
            .report(Problem::new("wrong-length", value.spot.clone(), says).label("empty"));
        return None;
    }
    if !f.reader.rising(POINTS.key, &column) {
        return None;
    }
    let n = column.len();
    let row = |field: &Field| match t.get(field.key) {
        Some(value) => factors(&t, value, field.key, n),
        None => Some(vec![1.0; n]),
    };
    let resistance = row(&FACTORS_RESISTANCE);
    let rate = row(&FACTORS_RATE);
    let polarisation = match t.get(FACTORS_BRANCH.key) {
        Some(value) => branch_factors(&t, value, n, n_branches),
        None => Some(vec![resistance.clone()?; n_branches]),
    };
    let open_circuit = match t.get(SHIFT.key) {
        Some(value) => shifts(&t, value, n),
        None => Some(Vec::new()),
    };
    Some(CellTemperature {
        celsius: column.iter().map(|c| c.0).collect(),
        resistance: resistance?,
        rate: rate?,
        polarisation: polarisation?,
        open_circuit: open_circuit?,
    })
}

fn branch_factors(
    t: &Fields<'_>,
    value: &Value,
    n: usize,
    n_branches: usize,
) -> Option<Vec<Vec<f64>>> {
    let lists = t
        .reader
        .list(value, FACTORS_BRANCH.key, "a list of lists of numbers")?;
    if lists.len() != n_branches {
        let says = format!(
            "`polarisation` has {} rows for {n_branches} branches",
            lists.len()
        );
        t.reader.report(
            Problem::new("wrong-length", value.spot.clone(), says).label("one row a branch"),
        );
        return None;
    }
    lists
        .iter()
        .map(|row| factors(t, row, FACTORS_BRANCH.key, n))
        .collect()
}

/// Positive numbers, one a temperature.
fn factors(t: &Fields<'_>, value: &Value, key: &str, n: usize) -> Option<Vec<f64>> {
    let items = t.reader.list(value, key, "a list of numbers")?;
    if items.len() != n {
        let says = format!("`{key}` has {} factors for {n} temperatures", items.len());
        t.reader.report(
            Problem::new("wrong-length", value.spot.clone(), says).label("one a temperature"),
        );
        return None;
    }
    items
        .iter()
        .map(|item| t.reader.number(item, &FACTOR))
        .collect()
}

/// Voltages, one a temperature.
fn shifts(t: &Fields<'_>, value: &Value, n: usize) -> Option<Vec<f64>> {
    let items = t.reader.list(value, SHIFT.key, "a list of voltages")?;
    if items.len() != n {
        let says = format!(
            "`open_circuit` has {} voltages for {n} temperatures",
            items.len()
        );
        t.reader.report(
            Problem::new("wrong-length", value.spot.clone(), says).label("one a temperature"),
        );
        return None;
    }
    let volts = items.iter().map(|item| {
        let volts: Voltage = t.reader.quantity(item, &SHIFT_VOLTS)?;
        if volts.as_volts().abs() > MOST_SHIFT_VOLTS {
            let says = format!(
                "`open_circuit` shifts by {} V, -1 V to 1 V is allowed",
                volts.as_volts()
            );
            let problem = Problem::new("out-of-range", item.spot.clone(), says);
            t.reader.report(problem.label("out of range"));
            return None;
        }
        Some(volts.as_volts())
    });
    volts.collect()
}
