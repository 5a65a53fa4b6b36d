//! The curves of a model, each computed by the equations that every other command uses.

use lastvolt_core::device::{
    Capacitor, CellModel, CellTemperature, Dielectric, Diode, Fet, Rating, RatingLoad, Regulator,
    Setpoint, Topology,
};
use lastvolt_core::model::Device;
use lastvolt_core::quantity::{Charge, Current, Temperature, Unit, Voltage};

use super::{AxisView, CurveView, LineView, ScaleView};
use crate::text::number::{celsius, figure, nominal};
use crate::view::{Named, nums};

/// Points of a curve that is computed point by point.
const POINTS: usize = 61;
/// Temperature at which curves of a junction and a channel hold.
const STATED_CELSIUS: f64 = 25.0;
/// Output voltage of a converter whose divider is not known, for its efficiency (common practice).
const USUAL_OUT_VOLTS: f64 = 3.0;

/// The curves of a part.
pub(super) fn curves(device: &Device) -> Vec<CurveView> {
    match device {
        Device::Cell(cell) => of_cell(&cell.model),
        Device::Diode(diode) => vec![forward(diode)],
        Device::Led(led) => vec![forward(&led.junction)],
        Device::Fet(fet) => on_resistance(fet).into_iter().collect(),
        Device::Capacitor(part) => bias(part).into_iter().collect(),
        Device::Regulator(regulator) => efficiency(regulator).into_iter().collect(),
        _ => Vec::new(),
    }
}

fn axis(column: &'static str, says: &'static str, unit: Unit) -> AxisView {
    AxisView {
        column,
        says,
        scale: ScaleView::Linear,
        unit,
    }
}

impl AxisView {
    fn logarithmic(mut self) -> Self {
        self.scale = ScaleView::Logarithmic;
        self
    }
}

fn curve(
    name: &'static str,
    title: impl Into<String>,
    x: AxisView,
    y: AxisView,
    lines: Vec<(String, Vec<(f64, f64)>)>,
) -> CurveView {
    let columns = (x.column, y.column);
    let lines = lines.into_iter().filter(|l| !l.1.is_empty());
    let lines = lines.map(|(label, points)| line(columns, label, &points, false));
    CurveView {
        name,
        title: title.into(),
        x,
        y,
        lines: lines.collect(),
    }
}

fn line(columns: (&str, &str), label: String, points: &[(f64, f64)], stated: bool) -> LineView {
    let column = |of: fn(&(f64, f64)) -> f64| nums(&points.iter().map(of).collect::<Vec<_>>());
    LineView {
        label,
        stated,
        points: Named(vec![
            (columns.0.to_owned(), column(|p| p.0)),
            (columns.1.to_owned(), column(|p| p.1)),
        ]),
    }
}

impl CurveView {
    /// Adds the points that a data sheet states.
    fn with_stated(mut self, points: &[(f64, f64)]) -> Self {
        let columns = (self.x.column, self.y.column);
        self.lines
            .push(line(columns, "stated".to_owned(), points, true));
        self
    }
}

/// So many values from one to another, at equal steps or equal factors.
fn values((from, to): (f64, f64), n: usize, scale: ScaleView) -> Vec<f64> {
    let share = |k: usize| k as f64 / (n - 1) as f64;
    let value = |k: usize| match scale {
        ScaleView::Linear => from + (to - from) * share(k),
        ScaleView::Logarithmic => from * (to / from).powf(share(k)),
    };
    (0..n).map(value).collect()
}

fn of_cell(model: &CellModel) -> Vec<CurveView> {
    let depths = values((0.0, 1.0), POINTS, ScaleView::Linear);
    let depth = || axis("depth", "depth of discharge", Unit::Fraction);
    let volts = |d: &f64| (*d, model.open_circuit_volts(*d).0);
    let ohms = |d: &f64| (*d, model.resistance_ohms(*d, 20.0, 0.0));
    let open = vec![(
        "open circuit".to_owned(),
        depths.iter().map(volts).collect(),
    )];
    let inner = vec![("resistance".to_owned(), depths.iter().map(ohms).collect())];
    let mut out = vec![
        curve(
            "open_circuit",
            "Open-circuit voltage against depth of discharge",
            depth(),
            axis("voltage_v", "voltage", Unit::Volt),
            open,
        ),
        curve(
            "resistance",
            "Resistance at 20 degC when fresh, against depth of discharge",
            depth(),
            axis("resistance_ohm", "resistance", Unit::Ohm),
            inner,
        ),
    ];
    out.extend(discharges(model));
    out.extend(capacities(model));
    out.extend(model.temperature.as_ref().map(factors));
    out
}

