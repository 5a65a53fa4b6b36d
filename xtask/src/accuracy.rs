//! `cargo xtask accuracy`: the cell models beside every published test, as a page of the manual.

use std::fmt::Write as _;
use std::path::Path;

use lastvolt_core::fit::{Amount, At, Comparison, Drive, Value, predict};
use lastvolt_core::model::Device;
use lastvolt_input::measured::{Minimum, Origin, Role};
use lastvolt_input::{CatalogEntry, catalog};

use crate::cells::{Cell, Looks, cells};

/// The page that is made.
pub(crate) const FILE: &str = "docs/accuracy.md";

const HEAD: &str = "\
# How well the cell models say what was measured

This page is made by `cargo xtask accuracy`; a test makes it again and compares.

Every figure here was published by somebody else or says that it is from memory; `crates/lastvolt-input/catalog/sources/` holds the figures with their sources, and its README the rule by which tests are held back.
The rule and its choice were written before anything was fitted, but for one line: services down to less than 0.6 V a cell, seven held and ten fitted ones of LR6 among them, and one pulse of unknown length were taken out of both after the first fits.
They stand here as *compared*; one of the seven was far outside its interval.
The models of this page saw only what says *fitted*.
What says *held* was kept from them, and is what they are judged by.
What says *compared* lies outside what the models describe and is shown only.
The built-in cells are then made by the same procedure from both.

A service is what a cell gave until its loaded voltage fell to the stated end, as time on load, charge or count.
*90 %* is the interval in which the model expects a measurement; `out` marks a measurement outside it.
*Built-in* is the error of the entry that ships, of the maker where it has one and of the size otherwise; it has seen the test.
A maker of which every test is held is one that the fit never saw: there the model between all makers is judged, and the spread between makers is in its interval.
";

/// One service beside what was said of it.
struct Service {
    maker: String,
    role: Role,
    error: f64,
    inside: bool,
    line: String,
}

/// The voltages of one test beside what was said of them.
struct Curve {
    maker: String,
    held: bool,
    /// Sum of squares and number between 10 and 90 % of the service.
    middle: (f64, usize),
    inside: usize,
    all: usize,
    line: String,
}

/// The page.
pub(crate) fn text(root: &Path) -> Result<String, String> {
    let cells = cells(root, Looks::AtFitted)?;
    let judged: Vec<(&Cell, Vec<Service>, Vec<Curve>)> = cells
        .iter()
        .map(|cell| (cell, services(cell), curves(cell)))
        .collect();
    let mut text = HEAD.to_owned();
    text.push_str(&summary(&judged));
    text.push_str(&minimums(&cells));
    for (cell, services, curves) in &judged {
        let _ = write!(text, "\n## {}\n\n", cell.recipe.name);
        let missed = &cell.fitted.missed;
        let _ = writeln!(
            text,
            "Beside the errors of its parameters the model is taken to miss services by {:.1} % and voltages by {:.0} mV (one standard deviation).",
            missed.share * 100.0,
            missed.volts * 1e3
        );
        if !services.is_empty() {
            text.push_str("\n| maker | test | measured | said | error | 90 % | use | built-in |\n| --- | --- | ---: | ---: | ---: | --- | --- | ---: |\n");
            for service in services {
                text.push_str(&service.line);
            }
        }
        if !curves.is_empty() {
            text.push_str("\n| maker | voltages of | readings | RMS, 10 to 90 % | largest error | inside 90 % | use |\n| --- | --- | ---: | ---: | --- | ---: | --- |\n");
            for curve in curves {
                text.push_str(&curve.line);
            }
        }
    }
    Ok(text)
}

