//! A cell model as text, ready to be put into a file of a family.

use std::fmt::Write as _;

use lastvolt_core::device::{CellLimits, CellModel, CellTemperature, Charging};
use lastvolt_core::quantity::{Fraction, Rate};

/// Figures that are written of a fitted value.
const DIGITS: i32 = 4;

/// A cell as a table `[models.NAME]`.
///
/// `head` are keys that say what the model is, written as they are: `("source", "\"...\"")`. Values have
/// four digits, voltages of the open-circuit table a tenth of a millivolt.
#[must_use]
pub fn cell_text(name: &str, head: &[(&str, String)], model: &CellModel) -> String {
    let mut text = format!("[models.{}]\nkind = \"cell\"\n", key(name));
    let mut line = |key: &str, value: String| {
        let _ = writeln!(text, "{key} = {value}");
    };
    for (key, value) in head {
        line(key, value.clone());
    }
    line("charge", quoted(model.charge.si() / 3.6, "mAh"));
    let open = model.open_circuit.points();
    let open = open.map(|(x, volts)| format!("[{}, \"{volts:.4} V\"]", plain(x)));
    line("open_circuit", list(open));
    let ohms = model.resistance.points();
    let ohms = ohms.map(|(x, ohms)| format!("[{}, {}]", plain(x), resistance(ohms)));
    line("resistance", list(ohms));
    if let Some(wells) = &model.wells {
        let available = plain(round(wells.available.si()));
        let rate = quoted_small(wells.rate.si(), "/s");
        line(
            "wells",
            format!("{{ available = {available}, rate = {rate} }}"),
        );
    }
    if !model.polarisation.is_empty() {
        let branches = model.polarisation.iter().map(|branch| {
            let ratio = plain(round(branch.ratio));
            let time = quoted(branch.time.as_secs(), "s");
            format!("{{ ratio = {ratio}, time = {time} }}")
        });
        line("polarisation", list(branches));
    }
    if let Some(activation) = &model.activation {
        let volts = quoted(activation.volts.as_volts() * 1e3, "mV");
        let amps = quoted(activation.current.as_amps() * 1e3, "mA");
        line(
            "activation",
            format!("{{ volts = {volts}, current = {amps} }}"),
        );
    }
    if let Some(film) = &model.film {
        let ohms = resistance(film.resistance.as_ohms());
        let growth = quoted(film.growth.as_secs() / 86_400.0, "days");
        let burn = quoted(film.burn_off.as_coulombs() / 3.6, "mAh");
        let film = format!("{{ resistance = {ohms}, growth = {growth}, burn_off = {burn} }}");
        line("film", film);
    }
    if let Some(t) = &model.temperature {
        line("temperature", temperature(t));
    }
    if model.ageing.as_per_sec() > 0.0 {
        line(
            "ageing",
            format!("{{ resistance = {} }}", per_year(model.ageing)),
        );
    }
    if model.self_discharge.as_per_sec() > 0.0 {
        line("self_discharge", per_year(model.self_discharge));
    }
    let (charge, ohms) = (model.spread.charge, model.spread.resistance);
    if charge.as_share() > 0.0 || ohms.as_share() > 0.0 {
        let (charge, ohms) = (percent(charge), percent(ohms));
        line(
            "spread",
            format!("{{ charge = {charge}, resistance = {ohms} }}"),
        );
    }
    if let Some(limits) = limits(&model.limits) {
        line("limits", limits);
    }
    if let Some(time) = model.shelf_life {
        let years = time.as_secs() / (365.25 * 86_400.0);
        line("shelf_life", quoted(years, "years"));
    }
    if model.charging == Charging::Rechargeable {
        line("rechargeable", "true".to_owned());
    }
    if model.button {
        line("button", "true".to_owned());
    }
    text
}

/// A text as a TOML string.
#[must_use]
pub fn quote(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\t' => out.push_str("\\t"),
            c if c.is_control() => {
                let _ = write!(out, "\\u{:04X}", u32::from(c));
            }
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// A name as a TOML key, quoted where it must be.
fn key(name: &str) -> String {
    let bare = |c: char| c.is_ascii_alphanumeric() || c == '-' || c == '_';
    if !name.is_empty() && name.chars().all(bare) {
        name.to_owned()
    } else {
        quote(name)
    }
}

fn temperature(t: &CellTemperature) -> String {
    let row = |row: &[f64]| list(row.iter().map(|&f| plain(round(f))));
    let points = list(t.celsius.iter().map(|c| format!("\"{} degC\"", plain(*c))));
    let mut keys = vec![format!("points = {points}")];
    if t.open_circuit.iter().any(|&v| v != 0.0) {
        let shifts = t.open_circuit.iter();
        let shifts = shifts.map(|v| format!("\"{} mV\"", plain((v * 1e4).round() / 10.0)));
        keys.push(format!("open_circuit = {}", list(shifts)));
    }
    keys.push(format!("resistance = {}", row(&t.resistance)));
    keys.push(format!("rate = {}", row(&t.rate)));
    if !t.polarisation.is_empty() {
        let rows = t.polarisation.iter().map(|r| row(r));
        keys.push(format!("polarisation = {}", list(rows)));
    }
    format!("{{ {} }}", keys.join(", "))
}

fn limits(limits: &CellLimits) -> Option<String> {
    let current = |amps: f64| quoted(amps * 1e3, "mA");
    let keys = [
        limits
            .continuous
            .map(|i| ("continuous", current(i.as_amps()))),
        limits.pulse.map(|i| ("pulse", current(i.as_amps()))),
        limits
            .reverse_charge
            .map(|q| ("reverse_charge", percent(q))),
        limits
            .reverse_current
            .map(|i| ("reverse_current", current(i.as_amps()))),
        limits.end.map(|v| ("end", quoted(v.as_volts(), "V"))),
    ];
    let keys: Vec<String> = keys
        .into_iter()
        .flatten()
        .map(|(key, value)| format!("{key} = {value}"))
        .collect();
    (!keys.is_empty()).then(|| format!("{{ {} }}", keys.join(", ")))
}

fn list(items: impl Iterator<Item = String>) -> String {
    format!("[{}]", items.collect::<Vec<_>>().join(", "))
}

fn per_year(rate: Rate) -> String {
    quoted(rate.as_per_sec() * 365.25 * 86_400.0 * 100.0, "%/year")
}

fn percent(share: Fraction) -> String {
    quoted(share.as_share() * 100.0, "%")
}

fn resistance(ohms: f64) -> String {
    if ohms < 1.0 {
        quoted(ohms * 1e3, "mohm")
    } else {
        quoted(ohms, "ohm")
    }
}

fn quoted(value: f64, unit: &str) -> String {
    format!("\"{} {unit}\"", plain(round(value)))
}

fn quoted_small(value: f64, unit: &str) -> String {
    format!("\"{value:.3e} {unit}\"")
}

/// A value with four digits.
fn round(value: f64) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return 0.0;
    }
    // Through text, so that the same digits come out on every machine.
    let digits = usize::try_from(DIGITS - 1).unwrap_or(0);
    format!("{value:.digits$e}").parse().unwrap_or(value)
}

/// A number without an exponent.
fn plain(value: f64) -> String {
    // A zero has no sign.
    format!("{}", if value == 0.0 { 0.0 } else { value })
}