/// Voltage at which a cell counts as empty here.
fn end_volts(model: &CellModel) -> f64 {
    let stated = model.limits.end.map(Voltage::as_volts);
    // A cell of which nothing is said is followed to the end of its table.
    let last = model.open_circuit_volts(1.0).0;
    stated.unwrap_or(last).max(1e-3)
}

fn test(model: &CellModel, amps: f64) -> Rating {
    Rating {
        capacity: Charge::from_coulombs(model.charge.si()),
        load: RatingLoad::Current(Current::from_amps(amps)),
        end: Voltage::from_volts(end_volts(model)),
        ambient: Temperature::from_celsius(20.0),
    }
}

/// The loaded voltage at three constant currents.
fn discharges(model: &CellModel) -> Option<CurveView> {
    let mut lines = Vec::new();
    for hours in [1000.0, 100.0, 20.0] {
        let amps = model.charge.si() / (hours * 3600.0);
        let points = model.discharge(&test(model, amps));
        let every = points.len().div_ceil(POINTS).max(1);
        let last = points.len().saturating_sub(1);
        let kept = points
            .iter()
            .enumerate()
            .filter(|(k, _)| k % every == 0 || *k == last);
        let points = kept
            .map(|(_, p)| (p.given.as_coulombs(), p.voltage.as_volts()))
            .collect();
        let label = format!("{} (charge in {hours} h)", figure(amps, Unit::Ampere));
        lines.push((label, points));
    }
    let says = format!(
        "Voltage at three constant currents at 20 degC, down to {}",
        nominal(end_volts(model), Unit::Volt)
    );
    let x = axis("given_as", "charge given", Unit::Coulomb);
    let y = axis("voltage_v", "voltage", Unit::Volt);
    let found = curve("discharge", says, x, y, lines);
    (!found.lines.is_empty()).then_some(found)
}

/// The charge that is given at a constant current.
fn capacities(model: &CellModel) -> Option<CurveView> {
    let hour_amps = model.charge.si() / 3600.0;
    let range = (hour_amps / 10_000.0, hour_amps / 2.0);
    let mut points = Vec::new();
    for amps in values(range, 25, ScaleView::Logarithmic) {
        let given = model.discharge(&test(model, amps));
        let Some(last) = given.last() else { break };
        points.push((amps, last.given.as_coulombs()));
    }
    let says = format!(
        "Charge given at a constant current at 20 degC, down to {}",
        nominal(end_volts(model), Unit::Volt)
    );
    let x = axis("current_a", "current", Unit::Ampere).logarithmic();
    let y = axis("given_as", "charge given", Unit::Coulomb);
    let found = curve(
        "capacity",
        says,
        x,
        y,
        vec![("charge given".to_owned(), points)],
    );
    (!found.lines.is_empty()).then_some(found)
}

/// What cold and heat do.
fn factors(temperature: &CellTemperature) -> CurveView {
    let ends = (temperature.celsius.first(), temperature.celsius.last());
    let (from, to) = (
        ends.0.copied().unwrap_or(20.0),
        ends.1.copied().unwrap_or(20.0),
    );
    let range = (from.min(-10.0), to.max(40.0));
    let along = |row: &[f64]| {
        let at = values(range, POINTS, ScaleView::Linear).into_iter();
        at.map(|c| (c, temperature.factor(row, c))).collect()
    };
    let mut lines = vec![
        ("resistance".to_owned(), along(&temperature.resistance)),
        ("rate of the wells".to_owned(), along(&temperature.rate)),
    ];
    for (at, row) in temperature.polarisation.iter().enumerate() {
        if *row != temperature.resistance {
            lines.push((format!("branch {}", at + 1), along(row)));
        }
    }
    let x = axis("temperature_c", "temperature", Unit::Celsius);
    let y = AxisView {
        scale: ScaleView::Logarithmic,
        ..axis("factor", "factor", Unit::Fraction)
    };
    curve("temperature", "Factors against temperature", x, y, lines)
}

