//! Values changed in place: a mistake is told while it is typed, what a change does is shown before it is
//! saved, and what is saved is that value and nothing else.

use std::fs;

use super::super::browser::{Browser, key, quoted};
use super::super::served::Desk;
use super::{agrees, family, tab_to};
use crate::program::Folder;

/// The field of a key in the form, by its label.
fn field(browser: &mut Browser, label: &str) -> String {
    let wanted = quoted(label);
    let id = browser.wait(&format!(
        "[...document.querySelectorAll('#edit label')].find((l) => l.textContent.trim() === {wanted})?.htmlFor ?? null"
    ));
    format!("#{}", id.as_str().expect("an id"))
}

/// Texts of all files of a folder.
fn texts(folder: &Folder) -> Vec<(String, Vec<u8>)> {
    let read = |name: String| {
        let text = fs::read(folder.path().join(&name)).expect("a file");
        (name, text)
    };
    folder.names().into_iter().map(read).collect()
}

/// The same texts with one place of one file replaced.
fn with(texts: &[(String, Vec<u8>)], file: &str, from: &str, to: &str) -> Vec<(String, Vec<u8>)> {
    let changed = |(name, text): &(String, Vec<u8>)| {
        if name != file {
            return (name.clone(), text.clone());
        }
        let text = String::from_utf8(text.clone()).expect("UTF-8");
        assert_eq!(text.matches(from).count(), 1, "{from} in {file}");
        (name.clone(), text.replace(from, to).into_bytes())
    };
    texts.iter().map(changed).collect()
}

/// Fails where files differ, with the first that does.
fn same(folder: &Folder, wanted: &[(String, Vec<u8>)], when: &str) {
    let found = texts(folder);
    let names = |all: &[(String, Vec<u8>)]| all.iter().map(|f| f.0.clone()).collect::<Vec<_>>();
    assert_eq!(names(&found), names(wanted), "{when}");
    for (a, b) in found.iter().zip(wanted) {
        assert_eq!(
            String::from_utf8_lossy(&a.1),
            String::from_utf8_lossy(&b.1),
            "{} {when}",
            a.0
        );
    }
}

const NO_MISTAKE: &str = "document.querySelectorAll('#edit [aria-invalid=true]').length === 0";
const CAN_SAVE: &str = "!document.querySelector('#edit [data-edit-save]').disabled";
const NOTHING_KEPT: &str = "document.querySelector('[data-keep]') === null && document.getElementById('edit') !== null && document.querySelector('#edit')?.inert !== true";

#[test]
fn a_value_is_changed_previewed_saved_and_undone() {
    let folder = family("desk-edit");
    let before = texts(&folder);
    let desk = Desk::open(folder.path());
    let mut browser = Browser::open("desk-edit");
    browser.goto(&desk.url("/board/coin?set=S1%3Doff&select=part%3AR1"));
    let value = field(&mut browser, "value");
    // A mistake is told beside the field, and cannot be saved.
    browser.refill(&value, "10 kVolts");
    browser.wait("document.querySelector('#edit [aria-invalid=true]') !== null");
    let says = browser.text(&format!("{value}-says"));
    assert!(says.contains("kVolts"), "{says}");
    assert_eq!(browser.value(CAN_SAVE), false);
    same(&folder, &before, "while a mistake is typed");
    // What can be saved is foreseen first.
    browser.refill(&value, "1k0 ±5 %");
    browser.wait(NO_MISTAKE);
    browser.wait(CAN_SAVE);
    browser.wait("document.getElementById('edit-preview').innerText.length > 20 && !document.getElementById('edit-preview').hasAttribute('aria-busy')");
    same(&folder, &before, "before it is saved");
    browser.click("#edit [data-edit-save]");
    browser.wait(NOTHING_KEPT);
    let after = with(&before, "coin.toml", "\"10k ±5 %\"", "\"1k0 ±5 %\"");
    browser.wait("document.querySelector('[data-edit-step=undo]') !== null");
    same(&folder, &after, "once it is saved");
    agrees(
        &mut browser,
        &folder,
        &["--board", "coin", "--set", "S1=off"],
    );
    // And back, and forth, as if nobody had been there.
    browser.click("[data-edit-step=undo]");
    browser.wait("document.querySelector('[data-edit-step=redo]') !== null");
    same(&folder, &before, "undone");
    agrees(
        &mut browser,
        &folder,
        &["--board", "coin", "--set", "S1=off"],
    );
    browser.click("[data-edit-step=redo]");
    browser.wait("document.querySelector('[data-edit-step=undo]') !== null");
    same(&folder, &after, "done again");
    browser.is_clean();
}

