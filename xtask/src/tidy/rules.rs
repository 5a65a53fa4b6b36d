//! Whether every review rule is explained, and whether everything explained exists.
//!
//! A rule is one file `review/rules/NAME.rs` of the core, its name the file's with hyphens; its
//! explanation is the section `## NAME` of docs/guide/rules.md.

use std::collections::BTreeSet;

use super::Tree;

const FOLDER: &str = "crates/lastvolt-core/src/review/rules/";
const GUIDE: &str = "docs/guide/rules.md";

/// Rules without a section, sections without a rule, files that do not say their own name.
pub(crate) fn without_a_section(tree: &Tree) -> Vec<String> {
    let mut found = Vec::new();
    let mut rules = BTreeSet::new();
    for file in tree.with_ending(".rs") {
        let Some(stem) = file
            .path
            .strip_prefix(FOLDER)
            .and_then(|name| name.strip_suffix(".rs"))
            .filter(|stem| *stem != "mod" && !stem.contains('/'))
        else {
            continue;
        };
        let id = stem.replace('_', "-");
        if !file.text.contains(&format!("\"{id}\"")) {
            found.push(format!("{}: does not name its rule \"{id}\"", file.path));
        }
        rules.insert(id);
    }
    let guide = tree.file(GUIDE).map_or("", |f| f.text.as_str());
    let sections: BTreeSet<String> = guide
        .lines()
        .filter_map(|line| line.strip_prefix("## "))
        .map(|heading| heading.trim_matches('`').to_owned())
        .filter(|heading| is_rule_name(heading))
        .collect();
    let missing = rules.difference(&sections);
    found.extend(missing.map(|id| format!("{GUIDE}: no section `## {id}`")));
    let dead = sections.difference(&rules);
    found.extend(dead.map(|id| format!("{GUIDE}: there is no rule `{id}`")));
    found
}

/// Whether a heading is one word in kebab case; the page may have other sections.
fn is_rule_name(heading: &str) -> bool {
    heading
        .chars()
        .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-')
}

#[cfg(test)]
mod tests {
    use super::without_a_section;
    use crate::tidy::Tree;

    const RULE: &str = "crates/lastvolt-core/src/review/rules/off_leak.rs";

    fn check(rule: &str, guide: &str) -> Vec<String> {
        without_a_section(&Tree::of(&[
            (RULE, rule),
            (
                "crates/lastvolt-core/src/review/rules/mod.rs",
                "mod off_leak;",
            ),
            ("docs/guide/rules.md", guide),
        ]))
    }

    #[test]
    fn a_rule_with_its_section_is_fine() {
        let found = check("const ID: &str = \"off-leak\";", "# Rules\n## off-leak\n");
        assert_eq!(found, Vec::<String>::new());
    }

    #[test]
    fn a_rule_without_a_section_is_found() {
        let found = check("const ID: &str = \"off-leak\";", "# Rules\n### off-leak\n");
        assert_eq!(found, ["docs/guide/rules.md: no section `## off-leak`"]);
    }

    #[test]
    fn a_section_without_a_rule_is_found() {
        let found = check("\"off-leak\"", "## off-leak\n## on-leak\n## How to read\n");
        assert_eq!(found, ["docs/guide/rules.md: there is no rule `on-leak`"]);
    }

    #[test]
    fn a_rule_under_another_name_is_found() {
        let found = check("const ID: &str = \"leak\";", "## off-leak\n");
        assert_eq!(
            found,
            [format!("{RULE}: does not name its rule \"off-leak\"")]
        );
    }
}
