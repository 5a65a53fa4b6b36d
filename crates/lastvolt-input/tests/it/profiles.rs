//! Profiles: times in whole nanoseconds, windows, and tasks that cannot be served.

use lastvolt_input::read;

use crate::annotated::{check, texts};

const HEAD: &str = r#"
#- family.toml
[family]
boards = ["board.toml"]
[connector]
pins = ["VDD", "GND"]
[loads.module]
pins = { plus = "VDD", minus = "GND" }
states = { sleep = "2 uA", sense = "1 mA", transmit = "10 mA" }
"#;
const BOARD: &str = r#"
#- board.toml
[parts.R1]
kind = "resistor"
value = "1k"
pins = ["VDD", "GND"]
"#;

#[test]
fn times_are_whole_nanoseconds() {
    let loaded = check(
        &[
            HEAD,
            r#"
[profiles.idle]
[profiles.season]
base = { module = "sleep" }
[[profiles.season.tasks]]
name = "report"
every = "5 s"
offset = "0 s"
steps = [{ for = "3.2 ms", set = { module = "transmit" } }, { for = "1 ms" }]
[[profiles.season.tasks]]
name = "listen"
every = "1 min"
within = { every = "1 day", for = "8 h" }
steps = [{ for = "40 ms", set = { module = "sense" } }]
"#,
            BOARD,
        ]
        .concat(),
    );
    let family = loaded.family.expect("a family");
    assert!(family.profiles[0].tasks.is_empty());
    let tasks = &family.profiles[1].tasks;
    assert_eq!(tasks[0].every_ns, 5_000_000_000);
    assert_eq!(tasks[0].offset_ns, Some(0));
    assert_eq!(tasks[0].steps[0].span_ns, 3_200_000);
    assert!(tasks[0].steps[1].set.is_empty());
    assert_eq!(tasks[1].offset_ns, None);
    let window = tasks[1].within.expect("a window");
    assert_eq!(
        (window.every_ns, window.open_ns),
        (86_400_000_000_000, 28_800_000_000_000)
    );
}

#[test]
fn tasks_that_cannot_be_are_refused() {
    check(
        &[
            HEAD,
            r#"
[profiles.season]
base = { modul = "sleep" }
#        ^^^^^ error[unknown-name]: there is no load `modul`
[[profiles.season.tasks]]
name = "long"
every = "5 ms"
#       ^^^^^^ error[task-too-long]: task `long` takes 6 ms and is to start every 5 ms
steps = [{ for = "6 ms", set = { module = "transmit" } }]
[[profiles.season.tasks]]
name = "late"
every = "1 s"
offset = "2 s"
#        ^^^^^ error[out-of-range]
steps = [{ for = "1 ms" }]
[[profiles.season.tasks]]
name = "windowed"
every = "1 s"
within = { every = "1 h", for = "2 h" }
#                               ^^^^^ error[too-long-a-window]
steps = [{ for = "0.1 ns" }]
#                ^^^^^^^^ error[out-of-range]: shorter than a nanosecond
[[profiles.season.tasks]]
name = "names"
every = "0 s"
#       ^^^^^ error[out-of-range]
steps = [{ for = "1 ms", set = { module = "trasmit" } }]
#                                          ^^^^^^^ error[unknown-name]: called `trasmit`
[[profiles.season.tasks]]
#^^^^^^^^^^^^^^^^^^^^^^^^ error[missing-key]: `name` is missing
#^^^^^^^^^^^^^^^^^^^^^^^^ error[missing-key]: `every` is missing
steps = []
#       ^^ error[wrong-length]: has no steps
"#,
            BOARD,
        ]
        .concat(),
    );
}

#[test]
fn tasks_must_leave_time_for_each_other() {
    let tasks = |every: &str| {
        let task = |name: &str, every: &str| {
            format!(
                "[[profiles.season.tasks]]\nname = \"{name}\"\nevery = \"{every}\"\nsteps = [{{ for = \"6 ms\", set = {{ module = \"sense\" }} }}]\n"
            )
        };
        [
            HEAD,
            "[profiles.season]\n",
            &task("a", "10 ms"),
            &task("b", every),
            BOARD,
        ]
        .concat()
    };
    check(&tasks("100 ms"));
    let loaded = read(&texts(&tasks("10 ms")));
    assert_eq!(loaded.problems.len(), 1);
    assert_eq!(loaded.problems[0].code, "oversubscribed");
    assert!(loaded.problems[0].says.contains("120 % of the time"));
}
