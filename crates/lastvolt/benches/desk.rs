//! How fast the desk answers, as a page of it asks: moves of the slider at 200 a second, alone and while
//! the rules look at a new edition; how much a page weighs, when it is first painted, and how long an edit
//! on disk takes to the repainted page.
//!
//! To be reached for the boards of the example family: a median of 5 ms and a 99th percentile of 16 ms for
//! a move, 400 kB a page, 1 s to the first paint, 0.5 s from edit to repaint.

use std::fs;
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use browser::Browser;
use http::Line;
use program::{Folder, example};
use served::Desk;

#[expect(dead_code, reason = "the tests use the rest of it")]
#[path = "../tests/it/desk/browser.rs"]
mod browser;
#[expect(dead_code, reason = "the tests use the rest of it")]
#[path = "../tests/it/desk/http.rs"]
mod http;
#[expect(dead_code, reason = "the tests use the rest of it")]
#[path = "../tests/it/program.rs"]
mod program;
#[expect(dead_code, reason = "the tests use the rest of it")]
#[path = "../tests/it/desk/served.rs"]
mod served;

/// What is looked at: every board of the example family, and two of them plugged together.
const BENCHES: [&str; 5] = [
    "board/coin",
    "board/one-cell",
    "board/two-cell",
    "board/usb",
    "stack/coin+two-cell",
];
/// Time between two moves.
const BETWEEN: Duration = Duration::from_millis(5);
/// Moves of one measurement: ten seconds.
const MOVES: u32 = 2000;
/// Edits on disk.
const EDITS: u32 = 10;

fn main() {
    let folder = Folder::new("bench-desk");
    for entry in fs::read_dir(example()).expect("the example") {
        let path = entry.expect("an entry").path();
        let name = path
            .file_name()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        folder.write(&name, fs::read(&path).expect("its text"));
    }
    let desk = Desk::open(folder.path());
    wait_for_review(&desk);
    say("a move of the slider, 200 a second for 10 s");
    for bench in BENCHES {
        say(&format!("  {bench:22} {}", moves(&desk, bench)));
    }
    say("the same while the rules look at one edition after the other");
    for bench in BENCHES {
        say(&format!(
            "  {bench:22} {}",
            while_reviewing(&desk, folder.path(), bench)
        ));
    }
    wait_for_review(&desk);
    painted(&desk, folder.path());
}

#[expect(clippy::print_stdout, reason = "what a bench is for")]
fn say(line: &str) {
    println!("{line}");
}

fn wait_for_review(desk: &Desk) {
    let until = Instant::now() + Duration::from_secs(60);
    while http::get(desk.port, "/").text().contains("review-progress") {
        assert!(Instant::now() < until, "no review");
        std::thread::sleep(Duration::from_millis(50));
    }
}

/// Median, 99th percentile and longest of the answers to moves that come at their times.
fn moves(desk: &Desk, bench: &str) -> String {
    let mut line = Line::open(desk.port);
    let mut millis = Vec::new();
    let begin = Instant::now();
    for at in 0..MOVES {
        // A hand that goes to and fro.
        let place = (at * 7) % 2000;
        let depth = f64::from(place.min(2000 - place)) / 1000.0;
        let due = begin + BETWEEN * at;
        std::thread::sleep(due.saturating_duration_since(Instant::now()));
        let asked = Instant::now();
        let answer = line
            .get(&format!("/live/{bench}?depth={depth}"))
            .expect("an answer");
        assert_eq!(answer.status, 200);
        millis.push(asked.elapsed().as_secs_f64() * 1e3);
    }
    let rate = f64::from(MOVES) / begin.elapsed().as_secs_f64();
    millis.sort_by(f64::total_cmp);
    let at = |percent: usize| millis[(millis.len() * percent / 100).min(millis.len() - 1)];
    format!(
        "median {:6.2} ms   99 % {:6.2} ms   longest {:6.2} ms   {rate:.0} a second",
        at(50),
        at(99),
        at(100)
    )
}

/// The same while a file is written every second and a half, so that a review is always under way.
fn while_reviewing(desk: &Desk, folder: &Path, bench: &str) -> String {
    let done = AtomicBool::new(false);
    let file = folder.join("family.toml");
    let text = fs::read_to_string(&file).expect("a file");
    std::thread::scope(|scope| {
        scope.spawn(|| {
            let mut at = 0;
            while !done.load(Ordering::Relaxed) {
                fs::write(&file, format!("{text}\n# edition {at} of {bench}\n")).expect("written");
                at += 1;
                std::thread::sleep(Duration::from_millis(1500));
            }
        });
        let found = moves(desk, bench);
        done.store(true, Ordering::Relaxed);
        found
    })
}

/// Weight, requests and first paint of pages, and the time from an edit to the repainted page.
fn painted(desk: &Desk, folder: &Path) {
    let mut browser = Browser::open("bench-desk");
    say("pages in the browser, cold");
    for bench in BENCHES {
        browser.inner("Network.clearBrowserCache", &serde_json::json!({}));
        browser.goto("about:blank");
        browser.goto(&desk.url(&format!("/{bench}")));
        browser.wait("document.readyState === 'complete' && performance.getEntriesByName('first-contentful-paint').length === 1");
        let found = browser.run(
            "const all = [...performance.getEntriesByType('navigation'), ...performance.getEntriesByType('resource')]
               .filter((e) => !e.name.endsWith('/news'));
             return [performance.getEntriesByName('first-contentful-paint')[0].startTime, all.length,
               all.reduce((sum, e) => sum + e.transferSize, 0)];",
        );
        let number = |at: usize| found[at].as_f64().expect("a number");
        let (paint, requests, bytes) = (number(0), number(1), number(2));
        say(&format!(
            "  {bench:22} first paint {paint:5.0} ms   {requests} requests   {:5.1} kB",
            bytes / 1e3
        ));
    }
    edits(&mut browser, desk, folder);
}

/// The time from an edit on disk to the repainted page.
fn edits(browser: &mut Browser, desk: &Desk, folder: &Path) {
    browser.goto(&desk.url("/board/two-cell?depth=0.2"));
    browser.wait("document.getElementById('pulse').dataset.state === 'live'");
    let file = folder.join("family.toml");
    let text = fs::read_to_string(&file).expect("a file");
    let mut millis = Vec::new();
    for at in 0..EDITS {
        let amps = format!("{:.2}", 2.0 + f64::from(at) * 0.05);
        browser.run(&format!(
            "window.seen = null; window.looking?.disconnect();
             window.looking = new MutationObserver(() => {{
               const e = document.querySelector('[data-reading=\"load:beacon:current\"]');
               if (window.seen === null && e?.textContent.startsWith('{amps}')) requestAnimationFrame(() => {{
                 window.seen ??= performance.timeOrigin + performance.now();
               }});
             }});
             window.looking.observe(document, {{ subtree: true, childList: true, characterData: true }});"
        ));
        let since = SystemTime::now()
            .duration_since(UNIX_EPOCH)
            .expect("a clock")
            .as_secs_f64()
            * 1e3;
        fs::write(
            &file,
            text.replace("typ = \"1.7 uA\"", &format!("typ = \"{amps} uA\"")),
        )
        .expect("written");
        millis.push(browser.wait("window.seen").as_f64().expect("a time") - since);
    }
    millis.sort_by(f64::total_cmp);
    let (median, longest) = (millis[millis.len() / 2], millis[millis.len() - 1]);
    say(&format!(
        "an edit on disk to the repainted page: median {median:.0} ms, longest {longest:.0} ms of {EDITS}"
    ));
}
