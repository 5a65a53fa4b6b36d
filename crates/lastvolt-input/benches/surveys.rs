//! How long a check of the example family takes, and the survey of its largest pair.
//!
//! To be reached are 2 s for the check; the ratio is the figure over that.

use std::time::Instant;

use lastvolt_core::circuit::Circuit;
use lastvolt_core::model::Family;
use lastvolt_core::progress::Silent;
use lastvolt_core::review::checked;
use lastvolt_core::review::situations::{Grid, How, Survey, plugged, survey};
use lastvolt_input::{Text, board_files, read};

/// The longest that a check should take, in seconds.
const WANTED_SECS: f64 = 2.0;

fn main() {
    divan::main();
    report(&family());
}

#[divan::bench(sample_count = 3)]
fn survey_of_the_largest_pair(bencher: divan::Bencher) {
    let (family, pairs) = plugged(&family(), 2);
    let parts = |boards: &[String]| -> usize {
        let boards = boards.iter().filter_map(|name| family.board(name));
        boards.map(|board| board.parts.len()).sum()
    };
    let pair = pairs.iter().max_by_key(|pair| parts(&pair.boards));
    let boards = &pair.expect("a pair").boards;
    bencher.bench_local(|| surveyed(&family, boards));
}

fn surveyed(family: &Family, boards: &[String]) -> Survey {
    let circuit = Circuit::new(family, boards).expect("the boards");
    let grid = Grid::usual(&circuit);
    let profile = family.profiles.first();
    survey(&circuit, profile, grid, How::Reduced, &Silent)
}

#[expect(clippy::print_stdout, reason = "a bench prints")]
fn report(family: &Family) {
    #[expect(clippy::disallowed_methods, reason = "a bench has a clock")]
    let start = Instant::now();
    let checked = checked(family, None, &Silent).expect("a check");
    let secs = start.elapsed().as_secs_f64();
    println!(
        "check: {secs:.2} s, {:.2} of what is wanted; {} situations solved of {}",
        secs / WANTED_SECS,
        checked.coverage.solved,
        checked.coverage.covered
    );
}

#[expect(clippy::disallowed_methods, reason = "a bench may read the repository")]
fn family() -> Family {
    let root = format!("{}/../../examples/frost-beacon", env!("CARGO_MANIFEST_DIR"));
    let text = |name: &str| Text {
        name: name.to_owned(),
        text: std::fs::read_to_string(format!("{root}/{name}")).expect("a file of the example"),
    };
    let first = text("family.toml");
    let mut texts = vec![first.clone()];
    texts.extend(board_files(&first.text).iter().map(|name| text(name)));
    read(&texts).family.expect("the example reads")
}
