//! `parts`: the catalog as a table, one model whole with its curves, its document and its text.

use serde_json::Value;

use crate::program::{Folder, run};

/// Ends of keys that say in which unit a number is.
const UNITS: [&str; 14] = [
    "_v", "_a", "_ohm", "_f", "_h", "_s", "_hz", "_w", "_as", "_c", "_share", "_per_s", "_kg", "_m",
];
/// Numbers that have none.
const PLAIN: [&str; 2] = ["depth", "factor"];

fn entry(args: &[&str]) -> Value {
    let mut all = vec!["parts"];
    all.extend(args);
    all.extend(["--format", "json"]);
    let document = run(&all).expect(0).json();
    assert_eq!(document["schema"], 1);
    document["entries"][0].clone()
}

fn curve<'a>(entry: &'a Value, name: &str) -> &'a Value {
    let curves = entry["curves"].as_array().expect("curves");
    curves
        .iter()
        .find(|c| c["name"] == name)
        .unwrap_or_else(|| panic!("no curve {name}"))
}

/// The points of a line of a curve.
fn points(curve: &Value, line: usize) -> Vec<(f64, f64)> {
    let points = &curve["lines"][line]["points"];
    let column = |axis: &str| -> Vec<f64> {
        let key = curve[axis]["column"].as_str().expect("a column");
        let column = points[key]
            .as_array()
            .unwrap_or_else(|| panic!("no column {key}"));
        column
            .iter()
            .map(|v| v.as_f64().expect("a number"))
            .collect()
    };
    let (x, y) = (column("x"), column("y"));
    assert_eq!(x.len(), y.len());
    x.into_iter().zip(y).collect()
}

fn fits(text: &str) {
    for line in text.lines() {
        assert!(line.chars().count() <= 100, "{line}");
    }
}

#[test]
fn the_table_lists_every_model_kind_by_kind() {
    let all = run(&["parts"]).expect(0);
    fits(&all.out);
    let document = run(&["parts", "--format", "json"]).expect(0).json();
    let entries = document["entries"].as_array().expect("entries");
    assert!(entries.len() >= 17, "{}", entries.len());
    for entry in entries {
        let name = entry["name"].as_str().expect("a name");
        assert!(all.out.contains(&format!("\n  {name} ")), "{name}");
        assert!(entry.get("curves").is_none());
        for (key, value) in entry["figures"].as_object().expect("figures") {
            let unit = UNITS.iter().any(|u| key.ends_with(u)) || key.ends_with("_ratio");
            assert!(!value.is_number() || unit, "{name}: {key}");
        }
    }
    let cells = run(&["parts", "--kind", "cell"]).expect(0).out;
    assert!(
        cells.contains("CR2032") && !cells.contains("schottky"),
        "{cells}"
    );
    let found = run(&["parts", "--find", "ALKALINE"]).expect(0).out;
    assert!(
        found.contains("LR6") && !found.contains("CR2032"),
        "{found}"
    );
    let none = run(&["parts", "--find", "nobody has this"]).expect(0).out;
    assert!(none.starts_with("Nothing fits."), "{none}");
}

#[test]
fn every_model_is_shown_whole_and_its_curves_are_drawn() {
    let document = run(&["parts", "--format", "json"]).expect(0).json();
    for entry in document["entries"].as_array().expect("entries") {
        let name = entry["name"].as_str().expect("a name");
        let text = run(&["parts", name]).expect(0).out;
        fits(&text);
        assert!(
            text.contains("confidence") && text.contains("source"),
            "{text}"
        );
        let whole = self::entry(&[name]);
        // A fuse has none.
        let none = Vec::new();
        let curves = whole["curves"].as_array().unwrap_or(&none);
        assert_eq!(text.matches("-+").count() > 0, !curves.is_empty(), "{text}");
        for curve in curves {
            for axis in ["x", "y"] {
                let column = curve[axis]["column"].as_str().expect("a column");
                assert!(PLAIN.contains(&column) || UNITS.iter().any(|u| column.ends_with(u)));
            }
            for line in 0..curve["lines"].as_array().expect("lines").len() {
                assert!(!points(curve, line).is_empty(), "{name}");
            }
        }
        if entry["kind"] == "cell" {
            assert!(text.contains("cautions"), "{text}");
        }
    }
    let two = run(&["parts", "led-red", "cr2032"]).expect(0).out;
    let (first, second) = (two.find("led-red: led"), two.find("CR2032: cell"));
    assert!(first.expect("one") < second.expect("other"));
}

/// More current gives less charge, none more than the cell holds; the slowest gives nearly all.
#[test]
fn law_a_cell_gives_less_the_faster_it_is_emptied() {
    let cell = entry(&["CR2032"]);
    let charge = cell["figures"]["charge_as"].as_f64().expect("a charge");
    let given = points(curve(&cell, "capacity"), 0);
    assert!(
        given
            .windows(2)
            .all(|p| p[0].0 < p[1].0 && p[0].1 >= p[1].1),
        "{given:?}"
    );
    assert!(
        0.97 * charge < given[0].1 && given[0].1 <= charge,
        "{given:?}"
    );
    let discharge = curve(&cell, "discharge");
    let ends: Vec<(f64, f64)> = (0..3)
        .map(|l| *points(discharge, l).last().expect("an end"))
        .collect();
    assert!(ends.windows(2).all(|p| p[0].0 > p[1].0), "{ends:?}");
    let end = cell["figures"]["end_v"].as_f64().expect("an end");
    assert!(ends.iter().all(|p| (p.1 - end).abs() < 1e-9), "{ends:?}");
}

