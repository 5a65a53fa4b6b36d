//! The shapes of the JSON documents and the exit statuses, walked key by key.

use serde_json::{Map, Value};

use crate::program::{Folder, example_arg, run};

/// Ends of keys that say in which unit a number is.
const UNITS: [&str; 9] = ["_v", "_a", "_w", "_j", "_s", "_f", "_ohm", "_c", "_as"];

/// Keys whose numbers have no unit, or have it beside them.
const PLAIN: [&str; 28] = [
    "schema",
    "depth",
    "stranded",
    "share",
    "solved",
    "covered",
    "boards",
    "stacks",
    "situations",
    "line",
    "column",
    "value",
    "joule",
    "ledger_error",
    "load_share",
    "time",
    "rest",
    "lowest",
    "units",
    "warnings",
    "newton_steps",
    "points",
    "count",
    "stress",
    "life_depth",
    "running_depth",
    "starting_depth",
    "confidence",
];

fn object(value: &Value) -> &Map<String, Value> {
    value
        .as_object()
        .unwrap_or_else(|| panic!("not an object: {value}"))
}

fn list<'a>(value: &'a Value, key: &str) -> &'a Vec<Value> {
    let list = &value[key];
    list.as_array()
        .unwrap_or_else(|| panic!("`{key}` is no list: {list}"))
}

fn number(value: &Value, key: &str) -> f64 {
    let number = &value[key];
    number
        .as_f64()
        .unwrap_or_else(|| panic!("`{key}` is no number: {number}"))
}

fn text<'a>(value: &'a Value, key: &str) -> &'a str {
    let text = &value[key];
    text.as_str()
        .unwrap_or_else(|| panic!("`{key}` is no text: {text}"))
}

/// Keys whose value is null where something never happens.
const NEVER: [&str; 3] = ["life_s", "recovery_s", "good_s"];

/// Every number stands under a key that says its unit, and nothing is null but what never happens.
fn walk(value: &Value, key: &str, unit: bool) {
    match value {
        Value::Null => assert!(NEVER.contains(&key), "null under `{key}`"),
        Value::Number(_) => assert!(unit, "a number without a unit under `{key}`"),
        Value::Array(items) => items.iter().for_each(|v| walk(v, key, unit)),
        Value::Object(map) => {
            for (inner, v) in map {
                let own =
                    UNITS.iter().any(|u| inner.ends_with(u)) || PLAIN.contains(&inner.as_str());
                // Names of nets, cells and shares stand under a key that says what they are in.
                let named = [
                    "nets", "pins", "cells", "supplies", "shares", "cell_v", "rail_v",
                ];
                let named = named.contains(&key);
                walk(v, inner, own || named);
            }
        }
        _ => {}
    }
}

fn document(args: &[&str], status: i32) -> Value {
    let ran = run(args).expect(status);
    let document = ran.json();
    assert!(document["schema"].is_u64());
    assert!(text(&document, "tool").starts_with("lastvolt "));
    assert!(text(&document, "digest").len() > 32);
    list(&document, "warnings");
    walk(&document, "", false);
    document
}

fn check_situation(value: &Value) {
    let keys: Vec<&str> = object(value).keys().map(String::as_str).collect();
    let expected = [
        "boards",
        "positions",
        "reversed",
        "states",
        "ambient_c",
        "depth",
        "history",
    ];
    // Boards of different depth and missing sources are told of where there are some.
    let told = |key: &&str| !["depths", "absent"].contains(key);
    let keys: Vec<&str> = keys.into_iter().filter(told).collect();
    assert_eq!(keys, expected);
    object(&value["positions"]);
    object(&value["states"]);
    list(value, "reversed");
    assert!(["cold", "running"].contains(&text(value, "history")));
}

