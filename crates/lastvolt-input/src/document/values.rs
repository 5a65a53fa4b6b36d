//! Reads single values: type, unit, range, and carets that stand under the wrong bytes alone.

use lastvolt_core::quantity::{Quantity, Spread, Unit};

use super::{Data, Entry, Field, Table, Value};
use crate::Text;
use crate::diagnostic::{Problem, Sink};
use crate::place::Spot;
use crate::quantity::{QuantityError, case_slip, fitting, parse_like, proposed};
use crate::suggest::{listed, nearest, quoted};

/// Reads values and reports what is wrong with them.
#[derive(Clone, Copy)]
pub(crate) struct Reader<'t> {
    /// Every text, the catalog's included.
    pub(crate) texts: &'t [Text],
    /// Where problems go.
    pub(crate) sink: &'t Sink,
    /// Where problems of the built-in catalog are reported: at the part that uses it.
    pub(crate) home: Option<&'t Spot>,
}

/// A value with limits before their order and range are checked.
#[derive(Debug, Clone, Copy)]
pub(crate) struct RawSpread<'t> {
    /// Lowest value.
    pub(crate) min: Option<f64>,
    /// Typical value, or what stands for it.
    pub(crate) typ: f64,
    /// Highest value.
    pub(crate) max: Option<f64>,
    /// The condition under which it holds.
    pub(crate) at: Option<&'t Value>,
}

const SPREAD_KEYS: [&str; 4] = ["min", "typ", "max", "at"];

impl<'t> Reader<'t> {
    /// A reader of texts.
    pub(crate) fn new(texts: &'t [Text], sink: &'t Sink) -> Self {
        Self {
            texts,
            sink,
            home: None,
        }
    }

    /// Reports a problem.
    pub(crate) fn report(&self, mut problem: Problem) {
        if let Some(home) = self.home {
            problem.move_from(crate::catalog::FILE, home);
        }
        self.sink.add(problem);
    }

    /// Reports a value of the wrong type.
    pub(crate) fn wrong_type(&self, value: &Value, key: &str, needed: &str) {
        let says = format!("`{key}` is {}, {needed} is needed", value.noun());
        let problem = Problem::new("wrong-type", value.spot.clone(), says).label(value.noun());
        self.report(problem);
    }

