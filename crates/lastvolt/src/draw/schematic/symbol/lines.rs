//! The lines beside a symbol: its designator, then what it is, short enough to stand there.

use lastvolt_core::device::{Cell, Port, Setpoint, Supply};
use lastvolt_core::model::{Device, Part};
use lastvolt_core::quantity::{Quantity, Spread, Unit};

use crate::draw::schematic::sheet::TextRole;
use crate::draw::svg::shortened;
use crate::report::typeset;
use crate::text::number::{nominal, percent};

/// Most characters of a line: lines beside upright parts make a drawing wide.
pub(super) const MOST: usize = 14;

/// The lines below the designator of a part.
pub(super) fn values_in_lines(part: &Part) -> Vec<(TextRole, String)> {
    let values = values(part).into_iter().filter(|v| !v.is_empty());
    let values = values.flat_map(|v| broken(&typeset(&v)));
    values.map(|v| (TextRole::Value, v)).collect()
}

/// A text on one line, or on two that part after a hyphen or at a space.
fn broken(text: &str) -> Vec<String> {
    let n_letters = text.chars().count();
    if n_letters <= MOST {
        return vec![text.to_owned()];
    }
    let ends = text.char_indices().enumerate();
    let ends = ends.take(MOST).filter(|(_, (_, c))| matches!(c, '-' | ' '));
    match ends.last() {
        Some((_, (at, _))) if 0 < at => {
            let (head, tail) = text.split_at(at + 1);
            vec![head.trim_end().to_owned(), shortened(tail, MOST)]
        }
        _ => {
            let head: String = text.chars().take(MOST).collect();
            let tail: String = text.chars().skip(MOST).collect();
            vec![head, shortened(&tail, MOST)]
        }
    }
}

/// A, B, C for pieces; figures beyond Z.
pub(super) fn letter(at: usize) -> String {
    match u8::try_from(at) {
        Ok(n) if n < 26 => char::from(b'A' + n).to_string(),
        _ => (at + 1).to_string(),
    }
}

/// What a part is, in full: model, value, tolerance, rating; some may be empty.
pub(crate) fn values(part: &Part) -> Vec<String> {
    let model = part.origin.model.clone().unwrap_or_default();
    match &part.device {
        Device::Cell(c) => vec![cells(part, c)],
        Device::Supply(s) => vec![supply(s)],
        Device::Resistor(r) => vec![nominal(r.value.si(), Unit::Ohm), tolerance(&r.value)],
        Device::Capacitor(c) => vec![
            nominal(c.value.si(), Unit::Farad),
            c.rated
                .map_or_else(String::new, |v| nominal(v.si(), Unit::Volt)),
        ],
        Device::Inductor(l) => vec![nominal(l.value.si(), Unit::Henry)],
        Device::Fuse(f) => vec![current_or_ohms(
            f.rated.map(Quantity::si),
            f.resistance.si(),
        )],
        Device::Ptc(p) => vec![current_or_ohms(p.hold.map(Quantity::si), p.resistance.si())],
        Device::Zener(z) => vec![model, nominal(z.breakdown.si(), Unit::Volt)],
        Device::Regulator(u) => vec![
            model,
            match &u.setpoint {
                Setpoint::Output(v) => nominal(v.si(), Unit::Volt),
                Setpoint::Reference(_) => String::new(),
            },
        ],
        Device::Detector(d) => vec![model, nominal(d.threshold.si(), Unit::Volt)],
        Device::Diode(_)
        | Device::Led(_)
        | Device::Fet(_)
        | Device::LoadSwitch(_)
        | Device::IdealDiode(_) => vec![model],
        Device::Switch(s) => vec![s.label.clone().unwrap_or_default()],
        Device::Load(name) if *name == part.name => Vec::new(),
        Device::Load(name) => vec![name.clone()],
        Device::TestPoint => Vec::new(),
    }
}

fn cells(part: &Part, cell: &Cell) -> String {
    let chemistry = &cell.model.chemistry;
    let model = part.origin.model.as_ref().unwrap_or(chemistry);
    match cell.series {
        1 => model.clone(),
        n => format!("{n} × {model}"),
    }
}

fn supply(supply: &Supply) -> String {
    let volts = nominal(supply.open_circuit.si(), Unit::Volt);
    match supply.port {
        Some(Port::Usb) => format!("{volts} USB"),
        Some(Port::Adapter) => format!("{volts} adapter"),
        Some(Port::Bench) => format!("{volts} bench"),
        None => volts,
    }
}

fn current_or_ohms(amps: Option<f64>, ohms: f64) -> String {
    amps.map_or_else(|| nominal(ohms, Unit::Ohm), |a| nominal(a, Unit::Ampere))
}

/// `±1 %` where the limits lie evenly about the value.
pub(crate) fn tolerance<Q: Quantity>(value: &Spread<Q>) -> String {
    let typ = value.si();
    let (Some(min), Some(max)) = (value.min, value.max) else {
        return String::new();
    };
    let (down, up) = (1.0 - min.si() / typ, max.si() / typ - 1.0);
    if 0.0 < up && (up - down).abs() < 1e-6 {
        format!("±{}", percent(up).replace(".0 %", " %"))
    } else {
        String::new()
    }
}