fn summary(judged: &[(&Cell, Vec<Service>, Vec<Curve>)]) -> String {
    let mut text = String::from(
        "\n## In short\n\nHeld-back tests by maker: services by the size of their error, voltages by their root mean square between 10 and 90 % of the service.\n\n| cell | maker | fitted services | held services | median | worst | inside 90 % | held voltages | RMS |\n| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |\n",
    );
    let (mut inside, mut all) = (0, 0);
    for (cell, services, curves) in judged {
        for maker in &cell.measured.units {
            let own: Vec<&Service> = services.iter().filter(|s| s.maker == *maker).collect();
            let held: Vec<&&Service> = own.iter().filter(|s| s.role == Role::Held).collect();
            let fitted = own.iter().filter(|s| s.role == Role::Fit).count();
            inside += held.iter().filter(|s| s.inside).count();
            all += held.len();
            let volts = curves.iter().filter(|c| c.maker == *maker && c.held);
            let (squares, n) =
                volts.fold((0.0, 0), |sum, c| (sum.0 + c.middle.0, sum.1 + c.middle.1));
            if held.is_empty() && n == 0 {
                continue;
            }
            let mut errors: Vec<f64> = held.iter().map(|s| s.error.abs()).collect();
            errors.sort_by(f64::total_cmp);
            let percent =
                |e: Option<&f64>| e.map_or("–".to_owned(), |e| format!("{:.1} %", e * 100.0));
            let _ = writeln!(
                text,
                "| {} | {maker} | {} | {} | {} | {} | {} | {n} | {} |",
                cell.recipe.name,
                fitted,
                held.len(),
                percent(median(&errors).as_ref()),
                percent(errors.last()),
                held.iter().filter(|s| s.inside).count(),
                rms(squares, n),
            );
        }
    }
    let none = judged.iter().filter(|j| {
        let held = j.1.iter().any(|s| s.role == Role::Held) || j.2.iter().any(|c| c.held);
        !held
    });
    let none: Vec<&str> = none.map(|j| j.0.recipe.name.as_str()).collect();
    let _ = writeln!(
        text,
        "\nNothing is held back, for there is too little: {}.",
        none.join(", ")
    );
    let (mut points, mut points_inside) = (0, 0);
    for curve in judged.iter().flat_map(|j| &j.2).filter(|c| c.held) {
        points += curve.all;
        points_inside += curve.inside;
    }
    let _ = writeln!(
        text,
        "\nMost of the held services are of CR2032, charts of two makers.\nOf {all} held services {inside} lie inside their 90 % interval ({}), of {points} held voltages {points_inside} ({}).",
        share(inside, all),
        share(points_inside, points)
    );
    text
}

/// The middle of sorted figures, or between the two in the middle.
fn median(sorted: &[f64]) -> Option<f64> {
    let upper = sorted.get(sorted.len() / 2)?;
    let lower = sorted.get((sorted.len() - 1) / 2)?;
    Some(0.5 * (lower + upper))
}

fn share(part: usize, whole: usize) -> String {
    #[expect(clippy::cast_precision_loss, reason = "small counts")]
    let share = part as f64 / whole.max(1) as f64;
    format!("{:.0} %", share * 100.0)
}

fn rms(squares: f64, n: usize) -> String {
    if n == 0 {
        return "–".to_owned();
    }
    #[expect(clippy::cast_precision_loss, reason = "small counts")]
    let mean = squares / n as f64;
    format!("{:.0} mV", mean.sqrt() * 1e3)
}

/// What standards ask for at least, beside the model of each size.
fn minimums(cells: &[Cell]) -> String {
    let mut text = String::from(
        "\n## What standards ask for at least\n\nThe model of a size, between all makers, beside the minimum average durations of IEC 60086-2, as the source of each line knows them.\n\n| cell | test | at least | said | source |\n| --- | --- | ---: | ---: | --- |\n",
    );
    for cell in cells {
        let of_standard = |m: &&Minimum| m.source.contains("IEC") || m.source.contains("Linden");
        for minimum in cell.measured.minimums.iter().filter(of_standard) {
            let Some(reading) = minimum.test.readings.first() else {
                continue;
            };
            let said = predict(&cell.fitted.model, &minimum.test);
            let said = said.first().map_or(0.0, |s| s.value);
            let least = reading.value.figure();
            let _ = writeln!(
                text,
                "| {} | {} | {} | {}{} | {} |",
                cell.recipe.name,
                minimum.test.name,
                amount(reading.value, least),
                amount(reading.value, said),
                if said < least { ", short" } else { "" },
                minimum.source
            );
        }
    }
    text
}