#[test]
fn point_has_the_agreed_shape_and_its_powers_sum_to_zero() {
    for board in ["coin", "one-cell", "two-cell", "usb"] {
        let dir = example_arg();
        let point = document(&["point", &dir, "--board", board, "--format", "json"], 0);
        check_situation(&point["situation"]);
        assert_eq!(point["situation"]["boards"], serde_json::json!([board]));
        let (mut sum, mut most) = (0.0, 0.0_f64);
        for part in object(&point["parts"]).values() {
            for key in ["current_a", "voltage_v", "power_w"] {
                number(part, key);
            }
            object(&part["pins"]);
            sum += number(part, "power_w");
            most = most.max(number(part, "power_w").abs());
        }
        for load in object(&point["loads"]).values() {
            number(load, "current_a");
            number(load, "voltage_v");
            sum += number(load, "power_w");
        }
        assert!(
            sum.abs() < 1e-6 * most,
            "{board}: powers sum to {sum} of {most}"
        );
        assert!(number(&point, "kcl_residual_a") < 1e-9);
        assert!(object(&point["nets"]).contains_key("VDD"));
        list(&point, "floating");
    }
}

#[test]
fn point_takes_every_option() {
    let dir = example_arg();
    let args = [
        "point",
        &dir,
        "--board",
        "coin",
        "--profile",
        "watch",
        "--ambient",
        "-12 degC",
        "--set",
        "S1=on",
        "--state",
        "beacon=transmit",
        "--depth",
        "0.4",
        "--reverse",
        "BT1",
        "--history",
        "cold",
        "--format",
        "json",
    ];
    let point = document(&args, 0);
    let situation = &point["situation"];
    assert_eq!(number(situation, "ambient_c"), -12.0);
    assert_eq!(number(situation, "depth"), 0.4);
    assert_eq!(text(&situation["states"], "beacon"), "transmit");
    assert_eq!(text(&situation["positions"], "S1"), "on");
    assert_eq!(situation["reversed"], serde_json::json!(["BT1"]));
    assert_eq!(text(situation, "history"), "cold");
    let family_file = format!("{dir}/family.toml");
    let by_file = document(&["point", &family_file, "--format", "json"], 0);
    let by_folder = document(&["point", &dir, "--format", "json"], 0);
    assert_eq!(by_file, by_folder);
}

#[test]
fn stacked_boards_have_names_behind_their_board() {
    let dir = example_arg();
    let args = [
        "point", &dir, "--board", "coin", "--board", "usb", "--format", "json",
    ];
    let point = document(&args, 0);
    let parts = object(&point["parts"]);
    assert!(parts.contains_key("coin/BT1") && parts.contains_key("usb/U1"));
    let nets = object(&point["nets"]);
    assert!(nets.contains_key("VDD") && nets.contains_key("coin/BAT"));
}

#[test]
fn matrix_has_the_agreed_shape() {
    let dir = example_arg();
    let matrix = document(
        &["matrix", &dir, "--board", "two-cell", "--format", "json"],
        0,
    );
    let cases = list(&matrix, "cases");
    assert_eq!(matrix["solved"].as_u64(), Some(cases.len() as u64));
    let reversed: Vec<&Value> = cases.iter().map(|c| &c["situation"]["reversed"]).collect();
    for wanted in ["BT1", "BT1.1", "BT1.2"] {
        assert!(
            reversed.contains(&&serde_json::json!([wanted])),
            "{wanted} is not turned"
        );
    }
    for case in cases {
        check_situation(&case["situation"]);
        number(case, "rail_v");
        assert!(case["powered"].is_boolean());
        assert!(object(&case["cells"]).contains_key("BT1"));
        for stress in list(case, "stressed") {
            text(stress, "part");
            text(stress, "quantity");
            assert!(0.0 < number(stress, "share"));
        }
        list(case, "charged");
        list(case, "floating");
    }
    let usual = &cases[0];
    assert!(
        usual["powered"].as_bool() == Some(true),
        "the usual situation comes first"
    );
}

