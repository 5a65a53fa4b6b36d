//! How long one life of each board of the example family takes, once its tables are solved, and how
//! many operating points the first one solves.
//!
//! To be reached are 2 ms and 2,000 points; the ratio behind each figure is the figure over that.

use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use lastvolt_core::model::Family;
use lastvolt_core::progress::Silent;
use lastvolt_core::time::{Bursts, Climate, LifeRequest, Prepared, life};
use lastvolt_input::{Text, board_files, read};

/// The longest that a life should take once it is warm, in milliseconds.
const WANTED_MILLIS: f64 = 2.0;
/// The most operating points that a life should solve.
const WANTED_POINTS: f64 = 2000.0;
const BOARDS: [&str; 3] = ["coin", "one-cell", "two-cell"];

fn main() {
    divan::main();
    let family = family();
    for board in BOARDS {
        report(&family, board);
    }
}

#[divan::bench(args = BOARDS, sample_count = 100, max_time = 1)]
fn warm_life(bencher: divan::Bencher, board: &str) {
    let family = family();
    let mut prepared = Prepared::new(request(&family, board));
    prepared.life(&Silent).expect("a life");
    bencher.bench_local(|| prepared.life(&Silent));
}

#[divan::bench(args = BOARDS, sample_count = 100, max_time = 1)]
fn first_life(bencher: divan::Bencher, board: &str) {
    let family = family();
    bencher.bench_local(|| life(&request(&family, board), &Silent));
}

#[expect(clippy::print_stdout, reason = "a bench prints")]
fn report(family: &Family, board: &str) {
    let first = best(20, || life(&request(family, board), &Silent));
    let points = life(&request(family, board), &Silent)
        .expect("a life")
        .points_solved;
    let mut prepared = Prepared::new(request(family, board));
    let warm = best(200, || prepared.life(&Silent));
    println!(
        "{board}: warm life {warm:.2} ms, {:.2} of what is wanted; first life {first:.2} ms; \
         {points} points, {:.2} of what is allowed",
        warm / WANTED_MILLIS,
        points as f64 / WANTED_POINTS
    );
}

/// Milliseconds of the best of some samples.
fn best<T>(samples: usize, mut sample: impl FnMut() -> T) -> f64 {
    let mut best = Duration::MAX;
    for _ in 0..samples {
        #[expect(clippy::disallowed_methods, reason = "a bench has a clock")]
        let start = Instant::now();
        divan::black_box(sample());
        best = best.min(start.elapsed());
    }
    best.as_secs_f64() * 1e3
}

fn request<'a>(family: &'a Family, board: &'a str) -> LifeRequest<'a> {
    LifeRequest {
        family,
        board,
        profile: family.profiles.first().map(|p| p.name.as_str()),
        ambient: Climate::Steady(family.requirement.ambient.usual),
        bursts: Bursts::Followed,
        positions: BTreeMap::new(),
    }
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
