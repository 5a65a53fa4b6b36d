//! What is set in the strip: switches, cells, sources, loads, boards.

use super::super::browser::{Browser, key};
use super::super::served::Desk;
use super::{agrees, family, shown, tab_to};

/// A control of the strip by its name; its label is what a hand clicks.
fn label(id: &str) -> String {
    format!("label:has([id=\"{id}\"])")
}

/// The rows of the matrix that are marked as set.
fn marked(browser: &mut Browser, wanted: &str) {
    browser.wait(&format!(
        "[...document.querySelectorAll('#positions tr[aria-current=true]')].length === 1
         && document.querySelector('#positions tr[aria-current=true]').innerText.includes({wanted:?})"
    ));
}

#[test]
fn switches_cells_and_loads_are_set_with_the_mouse() {
    let folder = family("desk-setting");
    let desk = Desk::open(folder.path());
    let mut browser = Browser::open("desk-setting");
    browser.goto(&desk.url("/board/two-cell"));
    agrees(&mut browser, &folder, &["--board", "two-cell"]);
    marked(&mut browser, "converter");

    browser.click(&label("set:S1:direct"));
    agrees(
        &mut browser,
        &folder,
        &["--board", "two-cell", "--set", "S1=direct"],
    );
    marked(&mut browser, "direct");

    browser.click(&label("reverse:BT1"));
    let turned = [
        "--board",
        "two-cell",
        "--set",
        "S1=direct",
        "--reverse",
        "BT1",
    ];
    agrees(&mut browser, &folder, &turned);
    marked(&mut browser, "BT1 backwards");
    // What the review says of these positions is there once it has looked.
    browser.wait("document.querySelectorAll('#held [data-choose^=\"finding:\"]').length > 0");
    let named = browser.value(
        "[...document.querySelectorAll('#held li')].some((e) => e.innerText.includes('BT1'))",
    );
    assert_eq!(named, true, "a finding about BT1");

    browser.click(&label("reverse:BT1"));
    browser.click("[id=\"state:beacon\"]");
    browser.run(
        "const s = document.getElementById('state:beacon'); s.value = 'transmit';
         s.dispatchEvent(new Event('input', { bubbles: true })); s.dispatchEvent(new Event('change', { bubbles: true }));",
    );
    agrees(
        &mut browser,
        &folder,
        &[
            "--board",
            "two-cell",
            "--set",
            "S1=direct",
            "--state",
            "beacon=transmit",
        ],
    );

    browser.click(&label("absent:BT1"));
    browser
        .wait("document.querySelector('[data-reading=\"net:VDD\"]').textContent.startsWith('0')");
    browser.wait("document.querySelector('#held').innerText.includes('off')");
    browser.wait(
        "document.querySelector('[data-reading=\"part:BT1:mode\"]').textContent === 'taken out'",
    );

    browser.click("[data-usual][href]");
    agrees(&mut browser, &folder, &["--board", "two-cell"]);
    marked(&mut browser, "converter");
    browser.is_clean();
}

#[test]
fn switches_cells_and_loads_are_set_with_the_keys() {
    let folder = family("desk-setting-keys");
    let desk = Desk::open(folder.path());
    let mut browser = Browser::open("desk-setting-keys");
    browser.goto(&desk.url("/board/coin"));
    agrees(&mut browser, &folder, &["--board", "coin"]);

    tab_to(&mut browser, "[name=\"set:S1\"]");
    browser.press(&[key::DOWN]);
    agrees(
        &mut browser,
        &folder,
        &["--board", "coin", "--set", "S1=off"],
    );
    marked(&mut browser, "off");
    browser.press(&[key::UP]);
    agrees(&mut browser, &folder, &["--board", "coin"]);

    tab_to(&mut browser, "[id=\"reverse:BT1\"]");
    browser.press(&[key::SPACE]);
    agrees(
        &mut browser,
        &folder,
        &["--board", "coin", "--reverse", "BT1"],
    );
    marked(&mut browser, "BT1 backwards");
    browser.press(&[key::SPACE]);

    tab_to(&mut browser, "[id=\"state:beacon\"]");
    browser.press(&['t']);
    agrees(
        &mut browser,
        &folder,
        &["--board", "coin", "--state", "beacon=transmit"],
    );
    tab_to(&mut browser, "#ambient");
    browser.press(&['l']);
    agrees(
        &mut browser,
        &folder,
        &[
            "--board",
            "coin",
            "--state",
            "beacon=transmit",
            "--ambient",
            "low",
        ],
    );
    assert_eq!(
        browser.value("document.activeElement.id"),
        "ambient",
        "the focus stays"
    );

    tab_to(&mut browser, "[data-usual][href]");
    browser.press(&[key::ENTER]);
    agrees(&mut browser, &folder, &["--board", "coin"]);
    browser.is_clean();
}

/// A row of the matrix sets what it is about.
#[test]
fn rows_of_the_matrix_are_set_from_there() {
    let folder = family("desk-rows");
    let desk = Desk::open(folder.path());
    let mut browser = Browser::open("desk-rows");
    browser.goto(&desk.url("/board/two-cell"));
    agrees(&mut browser, &folder, &["--board", "two-cell"]);
    browser.click("#positions tr:has(td:nth-child(2) bdi) a[href*='S1%3Doff']");
    agrees(
        &mut browser,
        &folder,
        &["--board", "two-cell", "--set", "S1=off"],
    );
    marked(&mut browser, "off");
    let on = shown(&mut browser);
    assert!(
        on["on"]
            .as_array()
            .is_some_and(|all| all.iter().any(|id| id == "set:S1:off")),
        "{on:#}"
    );
    browser.is_clean();
}

#[test]
fn boards_are_plugged_on_and_taken_off() {
    let folder = family("desk-stack");
    let desk = Desk::open(folder.path());
    let mut browser = Browser::open("desk-stack");
    browser.goto(&desk.url("/board/coin"));
    browser.click("nav.stacking a[href='/stack/coin+usb']");
    browser.wait("location.pathname === '/stack/coin+usb'");
    let both = ["--board", "coin", "--board", "usb"];
    agrees(&mut browser, &folder, &both);

    browser.click(&label("reverse:coin/BT1"));
    agrees(
        &mut browser,
        &folder,
        &[&both[..], &["--reverse", "coin/BT1"]].concat(),
    );
    tab_to(
        &mut browser,
        "nav.stacking a[href='/stack/coin+usb+two%2Dcell']",
    );
    browser.press(&[key::ENTER]);
    browser.wait(
        "location.pathname.split('+').length === 3 && document.getElementById('depth') !== null",
    );
    agrees(
        &mut browser,
        &folder,
        &[&both[..], &["--board", "two-cell"]].concat(),
    );
    browser.click("nav.stacking a[href='/stack/coin+usb']");
    browser.wait("location.pathname === '/stack/coin+usb'");
    browser.click("nav.stacking a[href='/board/usb']");
    agrees(&mut browser, &folder, &["--board", "usb"]);
    // From the family, a field of the grid opens the two.
    browser.click("#top a[href='/']");
    browser.click("#stacks a[aria-label='coin with usb']");
    agrees(&mut browser, &folder, &both);
    browser.is_clean();
}
