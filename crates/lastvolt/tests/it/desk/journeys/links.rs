//! Links: every state of the desk is one, back and forward lead through them, and names that are not
//! there are said.

use serde_json::Value;

use super::super::browser::{Browser, key};
use super::super::http::get;
use super::super::served::Desk;
use super::{agrees, family, shown, tab_to};

/// Waits until the page no longer changes on its own: the review is there, no answer is under way.
fn settled(browser: &mut Browser) -> Value {
    browser.wait("document.getElementById('review-progress') === null && document.querySelector('[data-stale]') === null");
    let mut before = Value::Null;
    for _ in 0..100 {
        let now = shown(browser);
        if now == before {
            return now;
        }
        before = now;
        std::thread::sleep(std::time::Duration::from_millis(150));
    }
    panic!("the page does not come to rest: {before:#}");
}

/// Links that state one thing each, and one that states many.
const LINKS: [&str; 12] = [
    "/board/coin",
    "/board/coin?depth=0.4",
    "/board/coin?ambient=low",
    "/board/coin?ambient=-7.5+degC",
    "/board/coin?set=S1%3Doff&set=JP1%3Dfitted",
    "/board/two-cell?reverse=BT1.2",
    "/board/usb?absent=J1",
    "/board/coin?state=beacon%3Dtransmit",
    "/board/one-cell?history=cold",
    "/board/two-cell?select=part%3AU1",
    "/board/two-cell?select=net%3AVDD",
    "/stack/coin+two-cell?depth=0.35&ambient=high&set=two-cell%2FS1%3Ddirect&reverse=coin%2FBT1&state=beacon%3Dlisten&select=part%3Acoin%2FBT1",
];

#[test]
fn every_link_shows_the_same_after_a_reload() {
    let folder = family("desk-links");
    let desk = Desk::open(folder.path());
    let mut browser = Browser::open("desk-links");
    browser.goto(&desk.url("/"));
    browser.wait("document.querySelector('#found')?.innerText.length > 100");
    let mut all: Vec<Value> = Vec::new();
    for link in LINKS {
        browser.goto(&desk.url(link));
        let first = settled(&mut browser);
        assert_eq!(
            browser.value("document.getElementById('dropped')"),
            Value::Null,
            "{link} is understood"
        );
        browser.reload();
        same(&settled(&mut browser), &first);
        assert!(!all.contains(&first), "{link} shows what another does");
        all.push(first);
    }
    let last = all.last().expect("links");
    assert_eq!(last["selected"], "coin/BT1, cell");
    for on in ["set:two-cell/S1:direct", "reverse:coin/BT1"] {
        assert!(
            last["on"]
                .as_array()
                .is_some_and(|o| o.iter().any(|id| id == on)),
            "{on}"
        );
    }
    browser.is_clean();
}

/// The same links, reached by hand: what a control sets is what its link states.
#[test]
fn back_and_forward_lead_through_what_was_set() {
    let folder = family("desk-history");
    let desk = Desk::open(folder.path());
    let mut browser = Browser::open("desk-history");
    browser.goto(&desk.url("/board/coin"));
    let mut steps = vec![settled(&mut browser)];
    for way in [
        "label:has([id=\"set:JP1:fitted\"])",
        "label:has([id=\"set:S1:off\"])",
        "a[data-choose=\"part:R1\"]",
        "label:has([id=\"history:cold\"])",
        "a[data-choose=\"net:GND\"]",
    ] {
        browser.click(way);
        browser.wait(&format!(
            "location.search !== {}",
            quoted_search(steps.last().expect("a step"))
        ));
        steps.push(settled(&mut browser));
    }
    for step in steps.iter().rev().skip(1) {
        browser.back();
        browser.wait(&format!(
            "location.pathname + location.search === {}",
            step["address"]
        ));
        same(&settled(&mut browser), step);
    }
    for step in steps.iter().skip(1) {
        browser.forward();
        browser.wait(&format!(
            "location.pathname + location.search === {}",
            step["address"]
        ));
        same(&settled(&mut browser), step);
    }
    // What was reached by hand is what the link alone shows.
    let last = steps.last().expect("steps");
    browser.goto(&desk.url(last["address"].as_str().expect("an address")));
    same(&settled(&mut browser), last);
    browser.is_clean();
}

