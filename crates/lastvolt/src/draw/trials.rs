//! Pictures of things as they never should be: nothing to show, one point, equal values, lives of two
//! seconds and of a hundred years, names without end. All are checked for words over words.

use std::path::Path;

use lastvolt_core::progress::Silent;
use lastvolt_core::quantity::YEAR_SECS;
use lastvolt_core::review::review;

use crate::cli::load::load;
use crate::draw::bars::{Bar, BarPicture, Group, Look};
use crate::draw::check::faults;
use crate::draw::curves::{Across, Band, CurvePicture, Line, Panel, Upright};
use crate::draw::dots::DotPicture;
use crate::draw::flow::{FlowPicture, Goes, Stream};
use crate::draw::leaks::{LeakPicture, LeakRow, Takes};
use crate::draw::size::both;
use crate::report;
use crate::view::Document;

/// Lives that a picture must stand.
const LIVES: [f64; 7] = [
    0.0,
    1e-6,
    2.0,
    3000.0,
    5e6,
    2.3 * YEAR_SECS,
    100.0 * YEAR_SECS,
];

fn long() -> String {
    "never ending name ".repeat(28) + &"w".repeat(500)
}

fn check(page: &str) {
    let found = faults(page);
    assert!(found.is_empty(), "{found:#?}");
    assert!(!page.contains("NaN"), "{page}");
}

fn curves(secs: &[f64], volts: &[f64], marks: &[f64], bands: usize, name: &str) -> String {
    let classes = ["end", "cold", "required", "cold"];
    let said = [
        "over-voltage after",
        "one cold night ends it from",
        "asked for",
    ];
    let lines = [
        ("rail at rest", "rail-rest"),
        ("rail in a burst", "rail-lowest"),
        ("cell at rest", "cell-rest"),
        (name, "cell-lowest"),
    ];
    #[expect(clippy::cast_precision_loss, reason = "a few ranges")]
    let band = |k: usize| Band::of(name, (1.8 + 0.02 * k as f64, 3.6));
    let uprights = |k: usize, at: f64| Upright {
        class: classes[k % 4],
        words: format!("{} {name}", said[k % 3]),
        at,
    };
    let panel = |across, per: f64| Panel {
        across,
        along: secs,
        marks: marks
            .iter()
            .enumerate()
            .map(|(k, at)| uprights(k, at / per))
            .collect(),
    };
    let last = secs.iter().copied().fold(1e-9, f64::max);
    let lines = lines.map(|(name, class)| Line { name, class, volts });
    let picture = CurvePicture {
        title: "t".to_owned(),
        description: "d".to_owned(),
        lines: lines.into_iter().collect(),
        bands: (0..bands).map(band).collect(),
        panels: vec![panel(Across::Secs, 1.0), panel(Across::Depth, last)],
    };
    picture.draw()
}

#[test]
fn voltages_of_any_life_stand_clear() {
    for life in LIVES {
        for name in ["beacon in transmit", &long()] {
            let secs = [0.0, 0.3 * life, 0.9 * life, life];
            let marks = [life, 0.97 * life, 0.96 * life];
            check(&curves(&secs, &[3.0, 2.9, 2.5, 1.9], &marks, 3, name));
            check(&curves(&secs, &[3.0; 4], &[life; 4], 7, name));
            check(&curves(&[0.0], &[2.2], &[life, 2.0 * life], 1, name));
            check(&curves(&[], &[], &[], 0, name));
            check(&curves(&secs, &[0.0, 5000.0, -3.0, 1e-9], &marks, 2, name));
        }
    }
}

#[test]
fn marks_beyond_a_picture_are_named_below_it() {
    let secs = [0.0, YEAR_SECS];
    let page = |at: f64| curves(&secs, &[3.0, 2.0], &[YEAR_SECS, at * YEAR_SECS], 1, "b");
    assert!(!page(1.5).contains("one cold night ends it from b, beyond"));
    let far = page(1.7);
    check(&far);
    // Of time and of depth, in the wide picture and in the narrow ones.
    assert_eq!(far.matches("beyond").count(), 4);
}

