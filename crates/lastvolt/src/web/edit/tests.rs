//! Forms, trying, saving and undoing as pages do it, on a small family in a folder of its own.

use std::fs;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::Response;
use serde_json::{Value, json};

use super::ask::Ask;
use super::routes::{previewed, redone, saved, tried, undone};
use super::{Edits, load_form, part_form, task_form};
use crate::cli::load::{Family, load, sha256};
use crate::web::desk::Desk;
use crate::web::guard::{Door, Rate};
use crate::web::server::Service;

const FAMILY: &str = r#"[family]
boards = ["coin.toml"]

[connector]
pins = ["VDD", "GND"]

[loads.lamp]
pins = { plus = "VDD", minus = "GND" }
working = ["2.0 V", "3.6 V"]

[loads.lamp.states]
off = "1 uA"                 # at rest
on  = { current = "2 mA" }

[profiles.night]
base = { lamp = "off" }

[[profiles.night.tasks]]
name  = "blink"
every = "10 s"
steps = [{ for = "5 ms", set = { lamp = "on" } }]
"#;

const COIN: &str = r#"title = "One coin cell"

[parts.BT1]
kind   = "cell"
model  = "CR2032"
pins   = { plus = "BAT", minus = "GND" }

# In series with the cell.
[parts.R1]
kind  = "resistor"
value = "10 ohm"             # small
rated = "0.1 W"
pins  = ["BAT", "VDD"]
"#;

/// A family in a folder of its own, which goes when the test ends.
struct Home(PathBuf);

impl Home {
    fn new(name: &str) -> Self {
        let folder = std::env::temp_dir().join(format!("lastvolt-{}-{name}", std::process::id()));
        let _ = fs::remove_dir_all(&folder);
        fs::create_dir_all(&folder).expect("a folder");
        let home = Self(fs::canonicalize(folder).expect("a folder"));
        home.put("family.toml", FAMILY);
        home.put("coin.toml", COIN);
        home
    }

    fn put(&self, name: &str, text: &str) {
        fs::write(self.0.join(name), text).expect("a file");
    }

    fn text(&self, name: &str) -> String {
        fs::read_to_string(self.0.join(name)).expect("a file")
    }

    fn family(&self) -> Family {
        load(&self.0).expect("a family")
    }

    fn service(&self) -> Arc<Service> {
        let desk = Desk::open(&self.0, "token".to_owned()).expect("a desk");
        let address = SocketAddr::from(([127, 0, 0, 1], 80));
        let (_, closing) = tokio::sync::watch::channel(false);
        Arc::new(Service {
            desk,
            door: Door::new(address),
            rate: Rate::new(),
            edits: Edits::default(),
            closing,
        })
    }

    fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(&self.0).expect("a folder");
        let name = |e: fs::DirEntry| e.file_name().to_string_lossy().into_owned();
        let mut names: Vec<String> = entries.map(|e| name(e.expect("an entry"))).collect();
        names.sort();
        names
    }
}

