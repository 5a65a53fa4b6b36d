//! The published JSON Schema of the review: it is what the program prints, and reviews keep to it.

use std::fs;
use std::path::PathBuf;

use serde_json::Value;

use crate::program::{Folder, example_arg, run};
use crate::rules::{suite, texts};

fn published() -> Value {
    let path =
        PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../docs/schema/review.schema.json");
    let text = fs::read_to_string(path).expect("the schema");
    serde_json::from_str(&text).expect("JSON")
}

fn faults(schema: &Value, document: &Value) -> Vec<String> {
    let validator = jsonschema::draft202012::new(schema).expect("a schema of this draft");
    let found = validator.iter_errors(document);
    found
        .map(|e| format!("{}: {e}", e.instance_path()))
        .collect()
}

/// Every object of a schema that names its keys, with its place.
fn objects<'s>(at: &str, schema: &'s Value, out: &mut Vec<(String, &'s Value)>) {
    if schema.get("properties").is_some_and(Value::is_object) {
        out.push((at.to_owned(), schema));
    }
    match schema {
        Value::Object(map) => {
            for (key, inner) in map {
                objects(&format!("{at}/{key}"), inner, out);
            }
        }
        Value::Array(items) => {
            for (key, inner) in items.iter().enumerate() {
                objects(&format!("{at}/{key}"), inner, out);
            }
        }
        _ => {}
    }
}

#[test]
fn the_published_schema_is_the_one_that_the_program_prints() {
    let printed = run(&["schema", "review"]).expect(0).json();
    assert_eq!(
        printed,
        published(),
        "write it anew: lastvolt schema review > docs/schema/review.schema.json"
    );
    let draft = "https://json-schema.org/draft/2020-12/schema";
    assert_eq!(printed["$schema"], draft);
    assert_eq!(printed["properties"]["schema"]["const"], 1);
}

#[test]
fn every_key_of_the_schema_is_described_and_no_other_is_allowed() {
    let schema = published();
    let mut found = Vec::new();
    objects("", &schema, &mut found);
    assert!(30 < found.len(), "only {} objects", found.len());
    for (at, object) in found {
        assert_eq!(object["additionalProperties"], false, "{at} is open");
        for (key, of) in object["properties"].as_object().expect("keys") {
            assert!(of.get("description").is_some(), "{at}: {key} says nothing");
        }
    }
}

#[test]
fn the_review_of_the_example_keeps_to_the_schema_and_a_changed_one_does_not() {
    let folder = Folder::new("schema-example");
    let args = [
        "review",
        &example_arg(),
        "--out",
        folder.arg(),
        "--date",
        "2026-11-26",
    ];
    run(&args).expect(0);
    let text = fs::read_to_string(folder.path().join("review.json")).expect("the document");
    let document: Value = serde_json::from_str(&text).expect("JSON");
    let schema = published();
    assert_eq!(faults(&schema, &document), [] as [String; 0]);
    for (place, key, value) in [
        ("", "unheard", Value::from(1)),
        ("", "schema", Value::from(2)),
        ("/boards/0", "unheard", Value::from(1)),
        ("/boards/0/points/0/situation", "unheard", Value::from(1)),
        ("/boards/0/waves/0", "unheard", Value::from(1)),
        ("/boards/0/parts/0", "kind", Value::from(7)),
        ("/findings/0", "severity", Value::from("grave")),
        ("/runs/0", "life_s", Value::from("long")),
    ] {
        let mut changed = document.clone();
        changed.pointer_mut(place).expect("a place")[key] = value;
        assert!(
            !faults(&schema, &changed).is_empty(),
            "{place}/{key} passes"
        );
    }
}

#[test]
fn reviews_of_fixtures_keep_to_the_schema() {
    let schema = published();
    // One of each: no cell, nothing but a stack, no end, a fault of every severity, nothing to say.
    let wanted = [
        "brown-out-at-once-hit",
        "sources-fight-stack-hit",
        "sound-usb-ldo",
        "hiccup-hit",
        "sound-lone-coin-life",
    ];
    let mut seen = 0;
    for (name, fixture) in suite() {
        if !wanted.contains(&name.as_str()) {
            continue;
        }
        seen += 1;
        let folder = Folder::new(&format!("schema-{name}"));
        for text in texts(&fixture) {
            folder.write(&text.name, &text.text);
        }
        let ran = run(&["review", folder.arg(), "--format", "json"]);
        let found = faults(&schema, &ran.json());
        assert!(found.is_empty(), "{name}: {found:#?}");
    }
    assert_eq!(seen, wanted.len());
}
