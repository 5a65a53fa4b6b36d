//! Along the discharge curve: the cells tire, and the figures in the drawing with them.

use serde_json::Value;

use super::super::browser::{Browser, key};
use super::super::served::Desk;
use super::{agrees, family, shown, tab_to};

/// The depth that the address states, as the command line takes it.
fn depth(browser: &mut Browser) -> String {
    // The address follows the hand ten times a second.
    browser.wait(
        "Math.abs(Number(new URLSearchParams(location.search).get('depth') ?? 0) \
         - document.getElementById('depth').value / document.getElementById('depth').max) < 1e-4",
    );
    let found = browser.value("new URLSearchParams(location.search).get('depth') ?? '0'");
    found.as_str().expect("a depth").to_owned()
}

#[test]
fn figures_follow_the_hand_along_the_curve_and_equal_the_command_line() {
    let folder = family("desk-slider");
    let desk = Desk::open(folder.path());
    let mut browser = Browser::open("desk-slider");
    browser.goto(&desk.url("/"));
    browser.click("nav.boards a[href='/board/coin']");
    agrees(&mut browser, &folder, &["--board", "coin"]);
    let fresh = shown(&mut browser);

    let [left, top, width, height] = browser.place("#depth");
    let at = |share: f64| (left + 10.0 + share * (width - 20.0), top + height / 2.0);
    browser.drag(at(0.0), at(0.6), 20);
    let first = depth(&mut browser);
    assert!(
        (0.5..0.7).contains(&first.parse::<f64>().expect("a number")),
        "{first}"
    );
    agrees(
        &mut browser,
        &folder,
        &["--board", "coin", "--depth", &first],
    );
    let tired = shown(&mut browser);
    assert_ne!(fresh["readings"], tired["readings"]);
    assert_ne!(
        fresh["drawing"], tired["drawing"],
        "the drawing shows the change"
    );
    assert!(
        1 < browser
            .value("document.querySelectorAll('#drawing [data-reading]').length")
            .as_u64()
            .expect("a number")
    );
    // The whole drag is one step back.
    browser.back();
    agrees(&mut browser, &folder, &["--board", "coin"]);
    browser.forward();
    agrees(
        &mut browser,
        &folder,
        &["--board", "coin", "--depth", &first],
    );
    browser.is_clean();
}

#[test]
fn figures_follow_the_keys_along_the_curve() {
    let folder = family("desk-slider-keys");
    let desk = Desk::open(folder.path());
    let mut browser = Browser::open("desk-slider-keys");
    browser.goto(&desk.url("/"));
    tab_to(&mut browser, "nav.boards a[href='/board/one%2Dcell']");
    browser.press(&[key::ENTER]);
    browser.wait(
        "location.pathname === '/board/one%2Dcell' && document.getElementById('depth') !== null",
    );
    tab_to(&mut browser, "#depth");
    let mut seen: Vec<String> = Vec::new();
    let ways: [(&[char], &str); 5] = [
        (&[key::RIGHT], "one step"),
        (&[key::UP, key::RIGHT, key::RIGHT], "three more"),
        (&[key::END], "to the end"),
        (&[key::LEFT, key::DOWN], "two back"),
        (&[key::HOME], "to the start"),
    ];
    for (keys, what) in ways {
        browser.press(keys);
        let now = depth(&mut browser);
        assert!(seen.last() != Some(&now), "{what}: {now} as before");
        agrees(
            &mut browser,
            &folder,
            &["--board", "one-cell", "--depth", &now],
        );
        let says = browser.value("document.getElementById('depth').getAttribute('aria-valuetext')");
        assert!(
            says.as_str().is_some_and(|s| s.contains('%')),
            "{what}: {says}"
        );
        assert_eq!(
            browser.value("document.activeElement.id"),
            "depth",
            "the focus stays"
        );
        seen.push(now);
    }
    let numbers: Vec<f64> = seen.iter().map(|d| d.parse().expect("a number")).collect();
    assert!(
        numbers[0] < numbers[1] && numbers[3] < numbers[2],
        "{numbers:?}"
    );
    assert_eq!((numbers[2], numbers[4]), (1.0, 0.0), "{numbers:?}");
    browser.is_clean();
}

/// Moves that come faster than answers are put together: the last one is what the page shows, and far
/// fewer questions are asked than moves were made.
#[test]
fn moves_are_put_together_and_the_last_one_counts() {
    let folder = family("desk-slider-fast");
    let desk = Desk::open(folder.path());
    let mut browser = Browser::open("desk-slider-fast");
    browser.goto(&desk.url("/board/two-cell"));
    agrees(&mut browser, &folder, &["--board", "two-cell"]);
    let asked = browser.run(
        "window.asked = 0;
         const whole = window.fetch;
         window.fetch = (...all) => { if (String(all[0]).startsWith('/live')) window.asked += 1; return whole(...all); };
         const slider = document.getElementById('depth');
         for (let at = 0; at < 400; at += 1) {
           slider.value = String((at * 7) % 1000);
           slider.dispatchEvent(new Event('input', { bubbles: true }));
         }
         slider.value = '250';
         slider.dispatchEvent(new Event('input', { bubbles: true }));
         slider.dispatchEvent(new Event('change', { bubbles: true }));
         return window.asked;",
    );
    assert!(asked.as_u64() <= Some(2), "{asked} questions at once");
    agrees(
        &mut browser,
        &folder,
        &["--board", "two-cell", "--depth", "0.25"],
    );
    let asked: Value = browser.value("window.asked");
    assert!(asked.as_u64() <= Some(5), "{asked} questions for 401 moves");
    browser.is_clean();
}
