//! Discharges as they are and as they never should be: all words stand clear, the plumb line stands where
//! its depth is, and what lies beyond the end is told apart.

use lastvolt_core::quantity::YEAR_SECS;

use super::{DischargePicture, Line};
use crate::draw::check::faults;
use crate::draw::curves::{Band, Upright};

fn upright(class: &'static str, words: &str, at: f64) -> Upright {
    Upright {
        class,
        words: words.to_owned(),
        at,
    }
}

fn picture(secs: f64, end: f64, depth: f64, words: &str) -> DischargePicture<'_> {
    let line = |name, class, drop: f64| Line {
        name,
        class,
        points: (0..=20)
            .map(|k| f64::from(k) / 20.0)
            .map(|x| (x, 3.1 - drop * x - 0.6 * x.powi(9)))
            .collect(),
    };
    DischargePicture {
        title: "t".to_owned(),
        description: "d".to_owned(),
        lines: vec![
            line("rail at rest", "rail-rest", 0.2),
            line("rail in a burst", "rail-lowest", 0.7),
            line(words, "cell-rest", 0.21),
        ],
        bands: vec![Band::of("beacon in transmit", (2.1, 3.6))],
        end: Some(upright("end", words, end)),
        marks: vec![upright("cold", "low-battery call", 0.9 * end)],
        times: vec![(0.0, 0.0), (0.4 * secs, 0.5 * end), (secs, end)],
        depth,
    }
}

#[test]
fn discharges_of_any_life_stand_clear() {
    let long = "brown-out of the beacon in transmit after a long time ".repeat(9);
    for secs in [
        0.0,
        1e-6,
        2.0,
        3000.0,
        5e6,
        1.3 * YEAR_SECS,
        100.0 * YEAR_SECS,
    ] {
        for end in [0.0, 0.02, 0.5, 0.93, 1.0] {
            for words in ["brown-out after 1 year 4 months", &long] {
                let svg = picture(secs, end, 0.3, words).draw();
                assert_eq!(faults(&svg), Vec::<String>::new(), "{secs} {end}");
                assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
            }
        }
    }
}

#[test]
fn a_discharge_of_nothing_is_drawn() {
    let nothing = DischargePicture {
        lines: Vec::new(),
        bands: Vec::new(),
        end: None,
        marks: Vec::new(),
        times: Vec::new(),
        depth: f64::NAN,
        ..picture(1.0, 0.5, 0.0, "end")
    };
    assert_eq!(faults(&nothing.draw()), Vec::<String>::new());
}

fn number(svg: &str, before: &str) -> f64 {
    let found = svg.split_once(before).expect(before).1;
    let end = found.find(['"', ' ']).expect("an end");
    found[..end].parse().expect("a number")
}

#[test]
fn the_plumb_line_stands_at_its_depth() {
    for (depth, share) in [
        (-1.0, 0.0),
        (0.0, 0.0),
        (0.25, 0.25),
        (1.0, 1.0),
        (7.0, 1.0),
    ] {
        let svg = picture(1e6, 0.9, depth, "end").draw();
        for svg in svg.split("</svg>").filter(|s| s.contains("<svg")) {
            let left = number(svg, "data-depth-left=\"");
            let right = number(svg, "data-depth-right=\"");
            let thumb = number(svg, "data-live=\"curve:thumb\" transform=\"translate(");
            let wanted = left + share * (right - left);
            assert!((thumb - wanted).abs() < 0.11, "{depth}: {thumb}");
        }
    }
}

#[test]
fn what_falls_to_nothing_beyond_the_end_leaves_at_the_edge() {
    let points = vec![(0.0, 3.0), (0.8, 2.0), (0.9, 0.0), (1.0, 0.0)];
    let line = Line {
        name: "rail",
        class: "rail-rest",
        points,
    };
    let svg = DischargePicture {
        lines: vec![line],
        ..picture(1e6, 0.8, 0.0, "end")
    }
    .draw();
    assert_eq!(faults(&svg), Vec::<String>::new());
    let bottom = number(&svg, "data-depth-bottom=\"");
    let beyond = svg
        .split_once("rail-rest beyond\" points=\"")
        .expect("a line")
        .1;
    let beyond = beyond.split('"').next().expect("its end");
    let (x, y) = beyond
        .rsplit(' ')
        .next()
        .and_then(|p| p.split_once(','))
        .expect("a point");
    assert!(
        (y.parse::<f64>().expect("a number") - bottom).abs() < 0.11,
        "{beyond}"
    );
    let right = number(&svg, "data-depth-right=\"");
    assert!(
        x.parse::<f64>().expect("a number") < 0.9 * right,
        "{beyond}"
    );
}

#[test]
fn what_lies_beyond_the_end_is_told_apart() {
    let svg = picture(1e6, 0.5, 0.0, "end").draw();
    // Three lines in two widths of page.
    assert_eq!(svg.matches(" beyond\" points").count(), 6);
    let whole = picture(1e6, 1.0, 0.0, "end").draw();
    assert!(!whole.contains("beyond\" points"));
}