#[test]
fn marks_anywhere_find_their_places() {
    for k in 0..40 {
        let share = f64::from(k) / 40.0;
        let marks = [share, 0.5, (share * 7.3) % 1.0];
        let marks = marks.map(|m| m * YEAR_SECS);
        let secs = [0.0, YEAR_SECS];
        check(&curves(&secs, &[3.0, 2.0], &marks, 2, "beacon in transmit"));
    }
}

fn bars(boards: usize, life: f64, name: &str) -> String {
    let bar = |k: usize, look| Bar {
        secs: (k % 5 != 3).then_some(life),
        pale_secs: Some(0.8 * life),
        look,
        note: format!("-12 degC: 10 years 10 months, converter stops {name}"),
    };
    let group = |k: usize| Group {
        name: format!("{name} {k}"),
        bars: vec![
            bar(k, Look::Low),
            bar(k + 1, Look::Usual),
            bar(k, Look::High),
        ],
    };
    let picture = BarPicture {
        title: "t".to_owned(),
        groups: (0..boards).map(group).collect(),
        required_secs: boards.is_multiple_of(2).then_some(2.0 * YEAR_SECS),
        required_words: "asked for: 2 years".to_owned(),
        counted: "run time",
    };
    both(|size| picture.canvas(size))
}

#[test]
fn families_of_any_size_stand_clear() {
    for life in LIVES {
        check(&bars(30, life, "coin"));
        check(&bars(3, life, &long()));
    }
    // A family without a run has a picture that says so little that it needs no words of its own.
    check(&bars(1, 0.0, ""));
}

fn flow(lines: usize, share: impl Fn(usize) -> f64, name: &str) -> String {
    let goes = [Goes::Lost, Goes::ToLoads, Goes::Unused, Goes::Lost];
    let picture = FlowPicture {
        title: "t".to_owned(),
        description: "d".to_owned(),
        from: "2.39 kJ in the fresh cells".to_owned(),
        streams: (0..lines)
            .map(|k| Stream {
                name: format!("{name} {k}"),
                goes: goes[k % 4],
                share: share(k),
                said: "12.4 kJ".to_owned(),
            })
            .collect(),
    };
    both(|size| picture.canvas(size))
}

#[test]
fn streams_of_any_share_stand_clear() {
    #[expect(clippy::cast_precision_loss, reason = "small counts")]
    let falling = |k: usize| 0.5 / (k + 1) as f64;
    for name in ["R1 resistor", &long()] {
        check(&flow(40, |_| 1.0 / 40.0, name));
        check(&flow(40, falling, name));
        check(&flow(40, |k| if k == 17 { 0.999 } else { 2e-5 }, name));
        check(&flow(40, |k| if k % 3 == 0 { -0.1 } else { 0.05 }, name));
        check(&flow(1, |_| 1.0, name));
        check(&flow(2, |_| 0.0, name));
        check(&flow(0, |_| 0.0, name));
    }
}

#[test]
fn the_words_of_a_kind_count_what_is_drawn() {
    let page = flow(8, |k| if k == 3 { -0.1 } else { 0.1 }, "R");
    // Four lines of what is lost, of which one is no stream.
    assert_eq!(page.matches(">lost on the way: 30\u{a0}%<").count(), 2);
}

#[test]
fn streams_stand_below_the_words_of_their_kind() {
    // The lost ones are thin, so that they would like to stand where the next kind begins.
    let page = flow(9, |k| if k % 4 == 1 { 0.45 } else { 0.015 }, "R");
    let svg = page.split("</svg>").next().expect("the wide one");
    let at = |words: &str| svg.find(words).expect(words);
    let height = |words: &str| -> f64 {
        let head = svg[..at(words)].rfind(" y=\"").expect("a place");
        let rest = &svg[head + 4..];
        rest.split('"')
            .next()
            .and_then(|y| y.parse().ok())
            .expect("a figure")
    };
    for lost in ["R 0", "R 3", "R 4", "R 7", "R 8"] {
        let y = height(&format!(">{lost}<"));
        assert!(
            height(">lost on the way") < y && y < height(">never given"),
            "{lost}"
        );
    }
}

