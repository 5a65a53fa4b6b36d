//! The report as a page: offline, without a script, complete, safe against names, the same every time.

use std::fs;

use crate::program::{COIN, FAMILY, Folder, example_arg, run};

fn reviewed(name: &str, dir: &str) -> (String, String) {
    let folder = Folder::new(name);
    run(&["review", dir, "--out", folder.arg(), "--fail-on", "stop"]).expect(0);
    let mut names = folder.names();
    names.retain(|n| !n.starts_with("legend-") && !n.starts_with("schematic-"));
    assert_eq!(names, ["parts.csv", "review.html", "review.json"]);
    let text = |name: &str| fs::read_to_string(folder.path().join(name)).expect("what was written");
    (text("review.html"), text("review.json"))
}

/// Nothing that a browser would fetch or run.
pub(crate) fn check_offline(html: &str) {
    for tag in [
        "<script", "<link", "<img", "<iframe", "<object", "<embed", "<base", "<form",
    ] {
        assert!(!html.contains(tag), "{tag} in the page");
    }
    for reference in [
        "src=",
        "url(",
        "@import",
        "javascript:",
        "xlink:",
        " onload",
        " onclick",
    ] {
        assert!(!html.contains(reference), "{reference} in the page");
    }
    for part in html.split("href=\"").skip(1) {
        assert!(
            part.starts_with('#'),
            "a link leads out: {}",
            &part[..part.len().min(40)]
        );
    }
}

/// Every link leads to a place, and no place is there twice.
pub(crate) fn check_links(html: &str) {
    let all = |mark: &str| -> Vec<String> {
        let parts = html.split(mark).skip(1);
        parts
            .map(|p| p.split('"').next().unwrap_or_default().to_owned())
            .collect()
    };
    let ids = all(" id=\"");
    for link in all("href=\"#") {
        assert!(ids.contains(&link), "no place for #{link}");
    }
    let mut once = ids.clone();
    once.sort();
    once.dedup();
    assert_eq!(once.len(), ids.len(), "an id twice in {ids:?}");
}

/// The parts of a board in the order in which they are read, each under a heading that names the board
/// and in the table of contents.
fn check_order(html: &str, board: &str) {
    let mut after = 0;
    for (at, title) in [
        ("circuit", "the circuit"),
        ("values", "solved values"),
        ("summary", "in short"),
        ("walk", "block by block"),
        ("life-1", "life in profile watch"),
        ("waves", "a burst and switching on"),
        ("positions", "what every position does"),
        ("findings", "findings"),
        ("leakage", "leakage budget"),
        ("output", "output capability"),
        ("parts", "parts list"),
        ("legend", "switch legend"),
    ] {
        if board == "usb" && at == "leakage" {
            // Without cells nothing leaks from them.
            continue;
        }
        let heading = format!("<h3 id=\"{at}-of-{board}\">Board <bdi>{board}</bdi>: {title}</h3>");
        let place = html.find(&heading);
        let place = place.unwrap_or_else(|| panic!("no {heading}"));
        assert!(after < place, "{heading} stands too early");
        after = place;
        assert!(
            html.contains(&format!("href=\"#{at}-of-{board}\"")),
            "{at} of {board}"
        );
    }
}

