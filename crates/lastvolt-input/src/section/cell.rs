//! `kind = "cell"`: a cell or a string of equal cells in a holder.

use lastvolt_core::device::{
    Activation, Branch, Cell, CellLimits, CellModel, CellSpread, CellTemperature, Charging, Holder,
    Rating, RatingLoad, Reversal, Wells,
};
use lastvolt_core::model::{Device, Kind, Pin};
use lastvolt_core::numerics::table::Table;
use lastvolt_core::quantity::{
    Charge, Fraction, Quantity, Rate, Resistance, Spread, Temperature, Time, Unit, Voltage,
};

use super::{PinSet, Section};
use crate::diagnostic::Problem;
use crate::document::{Bounds, Either, Field, Fields, Value};

const SERIES: Field = Field::count(
    "series",
    "number of equal cells in series; the cells of BT1 are BT1.1, BT1.2 and so on",
)
.default("1")
.example("2");
const CONTACT: Field = Field::spread(
    "contact",
    Unit::Ohm,
    "resistance of the contacts of each cell, both ends together",
)
.within(Bounds::FROM_ZERO.to(1e5))
.default("0 ohm")
.example("\"50 mohm\"");
const REVERSED: Field = Field::word(
    "reversed",
    &["possible", "blocked", "no-contact", "short"],
    "what happens when a cell is put in the wrong way round: it makes contact, does not go in, touches nothing, or is shorted",
)
.default("possible")
.example("\"blocked\"");
const HOLDER: Field = Field::table(
    "holder",
    &[CONTACT, REVERSED],
    "what holds and contacts the cells",
)
.example("{ contact = \"50 mohm\", reversed = \"possible\" }");

const CHEMISTRY: Field = Field::text("chemistry", "chemistry in words, for messages and cautions")
    .default("not stated")
    .example("\"alkaline\"");
const CHARGE: Field = Field::spread(
    "charge",
    Unit::Coulomb,
    "all charge of a fresh cell, whatever the rate; or `rated`",
)
.within(Bounds::POSITIVE)
.required()
.example("\"1200 mAh\"");
const RATED_CAPACITY: Field = Field::value("capacity", Unit::Coulomb, "charge delivered")
    .within(Bounds::POSITIVE)
    .required()
    .example("\"225 mAh\"");
const RATED_LOAD: Field = Field::other(
    "load",
    "a resistance or a current",
    "what the cell was discharged with",
)
.required()
.example("\"15 kohm\"");
const RATED_LOAD_OHMS: Field = Field::value("load", Unit::Ohm, "resistance")
    .within(Bounds::POSITIVE)
    .example("\"15 kohm\"");
const RATED_LOAD_AMPS: Field = Field::value("load", Unit::Ampere, "current")
    .within(Bounds::POSITIVE)
    .example("\"0.2 mA\"");
const RATED_END: Field = Field::value("end", Unit::Volt, "voltage under load down to which")
    .within(Bounds::POSITIVE)
    .required()
    .example("\"2.0 V\"");
const RATED_AMBIENT: Field = Field::value("ambient", Unit::Celsius, "temperature of the test")
    .default("20 degC")
    .example("\"20 degC\"");
const RATED: Field = Field::table(
    "rated",
    &[RATED_CAPACITY, RATED_LOAD, RATED_END, RATED_AMBIENT],
    "a capacity as data sheets rate it, in place of `charge`; the charge is solved from it",
)
.example("{ capacity = \"225 mAh\", load = \"15 kohm\", end = \"2.0 V\", ambient = \"20 degC\" }");
const OPEN_CIRCUIT: Field = Field::other(
    "open_circuit",
    "list of [depth, voltage]",
    "open-circuit voltage against depth of discharge, 0 to 1, depth rising",
)
.required()
.example("[[0, \"1.60 V\"], [0.5, \"1.27 V\"], [1, \"0.6 V\"]]");
const RESISTANCE: Field = Field::other(
    "resistance",
    "list of [depth, resistance]",
    "resistance at 20 degC when fresh against depth of discharge, depth rising",
)
.required()
.example("[[0, \"160 mohm\"], [1, \"1 ohm\"]]");
const DEPTH: Field = Field::value("depth", Unit::Fraction, "depth of discharge")
    .within(Bounds::SHARE)
    .example("0.5");
const TABLE_VOLTS: Field = Field::value("open_circuit", Unit::Volt, "voltage")
    .within(Bounds::FROM_ZERO)
    .example("\"1.5 V\"");
const TABLE_OHMS: Field = Field::value("resistance", Unit::Ohm, "resistance")
    .within(Bounds::POSITIVE.to(1e5))
    .example("\"160 mohm\"");
