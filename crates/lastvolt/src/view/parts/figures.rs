//! The figures of a model, in groups that people read and under keys that programs do.

use lastvolt_core::device::{
    CellModel, Charging, Diode, Fet, Loss, Regulator, Setpoint, Supply, Switch,
};
use lastvolt_core::model::Device;
use lastvolt_core::quantity::{Fraction, Quantity, Spread, Unit};
use lastvolt_input::CellFacts;
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};

use crate::view::Num;

/// One figure or word.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Shown {
    /// What it belongs to.
    pub(crate) group: &'static str,
    /// Its key without the unit.
    pub(crate) key: String,
    /// What it is, in words.
    pub(crate) says: String,
    /// Its value.
    pub(crate) value: Value,
}

/// What stands for a figure.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Value {
    /// A value with limits where they are stated.
    Figure {
        unit: Unit,
        min: Option<f64>,
        typ: f64,
        max: Option<f64>,
    },
    /// A word.
    Word(String),
    /// Yes or no.
    Flag(bool),
}

/// The figures of a model in order.
#[derive(Debug, Clone, PartialEq, Default)]
pub(crate) struct Figures(pub(crate) Vec<Shown>);

/// What the key of a number ends in.
fn suffix(unit: Unit) -> &'static str {
    match unit {
        Unit::Volt => "_v",
        Unit::Ampere => "_a",
        Unit::Ohm => "_ohm",
        Unit::Farad => "_f",
        Unit::Henry => "_h",
        Unit::Second => "_s",
        Unit::Hertz => "_hz",
        Unit::Watt => "_w",
        Unit::Joule => "_j",
        Unit::Coulomb => "_as",
        Unit::Celsius => "_c",
        Unit::Kelvin => "_k",
        Unit::KelvinPerWatt => "_k_per_w",
        Unit::Fraction => "_share",
        Unit::PerSecond => "_per_s",
        Unit::Kilogram => "_kg",
        Unit::Metre => "_m",
    }
}

impl Serialize for Figures {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        for shown in &self.0 {
            let key = &shown.key;
            match &shown.value {
                Value::Figure {
                    unit,
                    min,
                    typ,
                    max,
                } => {
                    // A multiple of another resistance is no share of a whole.
                    let end = if key.ends_with("_ratio") {
                        ""
                    } else {
                        suffix(*unit)
                    };
                    map.serialize_entry(&format!("{key}{end}"), &Num(*typ))?;
                    for (word, limit) in [("min", min), ("max", max)] {
                        if let Some(limit) = limit {
                            map.serialize_entry(&format!("{key}_{word}{end}"), &Num(*limit))?;
                        }
                    }
                }
                Value::Word(word) => map.serialize_entry(key, word)?,
                Value::Flag(flag) => map.serialize_entry(key, flag)?,
            }
        }
        map.end()
    }
}

impl Figures {
    /// The figure of a key.
    pub(crate) fn get(&self, key: &str) -> Option<&Shown> {
        self.0.iter().find(|s| s.key == key)
    }

    /// The typical value of a key, where it is a number.
    pub(crate) fn number(&self, key: &str) -> Option<f64> {
        match self.get(key)?.value {
            Value::Figure { typ, .. } => Some(typ),
            _ => None,
        }
    }

    fn push(&mut self, group: &'static str, key: &str, says: &str, value: Value) {
        self.0.push(Shown {
            group,
            key: key.to_owned(),
            says: says.to_owned(),
            value,
        });
    }

    fn spread<Q: Quantity>(&mut self, group: &'static str, key: &str, says: &str, v: &Spread<Q>) {
        let value = Value::Figure {
            unit: Q::UNIT,
            min: v.min.map(Q::si),
            typ: v.si(),
            max: v.max.map(Q::si),
        };
        self.push(group, key, says, value);
    }

    fn maybe<Q: Quantity>(&mut self, group: &'static str, key: &str, says: &str, value: Option<Q>) {
        if let Some(value) = value {
            self.spread(group, key, says, &Spread::exactly(value));
        }
    }