#[test]
fn the_page_of_the_example_is_whole_and_opens_offline() {
    let (html, json) = reviewed("page-example", &example_arg());
    check_offline(&html);
    check_links(&html);
    for board in ["coin", "one-cell", "two-cell", "usb"] {
        check_order(&html, board);
    }
    for piece in [
        "The boards side by side",
        "Review and approval",
        "Reviewed by",
        "Signature",
        "Where the energy goes",
        "Where the last volts go",
        "Switching on",
        "Boards plugged together",
        "Cautions for label and manual",
        "What was not checked",
        "Electrostatic discharge",
        "Assumptions on board <bdi>coin",
        "Models and their sources",
        "Files and versions",
        "does not replace local codes",
        "<svg role=\"img\"",
        "<desc>",
        "prefers-color-scheme",
        "@media print",
    ] {
        assert!(html.contains(piece), "no {piece}");
    }
    let document: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    for key in [
        "schema", "tool", "digest", "warnings", "findings", "runs", "boards",
    ] {
        assert!(document.get(key).is_some(), "no {key}");
    }
    let board = &document["boards"][0];
    for key in [
        "name",
        "points",
        "waves",
        "matrix",
        "leakage",
        "parts",
        "assumptions",
    ] {
        assert!(board.get(key).is_some(), "no {key}");
    }
    for board in document["boards"].as_array().expect("boards") {
        let what: Vec<&str> = board["waves"]
            .as_array()
            .expect("waves")
            .iter()
            .map(|w| {
                assert!(w["fails"].is_null(), "{w}");
                w["what"].as_str().expect("what it shows")
            })
            .collect();
        assert_eq!(what, ["burst", "start"]);
    }
    assert!(html.contains(document["digest"].as_str().expect("a digest")));
}

#[test]
fn the_coin_board_says_in_figures_what_its_bypass_carries() {
    let (html, _) = reviewed("page-bypass", &example_arg());
    let start = html.find("id=\"board-coin\"").expect("the coin board");
    let end = html.find("id=\"board-one-cell\"").expect("the next board");
    let coin = &html[start..end];
    let says = coin.find("carries the edges of the burst and not the burst");
    let says = says.expect("a sentence on the bypass");
    let sentence = &coin[says.saturating_sub(200)..says];
    assert!(
        sentence.contains("time constant of") && sentence.contains("the step lasts"),
        "{sentence}"
    );
}

#[test]
fn the_page_is_the_same_on_every_run() {
    assert_eq!(
        reviewed("page-once", &example_arg()),
        reviewed("page-again", &example_arg())
    );
}

#[test]
fn names_with_markup_stay_text() {
    let folder = Folder::tiny("page-markup");
    let name = r#"</title><script>alert(1)</script>&<b onload='x'>\u001b[31m\u202e\u2067"#;
    folder.write(
        "family.toml",
        FAMILY.replace("\"Tiny\"", &format!("\"{name}\"")),
    );
    let title = format!("{name}{}", "long".repeat(500));
    folder.write(
        "coin.toml",
        COIN.replace("A coin cell and a switch", &title),
    );
    run(&["review", folder.arg()]).expect(0);
    let html = fs::read_to_string(folder.path().join("review/review.html")).expect("the page");
    check_offline(&html.replace(" onload='x'", ""));
    assert!(html.contains("&lt;script&gt;alert(1)"));
    for hidden in ['\u{1b}', '\u{202e}', '\u{2067}'] {
        assert!(!html.contains(hidden), "{hidden:?} in the page");
    }
}

#[test]
fn the_review_goes_beside_the_family_and_is_replaced_whole() {
    let folder = Folder::tiny("page-default");
    run(&["review", folder.arg()]).expect(0);
    let path = folder.path().join("review/review.html");
    fs::write(&path, "old").expect("the page of an earlier review");
    let ran = run(&["review", folder.arg()]).expect(0);
    assert!(ran.out.contains("review.html"), "{}", ran.out);
    assert!(fs::read_to_string(&path).expect("the page").len() > 1000);
    let left = fs::read_dir(folder.path().join("review"))
        .expect("the folder")
        .count();
    // The page, the document, the parts list, the schematic and the legend of the board's switch.
    assert_eq!(left, 5);
}

#[test]
fn a_review_of_a_broken_family_writes_nothing() {
    let folder = Folder::tiny("page-broken");
    folder.write("coin.toml", COIN.replace("tiny-cell", "no-cell"));
    run(&["review", folder.arg()]).expect(2);
    assert_eq!(folder.names(), ["coin.toml", "family.toml"]);
}
