//! Waveforms from the command line: every board of the example, the table, the picture, bad input.

use std::fs;

use serde_json::Value;

use crate::program::{COIN, FAMILY, Folder, Ran, example_arg, run};

const EXAMPLES: [&str; 4] = ["coin", "one-cell", "two-cell", "usb"];

/// A reset with a boot for the tiny family's radio, and a capacitor for its board.
fn with_reset(name: &str, reset: &str) -> Folder {
    let folder = Folder::tiny(name);
    let survives = "survives = \"3.9 V\"";
    assert!(FAMILY.contains(survives));
    let with = format!("{survives}\nreset = {reset}");
    folder.write("family.toml", FAMILY.replace(survives, &with));
    let capacitor = "\n[parts.C1]\nkind = \"capacitor\"\nvalue = \"10 uF\"\n\
         series_resistance = \"10 mohm\"\npins = [\"VDD\", \"GND\"]\n";
    folder.write("coin.toml", format!("{COIN}{capacitor}"));
    folder
}

const SOUND: &str =
    r#"{ below = "1.6 V", release = "1.8 V", boot = [{ for = "5 ms", current = "4 mA" }] }"#;
/// Its boot takes more than the cell can give above the threshold.
const HEAVY: &str =
    r#"{ below = "1.6 V", release = "1.8 V", boot = [{ for = "50 ms", current = "180 mA" }] }"#;

fn burst(folder: &Folder, options: &[&str]) -> Ran {
    let mut args = vec!["burst", folder.arg()];
    args.extend(options);
    run(&args)
}

fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("no number: {value}"))
}

#[test]
fn every_board_of_the_example_bursts_and_starts() {
    for board in EXAMPLES {
        let dir = example_arg();
        for depth in ["0", "0.5"] {
            let args = [
                "burst", &dir, "--board", board, "--depth", depth, "--format", "json",
            ];
            let burst = run(&args).expect(0).json();
            assert_eq!(burst["task"], "report", "{board}");
            let lowest = number(&burst["lowest"]["net_v"]);
            assert!((2.0..3.6).contains(&lowest), "{board}: {lowest}");
            assert!(burst["recovery_s"].is_number(), "{board}");
            assert_eq!(burst["events"], serde_json::json!([]), "{board}");
        }
        let args = [
            "burst", &dir, "--board", board, "--start", "--format", "json",
        ];
        let start = run(&args).expect(0).json();
        let good = number(&start["good_s"]);
        // The beacon boots for 25 ms once it is out of reset.
        assert!((0.025..0.03).contains(&good), "{board}: {good}");
        assert_eq!(start["situation"]["history"], "cold");
        assert!(number(&start["inrush_as"]) > 0.0);
    }
}