    fn plain(&mut self, group: &'static str, key: &str, says: &str, typ: f64, unit: Unit) {
        let value = Value::Figure {
            unit,
            min: None,
            typ,
            max: None,
        };
        self.push(group, key, says, value);
    }

    fn word(&mut self, group: &'static str, key: &str, says: &str, word: &str) {
        self.push(group, key, says, Value::Word(word.to_owned()));
    }
}

/// The figures of a part and what is known beside them.
pub(super) fn figures(device: Option<&Device>, facts: &CellFacts) -> Figures {
    let mut f = Figures::default();
    match device {
        Some(Device::Cell(cell)) => of_cell(&mut f, &cell.model, facts),
        Some(Device::Supply(supply)) => of_supply(&mut f, supply),
        Some(Device::Resistor(part)) => {
            f.spread(FIGURES, "value", "resistance", &part.value);
            f.maybe(LIMITS, "rated_power", "power", part.rated);
        }
        Some(Device::Capacitor(part)) => {
            f.spread(FIGURES, "value", "capacitance", &part.value);
            f.spread(
                FIGURES,
                "series_resistance",
                "series resistance",
                &part.series_resistance,
            );
            if let Some(leakage) = part.stated_leakage() {
                f.spread(FIGURES, "leakage", "leakage at rated voltage", &leakage);
            }
            f.maybe(LIMITS, "rated_voltage", "voltage", part.rated);
        }
        Some(Device::Inductor(part)) => {
            f.spread(FIGURES, "value", "inductance", &part.value);
            f.spread(FIGURES, "winding", "winding", &part.winding);
            f.maybe(LIMITS, "saturation", "saturation current", part.saturation);
            f.maybe(LIMITS, "rated_current", "current", part.rated);
        }
        Some(Device::Diode(diode)) => of_diode(&mut f, diode),
        Some(Device::Led(led)) => {
            of_diode(&mut f, &led.junction);
            f.maybe(
                FIGURES,
                "visible_from",
                "light is seen from",
                led.visible_from,
            );
        }
        Some(Device::Fet(fet)) => of_fet(&mut f, fet),
        Some(Device::Switch(switch)) => of_switch(&mut f, switch),
        Some(Device::Fuse(fuse)) => {
            f.spread(FIGURES, "resistance", "cold resistance", &fuse.resistance);
            f.maybe(LIMITS, "rated_current", "current", fuse.rated);
        }
        Some(Device::Regulator(regulator)) => of_regulator(&mut f, regulator),
        Some(Device::Load(_) | Device::TestPoint) | None => {}
    }
    f
}

const FIGURES: &str = "figures";
const LIMITS: &str = "limits";

