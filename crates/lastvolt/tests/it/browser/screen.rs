//! The page on a wide and on a narrow screen, in light and in dark.

use std::fmt::Write as _;

use serde_json::Value;

use super::{browser, page};
use crate::program::Folder;

/// Widths of the screens, in pixels.
const WIDTHS: [u32; 2] = [1280, 400];

const MEASURE: &str = include_str!("measure.js");

/// The page with the measuring script; nothing but it and the page's own style may run or load.
fn copy(html: &str, name: &str) -> String {
    let policy = "default-src 'none'; style-src 'unsafe-inline'; script-src 'nonce-proof'";
    let head = format!(
        "<head><meta http-equiv=\"Content-Security-Policy\" content=\"{policy}\"><script nonce=\"proof\">{MEASURE}</script>"
    );
    assert_eq!(html.matches("<head>").count(), 1);
    assert_eq!(html.matches("<body").count(), 1);
    let html = html.replacen("<head>", &head, 1);
    html.replacen("<body", &format!("<body data-proof=\"{name}\""), 1)
}

/// What the copies in both widths tell, and what the browser said meanwhile.
fn measured(html: &str, folder: &Folder, dark: bool) -> (Vec<Value>, Vec<String>) {
    let mut frames = String::new();
    for width in WIDTHS {
        let file = format!("copy-{width}.html");
        folder.write(&file, copy(html, &width.to_string()));
        let _ = write!(
            frames,
            "<iframe style=\"border:0\" width=\"{width}\" height=\"900\" src=\"{file}\"></iframe>"
        );
    }
    folder.write(
        "frame.html",
        format!(
            "<!DOCTYPE html><meta charset=\"utf-8\"><title>frame</title><pre id=\"told\"></pre>{frames}<script>\
             const told = [];\
             addEventListener('message', (e) => {{ told.push(e.data); \
             document.getElementById('told').textContent = encodeURIComponent(JSON.stringify(told)); }});\
             </script>"
        ),
    );
    let scheme = if dark { 0 } else { 1 };
    let output = browser(
        &folder.path().join("profile"),
        &[
            format!("--blink-settings=preferredColorScheme={scheme}"),
            "--window-size=1800,1000".to_owned(),
            "--virtual-time-budget=20000".to_owned(),
            "--dump-dom".to_owned(),
            format!("file://{}/frame.html", folder.arg()),
        ],
    );
    let dom = String::from_utf8_lossy(&output.stdout);
    let log = String::from_utf8_lossy(&output.stderr);
    let told = dom.split("<pre id=\"told\">").nth(1);
    let told = told.and_then(|rest| rest.split("</pre>").next());
    let told = decoded(told.unwrap_or_else(|| panic!("no answer: {dom}\n{log}")));
    let told: Vec<Value> =
        serde_json::from_str(&told).unwrap_or_else(|e| panic!("{e}: {told:?}\n{log}"));
    let console = log.lines().filter(|l| l.contains("CONSOLE"));
    (told, console.map(str::to_owned).collect())
}

/// Text without its percent signs.
fn decoded(text: &str) -> String {
    let bytes = text.as_bytes();
    let mut out = Vec::new();
    let mut at = 0;
    while at < bytes.len() {
        let hex = (bytes[at] == b'%').then(|| text.get(at + 1..at + 3));
        let byte = hex.flatten().and_then(|h| u8::from_str_radix(h, 16).ok());
        out.push(byte.unwrap_or(bytes[at]));
        at += if byte.is_some() { 3 } else { 1 };
    }
    String::from_utf8(out).expect("UTF-8")
}

