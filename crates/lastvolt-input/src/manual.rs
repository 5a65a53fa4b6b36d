//! The reference tables of the manual, made from the fields that the readers use.

use crate::document::{Field, Need, Takes};
use crate::quantity::fitting;
use crate::section::heat::HEAT_FIELDS;
use crate::section::model::MODEL_FIELDS;
use crate::section::part::PART_FIELDS;
use crate::section::pins::pin_words;
use crate::section::{SECTIONS, accept, board, connector, family, load, profile, requirement};

/// The reference of every table and key, as Markdown.
#[must_use]
pub fn reference() -> String {
    let mut out = String::new();
    let tables: [(&str, &str, &[Field]); 15] = [
        ("`family.toml`", "Tables of the file.", family::TABLES),
        ("`[family]`", "", family::FIELDS),
        ("`[requirement]`", "", requirement::FIELDS),
        ("`[connector]`", "", connector::FIELDS),
        ("`[connector.promise.PIN]`", "", connector::PROMISE_FIELDS),
        ("`[loads.NAME]`", "", load::FIELDS),
        ("States of a load", "", load::STATE_FIELDS),
        ("Stretches of `boot`", "", load::BOOT_FIELDS),
        ("`[loads.NAME.drives] NET = { .. }`", "", load::DRIVE_FIELDS),
        ("`[profiles.NAME]`", "", profile::FIELDS),
        ("`[[profiles.NAME.tasks]]`", "", profile::TASK_FIELDS),
        ("Steps of a task", "", profile::STEP_FIELDS),
        ("Board files", "Keys and tables of the file.", board::FIELDS),
        (
            "`[parts.NAME]`",
            "Keys of every part; those of its kind follow below.",
            PART_FIELDS,
        ),
        (
            "`[[accept]]`",
            "In a board file or in `family.toml`; see [accepting a finding](../rules/README.md#accepting-a-finding).",
            accept::FIELDS,
        ),
    ];
    for (title, says, fields) in tables {
        section(&mut out, title, says, fields);
    }
    let says = "Keys of every model, beside those of its kind.";
    section(&mut out, "`[models.NAME]`", says, MODEL_FIELDS);
    let says = "Keys of every part and of every model.";
    section(&mut out, "What a part bears", says, HEAT_FIELDS);
    for kind in SECTIONS {
        let title = format!("`kind = \"{}\"`", kind.kind.word());
        let says = format!("{}.\nPins: {}.", capital(kind.doc), pin_words(kind.pins));
        let fields: Vec<Field> = kind.part.iter().chain(kind.model).copied().collect();
        section(&mut out, &title, &says, &fields);
        let only: Vec<String> = kind.part.iter().map(|f| format!("`{}`", f.key)).collect();
        if !only.is_empty() && !kind.model.is_empty() {
            out.push_str(&format!("Not in a model: {}.\n\n", only.join(", ")));
        }
    }
    out
}

fn section(out: &mut String, title: &str, says: &str, fields: &[Field]) {
    out.push_str(&format!("### {title}\n\n"));
    if !says.is_empty() {
        out.push_str(&format!("{says}\n\n"));
    }
    if fields.is_empty() {
        return;
    }
    out.push_str(
        "| key | holds | where absent | meaning | example |\n| --- | --- | --- | --- | --- |\n",
    );
    rows(out, "", fields);
    out.push('\n');
}

fn rows(out: &mut String, path: &str, fields: &[Field]) {
    for field in fields {
        let key = format!("{path}{}", field.key);
        let absent = match field.need {
            Need::Required => "must be there".to_owned(),
            Need::Optional => "none".to_owned(),
            Need::Default("") => "empty".to_owned(),
            Need::Default(text) => format!("`{text}`"),
            Need::Otherwise(words) => words.to_owned(),
        };
        let example = if field.example.is_empty() {
            String::new()
        } else {
            format!("`{}`", field.example)
        };
        out.push_str(&format!(
            "| `{key}` | {} | {absent} | {} | {example} |\n",
            holds(field).replace('|', "or"),
            field.doc
        ));
        if let Takes::Table(inner) = field.takes
            && path.is_empty()
            && !is_file_table(field)
        {
            rows(out, &format!("{key}."), inner);
        }
    }
}

/// Tables of a file have sections of their own.
fn is_file_table(field: &Field) -> bool {
    matches!(field.key, "family" | "requirement" | "connector")
}

/// What a field holds, in words.
pub(crate) fn holds(field: &Field) -> String {
    match field.takes {
        Takes::Value(unit) | Takes::Spread(unit) => {
            let mut text = unit.measures().to_owned();
            let bounds = field.bounds.words(unit.symbol());
            if bounds != "any finite value" {
                text.push_str(&format!(", {bounds}"));
            }
            if matches!(field.takes, Takes::Spread(_)) {
                text.push_str("; may have min, typ and max");
            }
            text
        }
        Takes::Number => format!("a number, {}", field.bounds.words("")),
        Takes::Count => "a whole number from 1".to_owned(),
        Takes::Flag => "true or false".to_owned(),
        Takes::Text => "text".to_owned(),
        Takes::Names => "list of names".to_owned(),
        Takes::Word(words) => {
            let words: Vec<String> = words.iter().map(|w| format!("`{w}`")).collect();
            format!("one of {}", words.join(", "))
        }
        Takes::Table(_) => "table".to_owned(),
        Takes::Other(what) => what.to_owned(),
    }
}

/// The units of every quantity, as Markdown.
#[must_use]
pub fn units() -> String {
    use lastvolt_core::quantity::Unit;
    let mut out = String::from("| quantity | units |\n| --- | --- |\n");
    for unit in [
        Unit::Volt,
        Unit::Ampere,
        Unit::Ohm,
        Unit::Farad,
        Unit::Henry,
        Unit::Second,
        Unit::Hertz,
        Unit::Watt,
        Unit::Coulomb,
        Unit::Celsius,
        Unit::Kelvin,
        Unit::KelvinPerWatt,
        Unit::Fraction,
        Unit::PerSecond,
        Unit::Kilogram,
        Unit::Metre,
    ] {
        let name = unit
            .measures()
            .trim_start_matches("a ")
            .trim_start_matches("an ");
        out.push_str(&format!("| {name} | {} |\n", fitting(unit)));
    }
    out
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    match chars.next() {
        Some(first) => first.to_uppercase().chain(chars).collect(),
        None => String::new(),
    }
}