const AVAILABLE: Field = Field::spread(
    "available",
    Unit::Fraction,
    "share of the charge in the available well",
)
.within(Bounds::POSITIVE_SHARE)
.required()
.example("0.6");
const RATE: Field = Field::spread(
    "rate",
    Unit::PerSecond,
    "rate k of ds/dt = -k s at which the wells level out",
)
.within(Bounds::POSITIVE)
.required()
.example("\"1.5e-4 /s\"");
const WELLS: Field = Field::table(
    "wells",
    &[AVAILABLE, RATE],
    "the two wells of the kinetic charge model; without it all charge is at hand",
)
.example("{ available = 0.6, rate = \"1.5e-4 /s\" }");
const RATIO: Field = Field::number(
    "ratio",
    "resistance of the branch as a multiple of the cell's resistance",
)
.within(Bounds::POSITIVE)
.required()
.example("0.6");
const BRANCH_TIME: Field = Field::value("time", Unit::Second, "time constant of the branch")
    .within(Bounds::POSITIVE)
    .required()
    .example("\"8 s\"");
const BRANCH: &[Field] = &[RATIO, BRANCH_TIME];
const POLARISATION: Field = Field::other(
    "polarisation",
    "list of { ratio, time }",
    "polarisation branches, fast to slow: `ratio` is a multiple of the resistance table, `time` a time constant",
)
.example("[{ ratio = 0.6, time = \"8 s\" }, { ratio = 0.9, time = \"9000 s\" }]");
const ACTIVATION_VOLTS: Field = Field::value("volts", Unit::Volt, "scale b of b asinh(I / 2 i0)")
    .within(Bounds::POSITIVE)
    .required()
    .example("\"8 mV\"");
const ACTIVATION_CURRENT: Field = Field::value("current", Unit::Ampere, "exchange current i0")
    .within(Bounds::POSITIVE)
    .required()
    .example("\"1.4 mA\"");
const ACTIVATION: Field = Field::table(
    "activation",
    &[ACTIVATION_VOLTS, ACTIVATION_CURRENT],
    "overvoltage of the charge transfer",
)
.example("{ volts = \"8 mV\", current = \"1.4 mA\" }");
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
const FACTOR: Field = Field::number("factor", "factor")
    .within(Bounds::POSITIVE)
    .example("1");
const TEMPERATURE: Field = Field::table(
    "temperature",
    &[POINTS, FACTORS_RESISTANCE, FACTORS_RATE, FACTORS_BRANCH],
    "how cold and heat act: factors, linear in their logarithm between points and held outside",
)
.example("{ points = [\"-20 degC\", \"20 degC\"], resistance = [4, 1], rate = [0.2, 1] }");
const GROWTH: Field = Field::value(
    "resistance",
    Unit::PerSecond,
    "growth of the resistance at 20 degC, doubling per 10 K",
)
.within(Bounds::FROM_ZERO)
.default("0 %/year")
.example("\"4 %/year\"");
const AGEING: Field = Field::table("ageing", &[GROWTH], "what time does to the cell")
    .example("{ resistance = \"4 %/year\" }");
const SELF_DISCHARGE: Field = Field::value(
    "self_discharge",
    Unit::PerSecond,
    "share of the charge lost at 20 degC, doubling per 10 K",
)
.within(Bounds::FROM_ZERO)
.default("0 %/year")
.example("\"3 %/year\"");
const SPREAD_CHARGE: Field = Field::value("charge", Unit::Fraction, "of the charge")
    .within(Bounds::SHARE)
    .default("0 %")
    .example("\"4 %\"");
const SPREAD_RESISTANCE: Field = Field::value("resistance", Unit::Fraction, "of the resistance")
    .within(Bounds::SHARE)
    .default("0 %")
    .example("\"10 %\"");
const SPREAD: Field = Field::table(
    "spread",
    &[SPREAD_CHARGE, SPREAD_RESISTANCE],
    "one standard deviation from unit to unit",
)
.example("{ charge = \"4 %\", resistance = \"10 %\" }");
const CONTINUOUS: Field = Field::value("continuous", Unit::Ampere, "largest continuous current")
    .within(Bounds::POSITIVE)
    .example("\"250 mA\"");
const PULSE: Field = Field::value("pulse", Unit::Ampere, "largest pulse current")
    .within(Bounds::POSITIVE)
    .example("\"600 mA\"");
