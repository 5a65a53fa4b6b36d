//! Tables of points and logs: what is read of good ones, and that nothing else panics.

use lastvolt_core::fit::{Amount, At, Demand, Drive, Value};
use lastvolt_core::quantity::{Charge, Current, Resistance};
use lastvolt_input::measured::{Chemistry, Measured, Options, Role, measured};
use lastvolt_input::{Severity, Text};
use proptest::prelude::*;

mod bad;
mod logs;

/// One file read with options.
fn with(name: &str, text: &str, options: &Options) -> Measured {
    let file = Text {
        name: name.to_owned(),
        text: text.to_owned(),
    };
    measured(&[file], options)
}

/// A file in which nothing is wrong.
fn good(name: &str, text: &str, options: &Options) -> Measured {
    let read = with(name, text, options);
    assert!(!read.failed(), "{:#?}", read.problems);
    read
}

const POINTS: &str = "\
maker,type,quantity,load,regime,end,ambient,at,age,value,unit,source,read,confidence,use
Acme,A1,service,15 kohm,,2 V,,,,240,mAh,page 2,table,high,fit
Acme,A1,volts,15 kohm,,2 V,,50 %,,2.9,V,figure 1,curve,medium,held
Acme,A1,volts,15k,,2 V,,819 h,,2.885,V,figure 1,curve,low,
Acme,A1,service,15 kohm,,2 V,0 degC,,,200,mAh,page 2,table,high,compare
Acme,A1,rest,,,,,0 %,,3.2,V,page 1,text,high,
Acme,A1,pulse,10 mA for 15 s,,,,50 %,,2.7,V,page 3,table,high,
Best,B1,resistance,10 mA for 0 s,,,,fresh,,12 ohm,,\"a, \"\"b\"\"\",table,high,
Best,B1,service,10 mA,\"5 s each 1 min; 8 h each 1 day\",2 V,,,1 year,1000,pulses,page 4,memory,memory,
,B1,minimum,270 ohm,1 h each day,0.9 V,,,,12,h,a standard,text,high,
Best,B1,mass,,,,,,,3,g,page 1,table,high,
";

#[test]
fn rows_of_one_load_are_one_test_in_the_order_of_the_file() {
    let read = good("cells/points.csv", POINTS, &Options::default());
    assert!(read.problems.is_empty(), "{:#?}", read.problems);
    let names: Vec<&str> = read.tests.iter().map(|t| t.name.as_str()).collect();
    assert_eq!(
        names,
        [
            "Acme A1, 15 kohm, 20 degC",
            "Acme A1, 15 kohm, 0 degC",
            "Acme A1, rested, 20 degC",
            "Best B1, rested, 20 degC",
            "Best B1, 10 mA, 5 s each 1 min; 8 h each 1 day, 20 degC, after 1 year",
        ]
    );
    assert_eq!(read.units, ["Acme", "Best", "points"]);
    let first = &read.tests[0];
    assert_eq!(first.unit, 0);
    assert_eq!(first.readings.len(), 3);
    let Drive::Duty(duty) = &first.drive else {
        panic!("{:?}", first.drive);
    };
    assert_eq!(
        duty.steps[0].demand,
        Demand::Resistance(Resistance::from_ohms(15e3))
    );
    assert!(matches!(
        first.readings[0].value,
        Value::Service { amount: Amount::Charge(c), .. } if c == Charge::from_coulombs(864.0)
    ));
    let share = matches!(
        first.readings[1].value,
        Value::Volts { at: At::Share { share, .. }, .. } if share == 0.5
    );
    assert!(share, "{:?}", first.readings[1]);
    let sure = |test: usize, k: usize| {
        let reading = &read.tests[test].readings[k];
        (reading.sigma, reading.fitted)
    };
    assert_eq!(sure(0, 0), (0.02, true));
    assert_eq!(sure(0, 1), (0.02, false));
    assert_eq!(sure(0, 2), (0.04, true));
    assert_eq!(sure(1, 0), (0.02, false));
    assert_eq!(sure(2, 1), (0.015, true));
    assert_eq!(sure(3, 0), (0.15, true));
    assert_eq!(sure(4, 0), (0.12, true));
    assert!(matches!(
        read.tests[2].readings[0].value,
        Value::Rest { at: At::Depth(d), .. } if d == 0.0
    ));
}

#[test]
fn every_figure_keeps_its_row_and_source() {
    let read = good("points.csv", POINTS, &Options::default());
    let lines: Vec<(usize, Option<usize>, usize)> = read
        .origins
        .iter()
        .map(|o| (o.test, o.reading, o.place.line))
        .collect();
    assert_eq!(
        lines,
        [
            (0, Some(0), 2),
            (0, Some(1), 3),
            (0, Some(2), 4),
            (1, Some(0), 5),
            (2, Some(0), 6),
            (2, Some(1), 7),
            (3, Some(0), 8),
            (4, Some(0), 9),
        ]
    );
    assert_eq!(read.origins[1].role, Role::Held);
    assert_eq!(read.origins[3].role, Role::Compare);
    assert_eq!(read.origins[6].source, "a, \"b\"");
    assert_eq!(read.minimums.len(), 1);
    let minimum = &read.minimums[0];
    assert_eq!(
        (minimum.place.line, minimum.source.as_str()),
        (10, "a standard")
    );
    assert!(!minimum.test.readings[0].fitted);
    assert_eq!(read.facts.len(), 1);
    let fact = &read.facts[0];
    assert_eq!(
        (
            fact.quantity.as_str(),
            fact.value.as_str(),
            fact.unit.as_str()
        ),
        ("mass", "3", "g")
    );
    assert_eq!(fact.place.line, 11);
}

