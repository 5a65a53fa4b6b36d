//! `fit`: a cell model from figures and logs, its text that reads back, its document, its picture, and
//! what is said where there can be none.

use std::fmt::Write as _;

use serde_json::Value;

use crate::program::{FAMILY, Folder, Ran, run};

/// Figures of an invented coin cell.
const SHEET: &str = "\
maker,quantity,load,regime,end,at,value,source,read,use
Mine,service,15 kohm,,2 V,,118 mAh,page 2,table,
Mine,service,3 kohm,,2 V,,111 mAh,page 2,table,
Mine,service,1 kohm,,2 V,,96 mAh,page 2,table,
Mine,service,7.5 kohm,,2 V,,116 mAh,page 2,table,held
Mine,pulse,10 mA for 5 s,,,50 %,2.66 V,page 3,table,
";

/// A discharge of another invented cell, as a logger with decimal commas writes it: 100 mAh behind 20
/// ohm into 3 kohm, two hours of pause in the middle, 1 mV of noise.
fn log() -> String {
    let knots = [
        (0.0, 3.2),
        (0.02, 3.02),
        (0.6, 2.97),
        (0.9, 2.8),
        (1.0, 2.0),
    ];
    let volts = |depth: f64| {
        let pair = knots.windows(2).find(|p| depth <= p[1].0);
        pair.map_or(2.0, |p| {
            p[0].1 + (p[1].1 - p[0].1) * (depth - p[0].0) / (p[1].0 - p[0].0)
        })
    };
    let mut text = "Zeit;Spannung;Strom\n".to_owned();
    let (mut secs, mut depth, mut noise) = (0.0, 0.0, 1_u32);
    while volts(depth) > 2.1 {
        let pause = (180_000.0..187_200.0).contains(&secs);
        let amps = if pause { 0.0 } else { volts(depth) / 3020.0 };
        noise = noise.wrapping_mul(1_103_515_245).wrapping_add(12345);
        let error = f64::from(noise >> 16) / 65536.0 * 2e-3 - 1e-3;
        let row = format!(
            "{secs};{:.4};{:.4}",
            volts(depth) - 20.0 * amps + error,
            amps * 1e3
        );
        let _ = writeln!(text, "{}", row.replace('.', ","));
        secs += 1200.0;
        depth += amps * 1200.0 / 360.0;
    }
    text
}

fn folder(name: &str) -> Folder {
    let folder = Folder::new(name);
    folder.write("sheet.csv", SHEET);
    folder.write("messung.csv", log());
    folder
}

/// The command on files of a folder, with one descent where nothing else is said.
fn fit(folder: &Folder, files: &[&str], args: &[&str]) -> Ran {
    let place = |f: &&str| folder.path().join(f).to_str().expect("UTF-8").to_owned();
    let files: Vec<String> = files.iter().map(place).collect();
    let mut all = vec!["fit"];
    if !args.contains(&"--descents") {
        all.extend(["--descents", "1"]);
    }
    all.extend(files.iter().map(String::as_str));
    all.extend(args);
    run(&all)
}

fn parameter<'a>(document: &'a Value, name: &str) -> &'a Value {
    let all = document["fit"]["parameters"]
        .as_array()
        .expect("parameters");
    all.iter()
        .find(|p| p["name"] == name)
        .unwrap_or_else(|| panic!("no {name}"))
}

#[test]
fn figures_of_a_sheet_give_a_model_that_a_family_can_hold() {
    let folder = folder("fit-family");
    let path = folder.path().join("own.toml");
    let path = path.to_str().expect("UTF-8");
    let ran = fit(
        &folder,
        &["sheet.csv"],
        &["--like", "CR2032", "--name", "my-coin", "--out", path],
    )
    .expect(0);
    for words in [
        "my-coin: a cell like CR2032",
        "5 readings in 5 tests, 1 of them held back from the fit",
        "One descent",
        "all charge",
        "from the data",
        "as CR2032",
        "What these data cannot pin down",
        "factors for cold; no test is in the cold; the coldest is at 20 degC",
        "Mine, 7.5 kohm, 20 degC",
        "held back",
        "limits, shelf life and cautions are those of CR2032",
    ] {
        assert!(ran.out.contains(words), "no {words} in\n{}", ran.out);
    }
    assert!(
        ran.out.lines().all(|l| l.chars().count() <= 112),
        "{}",
        ran.out
    );
    assert!(
        !ran.out.contains("[models."),
        "the model stands in its file"
    );
    let model = std::fs::read_to_string(path).expect("the model");
    assert!(
        model.starts_with("# Fitted by lastvolt to 4 readings of sheet.csv, 1 more held back.\n"),
        "{model}"
    );
    let family = Folder::tiny("fit-family-own");
    let cell = FAMILY.find("[models.tiny-cell]").expect("the cell");
    let text = format!(
        "{}{}",
        &FAMILY[..cell],
        model.replace("models.my-coin", "models.tiny-cell")
    );
    family.write("family.toml", text);
    let lives = run(&["life", family.arg(), "--format", "json"])
        .expect(0)
        .json();
    assert_eq!(lives["schema"], 1);
    // It can be fitted again from a fitted cell, and a model may take the place of an earlier one.
    let again = [
        "--like",
        "tiny-cell",
        "--family",
        family.arg(),
        "--name",
        "my-coin",
        "--out",
        path,
    ];
    fit(&folder, &["sheet.csv"], &again).expect(0);
}