fn forward(diode: &Diode) -> CurveView {
    let stated: Vec<(f64, f64)> = diode
        .forward
        .iter()
        .map(|(i, v)| (v.si(), i.as_amps()))
        .collect();
    let first = stated.first().map_or(1e-3, |p| p.1);
    let last = stated.last().map_or(1e-3, |p| p.1);
    let most = diode.rated_current.map_or(last, |i| i.as_amps().max(last));
    let at = |celsius: f64| {
        let junction = diode.junction(celsius);
        let amps = values((first / 10.0, most), POINTS, ScaleView::Logarithmic);
        let points = amps.into_iter().map(|i| (junction.volts(i), i)).collect();
        (celsius_label(celsius), points)
    };
    let x = axis("voltage_v", "forward voltage", Unit::Volt);
    let y = axis("current_a", "current", Unit::Ampere).logarithmic();
    let lines = vec![at(STATED_CELSIUS), at(-20.0)];
    curve("forward", "Forward current against voltage", x, y, lines).with_stated(&stated)
}

fn celsius_label(value: f64) -> String {
    format!("at {}", celsius(value))
}

fn on_resistance(fet: &Fet) -> Option<CurveView> {
    let stated = fet
        .on_resistance
        .iter()
        .map(|(v, r)| (v.as_volts(), r.si()));
    let stated: Vec<(f64, f64)> = stated.collect();
    let last = stated.last()?.0;
    let law = fet.law(STATED_CELSIUS);
    let threshold = fet.threshold.si().abs();
    // Below what is specified, to show how soon it rises, and not down to where nothing flows.
    let first = stated.first()?.0;
    let range = (
        (0.75 * first).max(threshold + 0.1).min(first),
        last.max(first + 0.5),
    );
    let volts = values(range, POINTS, ScaleView::Linear);
    let points = volts.into_iter().map(|v| (v, law.on_ohms(v))).collect();
    let x = axis("gate_source_v", "gate to source, magnitude", Unit::Volt);
    let y = axis("resistance_ohm", "on-resistance", Unit::Ohm).logarithmic();
    let lines = vec![("at 25 degC".to_owned(), points)];
    let title = "On-resistance against gate voltage";
    Some(curve("on_resistance", title, x, y, lines).with_stated(&stated))
}

fn bias(part: &Capacitor) -> Option<CurveView> {
    let class_2 = matches!(
        part.dielectric,
        Some(Dielectric::Class2X | Dielectric::Class2Y)
    );
    let last = part.bias.as_ref().and_then(|t| t.points().last());
    let stated = part.rated.map(Voltage::as_volts);
    let most = stated
        .or(last.map(|p| p.0))
        .filter(|_| class_2 || part.bias.is_some())?;
    let volts = values((0.0, most), POINTS, ScaleView::Linear);
    let points = volts.into_iter().map(|v| (v, part.kept_share(v))).collect();
    let x = axis("bias_v", "bias", Unit::Volt);
    let y = axis("kept_share", "capacitance left", Unit::Fraction);
    let lines = vec![("left".to_owned(), points)];
    Some(curve("bias", "Capacitance left against bias", x, y, lines))
}

fn efficiency(regulator: &Regulator) -> Option<CurveView> {
    let (out_volts, assumed) = match regulator.setpoint {
        Setpoint::Output(volts) => (volts.si(), ""),
        Setpoint::Reference(_) => (USUAL_OUT_VOLTS, ", which its divider would set"),
    };
    let limit = regulator.limit.map_or(0.5, |l| l.si());
    let inputs = match regulator.topology {
        Topology::Linear | Topology::Buck => [out_volts + 0.3, out_volts + 1.2],
        Topology::Boost => [0.4 * out_volts, 0.8 * out_volts],
        Topology::BuckBoost => [0.8 * out_volts, 1.3 * out_volts],
    };
    let floor = regulator.runs_down_to.as_volts();
    let mut lines = Vec::new();
    for in_volts in inputs.map(|v| v.max(floor)) {
        let amps = values((1e-6, limit), POINTS, ScaleView::Logarithmic).into_iter();
        let points: Vec<(f64, f64)> = amps
            .filter_map(|i| Some((i, regulator.efficiency(in_volts, out_volts, i)?)))
            .collect();
        lines.push((format!("{} in", figure(in_volts, Unit::Volt)), points));
    }
    let out = nominal(out_volts, Unit::Volt);
    let title = format!("Efficiency at an output of {out}{assumed}, without an inductor's winding");
    let x = axis("current_a", "output current", Unit::Ampere).logarithmic();
    let y = axis("efficiency_share", "efficiency", Unit::Fraction);
    let found = curve("efficiency", title, x, y, lines);
    (!found.lines.is_empty()).then_some(found)
}
