//! What is shipped beside the code: the catalog and the pages of the manual.

use super::Tree;
use super::tree::File;

const CATALOG: &str = "crates/lastvolt-input/catalog/";
const README: &str = "README.md";
const CHECKS: &str = ".ci/run";

/// Models of the catalog that do not say where their figures come from.
pub(crate) fn models_without_source(tree: &Tree) -> Vec<String> {
    let catalog = tree.with_ending(".toml").filter(|f| {
        f.path
            .strip_prefix(CATALOG)
            .is_some_and(|name| !name.contains('/'))
    });
    catalog.flat_map(sourceless).collect()
}

fn sourceless(file: &File) -> Vec<String> {
    let table: toml::Table = match file.text.parse() {
        Ok(table) => table,
        Err(error) => return vec![format!("{}: {}", file.path, error.message())],
    };
    let Some(models) = table.get("models").and_then(toml::Value::as_table) else {
        return vec![format!("{}: no models", file.path)];
    };
    let has_source = |model: &toml::Value| {
        let source = model.get("source").and_then(toml::Value::as_str);
        source.is_some_and(|s| !s.trim().is_empty())
    };
    models
        .iter()
        .filter(|(_, model)| !has_source(model))
        .map(|(name, _)| format!("{}: `{name}` has no source", file.path))
        .collect()
}

/// Commands that the README promises to a newcomer and that the checks do not run.
pub(crate) fn unchecked_commands(tree: &Tree) -> Vec<String> {
    let text = |path: &str| tree.file(path).map_or("", |f| f.text.as_str());
    let checks: Vec<&str> = text(CHECKS).lines().map(str::trim).collect();
    let promised: Vec<&str> = text(README)
        .lines()
        .filter(|line| line.starts_with("cargo "))
        .collect();
    if promised.is_empty() {
        return vec![format!("{README}: no command for a newcomer")];
    }
    promised
        .iter()
        .filter(|command| !checks.contains(command))
        .map(|command| format!("{CHECKS}: does not run `{command}` of {README}"))
        .collect()
}

/// Links of the manual to files that are not there.
pub(crate) fn broken_links(tree: &Tree) -> Vec<String> {
    let mut found = Vec::new();
    for file in tree.with_ending(".md") {
        for (at, line) in file.text.lines().enumerate() {
            for target in links(line) {
                let target = target.split('#').next().unwrap_or_default();
                if target.is_empty() || target.contains("://") {
                    continue;
                }
                if !tree.has(&resolved(&file.path, target)) {
                    let place = format!("{}:{}", file.path, at + 1);
                    found.push(format!("{place}: there is no `{target}`"));
                }
            }
        }
    }
    found
}

fn links(line: &str) -> impl Iterator<Item = &str> {
    line.split("](")
        .skip(1)
        .filter_map(|rest| rest.split(')').next())
}

/// The path that a relative link from a file leads to.
fn resolved(from: &str, link: &str) -> String {
    let mut parts: Vec<&str> = from.split('/').collect();
    parts.pop();
    for part in link.split('/') {
        match part {
            "." | "" => {}
            ".." => {
                parts.pop();
            }
            name => parts.push(name),
        }
    }
    parts.join("/")
}

#[cfg(test)]
mod tests {
    use super::{broken_links, models_without_source, unchecked_commands};
    use crate::tidy::Tree;

    fn catalog(text: &str) -> Vec<String> {
        models_without_source(&Tree::of(&[("crates/lastvolt-input/catalog/a.toml", text)]))
    }

    #[test]
    fn a_model_without_source_is_found() {
        let sound = "[models.a]\nkind = \"cell\"\nsource = \"maker's sheet\"\n";
        assert_eq!(catalog(sound), Vec::<String>::new());
        assert_eq!(catalog("[models.a]\nkind = \"cell\"\n").len(), 1);
        assert_eq!(catalog("[models.a]\nsource = \" \"\n").len(), 1);
        assert_eq!(catalog("[models.a\n").len(), 1);
        assert_eq!(catalog("").len(), 1);
    }

    #[test]
    fn a_promised_command_that_nothing_runs_is_found() {
        let check = |readme: &str| {
            unchecked_commands(&Tree::of(&[
                ("README.md", readme),
                (".ci/run", "step tests\ncargo test --workspace\n"),
            ]))
        };
        assert_eq!(check("cargo test --workspace\n").len(), 0);
        assert_eq!(
            check("cargo test\n"),
            [".ci/run: does not run `cargo test` of README.md"]
        );
        assert_eq!(check("no command\n").len(), 1);
    }

    #[test]
    fn a_broken_link_is_found() {
        let check = |text: &str| {
            broken_links(&Tree::of(&[
                ("docs/guide/files.md", text),
                ("README.md", ""),
            ]))
        };
        assert_eq!(check("[a](../../README.md#top)").len(), 0);
        assert_eq!(check("[a](https://example.org) [b](#here)").len(), 0);
        assert_eq!(
            check("\n[a](README.md)"),
            ["docs/guide/files.md:2: there is no `README.md`"]
        );
    }
}
