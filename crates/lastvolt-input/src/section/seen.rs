//! `seen` of a model: the range of its figures over real parts. It is for lists of models; nothing is
//! computed from it.

use lastvolt_core::quantity::Unit;

use crate::diagnostic::Problem;
use crate::document::{Field, Reader, Table, Value};
use crate::quantity::{parse, unit_of};
use crate::suggest::quoted;

/// The field of a model.
pub(crate) const SEEN: Field = Field::other(
    "seen",
    "table of figure = [lowest, highest]",
    "range of a figure over real parts that a class stands for; for lists of models, nothing is computed from it",
)
.example("{ on_resistance = [\"20 mohm\", \"110 mohm\"] }");

/// The range of one figure over real parts, as it is written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SeenRange {
    /// Which figure: a key of the model, or its name in words.
    pub figure: String,
    /// The lowest value.
    pub low: String,
    /// The highest value.
    pub high: String,
}

/// The ranges that a model states, in their order.
pub(crate) fn seen(reader: Reader<'_>, model: &Table) -> Vec<SeenRange> {
    let table = model.get(SEEN.key).and_then(|v| reader.table(v, SEEN.key));
    let entries = table.map_or(&[][..], |t| &t.entries);
    let range = |entry: &crate::document::Entry| range(reader, &entry.key, &entry.value);
    entries.iter().filter_map(range).collect()
}

fn range(reader: Reader<'_>, figure: &str, value: &Value) -> Option<SeenRange> {
    let needed = "a list of two values, the lowest and the highest";
    let items = reader.list(value, figure, needed)?;
    let [low, high] = items else {
        reader.wrong_type(value, figure, needed);
        return None;
    };
    let (low_text, high_text) = (reader.text(low, figure)?, reader.text(high, figure)?);
    let unit = unit_of(low_text).map(|(_, unit)| unit);
    let low_value = number(reader, low, low_text, unit)?;
    let high_value = number(reader, high, high_text, unit)?;
    if high_value < low_value {
        let says = format!(
            "the lowest value of {} lies above its highest",
            quoted(figure)
        );
        let problem = Problem::new("min-above-max", value.spot.clone(), says);
        reader.report(problem.label("out of order"));
        return None;
    }
    Some(SeenRange {
        figure: figure.to_owned(),
        low: low_text.to_owned(),
        high: high_text.to_owned(),
    })
}

/// The number of a value of any unit, the same for both ends.
fn number(reader: Reader<'_>, value: &Value, text: &str, unit: Option<Unit>) -> Option<f64> {
    let read = unit.and_then(|unit| parse(text, unit).ok());
    if read.is_none() {
        let says = format!("{} is not a value in the unit of the range", quoted(text));
        let problem = Problem::new("not-a-value", value.spot.clone(), says).label("not a value");
        reader.report(problem.proposal("give both ends with their unit"));
    }
    read.map(|r| r.value)
}
