//! Whether every review rule is explained, and whether everything explained exists.
//!
//! A rule is one file `review/rules/NAME.rs` of the core, its name the file's with hyphens; its
//! explanation is the page docs/rules/NAME.md, which the index in that folder links.

use std::collections::BTreeSet;

use super::Tree;

const FOLDER: &str = "crates/lastvolt-core/src/review/rules/";
const PAGES: &str = "docs/rules/";
const INDEX: &str = "docs/rules/README.md";
/// What every page says.
const PARTS: [&str; 5] = ["Says", "Why", "How", "Basis", "Silence"];

/// Rules without a page, pages without a rule or with a part missing, files that do not say their own
/// name.
pub(crate) fn without_a_page(tree: &Tree) -> Vec<String> {
    let mut found = Vec::new();
    let mut rules = BTreeSet::new();
    for file in tree.with_ending(".rs") {
        let Some(stem) = stem(&file.path, FOLDER, ".rs").filter(|stem| *stem != "mod") else {
            continue;
        };
        let id = stem.replace('_', "-");
        if !file.text.contains(&format!("\"{id}\"")) {
            found.push(format!("{}: does not name its rule \"{id}\"", file.path));
        }
        rules.insert(id);
    }
    let index = tree.file(INDEX).map_or("", |f| f.text.as_str());
    let mut pages = BTreeSet::new();
    for file in tree.with_ending(".md") {
        let Some(id) = stem(&file.path, PAGES, ".md").filter(|stem| *stem != "README") else {
            continue;
        };
        let missing = PARTS
            .iter()
            .filter(|part| !file.text.contains(&format!("**{part}**")));
        found.extend(missing.map(|part| format!("{}: has no **{part}**", file.path)));
        if !index.contains(&format!("]({id}.md)")) {
            found.push(format!("{INDEX}: does not list `{id}`"));
        }
        pages.insert(id.to_owned());
    }
    let missing = rules.difference(&pages);
    found.extend(missing.map(|id| format!("{PAGES}{id}.md: is missing")));
    let dead = pages.difference(&rules);
    found.extend(dead.map(|id| format!("{PAGES}{id}.md: there is no rule `{id}`")));
    found
}

/// The name of a file that lies in a folder itself, without its ending.
fn stem<'p>(path: &'p str, folder: &str, ending: &str) -> Option<&'p str> {
    let name = path.strip_prefix(folder)?.strip_suffix(ending)?;
    (!name.contains('/')).then_some(name)
}

#[cfg(test)]
mod tests {
    use super::without_a_page;
    use crate::tidy::Tree;

    const RULE: &str = "crates/lastvolt-core/src/review/rules/off_leak.rs";
    const WHOLE: &str = "**Says** **Why** **How** **Basis** **Silence**";

    fn check(rule: &str, page: (&str, &str), index: &str) -> Vec<String> {
        without_a_page(&Tree::of(&[
            (RULE, rule),
            (
                "crates/lastvolt-core/src/review/rules/mod.rs",
                "mod off_leak;",
            ),
            page,
            ("docs/rules/README.md", index),
        ]))
    }

    #[test]
    fn a_rule_with_its_page_is_fine() {
        let page = ("docs/rules/off-leak.md", WHOLE);
        let found = check("\"off-leak\"", page, "[off-leak](off-leak.md)");
        assert_eq!(found, Vec::<String>::new());
    }

    #[test]
    fn a_page_without_a_rule_is_found() {
        let page = ("docs/rules/on-leak.md", WHOLE);
        let found = check("\"off-leak\"", page, "[on-leak](on-leak.md)");
        assert_eq!(
            found,
            [
                "docs/rules/off-leak.md: is missing",
                "docs/rules/on-leak.md: there is no rule `on-leak`"
            ]
        );
    }

    #[test]
    fn a_page_that_leaves_something_out_is_found() {
        let page = (
            "docs/rules/off-leak.md",
            "**Says** **Why** **How** **Silence**",
        );
        let found = check("\"off-leak\"", page, "");
        assert_eq!(
            found,
            [
                "docs/rules/off-leak.md: has no **Basis**",
                "docs/rules/README.md: does not list `off-leak`"
            ]
        );
    }

    #[test]
    fn a_rule_under_another_name_is_found() {
        let page = ("docs/rules/off-leak.md", WHOLE);
        let found = check("\"leak\"", page, "](off-leak.md)");
        assert_eq!(
            found,
            [format!("{RULE}: does not name its rule \"off-leak\"")]
        );
    }
}
