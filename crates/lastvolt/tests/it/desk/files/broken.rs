//! Files that cannot be read: what is wrong is said, the last good edition stays behind it, greyed.

use std::fs;

use super::super::browser::Browser;
use super::super::journeys::{agrees, family};
use super::super::served::Desk;

const IS_STALE: &str = "document.getElementById('main').classList.contains('stale')";

/// Waits until the page tells of broken files with a word.
fn is_broken(browser: &mut Browser, word: &str) {
    browser.wait(&format!(
        "document.querySelector('#files-state .broken')?.innerText.includes({word:?}) ?? false"
    ));
    assert_eq!(
        browser.value("document.querySelector('#files-state .broken').getAttribute('role')"),
        "alert"
    );
}

#[test]
fn a_broken_file_is_told_over_the_last_good_edition_and_heals() {
    let folder = family("desk-broken");
    let desk = Desk::open(folder.path());
    let mut browser = Browser::open("desk-broken");
    browser.goto(&desk.url("/board/coin?depth=0.2"));
    agrees(
        &mut browser,
        &folder,
        &["--board", "coin", "--depth", "0.2"],
    );
    browser.wait("document.getElementById('pulse').dataset.state === 'live'");
    let good = fs::read_to_string(folder.path().join("coin.toml")).expect("a file");
    let cases = [
        (
            "no text of its kind",
            "[parts.R1\nkind =".to_owned(),
            "coin.toml",
        ),
        (
            "a slip in a unit",
            good.replace("\"10k ±5 %\"", "\"10 kVolts\""),
            "coin.toml",
        ),
        (
            "an unknown kind",
            good.replace("\"jumper\"", "\"jumpr\""),
            "jumper",
        ),
        ("bytes", "\u{0}\u{1}\u{2}".to_owned(), "coin.toml"),
        ("nothing", String::new(), "coin.toml"),
    ];
    for (what, text, word) in cases {
        assert_ne!(text, good, "{what}");
        folder.write("coin.toml", &text);
        if what == "nothing" {
            // An empty board may be a board without parts; the page follows either way.
            browser.wait("document.querySelector('#files-state .broken') !== null || document.querySelectorAll('#drawing a').length < 5");
        } else {
            is_broken(&mut browser, word);
            browser.wait(IS_STALE);
            let figures = browser.value("document.querySelectorAll('[data-reading]').length");
            assert!(
                20 < figures.as_u64().expect("a number"),
                "{what}: the last figures are in sight"
            );
        }
        folder.write("coin.toml", &good);
        browser.wait(&format!(
            "document.querySelector('#files-state .broken') === null && !{IS_STALE}"
        ));
        agrees(
            &mut browser,
            &folder,
            &["--board", "coin", "--depth", "0.2"],
        );
    }
    // Gone and back; and the family file, which everything hangs on.
    for name in ["coin.toml", "family.toml"] {
        let text = fs::read(folder.path().join(name)).expect("a file");
        fs::remove_file(folder.path().join(name)).expect("removed");
        is_broken(&mut browser, name);
        folder.write(name, text);
        browser.wait(&format!(
            "document.querySelector('#files-state .broken') === null && !{IS_STALE}"
        ));
        agrees(
            &mut browser,
            &folder,
            &["--board", "coin", "--depth", "0.2"],
        );
    }
    browser.is_clean();
}

#[test]
fn a_folder_that_is_broken_from_the_start_comes_to_life() {
    let folder = family("desk-start-broken");
    let good = fs::read_to_string(folder.path().join("family.toml")).expect("a file");
    folder.write("family.toml", good.replace("[requirement]", "[requirement"));
    let desk = Desk::open(folder.path());
    assert!(desk.said.contains("cannot be read"), "{}", desk.said);
    let mut browser = Browser::open("desk-start-broken");
    browser.goto(&desk.url("/board/coin?depth=0.2"));
    is_broken(&mut browser, "family.toml");
    browser.wait("document.getElementById('pulse') === null || document.getElementById('pulse').dataset.state === 'live'");
    folder.write("family.toml", &good);
    browser.wait("document.getElementById('depth') !== null && document.querySelector('#files-state .broken') === null");
    agrees(
        &mut browser,
        &folder,
        &["--board", "coin", "--depth", "0.2"],
    );
    browser.wait("document.querySelector('nav.boards a[href=\"/board/usb\"]') !== null");
    browser.is_clean();
}
