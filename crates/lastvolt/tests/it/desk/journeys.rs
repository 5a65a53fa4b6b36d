//! What an engineer does at the desk, with the mouse and with the keyboard alone, held against what the
//! command line says of the same.

mod edit;
mod links;
mod long;
mod setting;
mod slider;

use std::collections::BTreeMap;
use std::fs;
use std::time::{Duration, Instant};

use serde_json::Value;

use super::browser::{Browser, key, quoted};
use crate::program::{Folder, example, run};

/// How long figures may take to be there.
const PATIENCE: Duration = Duration::from_secs(30);
/// Steps of the tabulator key at most on the way to a control.
const MOST_STEPS: usize = 400;

/// The example family in a folder of the test's own.
pub(super) fn family(name: &str) -> Folder {
    let folder = Folder::new(name);
    for entry in fs::read_dir(example()).expect("the example") {
        let path = entry.expect("an entry").path();
        let name = path
            .file_name()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        folder.write(&name, fs::read(&path).expect("its text"));
    }
    folder
}

/// Everything that the page states about its setting: what is the same for two pages that show the same.
pub(super) fn shown(browser: &mut Browser) -> Value {
    browser.run(
        "const all = (s, of) => [...document.querySelectorAll(s)].map(of);
         return {
           address: location.pathname + location.search,
           title: document.title,
           readings: all('[data-reading]', (e) => [e.dataset.reading, e.textContent]),
           drawing: all('#drawing svg text', (e) => e.textContent).join('|'),
           on: all('#strip input:checked', (e) => e.id),
           choices: all('#strip select', (e) => [e.id, e.value]),
           depth: document.getElementById('depth')?.value,
           row: all('#positions tr[aria-current=true]', (e) => e.innerText),
           held: document.querySelector('#held')?.innerText,
           selected: document.querySelector('#panel h2')?.textContent,
           marked: all('#drawing [aria-current=true]', (e) => new URLSearchParams(e.getAttribute('href').split('?')[1]).get('select')),
         };",
    )
}

/// Waits until all figures of the page are those of the command line for the same setting.
pub(super) fn agrees(browser: &mut Browser, folder: &Folder, stated: &[&str]) {
    let mut args = vec!["point", folder.arg(), "--format", "json"];
    args.extend(stated);
    let document = run(&args).expect(0).json();
    let until = Instant::now() + PATIENCE;
    loop {
        let (figures, wrong) = compare(browser, &document);
        if wrong.is_empty() && 20 < figures {
            return;
        }
        assert!(
            Instant::now() < until,
            "{stated:?} at {}: {figures} figures\n{}",
            browser.address(),
            wrong.join("\n")
        );
        std::thread::sleep(Duration::from_millis(20));
    }
}

/// Number of figures on the page, and those that differ from a document of `point`.
fn compare(browser: &mut Browser, document: &Value) -> (usize, Vec<String>) {
    let seen = browser.run(
        "return [[...document.querySelectorAll('[data-reading]')].map((e) => [e.dataset.reading, e.textContent]),
                 [...document.querySelectorAll('#strip [data-key=absent]')].map((e) => e.dataset.name)];",
    );
    let sources: Vec<&str> = seen[1]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(Value::as_str)
        .collect();
    let result = document;
    let (mut figures, mut wrong) = (0, Vec::new());
    for pair in seen[0].as_array().into_iter().flatten() {
        let (name, text) = (
            pair[0].as_str().expect("a name"),
            pair[1].as_str().expect("a text"),
        );
        let words: Vec<&str> = name.split(':').collect();
        let field = match words.last() {
            Some(&"current") => "current_a",
            Some(&"voltage") => "voltage_v",
            Some(&"loss") => "power_w",
            _ => "",
        };
        let wanted = match words[0] {
            "net" => result["nets"][words[1]].as_f64(),
            "part" => result["parts"][words[1]][field].as_f64(),
            "load" => result["loads"][words[1]][field].as_f64(),
            _ => None,
        };
        let turned = field == "power_w" && words[0] == "part" && sources.contains(&words[1]);
        let mode = result["parts"][words[1]]["mode"]
            .as_str()
            .filter(|_| words.last() == Some(&"mode"));
        match (wanted, mode) {
            (Some(value), _) => {
                figures += 1;
                if !is_figure_of(text, if turned { -value } else { value }) {
                    wrong.push(format!("{name}: {text:?}, not {value}"));
                }
            }
            (None, Some(mode)) if text != mode => {
                wrong.push(format!("{name}: {text:?}, not {mode:?}"))
            }
            _ => {}
        }
    }
    (figures, wrong)
}

/// Whether a text is a value, rounded to the digits that it shows; `<1 nW` is anything below.
fn is_figure_of(text: &str, value: f64) -> bool {
    let plain = text
        .replace('\u{2212}', "-")
        .replace(['\u{a0}', '\u{202f}'], " ");
    let Some((number, unit)) = plain.trim().split_once(' ') else {
        return false;
    };
    let below = number.strip_prefix('<');
    let Ok(shown) = below.unwrap_or(number).parse::<f64>() else {
        return false;
    };
    let scale = scale(unit);
    if below.is_some() {
        return value.abs() < shown * scale;
    }
    // Below half a femto everything is shown as zero.
    if shown == 0.0 {
        return value.abs() < 0.5e-15;
    }
    let decimals = number.split_once('.').map_or(0, |(_, d)| d.len());
    let last_digit = scale * 0.1f64.powi(i32::try_from(decimals).expect("few digits"));
    (shown * scale - value).abs() <= 0.5 * last_digit * (1.0 + 1e-6)
}

/// What the prefix of a unit stands for.
fn scale(unit: &str) -> f64 {
    let prefixes = BTreeMap::from([
        ('f', 1e-15),
        ('p', 1e-12),
        ('n', 1e-9),
        ('µ', 1e-6),
        ('μ', 1e-6),
        ('m', 1e-3),
        ('k', 1e3),
        ('M', 1e6),
    ]);
    let first = unit.chars().next().filter(|_| 1 < unit.chars().count());
    first.and_then(|c| prefixes.get(&c)).copied().unwrap_or(1.0)
}

/// Goes with the tabulator key until the focus is on what the selector names, and says that it can be seen.
pub(super) fn tab_to(browser: &mut Browser, selector: &str) {
    let one = quoted(selector);
    browser.wait(&format!("document.querySelector({one}) !== null"));
    for _ in 0..MOST_STEPS {
        browser.press(&[key::TAB]);
        if browser.value(&format!("document.activeElement?.matches({one}) ?? false")) == true {
            return;
        }
    }
    panic!(
        "the keyboard does not lead to {selector} at {}",
        browser.address()
    );
}

/// A figure and its rounding: half of the last digit, either way.
#[test]
fn figures_are_told_from_others() {
    for (text, value) in [
        ("3.00\u{a0}V", 2.9951),
        ("\u{2212}12.5\u{a0}mA", -0.012_46),
        ("1.70\u{a0}µA", 1.7e-6),
        ("0\u{a0}W", 0.0),
        ("<1\u{a0}nW", 0.9e-9),
    ] {
        assert!(is_figure_of(text, value), "{text} is {value}");
    }
    for (text, value) in [
        ("3.00\u{a0}V", 2.9949),
        ("12.5\u{a0}mA", -0.0125),
        ("1.70\u{a0}mA", 1.7e-6),
        ("0\u{a0}W", 1e-9),
        ("<1\u{a0}nW", 1.1e-9),
        ("", 1.0),
        ("\u{2013}", 0.0),
    ] {
        assert!(!is_figure_of(text, value), "{text} is not {value}");
    }
}
