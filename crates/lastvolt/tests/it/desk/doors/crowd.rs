//! Many readers at once while the files are written: each answer is whole and of one edition.

use std::fs;
use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;

use serde_json::Value;

use super::super::http::{Line, between};
use super::super::served::Desk;
use super::is_well;
use crate::program::{COIN, FAMILY, Folder};

/// Readers at once.
const READERS: usize = 100;
/// What each asks for, in turn.
const ROUNDS: usize = 6;
/// What the radio takes asleep in one text of the family, and in the other.
const SLEEP: [(&str, &str); 2] = [("3 uA", "3.00"), ("700 uA", "700")];

/// Puts a text in the place of a file at once, as careful editors do.
fn put(folder: &Path, name: &str, text: &str) {
    let aside = folder.join(".aside");
    fs::write(&aside, text).expect("written");
    fs::rename(aside, folder.join(name)).expect("renamed");
}

/// The two texts alternate, and an edition comes only where the text is another: so the number of an
/// edition is odd with the first text and even with the second, whatever was skipped between.
#[test]
fn a_hundred_readers_get_whole_answers_of_one_edition_while_files_are_written() {
    let folder = Folder::tiny("doors-crowd");
    let texts =
        SLEEP.map(|(amps, _)| FAMILY.replace("sleep = \"3 uA\"", &format!("sleep = \"{amps}\"")));
    let boards = SLEEP.map(|(amps, _)| {
        COIN.replace(
            "A coin cell and a switch",
            &format!("For a sleep of {amps}"),
        )
    });
    assert_ne!(texts[0], texts[1]);
    assert_ne!(boards[0], boards[1]);
    put(folder.path(), "family.toml", &texts[0]);
    let mut desk = Desk::open(folder.path());
    let (port, done) = (desk.port, AtomicBool::new(false));
    let (editions, answers) = (AtomicUsize::new(0), AtomicUsize::new(0));
    std::thread::scope(|scope| {
        scope.spawn(|| {
            let mut at = 0;
            while !done.load(Ordering::Relaxed) {
                at = 1 - at;
                put(folder.path(), "family.toml", &texts[at]);
                std::thread::sleep(Duration::from_millis(90));
            }
        });
        let readers: Vec<_> = (0..READERS)
            .map(|_| {
                scope.spawn(|| {
                    let mut line = Line::open(port);
                    for _ in 0..ROUNDS {
                        let live = line.get("/live/board/coin").expect("an answer");
                        let page = line.get("/board/coin").expect("an answer");
                        assert_eq!((live.status, page.status), (200, 200));
                        let number = is_one(&live.text()).max(is_page(&page.text()));
                        editions.fetch_max(number, Ordering::Relaxed);
                        answers.fetch_add(2, Ordering::Relaxed);
                    }
                })
            })
            .collect();
        let ended: Vec<_> = readers.into_iter().map(|r| r.join()).collect();
        done.store(true, Ordering::Relaxed);
        assert!(ended.iter().all(Result::is_ok), "a reader failed");
    });
    assert_eq!(answers.load(Ordering::Relaxed), READERS * ROUNDS * 2);
    let editions = editions.load(Ordering::Relaxed);
    assert!(3 < editions, "only {editions} editions were seen");
    is_well(&mut desk, "a crowd");
}

/// A live answer has the figures of the edition that it names; its number.
fn is_one(text: &str) -> usize {
    let answer: Value = serde_json::from_str(text).expect("whole JSON");
    let edition = answer["edition"].as_u64().expect("a number");
    let says = answer["readings"]["load:radio:current"]
        .as_str()
        .expect("a reading");
    is_of(edition, says);
    usize::try_from(edition).expect("few")
}

/// A page is whole and has the figures of the edition that it names; its number.
fn is_page(html: &str) -> usize {
    assert!(html.trim_end().ends_with("</html>"), "cut off");
    let edition = between(html, "name=\"lastvolt-edition\" content=\"", "\"").expect("an edition");
    let edition: u64 = edition.parse().expect("a number");
    let says = between(html, "data-reading=\"load:radio:current\">", "<").expect("a reading");
    is_of(edition, says);
    usize::try_from(edition).expect("few")
}

fn is_of(edition: u64, says: &str) {
    let wanted = if edition % 2 == 1 {
        SLEEP[0].1
    } else {
        SLEEP[1].1
    };
    assert!(says.starts_with(wanted), "edition {edition} says {says}");
}
