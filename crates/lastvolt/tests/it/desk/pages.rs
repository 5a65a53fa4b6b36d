//! The pages as they look: on a wide and on a narrow screen, in light and in dark, by measure, contrast
//! too; and their text against an independent checker.

use std::collections::BTreeSet;

use serde_json::Value;

use super::browser::{Browser, key};
use super::http::get;
use super::journeys::family;
use super::served::Desk;
use crate::program::Folder;
use crate::valid;

/// Functions that measure a page; what it does once a report is loaded is left out.
const MEASURE: &str = include_str!("../browser/measure.js");

/// Widths of the screens, in pixels: a desk, and a telephone.
const WIDTHS: [u32; 2] = [1280, 360];

/// Pages that have everything between them.
const PAGES: [&str; 6] = [
    "/",
    "/board/coin?select=part%3AR1",
    "/board/two-cell?depth=0.4&reverse=BT1&select=part%3AU1",
    "/board/one-cell?select=load%3Abeacon&history=cold",
    "/stack/coin+two-cell?select=net%3AVDD&set=S9%3Don",
    "/nowhere",
];

/// What is measured beside what a report is measured for: the size of controls, WCAG 2.2, success
/// criterion 2.5.8: 24 by 24 pixels; links inside sentences are excepted there.
const CONTROLS: &str = "
  const small = [];
  const of = 'button, input, select, textarea, summary, nav a, .choices a, a.set';
  for (const e of document.querySelectorAll(of)) {
    const target = e.matches('[type=radio], [type=checkbox]') ? e.closest('label') ?? e : e;
    const box = target.getBoundingClientRect();
    if (box.width && (box.width < 23.5 || box.height < 23.5)) {
      small.push(`${told(e)} #${e.id}: ${box.width.toFixed(1)} by ${box.height.toFixed(1)}`);
    }
  }
  const unnamed = [...document.querySelectorAll('button, input, select, textarea, a[href]')].filter((e) => {
    const words = e.getAttribute('aria-label') || e.textContent.trim() || e.labels?.[0]?.textContent.trim() || e.title;
    return !words;
  }).map(told);";

fn measured(browser: &mut Browser) -> Value {
    let functions = MEASURE
        .split("addEventListener(\"load\"")
        .next()
        .expect("functions");
    browser.run(&format!(
        "{functions}
         // What cannot be used now may be faint (WCAG 2.2, success criterion 1.4.3, exception for inactive parts).
         for (const button of document.querySelectorAll('button:disabled')) button.remove();
         {CONTROLS}
         return {{ wide: document.documentElement.scrollWidth, beyond: beyond(), clipped: clipped(),
           pictures: pictures(), faint: faint(), small, unnamed,
           dark: matchMedia('(prefers-color-scheme: dark)').matches, inner: innerWidth }};"
    ))
}

/// What is wrong with a page on a screen.
fn faults(what: &str, measured: &Value, width: u32, dark: bool) -> Vec<String> {
    assert_eq!(
        (&measured["inner"], &measured["dark"]),
        (&width.into(), &dark.into()),
        "{what}"
    );
    let mut out = Vec::new();
    if measured["wide"].as_u64() != Some(width.into()) {
        out.push(format!(
            "{what}: scrolls sideways, {} wide",
            measured["wide"]
        ));
    }
    let pictures = &measured["pictures"];
    let lists = [
        ("leaves the screen", &measured["beyond"]),
        ("is cut off", &measured["clipped"]),
        ("is too faint", &measured["faint"]),
        ("is too small to hit", &measured["small"]),
        ("has no name", &measured["unnamed"]),
        ("leaves its picture", &pictures["outside"]),
        ("lie over each other", &pictures["over"]),
        ("has no words", &pictures["unnamed"]),
    ];
    for (word, list) in lists {
        let all = list.as_array().unwrap_or_else(|| panic!("{word}: {list}"));
        // A drawing with links in it is a group with a title, not one picture.
        let is_group = |says: &&str| word == "has no words" && says.starts_with("<svg schematic>");
        let first = all.iter().take(40).filter_map(Value::as_str);
        // A field of text scrolls by itself.
        let is_field = |says: &&str| word == "is cut off" && says.starts_with("<input");
        let first = first.filter(|says| !is_group(says) && !is_field(says));
        out.extend(first.map(|says| format!("{what}: {word}: {says}")));
    }
    out
}

