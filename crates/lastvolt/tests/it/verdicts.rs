//! Verdicts where a share of the units is asked for: they are judged by what that share reaches, or say that
//! they are those of a typical unit.

use std::fs;

use serde_json::Value;

use crate::program::{FAMILY, Folder, example_arg, run};

/// Page and document of a family of one coin board that asks for so much of nine units in ten.
fn reviewed(folder: &Folder, life: &str, spread: &str) -> (String, Value) {
    let asked = format!("life = \"{life}\"\nconfidence = \"90 %\"");
    let family = FAMILY.replace("life = \"3 months\"", &asked).replace(
        "source = \"invented",
        &format!("{spread}source = \"invented"),
    );
    folder.write("family.toml", family);
    run(&["review", folder.arg()]);
    let text = |name: &str| fs::read_to_string(folder.path().join("review").join(name));
    let json = text("review.json").expect("the document");
    let page = text("review.html").expect("the page");
    (
        page.replace('\u{a0}', " "),
        serde_json::from_str(&json).expect("JSON"),
    )
}

const SPREAD: &str = "spread = { charge = \"10 %\" }\n";

#[test]
fn a_life_that_most_units_do_not_reach_is_short() {
    let folder = Folder::tiny("verdicts-share");
    let (page, document) = reviewed(&folder, "1 day", SPREAD);
    assert!(
        page.contains("% of units last") && page.contains("which meets the 24 hours asked for")
    );
    let life = document["runs"][0]["life_s"].as_f64().expect("a life");
    let promise = document["boards"][0]["spread"]["promise_s"].as_f64();
    let promise = promise.expect("what nine in ten reach");
    assert!(promise < 0.95 * life, "{promise} of {life}");
    let between = format!("{} h", ((promise + life) / 7200.0).round());
    let (page, document) = reviewed(&folder, &between, SPREAD);
    assert_eq!(document["required_share"], 0.9);
    let verdicts = page.split("ul class=\"verdicts\"").nth(1);
    let verdicts = verdicts.and_then(|v| v.split("</ul>").next());
    let verdicts = verdicts.expect("the verdicts");
    assert!(verdicts.contains("90 % of units last"), "{verdicts}");
    assert!(verdicts.contains("short of the"), "{verdicts}");
    assert!(!verdicts.contains("meets"), "{verdicts}");
}

#[test]
fn a_verdict_without_a_spread_is_that_of_a_typical_unit() {
    let folder = Folder::tiny("verdicts-typical");
    let (page, _) = reviewed(&folder, "1 day", "");
    assert!(page.contains("; a typical unit meets the 24 hours asked for"));
    assert!(!page.contains("which meets"));
}

#[test]
fn a_review_of_one_board_tells_of_its_own_pairs_alone() {
    let folder = Folder::new("verdicts-pairs");
    let args = ["--board", "coin", "--out", folder.arg()];
    run(&[&["review", &example_arg()][..], &args].concat()).expect(0);
    let page = fs::read_to_string(folder.path().join("review.html")).expect("the page");
    let (_, told) = page.split_once("id=\"together\"").expect("the section");
    let told = told.split("</section>").next().expect("its end");
    // The board with its like and with each of the three others.
    assert!(told.contains("too: 4."), "{told}");
    assert!(
        told.contains("Pairs without a reviewed board are not counted"),
        "{told}"
    );
    assert!(!told.contains("No rule has anything to say"), "{told}");
}