#[test]
fn life_has_the_agreed_shape_for_boards_in_file_order() {
    let life = document(&["life", &example_arg(), "--format", "json"], 0);
    let runs = list(&life, "runs");
    let boards: Vec<&str> = runs.iter().map(|r| text(r, "board")).collect();
    assert_eq!(boards, ["coin", "one-cell", "two-cell", "usb"]);
    for run in runs {
        check_run(run);
    }
    let last = &runs[3];
    assert!(last["life_s"].is_null());
    assert_eq!(text(&last["end"], "cause"), "no-end");
}

fn check_run(run: &Value) {
    let causes = [
        "brown-out",
        "empty",
        "converter-stopped",
        "over-voltage",
        "not-powered",
        "no-end",
    ];
    assert!(causes.contains(&text(&run["end"], "cause")));
    assert!(object(run).contains_key("life_s"));
    for key in [
        "ambient_c",
        "life_error_s",
        "stranded",
        "mean_cell_a",
        "ledger_error",
    ] {
        number(run, key);
    }
    object(&run["positions"]);
    let depth = number(&run["end"], "depth");
    assert!((number(run, "stranded") + depth - 1.0).abs() < 1e-12);
    let lines = list(run, "ledger");
    let sum: f64 = lines.iter().map(|l| number(l, "joule")).sum();
    assert!(lines.is_empty() || 0.0 < sum);
    lines
        .iter()
        .for_each(|l| assert!(!text(l, "line").is_empty()));
    let trace = &run["trace"];
    let instants = list(trace, "time_s").len();
    assert_eq!(list(trace, "depth").len(), instants);
    for voltage in ["cell_v", "rail_v"] {
        for line in ["rest", "lowest"] {
            assert_eq!(
                list(&trace[voltage], line).len(),
                instants,
                "{voltage} {line}"
            );
        }
    }
}

#[test]
fn life_runs_at_the_ambients_asked_for() {
    let dir = example_arg();
    let ambients = |ambient: &str| -> Vec<f64> {
        let args = [
            "life",
            &dir,
            "--board",
            "coin",
            "--ambient",
            ambient,
            "--format",
            "json",
        ];
        let life = document(&args, 0);
        list(&life, "runs")
            .iter()
            .map(|r| number(r, "ambient_c"))
            .collect()
    };
    let (low, all) = (ambients("low"), ambients("all"));
    assert_eq!(all.len(), 3);
    assert_eq!(all[0], low[0]);
    assert!(all[0] < all[1] && all[1] < all[2]);
    assert_eq!(ambients("15 degC"), [15.0]);
}

/// Instants never fall; every net, cell and supply has a value at each of them.
fn check_wave(wave: &Value) {
    check_situation(&wave["situation"]);
    let times: Vec<f64> = list(wave, "time_s")
        .iter()
        .filter_map(Value::as_f64)
        .collect();
    assert_eq!(times[..2], [0.0, 0.0], "both sides of the first edge");
    assert!(times.windows(2).all(|t| t[0] <= t[1]));
    assert!(object(&wave["nets"]).contains_key("VDD"));
    for kind in ["nets", "cells"] {
        for (name, values) in object(&wave[kind]) {
            let values = values.as_array().expect("a list");
            assert_eq!(values.len(), times.len(), "{name}");
        }
    }
    assert!(object(wave).contains_key("recovery_s"));
    let lowest = &wave["lowest"];
    assert_eq!(text(lowest, "net"), "VDD");
    let (volts, secs) = (number(lowest, "net_v"), number(lowest, "time_s"));
    let at = |(time, value): (&f64, &Value)| *time == secs && value.as_f64() == Some(volts);
    let mut instants = times.iter().zip(list(&wave["nets"], "VDD"));
    assert!(
        instants.any(at),
        "the lowest voltage is one of the instants"
    );
    for event in list(wave, "events") {
        text(event, "what");
        text(event, "name");
        assert!((0.0..=times[times.len() - 1]).contains(&number(event, "time_s")));
    }
    for need in list(wave, "needs") {
        for key in ["from_v", "lowest_v", "time_s", "below_s"] {
            number(need, key);
        }
        text(need, "load");
        text(need, "state");
    }
    list(wave, "edges_s");
}

