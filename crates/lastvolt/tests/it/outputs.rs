//! What build servers read: SARIF, JUnit XML, accepted findings, and what the cautions say.

use serde_json::Value;

use crate::program::{COIN, FAMILY, Folder, run};

/// A reversed cell that nothing keeps out, which the rules stop at.
const FAULT: &str = "reversed = \"possible\"";

/// The tiny family with a cell that may be put in backwards, and text at the end of each file.
fn faulty(name: &str, family: &str, board: &str) -> Folder {
    let folder = Folder::tiny(name);
    folder.write("family.toml", format!("{FAMILY}{family}"));
    let coin = COIN.replace("reversed = \"blocked\"", FAULT);
    folder.write("coin.toml", format!("{coin}{board}"));
    folder
}

const ACCEPT: &str = "\n[[accept]]\nrule    = \"reversed-cell\"\nparts   = [\"BT1\"]\nbecause = \"the <lid> & a rib keep it out\"\n";

fn rules_of(findings: &Value, severity: &str) -> Vec<String> {
    let findings = findings["findings"].as_array().expect("findings");
    let weighty = findings.iter().filter(|f| f["severity"] == severity);
    let open = weighty.filter(|f| f.get("accepted").is_none());
    open.map(|f| f["rule"].as_str().expect("a rule").to_owned())
        .collect()
}

fn schema() -> jsonschema::Validator {
    let schema = include_str!("../data/sarif-schema-2.1.0.json");
    // Two patterns of the standard hold a lone bracket, which validators of today refuse unescaped.
    let (lone, escaped) = ("[a-zA-Z]{2}]?$", "[a-zA-Z]{2}\\\\]?$");
    assert_eq!(schema.matches(lone).count(), 2);
    let schema = serde_json::from_str(&schema.replace(lone, escaped)).expect("JSON");
    jsonschema::validator_for(&schema).expect("a schema")
}

/// The SARIF log of a folder, which is valid by the schema of the standard.
fn sarif(folder: &Folder, status: i32) -> Value {
    let log = run(&["check", folder.arg(), "--format", "sarif"])
        .expect(status)
        .json();
    let schema = schema();
    let errors: Vec<String> = schema.iter_errors(&log).map(|e| e.to_string()).collect();
    assert!(errors.is_empty(), "{errors:#?}\n{log:#}");
    log
}

#[test]
fn sarif_holds_by_the_schema_of_the_standard() {
    let folder = faulty("outputs-sarif", "", "");
    let log = sarif(&folder, 1);
    let results = log["runs"][0]["results"].as_array().expect("results");
    let found = results.iter().find(|r| r["ruleId"] == "reversed-cell");
    let found = found.expect("the planted fault");
    assert_eq!(found["level"], "error");
    let index = found["ruleIndex"].as_u64().expect("an index");
    let index = usize::try_from(index).expect("small");
    let rule = &log["runs"][0]["tool"]["driver"]["rules"][index];
    assert_eq!(rule["id"], "reversed-cell");
    let place = &found["locations"][0]["physicalLocation"];
    let uri = place["artifactLocation"]["uri"].as_str().expect("a path");
    assert!(uri.ends_with("coin.toml") && !uri.starts_with('/'), "{uri}");
    let coin = std::fs::read_to_string(folder.path().join("coin.toml")).expect("the board");
    let line = found_line(place);
    let text = coin.lines().nth(line - 1).expect("a line");
    assert!(text.contains("BT1"), "line {line} is {text}");
    assert_eq!(found["suppressions"], serde_json::json!([]));
    assert!(found["partialFingerprints"]["findingId/v1"].is_string());
    assert!(!schema().is_valid(&serde_json::json!({ "version": "2.1.0" })));
}

fn found_line(place: &Value) -> usize {
    let line = place["region"]["startLine"].as_u64().expect("a line");
    usize::try_from(line).expect("small")
}