const REVERSE_CHARGE: Field = Field::value(
    "reverse_charge",
    Unit::Fraction,
    "share of the capacity that may be charged back over the whole life",
)
.within(Bounds::SHARE)
.example("\"3 %\"");
const REVERSE_CURRENT: Field = Field::value(
    "reverse_current",
    Unit::Ampere,
    "largest charging current in a single fault",
)
.within(Bounds::FROM_ZERO)
.example("\"10 mA\"");
const END: Field = Field::value(
    "end",
    Unit::Volt,
    "voltage under load at which a cell counts as empty",
)
.within(Bounds::FROM_ZERO)
.example("\"0.8 V\"");
const LIMITS: Field = Field::table(
    "limits",
    &[CONTINUOUS, PULSE, REVERSE_CHARGE, REVERSE_CURRENT, END],
    "what the cell must not be asked for",
)
.example("{ continuous = \"250 mA\", pulse = \"600 mA\", end = \"0.8 V\" }");
const RECHARGEABLE: Field = Field::flag("rechargeable", "whether the cell may be charged")
    .default("false")
    .example("false");
const BUTTON: Field = Field::flag(
    "button",
    "whether it is a button or coin cell, which a child can swallow",
)
.default("false")
.example("true");

pub(crate) static SECTION: Section = Section {
    kind: Kind::Cell,
    doc: "a cell or a string of equal cells in a holder",
    pins: PinSet::Two(&[["plus", "minus"]]),
    part: &[SERIES, HOLDER],
    model: &[
        CHEMISTRY,
        CHARGE,
        RATED,
        OPEN_CIRCUIT,
        RESISTANCE,
        WELLS,
        POLARISATION,
        ACTIVATION,
        TEMPERATURE,
        AGEING,
        SELF_DISCHARGE,
        SPREAD,
        LIMITS,
        RECHARGEABLE,
        BUTTON,
    ],
    read,
};

fn read(f: &Fields<'_>, _pins: &[Pin]) -> Option<Device> {
    let series = match f.get(SERIES.key) {
        Some(_) => f.count(&SERIES),
        None => Some(1),
    };
    let holder = holder(f);
    let model = model(f);
    Some(Device::Cell(Box::new(Cell {
        model: model?,
        series: series?,
        holder,
    })))
}

fn holder(f: &Fields<'_>) -> Holder {
    let table = f.table(&HOLDER);
    let contact = table
        .as_ref()
        .map_or(Spread::exactly(Resistance::from_ohms(0.0)), |t| {
            t.spread_or(&CONTACT)
        });
    let reversed = match table.as_ref().and_then(|t| t.word(&REVERSED)) {
        Some("blocked") => Reversal::Blocked,
        Some("no-contact") => Reversal::NoContact,
        Some("short") => Reversal::Short,
        _ => Reversal::Possible,
    };
    Holder { contact, reversed }
}

fn model(f: &Fields<'_>) -> Option<CellModel> {
    let chemistry = f.text(&CHEMISTRY).unwrap_or("not stated").to_owned();
    let charge = charge(f);
    let open_circuit = depth_table::<Voltage>(f, &OPEN_CIRCUIT, &TABLE_VOLTS);
    let resistance = depth_table::<Resistance>(f, &RESISTANCE, &TABLE_OHMS);
    let before = f.reader.sink.len();
    let wells = f.table(&WELLS).and_then(|t| {
        let available = t.spread(&AVAILABLE);
        let rate = t.spread(&RATE);
        Some(Wells {
            available: available?,
            rate: rate?,
        })
    });
    let polarisation = polarisation(f);
    let activation = f.table(&ACTIVATION).and_then(|t| {
        let volts = t.value(&ACTIVATION_VOLTS);
        let current = t.value(&ACTIVATION_CURRENT);
        Some(Activation {
            volts: volts?,
            current: current?,
        })
    });
    let temperature = temperature(f, polarisation.len());
    let ageing = f
        .table(&AGEING)
        .map_or(Rate::from_per_sec(0.0), |t| t.value_or(&GROWTH));
    let self_discharge = f.value_or(&SELF_DISCHARGE);
    let spread = spread(f);
    let limits = limits(f);
    let charging = if f.flag(&RECHARGEABLE) {
        Charging::Rechargeable
    } else {
        Charging::Primary
    };
    let button = f.flag(&BUTTON);
    if before != f.reader.sink.len() {
        return None;
    }
    let model = CellModel {
        chemistry,
        charge: Spread::exactly(Charge::from_coulombs(1.0)),
        open_circuit: open_circuit?,
        resistance: resistance?,
        wells,
        polarisation,
        activation,
        temperature,
        ageing,
        self_discharge,
        spread,
        limits,
        charging,
        button,
    };
    charged(f, model, charge?)
}

/// The charge as written, or as a maker rates it.
enum Stated {
    Charge(Spread<Charge>),
    Rated(Rating),
}