fn leaks(rows: usize, amps: impl Fn(usize) -> f64, name: &str) -> String {
    let picture = LeakPicture {
        title: "t".to_owned(),
        description: "d".to_owned(),
        rows: (0..rows)
            .map(|k| {
                let takes = Takes {
                    typical: amps(k),
                    most: 3.0 * amps(k),
                };
                LeakRow {
                    name: format!("{name}{k}"),
                    on: Some(takes),
                    off: (k % 2 == 0).then_some(takes),
                }
            })
            .collect(),
    };
    both(|size| picture.canvas(size))
}

#[test]
fn budgets_over_many_decades_stand_clear() {
    for name in ["U", &long()] {
        check(&leaks(
            5,
            |k| 10f64.powi(-3 * i32::try_from(k).unwrap_or(0)),
            name,
        ));
        check(&leaks(40, |_| 1e-6, name));
        check(&leaks(3, |_| 0.0, name));
        check(&leaks(0, |_| 0.0, name));
    }
}

#[test]
fn figures_below_the_axis_have_an_open_end() {
    let picture = |typical: f64| {
        let row = |name: &str, typical, most| LeakRow {
            name: name.to_owned(),
            on: Some(Takes { typical, most }),
            off: None,
        };
        let picture = LeakPicture {
            title: "t".to_owned(),
            description: "d".to_owned(),
            rows: vec![row("all", 1e-3, 1e-2), row("C1", typical, 1e-3)],
        };
        both(|size| picture.canvas(size))
    };
    for below in [0.0, 1e-10] {
        let page = picture(below);
        check(&page);
        assert_eq!(page.matches("class=\"bar\"").count(), 2, "{below}");
        assert_eq!(page.matches("at the left edge").count(), 2, "{below}");
    }
    let page = picture(1e-6);
    assert_eq!(page.matches("class=\"bar\"").count(), 4);
    assert!(!page.contains("at the left edge"));
}

fn dots(lives_secs: &[f64], promise: f64, required: f64, name: &str) -> String {
    let picture = DotPicture {
        title: "t".to_owned(),
        description: "d".to_owned(),
        lives_secs,
        promise: Some((promise, format!("promised with 90 % confidence {name}"))),
        required: Some((required, "asked for: 2 years".to_owned())),
    };
    both(|size| picture.canvas(size))
}

#[test]
fn lives_of_any_spread_stand_clear() {
    for life in LIVES {
        for name in ["", &long()] {
            let even: Vec<f64> = (0..500)
                .map(|k| life * (1.0 + f64::from(k) / 700.0))
                .collect();
            check(&dots(&even, 1.1 * life, life, name));
            check(&dots(&[life; 300], life, life, name));
            check(&dots(&[life], 40.0 * life, 0.0, name));
        }
    }
    check(&dots(&[], 0.0, 0.0, ""));
}

#[test]
fn the_pictures_of_the_example_stand_clear() {
    let dir = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/frost-beacon");
    let family = load(Path::new(dir)).expect("the example");
    let model = &family.model;
    let reviewed = review(model, None, &Silent).expect("a review");
    let judged = model.profiles.first();
    let waves = report::waves(model, &reviewed, judged);
    let (view, _) = report::view(&family, &reviewed, &waves, None, None);
    let document = Document::new(&family.digest, Vec::new(), view);
    let page = report::html(&report::Input {
        family: model,
        review: &reviewed,
        document: &document,
        waves: &waves,
        profile: judged,
    });
    let wide = page.matches("class=\"wide\"").count();
    assert!(wide >= 20, "{wide} pictures");
    assert!(page.len() < 1_500_000, "{} bytes", page.len());
    check(&page);
}