#[test]
fn the_document_holds_parameters_readings_and_the_model() {
    let folder = folder("fit-document");
    let args = ["--like", "cr2032", "--format", "json"];
    let ran = fit(&folder, &["sheet.csv"], &args).expect(0);
    let document = ran.json();
    let fit_of = &document["fit"];
    assert_eq!(
        (&fit_of["like"], &fit_of["name"]),
        (&"CR2032".into(), &"sheet".into())
    );
    let charge = parameter(&document, "charge");
    let figure = |key: &str| charge[key].as_f64().expect("a number") / 3.6;
    // The lightest load gives 118 mAh, and a cell holds a little more than it gives.
    assert!((118.0..130.0).contains(&figure("value_as")), "{charge}");
    assert!(figure("low_as") < figure("value_as") && figure("value_as") < figure("high_as"));
    assert_eq!(charge["from_data"], true);
    assert_eq!(parameter(&document, "rate_factor")["from_data"], false);
    let tests = fit_of["tests"].as_array().expect("tests");
    let readings: Vec<&Value> = tests
        .iter()
        .flat_map(|t| t["readings"].as_array().expect("readings"))
        .collect();
    assert_eq!(readings.len(), 5);
    assert_eq!(readings.iter().filter(|r| r["fitted"] == false).count(), 1);
    for reading in readings {
        let end = if reading["quantity"] == "pulse" {
            "v"
        } else {
            "as"
        };
        let of = |key: &str| reading[format!("{key}_{end}")].as_f64().expect("a number");
        assert!(
            (of("said") / of("measured") - 1.0).abs() < 0.05,
            "{reading}"
        );
        let inside = of("low") <= of("measured") && of("measured") <= of("high");
        assert_eq!(reading["outside"], !inside, "{reading}");
    }
    let gaps = fit_of["open"].as_array().expect("gaps");
    assert!(gaps.iter().any(|g| g["name"] == "cold"), "{gaps:?}");
    assert!(
        fit_of["model_toml"]
            .as_str()
            .is_some_and(|t| t.contains("[models.sheet]"))
    );
    assert_eq!(
        fit(&folder, &["sheet.csv"], &args).out,
        ran.out,
        "another run, another answer"
    );
}

#[test]
fn a_log_in_other_words_is_read_fitted_and_drawn() {
    let folder = folder("fit-log");
    let picture = folder.path().join("messung.svg");
    let picture = picture.to_str().expect("UTF-8");
    let columns = [
        "--column",
        "time=Zeit",
        "--column",
        "volts=Spannung",
        "--column",
        "amps=Strom",
    ];
    let mut args = vec![
        "--unit", "amps=mA", "--unit", "volts=V", "--unit", "time=s", "--like", "CR2032",
    ];
    args.extend(columns);
    args.extend(["--descents", "2", "--picture", picture]);
    let ran = fit(&folder, &["messung.csv"], &args).expect(0);
    for words in [
        "log messung:",
        "rows over",
        "no test is in the cold",
        "voltages, fitted: RMS error",
    ] {
        assert!(ran.out.contains(words), "no {words} in\n{}", ran.out);
    }
    assert!(
        !ran.out.contains("of times, charges"),
        "nothing says so: {}",
        ran.out
    );
    let drawn = std::fs::read_to_string(picture).expect("the picture");
    assert!(
        drawn.starts_with("<svg xmlns=") && drawn.contains("time in days"),
        "{drawn}"
    );
    args.extend(["--format", "json"]);
    let document = fit(&folder, &["messung.csv"], &args).expect(0).json();
    let charge = parameter(&document, "charge");
    // The log ends at 2.1 V, where 98.75 of its 100 mAh are given; the wells of the cell that the fit
    // begins from may hold some more back.
    let given = document["fit"]["logs"][0]["given_as"]
        .as_f64()
        .expect("a number")
        / 3.6;
    assert!((given / 98.75 - 1.0).abs() < 0.01, "{given}");
    let all = charge["value_as"].as_f64().expect("a number") / 3.6;
    assert!((0.98 * given..1.5 * given).contains(&all), "{charge}");
    // What a log misses is between what is left of it and what is expected before any is seen.
    let readings = document["fit"]["tests"][0]["readings"]
        .as_array()
        .expect("points");
    let squares = readings
        .iter()
        .map(|r| r["error_v"].as_f64().expect("volts").powi(2))
        .sum::<f64>();
    let rms = (squares / readings.len() as f64).sqrt();
    let missed = document["fit"]["missed"]["volts_v"]
        .as_f64()
        .expect("volts");
    assert!(
        (rms.min(0.02)..rms.max(0.02)).contains(&missed),
        "{missed} {rms}"
    );
    assert!(document["fit"]["missed"].get("share").is_none());
}