    /// Reports a name that is not known, with the nearest that is.
    pub(crate) fn unknown_name<'k>(
        &self,
        at: &Spot,
        what: &str,
        name: &str,
        known: impl IntoIterator<Item = &'k str> + Clone,
    ) {
        let says = format!("there is no {what} {}", quoted(name));
        let at = self.inner(at, name, 0..name.len());
        let mut problem = Problem::new("unknown-name", at, says).label("not known");
        if let Some(near) = self.nearest(name, known.clone()) {
            problem = problem
                .proposal(format!("did you mean `{near}`?"))
                .patch(near);
        } else {
            let mut known = known.into_iter().peekable();
            if known.peek().is_some() {
                problem = problem.proposal(format!("known: {}", listed(known)));
            }
        }
        self.report(problem);
    }

    /// The nearest known name, as long as there are not so many problems that nobody reads them.
    fn nearest<'k>(&self, name: &str, known: impl IntoIterator<Item = &'k str>) -> Option<&'k str> {
        const MOST: usize = 2000;
        (self.sink.len() < MOST).then(|| nearest(name, known))?
    }

    /// The text, if the value is one.
    pub(crate) fn text(&self, value: &'t Value, key: &str) -> Option<&'t str> {
        let text = value.as_text();
        if text.is_none() {
            self.wrong_type(value, key, "text in quotes");
        }
        text
    }

    /// The true or false, if the value is one.
    pub(crate) fn flag(&self, value: &Value, key: &str) -> Option<bool> {
        match &value.data {
            Data::Flag(flag) => Some(*flag),
            _ => {
                self.wrong_type(value, key, "true or false");
                None
            }
        }
    }

    /// The list, if the value is one.
    pub(crate) fn list(&self, value: &'t Value, key: &str, needed: &str) -> Option<&'t [Value]> {
        match &value.data {
            Data::List(items) => Some(items),
            _ => {
                self.wrong_type(value, key, needed);
                None
            }
        }
    }

    /// The table, if the value is one.
    pub(crate) fn table(&self, value: &'t Value, key: &str) -> Option<&'t Table> {
        let table = value.as_table();
        if table.is_none() {
            self.wrong_type(value, key, "a table");
        }
        table
    }

    /// Names with their places.
    pub(crate) fn names(&self, value: &'t Value, key: &str) -> Vec<(&'t str, &'t Spot)> {
        let items = self.list(value, key, "a list of names").unwrap_or(&[]);
        items
            .iter()
            .filter_map(|item| Some((self.text(item, key)?, &item.spot)))
            .collect()
    }

    /// One of several words.
    pub(crate) fn word(
        &self,
        value: &'t Value,
        key: &str,
        words: &'static [&'static str],
    ) -> Option<&'static str> {
        let text = self.text(value, key)?;
        let found = words.iter().find(|w| **w == text).copied();
        if found.is_none() {
            let says = format!(
                "`{key}` is {}, one of {} is needed",
                quoted(text),
                listed(words.iter().copied())
            );
            let at = self.inner(&value.spot, text, 0..text.len());
            let mut problem = Problem::new("unknown-word", at, says).label("not one of them");
            if let Some(near) = nearest(text, words.iter().copied()) {
                problem = problem
                    .proposal(format!("did you mean `{near}`?"))
                    .patch(near);
            }
            self.report(problem);
        }
        found
    }

    /// A bare number within the field's bounds.
    pub(crate) fn number(&self, value: &Value, field: &Field) -> Option<f64> {
        match value.data {
            Data::Number(number) => self.bounded(value, field, number, "").then_some(number),
            _ => {
                self.wrong_type(value, field.key, "a number without unit");
                None
            }
        }
    }

    /// One value with its unit, within the field's bounds.
    pub(crate) fn quantity<Q: Quantity>(&self, value: &Value, field: &Field) -> Option<Q> {
        let (number, limits) = self.reading(value, field, Q::UNIT)?;
        if limits.is_some() {
            let says = format!("`{}` takes one value without tolerance", field.key);
            self.report(
                Problem::new("no-spread-here", value.spot.clone(), says).label("tolerance"),
            );
            return None;
        }
        self.bounded(value, field, number, Q::UNIT.symbol())
            .then(|| Q::from_si(number))
    }

    /// A value with limits, in order and within the field's bounds.
    pub(crate) fn spread<Q: Quantity>(&self, value: &'t Value, field: &Field) -> Option<Spread<Q>> {
        let raw = self.raw_spread(value, field, Q::UNIT)?;
        self.ordered(value, field, &raw)?;
        for number in [raw.min, Some(raw.typ), raw.max].into_iter().flatten() {
            if !self.bounded(value, field, number, Q::UNIT.symbol()) {
                return None;
            }
        }
        Some(Spread {
            min: raw.min.map(Q::from_si),
            typ: Q::from_si(raw.typ),
            max: raw.max.map(Q::from_si),
        })
    }

    /// A value with limits whose order and bounds the caller checks.
    pub(crate) fn raw_spread(
        &self,
        value: &'t Value,
        field: &Field,
        unit: Unit,
    ) -> Option<RawSpread<'t>> {
        let Some(table) = value.as_table() else {
            let (typ, limits) = self.reading(value, field, unit)?;
            return Some(RawSpread {
                min: limits.map(|l| l.0),
                typ,
                max: limits.map(|l| l.1),
                at: None,
            });
        };
        for entry in &table.entries {
            if !SPREAD_KEYS.contains(&entry.key.as_str()) {
                self.unknown_key(entry, &format!("`{}`", field.key), SPREAD_KEYS);
            }
        }
        let mut failed = false;
        let mut part = |key: &str| {
            let value = table.get(key)?;
            let read = self.reading(value, field, unit).map(|r| r.0);
            failed |= read.is_none();
            read
        };
        let (min, typ, max) = (part("min"), part("typ"), part("max"));
        if failed {
            return None;
        }
        let typ = match (typ, min, max) {
            (Some(typ), _, _) => typ,
            (None, Some(min), Some(max)) => f64::midpoint(min, max),
            (None, Some(only), None) | (None, None, Some(only)) => only,
            (None, None, None) => {
                let says = format!("`{}` has neither `typ` nor `min` nor `max`", field.key);
                let problem =
                    Problem::new("missing-key", value.spot.clone(), says).label("no value in here");
                self.report(problem);
                return None;
            }
        };
        let at = table.get("at");
        Some(RawSpread { min, typ, max, at })
    }

    fn ordered(&self, value: &Value, field: &Field, raw: &RawSpread<'_>) -> Option<()> {
        let pairs = [
            ("min", raw.min, "typ", Some(raw.typ)),
            ("typ", Some(raw.typ), "max", raw.max),
            ("min", raw.min, "max", raw.max),
        ];
        for (low_key, low, high_key, high) in pairs {
            if let (Some(low), Some(high)) = (low, high)
                && high < low
            {
                let says = format!("`{low_key}` of `{}` lies above its `{high_key}`", field.key);
                let problem = Problem::new("min-above-max", value.spot.clone(), says)
                    .label("out of order")
                    .proposal("write min, typ and max in rising order");
                self.report(problem);
                return None;
            }
        }
        Some(())
    }

    /// The number of a value in SI, with limits where a tolerance is written.
    fn reading(
        &self,
        value: &Value,
        field: &Field,
        unit: Unit,
    ) -> Option<(f64, Option<(f64, f64)>)> {
        match &value.data {
            Data::Number(number) if unit == Unit::Fraction => Some((*number, None)),
            Data::Number(number) => {
                self.bare_number(value, field, unit, *number);
                None
            }
            Data::Text(text) => match parse_like(text, unit, field.like(unit)) {
                Ok(reading) => Some((reading.value, reading.limits)),
                Err(error) => {
                    self.inside(value, text, field.key, error);
                    None
                }
            },
            _ => {
                let needed = format!("{} in quotes", unit.measures());
                self.wrong_type(value, field.key, &needed);
                None
            }
        }
    }

    fn bare_number(&self, value: &Value, field: &Field, unit: Unit, number: f64) {
        let source = self.source(&value.spot);
        let shown = if source.is_empty() || source.len() > 30 {
            number.to_string()
        } else {
            source.to_owned()
        };
        let says = format!(
            "`{}` is the bare number {shown}, {} with its unit is needed ({})",
            field.key,
            unit.measures(),
            fitting(unit)
        );
        let fixed = format!("\"{shown} {}\"", proposed(number, field.like(unit), unit));
        let problem = Problem::new("bare-number", value.spot.clone(), says)
            .label("no unit")
            .proposal(format!("write {fixed}"))
            .patch(fixed);
        self.report(problem);
    }

    /// Reports an error inside a quoted value.
    fn inside(&self, value: &Value, text: &str, key: &str, error: QuantityError) {
        let exact = self.is_literal(&value.spot, text);
        let at = self.inner(&value.spot, text, error.at);
        let says = format!("`{key}`: {}", error.says);
        let mut problem = Problem::new(error.code, at, says).label(error.label);
        if let Some(proposal) = error.proposal {
            problem = problem.proposal(proposal);
        }
        if let Some(patch) = error.patch.filter(|_| exact) {
            problem = problem.patch(patch);
        }
        self.report(problem);
    }

    /// Whether a number lies within the bounds of a field; reports it if not.
    pub(crate) fn bounded(&self, value: &Value, field: &Field, number: f64, unit: &str) -> bool {
        if field.bounds.allow(number) {
            return true;
        }
        if field.bounds.exceeded_by(number)
            && let (Some(text), Some(unit)) = (value.as_text(), field.unit())
            && let Some(error) = case_slip(text, 0, unit)
        {
            self.inside(value, text, field.key, error);
            return false;
        }
        let source = self.source(&value.spot);
        let shown = if value.as_table().is_none() && !source.is_empty() && source.len() < 60 {
            source.trim_matches('"').to_owned()
        } else {
            format!("{number} {unit}").trim().to_owned()
        };
        let says = format!(
            "`{}` is {shown}, {} is allowed",
            field.key,
            field.bounds.words(unit)
        );
        let problem = Problem::new("out-of-range", value.spot.clone(), says).label("out of range");
        self.report(problem);
        false
    }

    /// Rows of a table written as a list of lists, each with `columns` values.
    pub(crate) fn rows(
        &self,
        value: &'t Value,
        key: &str,
        columns: usize,
    ) -> Option<Vec<&'t [Value]>> {
        let needed = format!("a list of lists of {columns} values");
        let items = self.list(value, key, &needed)?;
        let mut rows = Vec::with_capacity(items.len());
        let before = self.sink.len();
        for item in items {
            let row = self.list(item, key, &format!("a list of {columns} values"));
            let Some(row) = row else { continue };
            if row.len() == columns {
                rows.push(row);
            } else {
                let says = format!(
                    "a row of `{key}` has {} values, {columns} are needed",
                    row.len()
                );
                self.report(
                    Problem::new("wrong-length", item.spot.clone(), says).label("this row"),
                );
            }
        }
        if items.is_empty() {
            let says = format!("`{key}` is an empty list, one row at least is needed");
            self.report(Problem::new("wrong-length", value.spot.clone(), says).label("empty"));
        }
        (before == self.sink.len()).then_some(rows)
    }

    /// Whether the numbers of a column rise; reports the first that does not.
    pub(crate) fn rising(&self, key: &str, column: &[(f64, &Value)]) -> bool {
        for pair in column.windows(2) {
            if pair[1].0 <= pair[0].0 {
                let says = format!("the first column of `{key}` does not rise here");
                let problem = Problem::new("unsorted-table", pair[1].1.spot.clone(), says)
                    .label("not above the one before")
                    .related(pair[0].1.spot.clone(), "the one before");
                self.report(problem);
                return false;
            }
        }
        true
    }

    /// Reports a key that is not known, and says which is meant.
    pub(crate) fn unknown_key<'k>(
        &self,
        entry: &Entry,
        place: &str,
        known: impl IntoIterator<Item = &'k str> + Clone,
    ) -> Option<&'k str> {
        let says = format!("unknown key {} in {place}", quoted(&entry.key));
        let mut problem =
            Problem::new("unknown-key", entry.key_spot.clone(), says).label("not a known key");
        let near = self.nearest(&entry.key, known.clone());
        if let Some(near) = near {
            problem = problem
                .proposal(format!("did you mean `{near}`?"))
                .patch(near);
        } else {
            problem = problem.proposal(format!("known keys: {}", listed(known)));
        }
        self.report(problem);
        near
    }

    /// The text of a place.
    fn source(&self, spot: &Spot) -> &'t str {
        self.texts
            .get(spot.file)
            .and_then(|t| t.text.get(spot.span.clone()))
            .unwrap_or("")
    }

    /// Whether a string stands in the file as it reads, without escapes.
    fn is_literal(&self, spot: &Spot, text: &str) -> bool {
        self.quotes(spot, text).is_some()
    }

    /// Length of the opening quotes, where the string stands in the file as it reads.
    fn quotes(&self, spot: &Spot, text: &str) -> Option<usize> {
        let literal = self.source(spot);
        let open = literal.len() - literal.trim_start_matches(['"', '\'']).len();
        let inner = literal.get(open..literal.len().checked_sub(open)?)?;
        (inner == text).then_some(open)
    }

    /// The place of some bytes inside a string; the whole string where it holds escapes.
    pub(crate) fn inner(&self, spot: &Spot, text: &str, at: std::ops::Range<usize>) -> Spot {
        match self.quotes(spot, text) {
            Some(open) if !text.is_empty() => {
                let start = spot.span.start + open;
                Spot::new(spot.file, start + at.start..start + at.end)
            }
            _ => spot.clone(),
        }
    }
}
