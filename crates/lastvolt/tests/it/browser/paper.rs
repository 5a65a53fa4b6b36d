//! The page on paper: a sane number of sheets, no figure on two of them, nothing beyond the edge.

use std::process::Command;

use super::{browser, found, page};
use crate::program::Folder;

/// A word on a sheet: which sheet, how far it reaches to the right, and what it says.
#[derive(Debug)]
struct Word {
    sheet: usize,
    right: f64,
    says: String,
}

/// What is printed.
struct Printed {
    sheets: usize,
    width: f64,
    words: Vec<Word>,
}

/// The page with a mark at the head and at the foot of every figure; gives how many there are.
fn marked(html: &str) -> (String, usize) {
    let mark = |name: String| {
        format!("<span style=\"position:absolute;font-size:3px;line-height:1\">{name}</span>")
    };
    let mut out = String::new();
    let mut figures = 0;
    let mut rest = html;
    while let Some(at) = rest.find("<figure") {
        let open = at + rest[at..].find('>').expect("the end of a tag") + 1;
        let close = rest.find("</figure>").expect("the end of a figure");
        assert!(open <= close, "figures in figures");
        out += &rest[..open];
        out += &mark(format!("figurehead{figures}."));
        out += &rest[open..close];
        out += &mark(format!("figurefoot{figures}."));
        out += "</figure>";
        rest = &rest[close + "</figure>".len()..];
        figures += 1;
    }
    (out + rest, figures)
}

/// Prints a page and reads its words back.
fn printed(html: &str, folder: &Folder) -> Printed {
    folder.write("paper.html", html);
    let file = folder.path().join("paper.pdf");
    let output = browser(
        &folder.path().join("profile"),
        &[
            "--no-pdf-header-footer".to_owned(),
            format!("--print-to-pdf={}", file.display()),
            format!("file://{}/paper.html", folder.arg()),
        ],
    );
    assert!(
        file.is_file(),
        "nothing printed: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    let program = found(&["pdftotext"])
        .expect("pdftotext: install the Debian package poppler-utils (.ci/tools does)");
    let text = Command::new(program)
        .args(["-bbox".as_ref(), file.as_os_str(), "-".as_ref()])
        .output()
        .expect("pdftotext starts");
    read(&String::from_utf8_lossy(&text.stdout))
}

/// Sheets and words of pdftotext's list of boxes.
fn read(text: &str) -> Printed {
    let value = |line: &str, key: &str| -> f64 {
        let after = line.split(&format!("{key}=\"")).nth(1).unwrap_or_default();
        let number = after.split('"').next().unwrap_or_default();
        number.parse().unwrap_or_else(|_| panic!("{key} in {line}"))
    };
    let mut out = Printed {
        sheets: 0,
        width: 0.0,
        words: Vec::new(),
    };
    for line in text.lines().map(str::trim) {
        if line.starts_with("<page ") {
            out.sheets += 1;
            out.width = value(line, "width");
        } else if line.starts_with("<word ") {
            let says = line.split('>').nth(1).unwrap_or_default();
            out.words.push(Word {
                sheet: out.sheets,
                right: value(line, "xMax"),
                says: says.trim_end_matches("</word").to_owned(),
            });
        }
    }
    out
}

/// What is wrong with a page on paper.
fn faults(html: &str, folder: &Folder) -> (Vec<String>, usize) {
    let (html, figures) = marked(html);
    let printed = printed(&html, folder);
    let mut out = Vec::new();
    for figure in 0..figures {
        let sheet = |end: &str| {
            let name = format!("figure{end}{figure}.");
            let word = printed.words.iter().find(|w| w.says.contains(&name));
            word.map(|w| w.sheet)
        };
        match (sheet("head"), sheet("foot")) {
            (Some(head), Some(foot)) if head == foot => {}
            // What is shown on screens of one width alone is not on paper.
            (None, None) => {}
            (head, foot) => out.push(format!("figure {figure} is on sheets {head:?} to {foot:?}")),
        }
    }
    for word in printed.words.iter().filter(|w| printed.width < w.right) {
        out.push(format!("{:?} leaves sheet {}", word.says, word.sheet));
    }
    (out, printed.sheets)
}

fn sound(name: &str, most: usize) {
    let folder = Folder::new(&format!("paper-{name}"));
    let (faults, sheets) = faults(page(name), &folder);
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    assert!((3..=most).contains(&sheets), "{sheets} sheets");
}

/// Four boards on some ten sheets each.
#[test]
fn the_page_of_the_example_prints_whole() {
    sound("example", 45);
}

#[test]
fn the_page_of_an_awkward_family_prints_whole() {
    sound("awkward", 90);
}

#[test]
fn a_figure_that_breaks_and_a_word_beyond_the_edge_are_found() {
    let folder = Folder::new("paper-planted");
    let html = "<!DOCTYPE html><html><body><figure><p style=\"height:600px\">a</p></figure>\
                <figure><p style=\"height:600px\">b</p><p style=\"break-before:page\">c</p></figure>\
                <p style=\"white-space:pre\">short</p>\
                <p style=\"white-space:pre;position:absolute;left:190mm\">awordthatgoesbeyondtheedge</p></body></html>";
    let (faults, sheets) = faults(html, &folder);
    let faults = faults.join("\n");
    assert!(faults.contains("figure 1 is on sheets"), "{faults}");
    assert!(!faults.contains("figure 0"), "{faults}");
    assert!(faults.contains("awordthatgoes"), "{faults}");
    assert_eq!(sheets, 2);
}
