//! Models that are like others: what is taken over, what is not, and where it then stands.

use lastvolt_core::device::{CellModel, Rating, RatingLoad};
use lastvolt_core::model::{Confidence, Device, Part};
use lastvolt_core::quantity::{Charge, Power, Quantity, Resistance, Temperature, Voltage};
use lastvolt_input::{Loaded, catalog, family_models};

use crate::annotated::{check, texts};

fn cell(part: &Part) -> &CellModel {
    match &part.device {
        Device::Cell(cell) => &cell.model,
        _ => panic!("a cell"),
    }
}

fn part(loaded: &Loaded, at: usize) -> &Part {
    &loaded.family.as_ref().expect("a family").boards[0].parts[at]
}

fn built_in(name: &str) -> CellModel {
    let entry = catalog().into_iter().find(|e| e.name == name);
    match entry.and_then(|e| e.device) {
        Some(Device::Cell(cell)) => cell.model,
        _ => panic!("a cell"),
    }
}

const SHEET: &str = r#"
[models.my-aaa]
like = "LR03"
rated = { capacity = "1100 mAh", load = "75 ohm", end = "0.9 V", ambient = "20 degC" }
source = "a data sheet"
[parts.BT1]
kind = "cell"
model = "my-aaa"
pins = ["VDD", "GND"]
"#;

/// The shape of the built-in cell, with the charge that gives the rated capacity in the rated test.
#[test]
fn a_data_sheet_gives_the_charge_and_the_catalog_the_shape() {
    let loaded = check(SHEET);
    let found = cell(part(&loaded, 0)).clone();
    let rating = Rating {
        capacity: Charge::from_coulombs(1.1 * 3600.0),
        load: RatingLoad::Resistance(Resistance::from_ohms(75.0)),
        end: Voltage::from_volts(0.9),
        ambient: Temperature::from_celsius(20.0),
    };
    let given = found.discharge(&rating).last().expect("points").given;
    assert!(
        (given.as_coulombs() / 3960.0 - 1.0).abs() < 1e-6,
        "{given:?}"
    );
    let base = built_in("LR03");
    assert_ne!(found.charge, base.charge);
    let same = CellModel {
        charge: base.charge,
        ..found
    };
    assert_eq!(same, base);
}

#[test]
fn what_a_model_says_of_itself_is_not_taken_over() {
    let loaded = check(SHEET);
    let origin = &part(&loaded, 0).origin;
    let base = catalog()
        .into_iter()
        .find(|e| e.name == "LR03")
        .expect("an entry");
    assert_eq!(
        origin.source.as_deref(),
        Some(format!("a data sheet; like LR03: {}", base.source).as_str())
    );
    // The weaker of the two.
    assert_eq!(base.confidence, Confidence::Typical);
    assert_eq!(origin.confidence, Confidence::Typical);
    assert!(base.class && !origin.class);
    let weaker = SHEET.replace("source =", "confidence = \"memory\"\nsource =");
    let loaded = check(&weaker);
    assert_eq!(part(&loaded, 0).origin.confidence, Confidence::Memory);
}

#[test]
fn what_is_taken_over_stands_where_it_is_said() {
    let loaded = check(SHEET);
    let at = |key: &str| {
        let place = loaded
            .spans
            .find(Some("board"), "BT1", Some(key))
            .expect("a place");
        (place.line, place.column)
    };
    assert_eq!(at("resistance"), (3, 8));
    assert_eq!(at("limits.pulse"), (3, 8));
    assert_eq!(at("rated.end"), (4, 57));
    // From a model of the family: where it is written.
    let loaded = check(
        r#"
[models.one]
kind = "boost"
output = "3 V"
switch_limit = "500 mA"
[models.two]
like = "one"
reference = "0.5 V"
[parts.U1]
kind = "boost"
model = "two"
pins = { in = "BAT", out = "VDD", gnd = "GND", fb = "VDD" }
"#,
    );
    let place = loaded.spans.find(Some("board"), "U1", Some("switch_limit"));
    assert_eq!(place.expect("a place").line, 5);
    let Device::Regulator(regulator) = &part(&loaded, 0).device else {
        panic!("a regulator");
    };
    // `reference` stands in place of `output`.
    assert_eq!(regulator.setpoint_volts(), 0.5);
    assert_eq!(regulator.limit.expect("a limit").si(), 0.5);
}

#[test]
fn keys_are_taken_as_a_whole_and_through_chains() {
    let loaded = check(
        r#"
[models.third]
like = "second"
self_discharge = "9 %/year"
[models.second]
like = "CR2032"
limits = { continuous = "1 mA" }
charge = "200 mAh"
[models.LR6]
like = "LR6"
charge = "1 Ah"
[parts.BT1]
kind = "cell"
model = "third"
pins = ["VDD", "A"]
[parts.BT2]
kind = "cell"
model = "LR6"
pins = ["A", "GND"]
"#,
    );
    let third = cell(part(&loaded, 0));
    assert_eq!(third.charge.si(), 720.0);
    assert_eq!(third.limits.pulse, None);
    assert!(third.button);
    assert_eq!(third.open_circuit, built_in("CR2032").open_circuit);
    assert!(
        part(&loaded, 0)
            .origin
            .source
            .as_deref()
            .is_some_and(|s| s.starts_with("like second: like CR2032: "))
    );
    // A model in place of a built-in one may be like that one.
    assert_eq!(cell(part(&loaded, 1)).charge.si(), 3600.0);
    assert_eq!(
        cell(part(&loaded, 1)).resistance,
        built_in("LR6").resistance
    );
}

