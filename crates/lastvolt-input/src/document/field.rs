//! What a field is: its key, what it holds, whether it must be there, and what it means.

use lastvolt_core::quantity::Unit;

use crate::quantity::{unit_of, usual};

/// One key of a table, stated once for reader and manual.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Field {
    /// The key.
    pub(crate) key: &'static str,
    /// What it holds.
    pub(crate) takes: Takes,
    /// Which values are allowed.
    pub(crate) bounds: Bounds,
    /// Whether it must be there.
    pub(crate) need: Need,
    /// What it means, one sentence without full stop.
    pub(crate) doc: &'static str,
    /// A value as it may stand in a file.
    pub(crate) example: &'static str,
}

/// What a field holds.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Takes {
    /// A value with its unit.
    Value(Unit),
    /// A value, a value with tolerance, or a table of min, typ and max.
    Spread(Unit),
    /// A bare number.
    Number,
    /// A whole number from 1.
    Count,
    /// True or false.
    Flag,
    /// Any text.
    Text,
    /// A list of names.
    Names,
    /// One of several words.
    Word(&'static [&'static str]),
    /// A table with these fields.
    Table(&'static [Field]),
    /// Something that needs more words.
    Other(&'static str),
}

/// Whether a field must be there.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Need {
    /// It must.
    Required,
    /// It may be absent, and then there is none of it.
    Optional,
    /// It may be absent, and then this is read in its place.
    Default(&'static str),
    /// It may be absent, and then something else holds, in words.
    Otherwise(&'static str),
}

/// Allowed values, in SI units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Bounds {
    low: Edge,
    high: Edge,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Edge {
    Open,
    Beyond(f64),
    From(f64),
}

impl Bounds {
    /// Every finite value.
    pub(crate) const ANY: Self = Self {
        low: Edge::Open,
        high: Edge::Open,
    };
    /// 0 and more.
    pub(crate) const FROM_ZERO: Self = Self {
        low: Edge::From(0.0),
        high: Edge::Open,
    };
    /// More than 0.
    pub(crate) const POSITIVE: Self = Self {
        low: Edge::Beyond(0.0),
        high: Edge::Open,
    };
    /// 0 to 1.
    pub(crate) const SHARE: Self = Self {
        low: Edge::From(0.0),
        high: Edge::From(1.0),
    };
    /// More than 0, at most 1.
    pub(crate) const POSITIVE_SHARE: Self = Self {
        low: Edge::Beyond(0.0),
        high: Edge::From(1.0),
    };
    /// Between 0 and 1.
    pub(crate) const INNER_SHARE: Self = Self {
        low: Edge::Beyond(0.0),
        high: Edge::Beyond(1.0),
    };

    /// The same with a highest value.
    pub(crate) const fn to(self, high: f64) -> Self {
        Self {
            low: self.low,
            high: Edge::From(high),
        }
    }

    /// Whether a value is allowed.
    pub(crate) fn allow(self, value: f64) -> bool {
        let low = match self.low {
            Edge::Open => true,
            Edge::Beyond(low) => low < value,
            Edge::From(low) => low <= value,
        };
        let high = match self.high {
            Edge::Open => true,
            Edge::Beyond(high) => value < high,
            Edge::From(high) => value <= high,
        };
        low && high && value.is_finite()
    }

    /// Whether a value is too large.
    pub(crate) fn exceeded_by(self, value: f64) -> bool {
        match self.high {
            Edge::Open => false,
            Edge::Beyond(high) => high <= value,
            Edge::From(high) => high < value,
        }
    }

    /// What is allowed, in words, the figures followed by a unit.
    pub(crate) fn words(self, unit: &str) -> String {
        let unit = if unit.is_empty() {
            String::new()
        } else {
            format!(" {unit}")
        };
        match (self.low, self.high) {
            (Edge::Open, Edge::Open) => "any finite value".to_owned(),
            (Edge::Beyond(low), Edge::Open) => format!("more than {low}{unit}"),
            (Edge::From(low), Edge::Open) => format!("{low}{unit} or more"),
            (Edge::Beyond(low), Edge::From(high)) => {
                format!("more than {low} and at most {high}{unit}")
            }
            (Edge::From(low), Edge::From(high)) => format!("{low} to {high}{unit}"),
            (Edge::Beyond(low), Edge::Beyond(high)) => format!("between {low} and {high}{unit}"),
            (Edge::From(low), Edge::Beyond(high)) => format!("from {low} to below {high}{unit}"),
            (Edge::Open, Edge::From(high)) => format!("at most {high}{unit}"),
            (Edge::Open, Edge::Beyond(high)) => format!("less than {high}{unit}"),
        }
    }
}

impl Field {
    const fn new(key: &'static str, takes: Takes, doc: &'static str) -> Self {
        Self {
            key,
            takes,
            bounds: Bounds::ANY,
            need: Need::Optional,
            doc,
            example: "",
        }
    }

    /// A value with its unit.
    pub(crate) const fn value(key: &'static str, unit: Unit, doc: &'static str) -> Self {
        Self::new(key, Takes::Value(unit), doc)
    }

    /// A value with its unit and perhaps limits.
    pub(crate) const fn spread(key: &'static str, unit: Unit, doc: &'static str) -> Self {
        Self::new(key, Takes::Spread(unit), doc)
    }

    /// A bare number.
    pub(crate) const fn number(key: &'static str, doc: &'static str) -> Self {
        Self::new(key, Takes::Number, doc)
    }

    /// A whole number from 1.
    pub(crate) const fn count(key: &'static str, doc: &'static str) -> Self {
        Self::new(key, Takes::Count, doc)
    }

    /// True or false.
    pub(crate) const fn flag(key: &'static str, doc: &'static str) -> Self {
        Self::new(key, Takes::Flag, doc)
    }

    /// Any text.
    pub(crate) const fn text(key: &'static str, doc: &'static str) -> Self {
        Self::new(key, Takes::Text, doc)
    }

    /// A list of names.
    pub(crate) const fn names(key: &'static str, doc: &'static str) -> Self {
        Self::new(key, Takes::Names, doc)
    }

    /// One of several words.
    pub(crate) const fn word(
        key: &'static str,
        words: &'static [&'static str],
        doc: &'static str,
    ) -> Self {
        Self::new(key, Takes::Word(words), doc)
    }

    /// A table with these fields.
    pub(crate) const fn table(
        key: &'static str,
        fields: &'static [Field],
        doc: &'static str,
    ) -> Self {
        Self::new(key, Takes::Table(fields), doc)
    }

    /// Something that needs more words: `what` says what it is.
    pub(crate) const fn other(key: &'static str, what: &'static str, doc: &'static str) -> Self {
        Self::new(key, Takes::Other(what), doc)
    }

    /// Allows these values only.
    pub(crate) const fn within(mut self, bounds: Bounds) -> Self {
        self.bounds = bounds;
        self
    }

    /// Must be there.
    pub(crate) const fn required(mut self) -> Self {
        self.need = Need::Required;
        self
    }

    /// Is read as this where it is absent.
    pub(crate) const fn default(mut self, text: &'static str) -> Self {
        self.need = Need::Default(text);
        self
    }

    /// Says what holds where it is absent.
    pub(crate) const fn otherwise(mut self, words: &'static str) -> Self {
        self.need = Need::Otherwise(words);
        self
    }

    /// How it may stand in a file.
    pub(crate) const fn example(mut self, text: &'static str) -> Self {
        self.example = text;
        self
    }

    /// The unit that the field takes.
    pub(crate) fn unit(&self) -> Option<Unit> {
        match self.takes {
            Takes::Value(unit) | Takes::Spread(unit) => Some(unit),
            _ => None,
        }
    }

    /// The unit to propose where none is written: that of the example.
    pub(crate) fn like(&self, unit: Unit) -> &'static str {
        let text = self.example.trim_matches('"');
        match unit_of(text) {
            Some((word, found)) if found == unit => word,
            _ => usual(unit),
        }
    }
}
