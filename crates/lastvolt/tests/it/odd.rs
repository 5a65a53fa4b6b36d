//! The report of families that nobody has in mind: nothing to feed, nothing that feeds, names that run
//! from right to left or fill a line, a hundred parts, boards whose names hold each other's.

use std::fmt::Write as _;
use std::fs;

use crate::page::{check_links, check_offline};
use crate::program::{COIN, FAMILY, Folder, run};

/// The page of a family, which must be whole.
fn page(folder: &Folder) -> String {
    let ran = run(&["review", folder.arg()]);
    assert!(ran.status <= 1, "{}", ran.err);
    let html = fs::read_to_string(folder.path().join("review/review.html")).expect("the page");
    check_offline(&html);
    check_links(&html);
    assert!(html.trim_end().ends_with("</html>"));
    html
}

/// The family without loads and profiles.
fn bare(boards: &str) -> String {
    format!(
        "[family]\nname = \"Bare\"\nboards = [{boards}]\n[connector]\npins = [\"VDD\", \"GND\"]\n"
    )
}

#[test]
fn a_board_without_cell_loads_and_profiles_has_a_page() {
    let folder = Folder::new("odd-bare");
    folder.write("family.toml", bare("\"r.toml\""));
    folder.write(
        "r.toml",
        "[parts.R1]\nkind = \"resistor\"\nvalue = \"1k\"\npins = [\"VDD\", \"GND\"]\n",
    );
    let html = page(&folder);
    for words in [
        "in short",
        "1 part, 2 nets",
        "no limits",
        "Review and approval",
    ] {
        assert!(html.contains(words), "no {words}");
    }
    for words in [
        "profile judged",
        "What the loads get",
        "Leakage",
        "plugged together</h2>",
    ] {
        assert!(!html.contains(words), "{words}");
    }
}

#[test]
fn a_hundred_parts_are_all_there() {
    let folder = Folder::tiny("odd-hundred");
    let mut board = COIN.to_owned();
    for at in 1..=100 {
        write!(
            board,
            "\n[parts.C{at}]\nkind = \"capacitor\"\nvalue = \"100 nF\"\nrated = \"16 V\"\npins = [\"VDD\", \"GND\"]\n"
        )
        .expect("text");
    }
    folder.write("coin.toml", board);
    let html = page(&folder);
    for at in 1..=100 {
        let drawn = format!("data-part=\"C{at}\"");
        assert!(html.contains(&drawn), "no C{at}");
        let listed = [format!("C{at},"), format!("C{at}<")];
        assert!(listed.iter().any(|l| html.contains(l)), "C{at} in no list");
    }
    assert!(html.contains("data-label=\"count\">100<"));
}

#[test]
fn names_from_right_to_left_and_long_ones_are_kept_apart_from_the_sentences() {
    let folder = Folder::tiny("odd-names");
    let long = "m".repeat(64);
    let family = FAMILY
        .replace("\"Tiny\"", "\"\u{5d0}\u{5d1}\u{5d2} (1)\"")
        .replace("[profiles.day]", &format!("[profiles.{long}]"))
        .replace(
            "[[profiles.day.tasks]]",
            &format!("[[profiles.{long}.tasks]]"),
        );
    folder.write("family.toml", family);
    let title = format!("\u{645}\u{631}\u{62d}\u{628}\u{627} {}", "x".repeat(300));
    folder.write(
        "coin.toml",
        COIN.replace("A coin cell and a switch", &title),
    );
    let html = page(&folder);
    assert!(html.contains("<h1 dir=\"auto\">\u{5d0}"));
    assert!(html.contains("<p class=\"lead\" dir=\"auto\">\u{645}"));
    assert!(html.contains(&format!("<bdi>{long}</bdi>")));
}

#[test]
fn boards_whose_names_hold_each_other_have_places_of_their_own() {
    let folder = Folder::tiny("odd-anchors");
    let boards = ["a.toml", "a-walk.toml", "walk-of-a.toml"];
    let list = boards.map(|b| format!("\"{b}\"")).join(", ");
    folder.write("family.toml", FAMILY.replace("\"coin.toml\"", &list));
    for board in boards {
        folder.write(board, COIN);
    }
    page(&folder);
}

#[test]
fn a_day_is_written_where_one_is_given_and_only_then() {
    let folder = Folder::tiny("odd-date");
    let read =
        |name: &str| fs::read_to_string(folder.path().join("review").join(name)).expect("text");
    run(&["review", folder.arg(), "--date", "2028-02-29"]).expect(0);
    assert!(read("review.html").contains("2028-02-29"));
    assert!(read("review.json").contains("\"date\": \"2028-02-29\""));
    run(&["review", folder.arg()]).expect(0);
    assert!(!read("review.html").contains("2028") && !read("review.json").contains("\"date\""));
    for wrong in [
        "2027-02-29",
        "2026-13-01",
        "26-1-1",
        "2026-11-31",
        "today",
        "2026-11-0\u{661}",
    ] {
        let ran = run(&["review", folder.arg(), "--date", wrong]).expect(2);
        assert!(
            ran.err.contains("calendar") || ran.err.contains("YYYY-MM-DD"),
            "{}",
            ran.err
        );
    }
}
