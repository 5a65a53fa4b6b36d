//! Reads the fields of a table, or of several tables laid over each other.

use std::cell::RefCell;

use lastvolt_core::quantity::{Quantity, Spread};

use super::{Field, Need, Reader, Table, Takes, Value};
use crate::diagnostic::Problem;
use crate::place::Spot;
use crate::quantity::parse;

/// One table and the keys it may have.
#[derive(Clone)]
pub(crate) struct Layer<'t> {
    /// The table.
    pub(crate) table: &'t Table,
    /// Lists of fields that it may have.
    pub(crate) known: Vec<&'static [Field]>,
}

impl<'t> Layer<'t> {
    /// The value of a key that the table may have.
    fn get(&self, key: &str) -> Option<&'t Value> {
        let mut known = self.known.iter().flat_map(|list| list.iter());
        known.find(|f| f.key == key)?;
        self.table.get(key)
    }
}

/// Fields of tables laid over each other: a part over its model.
pub(crate) struct Fields<'t> {
    /// Reads values and takes problems.
    pub(crate) reader: Reader<'t>,
    /// The tables; the first that has a key wins.
    layers: Vec<Layer<'t>>,
    /// Where missing keys are reported.
    pub(crate) home: Spot,
    /// What the fields belong to, for messages.
    pub(crate) what: String,
    /// Whether missing keys are reported.
    missing: Missing,
    /// Keys that a misspelt one stands for.
    meant: RefCell<Vec<&'static str>>,
}

/// Whether missing keys are reported.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Missing {
    /// They are.
    Reported,
    /// They are not: a model need not be whole.
    Allowed,
}

/// Which of two keys that exclude each other is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Either {
    /// Neither.
    Neither,
    /// The first.
    First,
    /// The second.
    Second,
    /// Both, which has been reported.
    Both,
}

impl<'t> Fields<'t> {
    /// The fields of one table.
    pub(crate) fn of(
        reader: Reader<'t>,
        table: &'t Table,
        known: &'static [Field],
        home: &Spot,
        what: &str,
    ) -> Self {
        let layer = Layer {
            table,
            known: vec![known],
        };
        Self::layered(reader, vec![layer], home, what)
    }

    /// The fields of tables laid over each other.
    pub(crate) fn layered(
        reader: Reader<'t>,
        layers: Vec<Layer<'t>>,
        home: &Spot,
        what: &str,
    ) -> Self {
        let fields = Self {
            reader,
            layers,
            home: home.clone(),
            what: what.to_owned(),
            missing: Missing::Reported,
            meant: RefCell::default(),
        };
        fields.check_keys();
        fields
    }

    /// The same without complaints about missing keys.
    pub(crate) fn incomplete(mut self) -> Self {
        self.missing = Missing::Allowed;
        self
    }

    fn check_keys(&self) {
        for layer in &self.layers {
            let known: Vec<&'static str> = layer
                .known
                .iter()
                .flat_map(|l| l.iter())
                .map(|f| f.key)
                .collect();
            for entry in &layer.table.entries {
                if !known.contains(&entry.key.as_str()) {
                    let near = self
                        .reader
                        .unknown_key(entry, &self.what, known.iter().copied());
                    let near = near.and_then(|near| known.iter().find(|k| **k == near));
                    self.meant.borrow_mut().extend(near);
                }
            }
        }
    }

