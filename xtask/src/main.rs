//! Chores of the repository: `cargo xtask tidy` checks what the compiler does not.

mod tidy;

use std::io::Write;
use std::path::Path;
use std::process::ExitCode;

use tidy::Tree;

fn main() -> ExitCode {
    let mut errors = std::io::stderr().lock();
    let task = std::env::args().nth(1);
    if task.as_deref() != Some("tidy") {
        // Nothing is left to do if standard error is closed.
        let _ = writeln!(errors, "usage: cargo xtask tidy");
        return ExitCode::from(2);
    }
    let complaints = match Tree::read(root()) {
        Ok(tree) => tidy::complaints(&tree),
        Err(error) => {
            let _ = writeln!(errors, "cannot read the repository: {error}");
            return ExitCode::from(2);
        }
    };
    for complaint in &complaints {
        let _ = writeln!(errors, "{complaint}");
    }
    if complaints.is_empty() {
        ExitCode::SUCCESS
    } else {
        ExitCode::FAILURE
    }
}

/// The folder of the workspace.
fn root() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/.."))
}