#[test]
fn burst_has_the_agreed_shape() {
    let dir = example_arg();
    for board in ["coin", "one-cell", "two-cell", "usb"] {
        let burst = ["burst", &dir, "--board", board, "--format", "json"];
        let wave = document(&burst, 0);
        check_wave(&wave);
        assert_eq!(text(&wave, "task"), "report");
        for key in ["inrush_as", "good_s", "hiccup"] {
            assert!(!object(&wave).contains_key(key), "{key}");
        }
        let start = [
            "burst", &dir, "--board", board, "--start", "--format", "json",
        ];
        let wave = document(&start, 0);
        check_wave(&wave);
        assert!(!object(&wave).contains_key("task"));
        assert!(0.0 < number(&wave, "inrush_as"));
        assert!(0.0 < number(&wave, "inrush_peak_a"));
        assert!(0.0 < number(&wave, "good_s"));
    }
    let off = ["burst", &dir, "--off", "50 ms", "--format", "json"];
    let wave = document(&off, 0);
    check_wave(&wave);
    assert!(object(&wave).contains_key("good_s"));
}

#[test]
fn a_position_that_powers_nothing_ends_a_life_at_once() {
    let folder = Folder::tiny("contract-off");
    let args = ["life", folder.arg(), "--set", "S1=off", "--format", "json"];
    let life = document(&args, 0);
    let run = &list(&life, "runs")[0];
    assert_eq!(number(run, "life_s"), 0.0);
    assert_eq!(text(&run["positions"], "S1"), "off");
}

#[test]
fn check_has_the_agreed_shape_and_places_its_findings() {
    let dir = example_arg();
    let check = document(&["check", &dir, "--format", "json"], 0);
    let findings = list(&check, "findings");
    assert!(!findings.is_empty());
    let mut ids = std::collections::BTreeSet::new();
    for finding in findings {
        assert!(
            ids.insert(text(finding, "id")),
            "the id {} twice",
            finding["id"]
        );
        for key in ["rule", "board", "says", "remedy", "basis"] {
            assert!(!text(finding, key).is_empty(), "{key} of {finding}");
        }
        assert!(["stop", "fix", "note"].contains(&text(finding, "severity")));
        assert!(["data-sheet", "typical", "memory"].contains(&text(finding, "confidence")));
        list(finding, "parts");
        list(finding, "nets");
        assert!(finding["situations"].is_u64());
        if finding.get("situation").is_some() {
            check_situation(&finding["situation"]);
        }
        for figure in ["measured", "limit"].iter().filter_map(|f| finding.get(*f)) {
            number(figure, "value");
            assert!(!text(figure, "unit").is_empty());
        }
        check_place(&dir, finding);
    }
}

/// The file is there and has the line and column.
fn check_place(dir: &str, finding: &Value) {
    let file =
        std::fs::read_to_string(format!("{dir}/{}", text(finding, "file"))).expect("the file");
    let line = usize::try_from(finding["line"].as_u64().expect("a line")).expect("a small line");
    let column =
        usize::try_from(finding["column"].as_u64().expect("a column")).expect("a small column");
    let found = file.lines().nth(line - 1).expect("the line is in the file");
    assert!(
        1 <= column && column <= found.chars().count() + 1,
        "column {column} of {found:?}"
    );
}

