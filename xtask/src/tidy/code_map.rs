//! Whether the code map of ARCHITECTURE.md names what is there and nothing else.
//!
//! In the section `## Code map`, a heading of third level names a folder in backticks and each item
//! of the list below it one module of that crate, also in backticks.

use std::collections::BTreeSet;

use super::Tree;
use super::code::only_code;

const MAP: &str = "ARCHITECTURE.md";

/// Lines that the file may have.
const MOST_LINES: usize = 200;

/// What is missing from the map and what is in it without being there.
pub(crate) fn disagreements(tree: &Tree) -> Vec<String> {
    let Some(file) = tree.file(MAP) else {
        return vec![format!("{MAP}: missing")];
    };
    let mapped = mapped(&file.text);
    let present = present(tree);
    let missing = present.difference(&mapped);
    let mut found: Vec<String> = missing
        .map(|place| format!("{MAP}: the code map does not name `{place}`"))
        .collect();
    for place in mapped.difference(&present) {
        if place.contains("::") || !tree.has(place) {
            found.push(format!("{MAP}: there is no `{place}`"));
        }
    }
    let lines = file.text.lines().count();
    if lines > MOST_LINES {
        found.push(format!("{MAP}: {lines} lines; {MOST_LINES} at most"));
    }
    found
}

/// Folders, and modules as `folder::module`, that the map names.
fn mapped(text: &str) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    let mut folder = None;
    let section = text
        .lines()
        .skip_while(|line| *line != "## Code map")
        .skip(1);
    for line in section.take_while(|line| !line.starts_with("## ")) {
        if let Some(heading) = line.strip_prefix("### ") {
            folder = in_backticks(heading).map(|name| name.trim_end_matches('/').to_owned());
            found.extend(folder.clone());
        } else if let (Some(item), Some(folder)) = (line.strip_prefix("- `"), &folder)
            && let Some((module, _)) = item.split_once('`')
        {
            found.insert(format!("{folder}::{module}"));
        }
    }
    found
}

fn in_backticks(text: &str) -> Option<&str> {
    text.split('`').nth(1)
}

/// Crates, their top-level modules and the other folders at the root that hold text files.
fn present(tree: &Tree) -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    for file in tree.files() {
        let Some((folder, rest)) = file.path.split_once('/') else {
            continue;
        };
        if folder == "crates" {
            if let Some((name, _)) = rest.split_once('/') {
                found.insert(format!("crates/{name}"));
            }
        } else if !folder.starts_with('.') {
            found.insert(folder.to_owned());
        }
    }
    let crates: Vec<String> = found.iter().cloned().collect();
    for folder in crates {
        for root in ["lib.rs", "main.rs"] {
            if let Some(file) = tree.file(&format!("{folder}/src/{root}")) {
                let modules = modules(&file.text);
                found.extend(modules.map(|module| format!("{folder}::{module}")));
            }
        }
    }
    found
}

/// Modules that a root file declares outside tests.
fn modules(text: &str) -> impl Iterator<Item = String> {
    let code = only_code(text);
    let lines: Vec<String> = code.lines().map(|line| line.trim().to_owned()).collect();
    lines.into_iter().filter_map(|line| {
        let line = line.strip_suffix(';')?;
        let line = line.strip_prefix("pub ").unwrap_or(line);
        let line = line.strip_prefix("pub(crate) ").unwrap_or(line);
        line.strip_prefix("mod ").map(str::to_owned)
    })
}

#[cfg(test)]
mod tests {
    use super::disagreements;
    use crate::tidy::Tree;

    const LIB: &str = "//! x\npub mod circuit;\nmod time;\n// mod gone;\n";

    fn check(map: &str) -> Vec<String> {
        disagreements(&Tree::of(&[
            ("ARCHITECTURE.md", map),
            ("crates/core/src/lib.rs", LIB),
            ("docs/guide.md", ""),
        ]))
    }

    #[test]
    fn a_full_map_is_fine() {
        let map = "## Code map\n### `crates/core`\n- `circuit`: a\n- `time`: b\n### `docs`\n## End\n- `x`\n";
        assert_eq!(check(map), Vec::<String>::new());
    }

    #[test]
    fn missing_modules_and_folders_are_found() {
        let found = check("## Code map\n### `crates/core`\n- `circuit`: a\n");
        assert_eq!(
            found,
            [
                "ARCHITECTURE.md: the code map does not name `crates/core::time`",
                "ARCHITECTURE.md: the code map does not name `docs`"
            ]
        );
    }

    #[test]
    fn dead_entries_are_found() {
        let map = "## Code map\n### `crates/core`\n- `circuit`: a\n- `time`: b\n- `gone`: c\n### `docs`\n### `tools/`\n";
        assert_eq!(
            check(map),
            [
                "ARCHITECTURE.md: there is no `crates/core::gone`",
                "ARCHITECTURE.md: there is no `tools`"
            ]
        );
    }

    #[test]
    fn a_map_that_grew_too_long_is_found() {
        let map = format!(
            "## Code map\n### `crates/core`\n- `circuit`: a\n- `time`: b\n### `docs`\n{}",
            "\n".repeat(200)
        );
        assert_eq!(check(&map).len(), 1);
    }
}
