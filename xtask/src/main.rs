//! Chores of the repository: what the compiler does not check, and what is made from published figures.

mod accuracy;
mod catalog;
mod cells;
mod tidy;

use std::io::Write;
use std::path::Path;
use std::process::ExitCode;

use tidy::Tree;

const USAGE: &str = "\
usage: cargo xtask TASK
  tidy      what the compiler does not check
  catalog   make the built-in cells from their published figures (a minute; use --release)
  accuracy  compare the models with every published test, and write docs/accuracy.md";

fn main() -> ExitCode {
    let task = std::env::args().nth(1);
    let outcome = match task.as_deref() {
        Some("tidy") => tidy(),
        Some("catalog") => catalog::text(root()).and_then(|text| write(catalog::FILE, &text)),
        Some("accuracy") => accuracy::text(root()).and_then(|text| {
            // The page is what counts; a closed output is no reason to fail.
            let _ = std::io::stdout().lock().write_all(text.as_bytes());
            write(accuracy::FILE, &text)
        }),
        _ => Err(USAGE.to_owned()),
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(says) => {
            // Nothing is left to do if standard error is closed.
            let _ = writeln!(std::io::stderr().lock(), "{says}");
            ExitCode::FAILURE
        }
    }
}

fn tidy() -> Result<(), String> {
    let tree = Tree::read(root()).map_err(|e| format!("cannot read the repository: {e}"))?;
    let complaints = tidy::complaints(&tree);
    if complaints.is_empty() {
        Ok(())
    } else {
        Err(complaints.join("\n"))
    }
}

/// Writes a file of the repository whole.
fn write(file: &str, text: &str) -> Result<(), String> {
    let path = root().join(file);
    let aside = path.with_extension("new");
    let written = std::fs::write(&aside, text).and_then(|()| std::fs::rename(&aside, &path));
    written.map_err(|e| format!("{file}: {e}"))
}

/// The folder of the workspace.
fn root() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/.."))
}
