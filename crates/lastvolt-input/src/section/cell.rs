//! `kind = "cell"`: a cell or a string of equal cells in a holder.

use lastvolt_core::device::{
    Activation, Branch, Cell, CellLimits, CellModel, CellSpread, Charging, Holder, Reversal, Wells,
};
use lastvolt_core::model::{Device, Kind, Pin};
use lastvolt_core::numerics::table::Table;
use lastvolt_core::quantity::{
    Charge, Fraction, Quantity, Rate, Resistance, Spread, Time, Unit, Voltage,
};

mod charge;
mod facts;
mod film;
mod temperature;

use charge::{CHARGE, RATED, charge, charged};
pub use facts::CellFacts;
pub(crate) use facts::facts;
use facts::{MASS, SHELF_LIFE, SIZE};
use film::{FILM, film};
use temperature::{TEMPERATURE, temperature};

use super::{PinSet, Section};
use crate::document::{Bounds, Field, Fields};

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
        FILM,
        TEMPERATURE,
        AGEING,
        SELF_DISCHARGE,
        SPREAD,
        LIMITS,
        RECHARGEABLE,
        BUTTON,
        MASS,
        SIZE,
        SHELF_LIFE,
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
    let film = film(f);
    let temperature = temperature(f, polarisation.len());
    let ageing = f
        .table(&AGEING)
        .map_or(Rate::from_per_sec(0.0), |t| t.value_or(&GROWTH));
    let self_discharge = f.value_or(&SELF_DISCHARGE);
    let shelf_life = f.value(&SHELF_LIFE);
    // Stated and not computed with: read for its spelling.
    facts(f);
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
        film,
        temperature,
        ageing,
        self_discharge,
        shelf_life,
        spread,
        limits,
        charging,
        button,
    };
    charged(f, model, charge?)
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
