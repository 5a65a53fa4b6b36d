//! `schema`: what a document may hold, as a JSON Schema.

use clap::ValueEnum;
use schemars::generate::SchemaSettings;
use schemars::transform::RecursiveTransform;
use schemars::{JsonSchema, Schema};
use serde::Serialize;

use crate::failure::{FINE, Failure};
use crate::output::{pretty, print};
use crate::view::{Document, ReviewView, SCHEMA};

/// Documents that have a schema.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Of {
    /// review.json, and what `review --format json` prints
    Review,
}

/// What a document may hold, as a JSON Schema
#[derive(Debug, clap::Args)]
pub(crate) struct Args {
    /// Which document
    #[arg(value_name = "DOCUMENT")]
    document: Of,
}

/// Runs the command.
pub(crate) fn run(args: &Args) -> Result<u8, Failure> {
    let schema = match args.document {
        Of::Review => schema::<ReviewView>("A circuit review by lastvolt"),
    };
    print(&pretty(&schema)?)?;
    Ok(FINE)
}

/// The schema of a document, without keys that it never has.
fn schema<T: Serialize + JsonSchema>(title: &str) -> Schema {
    let settings = SchemaSettings::draft2020_12()
        .for_serialize()
        .with_transform(RecursiveTransform(only_known))
        .with_transform(RecursiveTransform(one_line));
    let mut schema = settings
        .into_generator()
        .into_root_schema_for::<Document<T>>();
    schema.insert("title".to_owned(), title.into());
    schema.insert("description".to_owned(), UNITS.into());
    if let Some(version) = schema.pointer_mut("/properties/schema") {
        *version = serde_json::json!({
            "description": "Version of the shape: raised when a key changes its meaning or goes away.",
            "const": SCHEMA,
        });
    }
    schema
}

/// What all keys have in common.
const UNITS: &str = "Every quantity is a number in SI units. Its key ends in its unit: _v volts, _a amperes, \
     _as ampere seconds, _w watts, _j and joule joules, _s seconds, _ohm ohms, _c degrees Celsius. Names of the \
     files as keys hold volts under nets, amperes under pins and cells; keys within one that ends in a unit have that \
     unit too (lowest under rail_v); value stands beside its unit. Other keys without such an ending are shares of one, counts or texts. A key without a value is \
     absent.";

/// An object that names its keys has no others.
fn only_known(schema: &mut Schema) {
    let named = schema.get("properties").is_some();
    if named && schema.get("additionalProperties").is_none() {
        schema.insert("additionalProperties".to_owned(), false.into());
    }
}

/// Descriptions without the line breaks of the source.
fn one_line(schema: &mut Schema) {
    if let Some(text) = schema.get("description").and_then(|d| d.as_str()) {
        let joined = text.split_whitespace().collect::<Vec<_>>().join(" ");
        schema.insert("description".to_owned(), joined.into());
    }
}
