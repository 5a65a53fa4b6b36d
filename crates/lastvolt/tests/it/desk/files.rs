//! The files are the truth: whatever writes them, every page follows; what cannot be read is said, and
//! what was read before stays in sight.

mod broken;
mod restart;

use std::fs;
use std::path::Path;
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use super::browser::Browser;
use super::journeys::{agrees, family};
use super::served::Desk;

/// What the beacon takes asleep, as the example has it.
const ASLEEP: &str = "typ = \"1.7 uA\"";
/// An edit reaches the page within this time on a machine that is busy with tests; alone it is far less.
const REPAINTS: Duration = Duration::from_secs(3);

/// The family file with another current asleep.
fn text(folder: &Path, microamps: f64) -> String {
    let whole = fs::read_to_string(folder.join("family.toml")).expect("a file");
    let from = whole.find("typ = \"").expect("the current asleep");
    let to = from + whole[from..].find(" uA\"").expect("its unit") + " uA\"".len();
    format!("{}typ = \"{microamps} uA\"{}", &whole[..from], &whole[to..])
}

/// Writes a text into a file.
type Save = fn(&Path, &str);

/// Ways in which editors save.
const WAYS: [(&str, Save); 5] = [
    ("in place", |file, text| {
        fs::write(file, text).expect("written")
    }),
    ("beside and renamed", |file, text| {
        let aside = file.with_extension("toml.tmp");
        fs::write(&aside, text).expect("written");
        fs::rename(aside, file).expect("renamed");
    }),
    ("old one set aside first", |file, text| {
        let aside = file.with_extension("toml~");
        fs::rename(file, &aside).expect("renamed");
        fs::write(file, text).expect("written");
        fs::remove_file(aside).expect("removed");
    }),
    ("in several steps", |file, text| {
        use std::io::Write;
        let mut open = fs::File::create(file).expect("opened");
        for piece in text.as_bytes().chunks(text.len() / 4 + 1) {
            open.write_all(piece).expect("written");
            open.flush().expect("written");
            std::thread::sleep(Duration::from_millis(15));
        }
    }),
    ("removed and written", |file, text| {
        fs::remove_file(file).expect("removed");
        fs::write(file, text).expect("written");
    }),
];

/// Notes when the page shows a text in a reading; the clock is that of the system.
fn look_out(browser: &mut Browser, reading: &str, wanted: &str) {
    browser.run(&format!(
        "window.seen = null;
         const look = () => {{
           const e = document.querySelector('[data-reading=\"{reading}\"]');
           if (window.seen === null && e && e.textContent === {wanted:?}) window.seen = performance.timeOrigin + performance.now();
         }};
         window.looking?.disconnect();
         window.looking = new MutationObserver(look);
         window.looking.observe(document, {{ subtree: true, childList: true, characterData: true }});
         look();"
    ));
}

/// Milliseconds of the clock of the system.
fn clock_millis() -> f64 {
    let since = SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .expect("a clock");
    since.as_secs_f64() * 1e3
}

#[test]
fn a_save_in_any_editor_repaints_the_page() {
    let folder = family("desk-editors");
    assert!(
        fs::read_to_string(folder.path().join("family.toml"))
            .expect("a file")
            .contains(ASLEEP)
    );
    let desk = Desk::open(folder.path());
    let mut browser = Browser::open("desk-editors");
    browser.goto(&desk.url("/board/coin?depth=0.2&select=load%3Abeacon"));
    agrees(
        &mut browser,
        &folder,
        &["--board", "coin", "--depth", "0.2"],
    );
    browser.wait("document.getElementById('pulse').dataset.state === 'live'");
    let mut took = Vec::new();
    let mut microamps = 1.75;
    for (way, save) in WAYS {
        microamps += 0.25;
        let text = text(folder.path(), microamps);
        look_out(
            &mut browser,
            "load:beacon:current",
            &format!("{microamps:.2}\u{a0}µA"),
        );
        assert_eq!(
            browser.value("window.seen"),
            serde_json::Value::Null,
            "{way}: not there before"
        );
        let since = clock_millis();
        save(&folder.path().join("family.toml"), &text);
        let seen = browser.wait("window.seen").as_f64().expect("a time");
        took.push(format!("{way}: {:.0} ms", seen - since));
        assert!(seen - since < REPAINTS.as_secs_f64() * 1e3, "{took:?}");
        agrees(
            &mut browser,
            &folder,
            &["--board", "coin", "--depth", "0.2"],
        );
        assert_eq!(
            browser.text("#panel h2"),
            "beacon, load",
            "{way}: what is selected stays"
        );
        assert_eq!(
            browser.value("location.search"),
            "?depth=0.2&select=load%3Abeacon",
            "{way}"
        );
    }
    browser.is_clean();
}