/// The error of the entry that ships.
fn built_in(cell: &Cell, comparison: &Comparison, maker: &str, catalog: &[CatalogEntry]) -> String {
    let own = format!("{}-{}", cell.recipe.name, maker.replace(' ', "-"));
    let named = |name: &str| catalog.iter().find(|e| e.name == name);
    let other_size = cell.recipe.scaled_to(&cell.measured).is_some();
    let entry = named(&own).or_else(|| named(&cell.recipe.name));
    match entry.and_then(|e| e.device.as_ref()) {
        Some(Device::Cell(entry)) if !other_size => {
            let said = predict(&entry.model, &cell.tests[comparison.test]);
            let error = said[comparison.reading].value / comparison.measured - 1.0;
            format!("{:+.1} %", error * 100.0)
        }
        _ => "–".to_owned(),
    }
}

fn services(cell: &Cell) -> Vec<Service> {
    let mut list = Vec::new();
    let catalog = catalog();
    for (comparison, value, origin) in readings(cell) {
        let Value::Service { end, .. } = value else {
            continue;
        };
        let error = comparison.said / comparison.measured - 1.0;
        let inside = (comparison.limits.0..=comparison.limits.1).contains(&comparison.measured);
        let maker = cell.measured.units[cell.tests[comparison.test].unit].clone();
        let test = test_name(cell, comparison.test, &maker);
        let line = format!(
            "| {maker} | {test} to {} V | {} | {} | {:+.1} % | {} to {}{} | {} | {} |\n",
            end.as_volts(),
            amount(value, comparison.measured),
            amount(value, comparison.said),
            error * 100.0,
            amount(value, comparison.limits.0),
            amount(value, comparison.limits.1),
            if inside { "" } else { ", out" },
            use_of(origin),
            built_in(cell, comparison, &maker, &catalog),
        );
        list.push(Service {
            maker,
            role: origin.role,
            error,
            inside,
            line,
        });
    }
    list
}

/// Voltages, condensed to a line a test.
fn curves(cell: &Cell) -> Vec<Curve> {
    let mut list: Vec<Curve> = Vec::new();
    for test in 0..cell.tests.len() {
        let of_test = readings(cell).filter(|(c, _, _)| c.test == test);
        let volts: Vec<_> = of_test.filter(|(_, value, _)| is_voltage(*value)).collect();
        let Some((_, _, origin)) = volts.first() else {
            continue;
        };
        let far = |(c, _, _): &&(&Comparison, Value, &Origin)| (c.said - c.measured).abs();
        let worst = volts.iter().max_by(|a, b| far(a).total_cmp(&far(b)));
        let whole = whole_service(cell, test);
        let middle = volts
            .iter()
            .filter(|(_, value, _)| in_middle(*value, whole));
        let middle = middle.fold((0.0, 0), |sum, (c, _, _)| {
            (sum.0 + (c.said - c.measured).powi(2), sum.1 + 1)
        });
        let within = |(c, _, _): &&(&Comparison, Value, &Origin)| {
            (c.limits.0..=c.limits.1).contains(&c.measured)
        };
        let inside = volts.iter().filter(within).count();
        let maker = cell.measured.units[cell.tests[test].unit].clone();
        let worst = worst.map_or(String::new(), |(c, value, _)| {
            format!(
                "{:+.0} mV at {}",
                (c.said - c.measured) * 1e3,
                place(*value)
            )
        });
        let line = format!(
            "| {maker} | {} | {} | {} | {worst} | {inside} of {} | {} |\n",
            test_name(cell, test, &maker),
            volts.len(),
            rms(middle.0, middle.1),
            volts.len(),
            use_of(origin),
        );
        list.push(Curve {
            maker,
            held: origin.role == Role::Held,
            middle,
            inside,
            all: volts.len(),
            line,
        });
    }
    list
}

/// Every reading that is not of a log, with its value and where it comes from.
fn readings(cell: &Cell) -> impl Iterator<Item = (&Comparison, Value, &Origin)> {
    let known = cell.fitted.comparisons.iter();
    known.filter_map(|c| {
        let reading = cell.tests[c.test].readings.get(c.reading)?;
        let mut origins = cell.measured.origins.iter();
        let origin = origins.find(|o| o.test == c.test && o.reading == Some(c.reading))?;
        let other_size = cell.recipe.scaled_to(&cell.measured) == Some(cell.tests[c.test].unit);
        (!other_size).then_some((c, reading.value, origin))
    })
}

