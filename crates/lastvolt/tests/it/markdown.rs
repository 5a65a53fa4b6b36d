//! The summary for a change of the files: complete, and nothing in it is run or breaks its tables.

use crate::program::{COIN, FAMILY, Folder, example_arg, run};

fn markdown(dir: &str) -> String {
    let folder = Folder::new(&format!("markdown-{}", dir.len()));
    let args = ["review", dir, "--format", "markdown", "--out", folder.arg()];
    run(&args).out
}

/// Cells of each row of each table.
fn rows(text: &str) -> Vec<usize> {
    let rows = text.lines().filter(|l| l.starts_with('|'));
    let bare = rows.map(|l| l.replace("\\|", ""));
    bare.map(|l| l.matches('|').count() - 1).collect()
}

#[test]
fn the_summary_has_verdicts_lives_cautions_and_digest() {
    let text = markdown(&example_arg());
    for words in [
        "# Circuit review: Frost beacon supplies",
        "| coin | No fault found but what is accepted | 0 | 0 |",
        "| coin | watch | 3 years",
        "<details>\n<summary>",
        "</details>",
        "## Cautions",
        "## About this review",
        "2 years in 90 % of units",
        "does not replace local codes",
        "from input `sha256:",
    ] {
        assert!(text.contains(words), "no {words} in\n{text}");
    }
    assert_eq!(
        text.matches("<details>").count(),
        text.matches("</details>").count()
    );
    assert!(rows(&text).iter().all(|&cells| cells == 5), "{text}");
    assert!(!text.contains("dated"));
}

#[test]
fn faults_come_with_place_and_remedy() {
    let folder = Folder::tiny("markdown-fault");
    folder.write(
        "coin.toml",
        COIN.replace("reversed = \"blocked\"", "reversed = \"possible\""),
    );
    let ran = run(&["review", folder.arg(), "--format", "markdown"]);
    let text = ran.out;
    let (_, found) = text.split_once("## To stop at").expect("what stops");
    assert!(
        found.contains("**reversed-cell**, board coin, coin.toml:"),
        "{text}"
    );
    assert!(found.contains("  - remedy: "), "{text}");
    assert_eq!(ran.status, 1);
}

#[test]
fn names_with_markup_stay_text() {
    let folder = Folder::tiny("markdown-markup");
    let name = r#"</summary><script>alert(1)</script> | `x` [a](http://b) @all #1\n# big\r\n<!--"#;
    folder.write(
        "family.toml",
        FAMILY.replace("\"Tiny\"", &format!("\"{name}\"")),
    );
    let text = run(&["review", folder.arg(), "--format", "markdown"]).out;
    assert!(
        !text.contains("<script") && !text.contains("<!--"),
        "{text}"
    );
    assert!(
        !text.contains("\n# big") && !text.contains("@all"),
        "{text}"
    );
    assert!(!text.replace("\\]", "").contains("](http"), "{text}");
    assert!(text.contains("&lt;script&gt;alert(1)"), "{text}");
    assert!(rows(&text).iter().all(|&cells| cells == 5), "{text}");
}

#[test]
fn what_is_said_of_the_review_itself_stands_under_a_heading_of_its_own() {
    let text = markdown(&example_arg());
    let (_, about) = text
        .split_once("## About this review\n")
        .expect("the heading");
    for words in [
        "- Note: ",
        "- This review is a computed estimate",
        "- Made by ",
    ] {
        assert!(about.contains(words), "no {words}");
        assert_eq!(text.matches(words).count(), about.matches(words).count());
    }
}
