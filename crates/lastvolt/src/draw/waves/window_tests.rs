//! Stretches of a real waveform: they lie where they say, keep what happens in them and stand clear.

use std::path::Path;

use lastvolt_core::circuit::{Circuit, Situation};
use lastvolt_core::progress::Silent;
use lastvolt_core::time::{Occasion, Question, deepest_task};

use super::window;
use crate::cli::load::load;
use crate::draw::check::faults;
use crate::text::told::Told;

/// Calls with the deepest task of a board of the example, and when it is over.
fn with_burst(board: &str, check: impl Fn(&Told, f64)) {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples/frost-beacon");
    let family = load(&dir).expect("the example");
    let names = [board.to_owned()];
    let circuit = Circuit::new(&family.model, &names).expect("a circuit");
    let profile = family.model.profiles.first().expect("a profile");
    let situation = Situation::usual(&family.model, &names, Some(profile));
    let task = deepest_task(&circuit, &situation, profile).expect("a task");
    let question = Question {
        circuit: &circuit,
        situation: &situation,
        cells: None,
        occasion: Occasion::Tasks(vec![task]),
        tail_ns: None,
    };
    let followed = question.follow(&Silent).expect("a waveform");
    let told = Told {
        circuit: &circuit,
        occasion: &question.occasion,
        followed: &followed,
        chosen: true,
    };
    let end = *followed.wave.time_secs.last().expect("instants");
    check(&told, end);
}

fn value(svg: &str, name: &str) -> f64 {
    let found = svg.split_once(&format!(" data-{name}=\"")).expect(name).1;
    let found = found.split('"').next().expect("an end");
    found.parse().expect("a number")
}

#[test]
fn a_stretch_says_where_it_lies_and_stands_clear() {
    with_burst("coin", |told, end| {
        for (from, to) in [
            (0.0, end),
            (0.1 * end, 0.2 * end),
            (0.5 * end, 0.500_01 * end),
        ] {
            let svg = window(told, from, to).draw();
            assert_eq!(faults(&svg), Vec::<String>::new(), "{from} {to}");
            assert_eq!(value(&svg, "time-from-s").to_bits(), from.to_bits());
            assert_eq!(value(&svg, "time-to-s").to_bits(), to.min(end).to_bits());
            assert!(value(&svg, "time-left") < value(&svg, "time-right"));
            // Both widths of page have the line, which nobody sees before it is asked for.
            assert_eq!(svg.matches("class=\"cursor\" display=\"none\"").count(), 2);
        }
    });
}

#[test]
fn the_traces_of_a_stretch_reach_from_its_left_to_its_right() {
    with_burst("coin", |told, end| {
        let svg = window(told, 0.013 * end, 0.377 * end).draw();
        let (left, right) = (value(&svg, "time-left"), value(&svg, "time-right"));
        let trace = svg
            .split_once("class=\"wave-1\" points=\"")
            .expect("a trace");
        let trace = trace.1.split('"').next().expect("an end");
        let x = |point: Option<&str>| -> f64 {
            let x = point.and_then(|p| p.split(',').next()).expect("a point");
            x.parse().expect("a number")
        };
        assert!((x(trace.split(' ').next()) - left).abs() < 0.11, "{trace}");
        assert!(
            (x(trace.split(' ').next_back()) - right).abs() < 0.11,
            "{trace}"
        );
    });
}

#[test]
fn what_happens_outside_of_a_stretch_is_not_in_it() {
    with_burst("coin", |told, end| {
        let first = told.lines().first().expect("an edge").time_secs;
        let last = told.lines().last().expect("an edge").time_secs;
        assert!(first < last && last < end);
        let after = window(told, 0.5 * (last + end), end).draw();
        assert!(!after.contains("line class=\"edge\""), "{after}");
        let all = window(told, 0.0, end).draw();
        assert!(all.contains("line class=\"edge\""));
    });
}