/// What is wrong with a page on screens of both widths.
fn faults(html: &str, folder: &Folder, dark: bool) -> Vec<String> {
    let (told, mut out) = measured(html, folder, dark);
    let mut seen: Vec<u64> = Vec::new();
    for one in &told {
        let width = one["width"].as_u64().expect("a width");
        seen.push(width);
        let place = format!("{width} px, {}", if dark { "dark" } else { "light" });
        assert_eq!(one["dark"], dark, "{place}");
        assert_eq!(
            one["name"],
            width.to_string(),
            "the frame has another width"
        );
        let scroll = one["scroll"].as_u64().expect("a width");
        if width < scroll {
            out.push(format!(
                "{place}: the page scrolls sideways, {scroll} px wide"
            ));
        }
        let lists = [
            ("is asked for", &one["requests"]),
            ("is not of the page", &one["foreign"]),
            ("is refused", &one["violations"]),
            ("leaves the screen", &one["beyond"]),
            ("is cut off", &one["clipped"]),
            ("leaves its picture", &one["pictures"]["outside"]),
            ("lie over each other", &one["pictures"]["over"]),
            ("is wider than drawn for", &one["pictures"]["wide"]),
            ("is too small", &one["pictures"]["small"]),
            ("is too faint", &one["faint"]),
            ("has no words", &one["pictures"]["unnamed"]),
        ];
        for (what, list) in lists {
            for text in list.as_array().expect("a list").iter().take(12) {
                out.push(format!(
                    "{place}: {what}: {}",
                    text.as_str().expect("a text")
                ));
            }
        }
    }
    seen.sort_unstable();
    assert_eq!(seen, [400, 1280], "not every frame told");
    out
}

fn sound(name: &str) {
    let folder = Folder::new(&format!("screen-{name}"));
    let mut wrong = Vec::new();
    for dark in [false, true] {
        wrong.extend(faults(page(name), &folder, dark));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_page_of_the_example_is_sound_on_every_screen() {
    sound("example");
}

#[test]
fn the_page_of_an_awkward_family_is_sound_on_every_screen() {
    sound("awkward");
}

/// A page with one fault of each kind, and what must be said of each.
#[test]
fn each_fault_planted_in_a_page_is_found() {
    let html = r##"<!DOCTYPE html><html><head><style>@media (max-width: 500px) { p.wide { width: 600px } }</style></head>
<body><p class="wide">wide</p>
<div style="overflow:hidden;width:50px;height:1em;white-space:nowrap">cut off without mercy</div>
<div style="overflow-x:auto;width:90px"><p style="width:3000px">may be scrolled</p></div>
<svg role="img" viewBox="0 0 100 40" width="100" height="40"><title>a</title><desc>b</desc><text x="80" y="20">beyond</text></svg>
<svg role="img" viewBox="0 0 200 40" width="200" height="40"><title>a</title><desc>b</desc><text x="5" y="20">one</text><text x="12" y="24">other</text></svg>
<svg role="img" viewBox="0 0 200 40" width="200" height="40"><title>a</title></svg>
<svg role="img" class="schematic" viewBox="0 0 900 40" width="900" height="40"><title>a</title><desc>b</desc><text x="5" y="20" style="letter-spacing:9px">spread</text></svg>
<svg role="img" class="schematic" viewBox="0 0 900 40" width="450" height="20"><title>a</title><desc>b</desc><text x="5" y="20" style="font-size:13px">shrunk</text></svg>
<p style="color:#999">dim words</p><svg role="img" viewBox="0 0 200 40" width="200" height="40"><title>a</title><desc>b</desc><rect width="99" height="40" fill="#333"/><text x="5" y="20">dark on dark</text></svg>
<img src="nothing.png"><b onclick="1" id="b">b</b><script>document.title = "ran"</script></body></html>"##;
    let folder = Folder::new("screen-planted");
    let faults = faults(html, &folder, false).join("\n");
    for wanted in [
        "400 px, light: the page scrolls sideways",
        "400 px, light: leaves the screen: <p wide> wide",
        "is cut off: <div > cut off without mercy",
        "leaves its picture: beyond in a",
        "lie over each other: other / one in a",
        "has no words: <svg > a",
        "is wider than drawn for: spread",
        "is too small: shrunk: 6.5 px",
        "is too faint: <p > dim words: 2.85",
        "is too faint: <text > dark on dark",
        "is not of the page: <img",
        "is not of the page: <script",
        "is refused: img-src",
        "is refused: script-src",
        "CONSOLE",
    ] {
        assert!(faults.contains(wanted), "no {wanted:?} in\n{faults}");
    }
    for sound in ["may be scrolled", "1280 px, light: the page scrolls"] {
        assert!(!faults.contains(sound), "{sound:?} in\n{faults}");
    }
}