    /// The value of a key.
    pub(crate) fn get(&self, key: &str) -> Option<&'t Value> {
        self.layers.iter().find_map(|layer| layer.get(key))
    }

    /// Which of two keys that exclude each other counts: the one in the upper table. Reports them
    /// where both stand in one table.
    pub(crate) fn either(&self, a: &Field, b: &Field) -> Either {
        let layer = |field: &Field| self.layers.iter().position(|l| l.get(field.key).is_some());
        match (layer(a), layer(b)) {
            (None, None) => Either::Neither,
            (Some(_), None) => Either::First,
            (None, Some(_)) => Either::Second,
            (Some(first), Some(second)) if first < second => Either::First,
            (Some(first), Some(second)) if second < first => Either::Second,
            (Some(layer), Some(_)) => {
                let table = self.layers[layer].table;
                let mut both: Vec<_> = [a, b].iter().filter_map(|f| table.entry(f.key)).collect();
                both.sort_by_key(|e| e.key_spot.span.start);
                if let [one, other] = both.as_slice() {
                    let says = format!(
                        "{} has both `{}` and `{}`, one of them is needed",
                        self.what, a.key, b.key
                    );
                    let problem = Problem::new("one-of-two", other.key_spot.clone(), says)
                        .label("second of the two")
                        .related(one.key_spot.clone(), "first of the two");
                    self.reader.report(problem);
                }
                Either::Both
            }
        }
    }

    /// The value of a field; reports it as missing if it is required.
    pub(crate) fn find(&self, field: &Field) -> Option<&'t Value> {
        let value = self.get(field.key);
        if value.is_none() && matches!(field.need, Need::Required) {
            self.report_missing(field);
        }
        value
    }

    /// Reports a field as missing, unless a misspelt key stands for it.
    pub(crate) fn report_missing(&self, field: &Field) {
        if self.missing == Missing::Allowed || self.meant.borrow().contains(&field.key) {
            return;
        }
        let says = format!("`{}` is missing in {}", field.key, self.what);
        let problem = Problem::new("missing-key", self.home.clone(), says)
            .label(format!("no `{}`", field.key))
            .proposal(format!("add `{} = {}`", field.key, field.example));
        self.reader.report(problem);
    }

    /// Whether a key is there, or a misspelt one stands for it.
    pub(crate) fn mentions(&self, key: &str) -> bool {
        self.get(key).is_some() || self.meant.borrow().contains(&key)
    }

    /// Whether missing keys are reported.
    pub(crate) fn complete(&self) -> bool {
        self.missing == Missing::Reported
    }

    /// One value with its unit.
    pub(crate) fn value<Q: Quantity>(&self, field: &Field) -> Option<Q> {
        debug_assert_eq!(field.unit(), Some(Q::UNIT), "{}", field.key);
        self.reader.quantity(self.find(field)?, field)
    }

    /// One value with its unit, or its default.
    pub(crate) fn value_or<Q: Quantity>(&self, field: &Field) -> Q {
        let read = self.get(field.key).and_then(|_| self.value(field));
        read.unwrap_or_else(|| Q::from_si(default(field)))
    }

    /// A value with limits.
    pub(crate) fn spread<Q: Quantity>(&self, field: &Field) -> Option<Spread<Q>> {
        debug_assert_eq!(field.unit(), Some(Q::UNIT), "{}", field.key);
        self.reader.spread(self.find(field)?, field)
    }

    /// A value with limits, or its default.
    pub(crate) fn spread_or<Q: Quantity>(&self, field: &Field) -> Spread<Q> {
        let read = self.get(field.key).and_then(|_| self.spread(field));
        read.unwrap_or_else(|| Spread::exactly(Q::from_si(default(field))))
    }

    /// Any text.
    pub(crate) fn text(&self, field: &Field) -> Option<&'t str> {
        self.reader.text(self.find(field)?, field.key)
    }

    /// True or false; false where it is absent.
    pub(crate) fn flag(&self, field: &Field) -> bool {
        self.find(field)
            .and_then(|value| self.reader.flag(value, field.key))
            .unwrap_or(false)
    }

    /// A whole number from 1.
    pub(crate) fn count(&self, field: &Field) -> Option<usize> {
        let value = self.find(field)?;
        let number = self.reader.number(value, field)?;
        if number.fract() != 0.0 || !(1.0..=1000.0).contains(&number) {
            let says = format!(
                "`{}` is {number}, a whole number from 1 to 1000 is needed",
                field.key
            );
            let problem = Problem::new("out-of-range", value.spot.clone(), says);
            self.reader.report(problem.label("not a count"));
            return None;
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "checked above"
        )]
        Some(number as usize)
    }

    /// One of the field's words.
    pub(crate) fn word(&self, field: &Field) -> Option<&'static str> {
        let Takes::Word(words) = field.takes else {
            return None;
        };
        let default = match field.need {
            Need::Default(word) => Some(word),
            _ => None,
        };
        match self.find(field) {
            Some(value) => self.reader.word(value, field.key, words),
            None => default,
        }
    }

    /// Names with their places.
    pub(crate) fn names(&self, field: &Field) -> Vec<(&'t str, &'t Spot)> {
        match self.find(field) {
            Some(value) => self.reader.names(value, field.key),
            None => Vec::new(),
        }
    }

    /// The fields of a table in a field, laid over each other as this is.
    pub(crate) fn table(&self, field: &Field) -> Option<Self> {
        let Takes::Table(known) = field.takes else {
            return None;
        };
        let value = self.find(field)?;
        self.reader.table(value, field.key)?;
        let layers = self.layers.iter().filter_map(|layer| layer.get(field.key));
        let layers = layers.map_while(Value::as_table).map(|table| Layer {
            table,
            known: vec![known],
        });
        let what = format!("`{}` of {}", field.key, self.what);
        let mut fields = Self::layered(self.reader, layers.collect(), &value.spot, &what);
        fields.missing = self.missing;
        Some(fields)
    }
}

/// The default of a field in SI units.
fn default(field: &Field) -> f64 {
    let (Need::Default(text), Some(unit)) = (field.need, field.unit()) else {
        return 0.0;
    };
    parse(text, unit).map_or(0.0, |r| r.value)
}