/// A save that changes nothing changes no page.
#[test]
fn a_save_of_the_same_text_changes_nothing() {
    let folder = crate::program::Folder::tiny("desk-same");
    let desk = Desk::open(folder.path());
    let edition = || {
        let page = super::http::get(desk.port, "/").text();
        let found = super::http::between(&page, "name=\"lastvolt-edition\" content=\"", "\"");
        found.expect("an edition").to_owned()
    };
    assert_eq!(edition(), "1");
    for _ in 0..5 {
        let text = fs::read(folder.path().join("coin.toml")).expect("a file");
        folder.write("coin.toml.new", text);
        fs::rename(
            folder.path().join("coin.toml.new"),
            folder.path().join("coin.toml"),
        )
        .expect("renamed");
        std::thread::sleep(Duration::from_millis(120));
    }
    assert_eq!(edition(), "1");
    folder.write(
        "coin.toml",
        crate::program::COIN.replace("A coin cell", "One coin cell"),
    );
    let until = Instant::now() + Duration::from_secs(20);
    while edition() == "1" {
        assert!(Instant::now() < until, "the change is not seen");
        std::thread::sleep(Duration::from_millis(20));
    }
    assert_eq!(edition(), "2");
}

#[test]
fn boards_come_and_go_with_the_family_file() {
    let folder = family("desk-boards");
    let desk = Desk::open(folder.path());
    let mut browser = Browser::open("desk-boards");
    browser.goto(&desk.url("/"));
    browser.wait("document.querySelectorAll('#boards li').length === 4");
    browser.wait("document.getElementById('pulse').dataset.state === 'live'");
    let whole = fs::read_to_string(folder.path().join("family.toml")).expect("a file");
    let fewer = whole.replace(", \"usb.toml\"", "");
    assert_ne!(whole, fewer);
    folder.write("family.toml", &fewer);
    browser.wait("document.querySelectorAll('#boards li').length === 3 && !document.querySelector('nav.boards').innerText.includes('usb')");
    let more = whole.replace("\"usb.toml\"]", "\"usb.toml\", \"spare.toml\"]");
    folder.write(
        "spare.toml",
        fs::read(folder.path().join("coin.toml")).expect("a board"),
    );
    folder.write("family.toml", &more);
    browser.wait("document.querySelectorAll('#boards li').length === 5 && document.querySelector('nav.boards').innerText.includes('spare')");
    browser.click("nav.boards a[href='/board/spare']");
    agrees(&mut browser, &folder, &["--board", "spare"]);
    // The board that is looked at goes: the page says so, and follows when it comes back.
    folder.write("family.toml", &whole);
    browser.wait("document.getElementById('main').innerText.includes('spare') && document.getElementById('depth') === null");
    folder.write("family.toml", &more);
    browser.wait("document.getElementById('depth') !== null");
    agrees(&mut browser, &folder, &["--board", "spare"]);
    browser.is_clean_but(&["404"]);
}

#[test]
fn two_windows_follow_at_once() {
    let folder = family("desk-two");
    let desk = Desk::open(folder.path());
    let mut browser = Browser::open("desk-two");
    browser.goto(&desk.url("/board/coin?depth=0.1"));
    agrees(
        &mut browser,
        &folder,
        &["--board", "coin", "--depth", "0.1"],
    );
    let (first, second) = browser.another();
    browser.goto(&desk.url("/board/usb"));
    agrees(&mut browser, &folder, &["--board", "usb"]);
    for microamps in [2.5, 3.0] {
        let text = text(folder.path(), microamps);
        folder.write("family.toml", &text);
        let wanted = format!(
            "document.querySelector('[data-reading=\"load:beacon:current\"]').textContent.startsWith('{microamps:.2}')"
        );
        browser.switch(&first);
        browser.wait(&wanted);
        agrees(
            &mut browser,
            &folder,
            &["--board", "coin", "--depth", "0.1"],
        );
        browser.switch(&second);
        browser.wait(&wanted);
        agrees(&mut browser, &folder, &["--board", "usb"]);
    }
    // What one sets is its own.
    browser.switch(&first);
    assert_eq!(
        browser.value("location.pathname + location.search"),
        "/board/coin?depth=0.1"
    );
    browser.is_clean();
}