fn charge(f: &Fields<'_>) -> Option<Stated> {
    match f.either(&CHARGE, &RATED) {
        Either::Both => None,
        Either::Second => {
            let t = f.table(&RATED)?;
            let capacity = t.value(&RATED_CAPACITY);
            let load = t.find(&RATED_LOAD).and_then(|value| rated_load(f, value));
            let end = t.value(&RATED_END);
            let ambient = t.value_or(&RATED_AMBIENT);
            Some(Stated::Rated(Rating {
                capacity: capacity?,
                load: load?,
                end: end?,
                ambient,
            }))
        }
        Either::First | Either::Neither => f.spread(&CHARGE).map(Stated::Charge),
    }
}

/// The model with the charge that gives its rating.
fn charged(f: &Fields<'_>, mut model: CellModel, stated: Stated) -> Option<CellModel> {
    let charge = match stated {
        Stated::Charge(charge) => Some(charge),
        Stated::Rated(rating) => model.charge_for_rating(&rating).map(Spread::exactly),
    };
    let Some(charge) = charge else {
        let says = "no charge gives this rating: the voltage lies below its `end` from the start";
        let at = f.get(RATED.key).map_or(&f.home, |v| &v.spot);
        let problem = Problem::new("impossible-rating", at.clone(), says);
        f.reader.report(problem.label("cannot be reached"));
        return None;
    };
    model.charge = charge;
    Some(model)
}

/// A resistance or a current.
fn rated_load(f: &Fields<'_>, value: &Value) -> Option<RatingLoad> {
    let text = value.as_text().unwrap_or("");
    let amps = crate::quantity::unit_of(text).is_some_and(|u| u.1 == Unit::Ampere);
    if amps {
        f.reader
            .quantity(value, &RATED_LOAD_AMPS)
            .map(RatingLoad::Current)
    } else {
        f.reader
            .quantity(value, &RATED_LOAD_OHMS)
            .map(RatingLoad::Resistance)
    }
}

fn depth_table<Q: Quantity>(f: &Fields<'_>, field: &Field, cell: &Field) -> Option<Table> {
    let value = f.find(field)?;
    let rows = f.reader.rows(value, field.key, 2)?;
    let mut points = Vec::new();
    let mut column = Vec::new();
    let mut failed = false;
    for row in rows {
        let depth: Option<Fraction> = f.reader.quantity(&row[0], &DEPTH);
        let figure: Option<Q> = f.reader.quantity(&row[1], cell);
        let (Some(depth), Some(figure)) = (depth, figure) else {
            failed = true;
            continue;
        };
        column.push((depth.as_share(), &row[0]));
        points.push((depth.as_share(), figure.si()));
    }
    if failed || !f.reader.rising(field.key, &column) {
        return None;
    }
    Table::new(&points).ok()
}

fn polarisation(f: &Fields<'_>) -> Vec<Branch> {
    let Some(value) = f.find(&POLARISATION) else {
        return Vec::new();
    };
    let items = f
        .reader
        .list(value, POLARISATION.key, "a list of tables")
        .unwrap_or(&[]);
    let mut branches = Vec::new();
    for item in items {
        let Some(table) = f.reader.table(item, POLARISATION.key) else {
            continue;
        };
        let what = format!("a branch of `polarisation` of {}", f.what);
        let t = Fields::of(f.reader, table, BRANCH, &item.spot, &what);
        let ratio = t.find(&RATIO).and_then(|v| f.reader.number(v, &RATIO));
        let time: Option<Time> = t.value(&BRANCH_TIME);
        if let (Some(ratio), Some(time)) = (ratio, time) {
            branches.push(Branch { ratio, time });
        }
    }
    branches
}

fn temperature(f: &Fields<'_>, n_branches: usize) -> Option<CellTemperature> {
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
    Some(CellTemperature {
        celsius: column.iter().map(|c| c.0).collect(),
        resistance: resistance?,
        rate: rate?,
        polarisation: polarisation?,
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

fn spread(f: &Fields<'_>) -> CellSpread {
    let none = Fraction::from_share(0.0);
    f.table(&SPREAD).map_or(
        CellSpread {
            charge: none,
            resistance: none,
        },
        |t| CellSpread {
            charge: t.value_or(&SPREAD_CHARGE),
            resistance: t.value_or(&SPREAD_RESISTANCE),
        },
    )
}

fn limits(f: &Fields<'_>) -> CellLimits {
    let table = f.table(&LIMITS);
    let t = table.as_ref();
    CellLimits {
        continuous: t.and_then(|t| t.value(&CONTINUOUS)),
        pulse: t.and_then(|t| t.value(&PULSE)),
        reverse_charge: t.and_then(|t| t.value(&REVERSE_CHARGE)),
        reverse_current: t.and_then(|t| t.value(&REVERSE_CURRENT)),
        end: t.and_then(|t| t.value(&END)),
    }
}