fn of_cell(f: &mut Figures, model: &CellModel, facts: &CellFacts) {
    let group = "charge and voltage";
    f.word(group, "chemistry", "chemistry", &model.chemistry);
    f.spread(group, "charge", "charge", &model.charge);
    let open = |depth: f64| model.open_circuit_volts(depth).0;
    f.plain(
        group,
        "open_circuit_fresh",
        "open circuit, fresh",
        open(0.0),
        Unit::Volt,
    );
    f.plain(
        group,
        "open_circuit_half",
        "open circuit, half drawn",
        open(0.5),
        Unit::Volt,
    );
    let group = "resistance at 20 degC";
    let ohms = |depth: f64| model.resistance_ohms(depth, 20.0, 0.0);
    f.plain(group, "resistance_fresh", "fresh", ohms(0.0), Unit::Ohm);
    f.plain(group, "resistance_half", "half drawn", ohms(0.5), Unit::Ohm);
    f.plain(group, "resistance_empty", "empty", ohms(1.0), Unit::Ohm);
    for (at, branch) in model.polarisation.iter().enumerate() {
        let ratio = format!("branch {} over that", at + 1);
        let key = format!("polarisation_{}_ratio", at + 1);
        f.plain(group, &key, &ratio, branch.ratio, Unit::Fraction);
        let says = format!("branch {} settles in", at + 1);
        let key = format!("polarisation_{}_time", at + 1);
        f.maybe(group, &key, &says, Some(branch.time));
    }
    if let Some(wells) = &model.wells {
        let group = "charge that is slow";
        f.spread(group, "wells_available", "at hand", &wells.available);
        f.spread(group, "wells_rate", "levels out at", &wells.rate);
    }
    of_cell_film_and_cold(f, model);
    of_cell_age(f, model);
    let limits = &model.limits;
    f.maybe(
        LIMITS,
        "continuous",
        "continuous current",
        limits.continuous,
    );
    f.maybe(LIMITS, "pulse", "pulse current", limits.pulse);
    f.maybe(LIMITS, "end", "empty at", limits.end);
    f.maybe(
        LIMITS,
        "reverse_charge",
        "charged back over its life",
        limits.reverse_charge,
    );
    f.maybe(
        LIMITS,
        "reverse_current",
        "charged in a fault",
        limits.reverse_current,
    );
    let rechargeable = Value::Flag(model.charging == Charging::Rechargeable);
    f.push(LIMITS, "rechargeable", "rechargeable", rechargeable);
    let button = Value::Flag(model.button);
    f.push(LIMITS, "button", "button or coin cell", button);
    let group = "size, mass and temperature of use";
    f.maybe(group, "diameter", "diameter", facts.diameter);
    f.maybe(group, "height", "height", facts.height);
    f.maybe(group, "length", "length", facts.length);
    f.maybe(group, "width", "width", facts.width);
    f.maybe(group, "thickness", "thickness", facts.thickness);
    f.maybe(group, "mass", "mass", facts.mass);
    f.maybe(group, "operating_low", "used from", facts.lowest);
    f.maybe(group, "operating_high", "used up to", facts.highest);
}

/// What only some chemistries show.
fn of_cell_film_and_cold(f: &mut Figures, model: &CellModel) {
    if let Some(film) = &model.film {
        let group = "passivation film";
        f.maybe(
            group,
            "film_resistance",
            "resistance, grown",
            Some(film.resistance),
        );
        f.maybe(group, "film_growth", "grows back in", Some(film.growth));
        f.maybe(group, "film_burn_off", "burns off by", Some(film.burn_off));
    }
    if let Some(temperature) = &model.temperature {
        let shifts = temperature.celsius.iter().zip(&temperature.open_circuit);
        for (at, (&celsius, &volts)) in shifts.enumerate().filter(|(_, s)| *s.1 != 0.0) {
            let key = format!("open_circuit_shift_{}", at + 1);
            let says = format!("open circuit moves at {celsius} degC");
            f.plain("charge and voltage", &key, &says, volts, Unit::Volt);
        }
    }
}

fn of_cell_age(f: &mut Figures, model: &CellModel) {
    let group = "time and spread";
    f.maybe(
        group,
        "self_discharge",
        "self-discharge at 20 degC",
        Some(model.self_discharge),
    );
    f.maybe(
        group,
        "ageing",
        "growth of the resistance",
        Some(model.ageing),
    );
    f.maybe(group, "shelf_life", "shelf life", model.shelf_life);
    f.maybe(
        group,
        "spread_charge",
        "charge, one deviation",
        Some(model.spread.charge),
    );
    let ohms = model.spread.resistance;
    f.maybe(
        group,
        "spread_resistance",
        "resistance, one deviation",
        Some(ohms),
    );
}

fn of_supply(f: &mut Figures, supply: &Supply) {
    f.spread(
        FIGURES,
        "voltage",
        "voltage without load",
        &supply.open_circuit,
    );
    f.spread(
        FIGURES,
        "resistance",
        "inner resistance",
        &supply.resistance,
    );
    if let Some(limit) = &supply.limit {
        f.spread(LIMITS, "limit", "current limit", limit);
    }
}

fn of_switch(f: &mut Figures, switch: &Switch) {
    f.spread(FIGURES, "contact", "closed contact", &switch.contact);
    f.maybe(LIMITS, "rated_current", "current", switch.rated);
}

