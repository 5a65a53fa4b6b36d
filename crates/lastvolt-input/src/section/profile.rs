//! `[profiles.NAME]`: what the loads do over time.

use lastvolt_core::model::{Profile, Step, Task, Window};
use lastvolt_core::quantity::{Time, Unit};

use super::check_name;
use crate::diagnostic::Problem;
use crate::document::{Bounds, Field, Fields, Value};

const BASE: Field = Field::other(
    "base",
    "table of load = state",
    "state of each load between tasks; a load not named is in its first state",
)
.example("{ module = \"sleep\" }");
const TASKS: Field = Field::other("tasks", "list of tables", "tasks, each written as `[[profiles.NAME.tasks]]`; there may be none")
    .example("[{ name = \"report\", every = \"5 s\", steps = [{ for = \"3 ms\", set = { module = \"transmit\" } }] }]");

/// The fields of a profile.
pub(crate) const FIELDS: &[Field] = &[BASE, TASKS];

const NAME: Field = Field::text("name", "its name")
    .required()
    .example("\"report\"");
const EVERY: Field = Field::value("every", Unit::Second, "interval from start to start")
    .within(Bounds::POSITIVE)
    .required()
    .example("\"5 s\"");
const OFFSET: Field = Field::value("offset", Unit::Second, "start of the first occurrence")
    .otherwise("the phase is free")
    .within(Bounds::FROM_ZERO)
    .example("\"2 s\"");
const WINDOW_EVERY: Field = Field::value(
    "every",
    Unit::Second,
    "interval from opening to opening; the first is at t = 0",
)
.within(Bounds::POSITIVE)
.required()
.example("\"1 day\"");
const WINDOW_FOR: Field = Field::value("for", Unit::Second, "how long it is open")
    .within(Bounds::POSITIVE)
    .required()
    .example("\"8 h\"");
const WITHIN: Field = Field::table(
    "within",
    &[WINDOW_EVERY, WINDOW_FOR],
    "window in which the task is active",
)
.otherwise("always")
.example("{ every = \"1 day\", for = \"8 h\" }");
const STEPS: Field = Field::other(
    "steps",
    "list of { for, set }",
    "what happens, one after the other",
)
.required()
.example("[{ for = \"12 ms\", set = { module = \"sense\" } }]");

/// The fields of a task.
pub(crate) const TASK_FIELDS: &[Field] = &[NAME, EVERY, OFFSET, WITHIN, STEPS];

const STEP_FOR: Field = Field::value("for", Unit::Second, "how long")
    .within(Bounds::POSITIVE)
    .required()
    .example("\"12 ms\"");
const STEP_SET: Field = Field::other(
    "set",
    "table of load = state",
    "loads that change their state; the others stay in their base state",
)
.example("{ module = \"sense\" }");

/// The fields of a step.
pub(crate) const STEP_FIELDS: &[Field] = &[STEP_FOR, STEP_SET];

/// Names of loads and of their states, to check against; a name may stand for loads of two boards.
pub(crate) type LoadNames<'a> = Vec<(&'a str, Vec<&'a str>)>;

/// Reads a profile.
pub(crate) fn read(f: &Fields<'_>, name: &str, loads: &LoadNames<'_>) -> Option<Profile> {
    let before = f.reader.sink.len();
    check_name(f.reader, &f.home, name, "profile");
    let base = f
        .get(BASE.key)
        .map(|v| set(f, v, BASE.key, loads))
        .unwrap_or_default();
    let mut tasks: Vec<Task> = Vec::new();
    if let Some(value) = f.get(TASKS.key) {
        for item in f
            .reader
            .list(value, TASKS.key, "a list of tables")
            .unwrap_or(&[])
        {
            let Some(task) = task(f, item, loads) else {
                continue;
            };
            if tasks.iter().any(|t| t.name == task.name) {
                let says = format!("a second task of the profile is called `{}`", task.name);
                f.reader.report(
                    Problem::new("duplicate-name", item.spot.clone(), says).label("second one"),
                );
            }
            tasks.push(task);
        }
    }
    if before == f.reader.sink.len() {
        check_share(f, &tasks);
    }
    (before == f.reader.sink.len()).then(|| Profile {
        name: name.to_owned(),
        base,
        tasks,
    })
}