/// The efficiency of a step-up converter by its power balance, solved again by repeated insertion.
#[test]
fn the_efficiency_of_a_converter_is_that_of_its_power_balance() {
    let boost = entry(&["boost-low-voltage"]);
    let figure = |key: &str| {
        boost["figures"][key]
            .as_f64()
            .unwrap_or_else(|| panic!("{key}"))
    };
    let curve = curve(&boost, "efficiency");
    let (in_volts, out_volts) = (1.2, 3.0);
    assert_eq!(curve["lines"][0]["label"], "1.20 V in");
    let points = points(curve, 0);
    assert!(points.len() > 30, "{}", points.len());
    for (amps, share) in points {
        let watts =
            (1.0 + figure("loss_share")) * out_volts * amps + out_volts * figure("quiescent_out_a");
        let mut input = watts / in_volts;
        for _ in 0..2000 {
            input = (watts + figure("loss_path_ohm") * input * input) / in_volts;
        }
        let expected = out_volts * amps / (in_volts * (input + figure("quiescent_in_a")));
        assert!(
            (share / expected - 1.0).abs() < 1e-6,
            "{amps} A: {share} {expected}"
        );
    }
}

/// BAT54 as several makers print it: the drawn curve passes its stated points within 10 mV.
#[test]
fn the_curve_of_a_diode_passes_the_points_of_its_sheet() {
    let diode = entry(&["schottky-small"]);
    let curve = curve(&diode, "forward");
    let (line, stated) = (points(curve, 0), points(curve, 2));
    assert_eq!(curve["lines"][2]["stated"], true);
    assert!(stated.len() > 2, "{stated:?}");
    for (volts, amps) in stated {
        let pair = line
            .windows(2)
            .find(|p| p[0].1 <= amps && amps <= p[1].1)
            .expect("a pair");
        assert!(
            pair[0].0 - 0.01 < volts && volts < pair[1].0 + 0.01,
            "{volts} V {pair:?}"
        );
    }
}

#[test]
fn the_text_of_a_model_can_be_put_into_a_family() {
    let text = run(&["parts", "LR03", "led-red", "--model"]).expect(0).out;
    assert!(
        text.starts_with("[models.LR03]\nkind = \"cell\"\n"),
        "{text}"
    );
    assert!(text.contains("\n\n[models.led-red]\n"), "{text}");
    let folder = Folder::tiny("parts-model");
    let family = std::fs::read_to_string(folder.path().join("family.toml")).expect("a family");
    folder.write("family.toml", format!("{family}\n{text}"));
    run(&["check", folder.arg(), "--fail-on", "stop"]);
    let own = run(&["parts", "LR03", "--family", folder.arg()])
        .expect(0)
        .out;
    assert_eq!(own, run(&["parts", "LR03"]).expect(0).out);
}

#[test]
fn models_of_a_family_are_shown_like_those_of_the_catalog() {
    let folder = Folder::tiny("parts-family");
    let family = std::fs::read_to_string(folder.path().join("family.toml")).expect("a family");
    let own = "\n[models.my-aaa]\nlike = \"LR03\"\nmass = \"11.5 g\"\n\
        size = { diameter = \"10.5 mm\", height = \"44.5 mm\" }\nthin = \"the cold\"\n\
        rated = { capacity = \"1100 mAh\", load = \"75 ohm\", end = \"0.9 V\" }\n";
    folder.write("family.toml", format!("{family}{own}"));
    let list = run(&["parts", "--kind", "cell", "--family", folder.arg()])
        .expect(0)
        .out;
    fits(&list);
    assert!(
        list.contains("10.5 x 44.5 mm") && list.contains("thin"),
        "{list}"
    );
    let one = run(&["parts", "my-aaa", "--family", folder.arg()])
        .expect(0)
        .out;
    for says in ["11.5 g", "like LR03: ", "thin        the cold", "typical"] {
        assert!(one.contains(says), "{says}: {one}");
    }
    let entry = entry(&["my-aaa", "--family", folder.arg()]);
    let charge = entry["figures"]["charge_as"].as_f64().expect("a charge");
    assert!(1.1 * 3600.0 < charge && charge < 1.5 * 3600.0, "{charge}");
}

#[test]
fn what_is_not_there_is_told_with_what_is() {
    let wrong: [(&[&str], &str); 6] = [
        (&["CR2023"], "did you mean `CR20"),
        (&["CR2032", "led-rde"], "did you mean `led-red`?"),
        (&["x"], "`lastvolt parts` lists all of them"),
        (&["--kind", "cel"], "did you mean `cell`?"),
        (&["--model"], "NAME"),
        (&["LR6", "--family", "/no/such/folder"], "cannot be opened"),
    ];
    for (args, says) in wrong {
        let mut all = vec!["parts"];
        all.extend(args);
        let ran = run(&all).expect(2);
        assert!(ran.out.is_empty(), "{}", ran.out);
        assert!(ran.err.contains(says), "{args:?}: {}", ran.err);
    }
    let json = run(&["parts", "CR2023", "--format", "json"])
        .expect(2)
        .json();
    assert_eq!(json["problems"][0]["code"], "unknown-name");
}
