//! Whether the modules of the core depend on each other one way only.

use super::Tree;
use super::code::only_code;

/// Modules of the core, each of which may use those before it. `progress` uses nothing.
const ORDER: [&str; 11] = [
    "progress", "quantity", "numerics", "device", "model", "circuit", "time", "fit", "deliver",
    "chance", "review",
];

const CORE: &str = "crates/lastvolt-core/src/";

/// Paths in the core that lead to a later module, or to one that the order does not know.
pub(crate) fn imports_against_the_order(tree: &Tree) -> Vec<String> {
    let mut found = Vec::new();
    for file in tree.with_ending(".rs") {
        let Some(inside) = file.path.strip_prefix(CORE) else {
            continue;
        };
        let module = inside.split(['/', '.']).next().unwrap_or_default();
        if module == "lib" {
            continue;
        }
        let Some(own) = rank(module) else {
            found.push(format!(
                "{}: module `{module}` has no place in the order of the core's modules",
                file.path
            ));
            continue;
        };
        for (line, used) in used_modules(&file.text) {
            if rank(&used).is_some_and(|other| other > own) {
                let place = format!("{}:{line}", file.path);
                found.push(format!("{place}: `{module}` must not know `{used}`"));
            }
        }
    }
    found
}

fn rank(module: &str) -> Option<usize> {
    ORDER.iter().position(|m| *m == module)
}

/// First segment of every path that starts at the root of the crate, with its line from 1.
fn used_modules(text: &str) -> Vec<(usize, String)> {
    const ROOT: &str = "crate::";
    let code = only_code(text);
    let mut found = Vec::new();
    for (at, _) in code.match_indices(ROOT) {
        let in_word = code[..at]
            .chars()
            .next_back()
            .is_some_and(|c| c.is_alphanumeric() || c == '_' || c == '$');
        if in_word {
            continue;
        }
        let line = code[..at].matches('\n').count() + 1;
        let names = first_segments(&code[at + ROOT.len()..]);
        found.extend(names.into_iter().map(|name| (line, name)));
    }
    found
}

/// The first name of a path, or of each path of a group in braces.
fn first_segments(path: &str) -> Vec<String> {
    let path = path.trim_start();
    let Some(group) = path.strip_prefix('{') else {
        return vec![leading_name(path)];
    };
    let mut names = vec![leading_name(group)];
    let mut depth = 1;
    for (at, c) in group.char_indices() {
        match c {
            '{' => depth += 1,
            '}' => depth -= 1,
            ',' if depth == 1 => names.push(leading_name(&group[at + 1..])),
            _ => {}
        }
        if depth == 0 {
            break;
        }
    }
    names
}

fn leading_name(text: &str) -> String {
    text.trim_start()
        .chars()
        .take_while(|c| c.is_alphanumeric() || *c == '_')
        .collect()
}

#[cfg(test)]
mod tests {
    use super::imports_against_the_order;
    use crate::tidy::Tree;

    fn check(path: &str, text: &str) -> Vec<String> {
        imports_against_the_order(&Tree::of(&[(path, text)]))
    }

    #[test]
    fn a_path_to_a_later_module_is_found() {
        let found = check(
            "crates/lastvolt-core/src/numerics/root.rs",
            "//! x\n\nuse crate::model::Board;\n",
        );
        assert_eq!(
            found,
            ["crates/lastvolt-core/src/numerics/root.rs:3: `numerics` must not know `model`"]
        );
    }

    #[test]
    fn a_path_inside_a_group_or_a_function_is_found() {
        let path = "crates/lastvolt-core/src/device/cell.rs";
        let group = "use crate::{numerics::{root, table}, quantity::Time, circuit::Point};";
        assert_eq!(check(path, group).len(), 1);
        assert_eq!(check(path, "fn f() { crate::time::life(x) }").len(), 1);
    }

    #[test]
    fn paths_to_earlier_modules_and_comments_are_fine() {
        let path = "crates/lastvolt-core/src/review/mod.rs";
        assert_eq!(check(path, "use crate::time::Life;").len(), 0);
        let path = "crates/lastvolt-core/src/quantity.rs";
        assert_eq!(check(path, "/// See [`crate::review`].").len(), 0);
    }

    #[test]
    fn a_module_without_a_place_is_found() {
        assert_eq!(check("crates/lastvolt-core/src/elsewhere.rs", "").len(), 1);
    }
}