#[test]
fn pages_fit_their_screens_and_can_be_read_and_hit() {
    let folder = family("desk-pages");
    let desk = Desk::open(folder.path());
    let mut browser = Browser::open("desk-pages");
    browser.goto(&desk.url("/"));
    browser.wait("document.querySelector('#found')?.innerText.length > 100");
    let mut wrong = Vec::new();
    for path in PAGES {
        for width in WIDTHS {
            for dark in [false, true] {
                browser.screen(width, 900, dark);
                if !dark {
                    browser.goto(&desk.url(path));
                    browser.wait("document.readyState === 'complete' && (document.getElementById('pulse')?.dataset.state ?? 'waiting') !== 'waiting'");
                }
                let scheme = if dark { "dark" } else { "light" };
                let what = format!("{path} at {width}, {scheme}");
                let found = measured(&mut browser);
                wrong.extend(faults(&what, &found, width, dark));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// The measure finds what is wrong: a page that does everything badly.
#[test]
fn a_page_that_does_not_fit_is_found() {
    let folder = family("desk-pages-planted");
    let desk = Desk::open(folder.path());
    let mut browser = Browser::open("desk-pages-planted");
    browser.screen(360, 900, false);
    browser.goto(&desk.url("/board/coin"));
    browser.run(
        "const main = document.getElementById('main');
         const add = (tag, text, style) => {
           const e = document.createElement(tag); e.textContent = text; Object.assign(e.style, style); main.append(e); return e;
         };
         add('p', 'as wide as can be', { width: '900px' });
         add('p', 'cut off without mercy', { width: '40px', overflow: 'hidden', whiteSpace: 'nowrap' });
         add('p', 'hardly there', { color: 'rgb(200,200,200)', background: 'white' });
         add('button', 'x', { width: '12px', height: '12px', padding: 0, minHeight: 0, minWidth: 0 });
         add('button', '', {});",
    );
    let found = measured(&mut browser);
    let all = faults("planted", &found, 360, false).join("\n");
    for wanted in [
        "scrolls sideways",
        "leaves the screen: <p > as wide",
        "is cut off: <p > cut off",
        "is too faint: <p > hardly",
        "is too small to hit: <button > x",
        "has no name: <button",
    ] {
        assert!(all.contains(wanted), "no {wanted:?} in\n{all}");
    }
}

/// Wherever the keyboard leads, it is seen where that is.
#[test]
fn the_focus_is_seen_wherever_it_goes() {
    let folder = family("desk-focus");
    let desk = Desk::open(folder.path());
    let mut browser = Browser::open("desk-focus");
    browser.goto(&desk.url("/board/two-cell?select=part%3AR1"));
    browser.wait("document.getElementById('review-progress') === null && document.getElementById('depth') !== null");
    let mut kinds = BTreeSet::new();
    let mut unseen = Vec::new();
    for _ in 0..160 {
        browser.press(&[key::TAB]);
        let seen = browser.run(
            "const e = document.activeElement;
             if (!e || e === document.body) return null;
             const around = [e, e.nextElementSibling, e.closest('label'), ...e.querySelectorAll(':scope > *')].filter(Boolean);
             const marked = around.some((a) => {
               const s = getComputedStyle(a);
               return s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 1.5 || s.boxShadow !== 'none';
             });
             const box = (e.closest('label') ?? e).getBoundingClientRect();
             const inside = box.bottom > 0 && box.top < innerHeight;
             const place = e.closest('#top, #strip, #drawing, #curve, #panel, #positions, #readings')?.id ?? 'page';
             return [e.tagName.toLowerCase() + ' in ' + place, marked, inside, (e.id || e.textContent).trim().slice(0, 40)];",
        );
        if seen.is_null() {
            break;
        }
        let kind = seen[0].as_str().expect("a kind").to_owned();
        if seen[1] != true || seen[2] != true {
            unseen.push(seen.to_string());
        }
        kinds.insert(kind);
    }
    assert!(unseen.is_empty(), "{}", unseen.join("\n"));
    for wanted in [
        "a in top",
        "input in strip",
        "select in strip",
        "a in drawing",
        "input in curve",
        "input in panel",
    ] {
        assert!(kinds.contains(wanted), "no {wanted} among {kinds:?}");
    }
}

/// Who asked for less motion sees none.
#[test]
fn nothing_moves_where_less_motion_is_asked_for() {
    let folder = Folder::tiny("desk-motion");
    let desk = Desk::open(folder.path());
    let mut browser = Browser::open("desk-motion");
    let features =
        serde_json::json!({"features": [{"name": "prefers-reduced-motion", "value": "reduce"}]});
    browser.inner("Emulation.setEmulatedMedia", &features);
    browser.goto(&desk.url("/board/coin"));
    browser.wait("document.getElementById('depth') !== null");
    let moving = browser.run(
        "return [...document.querySelectorAll('*')].filter((e) => {
           const s = getComputedStyle(e);
           const long = (t) => t.split(',').some((d) => parseFloat(d) > 0.02);
           return long(s.transitionDuration) && s.transitionProperty !== 'none' || s.animationName !== 'none' && long(s.animationDuration)
             || s.scrollBehavior === 'smooth';
         }).map((e) => e.tagName + ' ' + e.className);",
    );
    assert_eq!(moving, serde_json::json!([]));
}

/// As the pages are served, against the Nu Html Checker.
#[test]
fn served_pages_are_valid_html() {
    let folder = family("desk-valid-family");
    let desk = Desk::open(folder.path());
    let checked = Folder::new("desk-valid");
    let until = std::time::Instant::now() + std::time::Duration::from_secs(60);
    while get(desk.port, "/").text().contains("review-progress") {
        assert!(std::time::Instant::now() < until, "no review");
        std::thread::sleep(std::time::Duration::from_millis(100));
    }
    let mut names = Vec::new();
    for (at, path) in PAGES.iter().enumerate() {
        let name = format!("page-{at}.html");
        checked.write(&name, get(desk.port, path).body);
        names.push(name);
    }
    let family = std::fs::read_to_string(folder.path().join("family.toml")).expect("a file");
    folder.write(
        "family.toml",
        family.replace("[requirement]", "[requirement"),
    );
    while !get(desk.port, "/").text().contains("class=\"broken\"") {
        assert!(std::time::Instant::now() < until, "never broken");
        std::thread::sleep(std::time::Duration::from_millis(50));
    }
    checked.write("broken.html", get(desk.port, "/board/coin").body);
    names.push("broken.html".to_owned());
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let mut faults = valid::faults(&checked, &names);
    // The checker is older than the rule that lets a picture with links in it be a group (ARIA in HTML,
    // section 3, `svg`: any role).
    faults.retain(|says| !says.contains("Bad value “group” for attribute “role” on element “svg”"));
    assert!(faults.is_empty(), "{faults:#?}");
}