fn task(f: &Fields<'_>, item: &Value, loads: &LoadNames<'_>) -> Option<Task> {
    let table = f.reader.table(item, TASKS.key)?;
    let called = table.get(NAME.key).and_then(Value::as_text).unwrap_or("");
    let what = if called.is_empty() {
        format!("a task of {}", f.what)
    } else {
        format!("task `{called}`")
    };
    let t = Fields::of(f.reader, table, TASK_FIELDS, &item.spot, &what);
    let name = t.text(&NAME);
    if let (Some(name), Some(value)) = (name, t.get(NAME.key)) {
        check_name(f.reader, &value.spot, name, "task");
    }
    let every_ns = t.value(&EVERY).and_then(|time| nanos(&t, &EVERY, time));
    let offset_ns = t.value(&OFFSET).and_then(|time: Time| {
        if time.as_secs() == 0.0 {
            Some(0)
        } else {
            nanos(&t, &OFFSET, time)
        }
    });
    let within = t.table(&WITHIN).and_then(|w| window(&w));
    let steps = steps(&t, loads);
    let task = Task {
        name: name?.to_owned(),
        every_ns: every_ns?,
        offset_ns,
        within,
        steps: steps?,
    };
    check_spans(&t, &task);
    Some(task)
}

fn window(w: &Fields<'_>) -> Option<Window> {
    let every_ns = w
        .value(&WINDOW_EVERY)
        .and_then(|time| nanos(w, &WINDOW_EVERY, time));
    let open_ns = w
        .value(&WINDOW_FOR)
        .and_then(|time| nanos(w, &WINDOW_FOR, time));
    let (every_ns, open_ns) = (every_ns?, open_ns?);
    if every_ns < open_ns {
        let at = w.get(WINDOW_FOR.key).map_or(&w.home, |v| &v.spot);
        let says = "the window is open for longer than its interval";
        w.reader.report(
            Problem::new("too-long-a-window", at.clone(), says).label("longer than `every`"),
        );
        return None;
    }
    Some(Window { every_ns, open_ns })
}

fn steps(t: &Fields<'_>, loads: &LoadNames<'_>) -> Option<Vec<Step>> {
    let value = t.find(&STEPS)?;
    let items = t.reader.list(value, STEPS.key, "a list of tables")?;
    if items.is_empty() {
        let says = format!("{} has no steps, one at least is needed", t.what);
        t.reader
            .report(Problem::new("wrong-length", value.spot.clone(), says).label("empty"));
        return None;
    }
    let mut steps = Vec::new();
    for item in items {
        let Some(table) = t.reader.table(item, STEPS.key) else {
            continue;
        };
        let what = format!("a step of {}", t.what);
        let step = Fields::of(t.reader, table, STEP_FIELDS, &item.spot, &what);
        let span_ns = step
            .value(&STEP_FOR)
            .and_then(|time| nanos(&step, &STEP_FOR, time));
        let set = step
            .get(STEP_SET.key)
            .map(|v| set(&step, v, STEP_SET.key, loads))
            .unwrap_or_default();
        if let Some(span_ns) = span_ns {
            steps.push(Step { span_ns, set });
        }
    }
    (steps.len() == items.len()).then_some(steps)
}

/// Loads and the states they are put into.
fn set(f: &Fields<'_>, value: &Value, key: &str, loads: &LoadNames<'_>) -> Vec<(String, String)> {
    let Some(table) = f.reader.table(value, key) else {
        return Vec::new();
    };
    let mut set = Vec::new();
    for entry in &table.entries {
        let Some(state) = f.reader.text(&entry.value, &entry.key) else {
            continue;
        };
        let same: Vec<&Vec<&str>> = loads
            .iter()
            .filter(|l| l.0 == entry.key)
            .map(|l| &l.1)
            .collect();
        if same.is_empty() {
            let known: Vec<&str> = loads.iter().map(|l| l.0).collect();
            f.reader
                .unknown_name(&entry.key_spot, "load", &entry.key, known);
        } else if !same.iter().any(|states| states.contains(&state)) {
            let what = format!("state of load `{}` called", entry.key);
            let known: Vec<&str> = same.iter().flat_map(|s| s.iter().copied()).collect();
            f.reader
                .unknown_name(&entry.value.spot, &what, state, known);
        }
        set.push((entry.key.clone(), state.to_owned()));
    }
    set
}