fn is_voltage(value: Value) -> bool {
    matches!(
        value,
        Value::Volts { .. } | Value::Rest { .. } | Value::Pulse { .. }
    )
}

/// How far the readings of a test reach, in time on load or charge.
fn whole_service(cell: &Cell, test: usize) -> (f64, f64) {
    if matches!(cell.tests[test].drive, Drive::Rest) {
        return (0.0, cell.fitted.units[cell.tests[test].unit].charge.si());
    }
    let mut whole = (0.0_f64, 0.0_f64);
    for reading in &cell.tests[test].readings {
        match reading.value {
            Value::Service {
                amount: Amount::Time(t),
                ..
            } => whole.0 = whole.0.max(t.as_secs()),
            Value::Service {
                amount: Amount::Charge(q),
                ..
            } => whole.1 = whole.1.max(q.as_coulombs()),
            Value::Volts {
                at: At::Time(t), ..
            } => whole.0 = whole.0.max(t.as_secs()),
            Value::Volts {
                at: At::Charge(q), ..
            } => whole.1 = whole.1.max(q.as_coulombs()),
            _ => {}
        }
    }
    whole
}

/// Whether a voltage was read between 10 and 90 % of the service.
fn in_middle(value: Value, whole: (f64, f64)) -> bool {
    let (Value::Volts { at, .. } | Value::Rest { at, .. } | Value::Pulse { at, .. }) = value else {
        return false;
    };
    let share = match at {
        At::Time(t) => t.as_secs() / whole.0.max(1e-300),
        At::Charge(q) => q.as_coulombs() / whole.1.max(1e-300),
        At::Share { share, .. } => share,
        At::Depth(depth) => depth,
    };
    (0.1..=0.9).contains(&share)
}

fn place(value: Value) -> String {
    let (Value::Volts { at, .. } | Value::Rest { at, .. } | Value::Pulse { at, .. }) = value else {
        return String::new();
    };
    match at {
        At::Time(t) => duration(t.as_secs()),
        At::Charge(q) => format!("{} mAh", digits(q.as_coulombs() / 3.6)),
        At::Share { share, .. } => format!("{:.0} % of the service", share * 100.0),
        At::Depth(depth) => format!("{:.0} % depth", depth * 100.0),
    }
}

fn use_of(origin: &Origin) -> &'static str {
    match origin.role {
        Role::Fit => "fitted",
        Role::Held => "held",
        Role::Compare => "compared",
    }
}

/// The name of a test without its maker, which has a column of its own.
fn test_name(cell: &Cell, test: usize, maker: &str) -> String {
    let name = cell.tests[test].name.as_str();
    let name = name.strip_prefix(maker).unwrap_or(name);
    name.trim().trim_start_matches(',').trim().replace('|', "/")
}

/// An amount in the unit that people read.
fn amount(value: Value, figure: f64) -> String {
    match value {
        Value::Service {
            amount: Amount::Charge(_),
            ..
        } => format!("{} mAh", digits(figure / 3.6)),
        Value::Service {
            amount: Amount::Count(_),
            ..
        } => format!("{} times", digits(figure)),
        _ => duration(figure),
    }
}

fn duration(secs: f64) -> String {
    if secs < 120.0 {
        format!("{} s", digits(secs))
    } else if secs < 3.0 * 3600.0 {
        format!("{} min", digits(secs / 60.0))
    } else {
        format!("{} h", digits(secs / 3600.0))
    }
}

/// Three or more digits.
fn digits(value: f64) -> String {
    if value >= 100.0 {
        format!("{value:.0}")
    } else if value >= 10.0 {
        format!("{value:.1}")
    } else {
        format!("{value:.2}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_is_what_the_models_say() {
        let root = crate::root();
        let made = text(root).expect("the sources are whole");
        let kept = std::fs::read_to_string(root.join(FILE)).expect("the page is there");
        let differs = made.lines().zip(kept.lines()).find(|(a, b)| a != b);
        assert_eq!(differs, None, "run `cargo xtask accuracy`");
        assert_eq!(made.lines().count(), kept.lines().count());
    }
}