impl Drop for Home {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// A change of one value, made from a text of its file.
fn ask(file: &str, text: &str, path: Value, to: Value) -> Json<Ask> {
    let ask = json!({
        "file": file,
        "base": sha256(text),
        "boards": ["coin"],
        "profile": null,
        "changes": [{ "id": "edit-1", "path": path, "to": to }],
    });
    Json(serde_json::from_value(ask).expect("a question"))
}

fn value(to: &str) -> Json<Ask> {
    ask(
        "coin.toml",
        COIN,
        json!(["parts", "R1", "value"]),
        json!(to),
    )
}

fn run<T>(work: impl Future<Output = T>) -> T {
    let runtime = tokio::runtime::Builder::new_current_thread().build();
    runtime.expect("a runtime").block_on(work)
}

fn told(answer: impl Future<Output = Response>) -> (StatusCode, String) {
    run(async {
        let answer = answer.await;
        let status = answer.status();
        let body = axum::body::to_bytes(answer.into_body(), 1 << 20).await;
        (
            status,
            String::from_utf8_lossy(&body.expect("a body")).into_owned(),
        )
    })
}

fn json_of(answer: impl Future<Output = Response>) -> (StatusCode, Value) {
    let (status, body) = told(answer);
    (status, serde_json::from_str(&body).expect("JSON"))
}

#[test]
fn a_form_shows_what_is_written_what_the_model_brings_and_what_may_be_added() {
    let home = Home::new("form");
    let family = home.family();
    let boards = ["coin".to_owned()];
    let form = part_form(&family, &boards, None, ("coin", "R1")).into_string();
    for piece in [
        r#"data-file="coin.toml""#,
        &format!(r#"data-base="{}""#, sha256(COIN)),
        r#"value="10 ohm""#,
        r#"data-path="[&quot;parts&quot;,&quot;R1&quot;,&quot;value&quot;]""#,
        r#"<label for="edit-1"><code>value</code></label>"#,
        r#"aria-describedby="edit-1-doc edit-1-says""#,
        "nearby in E24:",
        r#"data-fill="11 ohm""#,
        "Add a value: ",
        "<code>hottest</code>",
    ] {
        assert!(form.contains(piece), "{piece} is missing in {form}");
    }
    // What must be there cannot be left out.
    assert!(form.contains("Leave rated out") && !form.contains("Leave value out"));
    let cell = part_form(&family, &boards, None, ("coin", "BT1")).into_string();
    assert!(cell.contains("From the model CR2032 (built in)"), "{cell}");
    assert!(cell.contains("<code>pins.plus</code>"), "{cell}");
    assert!(
        !cell.contains("style="),
        "the policy of the page refuses it"
    );
}

#[test]
fn loads_show_their_states_and_tasks_their_steps() {
    let home = Home::new("loads");
    let family = home.family();
    let boards = ["coin".to_owned()];
    let load = load_form(&family, &boards, None, ("coin", "lamp")).into_string();
    for label in [
        "pins.plus",
        "working",
        "states.off",
        "states.on.current",
        "survives",
    ] {
        assert!(
            load.contains(&format!("<code>{label}</code>")),
            "{label} in {load}"
        );
    }
    let task = task_form(&family, &boards, "night", "blink").into_string();
    for label in [
        "name",
        "every",
        "step 1: for",
        "step 1: lamp",
        "within.every",
    ] {
        assert!(
            task.contains(&format!("<code>{label}</code>")),
            "{label} in {task}"
        );
    }
    assert!(task.contains("[&quot;profiles&quot;,&quot;night&quot;,&quot;tasks&quot;,0,&quot;steps&quot;,0,&quot;for&quot;]"));
}

#[test]
fn what_is_typed_is_told_as_on_the_command_line_and_a_proposal_fills_the_field() {
    let home = Home::new("try");
    let service = home.service();
    let (status, fine) = json_of(tried(State(Arc::clone(&service)), value("12 ohm")));
    assert_eq!(status, StatusCode::OK);
    assert_eq!(
        (&fine["valid"], &fine["fields"]["edit-1"]),
        (&json!(true), &json!(""))
    );
    let (_, bare) = json_of(tried(State(Arc::clone(&service)), value("12")));
    let says = bare["fields"]["edit-1"].as_str().expect("words");
    assert_eq!(
        (&bare["valid"], &bare["invalid"]),
        (&json!(false), &json!(["edit-1"]))
    );
    assert!(
        says.contains("coin.toml:11:10") && says.contains("bare-number"),
        "{says}"
    );
    assert!(says.contains(r#"data-fill="12 ohm""#), "{says}");
    let kind = ask(
        "coin.toml",
        COIN,
        json!(["parts", "R1", "kind"]),
        json!("resistr"),
    );
    let (_, near) = json_of(tried(State(Arc::clone(&service)), kind));
    let says = near["fields"]["edit-1"].as_str().expect("words");
    assert!(says.contains(r#"data-fill="resistor""#), "{says}");
    // What a value breaks somewhere else is told too.
    let off = ask(
        "family.toml",
        FAMILY,
        json!(["profiles", "night", "tasks", 0, "every"]),
        json!("1 ms"),
    );
    let (_, long) = json_of(tried(State(service), off));
    let says = format!("{}{}", long["fields"]["edit-1"], long["elsewhere"]);
    assert!(says.contains("task-too-long"), "{says}");
}

#[test]
fn a_value_is_saved_undone_and_redone_and_all_else_stays() {
    let home = Home::new("save");
    let service = home.service();
    let (status, answer) = json_of(saved(State(Arc::clone(&service)), value("12 ohm")));
    assert_eq!(status, StatusCode::OK, "{answer}");
    assert_eq!(answer["says"], json!("saved R1.value into coin.toml"));
    assert_eq!(answer["edition"], json!(2));
    let after = COIN.replace("10 ohm", "12 ohm");
    assert_eq!(home.text("coin.toml"), after);
    assert_eq!(
        home.names(),
        ["coin.toml", "family.toml"],
        "nothing is left behind"
    );
    let (status, answer) = json_of(undone(State(Arc::clone(&service))));
    assert_eq!((status, &answer["undo"]), (StatusCode::OK, &Value::Null));
    assert_eq!(home.text("coin.toml"), COIN);
    let (status, _) = json_of(undone(State(Arc::clone(&service))));
    assert_eq!(status, StatusCode::NOT_FOUND);
    let (status, _) = json_of(redone(State(Arc::clone(&service))));
    assert_eq!(
        (status, home.text("coin.toml")),
        (StatusCode::OK, after.clone())
    );
    // Somebody else writes: undoing would take that away.
    let other = after.replace("small", "tiny");
    home.put("coin.toml", &other);
    let (status, _) = json_of(undone(State(service)));
    assert_eq!(
        (status, home.text("coin.toml")),
        (StatusCode::CONFLICT, other)
    );
}

#[test]
fn a_file_that_changed_meanwhile_is_not_written_over() {
    let home = Home::new("conflict");
    let service = home.service();
    let other = COIN.replace("small", "tiny").replace("10 ohm", "11 ohm");
    home.put("coin.toml", &other);
    let (status, answer) = json_of(saved(State(Arc::clone(&service)), value("12 ohm")));
    assert_eq!(status, StatusCode::CONFLICT);
    assert_eq!(home.text("coin.toml"), other);
    let words = answer["conflict"].as_str().expect("words");
    for piece in [
        "has changed on disk",
        "<code>11 ohm</code>",
        "<code>12 ohm</code>",
        "data-edit-mine",
        "data-edit-theirs",
    ] {
        assert!(words.contains(piece), "{piece} in {words}");
    }
    assert_eq!(answer["base"], json!(sha256(&other)));
    // The same is told while typing, and mine can go into the file as it is now.
    let (_, stale) = json_of(tried(State(Arc::clone(&service)), value("12 ohm")));
    assert_eq!(stale["stale"], json!(true));
    let mine = ask(
        "coin.toml",
        &other,
        json!(["parts", "R1", "value"]),
        json!("12 ohm"),
    );
    let (status, _) = json_of(saved(State(service), mine));
    assert_eq!(status, StatusCode::OK);
    assert_eq!(home.text("coin.toml"), other.replace("11 ohm", "12 ohm"));
}

#[test]
fn nothing_is_written_that_could_not_be_read_or_belongs_to_no_family() {
    let home = Home::new("refused");
    let service = home.service();
    let refused = |ask: Json<Ask>, status: StatusCode| {
        let (got, answer) = json_of(saved(State(Arc::clone(&service)), ask));
        assert_eq!(got, status, "{answer}");
        assert_eq!(
            (home.text("coin.toml"), home.text("family.toml")),
            (COIN.to_owned(), FAMILY.to_owned())
        );
    };
    refused(value("12 kV"), StatusCode::UNPROCESSABLE_ENTITY);
    let out = ask(
        "coin.toml",
        COIN,
        json!(["parts", "R1", "pins"]),
        Value::Null,
    );
    refused(out, StatusCode::UNPROCESSABLE_ENTITY);
    let two = json!("[\"BAT\", \"VDD\"]\nnote = \"x\"");
    refused(
        ask("coin.toml", COIN, json!(["parts", "R1", "pins"]), two),
        StatusCode::UNPROCESSABLE_ENTITY,
    );
    for name in ["../coin.toml", "/etc/hostname", "other.toml", ""] {
        home.put("other.toml", COIN);
        let ask = ask(name, COIN, json!(["parts", "R1", "value"]), json!("12 ohm"));
        refused(ask, StatusCode::FORBIDDEN);
    }
    assert_eq!(home.text("other.toml"), COIN);
    // A file that is broken meanwhile stays as somebody left it.
    home.put("family.toml", "[family");
    let (status, answer) = json_of(saved(State(Arc::clone(&service)), value("12 ohm")));
    assert_eq!(status, StatusCode::CONFLICT, "{answer}");
    let (status, _) = json_of(tried(State(Arc::clone(&service)), value("12 ohm")));
    assert_eq!(
        (status, home.text("coin.toml")),
        (StatusCode::CONFLICT, COIN.to_owned())
    );
}

#[cfg(unix)]
#[test]
fn rights_stay_and_what_may_only_be_read_or_lies_outside_is_left_alone() {
    use std::os::unix::fs::PermissionsExt;
    let home = Home::new("rights");
    let path = home.0.join("coin.toml");
    let rights =
        |mode: u32| fs::set_permissions(&path, fs::Permissions::from_mode(mode)).expect("rights");
    rights(0o640);
    let service = home.service();
    let (status, _) = json_of(saved(State(Arc::clone(&service)), value("12 ohm")));
    let mode = fs::metadata(&path).expect("a file").permissions().mode();
    assert_eq!((status, mode & 0o777), (StatusCode::OK, 0o640));
    rights(0o440);
    let (status, answer) = json_of(undone(State(Arc::clone(&service))));
    assert_eq!(status, StatusCode::FORBIDDEN);
    assert!(
        answer["says"]
            .as_str()
            .is_some_and(|s| s.contains("only be read")),
        "{answer}"
    );
    // A link out of the folder is read, and never written.
    let outside = Home::new("outside");
    fs::remove_file(&path).expect("a file");
    std::os::unix::fs::symlink(outside.0.join("coin.toml"), &path).expect("a link");
    let (status, answer) = json_of(saved(State(service), value("12 ohm")));
    assert_eq!(status, StatusCode::FORBIDDEN);
    assert!(
        answer["says"]
            .as_str()
            .is_some_and(|s| s.contains("leads out")),
        "{answer}"
    );
    assert_eq!(outside.text("coin.toml"), COIN);
}

#[test]
fn a_preview_tells_the_life_and_the_findings_before_and_after() {
    let home = Home::new("preview");
    let service = home.service();
    let change = || {
        ask(
            "family.toml",
            FAMILY,
            json!(["loads", "lamp", "states", "off"]),
            json!("20 uA"),
        )
    };
    let (status, life) = told(previewed(State(Arc::clone(&service)), change()));
    assert_eq!(status, StatusCode::OK);
    assert!(life.contains("now, ") && life.contains("shorter"), "{life}");
    let Json(mut ask) = change();
    ask.what = super::ask::What::Findings;
    let (status, found) = told(previewed(State(Arc::clone(&service)), Json(ask)));
    assert_eq!(status, StatusCode::OK);
    assert!(found.contains("<h4>Findings</h4>"), "{found}");
    let (status, _) = told(previewed(State(service), value("12 kV")));
    assert_eq!(status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(home.text("family.toml"), FAMILY);
}
