//! The desk ends and is started again: the page says that it is alone, and goes on when it is not.

use super::super::browser::Browser;
use super::super::http::token;
use super::super::journeys::{agrees, family, shown};
use super::super::served::Desk;
use super::text;

#[test]
fn a_desk_that_died_is_followed_again_at_the_same_port() {
    let folder = family("desk-restart");
    let desk = Desk::open(folder.path());
    let port = desk.port.to_string();
    let mut browser = Browser::open("desk-restart");
    browser.goto(&desk.url("/board/coin?depth=0.3&set=JP1%3Dfitted&select=part%3AR2"));
    agrees(
        &mut browser,
        &folder,
        &["--board", "coin", "--depth", "0.3", "--set", "JP1=fitted"],
    );
    browser.wait("document.getElementById('pulse').dataset.state === 'live'");
    let before = shown(&mut browser);
    let old = token(desk.port);
    // Killed, as by a fault of the machine: no last words.
    drop(desk);
    browser.wait("document.getElementById('pulse').dataset.state === 'lost'");
    // A file changes while nobody looks.
    folder.write("family.toml", text(folder.path(), 2.75));
    let desk = Desk::with(folder.path(), &["--port", &port]);
    assert_eq!(desk.port.to_string(), port, "the port is free again");
    browser.wait("document.getElementById('pulse').dataset.state === 'live'");
    browser.wait("document.querySelector('[data-reading=\"load:beacon:current\"]').textContent.startsWith('2.75')");
    agrees(
        &mut browser,
        &folder,
        &["--board", "coin", "--depth", "0.3", "--set", "JP1=fitted"],
    );
    let after = shown(&mut browser);
    for same in ["address", "on", "choices", "depth", "selected"] {
        assert_eq!(before[same], after[same], "{same}");
    }
    // Writing goes on as well: the page has the word of the new desk.
    let new = token(desk.port);
    assert_ne!(old, new);
    assert_eq!(
        browser.value("document.querySelector('meta[name=lastvolt-token]').content"),
        new
    );
    browser.is_clean_but(&["ERR_CONNECTION", "ERR_INCOMPLETE", "ERR_EMPTY"]);
}
