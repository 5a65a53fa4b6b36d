//! Logs of discharges as bench loggers write them.

use std::time::Instant;

use lastvolt_core::fit::{Demand, Drive, LogPoint};
use lastvolt_core::quantity::{Charge, Resistance};
use lastvolt_input::Text;
use lastvolt_input::measured::{Chemistry, Direction, Measured, Options, measured};

use super::{good, with};

fn points(read: &Measured) -> &[LogPoint] {
    match &read.tests[0].drive {
        Drive::Log(points) => points,
        other => panic!("{other:?}"),
    }
}

/// First and last time, first voltage and current.
fn ends(read: &Measured) -> (f64, f64, f64, f64) {
    let points = points(read);
    let (first, last) = (&points[0], &points[points.len() - 1]);
    let (volts, amps) = (first.volts.as_volts(), first.amps.as_amps());
    let round = |v: f64| (v * 1e9).round() / 1e9;
    (
        first.time.as_secs(),
        last.time.as_secs(),
        round(volts),
        round(amps),
    )
}

fn codes(read: &Measured) -> Vec<&str> {
    read.problems.iter().map(|p| p.code).collect()
}

#[test]
fn the_ways_in_which_loggers_write_are_understood() {
    let cases = [
        (
            "plain",
            "time_s,volts,amps\n0,3.0,0.01\n60,2.95,0.01\n120,2.9,0.01\n180,2.8,0.01\n240,2.5,0.01\n",
        ),
        (
            "brackets",
            "Time (min),Voltage (mV),Current (mA),Note\n0,3000,10,a\n1,2950,10,\n2,2900,10,\n3,2800,10,\n4,2500,10,\n",
        ),
        (
            "decimal commas",
            "\u{feff}t/min;U/V;I/mA\r\n0,0;3,000;10,0\r\n1,0;2,95;10,0\r\n2;2,9;10\r\n3;2,8;10\r\n4;2,5;10\r\n",
        ),
        (
            "clock",
            "# bench 2\n\nTime\tvolts\tamps\n23:58:00\t3.0\t0.01\n23:59:00\t2.95\t0.01\n00:00:00\t2.9\t0.01\n00:01:00\t2.8\t0.01\n00:02:00\t2.5\t0.01\n",
        ),
        (
            "stamps",
            "timestamp,volts,mA\n2024-02-28T23:58:00Z,3.0,10\n2024-02-28T23:59:00Z,2.95,10\n2024-02-29T00:00:00Z,2.9,10\n2024-02-29 00:01:00,2.8,10\n2024-02-29T02:02:00+02:00,2.5,10\n",
        ),
        (
            "date and time",
            "date,time,volts,amps\n2023-12-31,23:58:00,3.0,0.01\n2023-12-31,23:59:00,2.95,0.01\n2024-01-01,00:00:00,2.9,0.01\n2024-01-01,00:01:00,2.8,0.01\n2024-01-01,00:02:00,2.5,0.01\n",
        ),
        (
            "units below",
            "Time,Voltage,Current\n[min],[mV],[mA]\n0,3000,10\n1,2950,10\n2,2900,10\n3,2800,10\n4,2500,10\n",
        ),
        (
            "negative",
            "\"time_s\",\"volts\",\"amps\"\n0,3.0,-0.01\n60,2.95,-0.01\n120,2.9,-0.01\n180,2.8,-0.01\n240,2.5,-0.01\n",
        ),
        (
            "units inside",
            "time,volts,amps\n0 min,3 V,10 mA\n1 min,2.95 V,10 mA\n2 min,2900 mV,10 mA\n3 min,2.8 V,10 mA\n4 min,2.5 V,10 mA\n",
        ),
        (
            "preamble",
            "Logger 7\nChannel,2\n\ntime_s,volts,amps\n0,3.0,0.01\n60,2.95,0.01\n120,2.9,0.01\n180,2.8,0.01\n240,2.5,0.01\n",
        ),
        (
            "hidden header",
            "# time_s volts amps\n#time_s,volts,amps\n0,3.0,0.01\n60,2.95,0.01\n120,2.9,0.01\n180,2.8,0.01\n240,2.5,0.01\n",
        ),
    ];
    for (name, text) in cases {
        let read = good(name, text, &Options::default());
        assert_eq!(ends(&read), (0.0, 240.0, 3.0, 0.01), "{name}");
        let told = codes(&read);
        let expected: &[&str] = match name {
            "clock" => &["next-day"],
            "negative" => &["sign-turned"],
            "units inside" => &["no-unit"],
            _ => &[],
        };
        assert_eq!(told, expected, "{name}");
        assert_eq!(read.units, [name]);
    }
}

