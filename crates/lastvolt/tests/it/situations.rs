//! Surveys of the example: the reduced enumeration against the full one, and what is counted.

use std::path::PathBuf;

use lastvolt_core::circuit::Circuit;
use lastvolt_core::model::Family;
use lastvolt_core::progress::{Progress, Silent};
use lastvolt_core::review::checked;
use lastvolt_core::review::situations::{Grid, How, Survey, plugged, survey};
use lastvolt_input::Text;

use crate::rules::load;

fn example() -> Family {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../examples/frost-beacon");
    let names = ["family", "coin", "one-cell", "two-cell", "usb"];
    let text = |name: &str| Text {
        name: format!("{name}.toml"),
        text: std::fs::read_to_string(folder.join(format!("{name}.toml"))).expect("a text"),
    };
    load("frost-beacon", &names.map(text)).0
}

fn surveyed(family: &Family, boards: &[&str], how: How) -> Survey {
    let names: Vec<String> = boards.iter().map(|b| (*b).to_owned()).collect();
    let circuit = Circuit::new(family, &names).expect("the boards are there");
    let grid = Grid::usual(&circuit);
    survey(&circuit, family.profiles.first(), grid, how, &Silent)
}

/// Every worst case of the whole product is found by solving a small share of it.
#[test]
fn law_the_reduced_survey_finds_what_the_full_one_finds() {
    let (family, _) = plugged(&example(), 2);
    let boards = ["coin", "usb"];
    let reduced = surveyed(&family, &boards, How::Reduced);
    let full = surveyed(&family, &boards, How::Full);
    assert_eq!(reduced.covered, full.covered);
    assert!(
        5 * reduced.solved < full.solved,
        "{} of {}",
        reduced.solved,
        full.solved
    );
    let named = |s: &Survey| -> Vec<_> {
        let each = s.worst.iter().filter(|w| !w.turned);
        each.map(|w| (w.turned, w.what, w.part.clone())).collect()
    };
    assert_eq!(named(&reduced), named(&full));
    let forward = |s: &Survey| {
        s.worst
            .iter()
            .filter(|w| !w.turned)
            .cloned()
            .collect::<Vec<_>>()
    };
    for (few, all) in forward(&reduced).iter().zip(&forward(&full)) {
        // Warm starts differ, so the last digits of the two may; picoamperes are below what is solved.
        let near = (few.value - all.value).abs() <= 1e-4 * all.value + 1e-12;
        assert!(near, "{} {:?}: {few:?} against {all:?}", few.part, few.what);
    }
}

/// A board and a second one of its kind are exchanged instead of solved again; under a name that says
/// nothing about that every situation is solved, and the figures are the same.
#[test]
fn law_two_equal_boards_read_the_same_when_exchanged() {
    let (family, _) = plugged(&example(), 2);
    let mut renamed = family.clone();
    let rename = |name: &mut String| *name = name.replace(" (second)", " b");
    renamed.boards.iter_mut().for_each(|b| rename(&mut b.name));
    let on = renamed.loads.iter_mut().filter_map(|load| load.on.as_mut());
    on.flatten().for_each(rename);
    let exchanged = surveyed(&family, &["coin", "coin (second)"], How::Reduced);
    let solved = surveyed(&renamed, &["coin", "coin b"], How::Reduced);
    assert_eq!(exchanged.covered, solved.covered);
    assert!(
        3 * exchanged.solved < 2 * solved.solved,
        "{}",
        exchanged.solved
    );
    assert_eq!(exchanged.worst.len(), solved.worst.len());
    for (one, all) in exchanged.worst.iter().zip(&solved.worst) {
        let near = (one.value - all.value).abs() <= 1e-4 * all.value + 1e-12;
        assert!(near, "{one:?} against {all:?}");
    }
}

#[test]
fn a_check_says_how_many_situations_it_covers() {
    let family = example();
    let found = checked(&family, None, &Silent).expect("the example solves");
    let coverage = &found.coverage;
    assert_eq!((coverage.boards, coverage.stacks), (4, 10));
    assert!(coverage.left_out.is_empty(), "{:?}", coverage.left_out);
    assert!(10 * coverage.solved < coverage.covered, "{coverage:?}");
}

struct Stopped;

impl Progress for Stopped {
    fn at(&self, _done: f64) {}

    fn cancelled(&self) -> bool {
        true
    }
}

#[test]
fn a_survey_that_is_stopped_says_so() {
    let (family, _) = plugged(&example(), 2);
    let names = ["coin".to_owned(), "coin (second)".to_owned()];
    let circuit = Circuit::new(&family, &names).expect("the boards are there");
    let grid = Grid::usual(&circuit);
    let found = survey(&circuit, None, grid, How::Reduced, &Stopped);
    assert_eq!(found.solved, 0);
    assert!(
        found
            .left_out
            .expect("words")
            .contains("stopped after 0 of")
    );
}
