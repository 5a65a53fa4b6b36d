//! The parts list as a file: read back by a reader of its own, complete, and no formula in it.

use std::fs;

use crate::program::{COIN, Folder, example_arg, run};

fn read(folder: &Folder) -> Vec<Vec<String>> {
    let bytes = fs::read(folder.path().join("review/parts.csv")).expect("the parts list");
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .from_reader(bytes.as_slice());
    let rows = reader.records().map(|r| r.expect("a row"));
    rows.map(|r| r.iter().map(str::to_owned).collect())
        .collect()
}

#[test]
fn every_part_of_every_board_is_in_the_list_once() {
    let folder = Folder::new("order-example");
    let out = folder.path().join("review");
    let args = [
        "review",
        &example_arg(),
        "--out",
        out.to_str().expect("UTF-8"),
    ];
    run(&args).expect(0);
    let rows = read(&folder);
    let heads = [
        "board",
        "designators",
        "count",
        "kind",
        "value",
        "rated",
        "model",
        "class or part",
        "source",
    ];
    assert_eq!(rows[0], heads);
    let text = fs::read_to_string(out.join("review.json")).expect("the document");
    let document: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let mut series = 1;
    for board in document["boards"].as_array().expect("boards") {
        let name = board["name"].as_str().expect("a name");
        let own = rows.iter().filter(|r| r[0] == name);
        let mut listed: Vec<&str> = own.clone().flat_map(|r| r[1].split(", ")).collect();
        let parts = board["parts"].as_array().expect("parts");
        let mut parts: Vec<&str> = parts
            .iter()
            .map(|p| p["part"].as_str().expect("a name"))
            .collect();
        listed.sort_unstable();
        parts.sort_unstable();
        assert_eq!(listed, parts, "{name}");
        for row in own {
            // "2 x LR6 in series" are two to order.
            let each = row[4].split_once(" x ").map_or("1", |(cells, _)| cells);
            let each: usize = each.parse().expect("a number of cells");
            let count = each * row[1].split(", ").count();
            assert_eq!(count.to_string(), row[2]);
            series = series.max(each);
        }
    }
    assert_eq!(series, 2);
}

#[test]
fn what_a_spreadsheet_would_compute_or_break_stays_text() {
    let folder = Folder::tiny("order-formula");
    let family = fs::read_to_string(folder.path().join("family.toml")).expect("the family");
    let source = r#"=HYPERLINK(\"x\"), \"a\"\nb"#;
    folder.write("family.toml", family.replace("invented for a test", source));
    folder.write("coin.toml", COIN);
    run(&["review", folder.arg()]).expect(0);
    let rows = read(&folder);
    assert_eq!(rows[1][8], "'=HYPERLINK(\"x\"), \"a\"\nb");
    assert_eq!(rows[1].len(), rows[0].len());
    let text = fs::read_to_string(folder.path().join("review/parts.csv")).expect("the list");
    assert!(text.ends_with("\r\n"));
    for row in rows.iter().skip(1).flatten() {
        assert!(!row.starts_with(['=', '+', '-', '@']), "{row}");
    }
}

#[test]
fn parts_of_one_kind_with_other_figures_have_lines_of_their_own() {
    let folder = Folder::tiny("order-figures");
    let regulator = |name: &str, volts: &str| {
        format!(
            "\n[parts.{name}]\nkind = \"ldo\"\noutput = \"{volts}\"\npins = {{ in = \"BAT\", out = \"{name}\", gnd = \"GND\" }}\n"
        )
    };
    let three = [("U1", "1.8 V"), ("U2", "2.5 V"), ("U3", "1.8 V")];
    let three = three.map(|(name, volts)| regulator(name, volts));
    folder.write("coin.toml", COIN.to_owned() + &three.concat());
    run(&["review", folder.arg()]);
    let rows = read(&folder);
    let of = |kind: &str| -> Vec<[String; 3]> {
        let own = rows.iter().filter(|r| r[3] == kind);
        own.map(|r| [r[1].clone(), r[2].clone(), r[4].clone()])
            .collect()
    };
    let line = |cells: [&str; 3]| cells.map(str::to_owned);
    assert_eq!(
        of("ldo"),
        [line(["U1, U3", "2", "1.8 V"]), line(["U2", "1", "2.5 V"])]
    );
}
