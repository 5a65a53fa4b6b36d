//! The report in a browser: nothing is cut off, nothing lies over anything else, nothing is asked for
//! or run, on a wide and on a narrow screen, in light and in dark, and on paper.
//!
//! A copy of the page gets a small measuring script and a policy that lets nothing else run or load;
//! a frame page holds the copy in two widths and writes down what they tell.

mod paper;
mod screen;

use std::env;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

use crate::awkward;
use crate::program::{BROWSERS, Folder, example_arg, found, run};

/// The browser, told to be alone and quiet.
fn browser(profile: &Path, args: &[String]) -> std::process::Output {
    let program = env::var_os("LASTVOLT_BROWSER").map(PathBuf::from);
    let program = program.or_else(|| found(&BROWSERS)).expect(
        "a browser: install the Debian package chromium (.ci/tools does), or name one in LASTVOLT_BROWSER",
    );
    let mut command = Command::new(program);
    command.args([
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--disable-dev-shm-usage",
        "--disable-background-networking",
        "--disable-component-update",
        "--no-first-run",
        "--hide-scrollbars",
        "--enable-logging=stderr",
        "--v=0",
    ]);
    command.arg(format!("--user-data-dir={}", profile.display()));
    command.args(args).output().expect("the browser starts")
}

/// Pages that are looked at: made once, as a review takes seconds.
pub(crate) fn page(name: &str) -> &'static str {
    static EXAMPLE: OnceLock<String> = OnceLock::new();
    static AWKWARD: OnceLock<String> = OnceLock::new();
    match name {
        "example" => EXAMPLE.get_or_init(|| reviewed("browser-example", &example_arg())),
        _ => AWKWARD.get_or_init(|| {
            let folder = Folder::new("browser-awkward-family");
            awkward::family(&folder);
            reviewed("browser-awkward", folder.arg())
        }),
    }
}

fn reviewed(name: &str, dir: &str) -> String {
    let out = Folder::new(name);
    let ran = run(&["review", dir, "--out", out.arg()]);
    // Findings are no matter here.
    assert!(ran.status <= 1, "{}\n{}", ran.out, ran.err);
    fs::read_to_string(out.path().join("review.html")).expect("the page")
}
