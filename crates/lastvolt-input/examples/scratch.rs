//! scratch
use lastvolt_core::progress::Silent;
use lastvolt_core::time::{Climate, LifeRequest, Prepared};
use lastvolt_input::{Text, board_files, read};
use std::collections::BTreeMap;
fn main() {
    let args: Vec<String> = std::env::args().collect();
    let root = "examples/frost-beacon";
    let text = |name: &str| Text {
        name: name.to_owned(),
        text: std::fs::read_to_string(format!("{root}/{name}")).unwrap(),
    };
    let first = text("family.toml");
    let mut texts = vec![first.clone()];
    texts.extend(board_files(&first.text).iter().map(|name| text(name)));
    let family = read(&texts).family.unwrap();
    let n: usize = args[2].parse().unwrap();
    let mut p = Prepared::new(LifeRequest {
        family: &family,
        board: &args[1],
        profile: family.profiles.first().map(|p| p.name.as_str()),
        ambient: Climate::Steady(family.requirement.ambient.usual),
        positions: BTreeMap::new(),
    });
    let mut best = f64::MAX;
    for _ in 0..n {
        let t = std::time::Instant::now();
        let l = p.life(&Silent).unwrap();
        best = best.min(t.elapsed().as_secs_f64() * 1e3);
        std::hint::black_box(l);
    }
    println!("{best:.3} ms {:?}", p.life(&Silent).unwrap().life_secs);
}