#[test]
fn steps_and_left_out_losses_are_read() {
    let text = "quantity\tload\tend\tvalue\tloss\n\
        service\t1500 mW for 2 s then 650 mW for 28 s\t1,05 V\t100 cycles\t\n";
    let read = with("x.tsv", text, &Options::default());
    assert!(read.failed(), "a value with its unit has a point");
    let read = good("x.tsv", &text.replace(',', "."), &Options::default());
    assert!(read.tests[0].loses);
    let text = text
        .replace(',', ".")
        .replace("cycles\t", "cycles\tleft out");
    assert!(!good("x.tsv", &text, &Options::default()).tests[0].loses);
}

/// The figures that are shipped are read without any problem.
#[test]
#[expect(clippy::disallowed_methods, reason = "a test reads what is shipped")]
fn the_shipped_figures_are_read() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/catalog/sources");
    let mut n_tests = 0;
    for entry in std::fs::read_dir(folder).expect("the folder") {
        let path = entry.expect("an entry").path();
        if path.extension().is_none_or(|e| e != "csv") {
            continue;
        }
        let text = std::fs::read_to_string(&path).expect("a text");
        let read = good(&path.display().to_string(), &text, &Options::default());
        assert!(read.problems.is_empty(), "{:#?}", read.problems);
        n_tests += read.tests.len();
        let readings: usize = read.tests.iter().map(|t| t.readings.len()).sum();
        assert_eq!(readings, read.origins.len());
        let rows = readings + read.minimums.len() + read.facts.len();
        assert_eq!(
            rows + 1,
            text.lines().filter(|l| !l.trim().is_empty()).count(),
            "{path:?}"
        );
    }
    assert!(n_tests > 50, "{n_tests}");
}

/// Whatever is written, reading answers; problems stand inside their texts, and errors leave no tests.
fn sound(text: &str) {
    for options in [
        Options::default(),
        Options {
            load: Some(Demand::Current(Current::from_amps(0.01))),
            chemistry: Chemistry::Rechargeable,
            columns: vec![("volts".to_owned(), "a".to_owned())],
            units: vec![("volts".to_owned(), "mV".to_owned())],
            rated: Some(Charge::from_coulombs(1.0)),
            ..Options::default()
        },
    ] {
        let read = with("x.csv", text, &options);
        for problem in &read.problems {
            assert!(text.get(problem.span.clone()).is_some(), "{problem:?}");
            assert!(problem.says.len() < 3000, "{}", problem.says.len());
        }
        let failed = read.problems.iter().any(|p| p.severity == Severity::Error);
        assert_eq!(failed, read.failed());
        if failed {
            assert!(read.tests.is_empty() && read.origins.is_empty());
        } else {
            assert!(!text.is_empty());
        }
        for test in &read.tests {
            if let Drive::Log(points) = &test.drive {
                assert!(points.len() >= 2);
                let rising = points.windows(2).all(|w| w[0].time < w[1].time);
                assert!(rising, "{points:?}");
                assert!(points.iter().all(|p| p.amps.as_amps().is_finite()));
            }
        }
    }
}

fn piece() -> impl Strategy<Value = String> {
    let known = prop::sample::select(vec![
        ",",
        ";",
        "\t",
        "\n",
        "\r\n",
        "\"",
        "\"\"",
        "#",
        "\u{feff}",
        "time_s,volts,amps\n",
        "time;volts;mA\n",
        "quantity,value,load,end,at,unit\n",
        "0,3,0.01\n",
        "1,2.9,0.01\n",
        "2,2.8,-0.01\n",
        "3,2.7,0.01\n",
        "10;2,5;1\n",
        "service,",
        "15 kohm,",
        "2 V,",
        "50 %,",
        "240 mAh,",
        "rest,",
        "pulse,",
        "10 mA for 15 s,",
        "NaN",
        "inf",
        "1e308",
        "-1e308",
        "1e-320",
        "00:00:01",
        "2024-05-01 12:00",
        "\u{b5}A",
        "\u{0}",
        " ",
        "5,3,",
        "4,3.0,0.01\n6,2.9,0.02\n7,2.8,0.0\n8,2.9,0.0\n",
        "1 h each 1 day",
        "then",
        "for",
        "each",
        "sep=;\n",
    ]);
    prop_oneof![known.prop_map(str::to_owned), any::<String>()]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn random_tables_are_answered(
        pieces in prop::collection::vec(piece(), 0..40),
        head in prop::sample::select(vec![
            "", "time_s,volts,amps\n0,3,0.01\n1,2.9,0.01\n", "quantity,load,end,at,value,unit,regime\n",
            "t/h;U/V;I/mA\n",
        ]),
    ) {
        sound(&format!("{head}{}", pieces.concat()));
    }

    #[test]
    fn random_bytes_are_answered(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        sound(&String::from_utf8_lossy(&bytes));
    }

    #[test]
    fn a_spoilt_file_of_points_is_answered(at in 0..POINTS.len(), len in 0..20_usize, new in piece()) {
        let end = (at + len).min(POINTS.len());
        sound(&format!("{}{new}{}", &POINTS[..at], &POINTS[end..]));
    }
}