#[test]
fn who_is_like_nobody_or_itself_or_something_else_is_told() {
    check(
        r#"
[models.misspelt]
like = "CR2023"
#       ^^^^^^ error[unknown-name]: there is no model `CR2023`
[models.after]
like = "misspelt"
[models.self]
like = "self"
#       ^^^^ error[unknown-name]: there is no model `self`
[models.a]
like = "b"
#       ^ error[like-circle]: model `a` is like itself in the end
[models.b]
like = "a"
[models.c]
like = "a"
[models.number]
like = 3
#      ^ error[wrong-type]: `like` is a number
[models.fet]
kind = "n-fet"
like = "LR6"
#       ^^^ error[model-of-another-kind]: model `LR6` is of the kind `cell`, `fet` which is to be like it is of the kind `n-fet`
[models.unknown-key]
like = "LR6"
reference = "1 V"
#^^^^^^^^ error[unknown-key]
[parts.BT1]
kind = "cell"
model = "after"
pins = ["VDD", "GND"]
[parts.BT2]
kind = "cell"
model = "a"
pins = ["VDD", "GND"]
"#,
    );
    let loaded = lastvolt_input::read(&texts(
        "[models.x]\nlike = \"LR04\"\n[parts.R1]\nkind = \"resistor\"\nvalue = \"1k\"\npins = [\"VDD\", \"GND\"]\n",
    ));
    assert!(
        loaded.problems[0]
            .proposal
            .as_deref()
            .is_some_and(|p| p.contains("LR03"))
    );
}

/// What is wrong with a model is said once, however many are like it.
#[test]
fn a_mistake_is_not_told_again_by_models_that_are_like_it() {
    check(
        r#"
[models.one]
kind = "resistor"
value = "-1 ohm"
#       ^^^^^^^^ error[out-of-range]
[models.two]
like = "one"
[models.three]
like = "two"
[parts.R1]
kind = "resistor"
model = "three"
pins = ["VDD", "GND"]
"#,
    );
}

#[test]
fn a_rating_may_be_a_power() {
    let rated = "rated = { capacity = \"1 Ah\", load = \"50 mW\", end = \"0.9 V\" }";
    let loaded = check(&SHEET.replace(SHEET.lines().nth(3).expect("a line"), rated));
    let found = cell(part(&loaded, 0));
    let rating = Rating {
        capacity: Charge::from_coulombs(3600.0),
        load: RatingLoad::Power(Power::from_watts(0.05)),
        end: Voltage::from_volts(0.9),
        ambient: Temperature::from_celsius(20.0),
    };
    let given = found.discharge(&rating).last().expect("points").given;
    assert!(
        (given.as_coulombs() / 3600.0 - 1.0).abs() < 1e-6,
        "{given:?}"
    );
}

#[test]
fn a_cell_says_how_heavy_and_how_large_it_is() {
    let texts = texts(
        r#"
[models.coin]
like = "CR2032"
mass = "3.0 g"
size = { diameter = "20 mm", height = "3.2 mm" }
shelf_life = "10 years"
sources = ["one", "two"]
thin = "the cold"
cautions = ["small"]
[parts.BT1]
kind = "cell"
model = "coin"
pins = ["VDD", "GND"]
"#,
    );
    let entries = family_models(&texts);
    let [entry] = entries.as_slice() else {
        panic!("one model");
    };
    assert!((entry.facts.mass.expect("a mass").si() - 3e-3).abs() < 1e-12);
    assert!((entry.facts.diameter.expect("a diameter").si() - 0.02).abs() < 1e-12);
    assert_eq!(entry.facts.width, None);
    let Some(Device::Cell(cell)) = &entry.device else {
        panic!("a cell");
    };
    let years = cell.model.shelf_life.expect("a shelf life").as_secs() / 365.25 / 86400.0;
    assert!((years - 10.0).abs() < 1e-9);
    assert_eq!(
        (entry.sources.len(), entry.thin.as_deref()),
        (2, Some("the cold"))
    );
    assert_eq!(entry.cautions, ["small"]);
    assert!(entry.toml.starts_with("[models.coin]\nlike") && entry.toml.ends_with("[\"small\"]\n"));
    check(
        r#"
[models.coin]
like = "CR2032"
mass = "3.0 mm"
#           ^^ error[unit-mismatch]
size = { diameter = "20", heigth = "3 mm" }
#                    ^^ error[bare-number]
#                         ^^^^^^ error[unknown-key]
thin = true
#      ^^^^ error[wrong-type]
sources = "one"
#         ^^^^^ error[wrong-type]
[parts.R1]
kind = "resistor"
value = "1k"
pins = ["VDD", "GND"]
"#,
    );
}

/// A long chain is followed to its end, and one that leads nowhere is told once and soon.
#[test]
fn long_chains_are_followed() {
    let chain = |last: &str| {
        let links = (0..3000).map(|n| format!("[models.m{n}]\nlike = \"m{}\"\n", n + 1));
        let links: String = links.collect();
        format!(
            "{links}[models.m3000]\n{last}\n[parts.R1]\nkind = \"resistor\"\nmodel = \"m0\"\npins = [\"VDD\", \"GND\"]\n"
        )
    };
    let loaded = lastvolt_input::read(&texts(&chain("kind = \"resistor\"\nvalue = \"1k\"")));
    assert_eq!(loaded.problems, []);
    let Device::Resistor(resistor) = &part(&loaded, 0).device else {
        panic!("a resistor");
    };
    assert_eq!(resistor.value.si(), 1000.0);
    let loaded = lastvolt_input::read(&texts(&chain("like = \"nobody\"")));
    let codes: Vec<&str> = loaded.problems.iter().map(|p| p.code).collect();
    assert_eq!(codes, ["unknown-name"]);
}