/// Fails with what differs between two pages that should show the same.
fn same(found: &Value, wanted: &Value) {
    for (name, value) in wanted.as_object().expect("a page") {
        assert_eq!(&found[name], value, "{name} at {}", wanted["address"]);
    }
}

fn quoted_search(step: &Value) -> String {
    let address = step["address"].as_str().expect("an address");
    let search = address.find('?').map_or("", |at| &address[at..]);
    super::quoted(search)
}

#[test]
fn parts_are_chosen_with_the_mouse_and_with_the_keys() {
    let folder = family("desk-choose");
    let desk = Desk::open(folder.path());
    let mut browser = Browser::open("desk-choose");
    browser.goto(&desk.url("/board/two-cell"));
    browser.click("#panel a[data-choose=\"part:R1\"]");
    browser.wait("document.querySelector('#panel h2').textContent === 'R1, resistor'");
    assert_eq!(
        browser.value("new URLSearchParams(location.search).get('select')"),
        "part:R1"
    );
    agrees(&mut browser, &folder, &["--board", "two-cell"]);

    // In the drawing itself.
    browser.click("#drawing a.pick[href*='part%3AU1']");
    browser.wait("document.querySelector('#panel h2').textContent.startsWith('U1, ')");
    browser.wait("document.querySelector('#drawing a.pick.chosen[aria-current=true][href*=\"part%3AU1\"]') !== null");
    tab_to(&mut browser, "#drawing a.pick[href*='part%3AC1']");
    browser.press(&[key::ENTER]);
    browser.wait("document.querySelector('#panel h2').textContent === 'C1, capacitor'");
    let marked = browser.value("document.querySelectorAll('#drawing .chosen').length");
    assert_eq!(
        marked,
        browser.value("document.querySelectorAll('#drawing a[href*=\"part%3AC1\"]').length")
    );
    // From the part to its net, and to nothing.
    tab_to(&mut browser, "#panel a[data-choose=\"net:VIN\"]");
    browser.press(&[key::ENTER]);
    browser.wait("document.querySelector('#panel h2').textContent === 'Net VIN'");
    browser.wait("document.getElementById('spoken').textContent.includes('Net VIN')");
    tab_to(&mut browser, "#panel a[data-choose=\"\"]");
    browser.press(&[key::ENTER]);
    browser.wait("document.querySelector('#panel h2').textContent === 'Selected'");
    assert_eq!(browser.value("location.search"), "");
    browser.is_clean();
}

#[test]
fn names_that_are_not_there_are_said_and_the_rest_holds() {
    let folder = family("desk-unknown");
    let desk = Desk::open(folder.path());
    let link = "/board/coin?depth=0.4&set=S9%3Don&set=S1%3Dsideways&reverse=BT9&absent=R1&state=kettle%3Dboil\
                &profile=tea&ambient=lukewarm&select=finding%3Anone&colour=blue&depth=7";
    let page = get(desk.port, link);
    assert_eq!(page.status, 200);
    let mut browser = Browser::open("desk-unknown");
    browser.goto(&desk.url(link));
    let says = browser.text("#dropped");
    for word in [
        "S9", "sideways", "BT9", "R1", "kettle", "tea", "lukewarm", "blue", "7",
    ] {
        assert!(says.contains(word), "no {word} in {says}");
    }
    assert_eq!(
        browser.value("document.getElementById('dropped').getAttribute('role')"),
        "status"
    );
    agrees(
        &mut browser,
        &folder,
        &["--board", "coin", "--depth", "0.4"],
    );
    for (path, wanted) in [
        ("/board/none", "none"),
        ("/stack/coin+none", "none"),
        ("/nowhere", "nowhere"),
    ] {
        assert_eq!(get(desk.port, path).status, 404, "{path}");
        browser.goto(&desk.url(path));
        assert!(browser.text("main").contains(wanted), "{path}");
        browser.click("main a[href='/']");
        browser.wait("location.pathname === '/'");
    }
    // A page that is not there is an error for the console of the browser too, and nothing else is.
    browser.is_clean_but(&["404"]);
}
