//! How long one life of each board of the example family takes, once its tables are solved, and how
//! many operating points the first one solves.
//!
//! To be reached are 2 ms and 2,000 points, and 5 ms for one burst as a waveform; the ratio behind each
//! figure is the figure over that.

use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use lastvolt_core::circuit::{Circuit, Situation};
use lastvolt_core::model::Family;
use lastvolt_core::progress::Silent;
use lastvolt_core::time::{
    Begin, BurstRequest, Bursts, Climate, LifeRequest, Prepared, burst, life, plan_of_tasks, rested,
};
use lastvolt_input::{Text, board_files, read};

/// The longest that a life should take once it is warm, in milliseconds.
const WANTED_MILLIS: f64 = 2.0;
/// The most operating points that a life should solve.
const WANTED_POINTS: f64 = 2000.0;
/// The longest that one burst should take, in milliseconds.
const WANTED_BURST_MILLIS: f64 = 5.0;
/// For how long a burst is followed after its last edge.
const TAIL_NS: u64 = 10_000_000;
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
    let circuit = circuit(family, board);
    let millis = |tail_ns: u64| -> Vec<f64> {
        let bursts = bursts(family, board, tail_ns);
        let each = bursts.iter();
        each.map(|request| best(50, || burst(&circuit, request, &Silent)))
            .collect()
    };
    let slowest = millis(TAIL_NS).iter().copied().fold(0.0, f64::max);
    // A life follows a burst to its last edge.
    let bare = millis(0);
    let mean = bare.iter().sum::<f64>() / bare.len().max(1) as f64;
    let followed = prepared.life(&Silent).expect("a life").bursts_followed;
    println!(
        "{board}: slowest burst {slowest:.2} ms, {:.2} of what is wanted; a life follows {followed} \
         bursts, about {:.0} % of its time",
        slowest / WANTED_BURST_MILLIS,
        1e2 * followed as f64 * mean / warm
    );
}

#[divan::bench(args = BOARDS, sample_count = 100, max_time = 1)]
fn waveforms_of_all_tasks(bencher: divan::Bencher, board: &str) {
    let family = family();
    let circuit = circuit(&family, board);
    let bursts = bursts(&family, board, TAIL_NS);
    bencher.bench_local(|| {
        for request in &bursts {
            divan::black_box(burst(&circuit, request, &Silent)).expect("a waveform");
        }
    });
}

fn circuit<'f>(family: &'f Family, board: &str) -> Circuit<'f> {
    Circuit::new(family, &[board.to_owned()]).expect("the board")
}

/// The burst of each task, with cells half used.
fn bursts(family: &Family, board: &str, tail_ns: u64) -> Vec<BurstRequest> {
    let circuit = circuit(family, board);
    let profile = family.profiles.first();
    let boards = [board.to_owned()];
    let tasks = profile.iter().flat_map(|p| &p.tasks);
    let each = tasks.map(|task| BurstRequest {
        situation: Situation::usual(family, &boards, profile),
        cells: Some(rested(&circuit, 0.5)),
        begin: Begin::Settled,
        capacitors: Vec::new(),
        stretches: plan_of_tasks(&circuit, &[task], tail_ns),
        enough_volts: None,
    });
    each.collect()
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
