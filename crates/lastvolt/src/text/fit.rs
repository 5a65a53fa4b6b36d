//! `fit` as text: what was read, how the fit went, the parameters, what is open, every test, the model.

mod readings;

use std::fmt::Write as _;

use lastvolt_core::quantity::Unit;

use crate::text::number::{count, duration, engineering, figure, listed};
use crate::text::paint::{Paint, Tone};
use crate::text::parts::said;
use crate::text::table::{Align, Table};
use crate::text::{heading, push_lines, push_warnings, push_wrapped};
use crate::view::{Document, FitDocument, FitView, ParameterView};

/// Costs that differ by less than this share are the same.
const SAME_COST: f64 = 0.01;

/// The answer; the text of the model only where it goes nowhere else.
pub(crate) fn text(document: &Document<FitDocument>, with_model: bool, paint: Paint) -> String {
    let fit = &document.body.fit;
    let mut out = String::new();
    let title = format!("{}: a cell like {}", fit.name, fit.like);
    let _ = writeln!(out, "{}", paint.tone(Tone::Heading, &title));
    push_read(&mut out, fit);
    heading(&mut out, "How the fit went", paint);
    push_course(&mut out, fit);
    heading(&mut out, "Parameters", paint);
    push_parameters(&mut out, fit);
    push_open(&mut out, fit, paint);
    heading(&mut out, "Measured and said", paint);
    readings::push(&mut out, fit, paint);
    if with_model {
        heading(&mut out, "The model", paint);
        push_wrapped(
            &mut out,
            "  ",
            "To be put into family.toml as it stands; `--out FILE.toml` writes it into a file.",
        );
        let _ = write!(out, "\n{}", fit.model_toml);
    }
    push_warnings(&mut out, &document.warnings, paint);
    out
}

fn push_read(out: &mut String, fit: &FitView) {
    let plain = fit.tests.iter().filter(|t| !t.log);
    let readings: Vec<bool> = plain
        .clone()
        .flat_map(|t| t.readings.iter().map(|r| r.fitted))
        .collect();
    if !readings.is_empty() {
        let fitted = readings.iter().filter(|f| **f).count();
        let held = match readings.len() - fitted {
            0 => String::new(),
            n => format!(", {n} of them held back from the fit"),
        };
        let says = format!(
            "{} in {}{held}.",
            count(readings.len(), "reading"),
            count(plain.count(), "test")
        );
        push_wrapped(out, "  ", &says);
    }
    for log in &fit.logs {
        let within = figure(log.within_v.0, Unit::Volt);
        let mut says = format!(
            "{}: {} over {}, {} given; {} stay, each row within {within} of them",
            log.test,
            count(log.rows, "row"),
            duration(log.length_s.0),
            engineering(log.given_as.0 / 3600.0, "Ah", 3),
            count(log.points, "point"),
        );
        if 1 < log.one_period_in {
            let _ = write!(says, "; one period in {} is kept whole", log.one_period_in);
        }
        push_wrapped(out, "  ", &format!("{says}."));
    }
    if 1 < fit.samples.len() {
        let says = format!(
            "{}: {}. Each has its own charge, resistance and rates; the model lies between them.",
            count(fit.samples.len(), "maker or sample")
                .replace("maker or samples", "makers or samples"),
            listed(&fit.samples)
        );
        push_wrapped(out, "  ", &says);
    }
}

fn push_course(out: &mut String, fit: &FitView) {
    let best = fit.costs.first().map_or(0.0, |c| c.0);
    let same = |cost: f64| cost <= best * (1.0 + SAME_COST) + 1e-9;
    let agree = fit.costs.iter().filter(|c| same(c.0)).count();
    let all = fit.costs.len();
    let descents = match (all, agree) {
        (1, _) => {
            "One descent; more of them (`--descents 4`) would show whether others end elsewhere."
                .to_owned()
        }
        (all, agree) if agree == all => {
            format!("{all} descents from different beginnings end in the same place.")
        }
        (all, 1) => format!(
            "{all} descents from different beginnings, each with an end of its own: the data allow more than one cell, and the best is taken."
        ),
        (all, agree) => format!(
            "{all} descents from different beginnings; {agree} end in the same place, which is the best."
        ),
    };
    push_wrapped(out, "  ", &descents);
    let steps = count(fit.steps, "step");
    let settled = if fit.settled {
        format!("The best came to rest after {steps}.")
    } else {
        format!(
            "The best was stopped after {steps} before it came to rest: its figures may still move."
        )
    };
    push_wrapped(out, "  ", &settled);
    let costs: Vec<String> = fit.costs.iter().map(|c| format!("{:.1}", c.0)).collect();
    let costs = format!(
        "What is left at their ends (half the sum of squares, weighted): {}.",
        listed(&costs)
    );
    push_wrapped(out, "  ", &costs);
    let missed = format!(
        "In tests like these the model is taken to miss {} (one standard deviation).",
        fit.missed.words()
    );
    push_wrapped(out, "  ", &missed);
}

fn push_parameters(out: &mut String, fit: &FitView) {
    let mut table = Table::new(&[
        ("", Align::Left),
        ("value", Align::Right),
        ("90 % from", Align::Right),
        ("to", Align::Right),
        ("", Align::Left),
    ]);
    for parameter in &fit.parameters {
        let from = if parameter.from_data {
            "from the data".to_owned()
        } else {
            format!("as {}", fit.like)
        };
        let (low, high) = parameter.limits;
        table.row([
            parameter.says.clone(),
            shown(parameter, parameter.value),
            shown(parameter, low),
            shown(parameter, high),
            from,
        ]);
    }
    push_lines(out, &table.lines(2));
}

/// A value of a parameter in as many digits as it deserves.
fn shown(parameter: &ParameterView, value: f64) -> String {
    match parameter.unit {
        None => format!("{}", short(value)),
        Some(Unit::Volt) if parameter.name == "open_circuit" => format!("{value:.3} V"),
        Some(Unit::Volt) => figure(value, Unit::Volt),
        Some(Unit::Coulomb) => engineering(value / 3600.0, "Ah", 3),
        Some(Unit::PerSecond) if parameter.name == "well_rate" => format!("{value:.2e} /s"),
        Some(unit) => said(short(value), unit),
    }
}

/// Three digits of a value.
fn short(value: f64) -> f64 {
    format!("{value:.2e}").parse().unwrap_or(value)
}

fn push_open(out: &mut String, fit: &FitView, paint: Paint) {
    if fit.open.is_empty() {
        return;
    }
    heading(out, "What these data cannot pin down", paint);
    let says = format!(
        "The following is as {} and not as the cell that was measured. What rests on it is a guess \
         until it is measured.",
        fit.like
    );
    push_wrapped(out, "  ", &says);
    for gap in &fit.open {
        let mark = paint.tone(Tone::Fix, "open");
        let mut text = String::new();
        push_wrapped(
            &mut text,
            "  open: ",
            &format!("{}; {}.", gap.parameters, gap.says),
        );
        let _ = write!(out, "{}", text.replacen("open", &mark, 1));
        push_wrapped(out, "        to do: ", &format!("{}.", gap.measure));
    }
}