#[test]
fn the_exit_status_follows_the_severity_asked_for() {
    let folder = Folder::tiny("contract-status");
    let dir = folder.arg();
    // A life of 20 years from a coin cell: a finding to stop at or fix, whatever its severity.
    let family = crate::program::FAMILY.replace("3 months", "20 years");
    folder.write("family.toml", family);
    let found = run(&["check", dir, "--format", "json", "--fail-on", "note"])
        .expect(1)
        .json();
    let severity = |s: &str| {
        let findings = list(&found, "findings");
        findings
            .iter()
            .any(|f| text(f, "rule") == "life-short" && text(f, "severity") == s)
    };
    assert!(severity("fix") || severity("stop"), "{found}");
    run(&["check", dir, "--fail-on", "fix"]).expect(1);
    let stops = list(&found, "findings")
        .iter()
        .any(|f| text(f, "severity") == "stop");
    run(&["check", dir]).expect(i32::from(stops));
    run(&["review", dir, "--fail-on", "fix"]).expect(1);
    run(&["point", dir]).expect(0);
}

#[test]
fn review_prints_the_document_that_it_writes() {
    let folder = Folder::tiny("contract-review");
    let args = [
        "review",
        folder.arg(),
        "--board",
        "coin",
        "--format",
        "json",
    ];
    let review = document(&args, 0);
    let written = std::fs::read_to_string(folder.path().join("review/review.json"));
    let written: Value = serde_json::from_str(&written.expect("the document")).expect("JSON");
    assert_eq!(review, written);
    list(&review, "runs").iter().for_each(check_run);
    let board = &list(&review, "boards")[0];
    check_situation(&list(board, "points")[1]["situation"]);
    assert_eq!(text(&list(board, "points")[1], "task"), "call");
    assert!(!list(board, "leakage").is_empty());
}

#[test]
fn documents_are_the_same_on_every_run() {
    let dir = example_arg();
    let args = ["life", &dir, "--board", "coin", "--format", "json"];
    assert_eq!(run(&args).out, run(&args).out);
}

/// A hazard that no rule covers must not look like one that was ruled out.
#[test]
fn findings_say_what_was_not_looked_at() {
    for args in [
        ["check", "--format", "json", &example_arg()],
        ["check", "--format", "text", &example_arg()],
    ] {
        let ran = run(&args);
        assert!(ran.out.contains("three and more boards"), "{}", ran.out);
    }
}

/// Behind a step-up converter too, where the load has more volts than the cell.
#[test]
fn shares_of_the_fatal_drop_sum_to_one() {
    for board in ["coin", "one-cell", "two-cell"] {
        let args = ["life", "--format", "json", "--board", board, &example_arg()];
        let life = document(&args, 0);
        let end = &list(&life, "runs")[0]["end"];
        let shares = object(&end["shares"]).values().filter_map(Value::as_f64);
        let shares: Vec<f64> = shares.collect();
        let sum: f64 = shares.iter().sum();
        assert!((sum - 1.0).abs() < 1e-12, "{board}: {sum}");
        assert!(shares.iter().all(|share| *share > 0.0), "{board}");
        assert!(number(end, "drop_v") > 0.0);
    }
}

/// A calendar has three answers beside the life, and the text says them in months; one temperature has
/// none of them.
#[test]
fn a_calendar_adds_its_three_answers() {
    let folder = Folder::tiny("contract-calendar");
    let months = "monthly = [\"-9 degC\", \"-6 degC\", \"0 degC\", \"6 degC\", \"12 degC\", \"16 degC\", \"18 degC\", \"17 degC\", \"12 degC\", \"7 degC\", \"0 degC\", \"-6 degC\"]";
    let requirement = format!(
        "life = \"3 months\"\nstorage = \"1 year\"\n{months}\nstart = \"October\"\nday_night = \"9 K\""
    );
    let family = crate::program::FAMILY.replace("life = \"3 months\"", &requirement);
    folder.write("family.toml", family);
    let dir = folder.arg();
    let found = run(&["life", dir, "--format", "json"]).expect(0).json();
    let of = |run: &serde_json::Value, key: &str| run["calendar"][key].as_f64();
    for run in list(&found, "runs") {
        let Some(life) = run["life_s"].as_f64() else {
            continue;
        };
        assert_eq!(of(run, "start_month"), Some(10.0));
        assert_eq!(of(run, "first_failure_s"), Some(life));
        let end = of(run, "permanent_end_s").expect("an end");
        let below = of(run, "below_need_s").expect("a time");
        assert!(0.0 <= below && below <= end - life, "{run}");
        let start = run["trace"]["depth"][0].as_f64().expect("a depth");
        assert_eq!(run["storage"]["depth"].as_f64(), Some(start));
    }
    let text = run(&["life", dir]).expect(0).out;
    assert!(text.contains("It first fails in the "), "{text}");
    assert!(text.contains("on the shelf for 1 year"), "{text}");
    let steady = run(&["life", dir, "--ambient", "5 degC", "--format", "json"]);
    for run in list(&steady.expect(0).json(), "runs") {
        assert!(run.get("calendar").is_none(), "{run}");
    }
}
/// Words that `limit` may say.
const LIMITS: [&str; 14] = [
    "working-range",
    "promise-band",
    "sag",
    "converter-limit",
    "fold",
    "dropout",
    "regulator-stops",
    "does-not-start",
    "cell-rating",
    "supply-limit",
    "part-rating",
    "not-powered",
    "no-point",
    "none",
];