#[test]
fn values_of_parts_loads_and_tasks_are_changed_with_the_keys() {
    let folder = family("desk-edit-keys");
    let mut wanted = texts(&folder);
    let desk = Desk::open(folder.path());
    let mut browser = Browser::open("desk-edit-keys");
    let cases = [
        (
            "part%3AR2",
            "value",
            "680R ±5 %",
            "coin.toml",
            "\"820R ±5 %\"",
            "\"680R ±5 %\"",
        ),
        (
            "load%3Abeacon",
            "states.listen",
            "6.1 mA",
            "family.toml",
            "\"6.4 mA\"",
            "\"6.1 mA\"",
        ),
        (
            "task%3Areport",
            "every",
            "12 s",
            "family.toml",
            "\"10 s\"",
            "\"12 s\"",
        ),
    ];
    for (chosen, label, typed, file, from, to) in cases {
        browser.goto(&desk.url(&format!("/board/coin?select={chosen}")));
        browser.wait("document.getElementById('edit') !== null");
        let value = field(&mut browser, label);
        tab_to(&mut browser, &value);
        browser.press_with(key::CONTROL, 'a');
        browser.press(&typed.chars().collect::<Vec<_>>());
        browser.wait(CAN_SAVE);
        same(&folder, &wanted, "before it is saved");
        browser.press(&[key::ENTER]);
        browser.wait(NOTHING_KEPT);
        wanted = with(&wanted, file, from, to);
        same(&folder, &wanted, chosen);
    }
    // What was begun is given up with one key.
    browser.goto(&desk.url("/board/coin?select=part%3AR1"));
    let value = field(&mut browser, "value");
    tab_to(&mut browser, &value);
    browser.press(&['9']);
    browser.wait("document.querySelector('#edit[data-keep]') !== null");
    browser.press(&['\u{e00c}']);
    browser.wait(NOTHING_KEPT);
    assert_eq!(
        browser.value(&format!("document.querySelector('{value}').value")),
        "10k ±5 %"
    );
    same(&folder, &wanted, "given up");
    agrees(&mut browser, &folder, &["--board", "coin"]);
    browser.is_clean();
}

/// The file changes on disk while a value is typed: nothing is lost on either side, and the choice is clear.
#[test]
fn a_file_that_changed_meanwhile_leaves_a_choice() {
    let folder = family("desk-conflict");
    let desk = Desk::open(folder.path());
    let mut browser = Browser::open("desk-conflict");
    browser.goto(&desk.url("/board/coin?select=part%3AR2"));
    browser.wait("document.getElementById('pulse').dataset.state === 'live'");
    for (choice, mine, theirs) in [
        ("[data-edit-mine]", "680R ±5 %", "11k ±5 %"),
        ("[data-edit-theirs]", "560R ±5 %", "13k ±5 %"),
    ] {
        let start = texts(&folder);
        let text = |file: &str| fs::read_to_string(folder.path().join(file)).expect("a file");
        let (was_r1, was_r2) = (
            value_of(&text("coin.toml"), "R1"),
            value_of(&text("coin.toml"), "R2"),
        );
        let value = field(&mut browser, "value");
        browser.refill(&value, mine);
        browser.wait("document.querySelector('#edit[data-keep]') !== null");
        browser.wait(CAN_SAVE);
        // Another program writes the same file.
        let other = with(
            &start,
            "coin.toml",
            &format!("\"{was_r1}\""),
            &format!("\"{theirs}\""),
        );
        let coin = other
            .iter()
            .find(|f| f.0 == "coin.toml")
            .expect("the board");
        folder.write("coin.toml", &coin.1);
        browser.wait("document.querySelector('.edit-conflict[role=alert]') !== null");
        assert_eq!(
            browser.value(&format!("document.querySelector('{value}').value")),
            mine,
            "what was typed is kept"
        );
        let says = browser.text(".edit-conflict");
        assert!(says.contains(mine) && says.contains(&was_r2), "{says}");
        same(&folder, &other, "before the choice");
        browser.click(choice);
        if choice == "[data-edit-mine]" {
            browser.wait(CAN_SAVE);
            browser.click("#edit [data-edit-save]");
            browser.wait(NOTHING_KEPT);
            same(
                &folder,
                &with(
                    &other,
                    "coin.toml",
                    &format!("\"{was_r2}\""),
                    &format!("\"{mine}\""),
                ),
                "mine on top of theirs",
            );
        } else {
            browser.wait(NOTHING_KEPT);
            browser.wait(&format!(
                "document.querySelector('{value}').value === {}",
                quoted(&was_r2)
            ));
            same(&folder, &other, "theirs alone");
        }
        agrees(&mut browser, &folder, &["--board", "coin"]);
    }
    browser.is_clean_but(&["409"]);
}

/// The value of a resistor as the file has it.
fn value_of(text: &str, part: &str) -> String {
    let from = text
        .split_once(&format!("[parts.{part}]"))
        .expect("the part")
        .1;
    let line = from
        .lines()
        .find(|l| l.starts_with("value"))
        .expect("its value");
    line.split('"').nth(1).expect("a text").to_owned()
}
