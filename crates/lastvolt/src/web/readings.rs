//! Figures of a solved setting, each under the name by which pages know it.

use std::collections::BTreeMap;

use lastvolt_core::circuit::{Circuit, Point, Situation};
use lastvolt_core::model::{Device, Part};
use lastvolt_core::quantity::Unit;

use crate::draw::schematic::set::{Set, fitted};
use crate::report::typeset;
use crate::text::number::figure;

/// Text by name: `net:VDD`, `part:R1:current`, `part:U1:mode`, `load:beacon:loss`.
pub(crate) type Readings = BTreeMap<String, String>;

/// Every figure of a solved point.
pub(crate) fn readings(circuit: &Circuit, situation: &Situation, point: &Point) -> Readings {
    let mut out = Readings::new();
    let quantity = |value, unit| typeset(&figure(value, unit));
    for net in &point.nets {
        out.insert(format!("net:{}", net.name), quantity(net.volts, Unit::Volt));
    }
    let parts = circuit.parts();
    let words = words(circuit, situation, point);
    for solved in &point.parts {
        let name = &solved.name;
        out.insert(
            format!("part:{name}:current"),
            quantity(solved.amps, Unit::Ampere),
        );
        out.insert(
            format!("part:{name}:voltage"),
            quantity(solved.volts, Unit::Volt),
        );
        // Of a source the power that it gives is asked for.
        let part = parts.iter().find(|(n, _)| n == name).map(|(_, part)| *part);
        let watts = if part.is_some_and(is_source) {
            -solved.watts
        } else {
            solved.watts
        };
        out.insert(format!("part:{name}:loss"), power(watts));
        if let Some(word) = words.get(name) {
            out.insert(format!("part:{name}:mode"), word.clone());
        }
    }
    for load in &point.loads {
        let name = &load.name;
        out.insert(
            format!("load:{name}:current"),
            quantity(load.amps, Unit::Ampere),
        );
        out.insert(
            format!("load:{name}:voltage"),
            quantity(load.volts, Unit::Volt),
        );
        out.insert(
            format!("load:{name}:loss"),
            quantity(load.watts, Unit::Watt),
        );
        let state = situation.states.get(name).map_or("", String::as_str);
        let word = if load.awake {
            state.to_owned()
        } else {
            "in reset".to_owned()
        };
        out.insert(format!("load:{name}:mode"), word);
    }
    out
}

/// Below this a power is of no interest, in watts.
const LITTLE_WATTS: f64 = 1e-9;

/// A power; digits of what is next to nothing would only be noise.
fn power(watts: f64) -> String {
    let is_little = 0.0 < watts.abs() && watts.abs() < LITTLE_WATTS;
    typeset(&if is_little {
        "<1 nW".to_owned()
    } else {
        figure(watts, Unit::Watt)
    })
}

/// Whether a part feeds the board.
pub(crate) fn is_source(part: &Part) -> bool {
    matches!(part.device, Device::Cell(_) | Device::Supply(_))
}

/// What parts are doing, in a word each, by their names: what they are by themselves, else what the setting
/// makes of them.
fn words(circuit: &Circuit, situation: &Situation, point: &Point) -> BTreeMap<String, String> {
    let mut out = BTreeMap::new();
    for board in circuit.boards() {
        let set = Set {
            family: circuit.family(),
            board,
            situation,
        };
        for part in &board.parts {
            let name = set.name(&part.name);
            let mode = point.part(&name).and_then(|p| p.mode);
            let word = mode.map(|m| m.word().to_owned()).or_else(|| set.word(part));
            let word = word.filter(|w| !w.is_empty()).map(|w| fitted(&w));
            out.extend(word.map(|word| (name, word)));
        }
    }
    out
}