#[test]
fn an_accepted_finding_is_suppressed_and_stays_listed() {
    let folder = faulty("outputs-accepted", "", ACCEPT);
    let log = sarif(&folder, 0);
    let results = log["runs"][0]["results"].as_array().expect("results");
    let found = results.iter().find(|r| r["ruleId"] == "reversed-cell");
    let suppression = &found.expect("still listed")["suppressions"][0];
    assert_eq!(
        suppression["justification"],
        "the <lid> & a rib keep it out"
    );

    let json = run(&["check", folder.arg(), "--format", "json"])
        .expect(0)
        .json();
    assert!(!rules_of(&json, "stop").contains(&"reversed-cell".to_owned()));
    assert!(
        json.to_string()
            .contains("\"accepted\":\"the <lid> & a rib keep it out\"")
    );

    let ran = run(&["check", folder.arg()]).expect(0);
    assert!(
        ran.out.contains("accepted stop[reversed-cell]"),
        "{}",
        ran.out
    );
    assert!(
        ran.out.contains("accepted because: the <lid> & a rib"),
        "{}",
        ran.out
    );
    assert!(ran.out.contains("; 1 accepted."), "{}", ran.out);
    assert!(
        ran.out.contains("0 stop") || ran.out.contains("no findings"),
        "{}",
        ran.out
    );
    assert!(ran.err.is_empty(), "{}", ran.err);

    let review = run(&["review", folder.arg()]).expect(0);
    assert!(review.out.contains("; 1 accepted."), "{}", review.out);
    let page = std::fs::read_to_string(folder.path().join("review/review.html")).expect("a page");
    assert!(page.contains("the &lt;lid&gt; &amp; a rib keep it out"));
}

#[test]
fn the_family_accepts_for_one_board_or_for_all() {
    for (name, parts, status) in [
        ("outputs-for-one", "parts = [\"coin/BT1\"]", 0),
        ("outputs-for-any", "parts = [\"BT1\"]", 0),
        ("outputs-for-all", "", 0),
        ("outputs-for-another", "parts = [\"S1\"]", 1),
    ] {
        let accept =
            format!("\n[[accept]]\nrule = \"reversed-cell\"\n{parts}\nbecause = \"a rib\"\n");
        let folder = faulty(name, &accept, "");
        let ran = run(&["check", folder.arg()]).expect(status);
        assert_eq!(ran.err.contains("idle-accept"), status == 1, "{}", ran.err);
    }
}

#[test]
fn an_accept_of_nothing_is_a_warning_with_its_line() {
    let accept = "\n[[accept]]\nrule = \"hot\"\nbecause = \"none\"\n".replace("hot", "off-leak");
    let folder = faulty("outputs-idle", &accept, ACCEPT);
    let line = FAMILY.lines().count() + 3;
    let place = format!("family.toml:{line}:8");
    let ran = run(&["check", folder.arg()]).expect(0);
    assert!(ran.err.contains("warning[idle-accept]"), "{}", ran.err);
    assert!(ran.err.contains(&place), "no {place} in {}", ran.err);
    let json = run(&["check", folder.arg(), "--format", "json"])
        .expect(0)
        .json();
    let warnings = json["warnings"].to_string();
    assert!(warnings.contains(&place), "no {place} in {warnings}");
    let log = sarif(&folder, 0);
    let notes = &log["runs"][0]["invocations"][0]["toolConfigurationNotifications"];
    assert_eq!(
        found_line(&notes[0]["locations"][0]["physicalLocation"]),
        line
    );
}

/// The JUnit document of a folder, with the number of tests, failures and skipped ones.
fn junit(folder: &Folder, more: &[&str], status: i32) -> (String, [usize; 3]) {
    let mut args = vec!["check", folder.arg(), "--format", "junit"];
    args.extend(more);
    let text = run(&args).expect(status).out;
    let document = roxmltree::Document::parse(&text).expect("XML");
    let count = |tag: &str| {
        let all = document.descendants();
        all.filter(|n| n.has_tag_name(tag)).count()
    };
    let counts = [count("testcase"), count("failure"), count("skipped")];
    let root = document.root_element();
    for (name, counted) in ["tests", "failures", "skipped"].into_iter().zip(counts) {
        let stated = root.attribute(name).expect("a count");
        assert_eq!(
            stated.parse::<usize>().expect("a number"),
            counted,
            "{name}"
        );
    }
    drop(document);
    (text, counts)
}