#[test]
fn columns_units_load_and_sample_may_be_stated() {
    let text = "Zeit;Spannung\n0;3,0\n60;2,95\n120;2,9\n180;2,8\n240;2,5\n";
    let options = Options {
        columns: vec![
            ("time".to_owned(), "Zeit".to_owned()),
            ("volts".to_owned(), "Spannung".to_owned()),
        ],
        units: vec![
            ("time".to_owned(), "s".to_owned()),
            ("volts".to_owned(), "V".to_owned()),
        ],
        load: Some(Demand::Resistance(Resistance::from_ohms(300.0))),
        sample: Some("cell 4".to_owned()),
        ..Options::default()
    };
    let read = good("log.csv", text, &options);
    assert!(read.problems.is_empty(), "{:#?}", read.problems);
    assert_eq!(read.units, ["cell 4"]);
    // The first stretch lies between 3.0 V and 2.95 V, a slope: its current is the mean of both.
    let (first, _, _, amps) = ends(&read);
    assert_eq!(first, 0.0);
    assert!((2.9 / 300.0..3.0 / 300.0).contains(&amps), "{amps}");
    let given = read.logs[0].charge.as_coulombs();
    // Means of 3.0, 2.95, 2.9 and 2.8 V; from there to 2.5 V the current falls by more than a tenth,
    // which is a step, and its first value holds.
    let by_hand = 60.0 / 300.0 * (2.975 + 2.925 + 2.85 + 2.8);
    assert!((given - by_hand).abs() < 1e-12, "{given} {by_hand}");
}

#[test]
fn a_rechargeable_cell_may_be_charged_and_its_direction_is_found() {
    // Charged with 1 A at first, then discharged; the resistance shows in the voltage.
    let text = "time_s,volts,amps\n0,3.6,0\n10,3.8,1\n600,3.9,1\n1200,4.0,1\n1210,3.8,0\n1800,3.7,0\n1810,3.5,-1\n2400,3.4,-1\n3000,3.3,-1\n";
    let rechargeable = Options {
        chemistry: Chemistry::Rechargeable,
        ..Options::default()
    };
    let read = good("log.csv", text, &rechargeable);
    assert_eq!(codes(&read), ["sign-turned"]);
    let signs: Vec<f64> = points(&read)
        .iter()
        .map(|p| p.amps.as_amps().signum())
        .collect();
    assert_eq!(signs.last(), Some(&1.0), "discharge is positive: {signs:?}");
    let stated = Options {
        direction: Direction::Negative,
        ..rechargeable
    };
    let read = good("log.csv", text, &stated);
    assert!(read.problems.is_empty());
    assert!(with("log.csv", text, &Options::default()).failed());
}

#[test]
fn a_rest_between_loads_is_no_gap() {
    let mut text = "time_s,volts,amps\n".to_owned();
    for k in 0..30 {
        text.push_str(&format!("{},{},0.01\n", 10 * k, 3.0 - 0.001 * f64::from(k)));
    }
    text.push_str("300,3.05,0\n");
    for k in 0..30 {
        text.push_str(&format!(
            "{},{},0.01\n",
            90_000 + 10 * k,
            2.95 - 0.001 * f64::from(k)
        ));
    }
    let read = good("log.csv", &text, &Options::default());
    assert!(read.problems.is_empty(), "{:#?}", read.problems);
    let without_the_row = text.replace("300,3.05,0\n", "");
    let read = with("log.csv", &without_the_row, &Options::default());
    assert_eq!(codes(&read), ["gap"]);
    assert_eq!(read.problems[0].line, 32);
    assert_eq!(read.problems[0].related[0].place.line, 31);
}

