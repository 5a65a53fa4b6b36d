//! The built-in catalog: every entry is sound, says where its figures come from, and works in a part.

use lastvolt_core::model::Kind;
use lastvolt_input::{Text, catalog, family_models, read};

#[test]
fn every_entry_names_its_source_and_what_it_is() {
    let entries = catalog();
    assert!(entries.len() >= 12, "{}", entries.len());
    for entry in &entries {
        assert!(entry.source.len() > 20, "{}", entry.name);
        assert!(entry.summary.len() > 10, "{}", entry.name);
        let of_a_maker = entry.summary.ends_with("publishes it");
        assert!(
            entry.class != of_a_maker,
            "{} is a class or a maker's",
            entry.name
        );
    }
    let mut names: Vec<&str> = entries.iter().map(|e| e.name.as_str()).collect();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), entries.len());
}

/// Each entry as a part with every pin, so that nothing of it is left unread.
#[test]
fn every_entry_works_in_a_part() {
    for entry in catalog() {
        let pins = match entry.kind {
            Kind::Cell | Kind::Supply => "{ plus = \"VDD\", minus = \"GND\" }",
            Kind::Diode | Kind::Led => "{ anode = \"VDD\", cathode = \"GND\" }",
            Kind::PFet | Kind::NFet => "{ drain = \"A\", source = \"VDD\", gate = \"GND\" }",
            Kind::Ldo
            | Kind::Buck
            | Kind::Boost
            | Kind::BuckBoost
            | Kind::Detector
            | Kind::LoadSwitch
            | Kind::IdealDiode => {
                "{ in = \"A\", out = \"VDD\", gnd = \"GND\" }\nopen = [\"enable\", \"fb\"]"
            }
            _ => "[\"VDD\", \"GND\"]",
        };
        let text = |name: &str, text: String| Text {
            name: name.to_owned(),
            text,
        };
        let family = "[family]\nboards = [\"b.toml\"]\n[connector]\npins = [\"VDD\", \"GND\"]\n";
        let board = format!(
            "[parts.X1]\nkind = \"{}\"\nmodel = \"{}\"\npins = {pins}\n",
            entry.kind.word(),
            entry.name
        );
        let mut loaded = read(&[
            text("family.toml", family.to_owned()),
            text("b.toml", board.clone()),
        ]);
        if loaded.problems.iter().any(|p| p.code == "unknown-pin") {
            // A regulator without enable or feedback pin.
            let fewer = board.replace("\nopen = [\"enable\", \"fb\"]", "\nopen = [\"enable\"]");
            loaded = read(&[
                text("family.toml", family.to_owned()),
                text("b.toml", fewer),
            ]);
        }
        if loaded.problems.iter().any(|p| p.code == "unknown-pin") {
            let none = board.replace("\nopen = [\"enable\", \"fb\"]", "");
            loaded = read(&[text("family.toml", family.to_owned()), text("b.toml", none)]);
        }
        assert_eq!(loaded.problems, [], "{}", entry.name);
        assert!(loaded.family.is_some(), "{}", entry.name);
    }
}

/// The text of an entry, put into a family under another name, is the same model.
#[test]
fn the_text_of_every_entry_can_be_put_into_a_family() {
    for entry in catalog() {
        let text = entry.toml.replacen(&entry.name, "copy", 1);
        let copies = family_models(&[Text {
            name: "family.toml".to_owned(),
            text,
        }]);
        let [copy] = copies.as_slice() else {
            panic!("one model in {}", entry.toml);
        };
        assert_eq!(copy.device, entry.device, "{}", entry.name);
        assert_eq!((copy.kind, &copy.source), (entry.kind, &entry.source));
        assert!(entry.device.is_some(), "{}", entry.name);
    }
}