#[test]
fn what_cannot_be_fitted_is_told_with_what_to_do() {
    let folder = folder("fit-wrong");
    folder.write(
        "one.csv",
        "quantity,load,end,value\nservice,15 kohm,2 V,118 mAh\n",
    );
    folder.write("alkaline.csv", "quantity,load,end,value\nservice,10 ohm,0.9 V,7 h\nservice,5 ohm,0.9 V,3 h\nservice,20 ohm,0.9 V,15 h\n");
    folder.write("bad.csv", SHEET.replace("118 mAh", "118 mugs"));
    let wrong: [(&[&str], &[&str], &[&str]); 12] = [
        (
            &["sheet.csv"],
            &[],
            &["none is named", "`CR2032` (lithium manganese dioxide"],
        ),
        (&["alkaline.csv"], &[], &["`LR6` (alkaline"]),
        (
            &["sheet.csv"],
            &["--like", "CR2023"],
            &["did you mean `CR20"],
        ),
        (&["sheet.csv"], &["--like", "led-red"], &["not a cell"]),
        (
            &["sheet.csv"],
            &["--like", "LR03"],
            &["not those of a cell like LR03", "CR2032"],
        ),
        (
            &["alkaline.csv"],
            &["--like", "CR2032"],
            &["not those of a cell like CR2032", "LR6"],
        ),
        (
            &["one.csv"],
            &["--like", "CR2032"],
            &["one reading to fit to", "two loads"],
        ),
        (
            &["none.csv"],
            &["--like", "CR2032", "--column", "vols=x"],
            &["none.csv", "did you mean `volts`?", "2 errors"],
        ),
        (
            &["bad.csv"],
            &["--like", "CR2032"],
            &["bad.csv:2:", "118 mugs", "^"],
        ),
        (
            &["messung.csv"],
            &["--like", "CR2032"],
            &["messung.csv:1:1", "--column time=NAME"],
        ),
        (
            &["sheet.csv", "sheet.csv"],
            &["--like", "CR2032"],
            &["given twice"],
        ),
        (
            &["sheet.csv"],
            &["--like", "CR2032", "--name", "a/b", "--ambient", "20"],
            &["holds `/`", "`--ambient 20`"],
        ),
    ];
    for (files, args, words) in wrong {
        let ran = fit(&folder, files, args).expect(2);
        assert!(ran.out.is_empty(), "{}", ran.out);
        for says in words {
            assert!(
                ran.err.contains(says),
                "{args:?}: no {says} in\n{}",
                ran.err
            );
        }
    }
    let json = fit(
        &folder,
        &["bad.csv"],
        &["--like", "CR2032", "--format", "json"],
    )
    .expect(2)
    .json();
    assert_eq!(json["problems"][0]["line"], 2);
}

#[test]
fn measurements_and_files_of_others_are_not_written_over() {
    let folder = folder("fit-over");
    folder.write("family.toml", FAMILY);
    let before = folder.names();
    for name in ["sheet.csv", "family.toml"] {
        let path = folder.path().join(name);
        let kept = std::fs::read_to_string(&path).expect("the file");
        let option = path.to_str().expect("UTF-8");
        for place in ["--out", "--picture"] {
            if (name, place) != ("family.toml", "--picture") {
                fit(
                    &folder,
                    &["sheet.csv"],
                    &["--like", "CR2032", place, option],
                )
                .expect(2);
            }
        }
        assert_eq!(std::fs::read_to_string(&path).expect("the file"), kept);
    }
    assert_eq!(folder.names(), before);
}