#[test]
fn junit_has_a_suite_for_each_board_and_a_case_for_each_rule() {
    let rules = lastvolt_core::review::rules::RULES.len();
    let folder = faulty("outputs-junit", "", "");
    let (text, counts) = junit(&folder, &[], 1);
    assert_eq!(counts[0], rules);
    assert_eq!((counts[1], counts[2]), (1, 0));
    let document = roxmltree::Document::parse(&text).expect("XML");
    let failure = document.descendants().find(|n| n.has_tag_name("failure"));
    let failure = failure.expect("a failure");
    let case = failure.parent_element().expect("a case");
    assert_eq!(case.attribute("name"), Some("reversed-cell"));
    assert_eq!(case.attribute("classname"), Some("coin"));
    assert!(case.attribute("line").is_some());
    let told = failure.text().expect("words");
    assert!(
        told.contains("coin.toml:") && told.contains("stop[reversed-cell]"),
        "{told}"
    );

    let accepted = faulty("outputs-junit-accepted", "", ACCEPT);
    let (text, counts) = junit(&accepted, &[], 0);
    assert_eq!((counts[1], counts[2]), (0, 1));
    assert!(
        text.contains("the &lt;lid&gt; &amp; a rib keep it out"),
        "{text}"
    );
}

#[test]
fn bad_input_leaves_standard_output_to_the_document() {
    let folder = faulty(
        "outputs-bad",
        "",
        "\n[[accept]]\nrule = \"reversed-cel\"\nbecause = \"x\"\n",
    );
    for format in ["sarif", "junit"] {
        let ran = run(&["check", folder.arg(), "--format", format]).expect(2);
        assert!(ran.out.is_empty(), "{}", ran.out);
        assert!(
            ran.err.contains("did you mean `reversed-cell`?"),
            "{}",
            ran.err
        );
    }
}

#[test]
fn cautions_come_gravest_first_with_their_standard() {
    let folder = Folder::tiny("outputs-cautions");
    let family = FAMILY.replace("kind = \"cell\"", "kind = \"cell\"\nbutton = true");
    folder.write("family.toml", family);
    for command in ["check", "review"] {
        let ran = run(&[command, folder.arg()]).expect(0);
        let out = ran.out.split_whitespace().collect::<Vec<_>>().join(" ");
        let mut from = 0;
        for words in [
            "Button and coin cells kill when swallowed",
            "with a tool or by two independent movements",
            "16 CFR 1263",
            "Primary lithium cells must never be charged",
            "Keep cells from fire and heat",
            "UN 3090",
            "household waste",
            "They do not replace the data sheets",
        ] {
            let at = out[from..].find(words);
            from += at.unwrap_or_else(|| panic!("no {words} after place {from} of\n{}", ran.out));
        }
    }
}

#[test]
fn what_a_model_says_of_itself_is_told_once() {
    let folder = Folder::tiny("outputs-model");
    let start = COIN.find("[parts.BT1]").expect("the cell");
    let rest = COIN[start + 1..]
        .find("\n[")
        .map_or(COIN.len(), |at| start + 1 + at);
    let cell = "[parts.BT1]\nkind = \"cell\"\nmodel = \"ER14505\"\nholder = { reversed = \"blocked\" }\npins = { plus = \"BAT\", minus = \"GND\" }\n";
    folder.write(
        "coin.toml",
        format!("{}{cell}{}", &COIN[..start], &COIN[rest..]),
    );
    let ran = run(&["check", folder.arg(), "--fail-on", "stop"]);
    let out = ran.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(out.contains("thionyl chloride"), "{}", ran.out);
    assert!(
        !out.contains("every path that could feed it blocked"),
        "{}",
        ran.out
    );
    assert_eq!(out.matches("solder to them").count(), 1, "{}", ran.out);
    assert!(!out.contains("Button and coin cells"), "{}", ran.out);
}