#[test]
fn a_burst_reads_as_edges_and_needs() {
    let folder = Folder::tiny("burst-words");
    let ran = burst(&folder, &[]).expect(0);
    insta::assert_snapshot!(ran.out, @r"
    coin: A coin cell and a switch
    S1=on, radio=sleep, 20 degC, fresh cells, running

    Task call once, from the settled base state: the task whose steps would pull VDD lowest.
    Followed for 20.0 ms.
    VDD stands at 3.20 V before and is lowest at 4.00 ms with 3.064 V, 136 mV lower.
    It is within 1 % of that at the last edge already.

    What happens
         time                  VDD before    after  lowest then  BT1 most
          0 s  radio to send      3.200 V  3.064 V      3.064 V   9.00 mA
      4.00 ms  radio to sleep     3.064 V  3.200 V      3.200 V   3.00 uA

    What the loads need
      load   state  works from   lowest       at  margin
      radio  send       1.80 V  3.064 V  4.00 ms  1.26 V
      radio  sleep      1.80 V  3.200 V  20.0 ms  1.40 V

    Typical parts; converters are averaged, without ripple. A waveform on paper does not replace one
    measured on a built board.
    ");
}

#[test]
fn a_start_says_what_it_takes_and_how_long() {
    let folder = with_reset("burst-start", SOUND);
    let ran = burst(&folder, &["--start"]).expect(0);
    insta::assert_snapshot!(ran.out, @r"
    coin: A coin cell and a switch
    S1=on, radio=sleep, 20 degC, fresh cells, starting from off

    Switching on with S1, after everything has settled in its position off. Followed for 100 ms.
    Every load is up and inside its range 5.12 ms after switching on. Until then the sources give
    51.5 uC; the largest current of all sources is 212 mA at once.
    From then on VDD is lowest at 5.12 ms with 3.140 V.

    What happens
         time                            VDD before     after  lowest then  BT1 most
          0 s  S1 to on                         0 V  2.118 mV     2.118 mV    212 mA
       125 us  radio comes out of reset     1.800 V   1.800 V      1.800 V   92.7 mA
      5.12 ms  radio has booted             3.140 V   3.140 V      3.140 V   4.00 mA

    Typical parts; converters are averaged, without ripple. A waveform on paper does not replace one
    measured on a built board.
    ");
}

/// The boot pulls the rail under the threshold again and again.
#[test]
fn a_start_that_never_gets_up_says_why() {
    let folder = with_reset("burst-hiccup", HEAVY);
    let ran = burst(&folder, &["--start"]).expect(0);
    assert!(ran.out.contains("it does not get so far"), "{}", ran.out);
    assert!(ran.out.contains("Hiccup: every"), "{}", ran.out);
    assert!(ran.out.contains("times more, to"), "{}", ran.out);
    let json = burst(&folder, &["--start", "--format", "json"]).expect(0);
    let json = json.json();
    assert!(json["good_s"].is_null() && json["lowest"].is_null());
    assert!(number(&json["hiccup"]["period_s"]) > 0.0);
    let high = HEAVY.replace("1.8 V", "3.5 V");
    let folder = with_reset("burst-held", &high);
    let ran = burst(&folder, &["--start"]).expect(0);
    assert!(ran.out.contains("radio stays in reset"), "{}", ran.out);
}

/// A step-up converter that starts into 3 mA at most, and a load that takes 8 mA from the beginning.
#[test]
fn a_converter_that_hangs_is_named() {
    let folder = Folder::tiny("burst-hangs");
    folder.write("family.toml", FAMILY.replace("\"3 uA\"", "\"8 mA\""));
    folder.write(
        "coin.toml",
        r#"
[parts.BT1]
kind = "cell"
model = "LR6"
pins = { plus = "BAT", minus = "GND" }
[parts.C1]
kind = "capacitor"
value = "10 uF"
pins = ["BAT", "GND"]
[parts.L1]
kind = "inductor"
value = "4.7 uH"
pins = ["BAT", "SW"]
[parts.U1]
kind = "boost"
model = "boost-ultra-low-quiescent"
output = "3.0 V"
start = [["1 mA", "0.7 V"], ["3 mA", "1.6 V"]]
pins = { in = "BAT", sw = "SW", out = "VDD", enable = "BAT", gnd = "GND" }
[parts.C2]
kind = "capacitor"
value = "22 uF"
pins = ["VDD", "GND"]
"#,
    );
    let ran = burst(&folder, &["--start"]).expect(0);
    assert!(ran.out.contains("it does not get so far"), "{}", ran.out);
    let words = ran.out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.contains("U1") && words.contains("never reaches its output voltage"),
        "{}",
        ran.out
    );
}

#[test]
fn off_for_a_moment_says_whether_the_load_resets() {
    let folder = with_reset("burst-off", SOUND);
    let short = burst(&folder, &["--off", "10 ms"]).expect(0);
    assert!(short.out.contains("radio does not reset"), "{}", short.out);
    assert!(short.out.contains("stays up and inside"), "{}", short.out);
    // 3 uA and the capacitor's leakage from 10 uF: below 1.6 V well within a minute.
    let long = burst(&folder, &["--off", "1 min", "--format", "json"]).expect(0);
    let long = long.json();
    let events = long["events"].as_array().expect("events");
    let what: Vec<&str> = events.iter().filter_map(|e| e["what"].as_str()).collect();
    assert_eq!(what, ["reset", "release", "booted"]);
    let good = number(&long["good_s"]);
    assert!((60.005..60.01).contains(&good), "{good}");
    assert_eq!(long["edges_s"], serde_json::json!([0.0, 60.0]));
    let (out, on) = (number(&events[0]["time_s"]), number(&events[1]["time_s"]));
    assert!(out < 60.0 && 60.0 < on);
}

#[test]
fn the_table_holds_the_same_figures_as_the_document() {
    let folder = with_reset("burst-csv", SOUND);
    let path = folder.path().join("wave.csv");
    let file = path.to_str().expect("UTF-8");
    let options = ["--start", "--csv", file, "--format", "json"];
    let json = burst(&folder, &options).expect(0).json();
    let text = fs::read_to_string(&path).expect("the table");
    assert!(text.ends_with("\r\n") && !text.contains("\n\n"));
    let mut lines = text.split("\r\n");
    assert_eq!(lines.next(), Some("time_s,BAT_v,VDD_v,BT1_a"));
    let times = json["time_s"].as_array().expect("instants");
    let rows: Vec<Vec<f64>> = lines
        .filter(|l| !l.is_empty())
        .map(|l| l.split(',').map(|f| f.parse().expect("a number")).collect())
        .collect();
    assert_eq!(rows.len(), times.len());
    let columns = [
        &json["time_s"],
        &json["nets"]["BAT"],
        &json["nets"]["VDD"],
        &json["cells"]["BT1"],
    ];
    for (at, row) in rows.iter().enumerate() {
        for (column, value) in columns.iter().zip(row) {
            // The reader of JSON in this test may be off by the last bit.
            let apart = (number(&column[at]) - value).abs();
            assert!(apart <= 4e-16 * value.abs(), "row {at}");
        }
    }
    let names = folder.names();
    assert_eq!(
        names,
        ["coin.toml", "family.toml", "wave.csv"],
        "nothing is left over"
    );
}

#[test]
fn a_picture_stands_alone_and_says_what_it_shows() {
    let folder = with_reset("burst-picture", SOUND);
    for (name, options) in [
        ("burst.svg", &["--task", "call"][..]),
        ("start.svg", &["--start"]),
        ("off.svg", &["--off", "1 min"]),
    ] {
        let path = folder.path().join(name);
        let mut options = options.to_vec();
        options.extend(["--picture", path.to_str().expect("UTF-8")]);
        burst(&folder, &options).expect(0);
        let svg = fs::read_to_string(&path).expect("the picture");
        assert!(svg.starts_with("<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\""));
        for part in [
            "<title>",
            "<desc>",
            "<style>",
            "prefers-color-scheme:dark",
            "@media print",
            ">VDD</text>",
            ">BT1</text>",
            "works from",
        ] {
            assert!(svg.contains(part), "no {part} in {name}");
        }
        for foreign in ["<script", "href", "url(", "@import", "NaN", "inf"] {
            assert!(!svg.contains(foreign), "{foreign} in {name}");
        }
        burst(&folder, &options).expect(0);
        let again = fs::read_to_string(&path).expect("the picture");
        assert_eq!(svg, again, "another picture the second time");
    }
}

/// An option that cannot be followed: what is said, and nothing is written.
#[test]
fn bad_options_are_told_and_nothing_is_written() {
    let folder = Folder::tiny("burst-bad");
    let before = folder.names();
    let path = |name: &str| {
        let path = folder.path().join(name);
        path.to_str().expect("UTF-8").to_owned()
    };
    let (there, nowhere) = (path("wave.csv"), path("none/wave.csv"));
    let folder_itself = folder.arg().to_owned();
    let cases: [(&[&str], &str); 13] = [
        (&["--task", "cal"], "did you mean `call`?"),
        (&["--span", "50"], "write `50 s`"),
        (&["--span", "0 s"], "a time from 1 ns to 100 years"),
        (&["--span", "-3 ms"], "a time from 1 ns to 100 years"),
        (&["--span", "3 V"], "is the unit of a voltage"),
        (&["--span", "1 s ±1 %"], "not a spread"),
        (&["--off", "200 years"], "a time from 1 ns to 100 years"),
        (&["--start", "--off", "1 s"], "cannot be used with"),
        (&["--start", "--task", "call"], "cannot be used with"),
        (&["--profile", "dai"], "did you mean `day`?"),
        (&["--picture", &there], "to hold two things at once"),
        (&["--picture", &nowhere], "no such file or folder"),
        (&["--picture", &folder_itself], "is a folder"),
    ];
    for (options, says) in cases {
        let mut text = options.to_vec();
        text.extend(["--csv", &there]);
        let ran = burst(&folder, &text).expect(2);
        assert!(ran.out.is_empty(), "{}", ran.out);
        assert!(ran.err.contains(says), "{options:?}: {}", ran.err);
        text.extend(["--format", "json"]);
        let json = burst(&folder, &text).expect(2).json();
        assert!(json["problems"][0]["says"].is_string());
        assert_eq!(folder.names(), before, "{options:?}: something was written");
    }
}

#[test]
fn what_is_not_there_is_told() {
    let dir = example_arg();
    let ran = run(&["burst", &dir, "--board", "usb", "--off", "1 s"]).expect(2);
    assert!(ran.err.contains("cannot-switch-off") && ran.err.contains("--start"));
    let folder = Folder::tiny("burst-no-task");
    let from = FAMILY.find("[[profiles.day.tasks]]").expect("tasks");
    let to = FAMILY.find("[models.tiny-cell]").expect("a model");
    folder.write(
        "family.toml",
        format!("{}{}", &FAMILY[..from], &FAMILY[to..]),
    );
    let ran = burst(&folder, &[]).expect(2);
    assert!(ran.err.contains("profile day has no tasks"), "{}", ran.err);
    burst(&folder, &["--start"]).expect(0);
}

/// A reset without any hysteresis never comes to rest: the place is that of the reset.
#[test]
fn what_oscillates_is_told_with_its_place() {
    let reset = SOUND.replace("1.8 V", "1.600000001 V");
    let folder = with_reset("burst-oscillates", &reset);
    let ran = burst(&folder, &["--start"]).expect(2);
    assert!(ran.err.contains("error[oscillates]"), "{}", ran.err);
    assert!(ran.err.contains("radio goes on and off"), "{}", ran.err);
    assert!(ran.err.contains("family.toml:16:9"), "{}", ran.err);
}

/// More instants than are kept: asked for, it is an error that says how far it goes; else it is cut.
#[test]
fn a_waveform_of_too_many_instants_says_how_far_it_goes() {
    let folder = Folder::tiny("burst-long");
    folder.write(
        "coin.toml",
        "[parts.J1]\nkind = \"supply\"\nvoltage = \"30 V\"\nresistance = \"0.1 mohm\"\nsinks = true\n\
         pins = { plus = \"IN\", minus = \"GND\" }\n[parts.L1]\nkind = \"inductor\"\nvalue = \"1 uH\"\n\
         winding = \"0 ohm\"\npins = [\"IN\", \"VDD\"]\n[parts.C1]\nkind = \"capacitor\"\nvalue = \"1 nF\"\n\
         series_resistance = \"0 ohm\"\npins = [\"VDD\", \"GND\"]\n",
    );
    let ran = burst(&folder, &["--start", "--span", "1 s"]).expect(2);
    assert!(ran.err.contains("error[too-long]"), "{}", ran.err);
    let span = ran.err.split("--span \"").nth(1).expect("a proposal");
    let span = span.split('"').next().expect("a span");
    burst(&folder, &["--start", "--span", span]).expect(0);
    let cut = burst(&folder, &["--start"]).expect(0);
    assert!(
        cut.out.contains("longer would be more instants"),
        "{}",
        cut.out
    );
    assert!(cut.out.contains("it survives 3.90 V"), "{}", cut.out);
}

/// Tasks of every length are followed or refused with their place.
#[test]
fn tasks_of_years_and_of_a_nanosecond_have_an_answer() {
    let steps = "every = \"60 s\"\nsteps = [{ for = \"4 ms\"";
    assert!(FAMILY.contains(steps));
    for (every, span) in [("400 years", "399 years"), ("3 ns", "1 ns"), ("1 h", "1 h")] {
        let folder = Folder::tiny("burst-lengths");
        let new = format!("every = \"{every}\"\nsteps = [{{ for = \"{span}\"");
        folder.write("family.toml", FAMILY.replace(steps, &new));
        let json = burst(&folder, &["--format", "json"]).expect(0).json();
        let times = json["time_s"].as_array().expect("instants");
        assert!(times.len() > 2 && times.len() < 20_000, "{}", times.len());
        run(&["life", folder.arg()]).expect(0);
    }
    for (every, span) in [("1 ms", "2 ms"), ("1 s", "0.2 ns"), ("600 years", "1 s")] {
        let folder = Folder::tiny("burst-lengths-bad");
        let new = format!("every = \"{every}\"\nsteps = [{{ for = \"{span}\"");
        folder.write("family.toml", FAMILY.replace(steps, &new));
        for command in ["burst", "life"] {
            let ran = run(&[command, folder.arg()]).expect(2);
            assert!(ran.err.contains("family.toml:2"), "{every}: {}", ran.err);
            assert!(ran.err.contains('^'), "{every}: {}", ran.err);
        }
    }
}

#[test]
fn several_tasks_run_at_once_or_one_after_the_other() {
    let dir = example_arg();
    let both = [
        "burst", &dir, "--task", "measure", "--task", "report", "--format", "json",
    ];
    let json = run(&both).expect(0).json();
    assert_eq!(json["task"], "measure + report");
    // 9 ms of sensing, then 1.5 ms of it for the report without an edge between, then 4.2 ms.
    let edges: Vec<f64> = json["edges_s"]
        .as_array()
        .expect("edges")
        .iter()
        .map(number)
        .collect();
    let expected = [0.0, 0.0105, 0.0147];
    assert_eq!(edges.len(), 3);
    for (edge, expected) in edges.iter().zip(expected) {
        assert!((edge - expected).abs() < 1e-12, "{edges:?}");
    }
}
