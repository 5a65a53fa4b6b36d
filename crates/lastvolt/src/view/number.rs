//! Numbers that are finite or refuse to leave, and maps that keep their order; what a JSON Schema says
//! of them.

use std::borrow::Cow;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::ser::{Error, SerializeMap};
use serde::{Serialize, Serializer};

/// A number of a document.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub(crate) struct Num(pub(crate) f64);

impl Serialize for Num {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        if self.0.is_finite() {
            // Adding zero turns -0 into 0.
            serializer.serialize_f64(self.0 + 0.0)
        } else {
            Err(S::Error::custom("a result is not a finite number"))
        }
    }
}

/// A list of numbers of a document.
pub(crate) fn nums(values: &[f64]) -> Vec<Num> {
    values.iter().copied().map(Num).collect()
}

/// A map from names to values in the order of the family.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Named<T>(pub(crate) Vec<(String, T)>);

impl<T> Named<T> {
    /// Whether there is no entry.
    pub(crate) fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The entries in order.
    pub(crate) fn iter(&self) -> impl Iterator<Item = (&str, &T)> {
        self.0.iter().map(|(name, value)| (name.as_str(), value))
    }

    /// The value of this name.
    pub(crate) fn get(&self, name: &str) -> Option<&T> {
        self.iter().find(|(n, _)| *n == name).map(|(_, v)| v)
    }
}

impl<T> FromIterator<(String, T)> for Named<T> {
    fn from_iter<I: IntoIterator<Item = (String, T)>>(entries: I) -> Self {
        Self(entries.into_iter().collect())
    }
}

impl<T: Serialize> Serialize for Named<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(self.0.len()))?;
        for (name, value) in &self.0 {
            map.serialize_entry(name, value)?;
        }
        map.end()
    }
}

impl JsonSchema for Num {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "Number".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "number" })
    }
}

impl<T: JsonSchema> JsonSchema for Named<T> {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        format!("Named{}", T::schema_name()).into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let value = generator.subschema_for::<T>();
        json_schema!({ "type": "object", "additionalProperties": value })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_that_is_not_finite_refuses_to_leave() {
        assert!(serde_json::to_string(&Num(f64::NAN)).is_err());
        assert!(serde_json::to_string(&nums(&[1.0, f64::INFINITY])).is_err());
        assert_eq!(
            serde_json::to_string(&Num(-0.0)).ok().as_deref(),
            Some("0.0")
        );
    }

    #[test]
    fn names_keep_their_order() {
        let map: Named<Num> = [("z".to_owned(), Num(1.0)), ("a".to_owned(), Num(2.5))]
            .into_iter()
            .collect();
        let text = serde_json::to_string(&map).ok();
        assert_eq!(text.as_deref(), Some(r#"{"z":1.0,"a":2.5}"#));
        assert_eq!(map.get("a"), Some(&Num(2.5)));
    }
}