fn of_diode(f: &mut Figures, diode: &Diode) {
    if let Some((amps, volts)) = diode.forward.get(diode.forward.len() / 2) {
        f.spread(FIGURES, "forward", "forward voltage", volts);
        f.maybe(FIGURES, "forward_at", "at", Some(*amps));
    }
    if let Some(leakage) = &diode.leakage {
        f.spread(FIGURES, "leakage", "reverse current", leakage);
        f.maybe(FIGURES, "leakage_at", "at", diode.leakage_at);
    }
    f.maybe(
        LIMITS,
        "rated_current",
        "forward current",
        diode.rated_current,
    );
    f.maybe(
        LIMITS,
        "rated_reverse",
        "reverse voltage",
        diode.rated_reverse,
    );
}

fn of_fet(f: &mut Figures, fet: &Fet) {
    f.spread(FIGURES, "threshold", "threshold, magnitude", &fet.threshold);
    f.maybe(FIGURES, "threshold_at", "at", Some(fet.threshold_at));
    if let Some((volts, ohms)) = fet.on_resistance.first() {
        f.spread(FIGURES, "on_resistance", "on-resistance", ohms);
        f.maybe(
            FIGURES,
            "specified_from",
            "at a gate voltage of",
            Some(*volts),
        );
    }
    if let Some((volts, ohms)) = fet
        .on_resistance
        .last()
        .filter(|_| fet.on_resistance.len() > 1)
    {
        f.spread(FIGURES, "on_resistance_best", "on-resistance", ohms);
        f.maybe(
            FIGURES,
            "on_resistance_best_at",
            "at a gate voltage of",
            Some(*volts),
        );
    }
    for (key, says, leakage) in [
        ("off_leakage", "drain current when off", &fet.off_leakage),
        ("gate_leakage", "gate current", &fet.gate_leakage),
    ] {
        if let Some(leakage) = leakage {
            f.spread(FIGURES, key, says, leakage);
        }
    }
    f.maybe(
        LIMITS,
        "rated_drain_source",
        "drain to source",
        fet.rated_drain_source,
    );
    f.maybe(
        LIMITS,
        "rated_gate_source",
        "gate to source",
        fet.rated_gate_source,
    );
}

fn of_regulator(f: &mut Figures, regulator: &Regulator) {
    match &regulator.setpoint {
        Setpoint::Output(volts) => f.spread(FIGURES, "output", "output", volts),
        Setpoint::Reference(volts) => f.spread(FIGURES, "reference", "reference", volts),
    }
    let group = "own current";
    f.spread(
        group,
        "quiescent_in",
        "from the input",
        &regulator.quiescent_in,
    );
    f.spread(
        group,
        "quiescent_out",
        "from the output",
        &regulator.quiescent_out,
    );
    f.spread(group, "shutdown", "when off", &regulator.shutdown);
    if let Loss::Share { share, path } = &regulator.loss {
        let group = "losses";
        f.spread::<Fraction>(group, "loss", "of the output power", share);
        f.spread(group, "loss_path", "path of the inductor current", path);
    }
    f.spread("losses", "dropout", "dropout", &regulator.dropout);
    if let Some(frequency) = &regulator.frequency {
        f.spread(FIGURES, "frequency", "switching frequency", frequency);
    }
    if let Some(limit) = &regulator.limit {
        f.spread(LIMITS, "limit", "current limit", limit);
    }
    for (at, (amps, volts)) in regulator.start.iter().enumerate() {
        let key = format!("start_{}", at + 1);
        f.maybe(LIMITS, &key, "starts from", Some(*volts));
        f.maybe(LIMITS, &format!("{key}_into"), "into", Some(*amps));
    }
    f.maybe(
        LIMITS,
        "runs_down_to",
        "runs down to",
        Some(regulator.runs_down_to),
    );
    f.maybe(LIMITS, "survives", "survives", regulator.survives);
    f.maybe(FIGURES, "response", "answers a step in", regulator.response);
    if let Some(enable) = &regulator.enable {
        f.maybe("enable", "enable_low", "surely off below", Some(enable.low));
        f.maybe("enable", "enable_high", "surely on from", Some(enable.high));
        f.spread("enable", "enable_leakage", "leakage", &enable.leakage);
    }
}