#[test]
fn several_files_are_read_together() {
    let log =
        "time_s,volts,amps\n0,3.0,0.01\n60,2.95,0.01\n120,2.9,0.01\n180,2.8,0.01\n240,2.5,0.01\n";
    let file = |name: &str, text: &str| Text {
        name: name.to_owned(),
        text: text.to_owned(),
    };
    let files = [
        file("a/one.csv", log),
        file("points.csv", "quantity,at,value\nrest,fresh,3.2 V\n"),
        file("a/two.csv", log),
    ];
    let read = measured(&files, &Options::default());
    assert!(read.problems.is_empty(), "{:#?}", read.problems);
    assert_eq!(read.units, ["one", "points", "two"]);
    let placed: Vec<(usize, &str)> = read
        .origins
        .iter()
        .map(|o| (o.test, o.place.file.as_str()))
        .collect();
    assert_eq!(
        placed,
        [(0, "a/one.csv"), (1, "points.csv"), (2, "a/two.csv")]
    );
    assert_eq!(read.logs.iter().map(|l| l.test).collect::<Vec<_>>(), [0, 2]);
}

/// A log of a million rows becomes at most 1,500 points with all its charge, its load steps and its knee.
#[test]
#[expect(clippy::disallowed_methods, reason = "a test may look at the clock")]
fn a_million_rows_are_thinned_soon() {
    use std::fmt::Write;
    const ROWS: u32 = 1_000_000;
    let mut text = String::with_capacity(32 << 20);
    text.push_str("time_s,voltage_V,current_mA\n");
    let mut given = 0.0;
    let mut last_amps = 0.0;
    for k in 0..ROWS {
        let depth = f64::from(k) / f64::from(ROWS);
        let heavy = (k / 100_000) % 2 == 1;
        let milliamps = if heavy { 20.0 } else { 2.0 };
        // A ripple of 0.2 mV stands for what an instrument adds.
        let ripple = 2e-4 * f64::from(k % 7) / 6.0;
        let volts = 3.1 - 0.3 * depth - 0.9 * depth.powi(60) - 0.01 * milliamps + ripple;
        let _ = writeln!(text, "{k},{volts:.4},{milliamps:.2}");
        if k > 0 {
            given += last_amps;
        }
        last_amps = milliamps / 1e3;
    }
    let start = Instant::now();
    let read = good("long.csv", &text, &Options::default());
    let secs = start.elapsed().as_secs_f64();
    println!(
        "{} points of a million rows in {secs:.2} s",
        points(&read).len()
    );
    assert!(read.problems.is_empty(), "{:#?}", read.problems);
    let points = points(&read);
    assert!(points.len() <= 1500, "{}", points.len());
    let kept: f64 = points
        .windows(2)
        .map(|w| w[0].amps.as_amps() * (w[1].time.as_secs() - w[0].time.as_secs()))
        .sum();
    assert!((kept / given - 1.0).abs() < 1e-9, "{kept} {given}");
    assert!((read.logs[0].charge.as_coulombs() / given - 1.0).abs() < 1e-9);
    for step in 1..10 {
        let at = f64::from(step) * 1e5;
        assert!(
            points.iter().any(|p| p.time.as_secs() == at),
            "no point at {at}"
        );
    }
    let knee = points.iter().filter(|p| p.time.as_secs() > 0.95e6).count();
    assert!(knee > 10, "{knee} points in the knee");
    assert_eq!(read.logs[0].rows, 1_000_000);
    assert!(secs < 30.0, "{secs} s");
}

#[test]
fn a_rated_charge_tells_units_apart() {
    let mut text = "time_h,volts,amps\n".to_owned();
    for k in 0..20 {
        text.push_str(&format!("{k},{},10\n", 3.0 - 0.01 * f64::from(k)));
    }
    let rated = Options {
        rated: Some(Charge::from_coulombs(0.22 * 3600.0)),
        ..Options::default()
    };
    let read = with("log.csv", &text, &rated);
    assert_eq!(codes(&read), ["charge-doubt"]);
    assert!(
        read.problems[0].says.contains("mA read as A"),
        "{:?}",
        read.problems
    );
    let milliamps = text.replace("amps", "mA");
    assert!(good("log.csv", &milliamps, &rated).problems.is_empty());
}
