//! The page on paper: a sane number of sheets, no figure on two of them, nothing beyond the edge.

use std::process::Command;

use super::{browser, found, page};
use crate::program::Folder;

/// One of so many figures may be without marks.
const MOST_LOST: usize = 20;

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

/// What is wrong with what is printed of a page of so many figures.
fn judged(printed: &Printed, figures: usize) -> Vec<String> {
    let mut out = Vec::new();
    let mut lost = 0;
    for figure in 0..figures {
        let sheet = |end: &str| {
            let name = format!("figure{end}{figure}.");
            let word = printed.words.iter().find(|w| w.says.contains(&name));
            word.map(|w| w.sheet)
        };
        match (sheet("head"), sheet("foot")) {
            (Some(head), Some(foot)) if head == foot => {}
            // A mark may run into a word beside it.
            (None, None) => lost += 1,
            (head, foot) => out.push(format!("figure {figure} is on sheets {head:?} to {foot:?}")),
        }
    }
    if figures < MOST_LOST * lost {
        out.push(format!("{lost} of {figures} figures are on no sheet"));
    }
    for word in printed.words.iter().filter(|w| printed.width < w.right) {
        out.push(format!("{:?} leaves sheet {}", word.says, word.sheet));
    }
    out
}

/// What is wrong with a page on paper, and how many sheets it takes.
fn faults(html: &str, folder: &Folder) -> (Vec<String>, usize) {
    let (html, figures) = marked(html);
    let printed = printed(&html, folder);
    (judged(&printed, figures), printed.sheets)
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
fn a_figure_that_breaks_is_found() {
    let folder = Folder::new("paper-planted");
    let html = "<!DOCTYPE html><html><body><figure><p style=\"height:300px\">a</p></figure>\
                <figure><p style=\"height:300px\">b</p><p style=\"break-before:page\">c</p></figure></body></html>";
    let (faults, sheets) = faults(html, &folder);
    assert_eq!(faults, ["figure 1 is on sheets Some(1) to Some(2)"]);
    assert_eq!(sheets, 2);
}

#[test]
fn a_word_beyond_the_edge_is_found() {
    let list = "<page width=\"612.0\" height=\"792.0\">\n\
                <word xMin=\"40.0\" yMin=\"4.0\" xMax=\"72.3\" yMax=\"56.9\">near</word>\n</page>\n\
                <page width=\"612.0\" height=\"792.0\">\n\
                <word xMin=\"600.0\" yMin=\"4.0\" xMax=\"632.3\" yMax=\"56.9\">far</word>\n</page>";
    let printed = read(list);
    assert_eq!(printed.sheets, 2);
    assert_eq!(judged(&printed, 0), ["\"far\" leaves sheet 2"]);
    let lost = judged(&printed, 3);
    assert!(
        lost.contains(&"3 of 3 figures are on no sheet".to_owned()),
        "{lost:?}"
    );
}