#[test]
fn deliver_has_the_agreed_shape_and_its_rows_are_in_order() {
    for (board, rows) in [("coin", 33), ("one-cell", 30), ("usb", 3)] {
        let document = document(
            &[
                "deliver",
                &example_arg(),
                "--board",
                board,
                "--format",
                "json",
            ],
            0,
        );
        assert_eq!(text(&document, "board"), board);
        assert_eq!(text(&document, "rail"), "VDD");
        assert_eq!(list(&document, "rows").len(), rows);
        let mut before = (f64::NEG_INFINITY, -1.0);
        for row in list(&document, "rows") {
            let at = (number(row, "ambient_c"), number(row, "depth"));
            assert!(before < at, "{before:?} then {at:?}");
            before = at;
            let running = number(row, "running_a");
            assert!(0.0 <= number(row, "starting_a") && number(row, "starting_a") <= running);
            assert!(running <= number(row, "burst_a") && number(row, "beside_task_a") <= running);
            assert!(LIMITS.contains(&text(row, "limit")), "{row}");
        }
        let promise = &document["promise"];
        assert_eq!(number(promise, "current_a"), 0.015);
        assert_eq!(list(promise, "kept").len(), 3);
    }
}

#[test]
fn deliver_without_a_board_gives_the_first_and_the_others_behind_it() {
    let args = [
        "deliver",
        &example_arg(),
        "--ambient",
        "usual",
        "--format",
        "json",
    ];
    let document = document(&args, 0);
    assert_eq!(text(&document, "board"), "coin");
    let others = list(&document, "others").iter().map(|o| text(o, "board"));
    let others: Vec<&str> = others.collect();
    assert_eq!(others, ["one-cell", "two-cell", "usb"]);
}

#[test]
fn life_says_what_to_watch_where_a_notice_is_asked_for() {
    let document = document(&["life", &example_arg(), "--format", "json"], 0);
    let runs = list(&document, "runs");
    for run in runs.iter().filter(|r| r["life_s"].is_f64()) {
        let wanted = 14.0 * 86_400.0;
        assert!((number(run, "notice_s") - wanted).abs() < 1e-3 * wanted);
        let best = list(run, "watch").iter().filter(|w| w["best"] == true);
        assert_eq!(best.count(), 1);
        for watch in list(run, "watch") {
            assert!(watch["tells"].is_boolean());
            number(watch, "threshold_v");
            text(watch, "says");
        }
    }
    // Behind the converter the rail stands still to the end.
    let behind = runs.iter().find(|r| text(r, "board") == "one-cell");
    let watch = list(behind.expect("the board"), "watch");
    assert_eq!(watch[0]["tells"], false);
    assert!(text(&watch[0], "says").contains("measure BAT instead"));
    let usb = runs.iter().find(|r| text(r, "board") == "usb");
    assert!(usb.expect("the board").get("notice_s").is_none());
}