/// A time as whole nanoseconds.
fn nanos(f: &Fields<'_>, field: &Field, time: Time) -> Option<u64> {
    let exact = time.as_secs() * 1e9;
    let nanos = exact.round();
    // Half a nanosecond rounds up to one and is none.
    if exact < 1.0 - 1e-6 {
        let at = f.get(field.key).map_or(&f.home, |v| &v.spot);
        let says = format!("`{}` is shorter than a nanosecond", field.key);
        f.reader
            .report(Problem::new("out-of-range", at.clone(), says).label("too short"));
        return None;
    }
    // Times are at most 500 years, which is less than 2^64 ns.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "bounded above"
    )]
    Some(nanos as u64)
}

fn check_spans(t: &Fields<'_>, task: &Task) {
    let span: u128 = task.steps.iter().map(|s| u128::from(s.span_ns)).sum();
    if u128::from(task.every_ns) < span {
        let at = t.get(EVERY.key).map_or(&t.home, |v| &v.spot);
        let says = format!(
            "{} takes {} and is to start every {}",
            t.what,
            shown(span),
            shown(task.every_ns.into())
        );
        t.reader.report(
            Problem::new("task-too-long", at.clone(), says).label("shorter than its steps"),
        );
    }
    if let Some(offset) = task.offset_ns
        && task.every_ns <= offset
    {
        let at = t.get(OFFSET.key).map_or(&t.home, |v| &v.spot);
        let says = format!("the offset of {} is not below its interval", t.what);
        t.reader
            .report(Problem::new("out-of-range", at.clone(), says).label("too long"));
    }
}

/// A time in the unit that suits it.
#[expect(clippy::cast_precision_loss, reason = "for a message")]
fn shown(nanos: u128) -> String {
    let secs = nanos as f64 / 1e9;
    let (factor, unit) = match secs {
        s if s < 1e-6 => (1e-9, "ns"),
        s if s < 1e-3 => (1e-6, "us"),
        s if s < 1.0 => (1e-3, "ms"),
        s if s < 600.0 => (1.0, "s"),
        s if s < 86_400.0 => (3600.0, "h"),
        _ => (86_400.0, "days"),
    };
    let figure = format!("{:.4}", secs / factor);
    format!(
        "{} {unit}",
        figure.trim_end_matches('0').trim_end_matches('.')
    )
}

/// Tasks that want one load for more time than there is can never all be served.
#[expect(clippy::cast_precision_loss, reason = "shares to a few digits")]
fn check_share(f: &Fields<'_>, tasks: &[Task]) {
    let mut loads: Vec<&str> = tasks
        .iter()
        .flat_map(|t| &t.steps)
        .flat_map(|s| &s.set)
        .map(|s| s.0.as_str())
        .collect();
    loads.sort_unstable();
    loads.dedup();
    for load in loads {
        let mut share = 0.0;
        let mut busy = 0;
        for task in tasks {
            let claimed: u128 = task
                .steps
                .iter()
                .filter(|s| s.set.iter().any(|set| set.0 == load))
                .map(|s| u128::from(s.span_ns))
                .sum();
            share += claimed as f64 / task.every_ns as f64;
            busy += usize::from(claimed > 0);
        }
        if share > 1.0 && busy > 1 {
            let says = format!(
                "the tasks of {} ask load `{load}` for {:.0} % of the time",
                f.what,
                100.0 * share
            );
            let at = f.get(TASKS.key).map_or(&f.home, |v| &v.spot);
            f.reader.report(
                Problem::new("oversubscribed", at.clone(), says).label("more than all of it"),
            );
        }
    }
}
