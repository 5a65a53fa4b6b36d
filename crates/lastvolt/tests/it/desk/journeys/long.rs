//! Bursts that are looked into, and long work beside which the page stays usable.

use super::super::browser::{Browser, key};
use super::super::served::Desk;
use super::{agrees, family, tab_to};

/// What the section of waveforms says at its cursor.
fn values(browser: &mut Browser) -> String {
    let found = browser.wait("document.getElementById('burst-values')?.innerText ?? null");
    found.as_str().expect("a text").to_owned()
}

const DRAWN: &str = "document.querySelector('#bursts .wave')?.getAttribute('aria-busy') === 'false' \
                     && document.querySelector('#wave-picture svg') !== null";

#[test]
fn a_burst_is_chosen_zoomed_and_read_with_a_cursor() {
    let folder = family("desk-burst");
    let desk = Desk::open(folder.path());
    let mut browser = Browser::open("desk-burst");
    browser.goto(&desk.url("/board/coin"));
    browser.wait(DRAWN);
    // Switching on instead of a task: another picture.
    let picture = "document.querySelector('#wave-picture').textContent";
    let task = browser.value(picture);
    browser.click("label:has([id=\"burst:start\"])");
    browser.wait("new URLSearchParams(location.search).has('burst')");
    browser.wait(DRAWN);
    browser.wait(&format!("{picture} !== {task}"));
    let start = browser.value(picture);
    browser.back();
    browser.wait(&format!("{picture} === {task}"));
    assert_ne!(start, task);
    // Into it: the stretch is narrower and the picture another; a reload shows the same.
    browser.run(
        "document.getElementById('burst-from').value = '1';
         document.getElementById('burst-to').value = '3';",
    );
    browser.click("#burst-show");
    browser.wait("new URLSearchParams(location.search).has('from') && new URLSearchParams(location.search).has('to')");
    browser.wait(&format!("{DRAWN} && {picture} !== {task}"));
    let near = browser.value(picture);
    browser.reload();
    browser.wait(DRAWN);
    assert_eq!(browser.value(picture), near);
    // The cursor reads values, with the keys.
    tab_to(&mut browser, "#burst-at");
    browser.press(&[key::HOME]);
    let first = values(&mut browser);
    browser.press(&[key::END]);
    browser.wait(&format!(
        "document.getElementById('burst-values').innerText !== {}",
        super::quoted(&first)
    ));
    let last = values(&mut browser);
    assert!(last.contains('V') && last.contains("VDD"), "{last}");
    let says = browser.value("document.getElementById('burst-at').getAttribute('aria-valuetext')");
    assert!(says.as_str().is_some_and(|s| s.contains('V')), "{says}");
    browser.is_clean();
}

/// The work of a family that is large enough to be stopped half-way.
#[test]
fn long_work_runs_beside_the_page_and_can_be_stopped() {
    let folder = family("desk-long");
    let desk = Desk::open(folder.path());
    let mut browser = Browser::open("desk-long");
    browser.goto(&desk.url("/board/coin"));
    browser.wait("document.getElementById('pulse').dataset.state === 'live'");
    tab_to(&mut browser, "[data-job-start]");
    browser.press(&[key::ENTER]);
    browser.wait("document.querySelector('#jobs [data-job]') !== null");
    // Beside it everything goes on.
    browser.click("label:has([id=\"set:JP1:fitted\"])");
    agrees(
        &mut browser,
        &folder,
        &["--board", "coin", "--set", "JP1=fitted"],
    );
    let stopped = browser.run(
        "const b = document.querySelector('[data-job-stop]'); if (b) { b.focus(); b.click(); } return b !== null;",
    );
    if stopped == true {
        browser.wait("document.querySelector('[data-job-stop]') === null");
        browser.wait("document.getElementById('jobs').innerText.includes('stopped') || document.querySelectorAll('#jobs table, #jobs svg, #jobs dl').length > 0");
    }
    // What was stopped, or is not there for this setting, can be begun again; and it ends by itself.
    browser.wait("document.querySelector('[data-job-start]') !== null");
    browser.click("[data-job-start]");
    browser.wait("document.querySelector('#jobs [data-job]') !== null && document.querySelector('[data-job-stop]') === null");
    browser.is_clean();
}
