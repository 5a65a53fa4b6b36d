//! How long one life of a board of the example family takes, and how many operating points.
use lastvolt_core::progress::Silent;
use lastvolt_core::time::{LifeRequest, life};
use lastvolt_input::{Text, board_files, read};
use std::time::Instant;
fn main() {
    let root = format!("{}/../../examples/frost-beacon", env!("CARGO_MANIFEST_DIR"));
    let text = |name: &str| Text { name: name.to_owned(), text: std::fs::read_to_string(format!("{root}/{name}")).expect(name) };
    let family = text("family.toml");
    let mut texts = vec![family.clone()];
    texts.extend(board_files(&family.text).iter().map(|n| text(n)));
    let family = read(&texts).family.unwrap();
    for board in ["coin", "one-cell", "two-cell"] {
        let request = LifeRequest { family: &family, board, profile: Some("watch"), ambient: family.requirement.ambient.usual, positions: Default::default() };
        let mut best = f64::MAX;
        let mut l = None;
        let n: usize = std::env::var("N").map_or(10, |n| n.parse().unwrap());
        for _ in 0..n {
            let t = Instant::now();
            l = Some(life(&request, &Silent).unwrap());
            best = best.min(t.elapsed().as_secs_f64());
        }
        let l = l.unwrap();
        println!("{board}: {:.2} ms, {} points, nets {}", best * 1e3, l.points_solved, family.board(board).unwrap().nets.len());
        if std::env::var("DUMP").is_ok() { println!("{l:#?}"); }
    }
}
